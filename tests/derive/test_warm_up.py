"""The heater in a log: power, time, energy, and the standard warm-up or what it would take."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from site_builder.bench_tests import ColdChargeTest
from site_builder.catalogue_records import Bench
from site_builder.derive.cold_charge import cold_charge
from site_builder.derive.results import OneResult
from site_builder.derive.thermal import temperature_c
from site_builder.derive.warm_up import NO_MODEL, NO_PHASE, NOT_REACHED, NOTHING_TO_WARM, STRETCH
from site_builder.records import Label
from site_builder.series import Log
from tests.logs_by_hand import bench, log, setting

LABEL = Label.model_validate(
    {"chemistry": "LiFePO4", "nominal_v": 12.8, "capacity_ah": 90, "heater": {"on_below_c": 2, "off_above_c": 8}}
)
FORM = {
    "time": {"column": "s"},
    "current": {"column": "A", "on": "shunt"},
    "voltage": {"column": "V", "on": "meter"},
    "battery_c": {"column": "C", "on": "probe"},
    "ambient_c": {"column": "air C", "on": "probe"},
    "interval_s": 10,
}
INSTRUMENTS = {
    "shunt": {"measures": "current", "of_reading": "0.4 %"},
    "meter": {"measures": "voltage", "of_reading": "0.1 %"},
    "probe": {"measures": "temperature", "offset": 0.3, "step": 0.1},
    "plug": {"measures": "power", "of_reading": "2 %"},
}
BENCH = bench(instruments=INSTRUMENTS, log=FORM)
HEAT, LOSS, MASS = 11_000.0, 2.0, 11.0


def heated(
    power_w: float = 90.0, air_c: float = -10.0, start_c: float = -10.0, heat_s: float = 3000.0, rest_s: float = 600.0
) -> Log:
    """Ten minutes idle, then a heater's current, then 20 A of charge for as long as is left."""
    time = np.arange(0, 600 + heat_s + rest_s, 10.0)
    heating = (time >= 600) & (time < 600 + heat_s)
    current = np.where(heating, power_w / 14.4, np.where(time < 600, 0.0, 20.0))
    warm = [temperature_c(min(max(t - 600, 0), heat_s), start_c, air_c, power_w, HEAT, LOSS) for t in time]
    one = log(time, -current, 14.4)
    one.columns["battery_c"] = np.array(warm)
    return one


def of(one: Log | None, mass_kg: float | None = MASS, on: Bench | None = BENCH, **more: Any) -> OneResult:
    plain = {"kind": "cold_charge", "charger": {"set_v": 14.4, "set_a": 20}, "ambient_c": -10}
    test = ColdChargeTest.model_validate(plain | more)
    return cold_charge(test, one, setting(on), LABEL, mass_kg)


# --- power, time, energy ---------------------------------------------------------------------------------------------
def test_power_time_and_energy_of_the_heating_phase() -> None:
    metrics = of(heated()).metrics
    assert metrics["heater_w"].value == pytest.approx(90)
    # It came on and went off somewhere between two rows: 3 000 s, each end ± 5 s.
    assert metrics["heating_s"].value == pytest.approx(3000)
    assert metrics["heating_s"].u == pytest.approx(math.sqrt(2) * 5 / math.sqrt(3))
    assert metrics["heater_wh"].value == pytest.approx(75)
    assert metrics["heater_w"].components["gain:by-hand/shunt"].u == pytest.approx(90 * 0.004 / math.sqrt(3))


def test_still_heating_at_the_end_it_took_at_least_that() -> None:
    result = of(heated(rest_s=0.0))
    assert result.cannot == (NOT_REACHED,)
    assert [result.metrics[name].bound for name in ("heating_s", "heater_wh", "heater_w")] == [
        "at_least",
        "at_least",
        "exact",
    ]
    assert "standard_warm_up_s" not in result.metrics


@pytest.mark.parametrize(
    "one", [None, heated(heat_s=0.0, rest_s=1200), heated(heat_s=40.0)], ids=["none", "no", "short"]
)
def test_without_a_heating_phase_it_says_what_it_would_take(one: Log | None) -> None:
    result = of(one, heater_w=88)
    assert result.metrics["heater_w"].value == 88
    assert "heating_s" not in result.metrics
    assert (NO_PHASE in result.cannot) == (one is not None)
    assert "it would take" in NO_PHASE


def test_a_log_without_a_voltage_has_no_power() -> None:
    one = heated()
    del one.columns["voltage"]
    assert "heater_w" not in of(one).metrics
    assert of(one, heater_w=88).metrics["heater_w"].value == 88


# --- the model -------------------------------------------------------------------------------------------------------
def test_a_lump_seen_without_errors_is_told_within_its_interval() -> None:
    """The closed form for 11 kJ/K, 2 W/K and 90 W from −10 °C to where this log resumes."""
    result = of(heated())
    resumes = float(heated().columns["battery_c"][-1])
    truth = -HEAT / LOSS * math.log((resumes + 10 - 45) / -45)
    found = result.metrics["standard_warm_up_s"]
    assert result.cannot == ()
    assert found.value == pytest.approx(truth, rel=0.02)
    assert found.lowest < truth < found.highest
    assert result.metrics["room_share"].value < 0
    assert found.basis == "projected"


@pytest.mark.parametrize("missing", ["temperature", "mass", "air", "open air"])
def test_without_temperature_mass_or_air_it_says_what_it_would_take(missing: str) -> None:
    one = heated()
    if missing == "temperature":
        del one.columns["battery_c"]
    more: dict[str, Any] = {"ambient_c": {"air": None, "open air": "under 0"}.get(missing, -10)}
    result = of(one, mass_kg=None if missing == "mass" else MASS, **more)
    assert result.cannot == (NO_MODEL,)
    assert "it would take" in NO_MODEL
    assert "heater_w" in result.metrics


def test_rows_without_a_temperature_are_left_out() -> None:
    one = heated()
    one.columns["battery_c"][70:90] = np.nan
    assert of(one).metrics["standard_warm_up_s"].value == pytest.approx(
        of(heated()).metrics["standard_warm_up_s"].value, rel=0.01
    )


def test_logged_air_goes_before_what_was_said_of_it() -> None:
    one = heated()
    one.columns["ambient_c"] = np.full(len(one.time_s), -10.0)
    said, logged = of(heated()), of(one, ambient_c=30)
    for name in ("loss_w_per_k", "standard_warm_up_s"):
        assert logged.metrics[name].value == pytest.approx(said.metrics[name].value, rel=1e-3)


def test_air_that_was_only_guessed_at_makes_the_interval_wider() -> None:
    exact, about = of(heated()), of(heated(), ambient_c="-15 to -5")
    assert about.metrics["loss_w_per_k"].u > exact.metrics["loss_w_per_k"].u
    assert about.metrics["standard_warm_up_s"].u > 1.3 * exact.metrics["standard_warm_up_s"].u


def test_other_air_than_the_standards_shows_another_temperature_on_the_case() -> None:
    """Cells heated from inside lead the case by up to a fifth of its rise above the air: 8 K colder, 0.8 ± 0.8 K."""
    result = of(heated(power_w=140, air_c=-18, start_c=-18), ambient_c=-18)
    found = result.metrics["standard_warm_up_s"]
    resumes = float(heated(power_w=140, air_c=-18, start_c=-18).columns["battery_c"][-1])
    rate = (140 - LOSS * (resumes + 10)) / HEAT
    assert abs(found.components["lag:checked/run"].u) == pytest.approx(0.8 / rate / math.sqrt(3), rel=0.1)
    assert "lag:checked/run" in of(heated()).metrics["standard_warm_up_s"].components


# --- instead of a number ---------------------------------------------------------------------------------------------
def test_a_heater_that_would_never_get_there() -> None:
    """In a room at 20 °C a heater of 20 W does; in air at −10 °C it holds at most 0 °C."""
    result = of(heated(power_w=20, air_c=20, start_c=-10, heat_s=5400), ambient_c=20)
    (word,) = result.cannot
    assert word.startswith("never: its heater's 20 W do not reach")
    assert "standard_warm_up_s" not in result.metrics


def test_where_the_interval_is_too_wide_it_needs_a_stretch_with_the_heater_off() -> None:
    result = of(heated(air_c=15, start_c=-14, heat_s=1800), ambient_c=15)
    assert result.cannot == (STRETCH,)
    assert "it would take" in STRETCH


def test_one_that_resumes_below_the_standards_start_has_nothing_to_warm() -> None:
    result = of(heated(start_c=-25, air_c=-25, heat_s=900), ambient_c=-25)
    assert NOTHING_TO_WARM in result.cannot
    assert "standard_warm_up_s" not in result.metrics


def test_a_thermometer_that_nobody_named_may_be_off_by_more() -> None:
    named, unnamed = of(heated()).metrics, of(heated(), on=None).metrics
    assert unnamed["heater_w"].expanded is None
    assert unnamed["loss_w_per_k"].u > named["loss_w_per_k"].u
