"""Charging in the warm, standing on the shelf and the cells' spread. No disk."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.demo.batteries import Trace, full_as, open_circuit_v, warmth
from tests.demo.bench import Bench, Log, Unit, logged
from tests.demo.discharges import steady_run
from tests.demo.instruments import Counter
from tests.demo.randomness import generator


@dataclass(frozen=True)
class ChargeTruth:
    """What went into the battery until the current had tailed off."""

    charged_ah: float
    charged_wh: float
    duration_s: float
    tail_a: float


def refill(
    unit: Unit, *, set_v: float, set_a: float, tail_a: float, soc: float, ambient_c: float, step_s: float
) -> Trace:
    """Constant current, then constant voltage until the tail current; charge is negative."""
    battery = unit.battery
    factor = float(warmth(battery, ambient_c))
    fast, slow_ohm = battery.resistance_ohm * factor, battery.slow_ohm * factor
    slow, current = 0.0, set_a
    rows: list[tuple[float, ...]] = []
    while soc < 1.2:
        rest_v = float(open_circuit_v(battery, soc))
        # Nearly full cells take charge less and less willingly, which is what ends a charge.
        overfull_v = 4.0 * battery.cells * max(soc - 0.966, 0.0)
        current = min(set_a, (set_v - rest_v - overfull_v - slow) / fast)
        if current < tail_a:
            break
        volts = rest_v + overfull_v + slow + current * fast
        rows.append((len(rows) * step_s, -current, volts, ambient_c + 0.12 * current, soc))
        soc += current * battery.coulombic_efficiency * step_s / full_as(battery, ambient_c)
        slow += (current * slow_ohm - slow) * step_s / battery.slow_s
    return Trace(*np.array(rows).T)


def emptied_soc(unit: Unit, ambient_c: float) -> float:
    """What is left in the cells when a discharge at the reference rate has ended."""
    current = unit.battery.reference_a
    run = steady_run(unit.battery, unit.protection, current, step_s=5.0, ambient_c=ambient_c, end_v=0.0)
    return float(run.soc[-1])


def simulate_charge(
    unit: Unit,
    bench: Bench,
    *,
    seed: int = 0,
    test: str = "refill",
    set_v: float = 14.4,
    set_a: float = 20.0,
    tail_a: float = 4.0,
    soc: float | None = None,
    ambient_c: float = 22.0,
) -> tuple[Log, ChargeTruth]:
    """A charge to full as the bench shows it, and the truth; from where a discharge at the reference rate ends."""
    step = 1.0  # the end of a charge is steep
    if soc is None:
        soc = emptied_soc(unit, ambient_c)
    run = refill(unit, set_v=set_v, set_a=set_a, tail_a=tail_a, soc=soc, ambient_c=ambient_c, step_s=step)
    charged = -float(run.current_a.sum()) * step / 3600
    energy = -float(run.current_a @ run.voltage_v) * step / 3600
    truth = ChargeTruth(charged, energy, run.elapsed_s.size * step, -float(run.current_a[-1]))
    return logged(bench, run, step, test, seed), truth


def simulate_standby(
    unit: Unit, counter: Counter, *, days: float, seed: int = 0, test: str = "shelf", per_month: float = 0.015
) -> tuple[float, float, float]:
    """Weeks on the shelf: percentage shown at the start and at the end, and the true loss a month as a share.

    The cells lose `per_month` by themselves, as a share; the battery's own electronics come on top.
    """
    chance = generator("standby", unit.id, test, seed)
    month_s = 30.4375 * 86400
    loss = per_month + unit.battery.idle_a * month_s / 3600 / unit.battery.full_ah
    end = 1 - loss * days * 86400 / month_s + float(chance.normal(0, 0.003))
    return 1.0, round(round(end / counter.step) * counter.step, 6), loss


def simulate_balance(
    unit: Unit, *, soc: float, spread: float, seed: int = 0, test: str = "cells", step_v: float = 0.001
) -> list[float]:
    """Voltages of the single cells when each is off by its own share of charge [V]."""
    chance = generator("cells", unit.id, test, seed)
    socs = np.clip(soc + chance.normal(0, spread, unit.battery.cells), -0.04, 1.0)
    volts = open_circuit_v(unit.battery, socs) / unit.battery.cells
    return [round(round(float(value) / step_v) * step_v, 4) for value in volts]
