"""A log file → its columns as they were written. Only this module and `log_text` open log files.

A file is read twice at most: once straight into numbers, and once more as text if a cell would not become one, to say
which. What is wrong with a row is found in `log_rows`.
"""

from __future__ import annotations

import codecs
import csv
import datetime as dt
import hashlib
import io
import re
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc
from pyarrow import csv as pa_csv
from pyarrow import parquet

from site_builder.catalogue_records import LogFormat
from site_builder.log_cells import needs_text, time_needs_text
from site_builder.log_headings import columns_of, lacking_columns
from site_builder.log_rows import MAX_BAD_SHARE, Fault, Table, UnreadableLogError, cleaned
from site_builder.log_text import (
    MAX_BYTES,
    MAX_ROWS,
    PIECE_BYTES,
    TOO_LARGE,
    TOO_MANY_ROWS,
    as_utf8,
    log_bytes,
    unpacked,
)
from site_builder.parquet_sizes import claimed
from site_builder.series import Log

MAX_COLUMNS = 1_000
MAX_CELL_BYTES = 100
_FEWER_COLUMNS = "export the bench's columns only"

_SEPARATORS = {",": ",", ";": ";", "tab": "\t"}


def read_log(path: Path, form: LogFormat) -> tuple[Log | None, list[Fault]]:
    """The log at `path` as its bench declares it, with faults; None where it is refused."""
    try:
        raw = log_bytes(path)
        table, lacking = _table(raw, path.name, form)
        log, faults = cleaned(table, form, hashlib.sha256(raw).hexdigest())
    except UnreadableLogError as unreadable:
        return None, [unreadable.fault]
    except pa.ArrowException:  # such as a Parquet column of lists
        return None, [Fault(0, "a column holds neither numbers nor text", "export the log again", "log-columns")]
    except OSError as error:
        return None, [Fault(0, f"the log cannot be read: {error.strerror}", "check the file", "log-unreadable")]
    return log, [*lacking, *faults]


def _table(raw: bytes, name: str, form: LogFormat) -> tuple[Table, list[Fault]]:
    """The cells of the bench's columns, and which of those that may be missing are."""
    if not raw:
        raise UnreadableLogError("the log is empty", "export it again", "log-empty")
    if name.endswith(".parquet"):
        cells, headings = _parquet_cells(raw, form)
        return Table(cells), lacking_columns(headings, form)
    text = as_utf8(unpacked(raw, name), form.encoding)
    if text.endswith((b"\n\n", b"\n\r\n")):  # empty lines within count, as lines without cells; those at the end do not
        text = text.rstrip(b"\r\n")
    if not text or text.isspace():
        raise UnreadableLogError("the log is empty", "export it again", "log-empty")
    header, start, first_line = _headed(text, form)
    wanted = columns_of(header, form)
    if len(text[start : start + 100_000].strip().splitlines()) < 2:
        raise UnreadableLogError("the log has fewer than two rows", "export it again", "log-empty")
    source = pa.py_buffer(memoryview(text)[start:])  # a view copies nothing, however long the log is
    try:
        types = _types(form, wanted, text[start : start + 100_000])
        cells = pa_csv.read_csv(source, **_options(form, header, types, list(wanted.values())))
        ragged: tuple[int, ...] = ()
    except pa.ArrowInvalid:
        # Some cell is no number, or some line is ragged: read as text, so that the lines can be named.
        cells, ragged = _text_cells(_readable(source), form, header, list(wanted.values()), first_line)
    if cells.num_rows > MAX_ROWS:
        raise UnreadableLogError(*TOO_MANY_ROWS)
    table = Table(cells.select(list(wanted.values())).rename_columns(list(wanted)), ragged, first_line)
    return table, lacking_columns(header, form)


def _headed(text: bytes, form: LogFormat) -> tuple[list[str], int, int]:
    """Headings, where the rows start in the text, and the line of the first row."""
    first_line = form.rows_from_line or form.heading_line + 1
    if first_line <= form.heading_line:
        message = f"the bench's rows start on line {first_line}, before their headings on line {form.heading_line}"
        raise UnreadableLogError(message, "correct rows_from_line or heading_line", "log-columns")
    at, start = _start_of_line(text, form.heading_line), _start_of_line(text, first_line)
    return _header(text[at : at + 100_000], form), start, first_line


def _start_of_line(text: bytes, line: int) -> int:
    at = 0
    for _ in range(line - 1):
        found = text.find(b"\n", at)
        if found < 0:
            message = f"the log has fewer than {line} lines"
            raise UnreadableLogError(message, "see heading_line and rows_from_line of its bench", "log-empty")
        at = found + 1
    return at


def _header(text: bytes, form: LogFormat) -> list[str]:
    first = text.partition(b"\n")[0]
    try:
        line = first.decode("utf-8")
    except UnicodeDecodeError:
        hint = "export it as UTF-8, or say encoding: in the log format of its bench"
        raise UnreadableLogError("the log is not UTF-8 text", hint, "log-encoding", form.heading_line) from None
    if "\0" in line:
        hint = "export it as UTF-8, or say encoding: utf-16 in the log format of its bench"
        raise UnreadableLogError("the log looks like UTF-16 text", hint, "log-encoding", form.heading_line)
    separator = _SEPARATORS[form.separator]
    quoted = (
        csv.reader([line.replace("\r", " ")], delimiter=separator) if '"' in line else iter([line.split(separator)])
    )
    names = [name.strip() for name in next(quoted, [])]
    if len(names) > MAX_COLUMNS:
        message = f"the log has over {MAX_COLUMNS} columns"
        raise UnreadableLogError(message, _FEWER_COLUMNS, "log-columns", form.heading_line)
    return names


def _types(form: LogFormat, wanted: dict[str, str], body: bytes) -> dict[str, pa.DataType]:
    types = dict.fromkeys(wanted.values(), pa.string() if needs_text(form) else pa.float64())
    if time_needs_text(form.time):
        types |= {wanted[role]: pa.string() for role in ("time", "date") if role in wanted}
    elif form.time.format == "iso":
        first = body.split(b"\n", 1)[0]
        zoned = bool(re.search(rb"[T ][0-9:.]+ ?(?:Z|[+-][0-9])", first))
        types[form.time.column] = pa.timestamp("us", tz="UTC" if zoned else None)
    return types


def _options(
    form: LogFormat, header: list[str], types: dict[str, pa.DataType], columns: list[str], **more: Any
) -> dict[str, Any]:
    convert = pa_csv.ConvertOptions(column_types=types, include_columns=columns, decimal_point=form.decimal)
    parse = pa_csv.ParseOptions(delimiter=_SEPARATORS[form.separator], ignore_empty_lines=False, **more)
    # One core is as fast here, and the order of findings stays the same.
    read = pa_csv.ReadOptions(use_threads=False, block_size=16 << 20, column_names=header)
    return {"parse_options": parse, "convert_options": convert, "read_options": read}


def _readable(source: pa.Buffer) -> pa.Buffer:
    """The text with a mark in the place of every byte that is no letter: pyarrow hands ragged lines on as words."""
    decode = codecs.getincrementaldecoder("utf-8")().decode
    try:
        for at in range(0, source.size, PIECE_BYTES):
            decode(memoryview(source)[at : at + PIECE_BYTES], at + PIECE_BYTES >= source.size)
    except UnicodeDecodeError:
        return pa.py_buffer(source.to_pybytes().decode("utf-8", "replace").encode())
    return source


def _text_cells(
    source: pa.Buffer, form: LogFormat, header: list[str], columns: list[str], first_line: int
) -> tuple[pa.Table, tuple[int, ...]]:
    """Cells as text, and the lines that have another number of them than the heading."""
    ragged: list[int] = []

    def noted(row: Any) -> str:
        ragged.append(row.number + first_line - 1)
        return "skip"

    options = _options(form, header, dict.fromkeys(columns, pa.string()), columns, invalid_row_handler=noted)
    try:
        cells = pa_csv.read_csv(source, **options)
    except pa.ArrowInvalid as error:
        raise UnreadableLogError(f"the log is no CSV: {str(error)[:120]}", "export it again", "log-csv") from None
    rows = cells.num_rows + len(ragged)
    if len(ragged) > MAX_BAD_SHARE * rows:
        message = f"{len(ragged)} of {rows} lines have more or fewer cells than the heading, from here on"
        raise UnreadableLogError(message, "check separator and decimal sign of its bench", "log-ragged", ragged[0])
    return cells, tuple(ragged)


# What pyarrow raises where a file contradicts itself, such as a column that only its schema has.
_DAMAGED = (pa.ArrowException, OSError, LookupError, ValueError, RuntimeError, OverflowError)


def _parquet_cells(raw: bytes, form: LogFormat) -> tuple[pa.Table, list[str]]:
    """The cells of the bench's columns, and all headings."""
    try:
        file = _parquet_file(raw)
        wanted = columns_of(file.schema_arrow.names, form)
        columns = list(wanted.values())
        # One thread: with several, a refusal could end while another still unpacks, and take the program along.
        cells = file.read(columns=columns, use_threads=False).select(columns)
        spelled_out = [_spelled_out(column) for column in cells.columns]
        return pa.table(spelled_out, names=list(wanted)), file.schema_arrow.names
    except _DAMAGED:
        message = "this is no Parquet file: it is cut short, damaged or something else"
        raise UnreadableLogError(message, "copy or export it again; plain text ends in .csv", "log-packed") from None


def _parquet_file(raw: bytes) -> parquet.ParquetFile:
    """The file, if its size unpacked is allowed; texts come as dictionaries of them.

    Each different text is held once then, however many rows have it: a megabyte of such rows could be a terabyte.
    """
    size = claimed(raw)
    if size.rows > MAX_ROWS:
        raise UnreadableLogError(*TOO_MANY_ROWS)
    if size.unpacked_bytes > MAX_BYTES:
        raise UnreadableLogError(*TOO_LARGE)
    file = parquet.ParquetFile(io.BytesIO(raw))
    if len(file.schema_arrow.names) > MAX_COLUMNS:
        raise UnreadableLogError(f"the log has over {MAX_COLUMNS} columns", _FEWER_COLUMNS, "log-columns")
    texts = [field.name for field in file.schema_arrow if pa.types.is_string(field.type)]
    return parquet.ParquetFile(io.BytesIO(raw), read_dictionary=texts)


def _spelled_out(column: pa.ChunkedArray) -> pa.ChunkedArray:
    if not pa.types.is_dictionary(column.type):
        return column
    words = [chunk.dictionary.cast(pa.string()) for chunk in column.chunks]
    if any((pc.max(pc.binary_length(one)).as_py() or 0) > MAX_CELL_BYTES for one in words):
        message = f"a cell holds over {MAX_CELL_BYTES} letters"
        raise UnreadableLogError(message, "export numbers and time stamps only", "log-size")
    return column.cast(pa.string())


def parquet_start(raw: bytes, rows: int) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    """Headings and the first rows of a Parquet file, each cell as text.

    Raises:
        UnreadableLogError: It is none, or has too many columns.
    """
    try:
        file = _parquet_file(raw)
        first = next(file.iter_batches(batch_size=rows, use_threads=False), None)
        columns = [] if first is None else [[_as_text(cell) for cell in _short(column)] for column in first.columns]
        return tuple(file.schema_arrow.names), tuple(zip(*columns, strict=True))
    except _DAMAGED:
        message = "this is no Parquet file: it is cut short, damaged or something else"
        raise UnreadableLogError(message, "copy or export it again; plain text ends in .csv", "log-packed") from None


def _short(column: pa.Array) -> list[Any]:
    """The cells, texts cut; nothing for what is no column of a log."""
    if pa.types.is_dictionary(column.type):
        words = pc.utf8_slice_codeunits(column.dictionary.cast(pa.string()), 0, MAX_CELL_BYTES)
        column = pa.DictionaryArray.from_arrays(column.indices, words)
    elif pa.types.is_nested(column.type) or pa.types.is_binary(column.type):
        return [None] * len(column)
    cells: list[Any] = column.to_pylist()
    return cells


def _as_text(cell: Any) -> str:
    return "" if cell is None else cell.isoformat(sep=" ") if isinstance(cell, dt.datetime) else str(cell)
