"""The newest price, currencies, and price per kWh."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from site_builder.catalogue_records import Price, Rates
from site_builder.derive.money import Use, capital_recovery_factor, life_price_per_kwh, newest_price, price_per_kwh
from site_builder.derive.results import Priced
from site_builder.measured import Bound, Component, Measured, exact
from site_builder.records import CycleClaim
from tests.known import known

RATES = Rates.model_validate(
    {
        "currency": "EUR",
        "rates": [
            {"date": "2026-01-01", "currency": "USD", "worth": 0.9},
            {"date": "2026-06-01", "currency": "USD", "worth": 0.8},
        ],
    }
)
TODAY = dt.date(2026, 12, 31)


def price(date: str, amount: float | str, kind: str = "listed", currency: str = "EUR") -> Price:
    row = {"date": date, "unit": "tarn-t90", "amount": amount, "currency": currency, "kind": kind, "seller": "shop"}
    return Price.model_validate(row)


def newest(*prices: Price, as_of: dt.date = TODAY) -> Priced:
    found = newest_price(prices, RATES, as_of)
    assert found is not None
    return found


def test_the_newest_price_counts() -> None:
    assert newest(price("2026-05-01", 500), price("2026-07-01", 450), price("2026-06-01", 400)).amount == 450


def test_prices_after_the_catalogues_date_do_not() -> None:
    prices = [price("2026-05-01", 500), price("2026-07-01", 450)]
    assert newest(*prices, as_of=dt.date(2026, 6, 30)).amount == 500
    assert newest_price(prices, RATES, dt.date(2026, 4, 30)) is None
    assert newest_price([], RATES, TODAY) is None


def test_of_one_day_what_was_paid_leads() -> None:
    day = "2026-05-01"
    prices = [price(day, 300, "sale"), price(day, 500), price(day, 480, "paid"), price(day, 490, "paid")]
    assert newest(*prices).amount == 480
    assert newest(*prices[:2]).amount == 500
    assert newest(*reversed(prices)) == newest(*prices)


@pytest.mark.parametrize(
    ("date", "amount", "rate_date"),
    [("2026-05-31", 540, "2026-01-01"), ("2026-06-01", 480, "2026-06-01"), ("2025-12-01", 540, "2026-01-01")],
)
def test_the_rate_of_its_day(date: str, amount: float, rate_date: str) -> None:
    """The last rate before the price; the first one for a price that is older than all of them."""
    found = newest(price(date, 600, currency="USD"))
    assert found.amount == pytest.approx(amount)
    assert (found.currency, found.rate_date) == ("EUR", rate_date)
    assert (found.original, found.original_currency) == (600, "USD")


def test_a_price_without_a_rate_is_passed_over() -> None:
    found = newest(price("2026-05-01", 500), price("2026-07-01", 450, currency="CHF"))
    assert (found.amount, found.rate_date) == (500, None)


@pytest.mark.parametrize(("date", "stale"), [("2025-12-31", False), ("2025-12-30", True)])
def test_a_price_goes_stale_after_a_year(date: str, stale: bool) -> None:
    assert newest(price(date, 500)).stale is stale


@pytest.mark.parametrize(("bound", "turned"), [("exact", "exact"), ("at_least", "at_most"), ("at_most", "at_least")])
def test_price_per_kwh(bound: Bound, turned: Bound) -> None:
    """500 for 1.25 kWh are 400 for one; "at least" so much energy makes it "at most" so dear."""
    energy = Measured(value=1250, unit="Wh", components={"gain": Component(12.5)}, bound=bound)
    one = known(price_per_kwh(newest(price("2026-05-01", 500)), energy))
    assert one.value == pytest.approx(400)
    assert (one.unit, one.bound) == ("EUR/kWh", turned)
    assert one.components["gain"].u == pytest.approx(-4)


def energy(bound: Bound = "exact", low: float | None = None, high: float | None = None) -> Measured:
    return Measured(value=1250, unit="Wh", components={"gain": Component(12.5)}, bound=bound, low=low, high=high)


def test_an_energy_between_two_limits_makes_the_price_lie_between_two() -> None:
    """500 for 1.0 to 1.6 kWh: 312.50 to 500 for one."""
    one = known(price_per_kwh(newest(price("2026-05-01", 500)), energy("between", low=1000, high=1600)))
    assert one.bound == "between"
    assert (one.low, one.high) == pytest.approx((312.5, 500))
    nothing = known(price_per_kwh(newest(price("2026-05-01", 500)), energy("between", low=0, high=1600)))
    assert nothing.bound == "at_least"


@pytest.mark.parametrize(
    ("amount", "bound", "value", "spread"),
    [
        ("about 300", "exact", 240, 40),  # half a hundred either way, in 1.25 kWh
        ("280 to 320", "exact", 240, 16),
        ("under 300", "at_most", 240, 0),
        ("over 300", "at_least", 240, 0),
    ],
)
def test_a_price_keeps_what_its_writer_left_open(amount: str, bound: Bound, value: float, spread: float) -> None:
    one = known(price_per_kwh(newest(price("2026-05-01", amount)), exact(1250, "Wh")))
    assert one.bound == bound
    assert one.value == pytest.approx(value)
    assert sum(part.limit or 0 for part in one.components.values()) == pytest.approx(spread)
    dearer = price_per_kwh(newest(price("2026-05-01", amount)), energy("at_least"))
    assert (dearer is None) == (bound == "at_least"), "a price from below and energy from below: nothing is known"


# --- over a life -----------------------------------------------------------------------------------------------------
def life(use: Use | None = None, bound: Bound = "exact", **claim: Any) -> Measured:
    stated = CycleClaim.model_validate({"count": 1500, "depth": 1, "to": 0.8} | claim)
    return known(
        life_price_per_kwh(newest(price("2026-05-01", 500)), energy(bound), stated, use or Use(discount_rate=0.0))
    )


def test_a_claimed_life_spreads_the_price_over_its_cycles() -> None:
    """500 over 15 years · 100 cycles · 0.9 · 1.25 kWh. It is the maker's claim: a projection."""
    one = life()
    assert one.value == pytest.approx(500 / 15 / (100 * 0.9 * 1.25))
    assert (one.basis, one.unit) == ("projected", "EUR/kWh")
    assert one.components["gain"].u == pytest.approx(-one.value * 0.01)


def test_a_life_ends_with_its_cycles_or_after_fifteen_years() -> None:
    assert life(count=1000).value == pytest.approx(1.5 * life().value)
    assert life(count=9000).value == pytest.approx(life().value)
    assert life(Use(discount_rate=0.0, cycles_per_year=300)).value == pytest.approx(life().value)


def test_depth_and_end_of_a_claim_set_the_mean_energy_of_a_cycle() -> None:
    assert life(depth=0.8).value == pytest.approx(life().value / 0.8)
    assert life(to=0.6).value == pytest.approx(life().value * 0.9 / 0.8)
    # A claim that says neither is taken as full cycles down to 80 %.
    assert life(depth=None, to=None).value == pytest.approx(life().value)


@pytest.mark.parametrize(("bound", "turned"), [("at_least", "at_most"), ("at_most", "at_least")])
def test_its_bound_is_the_energys_turned_round(bound: Bound, turned: Bound) -> None:
    assert life(bound=bound).bound == turned


@given(st.floats(0.0, 0.2), st.floats(1, 30))
def test_interest_never_makes_a_life_cheaper(rate: float, years: float) -> None:
    factor = capital_recovery_factor(rate, years)
    assert factor >= 1 / years - 1e-12
    assert factor >= rate
