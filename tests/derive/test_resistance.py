"""Resistance: pulses in a log or read by hand, what belongs to them, and what cannot give one."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from site_builder.bench_tests import ResistanceTest
from site_builder.derive.resistance import (
    NO_STEP,
    OPEN_ENDED,
    ROSE,
    SENSED_AWAY,
    current_at_power_a,
    power_at_end_voltage_w,
    pulses_in,
    resistance,
)
from site_builder.derive.results import OneResult
from site_builder.measured import Component, Measured
from site_builder.records import Label
from site_builder.series import Log
from tests.logs_by_hand import bench, log, setting

LABEL = Label.model_validate({"chemistry": "LiFePO4", "nominal_v": 12.8, "capacity_ah": 100})
PAIR = ((20, 13.10, 10), (100, 12.94, 1))


def of(*rows: tuple[Any, Any, Any], one: Log | None = None, on: Any = None, **more: Any) -> OneResult:
    readings = [{"current_a": amps, "voltage_v": volts, "after_s": after} for amps, volts, after in rows]
    test = ResistanceTest.model_validate({"kind": "resistance", "readings": readings} | more)
    return resistance(test, one, setting(on), LABEL)


def milliohm(result: OneResult) -> Measured:
    return result.metrics["dc_resistance_milliohm"]


# --- hand-read pairs -------------------------------------------------------------------------------------------------
def test_pulse_times_charge_and_temperature_belong_to_the_result() -> None:
    result = of(*PAIR, soc="80 %", battery_c=22)
    assert result.conditions == ("10 s at 20 A, then 1 s at 100 A", "at 80 % charge", "at 22 °C")
    assert of((20, 13.1, None), (100, 12.94, None)).conditions == ("20 A, then 100 A",)


def test_pulses_that_differ_are_all_named() -> None:
    result = of((20, 13.10, 10), (100, 12.94, 1), (20, 13.08, 30), (100, 12.90, 5))
    assert result.conditions == ("10 s at 20 A, then 1 s at 100 A", "30 s at 20 A, then 5 s at 100 A")
    assert milliohm(result).value == pytest.approx((2.0 + 2.25) / 2)


def test_readings_in_any_order_give_the_largest_step() -> None:
    result = of((100, 12.94, 1), (20, 13.10, 10))
    assert milliohm(result).value == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("rows", "why"),
    [
        ((), NO_STEP),
        (((20, 13.1, 10),), NO_STEP),
        (((20, 13.1, 10), (20, 13.1, 10)), NO_STEP),
        (((20, 13.1, 10), (21, 13.09, 10)), NO_STEP),
        (((20, 13.1, 10), ("over 100", 12.94, 1)), OPEN_ENDED),
        (((20, "under 13.2", 10), (100, 12.94, 1)), OPEN_ENDED),
        (((20, 12.94, 10), (100, 13.10, 1)), ROSE),
        (((20, 13.0, 10), (100, 13.0, 1)), ROSE),
    ],
)
def test_without_a_usable_step_it_says_what_it_would_take(rows: tuple[Any, ...], why: str) -> None:
    result = of(*rows)
    assert result.cannot == (why,)
    assert "it would take" in why
    assert result.metrics == {}


def test_a_sense_point_away_from_the_terminals_is_taken_off_or_leaves_it_open() -> None:
    known = of(*PAIR, sense={"at": "shunt", "resistance_milliohm": "0.5 to 0.7"})
    assert milliohm(known).value == pytest.approx(1.4)
    assert milliohm(known).components["lead:checked/run"].limit == pytest.approx(0.1)
    unknown = of(*PAIR, sense={"at": "inverter"})
    assert (milliohm(unknown).bound, unknown.reasons) == ("at_most", (SENSED_AWAY,))
    assert of(*PAIR, sense={"at": "terminals"}).reasons == ()
    assert of(*PAIR, sense={"at": "shunt", "resistance_milliohm": 3}).cannot == (ROSE,)


def test_of_several_batteries_together_it_is_that_of_one() -> None:
    """Two in series have twice the resistance, two in parallel half of it: Kirchhoff."""
    assert milliohm(of(*PAIR, arrangement={"series": 2})).value == pytest.approx(1.0)
    assert milliohm(of(*PAIR, arrangement={"parallel": 2})).value == pytest.approx(4.0)
    assert of(*PAIR, arrangement={"series": 2}).metrics["open_circuit_v"].value == pytest.approx(13.14 / 2)


def test_gain_and_offset_are_the_same_error_at_both_ends() -> None:
    """Offsets cancel in the differences; a gain of the voltage is in R, and one of the current too, the other way."""
    on = bench({"of_reading": "1 %", "offset": 0.5}, {"of_reading": "0.2 %", "offset": 0.05})
    found = milliohm(of(*PAIR, on=on))
    sources = {name.split(":")[0]: one.u for name, one in found.components.items() if abs(one.u) > 1e-12}
    assert sources.keys() == {"gain", "repeat"}
    assert found.components["gain:by-hand/shunt"].u == pytest.approx(-2.0 * 0.01 / math.sqrt(3))
    assert found.components["gain:by-hand/meter"].u == pytest.approx(2.0 * 0.002 / math.sqrt(3))
    assert found.components["repeat:checked/run/resistance"].u == pytest.approx(0.03 * 2.0)


def test_without_an_instrument_it_is_as_read() -> None:
    found = milliohm(of(*PAIR))
    assert (found.basis, found.expanded) == ("as_read", None)


def test_what_a_1_khz_meter_showed_stands_apart() -> None:
    both = of(*PAIR, meter_milliohm=1.2)
    assert both.metrics["ac_resistance_milliohm"].value == 1.2
    assert milliohm(both).value == pytest.approx(2.0)
    alone = of(meter_milliohm=1.2)
    assert (list(alone.metrics), alone.cannot) == (["ac_resistance_milliohm"], ())


def test_sag_needs_a_rated_current() -> None:
    assert "sag_v" not in of(*PAIR).metrics
    claims = {"chemistry": "LiFePO4", "nominal_v": 12.8, "capacity_ah": 100, "continuous_discharge_a": 100}
    readings = [{"current_a": amps, "voltage_v": volts} for amps, volts, _ in PAIR]
    test = ResistanceTest.model_validate({"kind": "resistance", "readings": readings})
    found = resistance(test, None, setting(None), Label.model_validate(claims)).metrics["sag_v"]
    assert found.value == pytest.approx(0.2)


# --- logs ------------------------------------------------------------------------------------------------------------
def stepped_log(*, step_a: float = 80.0, settle_s: int = 30, interval: float = 1.0, noise_v: float = 0.0) -> Log:
    """20 A, then a step for 10 s, three times over; 2 mΩ and 13.14 V without current."""
    once = np.concatenate((np.full(settle_s, 20.0), np.full(10, 20.0 + step_a)))
    current = np.tile(once, 3)
    chance = np.random.default_rng(7)
    volts = 13.14 - 0.002 * current + chance.normal(0, noise_v, len(current))
    return log(np.arange(len(current)) * interval, current, volts, interval_s=interval)


def test_every_pulse_of_a_log_counts() -> None:
    result = of(one=stepped_log())
    assert milliohm(result).value == pytest.approx(2.0)
    assert result.conditions == ("3 pulses, each 1 s after a step from 20 to 100 A",)


@pytest.mark.parametrize("change", [{"step_a": 14.0}, {"settle_s": 3}, {"step_a": 0.0}])
def test_a_small_or_hasty_step_is_no_pulse(change: dict[str, Any]) -> None:
    """Less than 0.15 I_t, or after less than 5 s of a steady current."""
    one = stepped_log(**change)
    assert pulses_in(one, 100) == []
    assert of(one=one).cannot == (NO_STEP,)


def test_a_log_without_a_pulse_leaves_the_readings() -> None:
    assert milliohm(of(*PAIR, one=stepped_log(step_a=0.0))).value == pytest.approx(2.0)


def test_noise_of_the_rows_is_in_the_interval() -> None:
    """One row after the step is 5 mV off, over 80 A and three pulses: 0.005/80/√3."""
    on = bench(meter={"of_reading": "0.1 %"})
    found = milliohm(of(one=stepped_log(noise_v=0.005, settle_s=300), on=on))
    assert found.components["noise:checked/run/pulses"].u == pytest.approx(1000 * 0.005 / 80 / math.sqrt(3), rel=0.1)
    assert found.value == pytest.approx(2.0, abs=3 * found.u)


def test_a_log_without_voltage_gives_none() -> None:
    assert of(one=log(np.arange(100.0), 20.0)).cannot == (NO_STEP,)


# --- what follows ----------------------------------------------------------------------------------------------------
def test_beyond_the_most_a_battery_can_give_there_is_no_current() -> None:
    assert math.isinf(current_at_power_a(12_000, 13.2, 4.0))
    assert current_at_power_a(1320, 13.2, 0.0) == pytest.approx(100)


def test_power_at_the_end_voltage_carries_its_sources() -> None:
    open_v = Measured(value=13.2, unit="V", components={"a": Component(0.01)})
    ohm = Measured(value=4.0, unit="mΩ", components={"b": Component(0.1)})
    found = power_at_end_voltage_w(open_v, ohm, 10.0)
    assert found.value == pytest.approx(8000)
    assert found.components["a"].u == pytest.approx(25)
    assert found.components["b"].u == pytest.approx(-200)
