"""A sample of a log → the `log:` entry that would declare it, column by column, with what is unsure. Reads nothing.

Headings and the cells themselves decide; where neither can tell, a note says so.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from site_builder.commands.log_sample import Sample
from site_builder.commands.log_times import is_date, numeric_format, seconds_of, stamp_format
from site_builder.commands.log_words import direction_of, is_of_one_cell, role_of, unit_of
from site_builder.commands.number_forms import floats_of, number_form, unsure_signs
from site_builder.series import Array

READ = ("current", "voltage", "battery_c", "ambient_c", "cell_current")
# A battery's voltage lies in here, and changes little against itself while it is used (judgement).
VOLTS = (1.5, 150.0)
STEADY = 1.7


@dataclass(frozen=True, kw_only=True, slots=True)
class Seen:
    """One column: what it is taken for ("" for nothing that a bench declares), and its lowest and highest value."""

    heading: str
    role: str = ""
    unit: str = ""
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Guess:
    """What was found: the entry as plain data (None without time, or without both voltage and current), and notes."""

    entry: Mapping[str, Any] | None
    columns: tuple[Seen, ...]
    notes: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()


@dataclass(slots=True)
class _Columns:
    """A sample's columns on the way to their roles."""

    sample: Sample
    decimal: str
    thousands: str | None
    values: list[Array]
    roles: dict[str, int] = field(default_factory=dict)
    time: dict[str, Any] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)

    def heading(self, at: int) -> str:
        """A column's heading with the unit that stands below it."""
        below = self.sample.units[at].strip("[]() ") if self.sample.units else ""
        return f"{self.sample.headings[at]} [{below}]" if below else self.sample.headings[at]

    def numeric(self, at: int) -> bool:
        """Whether nearly all its cells are numbers."""
        filled = [i for i, cell in enumerate(self.sample.column(at)) if cell]
        return bool(filled) and float(np.isfinite(self.values[at][filled]).mean()) >= 0.9


def guessed(sample: Sample) -> Guess:
    """Everything that can be told from headings and cells."""
    decimal, thousands = number_form(sample)
    values = [floats_of(sample.column(at), decimal, thousands) for at in range(len(sample.headings))]
    columns = _Columns(
        sample, decimal, thousands, values, notes=[*sample.notes, *unsure_signs(sample, decimal, thousands)]
    )
    _find_time(columns)
    _find_values(columns)
    missing = tuple(role for role in ("time", "current", "voltage") if role not in columns.roles)
    unheaded = [role for role, at in columns.roles.items() if not sample.headings[at]]
    if unheaded:
        columns.notes.append(f"the column of the {unheaded[0]} has no heading, and a bench names columns by theirs")
    declared = not ({"time"} & set(missing)) and len(missing) < 2 and not unheaded
    return Guess(
        entry=dict(_entry(columns)) if declared else None,
        columns=tuple(_seen(columns, at) for at in range(len(sample.headings))),
        notes=tuple(columns.notes),
        missing=missing,
    )


# --- time ------------------------------------------------------------------------------------------------------------
def _find_time(columns: _Columns) -> None:
    """The column of stamps: dates and clocks before counts, named ones before others, a date beside where it stands."""
    sample = columns.sample
    stamps = {at: found for at in range(len(sample.headings)) if (found := stamp_format(sample.column(at))) is not None}
    days = [at for at in stamps if is_date(sample.column(at))]
    clocks = [at for at in stamps if at not in days]
    counts = [at for at in range(len(sample.headings)) if at not in stamps and columns.numeric(at)]
    named = [at for at in counts if role_of(columns.heading(at)) == "time" and _counts_up(columns.values[at])]
    if clocks:
        _take_clock(columns, clocks, days, stamps)
    elif named or (counts and _counts_up(columns.values[counts[0]])):
        _take_count(columns, (named or counts)[0], guessed=not named)
    if len([*clocks, *named]) > 1:
        others = ", ".join(repr(sample.headings[at]) for at in [*clocks, *named] if at != columns.roles["time"])
        columns.notes.append(f"time stands in {others} too")


def _take_clock(columns: _Columns, clocks: list[int], days: list[int], stamps: Mapping[int, Mapping[str, Any]]) -> None:
    sample = columns.sample
    # A stamp with its day in it before one that needs another column.
    at = next((one for one in clocks if len(next(filter(None, sample.column(one)))) > 12), clocks[0])
    time = dict(stamps[at])
    has_day = time.get("format") == "iso" or any(letter in time.get("pattern", "") for letter in ("%d", "%Y"))
    if days and not has_day:
        joined = [f"{day} {clock}" for day, clock in zip(sample.column(days[0]), sample.column(at), strict=True)]
        together = stamp_format(joined)
        if together is not None:
            time = {**together, "date_column": sample.headings[days[0]]}
            columns.roles["date"] = days[0]
    columns.roles["time"], columns.time = at, time
    if "pattern" in time and time["pattern"].startswith(("%d/%m", "%m/%d")):
        first = "the day" if time["pattern"].startswith("%d") else "the month"
        columns.notes.append(f"{first} is taken to come first in the date; the rows may not tell")


def _counts_up(values: Array) -> bool:
    known = values[np.isfinite(values)]
    return len(known) > 1 and bool((np.diff(known) >= 0).mean() > 0.95) and known[-1] > known[0]


def _take_count(columns: _Columns, at: int, *, guessed: bool) -> None:
    measured, unit = unit_of(columns.heading(at)) or ("", "")
    known = columns.values[at][np.isfinite(columns.values[at])]
    format_, note = numeric_format(unit if measured == "time" else "", known)
    columns.roles["time"], columns.time = at, {"format": format_}
    if guessed:
        columns.notes.append(f"{columns.sample.headings[at]!r} is taken for the time because it counts up")
    if note:
        columns.notes.append(note)


# --- values ----------------------------------------------------------------------------------------------------------
def _find_values(columns: _Columns) -> None:
    """Columns by their headings; current and voltage by their values where no heading tells."""
    free = [
        at for at in range(len(columns.sample.headings)) if at not in columns.roles.values() and columns.numeric(at)
    ]
    by_role: dict[str, list[int]] = {}
    for at in free:
        by_role.setdefault(role_of(columns.heading(at)) or "", []).append(at)
    for role in READ:
        found = sorted(
            by_role.get(role, []), key=lambda at: role != "cell_current" and is_of_one_cell(columns.heading(at))
        )
        if found and not (role == "voltage" and is_of_one_cell(columns.heading(found[0]))):
            columns.roles[role] = found[0]
            _tell_others(columns, role, found[1:])
    _by_values(columns, by_role.get("", []))


def _tell_others(columns: _Columns, role: str, others: Sequence[int]) -> None:
    if others:
        named = ", ".join(repr(columns.sample.headings[at]) for at in others[:6])
        columns.notes.append(
            f"{named} looks like {_ROLE_WORDS[role]} too; {columns.sample.headings[columns.roles[role]]!r} is taken"
        )


_ROLE_WORDS = {
    "current": "a current",
    "voltage": "a voltage",
    "battery_c": "a temperature",
    "ambient_c": "an air temperature",
    "cell_current": "a current into the cells",
}


def _by_values(columns: _Columns, unnamed: list[int]) -> None:
    if "voltage" not in columns.roles:
        steady = sorted((spread, at) for at in unnamed if (spread := _voltage_spread(columns.values[at])) is not None)
        # Of two, the one that is much steadier: a current is rarely as steady as the voltage it is taken at.
        if len(steady) == 1 or (len(steady) > 1 and steady[0][0] < steady[1][0] / 2):
            _take_by_value(columns, "voltage", steady[0][1])
    left = [at for at in unnamed if at not in columns.roles.values()]
    if "current" not in columns.roles and "voltage" in columns.roles and len(left) == 1:
        _take_by_value(columns, "current", left[0])


def _take_by_value(columns: _Columns, role: str, at: int) -> None:
    columns.roles[role] = at
    heading = columns.sample.headings[at]
    columns.notes.append(f"{heading!r} is taken for {_ROLE_WORDS[role]} by its values alone: check it")


def _voltage_spread(values: Array) -> float | None:
    """How far a column moves against itself, where its numbers could be a battery's voltage."""
    known = values[np.isfinite(values)]
    if not len(known) or known.min() <= 0 or not VOLTS[0] <= float(np.median(known)) <= VOLTS[1]:
        return None
    spread = float(known.max() / known.min()) - 1
    return spread if spread <= STEADY - 1 else None


# --- the entry -------------------------------------------------------------------------------------------------------
def _entry(columns: _Columns) -> Iterator[tuple[str, Any]]:
    sample, headings = columns.sample, columns.sample.headings
    yield "time", {"column": headings[columns.roles["time"]], **columns.time}
    for role in READ:
        if role in columns.roles:
            at = columns.roles[role]
            unit = _unit(columns, role, at)
            yield role, {"column": headings[at], **({"unit": unit} if unit else {})}
    if "current" in columns.roles:
        yield "positive", direction_of(columns.heading(columns.roles["current"])) or "discharge"
    for key, value, usual in (
        ("separator", sample.separator, ","),
        ("decimal", columns.decimal, "."),
        ("thousands", columns.thousands, None),
        ("encoding", sample.encoding, "utf-8"),
        ("heading_line", sample.heading_line, 1),
        ("rows_from_line", sample.rows_from_line, sample.heading_line + 1),
    ):
        if value != usual:
            yield key, value
    interval_s = _interval_s(columns)
    yield "interval_s", int(interval_s) if interval_s.is_integer() else interval_s


def _unit(columns: _Columns, role: str, at: int) -> str:
    """The unit in the file where it is another than the bench's; by size alone where the heading names none."""
    unit = unit_of(columns.heading(at))
    if unit and unit[0] in {"current", "voltage", "temperature"}:
        return unit[1]
    known = np.abs(columns.values[at][np.isfinite(columns.values[at])])
    if role == "voltage" and len(known) and float(np.median(known)) > 1000:
        columns.notes.append(f"{columns.sample.headings[at]!r} is taken to be in mV, since its numbers are so large")
        return "mV"
    return ""


def _interval_s(columns: _Columns) -> float:
    sample, day = columns.sample, columns.roles.get("date")
    dates = None if day is None else sample.column(day)
    seconds = seconds_of(sample.column(columns.roles["time"]), columns.time, dates, columns.decimal, columns.thousands)
    steps = np.diff(seconds[np.isfinite(seconds)])
    forward = steps[steps > 0]
    return float(f"{np.median(forward):.4g}") if len(forward) else 1.0


def _seen(columns: _Columns, at: int) -> Seen:
    role = next((role for role, taken in columns.roles.items() if taken == at), "")
    known = columns.values[at][np.isfinite(columns.values[at])]
    other = "" if role else role_of(columns.heading(at)) or ""
    return Seen(
        heading=columns.sample.headings[at],
        role=role or (f"({other})" if other else ""),
        unit=_unit_shown(columns, at),
        low=float(known.min()) if len(known) and columns.numeric(at) else None,
        high=float(known.max()) if len(known) and columns.numeric(at) else None,
    )


def _unit_shown(columns: _Columns, at: int) -> str:
    unit = unit_of(columns.heading(at))
    return unit[1] if unit else ""
