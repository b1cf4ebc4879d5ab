"""Capacity at another current or temperature: how tests off the reference stand beside those on it."""

from __future__ import annotations

import math
from dataclasses import replace

from site_builder.measured import Component, Measured, rectangular, weakest_basis

# This project's judgement for LiFePO4: k - 1 lies anywhere between 0 and 0.05 (for energy 0.06: voltage falls too).
LFP_EXCESS_CHARGE = 0.05
LFP_EXCESS_ENERGY = 0.06
# How far one battery's k differs from that of its chemistry (standard deviation).
OWN_U = 0.004
LEAD_PER_K = 0.006
LFP_PER_10_K = 0.01
LFP_STEADY_C = 25.0
# Nothing is brought to another rate, or projected, for a colder or hotter battery. [°C]
COMPARABLE_TEMPERATURE_C = (10.0, 35.0)


def peukert_hours(capacity_ah: float, over_h: float, exponent: float, current_a: float) -> float:
    """Discharge time at a constant current, t = H·(C/(I·H))^k.

    Args:
        capacity_ah: Rated capacity. [Ah]
        over_h: Discharge time H that the rating is for. [h]
        exponent: Peukert's k.
        current_a: Current. [A]

    Returns:
        The time. [h]

    Source:
        Peukert 1897, in the form of D. Doerffel and S. A. Sharkh, J. Power Sources 155 (2006) 395.

    >>> round(peukert_hours(100, 20, 1.0, 5), 6)
    20.0
    """
    return over_h * math.pow(capacity_ah / (current_a * over_h), exponent)


def at_reference_rate(
    delivered: Measured, rate_it: float, reference_it: float, *, unit: str, energy: bool = False
) -> Measured:
    """LiFePO4 charge or energy brought to the reference rate, C_ref = C·(I/I_ref)^(k-1).

    k - 1 is rectangular on 0 to 0.05 (energy 0.06) and one shared variable for the chemistry, plus an own part.

    Args:
        delivered: What was delivered at `rate_it`. [Ah or Wh]
        rate_it: Rate of the test. [I_t]
        reference_it: Rate to bring it to. [I_t]
        unit: The unit's id, for the name of its own part.
        energy: Whether `delivered` is energy.

    Returns:
        The value at the reference rate, basis "projected", or weaker where `delivered` is.
    """
    widest = LFP_EXCESS_ENERGY if energy else LFP_EXCESS_CHARGE
    log_ratio = math.log(rate_it / reference_it)
    factor = math.exp(log_ratio * widest / 2)
    at = replace(delivered.scaled(factor), basis=weakest_basis(delivered.basis, "projected"))
    shared = {"peukert:LiFePO4": rectangular(widest / 2).scaled(at.value * log_ratio)}
    own = {f"peukert:{unit}": Component(OWN_U * at.value * log_ratio)}
    return replace(at, components=dict(at.components) | shared | own)


def lead_acid_at_25_c(delivered_ah: float, temperature_c: float) -> float:
    """Lead-acid capacity brought to 25 °C, C₂₅ = C/(1 + λ(t - 25)), λ 0.006 per kelvin.

    Source:
        IEC 60896-11 (temperature correction of capacity, λ for slow discharges), from memory.

    >>> round(lead_acid_at_25_c(90, 15), 3)
    95.745
    """
    return delivered_ah / (1 + LEAD_PER_K * (temperature_c - LFP_STEADY_C))


def lfp_temperature_component(value: float, temperature_c: float) -> Component:
    """±1 % per 10 K away from 25 °C: no correction, this project's judgement for 10 to 35 °C."""
    return rectangular(LFP_PER_10_K * abs(temperature_c - LFP_STEADY_C) / 10 * abs(value))
