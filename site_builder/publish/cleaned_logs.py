"""Logs as they were used: the rows that could be read, in common units, under the same names for every bench."""

from __future__ import annotations

import io
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa
from pyarrow import csv as pa_csv

from site_builder.catalogue_records import LogFormat
from site_builder.logs import read_log
from site_builder.series import Log

# A log's roles → the columns of the dictionary.
COLUMNS: Mapping[str, str] = {
    "current": "current_a",
    "voltage": "voltage_v",
    "battery_c": "battery_c",
    "ambient_c": "ambient_c",
    "cell_current": "cell_current_a",
}


@dataclass(frozen=True, kw_only=True, slots=True)
class RecordedLog:
    """A log as it was recorded: whose it is, where it lies, and how its bench writes logs."""

    unit: str
    test: str
    path: Path
    form: LogFormat

    @property
    def cleaned_address(self) -> str:
        """Where its cleaned rows stand, below the site."""
        return f"data/logs-as-used/{self.unit}/{self.test}.csv"


def cleaned_csv(recorded: RecordedLog) -> tuple[bytes, tuple[str, ...]]:
    """The used rows as CSV, and the names of its columns. It is read again, since all logs at once would fill memory.

    Raises:
        ValueError: The log could be read when the results were derived, and cannot be any more.
    """
    log, faults = read_log(recorded.path, recorded.form)
    if log is None:
        raise ValueError(f"{recorded.path.name} changed while the site was built: {faults[0].message}")
    table = _table(log)
    text = io.BytesIO()
    pa_csv.write_csv(table, text, pa_csv.WriteOptions(quoting_style="none"))
    return text.getvalue(), tuple(table.column_names)


def _table(log: Log) -> pa.Table:
    columns = {name: log.columns[role] for role, name in COLUMNS.items() if role in log.columns}
    return pa.table({"time_s": log.time_s - log.time_s[0], **columns})
