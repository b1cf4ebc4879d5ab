"""Many units out of a few: each published unit again and again under other names, every number moved a little.

For sizes and speeds of pages that list all units; the numbers differ, so that a packer finds no rows that are alike.
"""

from __future__ import annotations

import random
from dataclasses import replace

from site_builder.derive.results import Priced, UnitResult
from site_builder.derived import Derived, DerivedUnit

SEED = 20261017
MAKERS = ("Alder", "Brack", "Cairn", "Dunlin", "Eller", "Foss", "Garth", "Heron", "Inch", "Keld", "Ling", "Mere")


def many_units(derived: Derived, count: int) -> Derived:
    """The catalogue with `count` published units in the place of its own."""
    chance = random.Random(SEED)
    known = [unit for unit in derived.units if unit.record.unit.status == "published"]
    named = {f"u{number:05}": known[number % len(known)] for number in range(count)}
    units = [_again(unit, new_id, chance) for new_id, unit in named.items()]
    grades, places = derived.standings.grades, derived.standings.places
    standings = replace(
        derived.standings,
        grades={new_id: grades[unit.id] for new_id, unit in named.items() if unit.id in grades},
        places={new_id: places[unit.id] for new_id, unit in named.items() if unit.id in places},
    )
    return replace(derived, units=tuple(units), standings=standings)


def _again(unit: DerivedUnit, new_id: str, chance: random.Random) -> DerivedUnit:
    name = {"id": new_id, "maker": chance.choice(MAKERS), "model": f"{chance.choice('ABCDE')}{chance.randrange(1000)}"}
    record = unit.record.model_copy(update={"unit": unit.record.unit.model_copy(update=name)})
    return replace(unit, record=record, result=_moved(unit.result, new_id, chance))


def _moved(result: UnitResult, new_id: str, chance: random.Random) -> UnitResult:
    metrics = {name: one.scaled(chance.gauss(1, 0.05)) for name, one in result.metrics.items()}
    carrying = tuple(
        replace(
            one,
            points=tuple(replace(point, current=point.current.scaled(chance.gauss(1, 0.05))) for point in one.points),
        )
        for one in result.carrying
    )
    price = result.price and _at(result.price, round(result.price.amount * chance.gauss(1, 0.2), 2))
    return replace(result, id=new_id, metrics=metrics, carrying=carrying, price=price)


def _at(price: Priced, amount: float) -> Priced:
    """The same row with another plain amount."""
    tag = replace(price.tag, best=amount, low=amount, high=amount)
    return replace(price, known=replace(price.known, value=amount), tag=tag)
