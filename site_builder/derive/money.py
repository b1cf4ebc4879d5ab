"""What it costs for what it holds. Price is never part of a grade: a shop's tag changes, the battery does not."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from site_builder.catalogue_records import Price, Rates
from site_builder.derive.readings import bound_of
from site_builder.derive.results import Priced
from site_builder.measured import Measured, bounded, rectangular, weakest_basis
from site_builder.records import CycleClaim
from site_builder.values import Stated

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
        known=_known(newest.amount, worth, newest.unit, rates.currency),
        tag=newest.amount,
        currency=rates.currency,
        original_currency=newest.currency,
        rate_date=rate_date,
        date=newest.date.isoformat(),
        kind=newest.kind,
        seller=newest.seller,
        stale=as_of - newest.date > FRESH_FOR,
    )


def _known(amount: Stated, worth: float, unit: str, currency: str) -> Measured:
    """The amount with the limits or the open side that its writer gave it; a plain one counts as exact."""
    half = amount.half_width * worth
    components = {f"stated:{unit}/price": rectangular(half)} if 0 < half < math.inf else {}
    return Measured(value=amount.best * worth, unit=currency, components=components, bound=bound_of(amount))


def _worth(price: Price, rates: Rates) -> tuple[float, str | None] | None:
    """What one of the price's currency was worth, and the rate's date: the last one before, else the first."""
    if price.currency == rates.currency:
        return 1.0, None
    fitting = sorted((rate for rate in rates.rates if rate.currency == price.currency), key=lambda rate: rate.date)
    before = [rate for rate in fitting if rate.date <= price.date]
    chosen = before[-1] if before else fitting[0] if fitting else None
    return None if chosen is None else (chosen.worth.best, chosen.date.isoformat())


def price_per_kwh(price: Priced, energy_wh: Measured) -> Measured | None:
    """Price divided by the energy the unit holds. [currency/kWh]

    An energy that is "at least" makes the price "at most"; one between two limits makes it lie between two. None where
    neither side is known.
    """
    return _per_energy(price, 1000.0, energy_wh)


def _per_energy(price: Priced, factor: float, energy_wh: Measured) -> Measured | None:
    unit = f"{price.currency}/kWh"
    return bounded(lambda p, e: p * factor / e, price.known, energy_wh, unit=unit, rises=(True, False))


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


def life_price_per_kwh(price: Priced, energy_wh: Measured, claim: CycleClaim, use: Use = Use()) -> Measured | None:
    """Price per kWh over its life, if the maker's claim of cycles holds: a claim, and said so. [currency/kWh]

    price·CRF(r, n)/(yearly energy), n = min(claimed cycles/yearly cycles, 15 years), mean energy of a cycle
    0.9 E × depth for a claim down to 80 %.
    """
    years = min(claim.count.best / use.cycles_per_year, use.longest_years)
    depth = claim.depth.best if claim.depth else 1.0
    left = claim.to.best if claim.to else 0.8
    mean_share = (1 + left) / 2 * depth
    per_year_kwh = use.cycles_per_year * mean_share / 1000
    factor = capital_recovery_factor(use.discount_rate, years) / per_year_kwh
    result = _per_energy(price, factor, energy_wh)
    return None if result is None else replace(result, basis=weakest_basis(result.basis, "projected"))
