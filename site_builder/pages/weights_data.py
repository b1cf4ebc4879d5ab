"""What the page of own weights works with, a file a class: a battery's points by question, with errors by source.

Everything was graded before; the script weighs it anew by the sums of `grade` and `rank`, on the same numbers.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from site_builder.asking import short
from site_builder.derived import Derived, DerivedUnit
from site_builder.grade import COVERAGE, CriterionGrade, Graded
from site_builder.grading_records import Grading
from site_builder.pages.words import name_of
from site_builder.rank import TIE


def weights_data(class_id: str, derived: Derived, grading: Grading) -> dict[str, Any]:
    """One class, as JSON can hold it.

    `z` are Holm's thresholds for one comparison, for two, …; `sources` in a criterion are signed standard
    uncertainties by the number of their source, `own` is what no other criterion and no other battery shares.
    """
    units = [unit for unit in derived.of_class(class_id) if unit.id in derived.standings.grades]
    grades = [derived.standings.grades[unit.id] for unit in units]
    numbers = _numbers(grades)
    return {
        "title": derived.catalogue.classes[class_id].title,
        "least": grading.least_tested,
        "coverage": COVERAGE,
        "tie": TIE,
        "z": derived.asked.thresholds.get(class_id, ()),
        "weights": {name: one.weight for name, one in grading.criteria.items()},
        "units": [_unit(unit, grade, numbers) for unit, grade in zip(units, grades, strict=True)],
    }


def _numbers(grades: Sequence[Graded]) -> Mapping[str, int]:
    """A number for each source of error that two criteria or two batteries share."""
    met = Counter(name for grade in grades for one in grade.criteria for name in one.ends.components)
    return {name: number for number, name in enumerate(sorted(name for name, times in met.items() if times > 1))}


def _unit(unit: DerivedUnit, grade: Graded, numbers: Mapping[str, int]) -> dict[str, Any]:
    return {
        "id": unit.id,
        "name": name_of(unit.record),
        "cap": grade.cap,
        "gates": [hit.gate.title for hit in grade.gates],
        "criteria": {one.name: _criterion(one, numbers) for one in grade.criteria},
    }


def _criterion(one: CriterionGrade, numbers: Mapping[str, int]) -> dict[str, Any]:
    ends = one.ends
    own = math.hypot(*(u for name, u in ends.components.items() if name not in numbers))
    shared = {str(numbers[name]): short(u) for name, u in ends.components.items() if name in numbers}
    known: dict[str, Any] = {
        "tested": short(one.tested),
        "value": None if ends.value is None else short(ends.value),
        "ends": [short(end) for end in (ends.low_end, ends.high_end, ends.low, ends.high)],
    }
    return known | ({"own": short(own)} if own else {}) | ({"sources": shared} if shared else {})
