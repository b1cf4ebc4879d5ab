"""The lump: what the fit returns, what it does without evidence, and how errors arrive in what follows from it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from site_builder.derive.thermal import (
    Lump,
    Warming,
    evenly,
    fitted,
    from_lump,
    lump_model_c,
    sensor_model_c,
    temperature_c,
    thinned_to,
    warm_up_s,
)
from site_builder.measured import Component, Measured
from site_builder.series import Array

HEAT, LOSS, POWER = 11_000.0, 2.2, 90.0


def warming(
    rows: int = 200, lasted_s: float = 3000.0, air_c: float = -10.0, sensor_k: float = 0.0, mass_kg: float = 11.0
) -> Warming:
    """A lump of 11 kJ/K and 2.2 W/K from −14 °C, seen by a sensor that is off."""
    time = np.linspace(0, lasted_s, rows)
    true = np.array([temperature_c(float(t), -14, air_c, POWER, HEAT, LOSS) for t in time])
    return Warming(
        time_s=time,
        sensor_c=true + sensor_k,
        air_c=np.full(rows, air_c),
        heater_w=Measured(value=POWER, unit="W", components={"gain": Component(0.5)}),
        sensor_u_k=0.3,
        air_u_k=0.0,
        mass_kg=mass_kg,
    )


def standard(lump: Lump, watt: float) -> float:
    return warm_up_s(-10, 8, -10, watt, lump.capacity_j_per_k, lump.loss_w_per_k)


def test_the_fit_finds_what_agrees_with_what_was_known_before() -> None:
    lump = fitted(warming(mass_kg=HEAT / 1000))
    assert lump.capacity_j_per_k == pytest.approx(HEAT, rel=0.01)
    assert lump.loss_w_per_k == pytest.approx(LOSS, rel=0.05)
    assert lump.sensor_k == pytest.approx(0, abs=0.05)
    assert lump.air_k == pytest.approx(0, abs=1e-3)


def test_evidence_pulls_the_fit_away_from_a_wrong_mass() -> None:
    """Beforehand 13.2 kJ/K ± 11.5 %; the warm-up says 11."""
    lump = fitted(warming(mass_kg=13.2))
    assert HEAT < lump.capacity_j_per_k < 12_300
    assert lump.loss_w_per_k < LOSS


def test_a_battery_that_is_hardly_warmed_is_what_was_known_before() -> None:
    """Ten seconds tell nothing: C ± 11.5 %, ln UA ± 0.5."""
    seen = warming(rows=12, lasted_s=10.0)
    lump = fitted(seen)
    heat = from_lump(lump, seen.heater_w, lambda one, _: one.capacity_j_per_k, "J/K", "fit")
    loss = from_lump(lump, seen.heater_w, lambda one, _: one.loss_w_per_k, "W/K", "fit")
    assert heat.value == pytest.approx(11_000, rel=0.01)
    assert heat.u / heat.value == pytest.approx(0.2 / math.sqrt(3), rel=0.02)
    assert loss.u / loss.value == pytest.approx(0.5, rel=0.02)


def test_the_sensors_error_shifts_the_battery_against_the_air() -> None:
    """In air that is 30 K warmer, a kelvin more is 2.2 W more heat that the room seems to give."""
    low, high = (fitted(warming(air_c=16.0, sensor_k=off)) for off in (-0.5, 0.5))
    assert low.capacity_j_per_k != pytest.approx(high.capacity_j_per_k, rel=1e-4)
    assert low.capacity_j_per_k == pytest.approx(high.capacity_j_per_k, rel=0.05)


def test_the_lump_starts_where_the_sensor_does() -> None:
    seen, lump = warming(sensor_k=0.4), fitted(warming(sensor_k=0.4))
    assert sensor_model_c(seen, lump)[0] == pytest.approx(float(seen.sensor_c[0]))
    assert lump_model_c(seen, lump)[0] == pytest.approx(float(seen.sensor_c[0]) - lump.sensor_k)


@pytest.mark.parametrize(("rows", "most"), [(2, 12), (12, 12), (13, 12), (500, 12), (500, 61)])
def test_at_most_so_many_rows_evenly_spaced(rows: int, most: int) -> None:
    kept = evenly(rows, most)
    assert len(kept) == min(rows, most)
    assert (kept[0], kept[-1]) == (0, rows - 1)
    assert np.diff(kept).max() - np.diff(kept).min() <= 1


def test_thinning_changes_nothing_that_matters() -> None:
    whole, thin = warming(), thinned_to(warming(), 61)
    assert len(thin.time_s) == 61
    assert fitted(thin).capacity_j_per_k == pytest.approx(fitted(whole).capacity_j_per_k, rel=1e-6)


def test_what_follows_carries_the_heaters_errors_and_the_fits() -> None:
    seen = warming()
    lump = fitted(seen)
    found = from_lump(lump, seen.heater_w, standard, "s", "fit")
    assert found.components.keys() == {"gain", "fit"}
    per_watt = (standard(lump, POWER + 0.01) - standard(lump, POWER - 0.01)) / 0.02
    assert found.components["gain"].u == pytest.approx(0.5 * per_watt, rel=1e-3)
    assert found.basis == "projected"


def test_the_fits_errors_are_those_of_its_covariance() -> None:
    """Drawn from the covariance instead of linearised: half the span of the middle 68 %, to the formula's curvature."""
    seen = warming()
    lump = fitted(seen)
    found = from_lump(lump, seen.heater_w, standard, "s", "fit")
    chance = np.random.default_rng(11)
    drawn = chance.multivariate_normal(lump.parameters, lump.covariance, 4000)
    times = np.array([standard(lump.moved_to(one), POWER) for one in drawn])
    low, high = np.quantile(times, (0.1587, 0.8413))
    assert (high - low) / 2 == pytest.approx(found.components["fit"].u, rel=0.15)


def test_an_infinite_time_has_no_interval_and_no_nan() -> None:
    seen = warming()
    found = from_lump(fitted(seen), seen.heater_w, lambda *_: math.inf, "s", "fit")
    assert (found.value, found.components) == (math.inf, {})


def test_beside_a_divergence_the_slope_is_taken_on_the_other_side() -> None:
    """A heater that just gets there: with a little less power it never would."""
    lump = Lump(
        capacity_j_per_k=HEAT, loss_w_per_k=LOSS, sensor_k=0.0, air_k=0.0, covariance=np.diag([0.01, 0.1, 0.01, 0.0])
    )
    power = Measured(value=LOSS * 18 * (1 + 1e-5), unit="W", components={"gain": Component(0.1)})
    found = from_lump(lump, power, standard, "s", "fit")
    assert math.isfinite(found.value)
    assert math.isfinite(found.u)
    assert found.u > found.value / 3


@given(st.floats(-30, 10), st.floats(0.1, 40), st.floats(-30, 30), st.floats(1, 500), st.floats(0.1, 10))
def test_a_warm_up_takes_longer_with_less_power_and_in_colder_air(
    start: float, rise: float, air: float, watt: float, loss: float
) -> None:
    plain = warm_up_s(start, start + rise, air, watt, HEAT, loss)
    assert plain > 0
    assert warm_up_s(start, start + rise, air, watt * 0.9, HEAT, loss) >= plain
    assert warm_up_s(start, start + rise, air - 1, watt, HEAT, loss) >= plain
    assert warm_up_s(start, start - rise, air, watt, HEAT, loss) == 0


def test_parameters_and_lump_are_the_same_thing() -> None:
    raw: Array = np.array([9.3, 0.7, 0.2, -0.1])
    lump = Lump(capacity_j_per_k=1, loss_w_per_k=1, sensor_k=0, air_k=0, covariance=np.zeros((4, 4)))
    assert lump.moved_to(raw).parameters == pytest.approx(raw)
