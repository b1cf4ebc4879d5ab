"""Cells that look like times → how a bench declares them. From what is written alone; reads nothing."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
import pyarrow as pa

from site_builder.catalogue_records import LogFormat
from site_builder.log_cells import TimeFormatError, elapsed_s
from site_builder.series import Array

ENOUGH = 0.95  # the share of cells that a format has to fit; a few may be junk
_ISO = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}(?:[T ][0-9]{2}:[0-9]{2}(?::[0-9]{2}(?:\.[0-9]+)?)?(?:Z|[+-][0-9:]{2,6})?)?"
)
_CLOCK = re.compile(r"[0-9]{1,5}:[0-5]?[0-9]:[0-5]?[0-9](?:[.,][0-9]*)?")
_STAMP = re.compile(
    r"(?:(?P<first>[0-9]{1,4})(?P<mark>[./-])(?P<second>[0-9]{1,2})(?P=mark)(?P<third>[0-9]{2,4})(?P<gap>,? ?T?))?"
    r"(?P<time>[0-9]{1,2}:[0-9]{2}(?P<seconds>:[0-9]{2}(?P<fraction>[.,][0-9]{1,6})?)?"
    r"(?P<half>\s?[AaPp]\.?\s?[Mm]\.?)?)?"
)
_MONTH = re.compile(
    r"[0-9]{1,2}(?P<mark>[ -])(?P<name>[A-Za-z]{3,9})(?P=mark)(?P<year>[0-9]{2,4})"
    r"(?P<gap>,? )?(?P<time>[0-9]{1,2}:[0-9]{2}(?P<seconds>:[0-9]{2}(?P<fraction>[.,][0-9]{1,6})?)?"
    r"(?P<half>\s?[AaPp]\.?\s?[Mm]\.?)?)?"
)
Times = Mapping[str, Any]


def stamp_format(cells: Sequence[str]) -> Times | None:
    """`format` or `pattern` of cells that are stamps; None where they are none or numbers alone.

    >>> stamp_format(["1:02:03", "1:02:13"]), stamp_format(["05/06/2026 1:02 PM", "05/13/2026 1:03 PM"])
    ({'format': 'h:m:s'}, {'pattern': '%m/%d/%Y %I:%M %p'})
    >>> stamp_format(["2026-05-06T10:00:00", "2026-05-06T10:00:10"]), stamp_format(["12", "13"])
    ({'format': 'iso'}, None)
    """
    filled = [cell for cell in cells if cell]
    if not filled:
        return None
    if _share(filled, lambda cell: _ISO.fullmatch(cell) is not None) >= ENOUGH:
        return {"format": "iso"}
    if _share(filled, lambda cell: _CLOCK.fullmatch(cell) is not None) >= ENOUGH:
        return {"format": "h:m:s"}
    patterns = [pattern for cell in filled[:1] for pattern in _patterns(cell)]
    # Of two orders of day and month, the one that every row fits, and in which the log is shorter.
    fitting = [(span, pattern) for pattern in patterns if (span := _span_s(filled, pattern)) is not None]
    return {"pattern": min(fitting, key=lambda one: one[0])[1]} if fitting else None


def is_date(cells: Sequence[str]) -> bool:
    """Whether the cells are days without a time."""
    found = stamp_format(cells)
    if found is None or not any(cells):
        return False
    first = next(cell for cell in cells if cell)
    return ":" not in first


def _share(cells: Sequence[str], fits: Callable[[str], bool]) -> float:
    return sum(map(fits, cells)) / len(cells)


def _patterns(cell: str) -> list[str]:
    if match := _MONTH.fullmatch(cell):
        month = "%b" if len(match["name"]) == 3 else "%B"
        day = match["mark"].join(("%d", month, _year(match["year"])))
        return [day + (match["gap"] or "") + _time(match)]
    match = _STAMP.fullmatch(cell)
    if match is None or not (match["first"] or match["time"]):
        return []
    if match["first"] is None:
        return [_time(match)]
    first, third = match["first"], match["third"]
    orders = [("%Y", "%m", "%d")] if len(first) == 4 else [("%d", "%m", _year(third)), ("%m", "%d", _year(third))]
    # With AM and PM the month comes first more often than not; decided by the rows where they can tell.
    if match["half"]:
        orders.reverse()
    return [match["mark"].join(order) + (match["gap"] or "") + _time(match) for order in orders]


def _year(digits: str) -> str:
    return "%Y" if len(digits) == 4 else "%y"


def _time(match: re.Match[str]) -> str:
    if match["time"] is None:
        return ""
    hours = "%I" if match["half"] else "%H"
    fraction = f"{match['fraction'][0]}%f" if match["fraction"] else ""
    return f"{hours}:%M{':%S' if match['seconds'] else ''}{fraction}{' %p' if match['half'] else ''}"


def _span_s(cells: Sequence[str], pattern: str) -> float | None:
    """How long the cells last by this pattern; None where too few fit. [s]"""
    seconds = seconds_of(cells, {"pattern": pattern})
    known = seconds[np.isfinite(seconds)]
    return None if len(known) < ENOUGH * len(cells) else float(known.max() - known.min())


def seconds_of(
    cells: Sequence[str],
    time: Times,
    dates: Sequence[str] | None = None,
    decimal: str = ".",
    thousands: str | None = None,
) -> Array:
    """The cells as seconds, by the reader's own rules; NaN where one does not fit. [s]"""
    columns = {"column": "t", **({"date_column": "d"} if dates is not None else {})}
    numbers = {"decimal": decimal, "thousands": thousands}
    form = LogFormat.model_validate({"time": columns | dict(time), "interval_s": 1} | numbers)
    held = None if dates is None else pa.chunked_array([list(dates)], type=pa.string())
    try:
        return elapsed_s(pa.chunked_array([list(cells)], type=pa.string()), held, form)[0]
    except TimeFormatError:
        return np.full(len(cells), np.nan)


def numeric_format(seconds_unit: str, values: Array) -> tuple[str, str | None]:
    """The unit of elapsed time or of a count since a day, by the heading's unit or else by size; and a note on a guess.

    Source:
        Seconds since 1970: POSIX; days since 1900 in spreadsheets: common practice, no source.

    >>> numeric_format("", np.array([1_770_000_000.0, 1_770_000_010.0]))
    ('seconds', 'the time counts seconds since 1970')
    """
    if seconds_unit:
        return seconds_unit, None
    first, steps = float(values[0]), np.diff(values)
    step = float(np.median(steps)) if len(steps) else 1.0
    if first > 1e11:
        return "milliseconds", "the time counts milliseconds since 1970"
    if first > 1e8:
        return "seconds", "the time counts seconds since 1970"
    if 20_000 < first < 80_000 and step < 0.5 and float(values[-1]) - first < 60:
        return "days", "the time counts days, as spreadsheets do"
    if 0 < step < 0.05:
        return "hours", "the heading names no unit of time; hours are taken, since the steps are so small"
    return "seconds", "the heading names no unit of time; seconds are taken"
