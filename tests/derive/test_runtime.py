"""Hours of a load on one charge: rates, inverters, cut-offs, and what is not known."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from site_builder.catalogue_records import Load
from site_builder.derive.inverter import Chain
from site_builder.derive.runtime import (
    Supply,
    Use,
    at_rate,
    hours_together,
    mean_power,
    mean_power_together,
    share_above,
)
from site_builder.measured import Component, Measured

ENERGY = Measured(value=1280, unit="Wh", components={"gain": Component(5)})
CHAIN = Chain(idle_w=10, slope=1.1, square=0.0, relative_u=0.01, cut_off_v=None)


def supply(energy: Measured = ENERGY, rate_it: float = 0.2, **more: Any) -> Supply:
    plain: dict[str, Any] = {"chemistry": "LiFePO4", "rated_ah": 100, "mean_v": 12.8, "curve": None}
    return Supply(unit="checked", energy=energy, rate_it=rate_it, **(plain | more))


def load(running_w: Any = 256, mains: bool = False, **more: Any) -> Load:
    return Load.model_validate({"title": "Load", "running_w": running_w, "mains": mains} | more)


def hours(one: Load, of: Supply | None = None, chain: Chain | None = None) -> Measured:
    found = hours_together((Use(load=one),), of or supply(), chain, "galley")
    assert isinstance(found, Measured), found
    return found


@pytest.mark.parametrize(
    ("one", "of", "chain", "why"),
    [
        (load(mains=True), supply(), None, "it needs an inverter"),
        (load(), supply(chemistry="lead-acid AGM"), None, "for this chemistry"),
        (load(700), supply(), None, "0.55 of its capacity per hour is more than projections reach"),
        (load(600, mains=True), supply(), CHAIN, "0.52 of its capacity per hour"),
        (load(), supply(rate_it=0.8), None, "measured at 0.8 of its capacity per hour"),
    ],
)
def test_what_is_not_known_says_why(one: Load, of: Supply, chain: Chain | None, why: str) -> None:
    found = hours_together((Use(load=one),), of, chain)
    assert isinstance(found, str)
    assert found.startswith("not known: ")
    assert why in found


def test_hours_are_a_projection_with_the_energys_own_bound() -> None:
    assert hours(load()).basis == "projected"
    assert hours(load(), supply(ENERGY.as_bound("at_least"))).bound == "at_least"


def test_below_a_twenty_fifth_of_the_capacity_an_hour_it_is_at_least_that() -> None:
    assert hours(load(52)).bound == "exact"
    assert hours(load(50)).bound == "at_least"
    # Measured as slowly as the load takes it, there is nothing left to guess.
    assert hours(load(50), supply(rate_it=0.03)).bound == "exact"


def test_the_rate_is_that_while_the_load_is_on() -> None:
    always, seldom = hours(load(256)), hours(load(256, duty="25 %"))
    assert seldom.value == pytest.approx(4 * always.value)


def test_the_inverter_idles_all_the_time() -> None:
    power = mean_power(load(100, mains=True, duty="40 %"), CHAIN, "galley")
    assert power.value == pytest.approx(10 + 0.4 * 110)
    assert power.components["chain:galley"].u == pytest.approx(0.01 * power.value)
    assert mean_power(load(100, duty="40 %"), CHAIN, "galley").value == pytest.approx(40)


def test_what_the_catalogue_leaves_open_of_a_load_stays_open() -> None:
    power = mean_power(load("90 to 110", mains=True, duty="30 % to 50 %"), CHAIN, "galley")
    assert power.components["load:Load/power"].u == pytest.approx(0.4 * 1.1 * 10 / math.sqrt(3))
    assert power.components["load:Load/duty"].u == pytest.approx(110 * 0.1 / math.sqrt(3))
    assert mean_power(load(100), None, "none").components == {}


def test_a_standby_mode_counts_while_no_load_is_on() -> None:
    """Idle 10 W becomes 2 W for 0.6 of the time; two loads are counted as if they never ran at once."""
    sleeping = replace(CHAIN, standby_w=2.0)
    one, other = load(100, mains=True, duty="0.3 to 0.5"), load(50, mains=True, duty=0.3)
    mean = mean_power(one, sleeping, "galley")
    assert mean.value == pytest.approx(0.4 * (10 + 110) + 0.6 * 2)
    assert mean.components["load:Load/duty"].u == pytest.approx((110 + 8) * 0.1 / math.sqrt(3))
    both = mean_power_together([Use(load=one), Use(load=other)], sleeping, "galley")
    assert both.value == pytest.approx(0.7 * 10 + 0.3 * 2 + 0.4 * 110 + 0.3 * 55)
    always = mean_power_together([Use(load=one), Use(load=load(50, mains=True))], sleeping, "galley")
    assert always.value == pytest.approx(10 + 0.4 * 110 + 55)


def test_energy_at_the_tests_own_rate_is_the_tests() -> None:
    assert at_rate(supply(), 0.2) is ENERGY
    slower = at_rate(supply(), 0.1)
    assert slower.value == pytest.approx(1280 * 2**0.03)
    assert slower.components.keys() == {"gain", "peukert:LiFePO4", "peukert:checked"}


# --- cut-offs --------------------------------------------------------------------------------------------------------
FALLING = (np.linspace(0, 100, 101), np.linspace(13.5, 12.5, 101))


def test_the_part_above_the_inverters_cut_off() -> None:
    """Half of the charge at 13.25 V on the mean, the other half at 12.75 V."""
    assert share_above(FALLING, 13.0) == pytest.approx(13.25 / 26.0, rel=1e-3)
    cut = Chain(idle_w=0, slope=1.0, square=0.0, relative_u=0.0, cut_off_v=13.0)
    half, whole = (hours(load(256, mains=True), supply(curve=FALLING), chain) for chain in (cut, CHAIN))
    assert half.value == pytest.approx(5 * 13.25 / 26.0, rel=1e-3)
    assert whole.value < 5


@pytest.mark.parametrize(("cut_off_v", "share"), [(12.0, 1.0), (12.5, 1.0), (13.6, 0.0), (20.0, 0.0)])
def test_a_cut_off_below_or_above_everything(cut_off_v: float, share: float) -> None:
    assert share_above(FALLING, cut_off_v) == share


def test_a_rested_voltage_after_the_end_is_not_delivered_energy() -> None:
    """The load goes off at 12.4 V and the terminals recover to 13 V: an inverter for 12.6 V had stopped before."""
    charge = np.append(FALLING[0], 100.0)
    volts = np.append(FALLING[1] - 0.1, 13.0)
    assert share_above((charge, volts), 12.6) == pytest.approx(share_above((FALLING[0], FALLING[1] - 0.1), 12.6))
    assert share_above((charge, volts), 12.6) < 0.9


def test_a_curve_without_energy_is_left_alone() -> None:
    assert share_above((np.zeros(3), np.array([13.0, 12.0, 11.0])), 12.5) == 1.0


@given(st.floats(1, 640), st.floats(0.01, 1.0))
def test_more_power_never_runs_longer(running_w: float, factor: float) -> None:
    """Up to half the capacity per hour; a slower discharge gives no less energy."""
    assert hours(load(running_w * factor)).value >= hours(load(running_w)).value - 1e-9


# --- warmth ----------------------------------------------------------------------------------------------------------
def at(warmth_c: float | None, of: Supply) -> Measured:
    found = hours_together((Use(load=load()),), of, None, warmth_c=warmth_c)
    assert isinstance(found, Measured), found
    return found


@pytest.mark.parametrize(
    ("tested_c", "warmth_c", "limit_h"),
    [
        (20.0, 35.0, 0.075),  # 1.5 % of 5 h
        (35.0, 20.0, 0.075),
        (None, 20.0, 0.075),  # from 10 to 35 °C, whichever is farther
        (None, 10.0, 0.125),
    ],
)
def test_away_from_its_tests_temperature_hours_are_less_sure(
    tested_c: float | None, warmth_c: float, limit_h: float
) -> None:
    found, plain = at(warmth_c, supply(tested_c=tested_c)), at(None, supply(tested_c=tested_c))
    assert (found.value, found.bound) == (plain.value, "exact")
    assert found.components["temperature:checked"].limit == pytest.approx(limit_h)
    assert "temperature:checked" not in plain.components


def test_a_test_in_the_cold_gives_hours_of_a_warm_battery_at_least() -> None:
    assert at(20.0, supply(tested_c=2.0)).bound == "at_least"


@pytest.mark.parametrize("warmth_c", [9.9, 35.1])
def test_nothing_is_projected_beyond_10_to_35_degrees(warmth_c: float) -> None:
    found = hours_together((Use(load=load()),), supply(tested_c=20.0), None, warmth_c=warmth_c)
    assert isinstance(found, str)
    assert found.startswith("not known: ")
