"""Cost over a life against printed tables of the capital recovery factor.

W. Short, D. J. Packey and T. Holt, A Manual for the Economic Evaluation of Energy Efficiency and Renewable Energy
Technologies, NREL/TP-462-5173 (1995): the formula, and the levelised cost of energy that it leads to.
"""

from __future__ import annotations

import numpy as np
import pytest

from site_builder.derive.money import Use, capital_recovery_factor, life_price_per_kwh, price_per_kwh
from site_builder.derive.results import Priced
from site_builder.measured import exact
from site_builder.records import CycleClaim
from site_builder.values import Stated
from tests.known import known

# Rate, years → factor, as in the interest tables of engineering economics textbooks.
FACTORS = {(0.08, 15): 0.11683, (0.10, 10): 0.16275, (0.05, 10): 0.12950}
PRICE = Priced(
    known=exact(500, "EUR"),
    tag=Stated(500, 500, 500, "plain", 1.0, "500"),
    currency="EUR",
    original_currency="EUR",
    rate_date=None,
    date="2026-05-01",
    kind="listed",
    seller="chandlery",
    stale=False,
)


@pytest.mark.parametrize(("rate", "years"), FACTORS)
def test_capital_recovery_factors(rate: float, years: int) -> None:
    assert capital_recovery_factor(rate, years) == pytest.approx(FACTORS[rate, years], abs=5e-6)


@pytest.mark.parametrize(("rate", "years"), FACTORS)
def test_the_factor_pays_back_the_whole_price(rate: float, years: int) -> None:
    """A year's payment CRF, discounted and summed, is the sum that it recovers: the definition."""
    payments = capital_recovery_factor(rate, years) / (1 + rate) ** np.arange(1, years + 1)
    assert float(payments.sum()) == pytest.approx(1.0)


def test_without_interest_a_price_is_spread_evenly() -> None:
    assert capital_recovery_factor(0.0, 15) == pytest.approx(1 / 15)
    assert capital_recovery_factor(1e-9, 15) == pytest.approx(1 / 15, rel=1e-6)


# Mean energy of a cycle 1.2 kWh: nine tenths of 1 333.3 Wh, for a claim that ends at 80 %, at full depth.
ENERGY = exact(1200 / 0.9, "Wh")
CLAIM = CycleClaim.model_validate({"count": 2000, "depth": 1, "to": 0.8})


def test_price_over_its_life_at_8_percent() -> None:
    """500 · 0.11683/(100 · 1.2 kWh) = 0.48679 a kWh over 15 years. Short, Packey and Holt's formula; arithmetic."""
    found = known(
        life_price_per_kwh(PRICE, ENERGY, CLAIM, Use(cycles_per_year=100, discount_rate=0.08, longest_years=15))
    )
    assert found.value == pytest.approx(0.48679, abs=5e-6)
    assert (found.unit, found.basis) == ("EUR/kWh", "projected")


def test_price_over_its_life_undiscounted() -> None:
    """500/(15 · 100 · 1.2 kWh) = 0.27778. Arithmetic."""
    found = known(
        life_price_per_kwh(PRICE, ENERGY, CLAIM, Use(cycles_per_year=100, discount_rate=0.0, longest_years=15))
    )
    assert found.value == pytest.approx(0.27778, abs=5e-6)


def test_price_per_kwh_it_holds() -> None:
    """500 for 1.25 kWh: 400 a kWh. Arithmetic."""
    assert known(price_per_kwh(PRICE, exact(1250, "Wh"))).value == pytest.approx(400)
