"""Where units stand: the grades of all published ones, their places by class, and what one unit changes in its class.

Pure: calls the grading and the ranking, and decides only who is compared with whom.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from site_builder.derived import ClassStanding, DerivedUnit, Standings
from site_builder.grade import Graded, graded
from site_builder.grading_records import Grading
from site_builder.narrowing import Narrowing, enough_for_a_grade, narrowings
from site_builder.rank import Place, places
from site_builder.sensitivity import IfKnown, if_known, leader, weight_ranges
from site_builder.value import value_order


def standings(units: Iterable[DerivedUnit], grading: Grading | None) -> Standings:
    """How the published units stand; nothing where nothing is graded."""
    if grading is None:
        return Standings()
    published = [unit for unit in units if unit.record.unit.status == "published"]
    grades, found = _places(published, grading)
    open_ = {name: _open_questions(one) for name, one in grades.items()}
    classes = {name: _class_standing(of_class, grades) for name, of_class in _by_class(published).items()}
    return Standings(grades=grades, places=found, if_known=open_, classes=classes)


def _by_class(units: Iterable[DerivedUnit]) -> Mapping[str, list[DerivedUnit]]:
    by_class: defaultdict[str, list[DerivedUnit]] = defaultdict(list)
    for unit in units:
        if unit.result.class_id is not None:
            by_class[unit.result.class_id].append(unit)
    return by_class


def _places(units: Collection[DerivedUnit], grading: Grading) -> tuple[Mapping[str, Graded], Mapping[str, Place]]:
    """Grades, and the places within each class, by unit id."""
    grades = {unit.id: graded(unit.result, unit.record, grading) for unit in units}
    classes = [[grades[unit.id] for unit in of_class] for of_class in _by_class(units).values()]
    return grades, {name: place for of_class in classes for name, place in places(of_class).items()}


def _open_questions(grade: Graded) -> Mapping[str, IfKnown]:
    """What knowing all of a criterion would do, for those that weigh something and are not closed."""
    asked = [one.name for one in grade.criteria if one.criterion.weight > 0]
    return {name: known for name in asked if (known := if_known(grade, name)) is not None}


def _class_standing(units: Iterable[DerivedUnit], grades: Mapping[str, Graded]) -> ClassStanding:
    held = list(units)
    of_class = [grades[unit.id] for unit in held]
    first = leader(of_class)
    value = value_order(unit.result for unit in held)
    return ClassStanding(leader=first.id if first else None, weights=weight_ranges(of_class), value=value)


@dataclass(frozen=True, kw_only=True, slots=True)
class Move:
    """Another unit of the class, and its place without and with the unit in question."""

    id: str
    without: Place
    with_it: Place


@dataclass(frozen=True, kw_only=True, slots=True)
class ClassEffect:
    """What one unit does to its class, as if it were published today: its grade, its place, and whom it moves.

    `class_id` is None where no class takes it; it has a grade then, and moves nobody. `narrows` are the tests that
    would tell more, the one that would narrow its score most first; `for_a_grade` those that would make it one.
    """

    id: str
    class_id: str | None
    grade: Graded
    place: Place | None
    moves: tuple[Move, ...]
    narrows: tuple[Narrowing, ...] = ()
    for_a_grade: tuple[Narrowing, ...] = ()


def class_effects(
    units: Collection[DerivedUnit], ids: Collection[str], grading: Grading | None
) -> tuple[ClassEffect, ...]:
    """For each of these units: its class with it and without it.

    Args:
        units: The whole catalogue, also units that are not published yet.
        ids: Which of them are asked about; a withdrawn one has no place to take.
        grading: How they are graded; without it there is nothing to say.
    """
    if grading is None:
        return ()
    asked = [unit for unit in units if unit.id in ids and unit.record.unit.status != "withdrawn"]
    return tuple(_effect(unit, units, grading) for unit in asked)


def _effect(unit: DerivedUnit, units: Iterable[DerivedUnit], grading: Grading) -> ClassEffect:
    class_id = unit.result.class_id
    others = [
        other
        for other in units
        if class_id is not None and other.result.class_id == class_id and other.id != unit.id
        if other.record.unit.status == "published"
    ]
    grades, with_it = _places([*others, unit], grading)
    _, without = _places(others, grading)
    moves = tuple(
        Move(id=name, without=before, with_it=after)
        for name, before in sorted(without.items())
        if (before.low, before.high) != ((after := with_it[name]).low, after.high)
    )
    own = grades[unit.id]
    narrows = narrowings(own, [grades[other.id] for other in others])
    return ClassEffect(
        id=unit.id,
        class_id=class_id,
        grade=own,
        place=with_it.get(unit.id),
        moves=moves,
        narrows=narrows,
        for_a_grade=enough_for_a_grade(own, narrows, grading.least_tested) if own.why_not else (),
    )
