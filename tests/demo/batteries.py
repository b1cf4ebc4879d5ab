"""The battery as physics: voltage, heat and charge. No protection, no instruments, no chance."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.interpolate import PchipInterpolator
from scipy.signal import lfilter

Floats = npt.NDArray[np.float64]

_GRID = np.linspace(-0.05, 1.0, 4201)


def _curve(points: dict[float, float]) -> Floats:
    """Open-circuit voltage of one cell over _GRID, monotone between the points [V]."""
    return np.asarray(PchipInterpolator(list(points), list(points.values()))(_GRID), dtype=float)


# Shapes from memory of published curves: two plateaus and two knees for LiFePO4, a nearly straight line for lead-acid.
OPEN_CIRCUIT_V = {
    "LiFePO4": _curve(
        {-0.05: 0.5, -0.02: 1.6, 0.0: 2.5, 0.01: 2.84, 0.02: 2.97, 0.04: 3.085, 0.07: 3.16, 0.1: 3.197, 0.15: 3.215}
        | {0.2: 3.24, 0.3: 3.272, 0.4: 3.287, 0.5: 3.293, 0.6: 3.299, 0.65: 3.308, 0.7: 3.325, 0.8: 3.331, 0.9: 3.334}
        | {0.95: 3.337, 0.98: 3.346, 0.99: 3.37, 1.0: 3.46}
    ),
    "AGM": _curve({-0.05: 1.7, 0.0: 1.92, 0.05: 1.955, 0.2: 1.99, 0.5: 2.05, 0.8: 2.105, 0.95: 2.135, 1.0: 2.15}),
}


@dataclass(frozen=True, kw_only=True)
class Battery:
    """What a battery truly is; its reference is a fifth of `rated_ah` per hour at 25 °C."""

    chemistry: str
    cells: int
    rated_ah: float
    full_ah: float  # charge between full and empty cells at the reference rate, 25 °C
    resistance_ohm: float  # ohmic, 25 °C, full battery
    slow_ohm: float  # the part that builds up over `slow_s`
    slow_s: float = 40.0
    peukert_less_one: float = 0.015
    cold_kelvin: float = 1800.0  # R(T) = R(25 °C)·exp(cold_kelvin·(1/T − 1/298 K))
    charge_per_kelvin: float = 0.001  # share of the charge lost per kelvin below 25 °C
    mass_kg: float = 11.0
    heat_j_per_kg_k: float = 1000.0
    loss_w_per_k: float = 2.2
    coulombic_efficiency: float = 0.997
    idle_a: float = 0.0015  # its own electronics

    @property
    def reference_a(self) -> float:
        """A fifth of the rated capacity per hour [A]."""
        return 0.2 * self.rated_ah

    @property
    def heat_j_per_k(self) -> float:
        """Heat capacity of the whole battery [J/K]."""
        return self.heat_j_per_kg_k * self.mass_kg


@dataclass(frozen=True)
class Trace:
    """What truly happened, on an even time grid. Discharge is positive; each current holds until the next sample."""

    elapsed_s: Floats
    current_a: Floats
    voltage_v: Floats
    temperature_c: Floats
    soc: Floats

    def cut(self, count: int) -> Trace:
        """The first `count` samples."""
        return Trace(*(values[:count] for values in vars(self).values()))


def open_circuit_v(battery: Battery, soc: Floats | float) -> Floats:
    """Voltage of the rested battery [V]."""
    return np.asarray(np.interp(soc, _GRID, OPEN_CIRCUIT_V[battery.chemistry]) * battery.cells)


def warmth(battery: Battery, temperature_c: Floats | float) -> Floats:
    """Factor on resistance for the temperature: above one in the cold."""
    kelvin = np.asarray(temperature_c, dtype=float) + 273.15
    return np.asarray(np.exp(battery.cold_kelvin * (1 / kelvin - 1 / 298.15)))


def full_as(battery: Battery, temperature_c: float) -> float:
    """Charge between full and empty at the reference rate, less in the cold [A·s]."""
    return 3600 * battery.full_ah * (1 - battery.charge_per_kelvin * max(25.0 - temperature_c, 0.0))


def drain(battery: Battery, current_a: Floats, temperature_c: float) -> Floats:
    """Share of the full charge used per second: Peukert's relation above and below the reference rate [1/s]."""
    rate = np.maximum(np.abs(current_a), 0.02 * battery.reference_a) / battery.reference_a
    return np.asarray(current_a * rate**battery.peukert_less_one / full_as(battery, temperature_c))


def lagged(values: Floats, step_s: float, lag_s: float, start: float) -> Floats:
    """First-order lag of a quantity that is constant within each step."""
    if lag_s <= 0:
        return values
    keep = math.exp(-step_s / lag_s)
    shifted = np.concatenate(([start], values[:-1]))
    out, _ = lfilter([1 - keep], [1, -keep], shifted[1:], zi=[keep * start])
    return np.concatenate(([start], out))


def follow(
    battery: Battery,
    current_a: Floats,
    step_s: float,
    *,
    soc: float = 1.0,
    ambient_c: float = 22.0,
    slow_v: float = 0.0,
) -> Trace:
    """Run a current through the battery, whatever its voltage does; protection is somebody else's task.

    Heat is worked out with the resistance at the air's temperature: a discharge warms these batteries by a few kelvin.

    Args:
        battery: What it runs through.
        current_a: Discharge positive, one value a step. [A]
        step_s: Length of a step. [s]
        soc: State of charge at the start, 0 to 1.
        ambient_c: Temperature of the air and of the battery at the start. [°C]
        slow_v: Voltage of the slow part at the start. [V]
    """
    share = drain(battery, current_a, ambient_c) * step_s
    used = np.concatenate(([0.0], np.cumsum(share[:-1])))
    ohm = (battery.resistance_ohm + battery.slow_ohm) * float(warmth(battery, ambient_c))
    settled_c = ambient_c + current_a**2 * ohm / battery.loss_w_per_k
    temperature = lagged(settled_c, step_s, battery.heat_j_per_k / battery.loss_w_per_k, ambient_c)
    factor = warmth(battery, temperature)
    slow = lagged(current_a * battery.slow_ohm * factor, step_s, battery.slow_s, slow_v)
    voltage = open_circuit_v(battery, soc - used) - current_a * battery.resistance_ohm * factor - slow
    elapsed = np.arange(current_a.size, dtype=np.float64) * step_s
    return Trace(elapsed, current_a, voltage, temperature, soc - used)
