"""Cells of a log by what its bench declares: decimal signs, thousands, clocks, dates, letters, lines above headings."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pytest

from site_builder.catalogue_records import LogFormat
from site_builder.log_cells import TimeFormatError, as_floats, elapsed_s
from site_builder.logs import read_log

NAN = float("nan")


def form(**more: Any) -> LogFormat:
    return LogFormat.model_validate({"time": {"column": "t"}, "interval_s": 10} | more)


def cells(*texts: str) -> pa.ChunkedArray:
    return pa.chunked_array([list(texts)], type=pa.string())


@pytest.mark.parametrize(
    ("decimal", "thousands", "text", "number"),
    [
        (".", None, "12.5", 12.5),
        (".", None, "−12.5", -12.5),
        (".", None, "1,234.5", NAN),
        (",", None, "12,5", 12.5),
        (",", None, "1.234,5", NAN),
        (".", ",", "1,234.5", 1234.5),
        (".", ",", "-1,234,567.25", -1234567.25),
        (".", ",", "12,34", NAN),  # nobody groups by two here: a decimal comma in a file that was declared otherwise
        (".", ",", "1,2345", NAN),
        (".", ",", "999", 999.0),
        (",", ".", "1.234,5", 1234.5),
        (",", ".", "1.234", 1234.0),
        (",", ".", "1.23", NAN),
        (",", " ", "1 234,5", 1234.5),
        (",", " ", "1\u202f234,5", 1234.5),
        (",", " ", "1\u00a0234", 1234.0),
        (".", "'", "1'234.5", 1234.5),
        (".", "'", "1’234.5", 1234.5),
        (".", None, "12.8 V", NAN),
        (".", None, "", NAN),
    ],
)
def test_numbers(decimal: str, thousands: str | None, text: str, number: float) -> None:
    np.testing.assert_equal(as_floats(cells(text), form(decimal=decimal, thousands=thousands)), [number])


@pytest.mark.parametrize(
    ("time", "texts", "seconds"),
    [
        ({"format": "h:m:s"}, ("0:00:00", "0:00:10.5", "1:00:00"), (0, 10.5, 3600)),
        ({"format": "h:m:s"}, ("23:59:50", "0:00:00", "0:00:10"), (86390, 86400, 86410)),
        ({"format": "h:m:s"}, ("23:59:50", "nonsense", "0:00:10"), (86390, NAN, 86410)),
        ({"format": "h:m:s"}, ("100:00:00", "0:61:00", "12:00"), (360000, NAN, NAN)),
        ({"format": "days"}, ("46148.5", "46148.75"), (46148.5 * 86400, 46148.75 * 86400)),
        ({"pattern": "%d.%m.%Y %H:%M"}, ("31.12.2026 23:59", "01.01.2027 00:01"), (0, 120)),
        ({"pattern": "%m/%d/%Y %I:%M:%S %p"}, ("1/31/2026 11:59:50 PM", "2/1/2026 12:00:00 AM"), (0, 10)),
        ({"pattern": "%m/%d/%Y %I:%M:%S %p"}, ("1/31/2026 11:59:50 a.m.", "1/31/2026 12:00:00 p. m."), (0, 10)),
        ({"pattern": "%I:%M:%S %p"}, ("11:59:50 PM", "12:00:00 AM", "12:00:10 AM"), (0, 10, 20)),
        ({"pattern": "%d.%m.%Y %H:%M:%S"}, ("06.05.2026 10:00:00", "2026-05-06", "06.05.2026 10:00:30"), (0, NAN, 30)),
    ],
)
def test_stamps(time: dict[str, str], texts: tuple[str, ...], seconds: tuple[float, ...]) -> None:
    """Noon is 12 PM and midnight 12 AM (common practice, no source); 24 hours are 86 400 s."""
    found, _ = elapsed_s(cells(*texts), None, form(time={"column": "t"} | time))
    np.testing.assert_allclose(found, seconds)


def test_a_date_in_a_column_of_its_own(tmp_path: Path) -> None:
    rows = "".join(
        f"{day}.05.2026;{clock};20;13\n" for day, clock in (("06", "23:59:50"), ("07", "00:00:00"), ("07", "00:00:10"))
    )
    path = tmp_path / "log.csv"
    path.write_text(f"Datum;Zeit;I;U\n{rows}", encoding="utf-8")
    time = {"column": "Zeit", "date_column": "Datum", "pattern": "%d.%m.%Y %H:%M:%S"}
    declared = form(time=time, separator=";", current={"column": "I"}, voltage={"column": "U"})
    log, faults = read_log(path, declared)
    assert faults == []
    assert log is not None
    assert log.time_s.tolist() == [0, 10, 20]
    assert str(log.started) == "2026-05-06 23:59:50"
    path.write_text("Zeit;I;U\n1;2;3\n1;2;3\n", encoding="utf-8")
    assert read_log(path, declared)[1][0].message == "the log has no column Datum"


def test_headings_further_down_keep_the_lines_of_the_file(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    rows = [f"{10 * i},20,13" for i in range(300)]
    rows[7], rows[9] = "70,bad,13", "90,20,13,surplus"
    path.write_text("\n".join(["Made by hand", "", "t,I,U", "s,A,V", *rows, ""]), encoding="utf-8")
    declared = form(heading_line=3, rows_from_line=5, current={"column": "I"}, voltage={"column": "U"})
    log, faults = read_log(path, declared)
    assert log is not None
    assert log.line[0] == 5
    assert sorted((fault.line, fault.code) for fault in faults) == [(12, "log-cell"), (14, "log-ragged")]
    assert path.read_text(encoding="utf-8").splitlines()[12 - 1] == "70,bad,13"


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"heading_line": 9}, "log-empty"),
        ({"heading_line": 3, "rows_from_line": 3}, "log-columns"),
        ({"time": {"column": "t", "pattern": "%Q"}}, "log-time"),
        ({"time": {"column": "t", "pattern": "%d.%m.%Y"}}, "log-time"),
        ({"time": {"column": "t", "format": "h:m:s"}}, "log-time"),
        ({"encoding": "utf-16"}, "log-empty"),
    ],
)
def test_what_is_declared_wrongly_is_named(tmp_path: Path, more: dict[str, Any], code: str) -> None:
    path = tmp_path / "log.csv"
    path.write_text("t,I,U\n0,20,13\n10,20,13\n20,20,13\n", encoding="utf-8")
    log, faults = read_log(path, form(current={"column": "I"}, voltage={"column": "U"}, **more))
    assert log is None
    assert faults[0].code == code
    assert faults[0].hint


def test_a_pattern_that_is_none() -> None:
    with pytest.raises(TimeFormatError):
        elapsed_s(cells("1"), None, form(time={"column": "t", "pattern": "%Q"}))
