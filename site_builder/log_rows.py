"""The columns of a log as they were written → clean arrays, and what was wrong with which line. Opens no file.

Nothing is repaired or guessed: bad rows are left out and counted, and too many of them refuse the log.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from site_builder.catalogue_records import Column, LogFormat
from site_builder.log_cells import TimeFormatError, as_floats, elapsed_s
from site_builder.problems import Problem, Severity
from site_builder.series import Array, Log
from site_builder.values import GrammarError, conversion

Lines = NDArray[np.int64]

MAX_BAD_SHARE = 0.01
SHOWN_PER_KIND = 5

# What no instrument on a battery bench shows: the bounds of the number fields, and plain nonsense such as 1e308.
_POSSIBLE = {
    "current": (-3000.0, 3000.0),
    "cell_current": (-3000.0, 3000.0),
    "voltage": (-1.0, 1000.0),
    "battery_c": (-60.0, 150.0),
    "ambient_c": (-60.0, 150.0),
}
_UNITS = {"current": "A", "cell_current": "A", "voltage": "V", "battery_c": "°C", "ambient_c": "°C"}
_MAX_TIME_S = 1e11  # three thousand years


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with one file; the caller knows its name. `line` 0 is the file as a whole."""

    line: int
    message: str
    hint: str
    code: str
    severity: Severity = "error"

    def problem(self, file: str) -> Problem:
        """As a problem of `file`."""
        return Problem(
            file=file,
            line=self.line,
            column=1 if self.line else 0,
            field="",
            message=self.message,
            hint=self.hint,
            code=self.code,
            severity=self.severity,
        )


class UnreadableLogError(Exception):
    """The file as a whole cannot be used; carries the fault to report."""

    def __init__(self, message: str, hint: str, code: str, line: int = 0) -> None:
        super().__init__(message)
        self.fault = Fault(line, message, hint, code)


@dataclass(frozen=True, slots=True)
class Table:
    """A log's columns by role ("time", "date", "current", …), and the lines whose cells do not fit the heading.

    `first_line` is the line of the first row in the file.
    """

    cells: pa.Table
    ragged: tuple[int, ...] = ()
    first_line: int = 2

    @property
    def rows(self) -> int:
        """How many lines the file has after the heading."""
        return int(self.cells.num_rows) + len(self.ragged)

    def lines(self) -> Lines:
        """The line in the file of each row."""
        lines = np.arange(self.first_line, self.rows + self.first_line)
        return np.setdiff1d(lines, self.ragged, assume_unique=True) if self.ragged else lines


def declared(form: LogFormat) -> dict[str, Column]:
    """The bench's value columns by role, time left out."""
    roles = {role: getattr(form, role) for role in _UNITS}
    return {role: column for role, column in roles.items() if column is not None}


def cleaned(table: Table, form: LogFormat, sha256: str) -> tuple[Log | None, list[Fault]]:
    """The rows that can be used, with a warning for each that cannot; None where those are too many.

    Raises:
        UnreadableLogError: A column as a whole cannot be used.
    """
    cells, line, rows = table.cells, table.lines(), table.rows
    if cells.num_rows < 2:
        return None, [Fault(0, "the log has fewer than two rows", "export it again", "log-empty")]
    time_s, started = _elapsed(cells, form)
    columns = {role: _numbers(cells[role], role, form) for role in cells.column_names if role not in {"time", "date"}}
    faults = _at_lines(np.array(table.ragged), "the line has more or fewer cells than the heading", "log-ragged")
    good, more = _good_rows(time_s, columns, line, form)
    order, backward = _forward(time_s, good, line, float(form.interval_s.best))
    faults += more + backward
    if rows - len(order) > MAX_BAD_SHARE * rows or len(order) < 2:
        return None, _refused(rows - len(order), rows, faults)
    warnings = [replace(fault, severity="warning") for fault in faults]
    columns["time"] = time_s
    if len(order) < len(time_s):
        line, columns = line[order], {role: values[order] for role, values in columns.items()}
    return _log(columns, line, form, started, rows, sha256), warnings


def _refused(bad: int, rows: int, faults: list[Fault]) -> list[Fault]:
    message = f"{bad} of {rows} rows cannot be used, more than 1 %"
    hint = "export the log again, or check columns, units and time format of its bench"
    return [Fault(0, message, hint, "log-bad-rows"), *(replace(one, hint="this row cannot be used") for one in faults)]


def _log(
    columns: dict[str, Array], line: Lines, form: LogFormat, started: dt.datetime | None, rows: int, sha256: str
) -> Log:
    elapsed = columns.pop("time")
    return Log(
        time_s=elapsed - elapsed[0],
        columns=columns,
        line=line,
        hold=form.hold,
        interval_s=form.interval_s.best,
        heartbeat_s=None if form.heartbeat_s is None else form.heartbeat_s.best,
        started=started + dt.timedelta(seconds=float(elapsed[0])) if started else None,
        rows=rows,
        sha256=sha256,
    )


def _elapsed(cells: pa.Table, form: LogFormat) -> tuple[Array, dt.datetime | None]:
    try:
        seconds, started = elapsed_s(cells["time"], cells["date"] if "date" in cells.column_names else None, form)
    except TimeFormatError as error:
        message = f"the bench's time pattern {form.time.pattern!r} is none: {error}"
        raise UnreadableLogError(message[:200], "write it in the letters of strptime", "log-time") from None
    if not np.isfinite(seconds).any() and (form.time.pattern or form.time.format in {"iso", "h:m:s"}):
        written = form.time.pattern or {"iso": "ISO 8601"}.get(form.time.format, form.time.format)
        message = f"no time stamp in the column {form.time.column!r} is {written}"
        raise UnreadableLogError(message, "see the time format of its bench", "log-time")
    return seconds, started


def _numbers(column: pa.ChunkedArray, role: str, form: LogFormat) -> Array:
    values = as_floats(column, form)
    unit = declared(form)[role].unit
    if unit and unit != _UNITS[role]:
        try:
            linear = conversion(unit, _UNITS[role])
        except GrammarError as error:
            raise UnreadableLogError(f"the bench's column unit: {error.message}", error.hint, "log-unit") from None
        values = linear.scale * values + linear.offset
    turned = role in {"current", "cell_current"} and (form.positive == "charge")
    return -values if turned else values


def _good_rows(
    time_s: Array, columns: dict[str, Array], line: Lines, form: LogFormat
) -> tuple[NDArray[np.bool_], list[Fault]]:
    """Rows whose cells are all there and possible. Temperature cells may be missing: probes come off."""
    # NaN compares as false, so that one test finds the missing and the impossible.
    good = (time_s > -_MAX_TIME_S) & (time_s < _MAX_TIME_S)
    faults = _at_lines(line[~good], f"the column {form.time.column!r} holds no time stamp", "log-time")
    for role, values in list(columns.items()):
        low, high = _POSSIBLE[role]
        fine = (values >= low) & (values <= high)
        if fine.all():
            continue
        heading = declared(form)[role].column
        message = f"the column {heading!r} holds no number from {low:g} to {high:g} {_UNITS[role]}"
        if role in {"current", "voltage"}:
            good &= fine
            faults += _at_lines(line[~fine], message, "log-cell")
        else:
            columns[role] = np.where(fine, values, np.nan)
            faults += _at_lines(line[~fine], message, "log-cell", "this cell is left out")
    return good, faults


def _forward(time_s: Array, good: NDArray[np.bool_], line: Lines, interval_s: float) -> tuple[Lines, list[Fault]]:
    """Indexes of the good rows whose time goes on, and what was found where it does not."""
    order = np.arange(len(good)) if good.all() else np.flatnonzero(good)  # a fortieth of the time
    time = time_s if len(order) == len(good) else time_s[order]
    steps = np.diff(time)
    if not len(steps) or steps.min() > 0:
        jumps = _clock_jumps(steps, interval_s)
        return order, _at_lines(line[order[1:]][jumps], *_JUMP) if jumps.any() else []
    ahead = np.concatenate([[True], time[1:] > np.maximum.accumulate(time)[:-1]])
    repeated = np.concatenate([[False], steps == 0])
    wrapped = np.concatenate([[False], (steps < 0) & (time[:-1] > 0) & (time[1:] < interval_s * 2)])
    faults = _at_lines(line[order[repeated]], "the time stamp stands here twice", "log-time-repeated")
    faults += _at_lines(line[order[~ahead & ~repeated & ~wrapped]], "the time runs backward", "log-time-backward")
    faults += _at_lines(
        line[order[wrapped]], "the time starts again from zero, as a wrapped counter does", "log-time-wrapped"
    )
    return order[ahead], faults


_JUMP = (
    "the clock jumps by an hour, as at a change to summer time",
    "log-clock-jump",
    "it counts as a gap; correct the stamps",
)


def _clock_jumps(steps: Array, interval_s: float) -> NDArray[np.bool_]:
    """Steps of one hour to the second, in a log that is otherwise regular: a clock was set, not a gap."""
    near = min(interval_s, 2) if interval_s <= 600 else 0
    return (steps > 3600 + interval_s - near) & (steps < 3600 + interval_s + near)


def _at_lines(lines: Lines, message: str, code: str, hint: str = "the row is left out") -> list[Fault]:
    """One fault per line for the first few, then one that counts the rest."""
    faults = [Fault(int(one), message, hint, code) for one in lines[:SHOWN_PER_KIND]]
    if len(lines) > SHOWN_PER_KIND:
        more = len(lines) - SHOWN_PER_KIND
        faults.append(Fault(int(lines[SHOWN_PER_KIND]), f"{message}; so in {more} rows from here on", hint, code))
    return faults
