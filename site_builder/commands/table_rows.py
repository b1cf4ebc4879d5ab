"""One row of a hand-kept table → the text of a results file that says: reported, evidence not kept. Writes nothing."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from site_builder.commands.ids import id_of
from site_builder.commands.new_unit import SCHEMA_LINE, typed
from site_builder.commands.table_mapping import DateOrder, Plan
from site_builder.commands.table_numbers import sign_fault, with_points
from site_builder.commands.table_read import HandTable, Row, cell_of
from site_builder.commands.table_targets import Target
from site_builder.yaml_text import Path, shown_path, value_at, written

# How people write that they have nothing to write.
NOTHING = frozenset({"", "-", "–", "—", "?", "n/a", "n.a.", "na", "k.a.", "k. a."})
YES = frozenset({"yes", "y", "true", "1", "x", "✓", "ja", "oui", "si", "sí"})
NO = frozenset({"no", "n", "false", "0", "nein", "non"})
_DATE = re.compile(r"([0-9]{1,4})[./-]([0-9]{1,2})[./-]([0-9]{1,4})")
# What every kind needs and what a table seldom says: nobody wrote down how it ended.
USUAL = {"capacity": {"ended_by": "unknown"}}


@dataclass(frozen=True, kw_only=True, slots=True)
class RowFile:
    """A row as a results file: its text, and which column (from 1) each of its values came from.

    `unclear` are cells whose number may be another: column, what is wrong, a way out.
    """

    row: Row
    id: str
    maker: str
    model: str
    text: str
    columns: Mapping[str, int]
    groups: tuple[str, ...]
    unclear: tuple[tuple[int, str, str], ...] = ()


def row_file(row: Row, plan: Plan, table: HandTable, status: str) -> RowFile:
    """The row as a file. Values that cannot be read stay as they are: checking the text names them."""
    data: dict[str, Any] = {"unit": {}, "label": {}}
    columns: dict[str, int] = {}
    unclear: list[tuple[int, str, str]] = []
    for place in plan.places:
        cell = cell_of(row, place.column)
        if cell.casefold() in NOTHING:
            continue
        if is_number(place.target) and (fault := sign_fault(cell, plan.decimal, whole=place.target.number is None)):
            unclear.append((place.column + 1, *fault))
        _put(data, place.target.path, value_of(cell, place.target, place.unit, plan.decimal, plan.dates))
        columns[shown_path(place.target.path)] = place.column + 1
    for to, value in plan.fixed.values():
        _put_fixed(data, to, value_of(value, to, None, ".", "ymd") if isinstance(value, str) else value)
    unit = data["unit"]
    maker, model = str(unit.get("maker", "")), str(unit.get("model", ""))
    unit_id = str(unit.get("id") or id_of(maker, model))
    data["unit"] = {"id": unit_id, "maker": maker, "model": model, "status": status} | unit
    _tell_tests(data, f"Copied from {table.file}, line {row.line}.")
    return RowFile(
        row=row,
        id=unit_id,
        maker=maker,
        model=model,
        text=_text(data, table, row),
        columns=columns,
        unclear=tuple(unclear),
        groups=(*(key for key in ("label", "samples") if data.get(key)), *data.get("tests", {})),
    )


def is_number(to: Target) -> bool:
    """Whether a cell of this place is a number, whole or not."""
    return to.number is not None or (to.holds(int) and not to.holds(bool))


def value_of(cell: str, to: Target, unit: str | None, decimal: str, dates: DateOrder) -> Any:
    """A cell as the file writes it: decimal comma, unit, order of a date and yes or no turned; else as it stands."""
    if to.is_date:
        return iso_date(cell, dates)
    if to.holds(tuple):
        return [_single(part.strip(), to, unit, decimal) for part in re.split(r"[;,]" if decimal == "." else ";", cell)]
    return _single(cell, to, unit, decimal)


def _single(cell: str, to: Target, unit: str | None, decimal: str) -> Any:
    if to.number is not None:
        text = with_points(cell, decimal)
        return f"{text} {unit}" if unit and re.search(r"[0-9]$", text) else typed(text)
    if to.holds(bool):
        word = cell.casefold()
        return True if word in YES else False if word in NO else cell
    if to.holds(int):
        return typed(with_points(cell, decimal))
    return next((word for word in to.words if str(word).casefold() == cell.casefold()), cell)


def iso_date(cell: str, order: DateOrder) -> str:
    """A date as ISO 8601; as it stands where it is none in that order.

    >>> iso_date("3.5.2021", "dmy"), iso_date("5/3/21", "mdy"), iso_date("spring", "dmy")
    ('2021-05-03', '2021-05-03', 'spring')
    """
    match = _DATE.fullmatch(cell)
    if match is None:
        return cell
    if len(match[1]) == 4:
        order = "ymd"
    parts = dict(zip(order, match.groups(), strict=True))
    year = f"20{parts['y']}" if len(parts["y"]) == 2 else parts["y"]
    return f"{year}-{parts['m']:0>2}-{parts['d']:0>2}"


def _put(data: dict[str, Any], path: Path, value: Any) -> None:
    """The value at its path; groups and lists on the way are made."""
    node: Any = data
    for step, following in pairwise(path):
        fresh: Any = [] if isinstance(following, int) else {}
        if isinstance(step, int):
            node += [{} for _ in range(step + 1 - len(node))]
            node = node[step]
        else:
            node = node.setdefault(step, fresh)
    node[path[-1]] = value


def _put_fixed(data: dict[str, Any], to: Target, value: Any) -> None:
    """What holds for every row, where the row says nothing else; of a test only where the row has one of that kind."""
    if to.path[0] == "tests" and to.path[1] not in data.get("tests", {}):
        return
    if value_at(data, to.path) is None:
        _put(data, to.path, value)


def _tell_tests(data: dict[str, Any], note: str) -> None:
    """Every test says what it is, that its evidence was not kept, and where it was copied from."""
    for name, test in data.get("tests", {}).items():
        kind = name.replace("-", "_")
        test["note"] = f"{test['note']} {note}" if test.get("note") else note
        data["tests"][name] = {"kind": kind, "evidence": "reported", **USUAL.get(kind, {}), **test}


def _text(data: Mapping[str, Any], table: HandTable, row: Row) -> str:
    lines = [SCHEMA_LINE, f"# Copied from {written(table.file)}, line {row.line}: reported, evidence not kept."]
    lines += [f"{key}: {written(data[key])}" for key in ("unit", "samples", "label") if data.get(key)]
    if data.get("tests"):
        lines += ["tests:", *(f"  {name}: {written(test)}" for name, test in data["tests"].items())]
    return "\n".join(lines) + "\n"
