"""The data of the page that compares: one small script a battery, fetched when it is chosen, and an index of names.

With a thousand batteries one file of everything would be megabytes; a visitor compares four.
"""

from __future__ import annotations

from typing import Any

from site_builder.derived import Derived, DerivedUnit
from site_builder.measured import coverage_factor
from site_builder.pages.asked_units import asked_units
from site_builder.pages.compared import absent_words, classes_of, compared_rows, questions_of
from site_builder.pages.compared_cells import Question
from site_builder.pages.compared_curves import compared_curves, curve_limits, warmed
from site_builder.pages.text import number
from site_builder.pages.words import name_of
from site_builder.publish.browser_data import data_script

STUDENT_ROWS = 100  # beyond these an expansion is as exact as the digits shown


def compare_files(derived: Derived) -> dict[str, str]:
    """Address below the site → text."""
    asked = questions_of(derived)
    units = [unit for unit in derived.units if unit.record.unit.status == "published"]
    of_units = {f"data/compare/{unit.id}.js": unit_script(unit, asked) for unit in units}
    student = [coverage_factor(float(dof)) for dof in range(1, STUDENT_ROWS + 1)]
    return {
        **of_units,
        "data/compare/index.js": data_script("compareIndex", _index(derived, asked)),
        "data/student-t.js": data_script("studentT", student),
    }


def unit_script(unit: DerivedUnit, asked: tuple[Question, ...]) -> str:
    """One unit's data, as the global "compared_" and its id with underscores."""
    label = unit.record.label
    data = {
        "id": unit.id,
        "name": name_of(unit.record),
        "label": f"{label.chemistry}, {number(label.nominal_v.best)} V, {number(label.capacity_ah.best)} Ah",
        "rows": compared_rows(unit, asked),
        "absent": absent_words(unit, asked),
        "curves": compared_curves(unit),
        "limits": curve_limits(unit),
        "warmed": warmed(unit),
    }
    return data_script(f"compared_{unit.id.replace('-', '_')}", data)


def _index(derived: Derived, asked: tuple[Question, ...]) -> dict[str, Any]:
    questions = [
        {
            "anchor": one.of.anchor,
            "heading": one.of.heading,
            "short": one.of.short,
            "picture": one.picture,
            "rows": [[row.key, row.title, row.missing] for row in one.rows],
        }
        for one in asked
    ]
    classes = list(classes_of(derived))
    shown = {id_ for _, units in classes for id_, _ in units}
    return {"classes": classes, "questions": questions, **asked_units(derived, shown)}
