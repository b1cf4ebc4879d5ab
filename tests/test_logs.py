"""Log files: what is read, what is left out by line, and what refuses the whole file."""

from __future__ import annotations

import bz2
import datetime as dt
import gzip
import io
import lzma
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pytest
from pyarrow import parquet

from site_builder.catalogue_records import LogFormat
from site_builder.log_rows import SHOWN_PER_KIND, Fault
from site_builder.logs import read_log
from site_builder.series import Log

COLUMNS: dict[str, Any] = {
    "time": {"column": "t"},
    "current": {"column": "I"},
    "voltage": {"column": "U"},
    "interval_s": 10,
}


def form(**more: Any) -> LogFormat:
    return LogFormat.model_validate(COLUMNS | more)


PLAIN = form()
WITH_PROBE = form(battery_c={"column": "T"})


def rows(count: int = 300) -> list[str]:
    """A discharge at 20 A, every 10 s; the first is line 2 of the file."""
    return [f"{10 * i},20.0,{13.2 - i * 0.001:.3f}" for i in range(count)]


def text(lines: Sequence[str], heading: str = "t,I,U") -> bytes:
    return "\n".join([heading, *lines, ""]).encode()


def read(
    folder: Path, content: bytes, like: LogFormat = PLAIN, name: str = "log.csv"
) -> tuple[Log | None, list[Fault]]:
    path = folder / name
    path.write_bytes(content)
    return read_log(path, like)


def read_well(folder: Path, content: bytes, like: LogFormat = PLAIN, name: str = "log.csv") -> Log:
    log, faults = read(folder, content, like, name)
    assert faults == []
    assert log is not None
    return log


# --- what is read ----------------------------------------------------------------------------------------------------
def test_a_plain_log(tmp_path: Path) -> None:
    log = read_well(tmp_path, text(rows()))
    assert log.rows == len(log.time_s) == 300
    assert log.time_s[:3].tolist() == [0, 10, 20]
    assert log.columns["current"].tolist() == [20.0] * 300
    assert log.columns["voltage"][1] == 13.199
    assert log.line[:2].tolist() == [2, 3]
    assert (log.hold, log.interval_s, log.heartbeat_s, log.started) == ("linear", 10, None, None)
    assert len(log.sha256) == 64


@pytest.mark.parametrize(
    ("name", "packed"),
    [
        ("log.csv.gz", gzip.compress),
        ("log.csv.xz", lzma.compress),
        ("log.csv", lambda raw: b"\xef\xbb\xbf" + raw),
        ("log.csv", lambda raw: raw.replace(b"\n", b"\r\n")),
        ("log.csv", lambda raw: raw.rstrip(b"\n")),
        ("log.csv", lambda raw: raw + b"\n\n"),
        ("log.csv", lambda raw: raw.replace(b"t,I,U", b'"t","I","U"', 1)),
    ],
    ids=["gzip", "xz", "byte order mark", "carriage returns", "no last line end", "empty lines at the end", "quoted"],
)
def test_the_same_rows_in_other_clothes(tmp_path: Path, name: str, packed: Any) -> None:
    log = read_well(tmp_path, packed(text(rows())), name=name)
    plain = read_well(tmp_path, text(rows()), name="plain.csv")
    for role, values in plain.columns.items():
        np.testing.assert_array_equal(log.columns[role], values)
    np.testing.assert_array_equal(log.line, plain.line)


def test_a_parquet_log(tmp_path: Path) -> None:
    buffer = io.BytesIO()
    table = pa.table({"other": ["x"] * 50, "U": [13.0] * 50, "t": list(range(0, 500, 10)), "I": [20] * 50})
    parquet.write_table(table, buffer)
    log = read_well(tmp_path, buffer.getvalue(), name="log.parquet")
    assert log.columns["current"].dtype == np.float64
    assert log.time_s[-1] == 490


@pytest.mark.parametrize(
    ("unit", "per_second"), [("seconds", 1.0), ("minutes", 60.0), ("hours", 3600.0), ("milliseconds", 0.001)]
)
def test_units_of_time(tmp_path: Path, unit: str, per_second: float) -> None:
    log = read_well(tmp_path, text(rows()), form(time={"column": "t", "format": unit}))
    assert log.time_s[1] == pytest.approx(10 * per_second)


def test_units_of_columns_and_the_sign_of_charge(tmp_path: Path) -> None:
    like = form(
        current={"column": "I", "unit": "mA"},
        battery_c={"column": "T", "unit": "°F"},
        cell_current={"column": "J"},
        positive="charge",
    )
    lines = [f"{10 * i},-20000,13.1,50,-19.5" for i in range(10)]
    log = read_well(tmp_path, text(lines, "t,I,U,T,J"), like)
    assert log.columns["current"].tolist() == [20.0] * 10
    assert log.columns["cell_current"].tolist() == [19.5] * 10
    assert log.columns["battery_c"] == pytest.approx([10.0] * 10)
    assert log.columns["voltage"].tolist() == [13.1] * 10


def test_semicolons_and_decimal_commas(tmp_path: Path) -> None:
    lines = [f"{10 * i};20,5;13,125" for i in range(10)]
    log = read_well(tmp_path, text(lines, "t;I;U"), form(separator=";", decimal=","))
    assert log.columns["current"].tolist() == [20.5] * 10
    assert log.columns["voltage"].tolist() == [13.125] * 10


def test_tabs(tmp_path: Path) -> None:
    lines = [f"{10 * i}\t20.5\t13.125" for i in range(10)]
    assert read_well(tmp_path, text(lines, "t\tI\tU"), form(separator="tab")).columns["current"][0] == 20.5


def test_columns_nobody_declared_are_left_alone(tmp_path: Path) -> None:
    lines = [f"{10 * i},fine,20.0,13.1" for i in range(10)]
    assert set(read_well(tmp_path, text(lines, "t,remark,I,U")).columns) == {"current", "voltage"}


def test_a_probe_may_be_missing_and_may_come_off(tmp_path: Path) -> None:
    log, faults = read(tmp_path, text(rows()), WITH_PROBE)
    assert log is not None
    assert "battery_c" not in log.columns
    assert [(fault.line, fault.code, fault.severity) for fault in faults] == [(1, "log-column-missing", "warning")]
    lines = [f"{line},{'' if i == 5 else 21.5}" for i, line in enumerate(rows())]
    log, faults = read(tmp_path, text(lines, "t,I,U,T"), WITH_PROBE)
    assert log is not None
    assert len(log.time_s) == 300
    assert np.flatnonzero(np.isnan(log.columns["battery_c"])).tolist() == [5]
    assert [(fault.line, fault.code, fault.severity) for fault in faults] == [(7, "log-cell", "warning")]


@pytest.mark.parametrize(
    ("stamps", "started"),
    [
        (["2026-05-06T09:00:00", "2026-05-06T09:00:10"], dt.datetime(2026, 5, 6, 9)),  # noqa: DTZ001  # none is given
        (["2026-05-06T09:00:00+02:00", "2026-05-06T09:00:10+02:00"], dt.datetime(2026, 5, 6, 7)),  # noqa: DTZ001
        (["2026-05-06T09:00:00-05:00", "2026-05-06T09:00:10-05:00"], dt.datetime(2026, 5, 6, 14)),  # noqa: DTZ001
        (["2026-05-06T09:00:00Z", "2026-05-06T09:00:10Z"], dt.datetime(2026, 5, 6, 9)),  # noqa: DTZ001
        (["2026-05-06 09:00:00.5", "2026-05-06 09:00:10.5"], dt.datetime(2026, 5, 6, 9, 0, 0, 500_000)),  # noqa: DTZ001
        # the hour that a summer time starts in: the offsets say that ten seconds went by
        (["2026-03-29T01:59:55+01:00", "2026-03-29T03:00:05+02:00"], dt.datetime(2026, 3, 29, 0, 59, 55)),  # noqa: DTZ001
    ],
)
def test_iso_stamps(tmp_path: Path, stamps: list[str], started: dt.datetime) -> None:
    like = form(time={"column": "t", "format": "iso"})
    log = read_well(tmp_path, text([f"{stamp},20.0,13.1" for stamp in stamps]), like)
    assert log.time_s.tolist() == [0, 10]
    assert log.started is not None
    assert log.started.replace(tzinfo=None) == started


def test_a_logger_that_writes_on_change(tmp_path: Path) -> None:
    log = read_well(tmp_path, text(["0,0,13", "700,20,12.9", "701,20,12.8"]), form(hold="previous", heartbeat_s=900))
    assert (log.hold, log.heartbeat_s) == ("previous", 900)


# --- what is left out, by line ---------------------------------------------------------------------------------------
def spoiled(**changes: str) -> list[str]:
    """The plain log with some lines of the file replaced: `line_7="…"`."""
    lines = rows()
    for key, line in changes.items():
        lines[int(key.removeprefix("line_")) - 2] = line
    return lines


@pytest.mark.parametrize(
    ("changes", "found"),
    [
        pytest.param({"line_7": "50,,13.1"}, [(7, "log-cell")], id="an empty cell"),
        pytest.param({"line_7": "50,nan,13.1"}, [(7, "log-cell")], id="not a number"),
        pytest.param({"line_7": "50,OVER,13.1"}, [(7, "log-cell")], id="text"),
        pytest.param({"line_7": "50,inf,13.1"}, [(7, "log-cell")], id="infinite"),
        pytest.param({"line_7": "50,1e308,13.1"}, [(7, "log-cell")], id="impossible"),
        pytest.param({"line_7": "50,20,-40"}, [(7, "log-cell")], id="an impossible voltage"),
        pytest.param({"line_7": ",20,13.1"}, [(7, "log-time")], id="no time"),
        pytest.param({"line_7": "soon,20,13.1"}, [(7, "log-time")], id="a word for a time"),
        pytest.param({"line_7": "50,20"}, [(7, "log-ragged")], id="a cell too few"),
        pytest.param({"line_7": "50,20,13.1,8"}, [(7, "log-ragged")], id="a cell too many"),
        pytest.param({"line_7": "40,20,13.1"}, [(7, "log-time-repeated")], id="a stamp twice"),
        pytest.param({"line_7": "35,20,13.1"}, [(7, "log-time-backward")], id="a step back"),
        pytest.param(
            {"line_7": "50,20", "line_90": "880,,13.1"},
            [(7, "log-ragged"), (90, "log-cell")],
            id="lines keep their numbers after one that was left out",
        ),
    ],
)
def test_bad_rows_are_named_and_left_out(tmp_path: Path, changes: dict[str, str], found: list[tuple[int, str]]) -> None:
    log, faults = read(tmp_path, text(spoiled(**changes)))
    assert [(fault.line, fault.code) for fault in faults] == found
    assert {fault.severity for fault in faults} == {"warning"}
    assert log is not None
    assert len(log.time_s) == 300 - len(found)
    assert log.rows == 300
    assert set(log.line) == set(range(2, 302)) - {line for line, _ in found}
    assert np.isfinite(log.columns["current"]).all()


def test_a_clock_that_was_set_is_noticed(tmp_path: Path) -> None:
    """One step of an hour more, to the second, in a regular log."""
    lines = [f"{10 * i + (3600 if i > 100 else 0)},20,13" for i in range(300)]
    log, faults = read(tmp_path, text(lines))
    assert log is not None
    assert len(log.time_s) == 300
    assert [(fault.line, fault.code, fault.severity) for fault in faults] == [(103, "log-clock-jump", "warning")]


def test_another_gap_is_no_clock(tmp_path: Path) -> None:
    log = read_well(tmp_path, text([f"{10 * i + (3500 if i > 100 else 0)},20,13" for i in range(300)]))
    assert len(log.time_s) == 300


def test_many_bad_rows_are_counted(tmp_path: Path) -> None:
    lines = rows(1000)
    for i in range(9):
        lines[100 + i] = f"{10 * (100 + i)},,13"
    log, faults = read(tmp_path, text(lines))
    assert log is not None
    assert [fault.line for fault in faults] == [102, 103, 104, 105, 106, 107]
    assert len(faults) == SHOWN_PER_KIND + 1
    assert "4 rows" in faults[-1].message


# --- what refuses the file -------------------------------------------------------------------------------------------
def test_more_than_one_percent_of_bad_rows(tmp_path: Path) -> None:
    """Three of 300 are the limit, four are too many."""
    three = {f"line_{line}": f"{10 * (line - 2)},,13" for line in (10, 20, 30)}
    assert read(tmp_path, text(spoiled(**three)))[0] is not None
    log, faults = read(tmp_path, text(spoiled(**three, line_40="380,,13")))
    assert log is None
    assert "log-bad-rows" in {fault.code for fault in faults}
    assert {fault.severity for fault in faults} == {"error"}
    assert {10, 20, 30, 40} <= {fault.line for fault in faults}


def test_a_counter_that_wrapped(tmp_path: Path) -> None:
    lines = [f"{10 * (i % 200)},20,13" for i in range(300)]
    log, faults = read(tmp_path, text(lines))
    assert log is None
    assert ("log-time-wrapped", 202) in {(fault.code, fault.line) for fault in faults}


PACKED = gzip.compress(text(rows()))


@pytest.mark.parametrize(
    ("name", "content", "code"),
    [
        pytest.param("log.csv", b"", "log-empty", id="nothing"),
        pytest.param("log.csv", b" \n\n", "log-empty", id="blanks"),
        pytest.param("log.csv", text([]), "log-empty", id="a heading alone"),
        pytest.param("log.csv", text(rows(1)), "log-empty", id="one row"),
        pytest.param("log.csv", text(rows(), "t,I,volts"), "log-columns", id="a column missing"),
        pytest.param("log.csv", text(rows(), "time,I,U"), "log-columns", id="no time"),
        pytest.param("log.csv", text([f"{row},1" for row in rows()], "t,I,U,I"), "log-columns", id="a column twice"),
        pytest.param("log.csv", text([row.replace(",", ";") for row in rows()]), "log-ragged", id="semicolons"),
        pytest.param("log.csv", text(rows()).decode().encode("utf-16-le"), "log-encoding", id="UTF-16 unsaid"),
        pytest.param("log.csv", b"\xb0C,I,U\n1,2,3\n", "log-encoding", id="Latin-1"),
        pytest.param("log.csv", b"\x00" * 1000, "log-empty", id="zeros"),
        pytest.param("log.csv.gz", text(rows()), "log-packed", id="not gzip"),
        pytest.param("log.csv.gz", PACKED[:-40], "log-packed", id="gzip cut short"),
        pytest.param("log.csv.gz", PACKED[:60] + b"\xff" * 20 + PACKED[80:], "log-packed", id="gzip damaged"),
        pytest.param("log.csv.xz", text(rows()), "log-packed", id="not xz"),
        pytest.param("log.csv.xz", lzma.compress(text(rows()))[:-40], "log-packed", id="xz cut short"),
        pytest.param("log.parquet", text(rows()), "log-packed", id="not Parquet"),
        pytest.param("log.csv.gz", bz2.compress(text(rows())), "log-packed", id="another compression"),
        pytest.param("log.csv", text([f"{i},x,y" for i in range(300)]), "log-bad-rows", id="text in all rows"),
        pytest.param("log.csv", text([f"{300 - i},20,13" for i in range(300)]), "log-bad-rows", id="backwards"),
    ],
)
def test_refused_files(tmp_path: Path, name: str, content: bytes, code: str) -> None:
    log, faults = read(tmp_path, content, name=name)
    assert log is None
    assert code in {fault.code for fault in faults if fault.severity == "error"}
    assert all(fault.hint for fault in faults)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    log, faults = read_log(tmp_path / "log.csv", PLAIN)
    assert log is None
    assert [fault.code for fault in faults] == ["log-unreadable"]


def test_stamps_that_are_not_iso(tmp_path: Path) -> None:
    log, faults = read(tmp_path, text(rows()), form(time={"column": "t", "format": "iso"}))
    assert log is None
    assert {fault.code for fault in faults} <= {"log-time", "log-bad-rows"}
    assert faults


def test_a_column_unit_that_fits_nothing(tmp_path: Path) -> None:
    log, faults = read(tmp_path, text(rows()), form(current={"column": "I", "unit": "kg"}))
    assert log is None
    assert [fault.code for fault in faults] == ["log-unit"]


def test_a_fault_as_a_problem() -> None:
    problem = Fault(7, "the cell is empty", "fill it in", "log-cell", "warning").problem("results/logs/a/b.csv")
    assert str(problem) == "results/logs/a/b.csv:7:1: warning: the cell is empty; fill it in"
    assert Fault(0, "empty", "", "log-empty").problem("b.csv").column == 0
