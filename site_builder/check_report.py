"""Prints what `check` found: as text for people and grep, as JSON for programs, as workflow commands for a forge.

Prints only; finds and computes nothing.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from site_builder.against import Compared
from site_builder.answered import way_to_answer
from site_builder.build import Checked
from site_builder.problems import Problem, on_one_line
from site_builder.standing import ClassEffect

FIELDS = ("file", "line", "column", "field", "message", "hint", "severity", "code")


@dataclass(frozen=True, kw_only=True, slots=True)
class Report:
    """Problems, what was derived, and for files given by name their numbers and what they do to their class.

    `compared` is there where another revision was asked for.
    """

    problems: Sequence[Problem]
    checked: Checked
    of_files: bool = False
    effects: Sequence[ClassEffect] = ()
    compared: Compared | None = None


def print_text(report: Report) -> None:
    """One line a finding; counts on the error stream."""
    for problem in report.problems:
        print(f"{problem}{on_one_line(way_to_answer(problem))}")
    for line in _lines(report):
        print(on_one_line(line))
    for note in report.compared.notes if report.compared else ():
        print(on_one_line(f"note: {note}"), file=sys.stderr)
    errors = sum(problem.severity == "error" for problem in report.problems)
    units = len(report.checked.derived.units)
    counts = ((units, "unit"), (errors, "error"), (len(report.problems) - errors, "warning"))
    print(", ".join(f"{n} {word}{'' if n == 1 else 's'}" for n, word in counts), file=sys.stderr)


def _lines(report: Report) -> Iterator[str]:
    """Numbers that move, then each file's own numbers, then its class."""
    if report.compared:
        yield from (f"{one.unit}: since {report.compared.since}: {one}" for one in report.compared.moved)
    if report.of_files:
        from site_builder.pages.effect_words import effect_lines, number_lines  # noqa: PLC0415  # only then needed

        for unit in report.checked.derived.units:
            yield from number_lines(unit)
        for effect in report.effects:
            yield from effect_lines(effect, report.checked.derived.catalogue.loads)


def print_json(report: Report) -> None:
    """Everything as one document; a unit reads as in units.json, with its tests and without its place."""
    from site_builder.publish.data import (  # noqa: PLC0415
        effect_entry,
        missing_entry,
        score_entry,
        tests_entry,
        unit_entry,
    )

    derived = report.checked.derived
    grades = derived.standings.grades
    scores = {name: {"score": score_entry(grade)} for name, grade in grades.items()}
    whole: dict[str, Any] = {
        "problems": [{name: getattr(problem, name) for name in FIELDS} for problem in report.problems],
        "units": [
            unit_entry(unit) | tests_entry(unit) | scores.get(unit.id, {"score": None}) for unit in derived.units
        ],
        "class_effects": [effect_entry(effect) for effect in report.effects],
        "missing": [missing_entry(effect) for effect in report.effects],
    }
    if report.compared:
        names = ("unit", "name", "old", "new")
        moved = [{name: getattr(one, name) for name in names} for one in report.compared.moved]
        since = {"revision": report.compared.since, "commit": report.compared.commit}
        whole["against"] = since | {"moved": moved, "notes": list(report.compared.notes)}
    print(json.dumps(whole, ensure_ascii=False, indent=1))


def print_github(report: Report) -> None:
    """Workflow commands; a step shows ten of them as annotations, so that each is printed as text too."""
    for problem in report.problems:
        place = f"file={_property(problem.file)},line={max(problem.line, 1)},col={max(problem.column, 1)}"
        field = f"{problem.field}: " if problem.field else ""
        text = f"{field}{problem.message}; {problem.hint}{way_to_answer(problem)}"
        print(on_one_line(f"::{problem.severity} {place},title={_property(problem.code)}::{_data(text)}"))
    print_text(report)


def _data(text: str) -> str:
    return text.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def _property(text: str) -> str:
    return _data(text).replace(":", "%3A").replace(",", "%2C")


PRINTERS: dict[str, Callable[[Report], None]] = {"text": print_text, "json": print_json, "github": print_github}
