"""A hand-kept table as a CSV file → headings and rows with their lines. Reads one file; understands nothing of it."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from site_builder.problems import Problem
from site_builder.yaml_text import MAX_BYTES

MAX_COLUMNS = 300
MAX_ROWS = 1000  # each is compared with all others and with every unit
SEPARATORS = (",", ";", "\t")
# What some spreadsheets write above the headings for each other.
_SEPARATOR_LINE = re.compile(r'"?sep=([,;\t])"?[,;\t]*\n', re.IGNORECASE)


@dataclass(frozen=True, kw_only=True, slots=True)
class Row:
    """One row of the table: its line in the file, and its cells by column."""

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class HandTable:
    """A table as it was kept; `file` is its name in messages."""

    file: str
    headings: tuple[str, ...]
    rows: tuple[Row, ...]
    heading_line: int = 1

    def problem(self, line: int, column: int, message: str, hint: str, code: str) -> Problem:
        """A finding in one cell, named by line, column (from 1; 0 for the line as a whole) and heading."""
        field = self.headings[column - 1] if column else ""
        return Problem(file=self.file, line=line, column=column, field=field, message=message, hint=hint, code=code)


def read_table(path: Path) -> tuple[HandTable | None, list[Problem]]:
    """The table, with every row that is not as wide as the headings reported and left out; None where it is none.

    Raises:
        OSError: The file cannot be read.
    """
    if path.exists() and not path.is_file():  # a pipe would never end
        return None, [_whole(path.name, "this is no file", "name a CSV file", "table-form")]
    with path.open("rb") as stream:
        raw = stream.read(MAX_BYTES + 1)
    if len(raw) > MAX_BYTES:
        return None, [_whole(path.name, f"the file is over {MAX_BYTES // 1_000_000} MB", "split it", "table-size")]
    text = _decoded(raw)
    if text is None:
        hint = "save it from the spreadsheet as CSV, in UTF-8"
        return None, [_whole(path.name, "this is no CSV text", hint, "table-form")]
    said = _SEPARATOR_LINE.match(text)
    text = text[said.end() :] if said else text
    separator = said[1] if said else max(SEPARATORS, key=text.partition("\n")[0].count)
    found: list[Problem] = []
    rows = list(_rows(text, separator, path.name, found, first_line=2 if said else 1))
    if not rows or not any(rows[0].cells):
        return None, [
            *found,
            _whole(path.name, "the table is empty", "its first line holds the headings", "table-form"),
        ]
    if len(rows) > MAX_ROWS + 1:
        return None, [_whole(path.name, f"the table has over {MAX_ROWS} rows", "split it", "table-size")]
    table = HandTable(file=path.name, headings=rows[0].cells, rows=(), heading_line=rows[0].line)
    found += _heading_problems(table)
    fitting = [row for row in rows[1:] if _fits(row, table, found)]
    whole = HandTable(file=path.name, headings=rows[0].cells, rows=tuple(fitting), heading_line=rows[0].line)
    return (None if any(one.code == "table-headings" for one in found) else whole), found


def _decoded(raw: bytes) -> str | None:
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        encodings: tuple[str, ...] = ("utf-16",)
    else:
        encodings = ("utf-8-sig", "windows-1252")
    for encoding in encodings:
        try:
            text = raw.decode(encoding)
        except UnicodeError:
            continue
        return None if "\0" in text else text.replace("\r\n", "\n").replace("\r", "\n")
    return None


def _rows(text: str, separator: str, file: str, found: list[Problem], first_line: int) -> Iterator[Row]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    line = first_line
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                yield Row(line=line, cells=tuple(" ".join(cell.split()) for cell in cells))
            line = reader.line_num + first_line
    except csv.Error as error:
        found.append(_at(file, line, f"this is no CSV: {error}", "check quotation marks", "table-form"))


def _heading_problems(table: HandTable) -> Iterator[Problem]:
    line, names = table.heading_line, [name.casefold() for name in table.headings if name]
    twice = sorted(name for name, times in Counter(names).items() if times > 1)
    if twice:
        yield _at(table.file, line, f"the heading {twice[0]!r} stands here twice", "rename one", "table-headings")
    if len(table.headings) > MAX_COLUMNS:
        yield _at(table.file, line, f"there are over {MAX_COLUMNS} columns", "delete the empty ones", "table-headings")


def _fits(row: Row, table: HandTable, found: list[Problem]) -> bool:
    # Spreadsheets write empty cells at the end of a row, or leave them out.
    surplus = row.cells[len(table.headings) :]
    if any(surplus):
        message = f"the row has {len(row.cells)} cells, the headings are {len(table.headings)}"
        found.append(_at(table.file, row.line, message, "put text with a separator in quotes", "table-row"))
    return not any(surplus)


def cell_of(row: Row, column: int) -> str:
    """A row's cell, "" where the row ends before it."""
    return row.cells[column] if column < len(row.cells) else ""


def _whole(file: str, message: str, hint: str, code: str) -> Problem:
    return _at(file, 0, message, hint, code)


def _at(file: str, line: int, message: str, hint: str, code: str) -> Problem:
    column = 1 if line else 0
    return Problem(file=file, line=line, column=column, field="", message=message, hint=hint, code=code)


def samples_of(table: HandTable) -> Mapping[str, str]:
    """The first filled cell below each heading, for whoever asks what a column is."""
    return {
        name: next((cell for row in table.rows if (cell := cell_of(row, at))), "")
        for at, name in enumerate(table.headings)
        if name
    }
