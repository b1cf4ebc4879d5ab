"""What a unit says where it has nothing for a row or column, and no test could give it something."""

from __future__ import annotations

from site_builder.derive.reported import is_reported
from site_builder.derived import DerivedUnit
from site_builder.measured import NOT_KEPT

NOT_SAID = "not said by its label"
NO_PRICE = "not known"
NO_PLACE = "none"
TOO_LITTLE = "too little tested"


def no_heater(unit: DerivedUnit) -> str:
    """A battery without a heater has none to test."""
    return "" if unit.record.label.heater else "no heater"


def no_price(unit: DerivedUnit) -> str:
    """What it costs for what it holds takes a price."""
    return "" if unit.result.price else "no price"


def no_life_price(unit: DerivedUnit) -> str:
    """What it costs over its life takes a price, and a claim of how many cycles it lasts."""
    cycles = unit.record.label.cycles
    return no_price(unit) or ("" if cycles else "no cycles on its label")


def only_reported(unit: DerivedUnit) -> str:
    """Nothing is graded of which the evidence was not kept."""
    tests = unit.record.tests.values()
    return NOT_KEPT if tests and all(is_reported(test) for test in tests) else ""
