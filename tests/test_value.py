"""Price per kWh as an order of its own."""

from __future__ import annotations

from dataclasses import replace

from site_builder.derive.results import Priced, UnitResult
from site_builder.measured import Component, Measured, exact
from site_builder.rank import Place
from site_builder.value import value_order
from site_builder.values import Stated

PRICE = Priced(
    known=exact(289.0, "EUR"),
    tag=Stated(289.0, 289.0, 289.0, "plain", 1.0, "289.0"),
    currency="EUR",
    original_currency="EUR",
    rate_date=None,
    date="2026-03-02",
    kind="paid",
    seller="a chandlery",
    stale=False,
)


def unit(name: str, price: float, u: float = 0.0, **more: object) -> UnitResult:
    """A unit with nothing but a price per kWh."""
    held = Measured(value=price, unit="EUR/kWh", components={f"repeat:{name}": Component(u)})
    metrics = {"price_per_kwh": replace(held, **more)}  # type: ignore[arg-type]
    return UnitResult(id=name, class_id=None, tests={}, metrics=metrics, price=PRICE)


def test_the_cheapest_is_first_and_close_ones_share_their_places() -> None:
    order = value_order([unit("c", 250, 2), unit("a", 300, 2), unit("b", 252, 2)])
    assert [(one.id, one.place) for one in order] == [
        ("c", Place(1, 2, 3)),
        ("b", Place(1, 2, 3)),
        ("a", Place(3, 3, 3)),
    ]
    assert order[0].priced.date == "2026-03-02"


def test_at_most_may_be_cheaper_than_all() -> None:
    """A battery that delivered "at least" costs "at most"."""
    order = value_order([unit("a", 300, 1, bound="at_most"), unit("b", 250, 1), unit("c", 400, 1)])
    assert {one.id: one.place for one in order} == {"b": Place(1, 2, 3), "a": Place(1, 2, 3), "c": Place(3, 3, 3)}


def test_at_least_may_be_dearer_than_all() -> None:
    order = value_order([unit("a", 300, 1, bound="at_least"), unit("b", 250, 1), unit("c", 400, 1)])
    assert {one.id: one.place for one in order} == {"b": Place(1, 1, 3), "a": Place(2, 3, 3), "c": Place(2, 3, 3)}


def test_a_stale_price_keeps_its_place_and_says_so() -> None:
    old = replace(unit("a", 200), price=replace(PRICE, stale=True, date="2024-03-02"))
    order = value_order([unit("b", 250), old])
    assert [(one.id, one.priced.stale) for one in order] == [("a", True), ("b", False)]


def test_without_price_or_measured_energy_there_is_no_value() -> None:
    units = [replace(unit("a", 200), price=None), replace(unit("b", 200), metrics={}), unit("c", 200, basis="as_read")]
    assert value_order(units) == ()
