"""The chain from a load back to the battery: points, straight line, square term, none at all."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from site_builder.catalogue_records import Inverter
from site_builder.derive.inverter import LEAST_U, Chain, chain_of, duty_power_w


def inverter(*points: tuple[float, float], **more: Any) -> Inverter:
    pairs = [{"ac_w": ac, "dc_w": dc} for ac, dc in points]
    return Inverter.model_validate({"idle_w": 10, "points": pairs} | more)


def test_idle_power_is_fixed_and_a_line_goes_through_the_points() -> None:
    chain = chain_of(inverter((100, 120), (1000, 1110)))
    assert (chain.idle_w, chain.square) == (10, 0.0)
    assert [chain.dc_w(watts) for watts in (0, 100, 1000)] == pytest.approx([10, 120, 1110])
    assert chain.relative_u == LEAST_U


def test_one_point_is_enough_for_a_slope() -> None:
    assert chain_of(inverter((500, 560))).slope == pytest.approx(1.1)


def test_without_points_it_is_taken_as_usual_and_known_to_five_percent() -> None:
    chain = chain_of(inverter())
    assert (chain.slope, chain.relative_u) == pytest.approx((1 / 0.9, 0.05))


def test_points_off_the_line_are_in_the_interval() -> None:
    """Two points that miss a line by 2 %: nobody can tell a square term from an error with two."""
    chain = chain_of(inverter((500, 1.02 * 560), (1000, 0.98 * 1110)))
    assert chain.square == 0.0
    assert chain.relative_u == pytest.approx(0.02, rel=0.1)


def test_three_points_that_bend_ask_for_a_square() -> None:
    chain = chain_of(inverter(*((watts, 10 + 1.02 * watts + 1e-4 * watts**2) for watts in (100, 1000, 2000))))
    assert chain.square == pytest.approx(1e-4, rel=1e-6)
    assert chain.relative_u == LEAST_U


def test_the_cut_off_comes_along() -> None:
    assert chain_of(inverter(cut_off_v=10.8)).cut_off_v == 10.8
    assert chain_of(inverter()).cut_off_v is None


@given(st.floats(0, 30), st.floats(1.0, 1.5), st.floats(0, 2e-4), st.floats(0, 2000), st.floats(0, 1))
def test_a_load_in_cycles_takes_between_idle_and_on(
    idle: float, slope: float, square: float, watts: float, duty: float
) -> None:
    chain = Chain(idle_w=idle, slope=slope, square=square, relative_u=0.01, cut_off_v=None)
    on = chain.dc_w(watts)
    mean = duty_power_w(on - idle, duty, idle)
    assert idle - 1e-9 <= mean <= on + 1e-9
    assert on >= watts


def test_a_standby_mode_counts_only_while_no_load_is_on() -> None:
    """45 W for 35 % of the time at η 0.93: 12 W and the load for 0.35, 2 W for 0.65 of the time."""
    chain = chain_of(Inverter.model_validate({"idle_w": 12, "standby_w": 2, "points": [{"ac_w": 93, "dc_w": 112}]}))
    mean = chain.resting_w(0.35) + 0.35 * (chain.dc_w(45) - chain.idle_w)
    assert mean == pytest.approx(0.35 * (12 + 45 / 0.93) + 0.65 * 2)
    assert chain.resting_w(2.0) == chain.idle_w  # several loads at once keep it awake for no more than all the time
    assert chain.resting_w(0.1, of_day=0.5) == pytest.approx(0.1 * 12 + 0.4 * 2)


def test_without_a_standby_mode_the_idle_power_counts_all_the_time() -> None:
    chain = chain_of(Inverter.model_validate({"idle_w": 12}))
    assert (chain.off_w, chain.resting_w(0.0), chain.resting_w(0.35, of_day=0.5)) == (12, 12, 6)
