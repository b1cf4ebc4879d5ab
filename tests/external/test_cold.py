"""The thermal lump against handbook numbers, an independent solver, and truths that a single lump cannot show."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from site_builder.bench_tests import ColdChargeTest
from site_builder.derive.cold_charge import SAFETY, charge_limit_c, cold_charge
from site_builder.derive.readings import Setting
from site_builder.derive.results import OneResult
from site_builder.derive.thermal import Warming, simulated_c, temperature_c, warm_up_s
from site_builder.measured import exact
from site_builder.records import Label
from site_builder.series import Array
from tests.logs_by_hand import bench, log

# A battery of 12 kg at 1000 J/(kg K), losing 1.5 W/K, with a heater of 60 W. Round numbers; the formula is Çengel's.
CAPACITY, LOSS, HEATER = 12_000.0, 1.5, 60.0


# --- handbook numbers ------------------------------------------------------------------------------------------------
def test_a_warm_up_from_minus_10_to_plus_8() -> None:
    """4 782.70 s and 79.712 Wh: first-order balance, Çengel, Heat and Mass Transfer, "Lumped system analysis"."""
    seconds = warm_up_s(-10, 8, -10, HEATER, CAPACITY, LOSS)
    assert seconds == pytest.approx(4782.70, abs=0.01)
    assert HEATER * seconds / 3600 == pytest.approx(79.712, abs=1e-3)


def test_without_losses_the_heat_only_fills_the_capacity() -> None:
    """C·ΔT/P = 12 000·18/60 = 3 600 s. Arithmetic."""
    assert warm_up_s(-10, 8, -10, HEATER, CAPACITY, 1e-9) == pytest.approx(3600, rel=1e-6)


def test_a_thermocouple_bead() -> None:
    """Çengel, "Temperature measurement by thermocouples": D 1 mm, k 35, ρ 8500, c 320, h 210; 99 % after 10 s.

    b = h/(ρ c L) = 0.4632 1/s with L = D/6, and t = ln(100)/b = 9.94 s, which the book rounds (from memory).
    """
    diameter, conductivity, density, heat, film = 1e-3, 35.0, 8500.0, 320.0, 210.0
    area, volume = math.pi * diameter**2, math.pi * diameter**3 / 6
    capacity, loss = density * volume * heat, film * area
    assert loss / capacity == pytest.approx(0.4632, abs=5e-5)
    # A lump needs a Biot number below 0.1, as the book says.
    assert film * (diameter / 6) / conductivity < 0.1
    assert warm_up_s(0.0, 0.99, 1.0, 0.0, capacity, loss) == pytest.approx(9.94, abs=5e-3)
    assert temperature_c(9.94, 0.0, 1.0, 0.0, capacity, loss) == pytest.approx(0.99, abs=1e-4)


def test_a_heater_that_the_losses_hold_down_never_gets_there() -> None:
    """P/UA is the highest rise that a steady state can have."""
    assert math.isinf(warm_up_s(-10, 30.001, -10, HEATER, CAPACITY, LOSS))
    assert math.isfinite(warm_up_s(-10, 29.999, -10, HEATER, CAPACITY, LOSS))


def test_the_time_and_the_temperature_belong_to_each_other() -> None:
    seconds = warm_up_s(-14, 6, -11, HEATER, CAPACITY, LOSS)
    assert temperature_c(seconds, -14, -11, HEATER, CAPACITY, LOSS) == pytest.approx(6, abs=1e-9)


# --- an independent solver -------------------------------------------------------------------------------------------
def warming(time_s: Array, air_c: Array) -> Warming:
    return Warming(
        time_s=time_s,
        sensor_c=np.full(len(time_s), -14.0),
        air_c=air_c,
        heater_w=exact(HEATER, "W"),
        sensor_u_k=0.3,
        air_u_k=0.0,
        mass_kg=12.0,
    )


def solved_c(time_s: Array, air_c: Array) -> Array:
    """C dT/dt = P − UA(T − T_air) by an eighth-order Runge–Kutta method (scipy's DOP853)."""

    def change(t: float, y: Array) -> Array:
        return (HEATER - LOSS * (y - np.interp(t, time_s, air_c))) / CAPACITY

    step = float(time_s[1])
    done = solve_ivp(change, (0, time_s[-1]), [-14.0], "DOP853", t_eval=time_s, rtol=1e-10, atol=1e-10, max_step=step)
    return np.asarray(done.y[0])


AIRS: dict[str, Callable[[Array], Array]] = {
    "constant": lambda t: np.full(len(t), -10.0),
    "warming room": lambda t: -10 + 24 * t / t[-1],
    "a freezer's swing": lambda t: -18 + 3 * np.sin(t / 300),
}


@pytest.mark.parametrize("name", AIRS)
def test_the_lump_follows_a_solver_through_varying_air(name: str) -> None:
    """Rows every 30 s: the air between two rows is averaged, which the solver takes as a straight line."""
    time = np.arange(0, 5401.0, 30.0)
    air = AIRS[name](time)
    ours = simulated_c(warming(time, air), CAPACITY, LOSS, -14.0)
    assert ours == pytest.approx(solved_c(time, air), abs=2e-3)


def test_in_constant_air_any_step_is_exact() -> None:
    time = np.array([0.0, 1.0, 600.0, 5000.0])
    ours = simulated_c(warming(time, np.full(4, -10.0)), CAPACITY, LOSS, -14.0)
    closed = [temperature_c(float(t), -14, -10, HEATER, CAPACITY, LOSS) for t in time]
    assert ours == pytest.approx(closed, abs=1e-12)


# --- two nodes: a sensor on a case that lags behind the cells --------------------------------------------------------
BENCH = bench(
    instruments={
        "shunt": {"measures": "current", "of_reading": "0.4 %", "offset": 0.03, "step": 0.01},
        "meter": {"measures": "voltage", "of_reading": "0.1 %", "offset": 0.005, "step": 0.001},
        "probe": {"measures": "temperature", "offset": 0.5, "step": 0.1},
    },
    log={
        "time": {"column": "s"},
        "current": {"column": "A", "on": "shunt"},
        "voltage": {"column": "V", "on": "meter"},
        "battery_c": {"column": "C", "on": "probe"},
        "interval_s": 10,
    },
)
HEATED = Label.model_validate(
    {"chemistry": "LiFePO4", "nominal_v": 12.8, "capacity_ah": 100, "heater": {"on_below_c": 2, "off_above_c": 8}}
)
OFF_AT_C = 8.0


def two_nodes(power_w: float, loss: float, air_c: float, start_c: float, bridge: float) -> tuple[Array, Array, Array]:
    """Seconds, cells and case while heated, solved by scipy; 85 % of the heat capacity sits in the cells."""
    cells_j, case_j = 0.85 * CAPACITY, 0.15 * CAPACITY

    def change(_t: float, y: Array) -> list[float]:
        across = bridge * (y[0] - y[1])
        return [(power_w - across) / cells_j, (across - loss * (y[1] - air_c)) / case_j]

    def warm(_t: float, y: Array) -> float:
        return float(y[0]) - OFF_AT_C

    warm.terminal = True  # type: ignore[attr-defined]
    done = solve_ivp(change, (0, 40_000), [start_c, start_c], events=warm, rtol=1e-8, atol=1e-8, max_step=10)
    assert done.t_events is not None
    assert len(done.t_events[0]) == 1
    return np.asarray(done.t), np.asarray(done.y[0]), np.asarray(done.y[1])


def seen_warming(power_w: float, loss: float, air_c: float, start_c: float, bridge: float) -> OneResult:
    """The warm-up as a bench without any error of its own logs it: heater current, then 20 A into the cells."""
    seconds, _, case = two_nodes(power_w, loss, air_c, start_c, bridge)
    time = np.arange(0, seconds[-1] + 600, 10.0)
    heating = time < seconds[-1]
    current = -np.where(heating, power_w / 14.4, 20.0)
    one = log(time, current, 14.4)
    one.columns["battery_c"] = np.interp(time, seconds, case)
    test = ColdChargeTest.model_validate(
        {"kind": "cold_charge", "ambient_c": air_c, "charger": {"set_v": 14.4, "set_a": 20}}
    )
    setting = Setting(unit="checked", test="cold", bench_id="by-hand", bench=BENCH)
    return cold_charge(test, one, setting, HEATED, CAPACITY / 1000)


# Heater [W], loss [W/K], air and start of the test [°C], conductance between cells and case [W/K].
TWO_NODES = {
    "the standard's own air": (86.0, 2.3, -10.0, -10.0, 25.0),
    "started colder": (86.0, 2.3, -10.0, -14.0, 25.0),
    "a strong heater in a freezer": (138.0, 1.8, -18.0, -18.0, 25.0),
    "a badly insulated case": (138.0, 4.5, -18.0, -18.0, 25.0),
    "cells that hardly touch the case": (112.0, 2.0, -12.0, -12.5, 12.0),
    "cells and case as one": (112.0, 2.0, -12.0, -12.5, 1e4),
}


@pytest.mark.parametrize("name", TWO_NODES)
def test_the_standard_warm_up_of_two_nodes_stays_inside_the_interval(name: str) -> None:
    power, loss, air, start, bridge = TWO_NODES[name]
    truth = float(two_nodes(power, loss, -10.0, -10.0, bridge)[0][-1])
    result = seen_warming(power, loss, air, start, bridge)
    assert result.cannot == ()
    found = result.metrics["standard_warm_up_s"]
    assert found.lowest <= truth <= found.highest, f"{truth:.0f} s, found {found.value:.0f} ± {found.expanded:.0f} s"
    assert found.expanded is not None
    assert found.expanded < found.value / 3


# --- facts of the trade ----------------------------------------------------------------------------------------------
def test_lithium_iron_phosphate_is_not_charged_below_freezing() -> None:
    """Common practice, no source: charging is refused below 0 °C where a label names no limit of its own."""
    assert charge_limit_c(Label.model_validate({"chemistry": "LiFePO4", "nominal_v": 12.8, "capacity_ah": 90})) == 0.0


def test_lead_acid_may_be_charged_below_freezing() -> None:
    """Common practice, no source: lead-acid may be charged in frost, so that only its label can forbid it."""
    plain = {"chemistry": "lead-acid AGM", "nominal_v": 12, "capacity_ah": 90}
    assert charge_limit_c(Label.model_validate(plain)) == -math.inf
    assert charge_limit_c(Label.model_validate(plain | {"charge": {"min_c": -15}})) == -15


def test_a_battery_that_takes_charge_when_frozen_is_a_hazard() -> None:
    """Common practice, no source: charging lithium cells below freezing plates lithium."""
    time = np.arange(0, 1801.0, 10.0)
    one = log(time, -np.full(len(time), 10.0), 13.8)
    one.columns["battery_c"] = np.full(len(time), -11.0)
    test = ColdChargeTest.model_validate(
        {"kind": "cold_charge", "charger": {"set_v": 14.4, "set_a": 10}, "before": {"soak_h": 12}}
    )
    label = Label.model_validate({"chemistry": "LiFePO4", "nominal_v": 12.8, "capacity_ah": 95})
    setting = Setting(unit="checked", test="cold", bench_id="by-hand", bench=BENCH)
    assert cold_charge(test, one, setting, label, 10.0).conditions == (SAFETY,)
