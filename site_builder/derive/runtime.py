"""How long a unit runs a load: hours = E(P)/P̄, energy at that rate by the relation that also compares capacities."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from site_builder.catalogue_records import Load
from site_builder.derive.inverter import Chain
from site_builder.derive.peukert import at_reference_rate
from site_builder.measured import Component, Measured, rectangular, through
from site_builder.series import Array
from site_builder.values import Stated

LOWEST_RATE_IT, HIGHEST_RATE_IT = 0.04, 0.5


@dataclass(frozen=True, kw_only=True, slots=True)
class Supply:
    """What a projection starts from: a unit's measured energy at a measured rate.

    `energy` [Wh] was delivered at `rate_it` [I_t] of `rated_ah` [Ah] at `mean_v` [V]; `curve` is Ah, V of that test.
    """

    unit: str
    chemistry: str
    energy: Measured
    rate_it: float
    rated_ah: float
    mean_v: float
    curve: tuple[Array, Array] | None


def projected_hours(load: Load, supply: Supply, chain: Chain | None, chain_name: str = "none") -> Measured | str:
    """Hours of one load on one charge, or in words why that is not known.

    Args:
        load: Running power and duty.
        supply: The unit's measured energy and rate.
        chain: The inverter, for a load at mains voltage.
        chain_name: Its name, for its share of the uncertainty.

    Returns:
        Hours, basis "projected": the rate is that while the load is on; below 0.04 I_t as at 0.04, and "at least",
        since nobody knows how much more a slower discharge gives.
    """
    if load.mains and chain is None:
        return "not known: it needs an inverter, and the bench has none for this voltage"
    if supply.chemistry != "LiFePO4":
        return "not known: for this chemistry only what was measured at that rate is shown"
    if supply.rate_it > HIGHEST_RATE_IT:
        return f"not known: its energy was measured at {supply.rate_it:.2g} of its capacity per hour, beyond 0.5"
    on_w = load.running_w.best if chain is None or not load.mains else chain.dc_w(load.running_w.best)
    on_rate = on_w / supply.mean_v / supply.rated_ah
    if on_rate > HIGHEST_RATE_IT:
        return f"not known: {on_rate:.2g} of its capacity per hour is more than projections reach (0.5)"
    mean = mean_power(load, chain, chain_name)
    energy = at_rate(supply, max(on_rate, LOWEST_RATE_IT))
    hours = through(lambda e, p: e / p, _above_cut_off(energy, supply, chain if load.mains else None), mean, unit="h")
    slower = on_rate < LOWEST_RATE_IT and energy.bound == "exact" and supply.rate_it > on_rate
    return replace(hours, bound="at_least" if slower else energy.bound, basis="projected")


def mean_power(load: Load, chain: Chain | None, chain_name: str) -> Measured:
    """Mean power at the battery, the inverter's idle power counted all the time. [W]

    What the catalogue leaves open of the load ("about 60", a duty from 0.3 to 0.4) stays open in the result.
    """
    through_inverter = chain if load.mains else None
    duty = load.duty.best if load.duty else 1.0
    idle_w = through_inverter.idle_w if through_inverter else 0.0
    on_w = through_inverter.dc_w(load.running_w.best) - idle_w if through_inverter else load.running_w.best
    slope = through_inverter.slope + 2 * through_inverter.square * load.running_w.best if through_inverter else 1.0
    components = {
        f"load:{load.title}/power": _left_open(load.running_w).scaled(duty * slope),
        f"load:{load.title}/duty": _left_open(load.duty).scaled(on_w),
    }
    value = idle_w + duty * on_w
    if through_inverter:
        components[f"chain:{chain_name}"] = Component(through_inverter.relative_u * value)
    return Measured(value=value, unit="W", components={name: one for name, one in components.items() if one.u})


def _left_open(stated: Stated | None) -> Component:
    """What the way it was written down leaves open."""
    half = stated.half_width if stated else 0.0
    return rectangular(half if math.isfinite(half) else 0.0)


def at_rate(supply: Supply, rate_it: float) -> Measured:
    """The unit's energy at another rate. [Wh]"""
    measured_at = max(supply.rate_it, LOWEST_RATE_IT)
    if math.isclose(measured_at, rate_it):
        return supply.energy
    return at_reference_rate(supply.energy, measured_at, rate_it, unit=supply.unit, energy=True)


def _above_cut_off(energy: Measured, supply: Supply, chain: Chain | None) -> Measured:
    """The part of the energy that lies above the inverter's cut-off, where that comes before the battery's own end."""
    if chain is None or chain.cut_off_v is None or supply.curve is None:
        return energy
    share = share_above(supply.curve, chain.cut_off_v)
    components = {name: one.scaled(share) for name, one in energy.components.items()}
    return replace(energy, value=energy.value * share, components=components)


def share_above(curve: tuple[Array, Array], cut_off_v: float) -> float:
    """Share of a discharge's energy delivered before the voltage first falls below `cut_off_v`.

    The curve's first and last row may be from before the load came on and after it went off.
    """
    charge, voltage = curve
    energy = np.concatenate([[0.0], np.cumsum((voltage[:-1] + voltage[1:]) / 2 * np.diff(charge))])
    below = np.flatnonzero(voltage[:-1] < cut_off_v)
    if not len(below) or energy[-1] <= 0:
        return 1.0
    last = int(below[0])
    if last == 0:
        return 0.0
    # Between two rows of the thinned curve the voltage falls in a straight line.
    part = (voltage[last - 1] - cut_off_v) / (voltage[last - 1] - voltage[last])
    return float((energy[last - 1] + part * (energy[last] - energy[last - 1])) / energy[-1])
