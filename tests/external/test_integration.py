"""Charge and energy from logs against sums that anybody can check, and against scipy."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy import integrate as scipy_integrate

from site_builder.derive.discharge_log import discharge
from site_builder.derive.integrate import integral, steps_of
from site_builder.measured import Measured
from tests.logs_by_hand import bench, capacity_test, log, setting


def charge_ah(one: Measured | None) -> float:
    assert one is not None
    return one.value


def test_an_irregular_log_by_hand() -> None:
    """Trapezoids by hand: 30 + 40 + 210 + 50 + 180 A·s."""
    uneven = log([0, 10, 20, 50, 60, 120], [2, 4, 4, 10, 0, 6], 10.0, interval_s=30)
    assert integral(uneven, uneven.columns["current"], steps_of(uneven)).value == pytest.approx(510, rel=1e-14)
    seen = discharge(uneven, capacity_test(), setting(bench()))
    assert charge_ah(seen.charge) == pytest.approx(510 / 3600, rel=1e-14)
    assert charge_ah(seen.energy) == pytest.approx(5100 / 3600, rel=1e-14)


@pytest.mark.parametrize(
    ("rows", "energy_wh"),
    [
        (100_001, 193.333),  # ∫(13.6 - 1.6x)(20 - 10x)dx over one hour: 272 - 84 + 16/3 = 193.333… Wh
        (2, 196.0),  # one trapezoid: (13.6·20 + 12.0·10)/2
    ],
)
def test_energy_of_two_ramps(rows: int, energy_wh: float) -> None:
    """Energy is integrated as V·I: two rows an hour apart overstate it by 1.4 %."""
    time = np.linspace(0, 3600, rows)
    ramps = log(time, 20 - time / 360, 13.6 - 1.6 * time / 3600, interval_s=3600)
    assert charge_ah(discharge(ramps, capacity_test(), setting(bench())).energy) == pytest.approx(energy_wh, abs=0.0005)


def test_random_irregular_logs_as_scipy_has_them(count: Callable[[int, int], int]) -> None:
    for seed in range(count(100, 1000)):
        chance = np.random.default_rng(seed)
        rows = int(chance.integers(2, 3000))
        time = np.cumsum(chance.exponential(5.0, rows) + 0.001)
        current, voltage = chance.normal(20, 15, rows), chance.uniform(9, 14, rows)
        uneven = log(time, current, voltage, interval_s=1000)
        steps = steps_of(uneven)
        assert not len(steps.gap_at)
        for signal in (current, current * voltage):
            ours = integral(uneven, signal, steps).value
            theirs = scipy_integrate.trapezoid(signal, time)
            assert ours == pytest.approx(float(theirs), rel=1e-11, abs=1e-7), seed


def test_a_log_that_holds_its_values_integrates_as_steps() -> None:
    """By hand: 3 A for 100 s, 1 A for 20 s, nothing afterwards."""
    steps = log([0, 100, 120, 500], [3, 1, 0, 0], 12.0, hold="previous", heartbeat_s=600)
    seen = discharge(steps, capacity_test(), setting(bench()))
    assert charge_ah(seen.charge) == pytest.approx(320 / 3600, rel=1e-14)
    assert charge_ah(seen.energy) == pytest.approx(12 * 320 / 3600, rel=1e-14)


def test_contributions_of_gain_offset_and_noise() -> None:
    """20 A for 5 h at 1 Hz; gain u 0.5 %, offset u 10 mA, noise 0.1 A a sample.

    By hand, in Ah: 0.5, 0.05 and 0.0037, together 0.5025, from 100 Ah·0.005; 5 h·0.01 A; 0.1 A·1 s·√18000/3600.
    """
    time = np.arange(5 * 3600 + 1.0)
    current = 20 + np.random.default_rng(1).normal(0, 0.1, len(time))
    shunt = {"of_reading": 0.005 * math.sqrt(3), "offset": 0.01 * math.sqrt(3)}
    seen = discharge(log(time, current, 12.8, interval_s=1), capacity_test(), setting(bench(shunt))).charge
    assert seen is not None
    assert seen.value == pytest.approx(100, abs=0.02)  # five standard deviations of the noise's sum
    u = {name.partition(":")[0]: component.u for name, component in seen.components.items()}
    assert u["gain"] == pytest.approx(0.5, rel=2e-4)
    assert u["offset"] == pytest.approx(0.05, rel=1e-9)
    assert u["noise"] == pytest.approx(0.0037, abs=0.0001)
    assert seen.u == pytest.approx(0.5025, abs=0.0001)


def test_a_slow_test_needs_a_good_zero() -> None:
    """By hand: a limit of 0.05 A over 20 h is ±1 Ah, u 0.58 Ah."""
    time = np.arange(0, 20 * 3600 + 1.0, 10)
    seen = discharge(log(time, 5.0, 12.8), capacity_test(), setting(bench({"offset": 0.05}))).charge
    assert seen is not None
    offset = next(component for name, component in seen.components.items() if name.startswith("offset"))
    assert offset.limit == pytest.approx(1.0, rel=1e-12)
    assert offset.u == pytest.approx(0.58, abs=0.005)


def test_a_lead_that_takes_its_share() -> None:
    """By hand: 5 mΩ at 20 A drop 0.1 V, 0.8 % of 12.5 V: to 5 h·20 A·12.5 V = 1250 Wh come 10 Wh more."""
    time = np.arange(0, 5 * 3600 + 1.0, 10)
    test = capacity_test(sense={"at": "shunt", "resistance_milliohm": 5})
    seen = discharge(log(time, 20.0, 12.5), test, setting(bench())).energy
    assert charge_ah(seen) == pytest.approx(1250 + 10, rel=1e-12)
