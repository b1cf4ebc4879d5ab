"""A battery as one thermal lump, C dT/dt = P - UA(T - T_air): fitted to a warm-up, and used for the standard one.

A battery's core lags the probe on its case, which one lump ignores; the sensor's limit and a floor of 1 K stand for it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from site_builder.measured import Component, Measured
from site_builder.series import Array

SPECIFIC_HEAT_J_PER_KG_K = 1000.0
SPECIFIC_HEAT_SHARE = 0.2  # rectangular
LOSS_LN_MEAN, LOSS_LN_U = math.log(2.0), 0.5
SENSOR_FLOOR_K = 1.0
MOST_POINTS = 12
FIT_ROWS = 61
STANDARD_FROM_C = -10.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Warming:
    """A warm-up as seen: times [s], sensor temperatures [°C], air temperatures [°C], heater power [W].

    `sensor_u_k` is the sensor's standard uncertainty, one error for all points.
    """

    time_s: Array
    sensor_c: Array
    air_c: Array
    heater_w: Measured
    sensor_u_k: float
    mass_kg: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Lump:
    """The fitted lump, and the joint covariance of (ln C, ln UA, sensor offset, start)."""

    capacity_j_per_k: float
    loss_w_per_k: float
    offset_k: float
    covariance: Array
    start_c: float


def temperature_c(
    time_s: float, start_c: float, air_c: float, heater_w: float, capacity_j_per_k: float, loss_w_per_k: float
) -> float:
    """Temperature after `time_s` of constant heating in constant air. [°C]

    Source:
        First-order lumped-capacitance balance; Çengel, Heat and Mass Transfer, "Lumped system analysis".

    >>> round(temperature_c(3600, 20, 20, 0, 12_000, 1.5), 3)
    20.0
    """
    end = air_c + heater_w / loss_w_per_k
    return end + (start_c - end) * math.exp(-loss_w_per_k * time_s / capacity_j_per_k)


def warm_up_s(
    start_c: float, target_c: float, air_c: float, heater_w: float, capacity_j_per_k: float, loss_w_per_k: float
) -> float:
    """Time to warm from `start_c` to `target_c` in air at `air_c`; infinite where the losses hold it below. [s]

    t = -(C/UA) ln((T_r - T_a - P/UA)/(T_0 - T_a - P/UA)).

    Source:
        First-order lumped-capacitance balance; Çengel, Heat and Mass Transfer, "Lumped system analysis".

    >>> round(warm_up_s(-10, 8, -10, 60, 12_000, 1.5), 2)
    4782.7
    """
    rise = heater_w / loss_w_per_k
    if rise <= target_c - air_c:
        return math.inf
    return -capacity_j_per_k / loss_w_per_k * math.log((target_c - air_c - rise) / (start_c - air_c - rise))


def fitted(warming: Warming) -> Lump:
    """The lump that fits a warm-up best, with what is known beforehand of C and UA.

    At most 12 evenly spaced points, each with u = max(sensor, 1 K); the sensor's offset is one error for all of them
    (it shifts the battery against the air). C = m·1000 J/(kg K), ±20 %; ln UA ~ N(ln 2, 0.5).
    """
    from scipy.optimize import least_squares  # noqa: PLC0415  # slow to import

    known = _Known.of(thinned_to(warming, FIT_ROWS))
    keep = known.keep

    def misses(raw: Array) -> Array:
        return known.misses(raw)

    start = np.array([known.ln_capacity, LOSS_LN_MEAN, 0.0, float(known.warming.sensor_c[keep[0]])])
    found = least_squares(misses, start, x_scale=np.array([0.1, 0.5, 1.0, 1.0]))
    covariance = np.linalg.inv(found.jac.T @ found.jac)
    ln_c, ln_ua, offset, first = (float(one) for one in found.x)
    return Lump(
        capacity_j_per_k=math.exp(ln_c),
        loss_w_per_k=math.exp(ln_ua),
        offset_k=offset,
        covariance=covariance,
        start_c=first,
    )


def thinned_to(warming: Warming, rows: int) -> Warming:
    """Every so many rows: the lump's steps are exact for any width, only the air between them is averaged."""
    keep = np.unique(np.linspace(0, len(warming.time_s) - 1, rows).astype(np.int64))
    return replace(warming, time_s=warming.time_s[keep], sensor_c=warming.sensor_c[keep], air_c=warming.air_c[keep])


@dataclass(frozen=True, slots=True)
class _Known:
    """What the fit holds against each guess: the points, and what is known beforehand."""

    warming: Warming
    keep: np.ndarray[tuple[int], np.dtype[np.int64]]
    ln_capacity: float
    ln_capacity_u: float

    @classmethod
    def of(cls, warming: Warming) -> _Known:
        keep = np.unique(np.linspace(0, len(warming.time_s) - 1, MOST_POINTS).astype(np.int64))
        ln_capacity = math.log(warming.mass_kg * SPECIFIC_HEAT_J_PER_KG_K)
        return cls(warming, keep, ln_capacity, SPECIFIC_HEAT_SHARE / math.sqrt(3))

    def misses(self, raw: Array) -> Array:
        ln_c, ln_ua, offset, first = raw
        model = simulated_c(self.warming, math.exp(ln_c), math.exp(ln_ua), float(first) - float(offset))[self.keep]
        point_u = max(self.warming.sensor_u_k, SENSOR_FLOOR_K)
        points = (model + offset - self.warming.sensor_c[self.keep]) / point_u
        prior = [
            (ln_c - self.ln_capacity) / self.ln_capacity_u,
            (ln_ua - LOSS_LN_MEAN) / LOSS_LN_U,
            offset / max(self.warming.sensor_u_k, 0.05),
        ]
        return np.concatenate([points, prior])


def simulated_c(warming: Warming, capacity_j_per_k: float, loss_w_per_k: float, start_c: float) -> Array:
    """The lump's temperature at every time of the warm-up, air as recorded, step by step in closed form. [°C]"""
    rate = loss_w_per_k / capacity_j_per_k
    rise = warming.heater_w.value / loss_w_per_k
    result = np.empty(len(warming.time_s))
    result[0] = now = start_c
    decay = np.exp(-rate * np.diff(warming.time_s))
    air = (warming.air_c[:-1] + warming.air_c[1:]) / 2
    for i in range(len(decay)):
        end = float(air[i]) + rise
        now = end + (now - end) * float(decay[i])
        result[i + 1] = now
    return result


def from_lump(
    lump: Lump, warming: Warming, function: Callable[[float, float, float, float], float], unit: str, name: str
) -> Measured:
    """A function of (C, UA, heater power, sensor offset) of the fitted lump, first order, with the fit's correlations.

    Args:
        lump: The fit.
        warming: What was fitted; its heater power brings its own components.
        function: Of heat capacity [J/K], loss [W/K], heater power [W] and sensor offset [K].
        unit: Unit of the result.
        name: Name of the fit's own errors.
    """
    centre = (math.log(lump.capacity_j_per_k), math.log(lump.loss_w_per_k), lump.offset_k)
    power = warming.heater_w.value

    def at(ln_c: float, ln_ua: float, offset: float, watt: float) -> float:
        return function(math.exp(ln_c), math.exp(ln_ua), watt, offset)

    value = at(*centre, power)
    if not math.isfinite(value):
        return Measured(value=value, unit=unit, basis="projected")
    slopes = [_slope(_along(at, centre, power, which), centre[which]) for which in range(3)]
    variance = float(np.array(slopes) @ lump.covariance[:3, :3] @ np.array(slopes))
    per_watt = _slope(lambda watt: at(*centre, watt), power)
    components = {key: one.scaled(per_watt) for key, one in warming.heater_w.components.items()}
    components[name] = Component(math.sqrt(max(variance, 0.0)))
    return Measured(value=value, unit=unit, components=components, basis="projected")


def _along(
    at: Callable[[float, float, float, float], float], centre: tuple[float, float, float], power: float, which: int
) -> Callable[[float], float]:
    """`at` as a function of one of its first three arguments alone."""

    def one(x: float) -> float:
        ln_c, ln_ua, offset = (x if i == which else centre[i] for i in range(3))
        return at(ln_c, ln_ua, offset, power)

    return one


def _slope(function: Callable[[float], float], at: float) -> float:
    step = 1e-4 * max(abs(at), 1.0)
    high, low = function(at + step), function(at - step)
    # On one side of a divergence only the other side has a slope.
    if not math.isfinite(high):
        return (function(at) - low) / step
    if not math.isfinite(low):
        return (high - function(at)) / step
    return (high - low) / (2 * step)
