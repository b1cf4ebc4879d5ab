"""Steps in an overload test's own log: how long, at what current, cut off by whom."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from site_builder.bench_tests import OverloadTest
from site_builder.derive.overload import Point, brackets
from site_builder.derive.overload_log import GAP, NOT_STEADY, has_steps, points_of_log
from site_builder.records import Label
from site_builder.series import Log
from tests.demo.protection import Memory
from tests.logs_by_hand import bench, log, setting

LABEL = Label.model_validate({"chemistry": "LiFePO4", "nominal_v": 12.8, "capacity_ah": 100})
BENCH = bench(shunt={"of_reading": "0.5 %", "offset": 0.05, "step": 0.01})
OFF_V, RESTED_V, UNDER_V = 0.1, 13.2, 12.6


def steps_log(*steps: tuple[float, float, float], interval_s: float = 1.0, trips: bool = True) -> Log:
    """Rests and steps: seconds of rest, then a current for seconds; afterwards the terminals are dead, or not."""
    rows: list[tuple[float, float]] = []
    for rest_s, current_a, held_s in steps:
        after = OFF_V if trips and rows else RESTED_V
        rows += [(0.0, after)] * round(rest_s / interval_s)
        rows += [(current_a, UNDER_V)] * round(held_s / interval_s)
    rows += [(0.0, OFF_V if trips else RESTED_V)] * 5
    current, volts = np.array(rows).T
    return log(np.arange(len(rows)) * interval_s, current, volts, interval_s=interval_s)


def points(one: Log, **more: Any) -> list[Point]:
    test = OverloadTest.model_validate({"kind": "overload"} | more)
    return points_of_log(one, test, setting(BENCH), LABEL)


def test_a_step_lasts_from_its_first_row_to_somewhere_before_the_next() -> None:
    (point,) = points(steps_log((600, 150, 8), interval_s=2))
    assert (point.current.value, point.seen_s, point.tripped, point.stopped_by) == (150, (6, 10), True, "bms")
    # A repeat of a trip differs by a tenth: held for 6 s less twice that, tripped within 10 s and twice that.
    assert (point.shortest_s, point.longest_s) == pytest.approx((6 * 0.8, 10 * 1.2))
    assert point.note == "from the log, line 302 on"
    # 0.5 % of 150 A and 0.05 A, both rectangular, and half a display step.
    assert point.current.u == pytest.approx(math.hypot(0.75 / math.sqrt(3), 0.05 / math.sqrt(3), 0.01 / math.sqrt(12)))


def test_a_voltage_that_comes_back_shows_that_something_else_stopped_it() -> None:
    (point,) = points(steps_log((600, 150, 8), trips=False))
    assert (point.tripped, point.stopped_by, point.shortest_s, point.longest_s) == (False, None, 7, 9)


def test_without_a_voltage_nothing_shows_a_cut_off() -> None:
    one = steps_log((600, 150, 8))
    one.columns.pop("voltage")
    assert [point.tripped for point in points(one)] == [False]


def test_a_log_that_ends_under_load_shows_a_hold() -> None:
    (point,) = points(log(np.arange(100.0), np.where(np.arange(100) < 60, 0, 120), 13.0, interval_s=1))
    assert (point.seen_s, point.tripped) == ((39, math.inf), False)


@pytest.mark.parametrize(
    ("one", "why"),
    [
        (log(np.arange(9.0), [0, 0, 100, 100, 120, 120, 120, 0, 0], 13.0, interval_s=1), NOT_STEADY),
        (log([0, 1, 2, 3, 9, 10, 11], [0, 0, 100, 100, 100, 100, 0], 13.0, interval_s=1), GAP),
    ],
)
def test_a_step_that_says_no_single_current_or_time_is_shown_and_not_used(one: Log, why: str) -> None:
    (point,) = points(one)
    assert point.left_out == why


def test_rest_and_charge_are_counted_from_the_log() -> None:
    """100 A for half an hour leave 20 of 70 %."""
    first, second = points(steps_log((600, 100, 1801), (100, 150, 3), interval_s=1), soc="70 %")
    assert first.left_out is None
    assert second.left_out == "after only 101 s of rest"
    assert points(steps_log((600, 100, 1801), (400, 150, 3)), soc="70 %")[1].left_out == "at 20 % charge"
    assert points(steps_log((600, 100, 1801), (400, 150, 3)))[1].left_out is None  # nobody wrote the charge down


def test_small_currents_are_no_steps() -> None:
    assert points(log(np.arange(50.0), np.where(np.arange(50) < 30, 5.0, 0.0), 13.0, interval_s=1)) == []
    assert not has_steps(None, LABEL)
    assert has_steps(steps_log((10, 50, 10)), LABEL)


@given(st.floats(110, 400), st.floats(110, 400), st.sampled_from([0.5, 1.0, 5.0]))
def test_the_brackets_of_a_logged_bms_hold_the_truth(one_a: float, other_a: float, interval_s: float) -> None:
    """A BMS with thermal memory (the simulated bench's), each current from cold until it trips."""
    memory = Memory(start_a=100.0, lag_s=60.0)
    plan = [(3600.0, current, min(memory.trip_s(current), 1900.0)) for current in (one_a, other_a)]
    rows = [(rest, current, interval_s * (1 + math.floor(lasts / interval_s))) for rest, current, lasts in plan]
    for name, bracket in brackets(points(steps_log(*rows, interval_s=interval_s))).items():
        seconds = {"1_s": 1, "3_s": 3, "10_s": 10, "30_s": 30, "30_min": 1800}[name]
        if bracket.held is not None:
            assert memory.trip_s(bracket.held.current.value) >= seconds
        if bracket.tripped is not None:
            assert memory.trip_s(bracket.tripped.current.value) <= seconds
