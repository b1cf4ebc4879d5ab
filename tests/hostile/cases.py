"""Nonsense for every door: odd scalars, results files with odd parts, logs in odd forms, as hypothesis draws them."""

from __future__ import annotations

import copy
import gzip
import io
import lzma
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from typing import Any

import pyarrow as pa
from hypothesis import strategies as st
from pyarrow import parquet

from site_builder.catalogue_records import LogFormat
from site_builder.validate import from_data
from site_builder.yaml_text import parsed
from tests.conftest import ROOT
from tests.hostile.bounded import cpu_limit_s

Path = tuple[str | int, ...]


@contextmanager
def in_time() -> Iterator[None]:
    """No case may hang."""
    start = time.process_time()
    yield
    assert time.process_time() - start < cpu_limit_s()


# --- scalars ---------------------------------------------------------------------------------------------------------
NUMBERS = st.one_of(
    st.integers(),
    st.floats(),
    st.sampled_from([0, -0.0, 1e308, -1e308, 5e-324, 10**18, 10**400, True]),
)
PIECES = [
    "about", "over", "under", "to", "-", "+", "−", ".", ",", ":", "e", "E", "1", "90", "0", "1e400", "1e-400", "nan", "inf", "0x1F",
    "1_0", "%", "Ah", "mAh", "°F", "°C", "kW", "s", "min", "h", "V", "lb", "in", "dB", "m**9**9", "µΩ", "year", " ", "  ", "\n", "\t",
    "٩", "９", "½", "2026-05-04", "0001-01-01", "9999-12-31", "2026-02-30", "24:00", "18:40", "22:10 to 01:40", "8:31", "999:59",
    "https://", "a.example", "javascript:", "data:", "//", "@", "[::1]", "#", "?", "\\", "'", '"', "<", ">", "{", "}", "&", "*", "!",
]  # fmt: skip
WRITTEN = st.lists(st.sampled_from(PIECES), max_size=8).map("".join) | st.text(max_size=90)
ODD = st.one_of(NUMBERS, WRITTEN, st.none(), st.booleans(), st.just([]), st.just({}), st.just([[]]), st.just({"a": 1}))


# --- results files ---------------------------------------------------------------------------------------------------
@lru_cache(maxsize=1)
def whole_file() -> dict[str, Any]:
    """A results file with every kind of test, and with a log that is quickly read."""
    data = parsed((ROOT / "results" / "ferngate-f90.yml").read_bytes(), "ferngate-f90.yml").data
    for test in data["tests"].values():
        if test.get("log") != "pulses.csv.gz":
            test.pop("log", None)
    assert isinstance(data, dict)
    return data


def places(data: Any, above: Path = ()) -> Iterator[Path]:
    """Where anything stands."""
    entries = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for key, value in entries:
        yield (*above, key)
        yield from places(value, (*above, key))


PLACES = st.deferred(lambda: st.sampled_from([one for one in places(whole_file()) if one != ("unit", "id")]))


@st.composite
def changed_files(draw: st.DrawFn) -> dict[str, Any]:
    """The file with a few values replaced, taken away, or put where another one was."""
    data = copy.deepcopy(whole_file())
    for path in draw(st.lists(PLACES, min_size=1, max_size=3)):
        *above, last = path
        held: Any = data
        try:
            for step in above:
                held = held[step]
            match draw(st.integers(0, 2)):
                case 0:
                    held[last] = copy.deepcopy(draw(ODD))  # an empty dictionary is drawn as the same one again
                case 1:
                    del held[last]
                case _:
                    held[last] = copy.deepcopy(_at(whole_file(), draw(PLACES)))
        except (KeyError, IndexError, TypeError):  # an earlier change took it away
            continue
    return data


def _at(data: Any, path: Path) -> Any:
    for step in path:
        data = data[step]
    return data


@st.composite
def torn_texts(draw: st.DrawFn) -> bytes:
    """A file's bytes with pieces cut out, put in and written over."""
    raw = bytearray(
        (
            ROOT / "results" / draw(st.sampled_from(["quern-12-100.yml", "gannetholm-g24.yml", "ferngate-f90.yml"]))
        ).read_bytes()
    )
    more = st.sampled_from(
        [
            "&a ",
            "*a",
            "<<: *a",
            "!!python/object:os.system ",
            "? ",
            "- ",
            "[",
            "{",
            "\t",
            "\x00",
            "\u202e",
            "---\n",
            "'",
            "%YAML 9.9\n",
            "|\n",
            "\r",
        ]
    )
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(raw)))
        end = at + draw(st.integers(0, 40))
        raw[at:end] = draw(st.binary(max_size=6) | more.map(str.encode))
    return bytes(raw)


# --- logs ------------------------------------------------------------------------------------------------------------
@st.composite
def log_formats(draw: st.DrawFn) -> LogFormat:
    """A bench's log format, sensible or not."""
    time_column: dict[str, Any] = {"column": "t"}
    if draw(st.booleans()):
        time_column["format"] = draw(
            st.sampled_from(["seconds", "minutes", "hours", "days", "milliseconds", "iso", "h:m:s"])
        )
    else:
        time_column["pattern"] = draw(
            st.sampled_from(
                ["%d.%m.%Y %H:%M:%S", "%m/%d/%Y %I:%M:%S %p", "%H:%M", "%s", "%", "%%", "%Q", "(", "%d%d", "%Y\x00"]
            )
        )
    data = {
        "time": time_column,
        "current": {"column": "A", **draw(st.sampled_from([{}, {"unit": "mA"}, {"unit": "°C"}, {"unit": "%"}, {"unit": "dBm"}]))},
        "voltage": {"column": "V"},
        "interval_s": draw(st.sampled_from([1, 10, 0.001, 600, 3600])),
        "separator": draw(st.sampled_from([",", ";", "tab"])),
        "decimal": draw(st.sampled_from([".", ","])),
        "encoding": draw(st.sampled_from(["utf-8", "utf-16", "windows-1252"])),
        "heading_line": draw(st.sampled_from([1, 1, 2, 1_000_000])),
        **draw(st.sampled_from([{}, {"thousands": ","}, {"thousands": " "}, {"rows_from_line": 1}, {"positive": "charge"}, {"hold": "previous"}])),
    }  # fmt: skip
    return from_data(LogFormat, data)


CELLS = st.one_of(
    st.floats().map(repr),
    st.integers(-5, 5000).map(str),
    WRITTEN,
    st.sampled_from(["2026-05-04T09:00:00Z", "2026-05-04 09:00", "1:02:03", "99999:59:59", "04.05.2026 09:00:00", "9999-12-31T23:59:59", "-9999"]),
)  # fmt: skip


@st.composite
def logs(draw: st.DrawFn) -> tuple[str, bytes]:
    """A log's name and bytes: rows of numbers with odd cells among them, packed, torn."""
    separator = draw(st.sampled_from([",", ";", "\t"]))
    end = draw(st.sampled_from(["\n", "\r\n", "\r"]))
    steady = [[f"{i * 10}", "18.5", "13.1"] for i in range(draw(st.integers(0, 12)))]
    odd = draw(st.lists(st.lists(CELLS, max_size=4), max_size=4))
    heading = draw(
        st.sampled_from([["t", "A", "V"], ["t", "A", "V"], ["t", "A", "A", "V"], ["t"], ["x", "t", "A", "V", ""]])
    )
    text = end.join(separator.join(row) for row in [heading, *steady, *odd, *steady]) + draw(
        st.sampled_from(["", end, end * 3, "\0", '"'])
    )
    raw = text.encode(draw(st.sampled_from(["utf-8", "utf-8", "utf-16", "utf-8-sig"])), "surrogatepass")
    name, packed = draw(st.sampled_from(["run.csv", "run.csv", "run.csv.gz", "run.csv.xz", "run.parquet"])), raw
    if name.endswith(".gz"):
        packed = gzip.compress(raw, 1)
    elif name.endswith(".xz"):
        packed = lzma.compress(raw, preset=0)
    elif name.endswith(".parquet"):
        packed = _stored(draw)
    return name, _torn(packed, draw)


def _stored(draw: st.DrawFn) -> bytes:
    """A Parquet file of odd columns."""
    kinds = st.sampled_from(
        [
            pa.float64(),
            pa.int64(),
            pa.string(),
            pa.timestamp("ns"),
            pa.timestamp("s"),
            pa.bool_(),
            pa.null(),
            pa.date32(),
        ]
    )
    rows = draw(st.integers(0, 5))
    columns = {}
    for name in ("t", "A", "V"):
        kind = draw(kinds)
        cells = ["x"] * rows if kind == pa.string() else [draw(st.integers(-(2**40), 2**40)) for _ in range(rows)]
        columns[name] = (
            pa.nulls(rows)
            if kind == pa.null()
            else pa.array(cells).cast(kind, safe=False)
            if kind != pa.date32()
            else pa.array([1] * rows, pa.date32())
        )
    whole = io.BytesIO()
    parquet.write_table(pa.table(columns), whole)
    return whole.getvalue()


def _torn(raw: bytes, draw: st.DrawFn) -> bytes:
    if not draw(st.booleans()):
        return raw
    at = draw(st.integers(0, len(raw)))
    return raw[:at] + draw(st.binary(max_size=8)) + raw[at + draw(st.integers(0, 20)) :]
