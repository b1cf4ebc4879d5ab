"""One column of a log as text or numbers → floats: decimal signs, thousands, clocks and dates as declared.

A cell that is not written as declared becomes NaN; nothing is guessed. Opens no file.
"""

from __future__ import annotations

import datetime as dt
import re
from typing import TYPE_CHECKING

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from site_builder.catalogue_records import LogFormat, TimeColumn
from site_builder.series import Array

if TYPE_CHECKING:
    import pandas as pd

Stamps = NDArray[np.datetime64]

PER_SECOND = {"seconds": 1.0, "minutes": 60.0, "hours": 3600.0, "days": 86_400.0, "milliseconds": 0.001}
HALF_A_DAY_S = 43_200.0
# Between thousands stands what the bench declares; a space may be one that does not break.
_BETWEEN = {" ": "[ \u00a0\u202f]", "'": "['’]"}
# What POSIX strptime has for a day; without one a stamp is a time of day.
_DAY_LETTERS = re.compile(r"%[dDjFxcUW]")
_NUMBER = r"^[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]{1,3})?$"
_HALVES = re.compile(r"\s*\b([ap])\s?\.?\s?m\b\.?", re.IGNORECASE)


class TimeFormatError(ValueError):
    """The declared time format is none."""


def needs_text(form: LogFormat) -> bool:
    """Whether numbers have to be read as text first."""
    return form.thousands is not None


def time_needs_text(time: TimeColumn) -> bool:
    """Whether stamps have to be read as text first, instead of straight into numbers or ISO stamps."""
    return bool(time.pattern or time.date_column or time.format == "h:m:s")


def as_floats(column: pa.ChunkedArray, form: LogFormat) -> Array:
    """Numbers as the bench writes them; NaN where a cell is none."""
    if pa.types.is_floating(column.type) or pa.types.is_integer(column.type):
        floats = column.cast(pa.float64(), safe=False)
        # One chunk, the usual, is handed over without a copy.
        one = floats.chunk(0) if floats.num_chunks == 1 else floats.combine_chunks()
        values: Array = one.to_numpy(zero_copy_only=False)
        return values
    # Only on the way to naming bad cells, or where a bench writes thousands. Arrow looks through millions of cells in a
    # second, so that a log full of nonsense is refused before anybody waits.
    text = pa.array(_plain(_words(column), form))
    written = pc.match_substring_regex(text, _NUMBER)
    numbers = pc.if_else(written, text, pa.scalar(None, text.type)).cast(pa.float64())
    named: Array = numbers.to_numpy(zero_copy_only=False)
    return named


def _words(column: pa.ChunkedArray) -> pd.Series[str]:
    """The cells as text, in one piece: pandas hands several of them on word by word, which takes ten times as long."""
    words: pd.Series[str] = column.cast(pa.string()).combine_chunks().to_pandas()
    return words


def _plain(text: pd.Series[str], form: LogFormat) -> pd.Series[str]:
    """The cells with a point before decimals and nothing between thousands; missing where that cannot be told."""
    text = text.str.strip().str.replace("−", "-", regex=False)
    if form.thousands is not None:
        between = _BETWEEN.get(form.thousands, re.escape(form.thousands))
        grouped = rf"[-+]?[0-9]{{1,3}}(?:{between}[0-9]{{3}})+(?:{re.escape(form.decimal)}[0-9]*)?"
        fits = text.str.fullmatch(grouped, na=False) | ~text.str.contains(between, na=False)
        text = text.where(fits).str.replace(between, "", regex=True)
    if form.decimal == ",":
        # A point may stand between thousands here: nobody can tell, so that such a cell is none.
        text = text.where(~text.str.contains(".", regex=False, na=False)).str.replace(",", ".", regex=False)
    return text


def elapsed_s(
    column: pa.ChunkedArray, dates: pa.ChunkedArray | None, form: LogFormat
) -> tuple[Array, dt.datetime | None]:
    """Seconds since the first stamp (or as elapsed), and that stamp where it carries a date.

    A time of day that falls by more than twelve hours has passed midnight.

    Raises:
        TimeFormatError: The pattern is none.
    """
    time = form.time
    if time.pattern or time.format == "iso":
        stamps = _patterned(column, dates, time) if time.pattern else _iso(column, dates)
        known = stamps[~np.isnat(stamps)]
        if not len(known):
            return np.full(len(stamps), np.nan), None
        seconds = (stamps - known[0]) / np.timedelta64(1, "s")
        if time.pattern and not dates_in(time):
            return _past_midnight(seconds), None
        return seconds, known[0].astype("datetime64[us]").item()
    if time.format == "h:m:s":
        return _past_midnight(_clock(column, form)), None
    scale, times = PER_SECOND[time.format], as_floats(column, form)
    return (times if scale == 1 else times * scale), None


def dates_in(time: TimeColumn) -> bool:
    """Whether the stamps say a day."""
    return time.date_column is not None or time.format == "iso" or bool(_DAY_LETTERS.search(time.pattern or ""))


def _iso(column: pa.ChunkedArray, dates: pa.ChunkedArray | None) -> Stamps:
    if dates is None and pa.types.is_timestamp(column.type):
        fine = column.cast(pa.timestamp("us", tz=column.type.tz), safe=False)  # nanoseconds are cut off
        stamps: Stamps = fine.to_numpy().astype("datetime64[us]")
        return stamps
    import pandas as pd  # noqa: PLC0415

    parsed = pd.to_datetime(_joined(column, dates), errors="coerce", format="ISO8601", utc=True)
    named: Stamps = parsed.dt.tz_localize(None).to_numpy().astype("datetime64[us]")
    return named


def _patterned(column: pa.ChunkedArray, dates: pa.ChunkedArray | None, time: TimeColumn) -> Stamps:
    import pandas as pd  # noqa: PLC0415

    pattern, text = time.pattern or "", _joined(column, dates)
    if "%p" in pattern:  # "a.m." and "p. m." are written in many countries; strptime knows AM and PM
        text = text.str.replace(_HALVES, lambda match: f" {match.group(1).upper()}M", regex=True)
        pattern = re.sub(r"\s*%p", " %p", pattern)
    try:
        parsed = pd.to_datetime(text, errors="coerce", format=pattern, utc=True)
    except (ValueError, re.error) as error:
        raise TimeFormatError(str(error)) from None
    stamps: Stamps = parsed.dt.tz_localize(None).to_numpy().astype("datetime64[us]")
    return stamps


def _joined(column: pa.ChunkedArray, dates: pa.ChunkedArray | None) -> pd.Series[str]:
    text = _words(column).str.strip()
    return text if dates is None else _words(dates).str.strip() + " " + text


def _clock(column: pa.ChunkedArray, form: LogFormat) -> Array:
    """Hours, minutes and seconds, as elapsed time or time of day: 1:02:03.5. [s]"""
    parts = _words(column).str.extract(r"^\s*([0-9]{1,5}):([0-5]?[0-9]):([0-5]?[0-9](?:[.,][0-9]*)?)\s*$")
    hours, minutes, seconds = (
        parts[i].str.replace(form.decimal, ".", regex=False).astype("float64").to_numpy() for i in range(3)
    )
    total: Array = hours * 3600 + minutes * 60 + seconds
    return total


def _past_midnight(seconds: Array) -> Array:
    known = np.flatnonzero(np.isfinite(seconds))
    falls = np.diff(seconds[known], prepend=seconds[known[:1]]) < -HALF_A_DAY_S
    passed = seconds.copy()
    passed[known] += 2 * HALF_A_DAY_S * np.cumsum(falls)
    return passed
