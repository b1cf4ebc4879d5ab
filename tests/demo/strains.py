"""Pulses, overload points and load runs: short strains on a battery as hand-read instruments show them. No disk."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.demo.batteries import Battery, open_circuit_v, warmth
from tests.demo.bench import Bench, Unit
from tests.demo.instruments import Counter
from tests.demo.inverters import Inverter
from tests.demo.randomness import generator


@dataclass(frozen=True)
class Pulse:
    """One current held for some seconds, with what the instruments showed."""

    current_a: float
    voltage_v: float
    after_s: float


@dataclass(frozen=True)
class Point:
    """One overload point as seen: a current, and how long it was carried."""

    current_a: float
    duration_s: float
    tripped: bool
    rest_before_s: float


def pulse_v(
    battery: Battery, current_a: float, after_s: float, soc: float, temperature_c: float, slow_v: float
) -> float:
    """Voltage after a current has flowed for some seconds, the slow part starting at `slow_v` [V]."""
    factor = float(warmth(battery, temperature_c))
    keep = math.exp(-after_s / battery.slow_s)
    slow = current_a * battery.slow_ohm * factor * (1 - keep) + slow_v * keep
    return float(open_circuit_v(battery, soc)) - current_a * battery.resistance_ohm * factor - slow


def simulate_pulses(
    unit: Unit,
    bench: Bench,
    pulses: Sequence[tuple[float, float]],
    *,
    seed: int = 0,
    test: str = "pulses",
    soc: float = 0.8,
    temperature_c: float = 22.0,
) -> tuple[list[Pulse], float]:
    """Currents one straight after another.

    Args:
        unit: What is pulsed.
        bench: Where.
        pulses: Current [A] and seconds of each, from rest.
        seed: Draws the bench's errors and the day's variation.
        test: Name of the test.
        soc: State of charge, 0 to 1.
        temperature_c: Battery temperature. [°C]

    Returns:
        What the meters showed, and the true resistance between the first and the last pulse. [mΩ]
    """
    battery = unit.battery
    wear = 1 + unit.repeat_ohm * float(generator(unit.id, test, seed, "ohm").normal())
    slow, true, seen = 0.0, [], []
    for number, (current, seconds) in enumerate(pulses):
        volts = pulse_v(battery, current, seconds, soc, temperature_c, slow)
        rest_v = float(open_circuit_v(battery, soc))
        slow = rest_v - volts - current * battery.resistance_ohm * float(warmth(battery, temperature_c))
        true.append((current, volts))
        seen.append(
            Pulse(
                bench.reading(bench.current, current, test, seed, number),
                bench.reading(bench.voltage, rest_v - (rest_v - volts) * wear, test, seed, number),
                seconds,
            )
        )
    (first_a, first_v), (last_a, last_v) = true[0], true[-1]
    return seen, 1000 * (first_v - last_v) / (last_a - first_a)


def simulate_overload(
    unit: Unit,
    bench: Bench,
    plan: Sequence[tuple[float, float, float]],
    *,
    seed: int = 0,
    test: str = "overload",
) -> list[Point]:
    """Currents one after another, each until the battery cuts off or the tester has seen enough.

    Args:
        unit: What is overloaded.
        bench: Where.
        plan: True current [A], longest time [s] and rest before [s] of each point.
        seed: Draws the bench's errors and the trips' variation.
        test: Name of the test.

    Returns:
        The points as the meter and the stopwatch showed them.
    """
    chance = generator(unit.id, bench.id, test, seed, "trips")
    memory, warm, seen = unit.protection.memory, 0.0, []
    for number, (current, limit_s, rest_s) in enumerate(plan):
        if memory is not None:
            warm = memory.warmth_after(0.0, rest_s, warm)
        true_s = unit.protection.trip_s(current, warm) * math.exp(unit.repeat_trip * float(chance.normal()))
        lasted = min(true_s, limit_s)
        if memory is not None:
            warm = min(memory.warmth_after(current, lasted, warm), 1.0)
        seen.append(
            Point(
                bench.reading("clamp", current, test, seed, number),
                max(bench.reading("stopwatch", lasted, test, seed, number), 0.0),
                true_s <= limit_s,
                rest_s,
            )
        )
    return seen


def largest_held_a(unit: Unit, duration_s: float) -> float:
    """The largest current that the cold-started protection truly carries for this long [A]."""
    low, high = 0.0, 5000.0
    while high - low > 1e-6 * high:
        middle = (low + high) / 2
        low, high = (middle, high) if unit.protection.trip_s(middle) > duration_s else (low, middle)
    return low


@dataclass(frozen=True)
class LoadRunSeen:
    """What was read during a load run: percentages as shares of one."""

    soc_start: float
    soc_end: float
    duration_s: float
    current_a: float
    power_w: float


@dataclass(frozen=True)
class LoadRunTruth:
    """What a load run truly used."""

    used_ah: float
    used_wh: float
    mean_power_w: float


def simulate_load_run(
    unit: Unit,
    bench: Bench,
    counter: Counter,
    *,
    given_w: float,
    duration_s: float,
    soc: float,
    inverter: Inverter | None = None,
    seed: int = 0,
    test: str = "load",
    ambient_c: float = 22.0,
) -> tuple[LoadRunSeen, LoadRunTruth]:
    """A load for some time from a state of charge, read off a percentage counter, a meter and a watch."""
    battery = unit.battery
    power = float(inverter.drawn_w(given_w)) if inverter else given_w
    ohm = (battery.resistance_ohm + battery.slow_ohm) * float(warmth(battery, ambient_c))
    step = max(duration_s / 2000, 0.1)
    left, currents, volts = soc, [], []
    for _ in range(round(duration_s / step)):
        rest_v = float(open_circuit_v(battery, left))
        current = (rest_v - math.sqrt(rest_v**2 - 4 * ohm * power)) / (2 * ohm)
        left -= current * step / 3600 / battery.full_ah
        currents.append(current)
        volts.append(power / current)
    current_a = np.array(currents)
    first, last = counter.shows(soc, current_a, step, unit.id, test, seed)
    mean_a = float(current_a.mean())
    seen = LoadRunSeen(
        first,
        last,
        bench.reading("watch", duration_s / 60, test, seed) * 60,
        bench.reading("clamp", mean_a, test, seed, "mean"),
        bench.reading("plug", given_w, test, seed, "mean"),
    )
    used = float(current_a.sum()) * step / 3600
    return seen, LoadRunTruth(used, power * duration_s / 3600, power)
