"""Charge and energy from any log."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from site_builder.catalogue_records import LogFormat
from site_builder.derive.discharge_log import discharge
from site_builder.derive.integrate import Total, integral, steps_of, thinned
from site_builder.logs import read_log
from site_builder.measured import Measured
from site_builder.series import Array, Log
from tests.logs_by_hand import bench, capacity_test, log, setting

AMPS = st.floats(-100, 100).map(lambda amps: round(amps, 3))
WIDTHS = st.floats(0.5, 200).map(lambda seconds: round(seconds, 1))
ROWS = st.lists(st.tuples(WIDTHS, AMPS), min_size=4, max_size=60)
BENCH = bench({"of_reading": "0.5 %", "offset": 0.05}, {"of_reading": "0.1 %"})


def built(rows: list[tuple[float, float]], factor: float = 1.0) -> Log:
    """A log from step widths and currents; wide steps are gaps."""
    widths, current = np.array(rows).T
    return log(np.cumsum(widths), factor * current, 12.5)


def total(one: Log, signal: Array | None = None) -> Total:
    return integral(one, one.columns["current"] if signal is None else signal, steps_of(one))


def part(one: Log, rows: slice) -> Log:
    return log(one.time_s[rows], one.columns["current"][rows], 12.5)


@given(ROWS, st.floats(0, 1))
def test_the_integral_of_two_parts_is_that_of_the_whole(rows: list[tuple[float, float]], where: float) -> None:
    """Outside gaps: what counts across a gap looks at its neighbourhood on both sides."""
    whole = built(rows)
    at = 1 + int(where * (len(rows) - 3))
    first, second = part(whole, slice(None, at + 1)), part(whole, slice(at, None))
    together = total(first).outside_gaps + total(second).outside_gaps
    assert together == pytest.approx(total(whole).outside_gaps, rel=1e-9, abs=1e-6)


@given(ROWS, st.floats(-3, 3))
def test_scaling_the_current_scales_the_charge(rows: list[tuple[float, float]], factor: float) -> None:
    plain, scaled = total(built(rows)), total(built(rows, factor))
    assert scaled.value == pytest.approx(factor * plain.value, rel=1e-9, abs=1e-6)
    for one, other in zip(scaled.gap_half_widths, plain.gap_half_widths, strict=True):
        assert one == pytest.approx(abs(factor) * other, rel=1e-9, abs=1e-9)


@given(ROWS)
def test_the_integral_lies_between_the_extremes(rows: list[tuple[float, float]]) -> None:
    one = built(rows)
    current, duration = one.columns["current"], steps_of(one).duration_s
    slack = 1e-9 * duration * 100
    assert current.min() * duration - slack <= total(one).value <= current.max() * duration + slack


@given(ROWS)
def test_turning_the_current_round_turns_the_charge(rows: list[tuple[float, float]]) -> None:
    assert total(built(rows)).value == pytest.approx(-total(built(rows, -1)).value, rel=1e-9, abs=1e-6)


@given(ROWS, st.floats(0.1, 10))
def test_a_stretched_clock_stretches_the_charge(rows: list[tuple[float, float]], factor: float) -> None:
    one = built(rows)
    if len(steps_of(one).gap_at):
        return
    stretched = log(one.time_s * factor, one.columns["current"], 12.5, interval_s=10 * factor * 20)
    assert total(stretched).value == pytest.approx(factor * total(one).value, rel=1e-9, abs=1e-6)


@given(ROWS)
def test_every_discharge_is_published_or_refused_in_words(rows: list[tuple[float, float]]) -> None:
    seen = discharge(built(rows), capacity_test(), setting(BENCH))
    if seen.charge is None:
        assert seen.refused
        return
    for one in (seen.charge, seen.energy):
        assert one is not None
        assert np.isfinite(one.value)
        assert one.expanded is not None
        assert one.expanded >= 0
        assert one.bound in {"exact", "at_least"}
    assert (seen.charge.bound == "at_least") is bool(seen.reasons)
    assert sources(seen.charge) <= sources(seen.energy)


def sources(one: Measured | None) -> set[str]:
    """Names of the errors of the current's instrument."""
    assert one is not None
    return {name for name in one.components if name.startswith(("gain", "offset"))}


@given(arrays.arrays(np.float64, st.integers(2, 3000), elements=st.floats(-50, 50)), st.integers(4, 400))
def test_a_thinned_curve_is_part_of_the_curve(y: Array, points: int) -> None:
    x = np.arange(len(y), dtype=np.float64)
    thin_x, thin_y = thinned(x, y, points)
    np.testing.assert_array_equal(y[thin_x.astype(int)], thin_y)
    assert (thin_y.min(), thin_y.max()) == (y.min(), y.max())
    assert len(thin_x) <= max(points, 4)


FORM = LogFormat.model_validate(
    {"time": {"column": "t"}, "current": {"column": "I"}, "voltage": {"column": "U"}, "interval_s": 10}
)
CELLS = st.one_of(
    st.floats(allow_nan=True).map(str),
    st.integers(-(10**6), 10**6).map(str),
    st.sampled_from(["", "nan", "inf", "1e308", "-", "1,2", '"', "1;2", "\x00", "é", "12:30", " 5 "]),
    st.text(max_size=5),
)


@given(st.lists(st.lists(CELLS, min_size=1, max_size=4).map(",".join), max_size=30), st.booleans())
@example(["0,1,2", "10,1,2"], False)
def test_no_log_breaks_the_reader(lines: list[str], good: bool) -> None:
    """Whatever stands in it: a clean log, or faults in words, and every fault inside the file."""
    rows = [f"{10 * i},5,13" for i in range(300)] if good else []
    text = "\n".join(["t,I,U", *rows, *lines, ""])
    with TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        path.write_bytes(text.encode("utf-8", "surrogatepass"))
        one, faults = read_log(path, FORM)
    assert all(fault.message and fault.hint and fault.code for fault in faults)
    assert all(0 <= fault.line <= text.count("\n") + text.count("\r") + 1 for fault in faults)
    if one is None:
        assert any(fault.severity == "error" for fault in faults)
        return
    clean(one)


def clean(one: Log) -> None:
    assert np.all(np.diff(one.time_s) > 0)
    values: dict[str, Any] = one.columns
    assert all(np.isfinite(values[role]).all() for role in ("current", "voltage"))
    assert len({len(column) for column in (one.time_s, one.line, *values.values())}) == 1
