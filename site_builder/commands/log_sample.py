"""The start of an unknown log file → its lines, how they are written, and where headings and rows are.

Looks at the first lines only, and says what it found; `logs` reads the file by what is declared.
"""

from __future__ import annotations

import codecs
import csv
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from pathlib import Path

from site_builder.log_rows import UnreadableLogError
from site_builder.log_text import as_utf8, log_bytes, unpacked
from site_builder.logs import MAX_COLUMNS, parquet_start

LOOKED_AT_BYTES = 400_000
LOOKED_AT_LINES = 2_000
SEPARATORS = {",": ",", ";": ";", "\t": "tab"}
# A number with signs between thousands, or a time, or a date: what rows are made of.
_DATUM = re.compile(r"[-+−]?[0-9][0-9 .,'’\u00a0\u202f:/TZ+-]*(?:e[-+]?[0-9]+)?(?:\s?[ap]\.?\s?m\.?)?", re.IGNORECASE)
_NAMED_MONTH = re.compile(r"[0-9]{1,2}[ -][A-Za-z]{3,9}[ -][0-9]{2,4}.*")


@dataclass(frozen=True, kw_only=True, slots=True)
class Sample:
    """The first rows of a log as text, by column: `headings` stand on `heading_line`, rows from `rows_from_line` on.

    `encoding` and `separator` are as a bench declares them; `before` are lines above the headings, `units` the cells
    of a line between headings and rows.
    """

    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    encoding: str = "utf-8"
    separator: str = ","
    heading_line: int = 1
    rows_from_line: int = 2
    before: tuple[str, ...] = ()
    units: tuple[str, ...] = ()
    notes: tuple[str, ...] = field(default=())

    def column(self, at: int) -> tuple[str, ...]:
        """The cells of one column."""
        return tuple(row[at] for row in self.rows)


def read_sample(path: Path) -> Sample:
    """The start of the file.

    Raises:
        UnreadableLogError: It is no table that could be declared; the fault says why, and a way out.
        OSError: The file cannot be read.
    """
    raw = log_bytes(path)
    if not raw:
        raise UnreadableLogError("the file is empty", "export it again", "log-empty")
    if path.name.endswith(".parquet"):
        headings, rows = parquet_start(raw, LOOKED_AT_LINES)
        return Sample(headings=headings, rows=rows)
    text = unpacked(raw, path.name)
    encoding = _encoding(text[:LOOKED_AT_BYTES])
    lines = _lines(as_utf8(_whole_lines(text, encoding), encoding))
    return _with_separator(lines, encoding)


def _encoding(start: bytes) -> str:
    """How the letters are stored.

    Raises:
        UnreadableLogError: In no way that a bench can declare.
    """
    if start.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE, codecs.BOM_UTF8)):
        return "utf-8"  # the mark says it; nothing has to be declared
    if start.count(b"\0") > len(start) // 4:
        return "utf-16"
    for encoding in ("utf-8", "windows-1252"):
        try:
            codecs.getincrementaldecoder(encoding)().decode(start)
        except UnicodeDecodeError:
            continue
        return encoding
    message = "this is no text, neither in UTF-8, UTF-16 nor Windows-1252"
    raise UnreadableLogError(message, "export it as CSV", "log-encoding")


def _whole_lines(text: bytes, encoding: str) -> bytes:
    """The start of the text, cut after a line; as UTF-16 every character has an even number of bytes."""
    if len(text) <= LOOKED_AT_BYTES:
        return text
    wide = encoding == "utf-16" or text.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    start = text[:LOOKED_AT_BYTES]
    return start if wide else start[: start.rfind(b"\n") + 1] or start


def _lines(text: bytes) -> list[str]:
    lines = text.decode("utf-8", errors="replace").split("\n")
    return [line.rstrip("\r") for line in lines[:LOOKED_AT_LINES]]


def is_datum(cell: str) -> bool:
    """Whether a cell is a number, a time or a date.

    >>> [is_datum(cell) for cell in ("1,234.5", "06.05.2026 10:00", "1:05:00 PM", "Volt", "12.8 V")]
    [True, True, True, False, False]
    """
    return bool(_DATUM.fullmatch(cell) or _NAMED_MONTH.fullmatch(cell))


def _with_separator(lines: Sequence[str], encoding: str) -> Sample:
    """The table under the separator that makes most cells numbers, times and dates."""
    found = [one for raw in SEPARATORS if (one := _table(lines, raw, encoding)) is not None]
    if not found:
        raise UnreadableLogError(*_NO_TABLE)
    best = max(found, key=_fitting)
    if len(best.headings) > MAX_COLUMNS:
        hint = "export the bench's columns only"
        raise UnreadableLogError(f"the log has over {MAX_COLUMNS} columns", hint, "log-columns")
    return best


_NO_TABLE = (
    "no rows of numbers in columns were found",
    "separate columns by comma, semicolon or tab, and write numbers without units",
    "log-columns",
)


def _fitting(sample: Sample) -> tuple[float, int]:
    cells = [cell for row in sample.rows for cell in row if cell]
    return sum(map(is_datum, cells)) / max(len(cells), 1), len(sample.headings)


def _table(lines: Sequence[str], separator: str, encoding: str) -> Sample | None:
    cells = [_cells(line, separator) for line in lines]
    start, width = _rows_start(cells)
    if width < 2:
        return None
    rows = tuple(tuple(row) for row in cells[start:] if len(row) == width and _is_row(row))
    above = [i for i in range(start) if len(cells[i]) == width and any(cells[i])]
    notes = _notes(cells, start, width, above)
    if not above:
        hint = "write a line of headings above the rows"
        fault = "the rows have no line of headings as wide as they are"
        above, notes = [-1], (*notes, f"{fault}; {hint}")
    heading = above[-2] if len(above) > 1 and above[-1] == above[-2] + 1 and _are_units(cells[above[-1]]) else above[-1]
    return Sample(
        headings=tuple(cells[heading]) if heading >= 0 else ("",) * width,
        rows=rows,
        encoding=encoding,
        separator=SEPARATORS[separator],
        heading_line=heading + 1,
        rows_from_line=start + 1,
        before=tuple(line for line in lines[: max(heading, 0)] if line.strip()),
        units=tuple(cells[above[-1]]) if heading != above[-1] else (),
        notes=notes,
    )


def _cells(line: str, separator: str) -> list[str]:
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=separator), [])]
    except csv.Error:
        return []


def _is_row(row: Iterable[str]) -> bool:
    filled = [cell for cell in row if cell]
    return bool(filled) and 2 * sum(map(is_datum, filled)) >= len(filled) and any(map(is_datum, filled))


def _rows_start(cells: Sequence[Sequence[str]]) -> tuple[int, int]:
    """The first line and the width of the longest stretch of rows; single lines of junk among them end none."""
    best, best_length, at = (0, 0), 0, 0
    for width, group in groupby(cells, key=lambda row: len(row) if len(row) > 1 and _is_row(row) else 0):
        length = len(list(group))
        if width and length > best_length and width != best[1]:
            best, best_length = (at, width), length
        at += length
    return best


def _are_units(row: Iterable[str]) -> bool:
    """Whether a line looks like units below headings: short, often in brackets, mostly not as long as words."""
    filled = [cell for cell in row if cell]
    short = [cell for cell in filled if len(cell.strip("[]() ")) <= 3 or cell.startswith(("[", "("))]
    return bool(filled) and 2 * len(short) >= len(filled) and all(len(cell) <= 12 for cell in filled)


def _notes(cells: Sequence[Sequence[str]], start: int, width: int, above: Sequence[int]) -> tuple[str, ...]:
    near = [len(row) for row in cells[max(start - 3, 0) : start] if len(row) > 1]
    if above or not near:
        return ()
    more = "fewer" if near[-1] < width else "more"
    return (f"the line above the rows has {near[-1]} cells, {more} than the rows' {width}",)
