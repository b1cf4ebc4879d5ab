"""Charging a cold battery: refusal, self-heating, acceptance; two nodes of heat, so that a probe lags. No disk."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tests.demo.batteries import Floats, Trace, open_circuit_v, warmth
from tests.demo.bench import Bench, Log, Unit, logged
from tests.demo.protection import Protection

CORE_SHARE = 0.85  # of the heat capacity; the case, terminals and BMS hold the rest
BRIDGE_W_PER_K = 25.0  # between the cells and the case


@dataclass(frozen=True)
class Warming:
    """A charge of a cold battery as it truly went, on an even grid; charge is negative current."""

    trace: Trace  # its temperature is the case's, where the probe sits
    core_c: Floats
    cell_current_a: Floats
    heating: npt.NDArray[np.bool_]


@dataclass(frozen=True)
class ColdTruth:
    """What the battery did, and what its heater would do from −10 °C in air at −10 °C."""

    refused_at_c: float | None  # warmest cells that were refused
    first_accepted_c: float | None  # cells when charge was first accepted
    accepted_from_c: float | None  # coldest cells that were charged
    heater_w: float
    heated_s: float
    standard_s: float


def _allowed(protection: Protection, core_c: float, charging: bool) -> bool:
    """Whether the charge path is closed: refused below the limit, taken up again from the resume temperature."""
    if protection.charge_min_c is None:
        return True
    limit = protection.charge_min_c if charging else protection.charge_resume_c
    return core_c >= limit


def warm_up(
    unit: Unit,
    *,
    start_c: float,
    ambient_c: float,
    set_v: float,
    set_a: float,
    duration_s: float,
    soc: float = 0.5,
    step_s: float = 5.0,
) -> Warming:
    """Put a cold battery on a charger and watch.

    The heater takes its power from the charger before any current reaches the cells; while it heats, they get nothing.

    Args:
        unit: The battery and its protection.
        start_c: Cells and case at the start. [°C]
        ambient_c: Air. [°C]
        set_v: Charger's voltage. [V]
        set_a: Charger's current limit. [A]
        duration_s: How long it stays on the charger. [s]
        soc: State of charge at the start, 0 to 1.
        step_s: Length of a step. [s]
    """
    battery, protection, heater = unit.battery, unit.protection, unit.protection.heater
    core_j, case_j = CORE_SHARE * battery.heat_j_per_k, (1 - CORE_SHARE) * battery.heat_j_per_k
    core = case = start_c
    charging = heating = False
    rows = []
    for index in range(int(duration_s / step_s)):
        ohm = (battery.resistance_ohm + battery.slow_ohm) * float(warmth(battery, core))
        rest_v = float(open_circuit_v(battery, soc))
        heat_a = heater.power_w / set_v if heater else 0.0
        if heater and not heating:
            heating = core < heater.on_below_c and set_a >= max(heater.needs_a, heat_a)
        elif heater:
            heating = core < heater.off_above_c
        charging = _allowed(protection, core, charging) and not heating
        cell_a = min(set_a, max((set_v - rest_v) / ohm, 0.0)) if charging else 0.0
        terminal_a = heat_a if heating else cell_a + battery.idle_a
        volts = min(set_v, rest_v + cell_a * ohm) if charging else set_v
        rows.append((index * step_s, -terminal_a, volts, case, soc, core, cell_a, heating))
        heat_w = (heater.power_w if heater and heating else 0.0) + cell_a**2 * ohm
        bridge_w = BRIDGE_W_PER_K * (core - case)
        core += (heat_w - bridge_w) * step_s / core_j
        case += (bridge_w - battery.loss_w_per_k * (case - ambient_c)) * step_s / case_j
        soc += cell_a * battery.coulombic_efficiency * step_s / 3600 / battery.full_ah
    table = np.array(rows, dtype=float)
    return Warming(Trace(*table.T[:5]), table[:, 5], table[:, 6], table[:, 7] > 0)


def standard_warm_up_s(unit: Unit) -> float:
    """Time from −10 °C in air at −10 °C until the heater lets the cells charge, or infinity [s]."""
    heater = unit.protection.heater
    if heater is None:
        return math.inf
    run = warm_up(unit, start_c=-10.0, ambient_c=-10.0, set_v=14.4, set_a=100.0, duration_s=6 * 3600, step_s=10.0)
    done = (run.core_c >= heater.off_above_c) & ~run.heating
    return float(run.trace.elapsed_s[np.argmax(done)]) if done.any() else math.inf


def cold_truth(unit: Unit, run: Warming, standard_s: float) -> ColdTruth:
    """The truth of a run, from the cells' own temperature and current."""
    accepted = run.cell_current_a > 0
    refused = run.core_c[~accepted]
    heater = unit.protection.heater
    step = float(run.trace.elapsed_s[1])
    return ColdTruth(
        float(refused.max()) if refused.size else None,
        float(run.core_c[np.argmax(accepted)]) if accepted.any() else None,
        float(run.core_c[accepted].min()) if accepted.any() else None,
        heater.power_w if heater else 0.0,
        float(run.heating.sum()) * step,
        standard_s,
    )


def simulate_cold_charge(
    unit: Unit,
    bench: Bench,
    *,
    seed: int = 0,
    test: str = "ice-bath",
    start_c: float = -14.0,
    ambient_c: float = -10.0,
    set_v: float = 14.4,
    set_a: float = 20.0,
    duration_s: float = 7200.0,
    soc: float = 0.5,
) -> tuple[Log, ColdTruth, Warming]:
    """A cold battery on a charger: the log as the bench shows it, the truth, and the run itself to read values from."""
    run = warm_up(
        unit,
        start_c=start_c,
        ambient_c=ambient_c,
        set_v=set_v,
        set_a=set_a,
        duration_s=duration_s,
        soc=soc,
        step_s=bench.interval_s,
    )
    log = logged(bench, run.trace, bench.interval_s, test, seed)
    return log, cold_truth(unit, run, standard_warm_up_s(unit)), run
