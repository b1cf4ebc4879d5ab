"""A battery as one thermal lump, C dT/dt = P - UA(T - T_air): fitted to a warm-up, and used for the standard one.

A battery's core lags the probe on its case, which one lump ignores; the sensor's limit and a floor of 1 K stand for it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from site_builder.measured import Component, Measured
from site_builder.series import Array

SPECIFIC_HEAT_J_PER_KG_K = 1000.0
SPECIFIC_HEAT_SHARE = 0.2  # rectangular
LOSS_LN_MEAN, LOSS_LN_U = math.log(2.0), 0.5
SENSOR_FLOOR_K = 1.0
MOST_POINTS = 12
FIT_ROWS = 61
STANDARD_FROM_C = -10.0
# An error that nobody has is not fitted, but its parameter stays: so small that it cannot move anything.
NO_ERROR_K = 1e-3


@dataclass(frozen=True, kw_only=True, slots=True)
class Warming:
    """A warm-up as seen: times [s], sensor temperatures [°C], air temperatures [°C], heater power [W].

    `sensor_u_k` and `air_u_k` are standard uncertainties of the two thermometers (or of what was said of the air), each
    one error for all points.
    """

    time_s: Array
    sensor_c: Array
    air_c: Array
    heater_w: Measured
    sensor_u_k: float
    air_u_k: float
    mass_kg: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Lump:
    """The fitted lump, and the joint covariance of its (ln C, ln UA, sensor error, air error).

    `sensor_k` is what the sensor reads too high, `air_k` what the air was warmer than said.
    """

    capacity_j_per_k: float
    loss_w_per_k: float
    sensor_k: float
    air_k: float
    covariance: Array

    @property
    def parameters(self) -> Array:
        """The four fitted numbers: ln C, ln UA, sensor error, air error."""
        logs = math.log(self.capacity_j_per_k), math.log(self.loss_w_per_k)
        return np.array([*logs, self.sensor_k, self.air_k])

    def moved_to(self, parameters: Array) -> Lump:
        """The same lump with other parameters."""
        ln_c, ln_ua, sensor, air = (float(one) for one in parameters)
        return replace(self, capacity_j_per_k=math.exp(ln_c), loss_w_per_k=math.exp(ln_ua), sensor_k=sensor, air_k=air)


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

    t = -(C/UA) ln((T_r - T_a - P/UA)/(T_0 - T_a - P/UA)); 0 for a target that is no warmer than the start.

    Source:
        First-order lumped-capacitance balance; Çengel, Heat and Mass Transfer, "Lumped system analysis".

    >>> round(warm_up_s(-10, 8, -10, 60, 12_000, 1.5), 2)
    4782.7
    """
    rise = heater_w / loss_w_per_k
    if target_c <= start_c:
        return 0.0
    if rise <= target_c - air_c:
        return math.inf
    return -capacity_j_per_k / loss_w_per_k * math.log((target_c - air_c - rise) / (start_c - air_c - rise))


def fitted(warming: Warming) -> Lump:
    """The lump that fits a warm-up best, with what is known beforehand of C and UA.

    At most 12 evenly spaced points, each with u = max(sensor, 1 K); the sensor's error is one for all of them, and so
    is the air's. The lump starts where the sensor does. C = m·1000 J/(kg K), ±20 %; ln UA ~ N(ln 2, 0.5).
    """
    from scipy.optimize import least_squares  # noqa: PLC0415  # slow to import

    warming = thinned_to(warming, FIT_ROWS)
    before = _before(warming)
    start = Lump(
        capacity_j_per_k=math.exp(before[0, 0]),
        loss_w_per_k=math.exp(before[0, 1]),
        sensor_k=0.0,
        air_k=0.0,
        covariance=np.zeros((4, 4)),
    )
    keep = evenly(len(warming.time_s), MOST_POINTS)
    point_u = max(warming.sensor_u_k, SENSOR_FLOOR_K)

    def misses(raw: Array) -> Array:
        model = sensor_model_c(warming, start.moved_to(raw))[keep]
        return np.concatenate([(model - warming.sensor_c[keep]) / point_u, (raw - before[0]) / before[1]])

    found = least_squares(misses, start.parameters)
    return replace(start.moved_to(found.x), covariance=np.linalg.inv(found.jac.T @ found.jac))


def _before(warming: Warming) -> Array:
    """What is known of the four parameters before the warm-up: best values, and their standard uncertainties."""
    ln_capacity = math.log(warming.mass_kg * SPECIFIC_HEAT_J_PER_KG_K)
    sensor_u, air_u = (max(u, NO_ERROR_K) for u in (warming.sensor_u_k, warming.air_u_k))
    return np.array([
        [ln_capacity, LOSS_LN_MEAN, 0.0, 0.0],
        [SPECIFIC_HEAT_SHARE / math.sqrt(3), LOSS_LN_U, sensor_u, air_u],
    ])  # fmt: skip


def evenly(rows: int, most: int) -> NDArray[np.int64]:
    """At most `most` indexes, evenly spaced, both ends among them."""
    return np.unique(np.linspace(0, rows - 1, most).astype(np.int64))


def thinned_to(warming: Warming, rows: int) -> Warming:
    """Every so many rows: the lump's steps are exact for any width, only the air between them is averaged."""
    keep = evenly(len(warming.time_s), rows)
    return replace(warming, time_s=warming.time_s[keep], sensor_c=warming.sensor_c[keep], air_c=warming.air_c[keep])


def sensor_model_c(warming: Warming, lump: Lump) -> Array:
    """What the sensor would show of this lump at every time of the warm-up. [°C]"""
    return lump_model_c(warming, lump) + lump.sensor_k


def lump_model_c(warming: Warming, lump: Lump) -> Array:
    """The lump's own temperature at every time of the warm-up; it starts where the sensor says. [°C]"""
    air = replace(warming, air_c=warming.air_c + lump.air_k)
    start = float(warming.sensor_c[0]) - lump.sensor_k
    return simulated_c(air, lump.capacity_j_per_k, lump.loss_w_per_k, start)


def simulated_c(warming: Warming, capacity_j_per_k: float, loss_w_per_k: float, start_c: float) -> Array:
    """A lump's temperature at every time of the warm-up, air as recorded, step by step in closed form. [°C]"""
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
    lump: Lump, heater_w: Measured, function: Callable[[Lump, float], float], unit: str, name: str
) -> Measured:
    """A function of the fitted lump and the heater's power, first order, with the fit's correlations.

    Args:
        lump: The fit.
        heater_w: The heater's power, with its own components.
        function: Of the lump, and of the power. [W]
        unit: Unit of the result.
        name: Name of the fit's own errors.
    """
    centre, power = lump.parameters, heater_w.value
    value = function(lump, power)
    if not math.isfinite(value):
        return Measured(value=value, unit=unit, basis="projected")
    slopes = np.array([_slope(_along(function, lump, power, which), centre[which]) for which in range(len(centre))])
    variance = float(slopes @ lump.covariance @ slopes)
    per_watt = _slope(lambda watt: function(lump, watt), power)
    components = {key: one.scaled(per_watt) for key, one in heater_w.components.items()}
    components[name] = Component(math.sqrt(max(variance, 0.0)))
    return Measured(value=value, unit=unit, components=components, basis="projected")


def _along(function: Callable[[Lump, float], float], lump: Lump, power: float, which: int) -> Callable[[float], float]:
    """The function of one parameter of the lump alone."""

    def one(x: float) -> float:
        moved = lump.parameters
        moved[which] = x
        return function(lump.moved_to(moved), power)

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
