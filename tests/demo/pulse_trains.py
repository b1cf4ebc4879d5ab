"""Pulses of current one after another, as a bench logs them: a small current, a large one, the same again. No disk."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.demo.batteries import Trace, follow, open_circuit_v
from tests.demo.bench import Bench, Log, Unit, logged
from tests.demo.randomness import generator


def simulate_pulse_train(
    unit: Unit,
    bench: Bench,
    *,
    currents_a: tuple[float, float],
    seconds: tuple[int, int],
    pulses: int,
    seed: int = 0,
    test: str = "pulses",
    soc: float = 0.8,
    temperature_c: float = 22.0,
) -> tuple[Log, float]:
    """A log that starts under the small current; each step up comes a second after a row.

    Args:
        unit: What is pulsed.
        bench: Where.
        currents_a: Small and large current. [A]
        seconds: How long each lasts. [s]
        pulses: How often.
        seed: Draws the bench's errors and the day's variation.
        test: Name of the test.
        soc: State of charge at the start, 0 to 1.
        temperature_c: Battery temperature. [°C]

    Returns:
        The log, and the true resistance between the last row before a step and the first after it, mean of all. [mΩ]
    """
    low, high = (np.full(length, amps) for length, amps in zip(seconds, currents_a, strict=True))
    current = np.concatenate([low[:1], *[part for _ in range(pulses) for part in (low, high)], low])
    true = follow(unit.battery, current, 1.0, soc=soc, ambient_c=temperature_c)
    wear = 1 + unit.repeat_ohm * float(generator(unit.id, test, seed, "ohm").normal())
    rest_v = open_circuit_v(unit.battery, true.soc)
    worn = replace(true, voltage_v=rest_v - (rest_v - true.voltage_v) * wear)
    return logged(bench, worn, 1.0, test, seed), _milliohm(true, int(bench.interval_s))


def _milliohm(true: Trace, every: int) -> float:
    amps, volts = true.current_a[::every], true.voltage_v[::every]
    steps = np.flatnonzero(np.diff(amps) > 0)
    return float(np.mean(1000 * (volts[steps] - volts[steps + 1]) / (amps[steps + 1] - amps[steps])))
