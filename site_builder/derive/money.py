"""What it costs for what it holds. Price is never part of a grade: a shop's tag changes, the battery does not."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from site_builder.catalogue_records import Price, Rates
from site_builder.derive.results import Priced
from site_builder.measured import Bound, Measured, through, weakest_basis
from site_builder.records import CycleClaim

FRESH_FOR = dt.timedelta(days=365)
NO_INTEREST = 1e-12


def newest_price(prices: Iterable[Price], rates: Rates, as_of: dt.date) -> Priced | None:
    """The newest price on or before the catalogue's date, in its currency; stale when over 12 months old.

    Of several on one day a paid price leads, then a listed one, then a sale: what somebody really handed over says
    more than a tag.
    """
    order = {"paid": 0, "listed": 1, "sale": 2}
    known = [price for price in prices if price.date <= as_of and _worth(price, rates) is not None]
    if not known:
        return None
    newest = min(known, key=lambda price: (-price.date.toordinal(), order[price.kind], price.amount.best))
    worth, rate_date = _worth(newest, rates) or (1.0, None)
    return Priced(
        amount=newest.amount.best * worth,
        currency=rates.currency,
        original=newest.amount.best,
        original_currency=newest.currency,
        rate_date=rate_date,
        date=newest.date.isoformat(),
        kind=newest.kind,
        seller=newest.seller,
        stale=as_of - newest.date > FRESH_FOR,
    )


def _worth(price: Price, rates: Rates) -> tuple[float, str | None] | None:
    """What one of the price's currency was worth, and the rate's date: the last one before, else the first."""
    if price.currency == rates.currency:
        return 1.0, None
    fitting = sorted((rate for rate in rates.rates if rate.currency == price.currency), key=lambda rate: rate.date)
    before = [rate for rate in fitting if rate.date <= price.date]
    chosen = before[-1] if before else fitting[0] if fitting else None
    return None if chosen is None else (chosen.worth.best, chosen.date.isoformat())


def price_per_kwh(price: Priced, energy_wh: Measured) -> Measured:
    """Price divided by the energy the unit holds. [currency/kWh]

    An energy that is "at least" makes the price "at most"; one between two limits makes it lie between two.
    """
    return _per_energy(price.amount * 1000, energy_wh, f"{price.currency}/kWh")


def _per_energy(amount: float, energy_wh: Measured, unit: str) -> Measured:
    result = through(lambda e: amount / e, energy_wh, unit=unit)
    if energy_wh.bound == "between" and energy_wh.low and energy_wh.high:
        return replace(result, bound="between", low=amount / energy_wh.high, high=amount / energy_wh.low)
    return result.as_bound(_TURNED[energy_wh.bound])


_TURNED: Mapping[Bound, Bound] = {
    "exact": "exact",
    "at_least": "at_most",
    "at_most": "at_least",
    "between": "at_least",  # between nothing and something: the price has no upper end
}


def capital_recovery_factor(rate: float, years: float) -> float:
    """CRF = r(1+r)ⁿ/((1+r)ⁿ - 1); 1/n at r = 0. [1/year]

    Source:
        Short, Packey and Holt 1995, A Manual for the Economic Evaluation of Energy Efficiency and Renewable Energy
        Technologies, NREL/TP-462-5173.

    >>> round(capital_recovery_factor(0.08, 15), 5)
    0.11683
    """
    if rate < NO_INTEREST:
        return 1 / years
    # r/(1 - (1+r)⁻ⁿ), written so that a small rate does not vanish beside 1.
    return rate / -math.expm1(-years * math.log1p(rate))


@dataclass(frozen=True, kw_only=True, slots=True)
class Use:
    """How a battery is used up: full cycles a year, discount rate, and the longest life believed. [1/year, 1, year]"""

    cycles_per_year: float = 100.0
    discount_rate: float = 0.05
    longest_years: float = 15.0


def life_price_per_kwh(price: Priced, energy_wh: Measured, claim: CycleClaim, use: Use = Use()) -> Measured:
    """Price per kWh over its life, if the maker's claim of cycles holds: a claim, and said so. [currency/kWh]

    price·CRF(r, n)/(yearly energy), n = min(claimed cycles/yearly cycles, 15 years), mean energy of a cycle
    0.9 E × depth for a claim down to 80 %.
    """
    years = min(claim.count / use.cycles_per_year, use.longest_years)
    depth = claim.depth.best if claim.depth else 1.0
    left = claim.to.best if claim.to else 0.8
    mean_share = (1 + left) / 2 * depth
    yearly = price.amount * capital_recovery_factor(use.discount_rate, years)
    per_year_kwh = use.cycles_per_year * mean_share / 1000
    result = _per_energy(yearly / per_year_kwh, energy_wh, f"{price.currency}/kWh")
    return replace(result, basis=weakest_basis(result.basis, "projected"))
