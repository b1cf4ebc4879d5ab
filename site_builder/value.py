"""What a kWh costs: an order of its own beside the grade, never in it. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from site_builder.criteria import gradable
from site_builder.derive.results import Priced, UnitResult
from site_builder.grade import Components
from site_builder.measured import Measured
from site_builder.rank import Place, place_intervals


@dataclass(frozen=True, kw_only=True, slots=True)
class Valued:
    """One unit's price per kWh that it holds, the price it comes from (with its date and whether it is stale).

    `place` is 1 for the cheapest; the price itself counts as exact, so that only the energy's ± widens it.
    """

    id: str
    price_per_kwh: Measured
    priced: Priced
    place: Place


@dataclass(frozen=True, kw_only=True, slots=True)
class _Cheapness:
    """A price turned round, so that more is better."""

    low_end: float
    high_end: float
    components: Components = field(default_factory=dict)


def value_order(results: Iterable[UnitResult]) -> tuple[Valued, ...]:
    """Units by price per kWh, the cheapest first; those whose energy or price is not known are left out.

    A stale price stays in its place and is marked: whoever reads it decides.
    """
    known = [
        (one.id, price, one.price)
        for one in sorted(results, key=lambda one: one.id)
        if one.price is not None and (price := one.metrics.get("price_per_kwh")) is not None and gradable(price)
    ]
    found = place_intervals([_cheapness(price) for _, price, _ in known])
    valued = [
        Valued(id=name, price_per_kwh=price, priced=priced, place=place)
        for (name, price, priced), place in zip(known, found, strict=True)
    ]
    return tuple(sorted(valued, key=lambda one: (one.price_per_kwh.value, one.id)))


def _cheapness(price: Measured) -> _Cheapness:
    low = 0.0 if price.bound == "at_most" else price.value
    high = float("inf") if price.bound == "at_least" else price.value
    components = {name: -component.u for name, component in price.components.items()}
    return _Cheapness(low_end=-high, high_end=-low, components=components)
