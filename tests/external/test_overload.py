"""Inverse-time curves of IEC 60255-151, and brackets of a simulated cut-off against its own equation."""

from __future__ import annotations

import pytest

from site_builder.derive.overload import Point
from site_builder.derive.trip_curve import TripCurve, trip_curve
from site_builder.measured import Measured

# k [s] and α of IEC 60255-151 (the names there: A, B, C), at a time multiplier of 1.
STANDARD, VERY, EXTREMELY = (0.14, 0.02), (13.5, 1.0), (80.0, 2.0)
# Seconds at 2, 5 and 10 times the pickup current: from the formula, and printed so in relay makers' tables.
TIMES_S = {
    STANDARD: (10.029, 4.280, 2.971),
    VERY: (13.5, 3.375, 1.5),
    EXTREMELY: (26.667, 3.333, 0.808),
}
PICKUP_A = 100.0


def curve(form: tuple[float, float]) -> TripCurve:
    return TripCurve(k_s=form[0], alpha=form[1], pickup_a=PICKUP_A, sigma=0.1)


@pytest.mark.parametrize("form", TIMES_S)
def test_times_of_the_standard_curves(form: tuple[float, float]) -> None:
    for times, seconds in zip((2, 5, 10), TIMES_S[form], strict=True):
        assert curve(form).time_s(times * PICKUP_A) == pytest.approx(seconds, abs=5e-4)


def tripped(current_a: float, after_s: float) -> Point:
    current = Measured(value=current_a, unit="A")
    return Point(
        test="steps",
        current=current,
        shortest_s=after_s,
        longest_s=after_s,
        seen_s=(after_s, after_s),
        tripped=True,
        stopped_by="bms",
    )


def held(current_a: float, for_s: float = 1800.0) -> Point:
    current = Measured(value=current_a, unit="A")
    return Point(
        test="steps",
        current=current,
        shortest_s=for_s,
        longest_s=for_s,
        seen_s=(for_s, for_s),
        tripped=False,
        stopped_by=None,
    )


@pytest.mark.parametrize("holds", [(), (held(PICKUP_A),), (held(90.0), held(60.0))], ids=["none", "pickup", "below"])
@pytest.mark.parametrize("times", [(1.5, 2, 3, 5, 10), (2, 2.5, 3.2, 4, 5), (1.1, 1.3, 2, 5, 10, 20)])
@pytest.mark.parametrize("form", TIMES_S)
def test_the_fit_finds_the_standard_curve_again(
    form: tuple[float, float], times: tuple[float, ...], holds: tuple[Point, ...]
) -> None:
    """From unrounded times, k and α to 0.5 %, with and without half-hour holds beside them."""
    trips = [tripped(one * PICKUP_A, curve(form).time_s(one * PICKUP_A)) for one in times]
    found = trip_curve([*trips, *holds])
    assert found is not None
    assert found.k_s == pytest.approx(form[0], rel=5e-3)
    assert found.alpha == pytest.approx(form[1], rel=5e-3)
    assert found.pickup_a == pytest.approx(PICKUP_A, rel=5e-3)
    assert found.sigma == pytest.approx(0.1, rel=0.01)
