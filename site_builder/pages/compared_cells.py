"""What stands in a cell of the comparison, and how it travels to the browser. Nothing here computes a metric."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from markupsafe import Markup

from site_builder.derived import DerivedUnit
from site_builder.measured import Measured
from site_builder.pages.safe_text import safe
from site_builder.pages.text import NOT_TESTED, UNIT_WORDS, duration, quantity
from site_builder.pages.unit_questions import Asked

FINE = 9  # digits of a value: the difference of two of them still has more than any instrument
FINE_U = 6
NO_SPREAD = {"claimed": "by its label", "as_read": "as read"}  # "reported" says so itself
SEEN, PROJECTED = "seen", "projected"


@dataclass(frozen=True, kw_only=True, slots=True)
class Cell:
    """What one battery says in one row: words, the number behind them where it may be compared, a note below.

    A load may have two numbers, since like is compared with like: hours that are projected as `number`, and in `seen`
    the time that a whole charge was seen to run it.
    """

    words: Markup
    number: Measured | None = None
    note: str = ""
    seen: Measured | None = None
    is_projected: bool = False


def _nothing_else(_: DerivedUnit) -> str:
    return ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Row:
    """One line of the comparison: a title, how a unit fills it, and what it says where a unit has nothing for it.

    `absent` says of one unit why it has nothing, where that is not what is `missing` of others; else it is empty.
    """

    key: str
    title: str
    cell: Callable[[DerivedUnit], Cell | None]
    missing: str = NOT_TESTED
    absent: Callable[[DerivedUnit], str] = _nothing_else


@dataclass(frozen=True, kw_only=True, slots=True)
class Question:
    """A section of the comparison: what it asks, a picture before its rows where it has one."""

    of: Asked
    rows: tuple[Row, ...]
    picture: str = ""


def measured_cell(one: Measured | None, *, comparable: bool = True, notes: Sequence[str] = ()) -> Cell | None:
    """A number with what keeps it from being compared, where something does."""
    if one is None:
        return None
    words = duration(one) if one.unit == "s" else quantity(one)
    said = Markup(", ").join(part for part in (NO_SPREAD.get(one.basis, ""), *notes) if part)
    return Cell(words=safe(words), number=_in_shown_unit(one) if comparable else None, note=said)


def _in_shown_unit(one: Measured) -> Measured:
    return one if one.unit == "1" else replace(one, unit=UNIT_WORDS.get(one.unit, one.unit))


def entry(cell: Cell) -> list[Any]:
    """[words, number or null, note, seen] without what has nothing at its end; words and note are HTML."""
    number = None if cell.number is None else number_entry(cell.number, of=PROJECTED if cell.is_projected else "")
    seen = None if cell.seen is None else number_entry(cell.seen, of=SEEN)
    parts = [str(cell.words), number, str(safe(cell.note)), seen]
    while len(parts) > 2 and not parts[-1]:
        parts.pop()
    return parts


def number_entry(one: Measured, *, of: str = "") -> dict[str, Any]:
    """A number as assets/measured.js takes it; what is usual (exact, no limit, infinite freedom) is left out.

    `of` says what sort of number it is, where a row has two.
    """
    held: dict[str, Any] = {"value": _fine(one.value), "unit": one.unit}
    if one.bound != "exact":
        held["bound"] = one.bound
    if one.low is not None and one.high is not None:
        held |= {"low": _fine(one.low), "high": _fine(one.high)}
    if is_vague(one):
        held["vague"] = True
    if of:
        held["of"] = of
    held["components"] = {name: _component(c.u, c.limit, c.dof) for name, c in sorted(one.components.items())}
    return held


def is_vague(one: Measured) -> bool:
    """Whether nobody can say how far the number is off: it has no ±, or it was worked out with a label's claim."""
    return one.expanded is None or one.basis == "claimed"


def _component(u: float, limit: float | None, dof: float) -> list[float | None]:
    parts = [_fine(u, FINE_U), None if limit is None else _fine(limit, FINE_U), None if math.isinf(dof) else dof]
    while parts[-1] is None:
        parts.pop()
    return parts


def _fine(value: float, digits: int = FINE) -> float:
    return float(f"{value:.{digits}g}")
