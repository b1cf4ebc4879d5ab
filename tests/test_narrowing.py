"""Which test would tell most: expected widths are worked out by hand from weights and points."""

from __future__ import annotations

import pytest

from site_builder.criteria import takes
from site_builder.measured import Component, Measured
from site_builder.narrowing import enough_for_a_grade, narrowings, usual_half_widths
from tests.grading_data import grading, measured, unit

EQUAL = grading((1, 1, 1, 1))


def spread(source: str, u: float) -> Measured:
    """50, with one source of uncertainty."""
    return Measured(value=50, unit="1", components={source: Component(u)})


def test_of_two_open_questions_the_heavier_one_tells_more() -> None:
    """Weights 5, 3, 2: the open ones leave 30 and 20 of 100 points; no other unit has them, so nothing would remain."""
    held = grading((5, 3, 2))
    first, second = narrowings(unit("a", (70, None, None), held), ())
    assert (first.facts, second.facts) == (("delivered_ah",), ("mean_voltage_v",))
    assert (first.before, first.width, first.adds) == pytest.approx((50, 20, 0.3))
    assert (second.before, second.width, second.adds) == pytest.approx((50, 30, 0.2))
    assert first.takes == takes("delivered_ah")


def test_what_a_class_usually_leaves_open_stays_open() -> None:
    """Others measured it to ± 1.96·10 points; as half of the weight that leaves 19.6 points of the score's 50."""
    held = grading((1, 1))
    others = [unit(name, (50, spread(name, 10.0)), held) for name in ("b", "c", "d")]
    assert usual_half_widths(others)["c1", "delivered_ah", None] == pytest.approx(19.6, abs=0.01)
    (one,) = narrowings(unit("a", (50, None), held), others)
    assert (one.before, one.width) == pytest.approx((50, 19.6), abs=0.01)


def test_the_usual_is_the_median_of_those_that_tested_it() -> None:
    held = grading((1, 1))
    others = [unit(str(u), (50, measured(50, source=u)), held) for u in (1.0, 2.0, 12.0)] + [
        unit("x", (50, None), held)
    ]
    assert usual_half_widths(others)["c1", "delivered_ah", None] == pytest.approx(1.96 * 2, abs=0.01)


def test_a_poor_measurement_repeated_as_usual_narrows_too() -> None:
    """± 1.96·15 of its own, ± 1.96·5 usual: of half the weight 9.8 points would be left of 29.4."""
    held = grading((1, 1))
    others = [unit(name, (50, spread(name, 5.0)), held) for name in ("b", "c", "d")]
    (one,) = narrowings(unit("a", (50, measured(50, own=15.0)), held), others)
    assert (one.before, one.width, one.adds) == pytest.approx((29.4, 9.8, 0), abs=0.02)


def test_a_better_measurement_than_usual_gains_nothing_by_another() -> None:
    held = grading((1, 1))
    others = [unit(name, (50, spread(name, 15.0)), held) for name in ("b", "c", "d")]
    assert narrowings(unit("a", (50, measured(50, own=5.0)), held), others) == ()


def test_a_bound_would_close_as_well() -> None:
    """At least 40 points of half the weight leaves 30 points of the score open."""
    (one,) = narrowings(unit("a", (50, measured(40, "at_least")), grading((1, 1))), ())
    assert (one.before, one.width, one.adds) == pytest.approx((30, 0, 0))


def test_a_unit_of_which_all_is_known_asks_for_nothing() -> None:
    assert narrowings(unit("a", (50, 60, 70, 80), EQUAL), ()) == ()


def test_the_fewest_tests_make_a_grade() -> None:
    """A quarter is tested and 60 % are needed: two of the three open quarters."""
    one = unit("a", (50, None, None, None), EQUAL)
    ways = enough_for_a_grade(one, narrowings(one, ()), 0.6)
    assert len(ways) == 2
    assert sum(way.adds for way in ways) + one.tested == pytest.approx(0.75)


def test_a_heavy_test_is_named_before_two_light_ones() -> None:
    held = grading((3, 1, 2, 4))
    one = unit("a", (50, None, None, None), held)
    assert [way.facts for way in enough_for_a_grade(one, narrowings(one, ()), 0.6)] == [("temperature_c",)]


def test_a_measurement_that_no_other_unit_has_is_not_taken_for_better_when_repeated() -> None:
    assert narrowings(unit("a", (50, measured(50, own=15.0)), grading((1, 1))), ()) == ()
