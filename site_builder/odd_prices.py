"""Prices far from everything else in their class: warnings, since a bargain is possible and a lost zero more likely.

Looks across files; nothing is derived from what it compares.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from statistics import median

from site_builder.catalogue_records import Price, Rates
from site_builder.derive.money import newest_price
from site_builder.derive.unit import class_of
from site_builder.load import Loaded, UnitFile
from site_builder.problems import Problem
from site_builder.records import Label

TIMES = 10.0  # judgement: what a lost or an added digit does, and no sale
FEWEST = 2  # with a single other unit nobody can tell which of the two prices is odd
CODE = "price-odd"


def odd_prices(units: Iterable[UnitFile], whole: Loaded) -> Iterable[Problem]:
    """Prices per rated kWh at least ten times the median of the other units of the class, or at most a tenth of it.

    Args:
        units: The files that are asked about; each problem stands in one of them, where it can be answered.
        whole: Everything, for what the class costs.
    """
    by_class = _by_class(whole)
    rows = list(zip(whole.price_lines, whole.catalogue.prices, strict=True))
    for unit in units:
        label = unit.record.label
        of_class = by_class.get(class_of(label, whole.catalogue.classes) or "", {})
        others = [median(known) for name, known in of_class.items() if name != unit.record.unit.id]
        if len(others) < FEWEST:
            continue
        for line, price in rows:
            own = _per_rated_kwh(price, label, whole.catalogue.rates)
            if price.unit == unit.record.unit.id and own is not None:
                yield from _odd(unit, line, price, own / median(others))


def _by_class(whole: Loaded) -> Mapping[str, Mapping[str, list[float]]]:
    """Prices per rated kWh of each unit of each class."""
    records = {unit.record.unit.id: unit.record for unit in whole.units}
    found: defaultdict[str, defaultdict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
    for price in whole.catalogue.prices:
        record = records.get(price.unit)
        class_id = None if record is None else class_of(record.label, whole.catalogue.classes)
        worth = None if record is None else _per_rated_kwh(price, record.label, whole.catalogue.rates)
        if class_id is not None and worth is not None:
            found[class_id][price.unit].append(worth)
    return found


def _per_rated_kwh(price: Price, label: Label, rates: Rates) -> float | None:
    """In the catalogue's currency; None where there is no rate. [currency/kWh]"""
    priced = newest_price([price], rates, price.date)
    rated = label.energy_wh.best if label.energy_wh else label.nominal_v.best * label.capacity_ah.best
    return None if priced is None else 1000 * priced.amount / rated


def _odd(unit: UnitFile, line: int, price: Price, times: float) -> Iterable[Problem]:
    if 1 / TIMES < times < TIMES:
        return
    much = f"{times:.3g} times" if times > 1 else f"a {1 / times:.3g}th of"
    shown = f"line {line} of prices.csv says {price.amount.best:g} {price.currency}"
    message = f"{shown}, which is {much} what its class costs for a rated kWh"
    hint = f"check amount and currency, or answer {CODE} under acknowledged"
    yield unit.document.problem(("unit",), message, hint, CODE, severity="warning")
