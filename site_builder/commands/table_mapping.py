"""Which column of a hand-kept table is what: as a file or flags say, or as its heading suggests. No cells are read."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from site_builder.commands.log_words import words_of
from site_builder.commands.table_read import HandTable
from site_builder.commands.table_targets import Target, target
from site_builder.fields import Record, Text, said
from site_builder.problems import Problem
from site_builder.values import GrammarError, conversion
from site_builder.yaml_text import shown_path, written

DateOrder = Literal["ymd", "dmy", "mdy"]


class TableMapping(Record):
    """What each column is, and what holds for every row."""

    columns: dict[Text, Text] = said('Heading → place, with a unit behind it where needed: "build.mass_kg lb".', {})
    set: dict[Text, Text | int | float | bool] = said("Place → what holds for every row, such as label.chemistry.", {})
    decimal: Literal[".", ","] = said("Decimal sign of the cells.", ".")
    dates: DateOrder = said("Order of day, month and year in dates.", "ymd")


@dataclass(frozen=True, kw_only=True, slots=True)
class Place:
    """One column's place: its number (from 0), and the unit of its cells where it is not the field's."""

    column: int
    target: Target
    unit: str | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Plan:
    """A mapping held against a table: where each column goes, what holds for all rows, and which columns are left."""

    places: tuple[Place, ...]
    fixed: Mapping[str, tuple[Target, Any]]
    left: tuple[str, ...]
    decimal: str
    dates: DateOrder

    @property
    def columns(self) -> Mapping[str, int]:
        """The column, from 1, of each place that has one."""
        return {shown_path(place.target.path): place.column + 1 for place in self.places}


def plan_of(mapping: TableMapping, table: HandTable) -> tuple[Plan, list[Problem]]:
    """The plan, and every fault of the mapping."""
    found: list[Problem] = []
    places = [place for heading, words in mapping.columns.items() if (place := _place(heading, words, table, found))]
    found += _twice(places, table)
    fixed: dict[str, tuple[Target, Any]] = {}
    for name, value in mapping.set.items():
        to = target(name)
        if isinstance(to, str):
            found.append(_fault(table, to))
        else:
            fixed[name] = (to, value)
    taken = {place.column for place in places}
    left = tuple(name or f"column {at + 1}" for at, name in enumerate(table.headings) if at not in taken)
    plan = Plan(places=tuple(places), fixed=fixed, left=left, decimal=mapping.decimal, dates=mapping.dates)
    return plan, found


def _place(heading: str, words: str, table: HandTable, found: list[Problem]) -> Place | None:
    name, _, unit = words.strip().partition(" ")
    to = target(name)
    columns = [at for at, one in enumerate(table.headings) if one.casefold() == " ".join(heading.split()).casefold()]
    if not columns:
        found.append(
            _fault(
                table, f"there is no column {heading[:60]!r}; there are {', '.join(filter(None, table.headings))[:300]}"
            )
        )
        return None
    if isinstance(to, str):
        found.append(table.problem(table.heading_line, columns[0] + 1, *_split(to), "table-mapping"))
        return None
    unit = unit.strip() or (_unit_in(heading, to) or "")
    if unit and (fault := _unit_fault(unit, to)):
        found.append(table.problem(table.heading_line, columns[0] + 1, *fault, "table-mapping"))
        return None
    return Place(column=columns[0], target=to, unit=unit or None)


def _unit_in(heading: str, to: Target) -> str | None:
    """The unit in brackets in a heading, where it measures what the field does."""
    match = re.search(r"[\[(]\s*([^\])]{1,12}?)\s*[\])]", heading)
    return match[1] if match and to.number and _unit_fault(match[1], to) is None else None


def _unit_fault(unit: str, to: Target) -> tuple[str, str] | None:
    if to.number is None:
        return f"{to.name} takes no unit", "leave it out"
    if unit == to.number.unit:
        return None
    try:
        conversion(unit, to.number.unit)
    except GrammarError as error:
        return error.message, error.hint
    return None


def _twice(places: Iterable[Place], table: HandTable) -> list[Problem]:
    seen: dict[Any, Place] = {}
    found = []
    for place in places:
        other = seen.setdefault(place.target.path, place)
        if other is not place:
            message = f"{place.target.name} is filled by {table.headings[other.column]!r} already"
            found.append(
                table.problem(
                    table.heading_line, place.column + 1, message, "leave one of the two out", "table-mapping"
                )
            )
    return found


def _fault(table: HandTable, words: str) -> Problem:
    message, hint = _split(words)
    return Problem(
        file=table.file, line=table.heading_line, column=1, field="", message=message, hint=hint, code="table-mapping"
    )


def _split(words: str) -> tuple[str, str]:
    message, _, hint = words.partition("; ")
    return message, hint


# --- what headings suggest -------------------------------------------------------------------------------------------
# Words that have to be there, any of a group → the place; the first that fits is taken.
_SUGGESTED: tuple[tuple[tuple[str, ...], str], ...] = (
    (("maker brand manufacturer hersteller marke make marque fabricant fabricante merk",), "unit.maker"),
    (("model battery typ type modell modele modelo unit name",), "unit.model"),
    (("chemistry chemie chimie quimica",), "label.chemistry"),
    (("measured delivered actual tested gemessen mesure medida real", "ah"), "capacity.counted_ah"),
    (("measured delivered actual tested gemessen mesure medida real", "wh"), "capacity.counted_wh"),
    (("measured delivered actual tested gemessen", "capacity kapazitat capacite capacidad"), "capacity.counted_ah"),
    (("measured delivered actual tested gemessen", "energy energie energia"), "capacity.counted_wh"),
    (("rated label claimed nominal capacity kapazitat capacite", "ah capacity kapazitat"), "label.capacity_ah"),
    (("ah",), "label.capacity_ah"),
    (("voltage spannung tension voltaje volts v",), "label.nominal_v"),
    (("weight mass gewicht masse poids peso kg lb",), "build.mass_kg"),
    (("date datum fecha tested",), "capacity.date"),
    (("cutoff tripped trip",), "overload.points[0].current_a"),
    (("note notes comment comments bemerkung remark remarks",), "capacity.note"),
)  # fmt: skip


def suggested(table: HandTable) -> dict[str, str]:
    """A place for each heading whose words suggest one, each place once."""
    found: dict[str, str] = {}
    for heading in filter(None, table.headings):
        words = set(words_of(heading))
        for groups, place in _SUGGESTED:
            if place not in found.values() and all(words & set(group.split()) for group in groups):
                found[heading] = place
                break
    return found


def mapping_text(mapping: TableMapping) -> str:
    """The mapping as a file to keep and to give again."""
    lines = ["columns:", *(f"  {written(heading)}: {written(place)}" for heading, place in mapping.columns.items())]
    lines += ["set:", *(f"  {name}: {written(value)}" for name, value in mapping.set.items())] if mapping.set else []
    return "\n".join([*lines, f'decimal: "{mapping.decimal}"', f"dates: {mapping.dates}"]) + "\n"
