"""The curve through the trips: when there is none, and what holds, ranges and scatter do to it."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import approx_fprime

from site_builder.derive import trip_curve as module
from site_builder.derive.overload import Point
from site_builder.derive.trip_curve import TripCurve, _misfit, _Seen, trip_curve
from site_builder.measured import Measured

TRUE = TripCurve(k_s=20.0, alpha=1.4, pickup_a=115.0, sigma=0.1)
CURRENTS = (150.0, 180.0, 220.0, 270.0, 320.0)


def trip(current_a: float, low_s: float, high_s: float | None = None, left_out: str | None = None) -> Point:
    high = low_s if high_s is None else high_s
    return Point(
        test="steps",
        current=Measured(value=current_a, unit="A"),
        shortest_s=low_s * 0.8,
        longest_s=high * 1.2,
        seen_s=(low_s, high),
        tripped=True,
        stopped_by="bms",
        left_out=left_out,
    )


def hold(current_a: float, for_s: float) -> Point:
    return Point(
        test="steps",
        current=Measured(value=current_a, unit="A"),
        shortest_s=for_s,
        longest_s=for_s,
        seen_s=(for_s, for_s),
        tripped=False,
        stopped_by=None,
    )


def trips(currents: Sequence[float] = CURRENTS) -> list[Point]:
    return [trip(amps, TRUE.time_s(amps)) for amps in currents]


def test_up_to_the_pickup_it_never_trips() -> None:
    assert math.isinf(TRUE.time_s(115.0))
    assert math.isinf(TRUE.time_s(0.0))
    assert TRUE.time_s(115.1) > 1000


@pytest.mark.parametrize(
    "points",
    [
        [],
        trips(CURRENTS[:4]),
        trips((150, 160, 170, 180, 299)),
        [*trips(CURRENTS[:4]), trip(320, 6.0, left_out="after only 60 s of rest")],
        [*trips(CURRENTS[:4]), hold(320, 1.0)],
        [*trips(CURRENTS[:4]), trip(320, 3.0, math.inf)],
    ],
    ids=["none", "four", "less than 2 to 1", "one left out", "one a hold", "one without an end"],
)
def test_too_few_trips_or_too_close_ones_give_no_curve(points: list[Point]) -> None:
    assert trip_curve(points) is None


def test_a_hold_above_the_smallest_trip_gives_no_curve() -> None:
    """Trips that contradict: no pickup lies both above 160 A, carried for half an hour, and below a trip at 150 A."""
    assert trip_curve([*trips(), hold(160, 1800)]) is None


def test_the_pickup_is_not_below_what_was_carried_for_half_an_hour() -> None:
    for carried in (118.0, 130.0, 149.0):
        found = trip_curve([*trips(), hold(carried, 1800)])
        assert found is not None
        assert carried <= found.pickup_a < 150


def test_a_shorter_hold_pushes_the_curve_up() -> None:
    """Trips alone say 12 s at 200 A; a hold of 40 s there has to lie below the curve as far as its scatter allows."""
    alone, with_hold = trip_curve(trips()), trip_curve([*trips(), hold(200.0, 40.0)])
    assert alone is not None
    assert with_hold is not None
    assert with_hold.time_s(200) > 1.1 * alone.time_s(200)


def test_trips_seen_between_two_times_agree_with_the_exact_ones() -> None:
    exact, ranges = (
        trip_curve(trips()),
        trip_curve([trip(p.current.value, p.seen_s[0] * 0.9, p.seen_s[0] * 1.1) for p in trips()]),
    )
    assert exact is not None
    assert ranges is not None
    for amps in CURRENTS:
        assert ranges.time_s(amps) == pytest.approx(exact.time_s(amps), rel=0.05)


def test_scatter_is_never_less_than_a_tenth_and_grows_with_the_trips() -> None:
    chance = np.random.default_rng(3)
    loud = [trip(amps, TRUE.time_s(amps) * float(np.exp(chance.normal(0, 0.4)))) for amps in CURRENTS * 4]
    quiet, found = trip_curve(trips()), trip_curve(loud)
    assert quiet is not None
    assert found is not None
    assert quiet.sigma == pytest.approx(0.1, abs=0.005)
    assert found.sigma == pytest.approx(0.4, rel=0.35)


def test_no_trip_is_too_quick_or_too_slow_for_it() -> None:
    """Times at once, over an hour and at the edges of floating-point numbers: some curve, all of it finite."""
    wild = [trip(150, 5e6), trip(180, 0.0, 1.0), trip(220, 0.0, 0.0), trip(270, 1e-9), trip(320, 1.0, 1.0001)]
    found = trip_curve([*wild, hold(0.0, 1800.0), hold(10.0, 1e6)])
    assert found is not None
    assert all(math.isfinite(one) for one in (found.k_s, found.alpha, found.pickup_a, found.sigma))


SEEN = [
    _Seen(150, math.log(30), math.log(30)),
    _Seen(200, math.log(3), math.log(5)),
    _Seen(120, math.log(100), math.inf),
    _Seen(300, math.log(1), math.log(1)),
    _Seen(90, math.log(1800), math.inf),
]


@given(st.floats(-3, 6), st.floats(-4, 1.5), st.floats(-4, 4), st.floats(-4, 1))
def test_the_slopes_of_the_misfit_are_its_slopes(level: float, steep: float, share: float, scatter: float) -> None:
    """Scipy's finite differences as second opinion, wherever the optimiser may wander."""
    raw = np.array([level, steep, share, scatter])
    value, slopes = _misfit(raw, SEEN, 95.0, 140.0)
    numeric = approx_fprime(raw, lambda x: _misfit(x, SEEN, 95.0, 140.0)[0], 1e-7)
    assert math.isfinite(value)
    assert slopes == pytest.approx(numeric, rel=1e-3, abs=1e-3 * (1 + abs(value)))


def misfit_of(found: TripCurve, points: Sequence[Point]) -> float:
    """Minus the log-likelihood of a curve, over the points above its pickup."""
    above = [(point, found.time_s(point.current.value)) for point in points]
    return sum(_Seen.of(point).misfit(math.log(t), found.sigma)[0] for point, t in above if math.isfinite(t))


def test_no_other_start_of_the_optimiser_finds_a_likelier_curve(
    count: Callable[[int, int], int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Noisy trips of many protections, with and without holds: four starts against twenty-four."""
    few = module.STARTS
    many = tuple(itertools.product((0.0, 3.0, 6.0), (-3.5, 0.0), (-4.0, 0.0, 4.0, 8.0), (-3.0,)))
    chance = np.random.default_rng(5)
    for _ in range(count(4, 200)):
        form = TripCurve(k_s=float(np.exp(chance.normal(2.5, 1.2))), alpha=float(np.exp(chance.normal(0, 0.8))),
                         pickup_a=100.0, sigma=0.1)  # fmt: skip
        currents = [120.0, *chance.uniform(130, 400, 4), 420.0]
        points = [trip(float(a), form.time_s(a) * float(np.exp(chance.normal(0, 0.2)))) for a in currents]
        points += [hold(float(chance.uniform(60, 119)), 1800), hold(float(chance.uniform(130, 400)), 3)]
        found = []
        for starts in (few, many):
            monkeypatch.setattr(module, "STARTS", starts)
            curve = trip_curve(points)
            assert curve is not None
            found.append(misfit_of(curve, points))
        assert found[0] <= found[1] + 0.01
