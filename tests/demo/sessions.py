"""One test of the demo at a time: runs the simulator and notes what a tester would write down, and the truth. No disk.

`read` holds hand-read values by their place in the test's YAML; the tests hold the YAML against it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

import numpy as np

from tests.demo.bench import Bench, Log
from tests.demo.charges import simulate_balance, simulate_charge, simulate_standby
from tests.demo.colds import simulate_cold_charge
from tests.demo.discharges import simulate_capacity, simulate_gappy, simulate_hand_read
from tests.demo.instruments import Counter
from tests.demo.inverters import Inverter
from tests.demo.pulse_trains import simulate_pulse_train
from tests.demo.roster import UNITS
from tests.demo.strains import largest_held_a, simulate_load_run, simulate_overload, simulate_pulses


@dataclass(frozen=True)
class Done:
    """A test that was done: file name and log where there is one, hand-read values, truth."""

    unit: str
    test: str
    bench: str
    read: dict[str, Any] = field(default_factory=dict)
    truth: dict[str, Any] = field(default_factory=dict)
    file: str = ""
    log: Log | None = None
    started: str = ""  # local time, for benches that stamp their rows with it


def capacity(unit: str, bench: Bench, test: str, file: str, started: str = "", **how: Any) -> Done:
    """A logged discharge to the end."""
    log, truth = simulate_capacity(UNITS[unit], bench, test=test, **how)
    zero = bench.zero_reading_a(test, 0)
    return Done(unit, test, bench.id, {"zero.before_a": zero, "zero.after_a": zero}, asdict(truth), file, log, started)


def cut_short(done: Done, hours: float) -> Done:
    """The same discharge, in which a cell gives up after some hours."""
    assert done.log is not None
    keep = done.log.elapsed_s <= hours * 3600
    log = done.log.only(keep)
    log.current_a[-6:], log.voltage_v[-6:] = 0.0, np.round(log.voltage_v[-6:] * 0.24, 2)
    gave = float(log.current_a.sum()) * float(log.elapsed_s[1]) / 3600
    return Done(done.unit, done.test, done.bench, {}, {"delivered_ah": gave, "ended_by": "died"}, done.file, log)


def spoiled(done: Done, row: int) -> Done:
    """The same log with one cell that the logger left empty."""
    assert done.log is not None
    done.log.voltage_v[row] = np.nan
    return done


def by_hand(unit: str, bench: Bench, test: str, **how: Any) -> Done:
    """A discharge with a counter and a watch."""
    read, truth = simulate_hand_read(UNITS[unit], bench, test=test, **how)
    seconds = {"duration_s": 60 * read.pop("duration_min")}
    return Done(unit, test, bench.id, read | seconds, asdict(truth))


def cycling(unit: str, bench: Bench, test: str, file: str, started: str = "", **how: Any) -> Done:
    """A cold box or fridge until the battery is empty."""
    log, truth = simulate_gappy(UNITS[unit], bench, test=test, **how)
    return Done(unit, test, bench.id, {}, asdict(truth), file, log, started)


def changed_only(done: Done, thin: Callable[[Log], Log]) -> Done:
    """The same log from a logger that writes on change."""
    assert done.log is not None
    return Done(done.unit, done.test, done.bench, done.read, done.truth, done.file, thin(done.log), done.started)


def cold(
    unit: str,
    bench: Bench,
    test: str,
    minutes: Sequence[float] = (),
    file: str = "",
    started: str = "",
    on: str = "clamp",
    **how: Any,
) -> Done:
    """A charge of a frozen battery, with a log, or read at some minutes, or both."""
    log, truth, run = simulate_cold_charge(UNITS[unit], bench, test=test, **how)
    read: dict[str, Any] = {}
    for number, minute in enumerate(minutes):
        index = int(minute * 60 / bench.interval_s)
        read[f"readings.{number}.charge"] = "accepted" if run.cell_current_a[index] > 0 else "refused"
        read[f"readings.{number}.heater"] = bool(run.heating[index])
        case, current = run.trace.temperature_c[index], -run.trace.current_a[index]
        read[f"readings.{number}.battery_c"] = bench.reading(bench.temperature, float(case), test, 0, number)
        read[f"readings.{number}.current_a"] = bench.reading(on, float(current), test, 0, number)
    return Done(unit, test, bench.id, read, asdict(truth), file, log if file else None, started)


def pulses(unit: str, bench: Bench, test: str, steps: Sequence[tuple[float, float]], **how: Any) -> Done:
    """Voltages under two or more currents."""
    seen, milliohm = simulate_pulses(UNITS[unit], bench, steps, test=test, **how)
    read = {}
    for number, pulse in enumerate(seen):
        read[f"readings.{number}.current_a"] = pulse.current_a
        read[f"readings.{number}.voltage_v"] = pulse.voltage_v
    return Done(unit, test, bench.id, read, {"resistance_milliohm": milliohm})


def pulse_train(unit: str, bench: Bench, test: str, file: str, **how: Any) -> Done:
    """Logged pulses."""
    log, milliohm = simulate_pulse_train(UNITS[unit], bench, test=test, **how)
    return Done(unit, test, bench.id, {}, {"resistance_milliohm": milliohm}, file, log)


def overload(unit: str, bench: Bench, test: str, plan: Sequence[tuple[float, float, float]]) -> Done:
    """Currents above the label, one after another."""
    seen = simulate_overload(UNITS[unit], bench, plan, test=test)
    read: dict[str, Any] = {}
    for number, point in enumerate(seen):
        read[f"points.{number}.current_a"] = point.current_a
        read[f"points.{number}.duration_s"] = point.duration_s
        read[f"points.{number}.held"] = not point.tripped
    held = {f"held_{seconds}_s_a": largest_held_a(UNITS[unit], seconds) for seconds in (1, 3, 10, 30, 1800)}
    return Done(unit, test, bench.id, read, dict(held))


def charge(unit: str, bench: Bench, test: str, file: str, started: str = "", **how: Any) -> Done:
    """A charge to full."""
    log, truth = simulate_charge(UNITS[unit], bench, test=test, **how)
    return Done(unit, test, bench.id, {}, asdict(truth), file, log, started)


def load_run(
    unit: str,
    bench: Bench,
    test: str,
    counter: Counter | None = None,
    *,
    given_w: float,
    duration_s: float,
    soc: float = 0.9,
    inverter: Inverter | None = None,
) -> Done:
    """A load for a while; a percentage only where there is a counter."""
    used = counter or Counter(setting_ah=UNITS[unit].battery.rated_ah)
    seen, truth = simulate_load_run(
        UNITS[unit], bench, used, given_w=given_w, duration_s=duration_s, soc=soc, inverter=inverter, test=test
    )
    read = {"duration_s": seen.duration_s, "current_a": seen.current_a, "power_w": seen.power_w}
    if counter is not None:
        read |= {"soc.start": seen.soc_start, "soc.end": seen.soc_end}
    return Done(unit, test, bench.id, read, asdict(truth))


def tripped(unit: str, bench: Bench, test: str, current_a: float) -> Done:
    """A load that the battery cuts off."""
    (point,) = simulate_overload(UNITS[unit], bench, [(current_a, 1800.0, 3600.0)], test=test)
    assert point.tripped
    truth = {"trip_s": UNITS[unit].protection.trip_s(current_a), "current_a": current_a}
    return Done(unit, test, bench.id, {"current_a": point.current_a, "duration_s": point.duration_s}, truth)


def standby(unit: str, bench: Bench, test: str, counter: Counter, *, days: float, per_month: float) -> Done:
    """Weeks on the shelf."""
    start, end, loss = simulate_standby(UNITS[unit], counter, days=days, test=test, per_month=per_month)
    return Done(unit, test, bench.id, {"soc.start": start, "soc.end": end}, {"loss_per_month": loss})


def balance(unit: str, bench: Bench, test: str, *, soc: float, spread: float) -> Done:
    """Voltages of the single cells."""
    volts = simulate_balance(UNITS[unit], soc=soc, spread=spread, test=test)
    return Done(unit, test, bench.id, {f"cell_v.{number}": value for number, value in enumerate(volts)})


def weighed(unit: str, bench: Bench, test: str) -> Done:
    """The mass on the bench's scale."""
    mass = UNITS[unit].battery.mass_kg
    return Done(unit, test, bench.id, {"mass_kg": bench.reading("scale", mass, test, 0)}, {"mass_kg": mass})
