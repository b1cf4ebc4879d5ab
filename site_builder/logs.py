"""A log file → clean arrays, and what was wrong with it. The only module that opens log files.

A file is read twice at most: once straight into numbers, and once more as text if a cell would not become one, to say
which. Nothing is repaired or guessed: bad rows are left out and counted, and too many of them refuse the file.
"""

from __future__ import annotations

import datetime as dt
import gzip
import hashlib
import io
import lzma
import re
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray
from pyarrow import csv as pa_csv
from pyarrow import parquet

from site_builder.catalogue_records import Column, LogFormat
from site_builder.problems import Problem, Severity
from site_builder.series import Array, Log
from site_builder.values import GrammarError, conversion

Stamps = NDArray[np.datetime64]

MAX_UNPACKED_BYTES = 500_000_000
MAX_ROWS = 5_000_000
MAX_COLUMNS = 1_000
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
_PER_SECOND = {"seconds": 1.0, "minutes": 60.0, "hours": 3600.0, "milliseconds": 0.001}
_SEPARATORS = {",": ",", ";": ";", "tab": "\t"}


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


def read_log(path: Path, form: LogFormat) -> tuple[Log | None, list[Fault]]:
    """The log at `path` as its bench declares it, with faults; None where it is refused."""
    try:
        raw = path.read_bytes()
        table = _table(raw, path.name, form)
        return _cleaned(table, form, hashlib.sha256(raw).hexdigest())
    except UnreadableLogError as unreadable:
        return None, [unreadable.fault]
    except OSError as error:
        return None, [Fault(0, f"the log cannot be read: {error.strerror}", "check the file", "log-unreadable")]


def _table(raw: bytes, name: str, form: LogFormat) -> pa.Table:
    if not raw:
        raise UnreadableLogError("the log is empty", "export it again", "log-empty")
    if name.endswith(".parquet"):
        return _parquet_table(raw, form)
    text = _unpacked(raw, name)
    if not text.strip():
        raise UnreadableLogError("the log is empty", "export it again", "log-empty")
    header = _header(text, form)
    wanted = _wanted(header, form)
    try:
        table = pa_csv.read_csv(pa.py_buffer(text), **_options(form, _types(form, wanted, text), list(wanted.values())))
    except pa.ArrowInvalid:
        # Some cell is no number, or some line is ragged: read as text, so that the lines can be named.
        table = _text_table(text, form, list(wanted.values()))
    return _within_limits(table.rename_columns(list(wanted)))


def _unpacked(raw: bytes, name: str) -> bytes:
    """The text of the log, decompressed no further than the limit."""
    try:
        if name.endswith(".gz"):
            with gzip.GzipFile(fileobj=io.BytesIO(raw)) as packed:
                text = packed.read(MAX_UNPACKED_BYTES + 1)
        elif name.endswith(".xz"):
            text = lzma.LZMADecompressor(memlimit=200_000_000).decompress(raw, MAX_UNPACKED_BYTES + 1)
        else:
            text = raw
    except (OSError, EOFError, lzma.LZMAError, zlib.error) as error:
        raise UnreadableLogError(f"the log cannot be unpacked: {error}", "compress it again", "log-packed") from None
    if len(text) > MAX_UNPACKED_BYTES:
        raise UnreadableLogError("the log is over 500 MB unpacked", "log less often, or split the test", "log-size")
    return text.removeprefix(b"\xef\xbb\xbf")


def _header(text: bytes, form: LogFormat) -> list[str]:
    first = text[:100_000].partition(b"\n")[0]
    try:
        names = [name.strip().strip('"') for name in first.decode("utf-8").split(_SEPARATORS[form.separator])]
    except UnicodeDecodeError:
        raise UnreadableLogError("the log is not UTF-8 text", "export it as UTF-8", "log-encoding", 1) from None
    if len(names) > MAX_COLUMNS:
        raise UnreadableLogError(
            f"the log has over {MAX_COLUMNS} columns", "export the bench's columns only", "log-columns", 1
        )
    return names


def declared(form: LogFormat) -> dict[str, Column]:
    """The bench's value columns by role, time left out."""
    roles = {role: getattr(form, role) for role in _UNITS}
    return {role: column for role, column in roles.items() if column is not None}


def _wanted(header: list[str], form: LogFormat) -> dict[str, str]:
    """Role → heading of those columns that are there; current, voltage and time must be."""
    columns = {"time": form.time.column} | {role: column.column for role, column in declared(form).items()}
    required = {"time", "current", "voltage"} & set(columns)
    missing = [columns[role] for role in columns if role in required and columns[role] not in header]
    if missing:
        has = ", ".join(name[:40] for name in header[:12])
        hint = f"the bench declares {', '.join(columns.values())}; the file has {has}"
        raise UnreadableLogError(f"the log has no column {', '.join(missing)}", hint, "log-columns", 1)
    doubled = [name for name in columns.values() if header.count(name) > 1]
    if doubled:
        raise UnreadableLogError(f"the column {doubled[0]} stands in the log twice", "rename one", "log-columns", 1)
    return {role: name for role, name in columns.items() if name in header}


def _types(form: LogFormat, wanted: dict[str, str], text: bytes) -> dict[str, pa.DataType]:
    types = dict.fromkeys(wanted.values(), pa.float64())
    if form.time.format == "iso":
        second = text[:200_000].split(b"\n", 2)[1:2]
        zoned = bool(second) and bool(re.search(rb"[T ][0-9:.]+ ?(?:Z|[+-][0-9])", second[0]))
        types[form.time.column] = pa.timestamp("us", tz="UTC" if zoned else None)
    return types


def _options(form: LogFormat, types: dict[str, pa.DataType], columns: list[str]) -> dict[str, Any]:
    convert = pa_csv.ConvertOptions(column_types=types, include_columns=columns, decimal_point=form.decimal)
    # One core is as fast here, and the order of findings stays the same.
    return {
        "parse_options": pa_csv.ParseOptions(delimiter=_SEPARATORS[form.separator]),
        "convert_options": convert,
        "read_options": pa_csv.ReadOptions(use_threads=False, block_size=16 << 20),
    }


def _text_table(text: bytes, form: LogFormat, columns: list[str]) -> pa.Table:
    options = _options(form, dict.fromkeys(columns, pa.string()), columns)
    ragged: list[int] = []

    def noted(row: Any) -> str:
        ragged.append(row.number or 0)
        return "skip"

    options["parse_options"] = pa_csv.ParseOptions(delimiter=_SEPARATORS[form.separator], invalid_row_handler=noted)
    try:
        table = pa_csv.read_csv(pa.py_buffer(text), **options)
    except pa.ArrowInvalid as error:
        raise UnreadableLogError(f"the log is no CSV: {str(error)[:120]}", "export it again", "log-csv") from None
    if len(ragged) > MAX_BAD_SHARE * (table.num_rows + len(ragged)):
        message = f"{len(ragged)} lines have another number of cells than the heading"
        raise UnreadableLogError(message, "check separator and decimal sign of the bench", "log-ragged", ragged[0])
    return table


def _parquet_table(raw: bytes, form: LogFormat) -> pa.Table:
    try:
        file = parquet.ParquetFile(io.BytesIO(raw))
        names = file.schema_arrow.names
        if file.metadata.num_rows > MAX_ROWS or file.metadata.num_columns > MAX_COLUMNS:
            raise UnreadableLogError("the log is too large", "log less often", "log-size")
        wanted = _wanted(names, form)
        return file.read(columns=list(wanted.values())).select(list(wanted.values())).rename_columns(list(wanted))
    except (pa.ArrowException, OSError) as error:
        raise UnreadableLogError(
            f"the log is no Parquet file: {str(error)[:120]}", "export it again", "log-packed"
        ) from None


def _within_limits(table: pa.Table) -> pa.Table:
    if table.num_rows > MAX_ROWS:
        raise UnreadableLogError(f"the log has over {MAX_ROWS} rows", "log less often, or split the test", "log-size")
    return table


def _cleaned(table: pa.Table, form: LogFormat, sha256: str) -> tuple[Log | None, list[Fault]]:
    if table.num_rows < 2:
        return None, [Fault(0, "the log has fewer than two rows", "export it again", "log-empty")]
    line = np.arange(2, table.num_rows + 2)
    time_s, started = _elapsed(table["time"], form)
    columns = {role: _numbers(table[role], role, form) for role in table.column_names if role != "time"}
    good, faults = _good_rows(time_s, columns, line)
    order, more = _forward(time_s, good, line, float(form.interval_s.best))
    faults += more
    rows = table.num_rows
    if rows - len(order) > MAX_BAD_SHARE * rows or len(order) < 2:
        share = f"{rows - len(order)} of {rows} rows cannot be used"
        return None, [*faults, Fault(0, f"{share}, more than 1 %", "mend or export the log again", "log-bad-rows")]
    warnings = [Fault(f.line, f.message, f.hint, f.code, "warning") for f in faults]
    first = started + dt.timedelta(seconds=float(time_s[order[0]])) if started else None
    heartbeat = None if form.heartbeat_s is None else form.heartbeat_s.best
    whole = len(order) == rows
    kept = {role: values if whole else values[order] for role, values in columns.items()}
    elapsed = time_s if whole else time_s[order]
    return Log(
        time_s=elapsed - elapsed[0],
        columns=kept,
        line=line if whole else line[order],
        hold=form.hold,
        interval_s=form.interval_s.best,
        heartbeat_s=heartbeat,
        started=first,
        rows=rows,
        sha256=sha256,
    ), warnings


def _elapsed(column: pa.ChunkedArray, form: LogFormat) -> tuple[Array, dt.datetime | None]:
    if form.time.format != "iso":
        return _as_floats(column, form) * _PER_SECOND[form.time.format], None
    stamps = _as_stamps(column)
    known = stamps[~np.isnat(stamps)]
    if not len(known):
        raise UnreadableLogError("no time stamp of the log is ISO 8601", "see the bench's time format", "log-time")
    return (stamps - known[0]) / np.timedelta64(1, "s"), known[0].astype("datetime64[us]").item()


def _as_stamps(column: pa.ChunkedArray) -> Stamps:
    if pa.types.is_timestamp(column.type):
        stamps: Stamps = column.cast(pa.timestamp("us", tz=column.type.tz)).to_numpy().astype("datetime64[us]")
        return stamps
    import pandas as pd  # noqa: PLC0415  # only on the way to naming bad cells

    parsed = pd.to_datetime(column.to_pandas(), errors="coerce", format="ISO8601", utc=True)
    named: Stamps = parsed.dt.tz_localize(None).to_numpy().astype("datetime64[us]")
    return named


def _numbers(column: pa.ChunkedArray, role: str, form: LogFormat) -> Array:
    values = _as_floats(column, form)
    unit = declared(form)[role].unit
    if unit and unit != _UNITS[role]:
        try:
            linear = conversion(unit, _UNITS[role])
        except GrammarError as error:
            raise UnreadableLogError(f"the bench's column unit: {error.message}", error.hint, "log-unit") from None
        values = linear.scale * values + linear.offset
    turned = role in {"current", "cell_current"} and (form.positive == "charge")
    return -values if turned else values


def _as_floats(column: pa.ChunkedArray, form: LogFormat) -> Array:
    if pa.types.is_floating(column.type) or pa.types.is_integer(column.type):
        values: Array = column.cast(pa.float64()).to_numpy()
        return values
    import pandas as pd  # noqa: PLC0415  # only on the way to naming bad cells

    text = column.cast(pa.string()).to_pandas()
    if form.decimal == ",":
        text = text.str.replace(",", ".", regex=False)
    named: Array = pd.to_numeric(text, errors="coerce").to_numpy(dtype=np.float64, na_value=np.nan)
    return named


def _good_rows(
    time_s: Array, columns: dict[str, Array], line: NDArray[np.int64]
) -> tuple[NDArray[np.bool_], list[Fault]]:
    """Rows whose cells are all finite and possible. Temperature cells may be missing: probes come off."""
    good = np.isfinite(time_s)
    faults = _at_lines(line[~good], "the time stamp cannot be read", "log-time")
    for role, values in list(columns.items()):
        low, high = _POSSIBLE[role]
        # NaN compares as false, so that one test finds the missing and the impossible.
        fine = (values >= low) & (values <= high)
        if not fine.all():
            faults += _at_lines(line[~fine], f"the {role} is missing or impossible", "log-cell")
            if role in {"current", "voltage"}:
                good &= fine
            else:
                columns[role] = np.where(fine, values, np.nan)
    return good, faults


def _forward(
    time_s: Array, good: NDArray[np.bool_], line: NDArray[np.int64], interval_s: float
) -> tuple[NDArray[np.int64], list[Fault]]:
    """Indexes of the good rows whose time goes on, and what was found where it does not."""
    order = np.flatnonzero(good)
    time = time_s[order]
    steps = np.diff(time)
    if not (steps <= 0).any():
        return order, _clock_jumps(steps, line[order], interval_s)
    ahead = np.concatenate([[True], time[1:] > np.maximum.accumulate(time)[:-1]])
    repeated = np.concatenate([[False], steps == 0])
    wrapped = (steps < 0) & (time[:-1] > 0) & (time[1:] < interval_s * 2)
    faults = _at_lines(line[order[repeated]], "the time stamp stands here twice", "log-time-repeated")
    faults += _at_lines(line[order[~ahead & ~repeated]], "the time runs backward", "log-time-backward")
    faults += _at_lines(
        line[order[1:]][wrapped], "the time starts again from zero, as a wrapped counter does", "log-time-wrapped"
    )
    return order[ahead], faults


def _clock_jumps(steps: Array, line: NDArray[np.int64], interval_s: float) -> list[Fault]:
    """A single step of one hour to the second, in a log that is otherwise regular: a clock was set, not a gap."""
    hour = np.abs(steps - 3600 - interval_s) < min(interval_s, 2)
    if interval_s > 600 or not hour.any():
        return []
    message, hint = (
        "the clock jumps by an hour, as at a change to summer time",
        "it counts as a gap; correct the stamps",
    )
    return _at_lines(line[1:][hour], message, "log-clock-jump", hint)


def _at_lines(lines: NDArray[np.int64], message: str, code: str, hint: str = "the row is left out") -> list[Fault]:
    """One fault per line for the first few, then one that counts the rest."""
    faults = [Fault(int(one), message, hint, code) for one in lines[:SHOWN_PER_KIND]]
    if len(lines) > SHOWN_PER_KIND:
        more = len(lines) - SHOWN_PER_KIND
        faults.append(Fault(int(lines[SHOWN_PER_KIND]), f"{message}; so in {more} rows from here on", hint, code))
    return faults
