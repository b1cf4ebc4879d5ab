"""Efficiency against arithmetic, and against a cycle of a simulated cell that ends in the state in which it starts.

PyBaMM (V. Sulzer et al., Journal of Open Research Software 9 (2021) 14): single-particle model, parameters of E. Prada
et al., J. Electrochem. Soc. 160 (2013) A616, 298 K, 0.2 I_t between 2.5 and 3.6 V with an hour's rest at either end;
export_pybamm.py makes the logs anew. The model has no side reaction: what went in comes out.
"""

from __future__ import annotations

import gzip
from typing import Any

import numpy as np
import pytest

from site_builder.bench_tests import ChargeTest
from site_builder.derive.capacity import capacity
from site_builder.derive.charging import charge
from site_builder.derive.results import OneResult
from site_builder.records import Label
from site_builder.series import Log
from tests.external import export_pybamm
from tests.logs_by_hand import bench, capacity_test, log, setting

# Out [Ah, Wh] and in, integrated by PyBaMM itself at its own time steps: rtol 1e-8, atol 1e-10.
OUT, IN = (2.17406, 6.94782), (2.17406, 7.10061)
# What sampling every 10 s costs, the steep ends included.
SAMPLING = 5e-5
LABEL = Label.model_validate({"chemistry": "LiFePO4", "nominal_v": 3.2, "capacity_ah": export_pybamm.NOMINAL_AH})
AMPERES = {"measures": "current", "of_reading": "0.5 %"}
BENCH = bench(AMPERES, {"of_reading": "0.1 %"})


def cycle_log(name: str) -> Log:
    """One of the two logs; of two rows at one time, where PyBaMM changes its step, the first counts."""
    text = gzip.decompress((export_pybamm.FOLDER / name).read_bytes()).decode()
    time, current, voltage = np.loadtxt(text.splitlines(), delimiter=",", skiprows=1).T
    once = np.concatenate(([True], np.diff(time) > 0))
    return log(time[once], current[once], voltage[once], interval_s=export_pybamm.SAMPLE_S)


def refill(one: Log | None, before: OneResult, **more: Any) -> OneResult:
    test = ChargeTest.model_validate({"kind": "charge", "after": "run"} | more)
    return charge(test, one, setting(BENCH, test="refill"), before)


@pytest.fixture(scope="module")
def discharged() -> OneResult:
    return capacity(capacity_test(battery_c=25), cycle_log(export_pybamm.CYCLE_FILES[0]), setting(BENCH), LABEL)


@pytest.fixture(scope="module")
def charged(discharged: OneResult) -> OneResult:
    return refill(cycle_log(export_pybamm.CYCLE_FILES[1]), discharged)


def test_what_went_in_and_came_out_is_the_simulators(discharged: OneResult, charged: OneResult) -> None:
    for name, given in zip(("delivered_ah", "delivered_wh"), OUT, strict=True):
        assert discharged.metrics[name].value == pytest.approx(given, rel=SAMPLING)
    for name, given in zip(("charged_ah", "charged_wh"), IN, strict=True):
        assert charged.metrics[name].value == pytest.approx(given, rel=SAMPLING)


def test_efficiencies_of_the_cycle(charged: OneResult) -> None:
    """Charge 1.0000, energy 0.97848; a shared gain of 0.5 % and 0.1 % leaves them alone."""
    assert charged.metrics["charge_efficiency"].value == pytest.approx(OUT[0] / IN[0], abs=SAMPLING)
    assert charged.metrics["energy_efficiency"].value == pytest.approx(OUT[1] / IN[1], abs=SAMPLING)
    for name in ("charge_efficiency", "energy_efficiency"):
        shared = [one.u for key, one in charged.metrics[name].components.items() if key.startswith("gain:")]
        assert sum(abs(u) for u in shared) < 1e-9
    assert charged.findings == ()


def test_the_largest_current_and_the_tail(charged: OneResult) -> None:
    """Charged at 0.46 A, and at 3.6 V until a tenth of that."""
    assert charged.metrics["max_current_a"].value == pytest.approx(0.46, abs=1e-6)
    assert charged.metrics["tail_a"].value == pytest.approx(0.046, rel=0.02)


def test_eleven_in_ten_out() -> None:
    """10 Wh/11 Wh = 90.9 %. Arithmetic."""
    instruments = {"counter": {"measures": "energy", "of_reading": "1 %"}}
    on = bench(instruments=instruments)
    label = Label.model_validate({"chemistry": "LiFePO4", "nominal_v": 12.8, "capacity_ah": 1})
    before = capacity(capacity_test(counted_wh=10), None, setting(on), label)
    test = ChargeTest.model_validate({"kind": "charge", "after": "run", "counted_wh": 11})
    found = charge(test, None, setting(on, test="refill"), before)
    assert found.metrics["energy_efficiency"].value == pytest.approx(0.909, abs=5e-4)
    assert found.metrics["energy_efficiency"].u == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize("name", export_pybamm.CYCLE_FILES)
def test_the_logs_are_small(name: str) -> None:
    assert (export_pybamm.FOLDER / name).stat().st_size < 30_000


@pytest.mark.oracle
def test_pybamm_still_gives_this_cycle() -> None:
    for name, text in zip(export_pybamm.CYCLE_FILES, export_pybamm.cycled(), strict=True):
        kept = gzip.decompress((export_pybamm.FOLDER / name).read_bytes()).decode()
        now, then = (np.loadtxt(one.splitlines(), delimiter=",", skiprows=1) for one in (text, kept))
        assert now.shape == then.shape
        np.testing.assert_allclose(now, then, rtol=1e-6, atol=2e-4)
