"""Points and brackets: what counts as a hold and a trip, what is left out, and what a start may rely on."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from site_builder.bench_tests import LoadRun, OverloadTest
from site_builder.catalogue_records import Bench
from site_builder.derive.overload import (
    Bracket,
    Point,
    bracket,
    brackets,
    either_side,
    either_side_of_steady,
    lasts,
    point_of_run,
    points_of_test,
    starts,
)
from site_builder.measured import Component, Measured
from tests.logs_by_hand import bench, setting

CLAMP = {"clamp": {"measures": "current", "of_reading": "2 %"}}
BENCH = bench(instruments=CLAMP)


def steps(*points: dict[str, Any], on: Bench | None = BENCH, **more: Any) -> list[Point]:
    """Points as written down, read on the bench's only ammeter."""
    return points_of_test(OverloadTest.model_validate({"kind": "overload", "points": points} | more), setting(on))


def step(current_a: Any, duration_s: Any, *, held: bool, **more: Any) -> dict[str, Any]:
    return {"current_a": current_a, "duration_s": duration_s, "held": held} | more


def run(**more: Any) -> Point | None:
    plain = {"kind": "load_run", "load": "table-saw", "outcome": "tripped", "current_a": 127, "duration_s": 4}
    return point_of_run(LoadRun.model_validate(plain | more), setting(BENCH))


def a_point(current_a: float, low_s: float, high_s: float, *, tripped: bool, left_out: str | None = None) -> Point:
    current = Measured(value=current_a, unit="A", components={f"own:{current_a}": Component(0.01 * current_a)})
    return Point(
        test="steps",
        current=current,
        shortest_s=low_s,
        longest_s=high_s,
        seen_s=(low_s, high_s),
        tripped=tripped,
        stopped_by="bms" if tripped else None,
        left_out=left_out,
    )


# --- points ----------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("by", ["inverter", "fuse", "tester"])
def test_a_stop_by_anything_but_the_battery_is_a_hold(by: str) -> None:
    (point,) = steps(step(120, 8, held=False, by=by))
    assert (point.tripped, point.stopped_by) == (False, by)
    assert (point.shortest_s, point.longest_s) == (8, 8)


def test_a_trip_is_the_batterys_own_where_nobody_says_other() -> None:
    plain, named = steps(step(120, 8, held=False), step(120, 8, held=False, by="bms"))
    assert (plain.tripped, plain.stopped_by) == (named.tripped, named.stopped_by) == (True, "bms")


def test_a_trips_time_is_wider_by_what_a_repeat_would_differ_by() -> None:
    """Two standard deviations of 10 %, this project's judgement, or of what the bench measured."""
    (point,) = steps(step(120, "4 to 6", held=False))
    assert point.seen_s == pytest.approx((4, 6))
    assert (point.shortest_s, point.longest_s) == pytest.approx((3.2, 7.2))
    (measured,) = steps(step(120, 10, held=False), on=bench(instruments=CLAMP, repeatability={"trip_time": "5 %"}))
    assert (measured.shortest_s, measured.longest_s) == pytest.approx((9, 11))
    (any_time,) = steps(step(120, 10, held=False), on=bench(instruments=CLAMP, repeatability={"trip_time": "60 %"}))
    assert any_time.shortest_s == 0


def test_a_trips_time_is_wider_by_the_benchs_finest_clock() -> None:
    clocks = {"watch": {"measures": "time", "offset": 30, "step": 60}, "stopwatch": {"measures": "time", "offset": 0.5}}
    tripped, held = steps(step(120, 1.0, held=False), step(110, 10, held=True), on=bench(instruments=CLAMP | clocks))
    assert (tripped.shortest_s, tripped.longest_s) == pytest.approx((0.5 * 0.8, 1.5 * 1.2))
    # How long a current was held was the tester's choice.
    assert (held.shortest_s, held.longest_s) == (10, 10)


def test_open_times_stay_open() -> None:
    held, at_once = steps(step(110, "over 30 min", held=True), step(200, "under 2", held=False))
    assert (held.shortest_s, math.isinf(held.longest_s)) == (1800, True)
    assert (at_once.shortest_s, at_once.longest_s) == pytest.approx((0, 2.4))


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({"rest_before_s": 60}, "after only 60 s of rest"),
        ({"rest_before_s": "4 min"}, "after only 240 s of rest"),
        ({"soc": "40 %"}, "at 40 % charge"),
        ({"rest_before_s": "5 min", "soc": "50 %"}, None),
        ({}, None),
    ],
)
def test_a_hasty_or_empty_point_is_shown_but_not_used(more: dict[str, Any], why: str | None) -> None:
    points = steps(step(120, 8, held=False, **more))
    assert [point.left_out for point in points] == [why]
    assert (bracket(points, 30).tripped is None) == (why is not None)
    assert starts(points, 200, 30) == ("not known" if why else "will not")


def test_the_charge_of_the_whole_test_counts_where_a_point_says_none() -> None:
    low, high = steps(step(120, 8, held=True), step(120, 8, held=True, soc="80 %"), soc="30 %")
    assert (low.left_out, high.left_out) == ("at 30 % charge", None)


def test_a_current_that_several_batteries_shared_says_nothing_of_one() -> None:
    together = steps(step(200, 60, held=True), arrangement={"parallel": 2})
    assert together[0].left_out == "2 batteries shared it"
    assert steps(step(200, 60, held=True), arrangement={"series": 2})[0].left_out is None


def test_a_load_run_is_a_point_too() -> None:
    point = run(by="bms")
    assert point is not None
    assert (point.tripped, point.load, point.current.value) == (True, ("table-saw",), 127)
    stopped, ran = run(by="inverter"), run(outcome="ran", soc={"start": "80 %", "end": "45 %"})
    assert stopped is not None
    assert ran is not None
    assert (stopped.tripped, ran.tripped, ran.left_out) == (False, False, "at 45 % charge")


@pytest.mark.parametrize(
    "missing", [{"current_a": None}, {"current_a": 0}, {"duration_s": None}, {"outcome": "did_not_start"}]
)
def test_a_load_run_without_current_or_time_is_none(missing: dict[str, Any]) -> None:
    assert run(**missing) is None


# --- brackets --------------------------------------------------------------------------------------------------------
HELD_110, TRIPPED_124, HELD_3_S = (
    a_point(110, 1800, math.inf, tripped=False),
    a_point(124, 3.2, 4.8, tripped=True),
    a_point(185, 3.3, 3.3, tripped=False),
)


def ends(one: Bracket) -> tuple[float | None, float | None]:
    return (one.held.current.value if one.held else None, one.tripped.current.value if one.tripped else None)


def test_brackets_for_each_time() -> None:
    """A trip after 3.2 s or more also held for 1 and 3 s; for 10 s and more it is a trip."""
    found = {name: ends(one) for name, one in brackets([HELD_110, TRIPPED_124, HELD_3_S]).items()}
    assert found == {
        "1_s": (185, None),
        "3_s": (185, None),
        "10_s": (110, 124),
        "30_s": (110, 124),
        "30_min": (110, 124),
    }


def test_a_bracket_as_a_number() -> None:
    between = bracket([HELD_110, TRIPPED_124], 30).as_measured()
    assert between is not None
    assert (between.bound, between.low, between.high, between.value) == ("between", 110, 124, 110)
    # Both ends wider by the larger U of the two.
    assert between.lowest == pytest.approx(110 - 1.96 * 1.24, rel=1e-4)
    assert between.highest == pytest.approx(124 + 1.96 * 1.24, rel=1e-4)
    at_least, at_most = bracket([HELD_110], 30).as_measured(), bracket([TRIPPED_124], 30).as_measured()
    assert at_least is not None
    assert at_most is not None
    assert (at_least.bound, at_most.bound) == ("at_least", "at_most")
    assert bracket([], 30).as_measured() is None


def test_an_end_without_an_instrument_makes_the_bracket_as_read() -> None:
    spoken = Measured(value=124, unit="A", basis="as_read")
    trip = Point(test="video", current=spoken, shortest_s=5, longest_s=5, seen_s=(5, 5), tripped=True, stopped_by="bms")
    found = bracket([HELD_110, trip], 30).as_measured()
    assert found is not None
    assert (found.basis, found.expanded) == ("as_read", None)


def test_where_they_cross_the_lower_end_is_the_largest_hold_below_the_smallest_trip() -> None:
    held_130 = a_point(130, 60, 60, tripped=False)
    crossed = bracket([HELD_110, TRIPPED_124, held_130], 30)
    assert ends(crossed) == (110, 124)
    assert crossed.crossed is held_130
    nothing_below = bracket([TRIPPED_124, held_130], 30)
    assert ends(nothing_below) == (None, 124)


def test_a_current_that_is_open_to_one_side_is_an_end_on_its_sure_side_only() -> None:
    below, above = steps(step("under 130", 60, held=True), step("over 120", 60, held=True))
    assert bracket([below], 30).held is None
    assert bracket([above], 30).held is above
    trip_below, trip_above = steps(step("under 130", 8, held=False), step("over 120", 8, held=False))
    assert bracket([trip_below], 30).tripped is trip_below
    assert bracket([trip_above], 30).tripped is None


# --- starts ----------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("peak_a", "duration_s", "word"),
    [(100, 1.0, "starts"), (100, 600, "starts"), (130, 10, "will not"), (117, 10, "borderline"), (180, 3, "starts")],
)
def test_a_start_against_the_points(peak_a: float, duration_s: float, word: str) -> None:
    assert starts([HELD_110, TRIPPED_124, HELD_3_S], peak_a, duration_s) == word


@pytest.mark.parametrize(
    ("peak_a", "duration_s", "carried", "tripped"),
    [
        (90, 1, 100, None),  # the smallest that surely carried as much
        (115, 1, 120, None),
        (150, 1, 120, None),  # none did: the largest that was carried
        (150, 10, 100, 120),
        (50, 4000, None, 120),
    ],
)
def test_the_steps_on_either_side_of_a_start(
    peak_a: float, duration_s: float, carried: float | None, tripped: float | None
) -> None:
    points = [
        a_point(100, 1800, 1800, tripped=False),
        a_point(120, 3, 5, tripped=True),
        a_point(80, 1800, 1800, tripped=False, left_out="after only 10 s of rest"),
    ]
    sides = either_side(points, peak_a, duration_s)
    assert [side and side.current.value for side in sides] == [carried, tripped]
    assert either_side([], peak_a, duration_s) == (None, None)


def test_without_points_a_start_is_not_known() -> None:
    assert starts([], 10, 1) == "not known"


def test_evidence_that_contradicts_itself_decides_nothing() -> None:
    """It carried 140 A for a minute and tripped at 110 A within 5 s: a start of 125 A may or may not pass."""
    points = [a_point(140, 60, 60, tripped=False), a_point(110, 4, 5, tripped=True)]
    assert [starts(points, peak, 10) for peak in (100, 125, 150)] == ["borderline", "borderline", "will not"]


# --- whatever the points ---------------------------------------------------------------------------------------------
@st.composite
def some_points(draw: st.DrawFn) -> list[Point]:
    """Holds and trips at any currents and times."""
    found = []
    for _ in range(draw(st.integers(0, 8))):
        low = draw(st.floats(0.1, 3600))
        high = low * draw(st.floats(1.01, 3))
        current = draw(st.integers(50, 400))
        found.append(a_point(float(current), low, high, tripped=draw(st.booleans())))
    return found


TIMES = st.floats(0.5, 2000)


@given(some_points(), TIMES, TIMES)
def test_no_more_is_carried_for_longer(points: list[Point], one_s: float, other_s: float) -> None:
    shorter, longer = (ends(bracket(points, seconds)) for seconds in sorted((one_s, other_s)))
    assert (longer[0] or 0.0) <= (shorter[0] or 0.0)
    assert (longer[1] or math.inf) <= (shorter[1] or math.inf)


@given(some_points(), TIMES)
def test_a_brackets_ends_do_not_cross(points: list[Point], seconds: float) -> None:
    low, high = ends(bracket(points, seconds))
    assert (low or 0.0) < (high or math.inf)


@given(some_points(), some_points(), TIMES)
def test_more_evidence_never_widens_a_bracket(points: list[Point], more: list[Point], seconds: float) -> None:
    """Its upper end never rises; its lower end falls only where a trip contradicts the hold that it was."""
    before, after = bracket(points, seconds), bracket(points + more, seconds)
    (low, high), (new_low, new_high) = ends(before), ends(after)
    assert (new_high or math.inf) <= (high or math.inf)
    contradicted = low is not None and new_high is not None and new_high <= low
    assert contradicted or (new_low or 0.0) >= (low or 0.0)


@given(some_points(), st.floats(40, 420), TIMES)
def test_starts_agree_with_brackets(points: list[Point], peak_a: float, seconds: float) -> None:
    word, (low, high) = starts(points, peak_a, seconds), ends(bracket(points, seconds))
    if word == "starts":
        assert low is not None
        assert peak_a <= low
    if word == "will not":
        assert high is not None
        assert peak_a >= high
    assert (word == "not known") == (not points)


# --- for as long as the charge lasts ---------------------------------------------------------------------------------
HELD_90 = a_point(90, 1800, math.inf, tripped=False)
TRIPPED_120, TRIPPED_160 = a_point(120, 16, 26, tripped=True), a_point(160, 4, 8, tripped=True)


@pytest.mark.parametrize(
    ("steady_a", "discharged_a", "word"),
    [
        (128.6, 54, "cut off"),  # although 160 A pass for a second
        (160, 54, "cut off"),
        (121, 54, "borderline"),  # the trip was at 120 ± 2.4 A
        (100, 54, "borderline"),
        (100, 100, "lasts"),  # a whole discharge was at no less
        (128.6, 130, "borderline"),  # it did not do the same every time
        (85, 54, "lasts"),
        (5, 0, "lasts"),
    ],
)
def test_a_current_that_goes_on_is_held_against_trips_after_any_time(
    steady_a: float, discharged_a: float, word: str
) -> None:
    steps_of = [HELD_90, TRIPPED_120, TRIPPED_160]
    assert lasts(steps_of, steady_a, discharged_a) == word
    assert starts(steps_of, 128.6, 1) == "starts"
    assert either_side_of_steady(steps_of) == (HELD_90, TRIPPED_120)


def test_without_a_trip_nothing_speaks_against_a_current() -> None:
    assert lasts([], 500, 0) == "lasts"
    assert lasts([a_point(110, 10, 10, tripped=False)], 500, 0) == "lasts"
    assert lasts([a_point(120, 16, 26, tripped=True, left_out="at 20 % charge")], 500, 0) == "lasts"
    assert either_side_of_steady([]) == (None, None)


def test_what_tripped_after_an_hour_was_not_carried_for_as_long_as_the_charge_lasts() -> None:
    late = a_point(120, 2880, 4320, tripped=True)
    assert [lasts([late], steady, 0) for steady in (110, 130)] == ["borderline", "cut off"]
    held = a_point(140, 1800, 1800, tripped=False)
    assert lasts([late, held], 130, 0) == "borderline"
