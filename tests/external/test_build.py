"""Cable and short circuit against the wire gauge's standard and an electrical code's table of conductors."""

from __future__ import annotations

import math

import pytest

from site_builder.derive.build_quality import energy_per
from site_builder.derive.wiring import (
    awg_area_mm2,
    awg_diameter_m,
    breaking_capacity_a,
    cable_drop_v,
    copper_ohm_per_m,
    fault_current_a,
)
from site_builder.measured import Component, Measured, exact

METRES_PER_KFT = 304.8
# NFPA 70 (NEC), chapter 9, table 8: solid uncoated copper, direct current, 75 °C; and half its last digit. [Ω/kft]
NEC_TABLE_8 = {14: (3.07, 0.005), 12: (1.93, 0.005), 10: (1.21, 0.005), 8: (0.764, 0.0005)}
# ASTM B258, table 1 (from memory): diameters in mils.
ASTM_MILS = {14: 64.1, 12: 80.8, 10: 101.9, 8: 128.5, 4: 204.3, 0: 324.9, -3: 460.0, 36: 5.0}


@pytest.mark.parametrize("gauge", ASTM_MILS)
def test_diameters_of_wire_gauges(gauge: int) -> None:
    assert awg_diameter_m(gauge) / 25.4e-6 == pytest.approx(ASTM_MILS[gauge], abs=0.06)


def test_39_gauges_are_a_factor_of_92() -> None:
    """ASTM B258: 0.46 in (4/0) and 0.005 in (36) are the ends, 39 equal ratios apart."""
    assert awg_diameter_m(-3) / awg_diameter_m(36) == pytest.approx(92)


@pytest.mark.parametrize("gauge", NEC_TABLE_8)
def test_resistance_of_solid_wire_at_75_degrees(gauge: int) -> None:
    per_kft = copper_ohm_per_m(awg_area_mm2(gauge), 75) * METRES_PER_KFT
    printed, rounding = NEC_TABLE_8[gauge]
    assert per_kft == pytest.approx(printed, abs=rounding)


def test_copper_at_20_degrees_is_the_international_standard() -> None:
    """IEC 60028: 1/58 Ω mm²/m at 20 °C, 0.00393 per kelvin."""
    assert copper_ohm_per_m(1.0) == pytest.approx(1 / 58, rel=1e-4)
    assert copper_ohm_per_m(1.0, 30) / copper_ohm_per_m(1.0, 20) == pytest.approx(1.0393)


def test_drop_of_a_cable_there_and_back() -> None:
    """100 A through 1.5 m of 8 AWG and back at 75 °C: 100 · 3 · 0.764/304.8 = 0.752 V, by the same table."""
    assert cable_drop_v(100, 1.5, awg_area_mm2(8), 75) == pytest.approx(100 * 3 * 0.764 / METRES_PER_KFT, rel=3e-3)


OPEN_V = Measured(value=13.2, unit="V", components={"offset": Component(0.01)})
OHM = Measured(value=2.0, unit="mΩ", components={"gain": Component(0.02)})


def test_fault_current_from_an_ohmic_resistance() -> None:
    """13.2 V over 2 mΩ: 6 600 A. Ohm's law; kiloamperes are common practice, no source."""
    found = fault_current_a(OPEN_V, OHM, ohmic=True)
    assert found.value == pytest.approx(6600)
    assert found.bound == "exact"
    assert found.u == pytest.approx(math.hypot(6600 * 0.01 / 13.2, 6600 * 0.01), rel=1e-9)
    assert breaking_capacity_a(found) == pytest.approx(6600 + 1.95996 * found.u, rel=1e-4)


def test_from_a_slower_pulse_it_is_more_than_that_and_a_fuse_is_chosen_for_three_times_it() -> None:
    found = fault_current_a(exact(13.2, "V"), exact(2.0, "mΩ"), ohmic=False)
    assert found.value == pytest.approx(6600)
    assert found.bound == "at_least"
    assert breaking_capacity_a(found) == pytest.approx(3 * 6600)


def test_batteries_in_parallel_each_add_their_own() -> None:
    """Kirchhoff: four of them give four times the current of one."""
    assert fault_current_a(OPEN_V, OHM, ohmic=True, in_parallel=4).value == pytest.approx(4 * 6600)


def test_energy_for_its_mass() -> None:
    """1 169 Wh in 10.4 kg: 112.4 Wh/kg. Arithmetic."""
    found = energy_per(exact(1169, "Wh"), exact(10.4, "kg"), "Wh/kg")
    assert found is not None
    assert found.value == pytest.approx(112.4, abs=0.05)
