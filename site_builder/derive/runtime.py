"""How long a unit runs a load: hours = E(P)/P̄, energy at that rate by the relation that also compares capacities."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from site_builder.catalogue_records import Load
from site_builder.derive.inverter import Chain
from site_builder.derive.peukert import COMPARABLE_TEMPERATURE_C, LFP_PER_10_K, at_reference_rate
from site_builder.measured import Component, Measured, rectangular, through
from site_builder.series import Array
from site_builder.values import Stated

LOWEST_RATE_IT, HIGHEST_RATE_IT = 0.04, 0.5


@dataclass(frozen=True, kw_only=True, slots=True)
class Supply:
    """What a projection starts from: a unit's measured energy at a measured rate.

    `energy` [Wh] was delivered at `rate_it` [I_t] of `rated_ah` [Ah] at `mean_v` [V]; `curve` is Ah, V of that test,
    `tested_c` [°C] its temperature, where anybody wrote it down.
    """

    unit: str
    chemistry: str
    energy: Measured
    rate_it: float
    rated_ah: float
    mean_v: float
    curve: tuple[Array, Array] | None
    tested_c: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Use:
    """A load among several: `of_day` is the share of the day for which it is switched on, 1 for all the time."""

    load: Load
    of_day: float = 1.0


def hours_together(
    uses: Sequence[Use],
    supply: Supply,
    chain: Chain | None,
    chain_name: str = "none",
    *,
    batteries: int = 1,
    idle_of_day: float = 1.0,
    warmth_c: float | None = None,
) -> Measured | str:
    """Hours of several loads on one charge, or in words why that is not known.

    Args:
        uses: What runs, with duty and share of the day.
        supply: The unit's measured energy and rate.
        chain: The inverter, for loads at mains voltage; all of them go through this one.
        chain_name: Its name, for its share of the uncertainty.
        batteries: How many like this one share the current evenly, in parallel.
        idle_of_day: The share of the day for which the inverter is on.
        warmth_c: How warm the battery is; None for as warm as in its test. [°C]

    Returns:
        Hours, basis "projected": the rate is that with everything on at once; below 0.04 I_t as at 0.04, and "at
        least", since nobody knows how much more a slower discharge gives.
    """
    mains = any(use.load.mains for use in uses)
    if mains and chain is None:
        return "not known: it needs an inverter, and the bench has none for this voltage"
    if supply.chemistry != "LiFePO4":
        return "not known: for this chemistry only what was measured at that rate is shown"
    if supply.rate_it > HIGHEST_RATE_IT:
        return f"not known: its energy was measured at {supply.rate_it:.2g} of its capacity per hour, beyond 0.5"
    on_rate = on_power_w([use.load for use in uses], chain) / batteries / supply.mean_v / supply.rated_ah
    if on_rate > HIGHEST_RATE_IT:
        return f"not known: {on_rate:.2g} of its capacity per hour is more than projections reach (0.5)"
    if warmth_c is not None and not COMPARABLE_TEMPERATURE_C[0] <= warmth_c <= COMPARABLE_TEMPERATURE_C[1]:
        return "not known: nothing is projected for a battery so cold or hot"
    mean = mean_power_together(uses, chain, chain_name, idle_of_day)
    at_once = at_warmth(at_rate(supply, max(on_rate, LOWEST_RATE_IT)), supply, warmth_c)
    energy = _above_cut_off(at_once, supply, chain if mains else None)
    hours = through(lambda e, p: e * batteries / p, energy, mean, unit="h")
    slower = on_rate < LOWEST_RATE_IT and energy.bound == "exact" and supply.rate_it > on_rate
    return replace(hours, bound="at_least" if slower else energy.bound, basis="projected")


def on_power_w(loads: Sequence[Load], chain: Chain | None) -> float:
    """Power at the battery while all of these run, those at mains voltage through one inverter. [W]"""
    direct = sum(load.running_w.best for load in loads if chain is None or not load.mains)
    if chain is None or not any(load.mains for load in loads):
        return direct
    return direct + chain.dc_w(sum(load.running_w.best for load in loads if load.mains))


def mean_power(load: Load, chain: Chain | None, chain_name: str) -> Measured:
    """Mean power at the battery of one load, with what the inverter takes for itself all the time. [W]"""
    return mean_power_together((Use(load=load),), chain, chain_name)


def mean_power_together(
    uses: Sequence[Use], chain: Chain | None, chain_name: str, idle_of_day: float = 1.0
) -> Measured:
    """Mean power at the battery of several loads, with what the inverter takes for itself while it is on. [W]

    What the catalogue leaves open of a load ("about 60", a duty from 0.3 to 0.4) stays open in the result. Where an
    inverter's losses grow with the square of its power, each load is given its share of what all of them take together.
    """
    behind = [use for use in uses if use.load.mains] if chain is not None else []
    direct = [use for use in uses if use not in behind]
    value = sum(_mean_w(use) for use in direct)
    components = {name: one for use in direct for name, one in _open_of(use, 1.0, 0.0).items()}
    if chain is not None and behind:
        mean_w = sum(_mean_w(use) for use in behind)
        per_w = chain.slope + chain.square * sum(use.load.running_w.best for use in behind)
        # As if never two ran at once: then a standby mode saves least.
        busy = sum(_share(use) for use in behind)
        through_w = chain.resting_w(busy, idle_of_day) + per_w * mean_w
        woken_w = chain.idle_w - chain.off_w if busy < idle_of_day else 0.0
        for use in behind:
            components |= _open_of(use, per_w, chain.square * mean_w, woken_w)
        components[f"chain:{chain_name}"] = Component(chain.relative_u * through_w)
        value += through_w
    return Measured(value=value, unit="W", components={name: one for name, one in components.items() if one.u})


def _mean_w(use: Use) -> float:
    """Mean power at the load. [W]"""
    return use.load.running_w.best * _share(use)


def _share(use: Use) -> float:
    """The share of the day for which the load draws its running power."""
    return use.of_day * (use.load.duty.best if use.load.duty else 1.0)


def _open_of(use: Use, per_w: float, beside: float, woken_w: float = 0.0) -> dict[str, Component]:
    """What is open of a load's power and duty, at the battery.

    `per_w` is the battery's power for one watt of the load's mean; `beside` what one watt more of its running power
    costs all loads; `woken_w` what an inverter takes more while the load keeps it from standby.
    """
    load = use.load
    return {
        f"load:{load.title}/power": _left_open(load.running_w).scaled(_share(use) * per_w + beside),
        f"load:{load.title}/duty": _left_open(load.duty).scaled((load.running_w.best * per_w + woken_w) * use.of_day),
    }


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


def at_warmth(energy: Measured, supply: Supply, warmth_c: float | None) -> Measured:
    """The same energy from a battery this warm: ±1 % for each 10 K between it and the test, and no correction. [Wh]

    A test of which nobody wrote the temperature down was anywhere between 10 and 35 °C; after one outside, "at least".
    """
    if warmth_c is None:
        return energy
    tested = COMPARABLE_TEMPERATURE_C if supply.tested_c is None else (supply.tested_c,)
    away_k = max(abs(warmth_c - one) for one in tested)
    limit = rectangular(LFP_PER_10_K * away_k / 10 * energy.value)
    steady = all(COMPARABLE_TEMPERATURE_C[0] <= one <= COMPARABLE_TEMPERATURE_C[1] for one in tested)
    known = energy if steady else energy.as_bound("at_least")  # a supply has no upper end
    return known.with_component(f"temperature:{supply.unit}", limit)


def _above_cut_off(energy: Measured, supply: Supply, chain: Chain | None) -> Measured:
    """The part of the energy that lies above the inverter's cut-off, where that comes before the battery's own end."""
    if chain is None or chain.cut_off_v is None or supply.curve is None:
        return energy
    share = share_above(supply.curve, chain.cut_off_v)
    return energy.scaled(share)


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
