"""A log → charge and energy: which error belongs to what, what opens a bound, and what is refused."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from site_builder.catalogue_records import Bench
from site_builder.derive.discharge_log import Discharge, discharge
from site_builder.measured import Component, Measured
from site_builder.series import Log
from tests.logs_by_hand import bench, capacity_test, log, setting

FIVE_HOURS = np.arange(0, 18_001.0, 10)
STEADY = log(FIVE_HOURS, 20.0, 12.5)


def known(one: Measured | None) -> Measured:
    assert one is not None
    return one


def source(one: Measured | None, word: str) -> Component:
    """The one component whose name starts with this word."""
    found = [part for name, part in known(one).components.items() if name.startswith(f"{word}:")]
    assert len(found) == 1, known(one).components
    return found[0]


def on(of: Bench | None, one: Log = STEADY, **test: object) -> Discharge:
    return discharge(one, capacity_test(**test), setting(of))


def test_steady_current() -> None:
    seen = on(bench())
    assert (known(seen.charge).value, known(seen.energy).value) == pytest.approx((100, 1250))
    assert (known(seen.charge).unit, known(seen.energy).unit) == ("Ah", "Wh")
    assert (seen.duration_s.value, seen.duration_s.unit) == (18_000, "s")
    assert (seen.reasons, seen.refused, seen.temperature_c) == ((), None, None)


def test_a_gain_is_one_error_for_charge_and_energy() -> None:
    seen = on(bench({"of_reading": "0.5 %"}))
    limit = 0.005
    assert source(seen.charge, "gain").limit == pytest.approx(100 * limit)
    assert source(seen.energy, "gain").limit == pytest.approx(1250 * limit)
    names = [{name for name in known(one).components if "gain" in name} for one in (seen.charge, seen.energy)]
    assert names == [{"gain:by-hand/shunt"}] * 2


def test_a_voltmeters_gain_is_another_error() -> None:
    energy = known(on(bench({"of_reading": "0.5 %"}, {"of_reading": "0.1 %"})).energy)
    assert {name for name in energy.components if "gain" in name} == {"gain:by-hand/shunt", "gain:by-hand/meter"}
    assert energy.components["gain:by-hand/meter"].limit == pytest.approx(1.25)


def test_an_offset_adds_up_over_time() -> None:
    seen = on(bench({"offset": 0.05}, {"offset": 0.01}))
    assert source(seen.charge, "offset").limit == pytest.approx(0.05 * 5)
    offsets = {name: part.limit for name, part in known(seen.energy).components.items() if "offset" in name}
    assert offsets == {
        "offset:checked/run/shunt": pytest.approx(0.05 * 5 * 12.5),
        "offset:checked/run/meter": pytest.approx(0.01 * 100),
    }


def test_limits_in_digits_and_of_range_are_offsets() -> None:
    shunt = {"of_range": "0.1 %", "range": 100, "digits": 2, "step": 0.01, "offset": 0.03}
    assert source(on(bench(shunt)).charge, "offset").limit == pytest.approx((0.1 + 0.02 + 0.03) * 5)


def test_a_bench_that_is_never_zeroed_shares_its_offset() -> None:
    charge = known(on(bench({"offset": 0.05}, zeroed="never")).charge)
    assert "offset:by-hand/shunt" in charge.components


def test_a_drift_with_temperature() -> None:
    shunt = {"per_k": "0.01 %"}
    cold = discharge(STEADY, capacity_test(), setting(bench(shunt), ambient_c=3.0))
    assert source(cold.charge, "drift").limit == pytest.approx(100 * 0.0001 * 20)
    warm = discharge(STEADY, capacity_test(), setting(bench(shunt), ambient_c=23.0))
    assert not any("drift" in name for name in known(warm.charge).components)


def test_a_display_step_that_nothing_stirs_does_not_average_out() -> None:
    assert source(on(bench({"step": 0.1})).charge, "step").u == pytest.approx(0.1 * 5 / math.sqrt(12))


# --- zero readings ---------------------------------------------------------------------------------------------------
def test_zero_readings_correct_and_limit() -> None:
    """Their mean comes off, half their difference is the new limit: -0.05 A and ±0.01 A over 5 h."""
    seen = on(bench({"offset": 0.5}), zero={"before_a": 0.04, "after_a": 0.06})
    assert known(seen.charge).value == pytest.approx(100 - 0.05 * 5)
    assert known(seen.energy).value == pytest.approx(1250 - 0.05 * 5 * 12.5)
    assert source(seen.charge, "offset").limit == pytest.approx(0.01 * 5)


def test_one_zero_reading_corrects_and_the_limit_stays() -> None:
    seen = on(bench({"offset": 0.5}), zero={"before_a": 0.04})
    assert known(seen.charge).value == pytest.approx(100 - 0.04 * 5)
    assert source(seen.charge, "offset").limit == pytest.approx(0.5 * 5)


def test_zero_readings_are_no_finer_than_half_a_step() -> None:
    seen = on(bench({"offset": 0.5, "step": 0.1}), zero={"before_a": 0.0, "after_a": 0.0})
    assert source(seen.charge, "offset").limit == pytest.approx(0.05 * 5)


def test_zero_readings_have_the_instruments_own_sign() -> None:
    """A clamp that counts charge as positive shows 0.1 A at nothing: it shows 0.1 A too little of a discharge."""
    form = {
        "time": {"column": "s"},
        "current": {"column": "A", "on": "shunt"},
        "voltage": {"column": "V", "on": "meter"},
        "positive": "charge",
        "interval_s": 10,
    }
    seen = on(bench(log=form), zero={"before_a": 0.1, "after_a": 0.1})
    assert known(seen.charge).value == pytest.approx(100 + 0.1 * 5)


# --- before and after the load ---------------------------------------------------------------------------------------
def test_a_logger_that_ran_on_all_night_changes_nothing() -> None:
    """Idle rows would stretch the duration, and with it the rate, and add the offset's drift."""
    rest = np.arange(1, 3001) * 10.0
    time = np.concatenate([FIVE_HOURS, 18_000 + rest, 48_000 + rest])
    current = np.concatenate([np.zeros(360), np.full(len(FIVE_HOURS) - 360, 20.0), np.full(len(rest) * 2, 0.01)])
    long = log(time, current, 12.5)
    short = log(time[359:1802], current[359:1802], 12.5)
    of = bench({"offset": 0.05, "step": 0.01})
    seen, cut = on(of, long), on(of, short)
    assert seen.duration_s.value == cut.duration_s.value == pytest.approx(14_420, abs=11)
    assert known(seen.charge) == known(cut.charge)


def test_pauses_between_loads_belong_to_the_run() -> None:
    current = np.where((FIVE_HOURS > 6000) & (FIVE_HOURS < 12_000), 0.0, 20.0)
    assert on(bench({"offset": 0.05}), log(FIVE_HOURS, current, 12.5)).duration_s.value == 18_000


def test_a_log_without_any_load_is_left_as_it_is() -> None:
    seen = on(bench({"offset": 0.05}), log(FIVE_HOURS, 0.02, 12.5))
    assert seen.duration_s.value == 18_000
    assert known(seen.charge).value == pytest.approx(0.1)


# --- gaps ------------------------------------------------------------------------------------------------------------
def holed(missing_s: float, after_s: float = 6000, current: float = 20.0) -> Log:
    """A steady run in which the logger dropped out for some time."""
    time = FIVE_HOURS
    kept = (time <= after_s) | (time >= after_s + missing_s)
    return log(time[kept], current, 12.5)


def test_a_small_gap_is_counted_with_its_limits() -> None:
    seen = on(bench(), holed(600))
    assert known(seen.charge).value == pytest.approx(100)
    assert known(seen.charge).bound == "exact"
    assert source(seen.charge, "gaps").limit == pytest.approx(0.01 * 20 * 600 / 3600)


def test_a_large_gap_makes_it_at_least_and_counts_nothing() -> None:
    """1,000 of 18,000 s are 5.6 %."""
    seen = on(bench(), holed(1000))
    for one, whole in ((seen.charge, 100), (seen.energy, 1250)):
        assert known(one).bound == "at_least"
        assert known(one).value == pytest.approx(whole * 17 / 18)
        assert not any("gaps" in name for name in known(one).components)
    assert seen.reasons


def test_a_large_gap_in_a_current_that_reverses_is_refused() -> None:
    turned = holed(1000)
    current = turned.columns["current"].copy()
    current[-60:] = -5.0
    seen = on(bench(), replace(turned, columns=turned.columns | {"current": current}))
    assert (seen.charge, seen.energy, seen.curve) == (None, None, None)
    assert seen.refused


# --- what the test says beside ---------------------------------------------------------------------------------------
def test_without_a_bench_nothing_has_an_uncertainty() -> None:
    seen = on(None)
    assert known(seen.charge).basis == known(seen.energy).basis == "as_read"
    assert known(seen.charge).expanded is None


def test_a_log_without_voltage_has_charge_alone() -> None:
    seen = on(bench(), log(FIVE_HOURS, 20.0))
    assert known(seen.charge).value == pytest.approx(100)
    assert (seen.energy, seen.curve) == (None, None)


def test_batteries_in_parallel_and_series_share() -> None:
    seen = on(bench({"of_reading": "0.5 %"}), arrangement={"parallel": 2, "series": 4})
    assert known(seen.charge).value == pytest.approx(50)
    assert known(seen.energy).value == pytest.approx(1250 / 8)
    assert source(seen.charge, "gain").limit == pytest.approx(0.25)
    assert seen.curve is not None
    assert seen.curve[1].max() == pytest.approx(12.5 / 4)
    assert seen.curve[0].max() == pytest.approx(50)


def test_a_lead_of_unknown_resistance_opens_the_energy() -> None:
    energy = on(bench(), sense={"at": "inverter"}).energy
    assert known(energy).bound == "at_least"
    assert known(energy).value == pytest.approx(1250)


@pytest.mark.parametrize(("stated", "limit"), [("5", 0.5), ("4 to 6", 1.0), ("about 5", 0.5)])
def test_a_leads_resistance_has_its_own_limit(stated: str, limit: float) -> None:
    """5 mΩ·(20 A)²·5 h = 10 Wh; a plain number is good to half its last digit."""
    energy = on(bench(), sense={"at": "lead end", "resistance_milliohm": stated}).energy
    assert known(energy).value == pytest.approx(1260)
    assert source(energy, "lead").limit == pytest.approx(2 * limit)


def test_sensing_at_the_terminals_changes_nothing() -> None:
    assert known(on(bench(), sense={"at": "terminals"}).energy).value == pytest.approx(1250)


def test_the_batterys_mean_temperature() -> None:
    warm = np.linspace(20, 24, len(FIVE_HOURS))
    warm[100:200] = np.nan
    with_probe = replace(STEADY, columns=STEADY.columns | {"battery_c": warm})
    instruments = {
        "shunt": {"measures": "current"},
        "meter": {"measures": "voltage"},
        "probe": {"measures": "temperature", "offset": 0.5},
    }
    seen = on(bench(instruments=instruments), with_probe).temperature_c
    assert known(seen).value == pytest.approx(22, abs=0.2)
    assert source(seen, "offset").limit == 0.5
    off = replace(STEADY, columns=STEADY.columns | {"battery_c": np.full(len(FIVE_HOURS), np.nan)})
    assert on(bench(), off).temperature_c is None


def test_the_curve_runs_from_full_to_empty() -> None:
    falling = log(FIVE_HOURS, 20.0, 13.5 - FIVE_HOURS / 18_000)
    curve = on(bench(), falling).curve
    assert curve is not None
    charge_ah, volts = curve
    assert (charge_ah[0], charge_ah[-1]) == (0, pytest.approx(100))
    assert (volts[0], volts[-1]) == (13.5, 12.5)
    np.testing.assert_allclose(volts, 13.5 - charge_ah / 100, atol=1e-9)
