"""What it costs for what it holds. Price is never part of a grade: a shop's tag changes, the battery does not."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from site_builder.catalogue_records import Price, Rates
from site_builder.derive.results import Priced
from site_builder.measured import Measured, through

FRESH_FOR = dt.timedelta(days=365)


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

    An energy that is "at least" makes the price "at most".
    """
    result = through(lambda e: price.amount / e * 1000, energy_wh, unit=f"{price.currency}/kWh")
    turned = {"at_least": "at_most", "at_most": "at_least"}.get(energy_wh.bound, "exact")
    return result.as_bound(turned)  # type: ignore[arg-type]
