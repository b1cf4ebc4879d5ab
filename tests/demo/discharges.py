"""Discharges to the end: steady, at other rates, through an inverter, in fridge-like cycles, read by hand. No disk."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from tests.demo.batteries import Battery, Floats, Trace, follow
from tests.demo.bench import Bench, Log, Unit, logged
from tests.demo.inverters import Inverter
from tests.demo.protection import Protection
from tests.demo.randomness import generator


@dataclass(frozen=True)
class CapacityTruth:
    """What a discharge truly gave, and what the battery gives on the mean of many such runs."""

    delivered_ah: float
    delivered_wh: float
    duration_s: float
    capacity_ah: float
    capacity_wh: float
    mean_temperature_c: float
    ended_by: str


def _totals(trace: Trace, step_s: float) -> tuple[float, float]:
    """Charge and energy of a trace [Ah], [Wh]."""
    return (
        float(trace.current_a.sum()) * step_s / 3600,
        float(trace.current_a @ trace.voltage_v) * step_s / 3600,
    )


def varied(unit: Unit, test: str, seed: int) -> Unit:
    """The unit as it is in this run: it never gives quite the same charge twice."""
    factor = 1 + unit.repeat_charge * float(generator(unit.id, test, seed, "repeat").normal())
    return replace(unit, battery=replace(unit.battery, full_ah=unit.battery.full_ah * factor))


def steady_run(
    battery: Battery, protection: Protection, current_a: float, *, step_s: float, ambient_c: float, end_v: float
) -> Trace:
    """A constant current from full until the battery cuts off, or the load does at `end_v`."""
    longest_s = (
        3600 * 1.15 * battery.full_ah / (current_a * (current_a / battery.reference_a) ** battery.peukert_less_one)
    )
    current = np.full(int(longest_s / step_s), current_a)
    trace = follow(battery, current, step_s, ambient_c=ambient_c)
    stop = replace(protection, end_v=max(protection.end_v, end_v))
    return trace.cut(stop.end_index(trace.voltage_v, step_s))


def inverter_run(
    battery: Battery,
    protection: Protection,
    inverter: Inverter,
    given_w: float,
    *,
    step_s: float,
    ambient_c: float,
) -> Trace:
    """A constant power behind an inverter, until the battery or the inverter stops; power is kept to 1e-6 A."""
    power = float(inverter.drawn_w(given_w))
    nominal_v = battery.cells * (2.0 if battery.chemistry == "AGM" else 3.2)
    usual_a = power / nominal_v
    longest_s = 3600 * 1.25 * battery.full_ah / (usual_a * (usual_a / battery.reference_a) ** battery.peukert_less_one)
    current = np.full(int(longest_s / step_s), usual_a)
    stop = replace(protection, end_v=max(protection.end_v, inverter.cut_off_v))
    while True:
        trace = follow(battery, current, step_s, ambient_c=ambient_c)
        end = stop.end_index(trace.voltage_v, step_s)
        wanted = power / np.maximum(trace.voltage_v, stop.end_v)
        if float(np.abs(wanted - current)[:end].max()) < 1e-6:
            return trace.cut(end)
        current = wanted


@dataclass(frozen=True)
class _How:
    """How a battery is emptied: at a current, or for a power behind an inverter."""

    current_a: float
    step_s: float
    ambient_c: float
    end_v: float
    inverter: Inverter | None
    given_w: float

    def run(self, battery: Battery, protection: Protection) -> Trace:
        """The truth of it, until the battery, the load or the inverter stops."""
        if self.inverter is None:
            return steady_run(
                battery,
                protection,
                self.current_a,
                step_s=self.step_s,
                ambient_c=self.ambient_c,
                end_v=self.end_v,
            )
        return inverter_run(
            battery, protection, self.inverter, self.given_w, step_s=self.step_s, ambient_c=self.ambient_c
        )


@lru_cache(maxsize=256)
def _mean_totals(battery: Battery, protection: Protection, how: _How) -> tuple[float, float]:
    """Totals of the run without its day-to-day variation; the same for all seeds."""
    return _totals(how.run(battery, protection), how.step_s)


def framed(trace: Trace, step_s: float, *, before: int, after: int, dead_v: float | None) -> Trace:
    """The run with a rest in front and the idle samples behind it that a logger catches.

    Args:
        trace: The run.
        step_s: Its step. [s]
        before: Idle samples in front.
        after: Idle samples behind.
        dead_v: Voltage that a cut-off battery leaves at its terminals, or None for one that stays connected. [V]
    """
    count = trace.elapsed_s.size
    rested = float(trace.voltage_v[0]) + 0.05
    last = float(trace.voltage_v[-1]) + 0.4 if dead_v is None else dead_v

    def around(values: Floats, head: float, tail: float) -> Floats:
        return np.concatenate((np.full(before, head), values, np.full(after, tail)))

    return Trace(
        np.arange(before + count + after, dtype=np.float64) * step_s,
        around(trace.current_a, 0.0, 0.0),
        around(trace.voltage_v, rested, last),
        around(trace.temperature_c, float(trace.temperature_c[0]), float(trace.temperature_c[-1])),
        around(trace.soc, 1.0, float(trace.soc[-1])),
    )


def simulate_capacity(
    unit: Unit,
    bench: Bench,
    *,
    seed: int = 0,
    test: str = "capacity",
    current_a: float | None = None,
    ambient_c: float = 22.0,
    end_v: float = 0.0,
    inverter: Inverter | None = None,
    given_w: float = 0.0,
) -> tuple[Log, CapacityTruth]:
    """A discharge at a steady current, or at a steady power behind an inverter.

    Args:
        unit: What is discharged.
        bench: Where.
        seed: Draws the bench's errors and the run's own variation.
        test: Name of the test; another name is another run of the same day's luck.
        current_a: Discharge current; a fifth of the rated capacity per hour where it is missing. [A]
        ambient_c: Air, and battery at the start. [°C]
        end_v: Voltage at which the load stops by itself. [V]
        inverter: Draws for `given_w` instead of the current.
        given_w: Power behind the inverter. [W]

    Returns:
        The log as the bench shows it, and the truth.
    """
    step = bench.interval_s / 5
    stops_v = inverter.cut_off_v if inverter else end_v
    how = _How(current_a or unit.battery.reference_a, step, ambient_c, end_v, inverter, given_w)
    run = how.run(varied(unit, test, seed).battery, unit.protection)
    mean = _mean_totals(unit.battery, unit.protection, how)
    by_battery = stops_v <= unit.protection.end_v
    ended_by = "bms" if by_battery else "inverter" if inverter else "end_voltage"
    phase = int(generator(bench.id, test, seed, "phase").integers(5))
    whole = framed(run, step, before=5 + phase, after=20, dead_v=0.4 if by_battery else None)
    total_ah, total_wh = _totals(run, step)
    truth = CapacityTruth(
        total_ah, total_wh, run.elapsed_s.size * step, *mean, float(run.temperature_c.mean()), ended_by
    )
    return logged(bench, whole, step, test, seed), truth


def cycling_current(on_a: float, duty: float, length: int, step_s: float, chance: np.random.Generator) -> Floats:
    """A cold box's current: on for about a quarter of an hour, off for as long as the duty asks [A]."""
    cycles = int(length * step_s / 300) + 2
    on_s = chance.uniform(600, 1200, cycles)
    off_s = on_s * (1 / duty - 1) * chance.uniform(0.8, 1.2, cycles)
    edges = np.round(np.cumsum(np.column_stack((on_s, off_s)).ravel()) / step_s).astype(int)
    phase = np.searchsorted(edges, np.arange(length), side="right")
    return np.where(phase % 2 == 0, on_a, 0.0)


def gaps(elapsed_s: Floats, share: float, chance: np.random.Generator) -> npt.NDArray[np.bool_]:
    """Which rows survive when a logger drops out for 15 to 60 min at a time, at most `share` of the run."""
    keep = np.ones(elapsed_s.size, dtype=bool)
    end = float(elapsed_s[-1])
    lost = 0.0
    while True:
        length = float(chance.uniform(900, 3600))
        if lost + length > share * end:
            return keep
        start = float(chance.uniform(0.03 * end, 0.97 * end - length))
        keep &= (elapsed_s < start) | (elapsed_s > start + length)
        lost += length


def simulate_gappy(
    unit: Unit,
    bench: Bench,
    *,
    seed: int = 0,
    test: str = "cold-box",
    on_a: float = 5.0,
    duty: float = 0.3,
    gap_share: float = 0.04,
    ambient_c: float = 22.0,
) -> tuple[Log, CapacityTruth]:
    """A cold box's on-and-off load from full to the cut-off, with a logger that drops out now and then.

    The mean of many runs equals the charge of this run without its variation: the pattern hardly matters to it.
    """
    step = bench.interval_s / 5
    chance = generator(unit.id, bench.id, test, seed, "cycles")
    today = varied(unit, test, seed)
    length = int(3600 * 1.3 * unit.battery.full_ah / (on_a * duty) / step)
    current = cycling_current(on_a, duty, length, step, chance)
    trace = follow(today.battery, current, step, ambient_c=ambient_c)
    run = trace.cut(unit.protection.end_index(trace.voltage_v, step))
    log = logged(bench, framed(run, step, before=5, after=20, dead_v=0.4), step, test, seed)
    total_ah, total_wh = _totals(run, step)
    factor = unit.battery.full_ah / today.battery.full_ah
    truth = CapacityTruth(
        total_ah,
        total_wh,
        run.elapsed_s.size * step,
        total_ah * factor,
        total_wh * factor,
        float(run.temperature_c.mean()),
        "bms",
    )
    return log.only(gaps(log.elapsed_s, gap_share, chance)), truth


def written_on_change(log: Log, *, current_a: float, voltage_v: float, heartbeat_s: float) -> Log:
    """The rows that a logger writes which stays silent until a value has moved by more than its dead band."""
    rows = np.column_stack((log.elapsed_s, log.current_a, log.voltage_v))
    kept, last = [0], rows[0]
    for index, row in enumerate(rows[1:], start=1):
        moved = abs(row[1] - last[1]) > current_a or abs(row[2] - last[2]) > voltage_v
        if moved or row[0] - last[0] >= heartbeat_s:
            kept.append(index)
            last = row
    return log.only(np.array(kept))


def simulate_hand_read(
    unit: Unit,
    bench: Bench,
    *,
    seed: int = 0,
    test: str = "by-hand",
    current_a: float | None = None,
    ambient_c: float = 22.0,
) -> tuple[dict[str, float], CapacityTruth]:
    """A discharge without a log: a counter of ampere-hours read at the end, and a watch.

    The counter adds up the zero offset of the current instrument over the whole run, on top of its own.
    """
    _, truth = simulate_capacity(unit, bench, seed=seed, test=test, current_a=current_a, ambient_c=ambient_c)
    drift_ah = bench.errors(bench.current, test, seed).offset * truth.duration_s / 3600
    counted_ah = bench.reading("counter", truth.delivered_ah + drift_ah, test, seed)
    volts = bench.reading(bench.voltage, truth.delivered_wh / truth.delivered_ah, test, seed, "mean")
    minutes = bench.reading("watch", truth.duration_s / 60, test, seed)
    return {"counted_ah": counted_ah, "counted_wh": round(counted_ah * volts), "duration_min": minutes}, truth
