"""A log file → its columns as they were written. The only module that opens log files.

A file is read twice at most: once straight into numbers, and once more as text if a cell would not become one, to say
which. What is wrong with a row is found in `log_rows`.
"""

from __future__ import annotations

import gzip
import hashlib
import io
import lzma
import re
import zlib
from pathlib import Path
from typing import Any

import pyarrow as pa
from pyarrow import csv as pa_csv
from pyarrow import parquet

from site_builder.catalogue_records import LogFormat
from site_builder.log_rows import MAX_BAD_SHARE, Fault, Table, UnreadableLogError, cleaned, declared
from site_builder.series import Log

MAX_UNPACKED_BYTES = 500_000_000
MAX_ROWS = 5_000_000
MAX_COLUMNS = 1_000

_SEPARATORS = {",": ",", ";": ";", "tab": "\t"}


def read_log(path: Path, form: LogFormat) -> tuple[Log | None, list[Fault]]:
    """The log at `path` as its bench declares it, with faults; None where it is refused."""
    try:
        raw = path.read_bytes()
        return cleaned(_table(raw, path.name, form), form, hashlib.sha256(raw).hexdigest())
    except UnreadableLogError as unreadable:
        return None, [unreadable.fault]
    except pa.ArrowException:  # such as a Parquet column of lists
        return None, [Fault(0, "a column holds neither numbers nor text", "export the log again", "log-columns")]
    except OSError as error:
        return None, [Fault(0, f"the log cannot be read: {error.strerror}", "check the file", "log-unreadable")]


def _table(raw: bytes, name: str, form: LogFormat) -> Table:
    if not raw:
        raise UnreadableLogError("the log is empty", "export it again", "log-empty")
    if name.endswith(".parquet"):
        return Table(_parquet_cells(raw, form))
    text = _unpacked(raw, name)
    if text.endswith((b"\n\n", b"\n\r\n")):  # empty lines within count, as lines without cells; those at the end do not
        text = text.rstrip(b"\r\n")
    if not text or text.isspace():
        raise UnreadableLogError("the log is empty", "export it again", "log-empty")
    if text.count(b"\n", 0, 100_000) < 2:
        raise UnreadableLogError("the log has fewer than two rows", "export it again", "log-empty")
    wanted = _wanted(_header(text, form), form)
    try:
        cells = pa_csv.read_csv(pa.py_buffer(text), **_options(form, _types(form, wanted, text), list(wanted.values())))
        ragged: tuple[int, ...] = ()
    except pa.ArrowInvalid:
        # Some cell is no number, or some line is ragged: read as text, so that the lines can be named.
        cells, ragged = _text_cells(text, form, list(wanted.values()))
    if cells.num_rows > MAX_ROWS:
        raise UnreadableLogError(f"the log has over {MAX_ROWS} rows", "log less often, or split the test", "log-size")
    return Table(cells.rename_columns(list(wanted)), ragged)


def _unpacked(raw: bytes, name: str) -> bytes:
    """The text of the log, decompressed no further than the limit."""
    try:
        if name.endswith(".gz"):
            with gzip.GzipFile(fileobj=io.BytesIO(raw)) as packed:
                text = packed.read(MAX_UNPACKED_BYTES + 1)
        elif name.endswith(".xz"):
            text = _unpacked_xz(raw)
        else:
            text = raw
    except (OSError, EOFError, lzma.LZMAError, zlib.error):
        ending = name.rpartition(".")[2]
        message = f"the log cannot be unpacked as .{ending}: it is cut short, damaged or something else"
        raise UnreadableLogError(message, "copy or compress it again; plain text ends in .csv", "log-packed") from None
    if len(text) > MAX_UNPACKED_BYTES:
        raise UnreadableLogError("the log is over 500 MB unpacked", "log less often, or split the test", "log-size")
    return text.removeprefix(b"\xef\xbb\xbf")


def _unpacked_xz(raw: bytes) -> bytes:
    packed = lzma.LZMADecompressor(memlimit=200_000_000)
    text = packed.decompress(raw, MAX_UNPACKED_BYTES + 1)
    # Unlike gzip's reader, this one says nothing of a file that stops early or of a second stream after the first.
    if len(text) <= MAX_UNPACKED_BYTES and (not packed.eof or packed.unused_data):
        raise EOFError
    return text


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


def _wanted(header: list[str], form: LogFormat) -> dict[str, str]:
    """Role → heading of those columns that are there; current, voltage and time must be."""
    columns = {"time": form.time.column} | {role: column.column for role, column in declared(form).items()}
    required = {"time", "current", "voltage"} & set(columns)
    missing = [columns[role] for role in columns if role in required and columns[role] not in header]
    if missing:
        has = ", ".join(name[:40] for name in header[:12])
        hint = f"its bench declares {', '.join(columns.values())}; the first line of the file has {has}"
        raise UnreadableLogError(f"the log has no column {' or '.join(missing)}", hint, "log-columns", 1)
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


def _options(form: LogFormat, types: dict[str, pa.DataType], columns: list[str], **more: Any) -> dict[str, Any]:
    convert = pa_csv.ConvertOptions(column_types=types, include_columns=columns, decimal_point=form.decimal)
    parse = pa_csv.ParseOptions(delimiter=_SEPARATORS[form.separator], ignore_empty_lines=False, **more)
    # One core is as fast here, and the order of findings stays the same.
    read = pa_csv.ReadOptions(use_threads=False, block_size=16 << 20)
    return {"parse_options": parse, "convert_options": convert, "read_options": read}


def _text_cells(text: bytes, form: LogFormat, columns: list[str]) -> tuple[pa.Table, tuple[int, ...]]:
    """Cells as text, and the lines that have another number of them than the heading."""
    ragged: list[int] = []

    def noted(row: Any) -> str:
        ragged.append(row.number)
        return "skip"

    options = _options(form, dict.fromkeys(columns, pa.string()), columns, invalid_row_handler=noted)
    try:
        cells = pa_csv.read_csv(pa.py_buffer(text), **options)
    except pa.ArrowInvalid as error:
        raise UnreadableLogError(f"the log is no CSV: {str(error)[:120]}", "export it again", "log-csv") from None
    rows = cells.num_rows + len(ragged)
    if len(ragged) > MAX_BAD_SHARE * rows:
        message = f"{len(ragged)} of {rows} lines have more or fewer cells than the heading, from here on"
        raise UnreadableLogError(message, "check separator and decimal sign of its bench", "log-ragged", ragged[0])
    return cells, tuple(ragged)


def _parquet_cells(raw: bytes, form: LogFormat) -> pa.Table:
    try:
        file = parquet.ParquetFile(io.BytesIO(raw))
        names = file.schema_arrow.names
        if file.metadata.num_rows > MAX_ROWS or file.metadata.num_columns > MAX_COLUMNS:
            raise UnreadableLogError("the log is too large", "log less often", "log-size")
        wanted = _wanted(names, form)
        return file.read(columns=list(wanted.values())).select(list(wanted.values())).rename_columns(list(wanted))
    except (pa.ArrowException, OSError):
        message = "this is no Parquet file: it is cut short, damaged or something else"
        raise UnreadableLogError(message, "copy or export it again; plain text ends in .csv", "log-packed") from None
