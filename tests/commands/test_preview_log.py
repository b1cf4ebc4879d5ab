"""`preview-log`: what it prints makes the reader read the file, however the file is written."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pyarrow import parquet

from site_builder.__main__ import main
from site_builder.catalogue_records import Bench, LogFormat
from site_builder.commands.preview_log import preview_log
from site_builder.load import read_catalogue
from site_builder.logs import read_log
from site_builder.series import Log
from tests.commands.logs_written import CHARGE_AH, ENERGY_WH, ROWS, STYLES, Style, with_

BENCH = """\
boat:
  title: Boat bench
  tester: Ines Hallam
  since: 2026-01-01
  instruments:
    shunt: {measures: current, of_reading: "0.5 %"}
    meter: {measures: voltage, of_reading: "0.1 %"}
"""


def pasted(folder: Path, entry: str) -> LogFormat:
    """The printed entry, pasted below a bench and read as the catalogue is."""
    (folder / "instruments.yml").write_text(BENCH + entry, encoding="utf-8")
    problems: list[object] = []
    catalogue = read_catalogue(folder, folder, {}, problems)  # type: ignore[arg-type]
    assert problems == []
    form = catalogue.benches["boat"].log
    assert form is not None
    return form


def read_through_preview(folder: Path, style: Style) -> Log:
    """The file of this style, read as the printed entry says."""
    path = folder / ("log.csv.gz" if style.packed else "log.csv")
    path.write_bytes(style.file())
    preview = preview_log(path)
    assert preview.entry is not None, "\n".join(preview.lines)
    log, faults = read_log(path, pasted(folder, preview.entry))
    assert [fault for fault in faults if fault.severity == "error"] == []
    assert log is not None
    return log


def flows(log: Log) -> tuple[float, float]:
    """Ah and Wh by the trapezoidal rule, apart from the project's own sums."""
    current, voltage = log.columns["current"], log.columns["voltage"]
    return float(np.trapezoid(current, log.time_s)) / 3600, float(np.trapezoid(current * voltage, log.time_s)) / 3600


@pytest.mark.parametrize("style", STYLES.values(), ids=STYLES)
def test_the_printed_entry_reads_the_same_charge_from_every_style(tmp_path: Path, style: Style) -> None:
    log = read_through_preview(tmp_path, style)
    assert len(log.time_s) == ROWS
    assert flows(log) == pytest.approx((CHARGE_AH, ENERGY_WH), rel=2e-6)


@st.composite
def styles(draw: st.DrawFn) -> Style:
    """Any mixture of these habits."""
    separator, decimal = draw(
        st.sampled_from([(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ","), (",", ",")])
    )
    thousands = draw(st.sampled_from(["", "", *({",", ".", " ", "'"} - {decimal})]))
    stamped = draw(
        st.sampled_from(
            [STYLES[name].stamp for name in STYLES if not name.startswith(("minutes", "hours", "milli", "days"))]
        )
    )
    units = draw(st.sampled_from([("A", "V", 1.0, 1.0), ("mA", "V", 1000.0, 1.0), ("mA", "mV", 1000.0, 1000.0)]))
    words = draw(st.sampled_from([one.headings for name, one in STYLES.items() if name in LANGUAGES]))
    bare = [word.partition(" ")[0] for word in words]
    encoding = draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le"]))
    return with_(
        headings=(bare[0], f"{bare[1]} [{units[0]}]", f"{bare[2]} ({units[1]})", bare[3]),
        stamp=stamped,
        separator=separator,
        decimal=decimal,
        thousands=thousands if units[2] > 1 else "",
        per_amp=units[2],
        per_volt=units[3],
        encoding=encoding,
        above=draw(st.sampled_from([(), ("Log of a boat",), ("a;b", "", "c,d,e")])),
        line_end=draw(st.sampled_from(["\n", "\r\n"])),
        packed=draw(st.booleans()),
        quoted=draw(st.booleans()),
        more=draw(st.sampled_from([(), ("Alarm",)])),
    )


LANGUAGES = (
    "plain",
    "day, month, year",
    "day, month, year with slashes",
    "12 hours, a.m. and p.m.",
    "two digits of the year",
    "fractions of seconds",
    "a clock without a day, past midnight",
    "elapsed hours, minutes, seconds",
    "Danish",
    "Portuguese",
)


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(style=styles())
def test_so_do_all_mixtures_of_their_habits(tmp_path: Path, style: Style) -> None:
    log = read_through_preview(tmp_path, style)
    assert len(log.time_s) == ROWS
    assert flows(log) == pytest.approx((CHARGE_AH, ENERGY_WH), rel=2e-6)


# --- what it says ----------------------------------------------------------------------------------------------------
def preview_of(folder: Path, content: str | bytes, name: str = "log.csv", bench: Bench | None = None) -> str:
    path = folder / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return "\n".join(preview_log(path, "boat" if bench else None, bench).lines)


def test_it_shows_rows_columns_interval_gaps_and_what_flowed(tmp_path: Path) -> None:
    rows = [f"{t},{20},{13.3 - t / 100_000:.4f},21,260" for t in [*range(0, 3600, 10), *range(7200, 10_810, 10)]]
    said = preview_of(tmp_path, "\n".join(["Seconds,Amps,Volts,Temp C,Watts", *rows, ""]))
    assert "Seconds: time in seconds, 0 to 10800" in said
    assert "Watts: looks like power; not read, 260 to 260" in said
    assert "721 of 721 rows over 3 h, one every 10 s" in said
    assert "1 gap, the longest 60.2 min" in said
    assert "60 Ah discharged" in said  # 20 A for 3 h, the gap at the same current
    assert "a positive current is taken for discharge, since the voltage falls with it: check it" in said


EITHER = "".join(f"0:00:{10 * i:02d}%s;20.000;13.{250 - i}\n" for i in range(6))

UNSURE = (
    "Note: '{}' and the like are read with decimals; where 20000 is meant, write "
    'decimal: "{}" and thousands: "{}": check it.'
)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        # Decimal commas elsewhere: in a clock, above the headings, in a column beside.
        ("t;I;U\n" + EITHER % ((",5",) * 6), "I: current, 20000 to 20000"),
        ("Interval: 0,5 s\nt;I;U\n" + EITHER % (("",) * 6), "I: current, 20000 to 20000"),
        ("t;I;T\n" + "".join(f"{i};20.000;21,5\n" for i in range(9)), "I: current, 20000 to 20000"),
        # Nothing tells.
        (
            "t;I;U\n" + EITHER % (("",) * 6),
            UNSURE.format("20.000", ",", "."),
        ),
        (
            't,I,U\n0,"20,000","13,200"\n10,"20,000","13,190"\n',
            UNSURE.format("20,000", ".", ","),
        ),
    ],
)
def test_points_between_thousands_are_read_so_or_named(tmp_path: Path, text: str, words: str) -> None:
    assert words in preview_of(tmp_path, text)


@pytest.mark.parametrize("more", ["20.5;13.200", "20.00;13.200", "0.500;13.200"])
def test_one_decimal_that_is_certain_tells_for_all(tmp_path: Path, more: str) -> None:
    said = preview_of(tmp_path, "t;I;U\n" + "".join(f"{10 * i};{more}\n" for i in range(9)))
    assert "and the like are read with decimals" not in said
    assert "U: voltage, 13.2 to 13.2" in said


def test_three_decimals_behind_a_comma_stay_decimals(tmp_path: Path) -> None:
    said = preview_of(tmp_path, "t;I;U\n" + "".join(f"{10 * i};20,125;13,200\n" for i in range(9)))
    assert "U: voltage, 13.2 to 13.2" in said


VOLTS: dict[str, Callable[[int], float]] = {
    "falling": lambda i: 13.3 - i / 500,
    "rising": lambda i: 13.3 + i / 500,
    "steady": lambda _: 13.3,
    "sagging": lambda i: 13.0 if i % 2 else 13.4,
    "lifting": lambda i: 13.4 if i % 2 else 13.0,
}
AMPS: dict[str, Callable[[int], int]] = {
    "out": lambda _: 20,
    "in": lambda _: -20,
    "both": lambda i: 20 if i % 2 else -20,
}


@pytest.mark.parametrize(
    ("volts", "amps", "heading", "says"),
    [
        ("falling", "out", "I", "taken for discharge, since the voltage falls"),
        ("falling", "in", "I", "taken for charge, since the voltage rises"),
        ("rising", "out", "I", "taken for charge, since the voltage rises"),
        ("sagging", "both", "I", "taken for discharge"),
        ("lifting", "both", "I", "taken for charge"),
        ("steady", "out", "I", "nothing tells whether a positive current discharges or charges"),
        ("rising", "out", "Discharge current", "taken for discharge: its heading says so"),
        ("falling", "out", "Ladestrom", "taken for charge: its heading says so"),
    ],
)
def test_the_sign_of_the_current(tmp_path: Path, volts: str, amps: str, heading: str, says: str) -> None:
    """Which of two currents is the larger one at every second row, and how the voltage goes along."""
    rows = [f"{10 * i},{AMPS[amps](i)},{VOLTS[volts](i):.4f}" for i in range(100)]
    assert says in preview_of(tmp_path, "\n".join([f"t,{heading},U", *rows, ""]))


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("", "the file is empty"),
        ("\n\n\n", "no rows of numbers in columns were found"),
        ("one line of prose", "no rows of numbers in columns were found"),
        ("t;U;I\n0;12.8 V;5 A\n10;12.8 V;5 A\n", "numbers with units in their cells"),
        ("0,13.2,20\n10,13.2,20\n20,13.1,20\n", "the rows have no line of headings as wide as they are"),
        ("t,U\n0,13.2,20\n10,13.2,20\n", "the line above the rows has 2 cells, fewer than the rows' 3"),
        ("t,U,I\n0 13.2 20\n10 13.2 20\n", "no rows of numbers in columns were found"),
        ("note,U,I\nx,13.2,20\ny,13.1,20\nz,13.0,20\n", "no time was found"),
        ("t,W\n0,250\n10,251\n20,250\n", "no current and voltage was found"),
        (bytes(range(256)) * 40, "this is no text, neither in UTF-8, UTF-16 nor Windows-1252"),
        ("PK\x03\x04" + "\x00" * 2000, "no rows of numbers in columns were found"),
    ],
)
def test_what_cannot_be_declared_is_named_with_a_way_out(tmp_path: Path, content: str | bytes, words: str) -> None:
    said = preview_of(tmp_path, content)
    assert words in said
    assert "What no bench can declare" in said


def test_a_bench_that_reads_the_file_already_says_so_and_gives_its_instruments(tmp_path: Path) -> None:
    bench = Bench.model_validate(
        {
            "title": "Boat",
            "tester": "Ines Hallam",
            "since": "2026-01-01",
            "instruments": {"shunt": {"measures": "current"}, "meter": {"measures": "voltage"}},
            "log": {
                "time": {"column": "t"},
                "current": {"column": "I"},
                "voltage": {"column": "U"},
                "interval_s": 10,
                "positive": "charge",
            },
        }
    )
    text = "t,I,U\n" + "".join(f"{10 * i},-20,{13.3 - i / 500:.3f}\n" for i in range(100))
    said = preview_of(tmp_path, text, bench=bench)
    assert "The bench boat reads this file as it is declared now:" in said
    assert "    current: {column: I, on: shunt}" in said
    assert "    positive: charge" in said
    other = preview_of(tmp_path, text.replace("t,I,U", "t,amps,volts"), bench=bench)
    assert "The bench boat as it is declared now does not read this file:" in other
    assert "the log has no column I or U" in other


TWO_CURRENTS = {
    "title": "Boat",
    "tester": "Ines Hallam",
    "since": "2026-01-01",
    "instruments": {
        "shunt": {"measures": "current"},
        "clamp": {"measures": "current"},
        "meter": {"measures": "voltage"},
    },
}


def test_an_instrument_that_the_bench_names_already_is_kept(tmp_path: Path) -> None:
    log = {"time": {"column": "s"}, "current": {"column": "A", "on": "clamp"}, "interval_s": 10}
    text = "t,I,U\n" + "".join(f"{10 * i},20,{13.3 - i / 500:.3f}\n" for i in range(100))
    said = preview_of(tmp_path, text, bench=Bench.model_validate({**TWO_CURRENTS, "log": log}))
    assert "    current: {column: I, on: clamp}" in said
    assert "    voltage: {column: U, on: meter}" in said
    assert "may be from" not in said


def test_of_two_that_nobody_names_neither_is_taken(tmp_path: Path) -> None:
    text = "t,I,U\n" + "".join(f"{10 * i},20,{13.3 - i / 500:.3f}\n" for i in range(100))
    said = preview_of(tmp_path, text, bench=Bench.model_validate(TWO_CURRENTS))
    assert "    current: {column: I}" in said
    assert "Note: the current may be from shunt or clamp: add on: to its column." in said


def test_parquet_and_a_cell_current(tmp_path: Path) -> None:
    buffer = io.BytesIO()
    cells = {
        "elapsed_s": list(range(0, 1000, 10)),
        "current_a": [20.0] * 100,
        "cell current (mA)": [5] * 100,
        "v": [13.0] * 100,
    }
    parquet.write_table(pa.table(cells), buffer)
    said = preview_of(tmp_path, buffer.getvalue(), "log.parquet")
    assert "    cell_current: {column: cell current (mA), unit: mA}" in said
    assert "5.5 Ah discharged" in said  # 20 A over 990 s


def test_the_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(STYLES["plain"].file())
    assert main(["preview-log", str(path)]) == 0
    assert "    interval_s: 10" in capsys.readouterr().out
    path.write_text("prose", encoding="utf-8")
    assert main(["preview-log", str(path)]) == 1
    assert main(["preview-log", str(tmp_path / "none.csv")]) == 2
    assert main(["preview-log", str(tmp_path)]) == 2
    (tmp_path / "catalogue").mkdir()
    (tmp_path / "catalogue/instruments.yml").write_text(BENCH, encoding="utf-8")
    assert main(["preview-log", str(path), "--bench", "pier", "--results", str(tmp_path / "results")]) == 2
    assert "there is no bench 'pier'; known: boat" in capsys.readouterr().err


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    content=st.one_of(
        st.binary(max_size=400),
        st.text(alphabet="0123456789.,;:-/ \n\tAPMtVIuå\"'", max_size=300).map(str.encode),
        st.lists(
            st.lists(st.text(alphabet="0123456789.,-: eVAs", max_size=8), min_size=1, max_size=5), max_size=12
        ).map(lambda rows: "\n".join(",".join(row) for row in rows).encode()),
    ),
    name=st.sampled_from(["log.csv", "log.csv.gz", "log.csv.xz", "log.parquet", "log"]),
)
def test_no_content_makes_it_fail(tmp_path: Path, content: bytes, name: str) -> None:
    assert preview_of(tmp_path, content, name)
