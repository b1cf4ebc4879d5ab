"""Resistance and sag against arithmetic that a reader can redo, and against a simulated cell.

PyBaMM (V. Sulzer et al., Journal of Open Research Software 9 (2021) 14): single-particle model, parameters of E. Prada
et al., J. Electrochem. Soc. 160 (2013) A616, 298 K, at half charge: 0.2 I_t for 10 s, then 1 I_t for 1 s, which are the
pulses of IEC 61960-3. export_pybamm.py makes the log anew.
"""

from __future__ import annotations

import numpy as np
import pytest

from site_builder.bench_tests import ResistanceTest
from site_builder.derive.resistance import current_at_power_a, power_at_end_voltage_w, resistance, sag_v
from site_builder.derive.results import OneResult
from site_builder.measured import exact
from site_builder.records import Label
from site_builder.series import Log
from tests.external import export_pybamm
from tests.logs_by_hand import log, setting

LABEL = Label.model_validate(
    {"chemistry": "LiFePO4", "nominal_v": 12.8, "capacity_ah": 100, "continuous_discharge_a": 130}
)
CELL = Label.model_validate({"chemistry": "LiFePO4", "nominal_v": 3.2, "capacity_ah": export_pybamm.NOMINAL_AH})


def of_readings(*readings: tuple[float, float, float], label: Label = LABEL) -> OneResult:
    """R from hand-read current, voltage and seconds."""
    rows = [{"current_a": amps, "voltage_v": volts, "after_s": seconds} for amps, volts, seconds in readings]
    test = ResistanceTest.model_validate({"kind": "resistance", "readings": rows})
    return resistance(test, None, setting(None), label)


def test_two_voltages_under_two_currents() -> None:
    """R = (13.10 V − 12.94 V)/(100 A − 20 A) = 2.0 mΩ. The formula of IEC 61960-3; the numbers are arithmetic."""
    result = of_readings((20, 13.10, 10), (100, 12.94, 1))
    assert result.metrics["dc_resistance_milliohm"].value == pytest.approx(2.0)
    assert result.metrics["open_circuit_v"].value == pytest.approx(13.14)
    assert result.conditions == ("10 s at 20 A, then 1 s at 100 A",)


def test_the_sag_from_20_to_150_a() -> None:
    """ΔU = 130 A · 2.0 mΩ = 0.26 V. Ohm's law."""
    result = of_readings((20, 13.10, 10), (100, 12.94, 1))
    assert sag_v(result.metrics["dc_resistance_milliohm"], 150 - 20).value == pytest.approx(0.26)
    assert result.metrics["sag_v"].value == pytest.approx(0.26)


def test_a_pulse_pair_of_a_simulated_cell() -> None:
    """Voltages at the ends of its pulses, 1.84 A apart; their seventh digit is worth 5e-5 mΩ."""
    result = of_readings((0.46, 3.2493981, 10), (2.30, 3.2004014, 1), label=CELL)
    assert result.metrics["dc_resistance_milliohm"].value == pytest.approx(26.62867, abs=6e-5)


def cell_log() -> Log:
    """The simulated pulse as a log with one row a second; of two rows at the step the first counts."""
    time, current, voltage = np.loadtxt(export_pybamm.FOLDER / "pulse.csv", delimiter=",", skiprows=1).T
    once = np.concatenate(([True], np.diff(time) > 0))
    return log(time[once], current[once], voltage[once], interval_s=1.0)


def test_the_same_pulse_found_in_its_log() -> None:
    """The voltage before the step is the mean of its last five seconds, which costs 0.1 % here."""
    result = resistance(ResistanceTest(kind="resistance"), cell_log(), setting(None), CELL)
    assert result.metrics["dc_resistance_milliohm"].value == pytest.approx(26.62867, rel=1.5e-3)
    assert result.conditions == ("1 s after a step from 0.46 to 2.3 A",)


@pytest.mark.parametrize("power_w", [60.0, 600.0, 2500.0])
def test_current_for_a_power_solves_the_circuit(power_w: float) -> None:
    """P = I(U − I·R), the circuit of a source with an inner resistance; numpy's roots as second opinion."""
    roots = np.roots([-0.004, 13.3, -power_w])
    assert current_at_power_a(power_w, 13.3, 4.0) == pytest.approx(float(roots.min()), rel=1e-12)


def test_most_power_is_at_half_the_open_voltage() -> None:
    """The maximum power transfer theorem: U²/(4R), at U/2."""
    most = power_at_end_voltage_w(exact(12.0, "V"), exact(4.0, "mΩ"), 6.0)
    assert most.value == pytest.approx(12.0**2 / (4 * 0.004))
    near = [power_at_end_voltage_w(exact(12.0, "V"), exact(4.0, "mΩ"), end).value for end in (5.9, 6.1)]
    assert max(near) < most.value
