"""The headings of a log against the columns that its bench declares: which is which, and which is missing. Pure."""

from __future__ import annotations

import difflib
from collections.abc import Sequence

from site_builder.catalogue_records import LogFormat
from site_builder.log_rows import Fault, UnreadableLogError, declared

CODE = "log-column-missing"
ROLES = {
    "battery_c": "the battery's temperature",
    "ambient_c": "the air's temperature",
    "cell_current": "the current into the cells",
}


def columns_of(header: Sequence[str], form: LogFormat) -> dict[str, str]:
    """Role → heading of those columns that are there; current, voltage and time must be."""
    columns = {"time": form.time.column, **({"date": form.time.date_column} if form.time.date_column else {})}
    columns |= {role: column.column for role, column in declared(form).items()}
    required = {"time", "date", "current", "voltage"} & set(columns)
    missing = [columns[role] for role in columns if role in required and columns[role] not in header]
    if missing:
        has = ", ".join(name[:40] for name in header[:12])
        line = "the first line" if form.heading_line == 1 else f"line {form.heading_line}"
        hint = f"its bench declares {', '.join(columns.values())}; {line} of the file has {has}"
        raise UnreadableLogError(
            f"the log has no column {' or '.join(missing)}", hint, "log-columns", form.heading_line
        )
    doubled = [name for name in columns.values() if header.count(name) > 1]
    if doubled:
        raise UnreadableLogError(
            f"the column {doubled[0]} stands in the log twice", "rename one", "log-columns", form.heading_line
        )
    return {role: name for role, name in columns.items() if name in header}


def lacking_columns(header: Sequence[str], form: LogFormat) -> list[Fault]:
    """A warning for each declared column that a log may do without and does not have: often it is only misspelt."""
    columns = declared(form)
    known = {column.column for column in columns.values()}
    spare = [name for name in header if name and name not in known]
    return [
        Fault(
            form.heading_line,
            f"the log has no column {column.column}, which its bench declares for {ROLES[role]}",
            _way_out(column.column, spare),
            CODE,
            "warning",
        )
        for role, column in columns.items()
        if role in ROLES and column.column not in header
    ]


def _way_out(heading: str, spare: Sequence[str]) -> str:
    """The nearest of the headings that mean nothing else."""
    alike = {name.casefold().strip(): name for name in spare}
    near = difflib.get_close_matches(heading.casefold(), list(alike), n=1, cutoff=0.6)
    if near:
        return f"if that is its column {alike[near[0]][:40]!r}, call it as its bench does, or the other way round"
    return "add it, unless nothing was connected"
