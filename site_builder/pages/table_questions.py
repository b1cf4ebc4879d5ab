"""What the table's filters ask of a unit, answered from its evidence, as data for the table's script.

Nothing is worked out here that a unit's page does not say too; what nobody knows stays not known.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

from site_builder.derive.overload import Point
from site_builder.derive.results import LoadAnswer
from site_builder.derived import Derived, DerivedUnit
from site_builder.measured import Measured

DIGITS = 5
# What is known of a load, a letter each.
RAN, STARTED, PREDICTED, BORDERLINE, NOT, UNKNOWN = "r", "s", "p", "b", "n", "u"


def asked_of(unit: DerivedUnit, derived: Derived) -> dict[str, object]:
    """What the filters compare.

    "of" is the id of its class (null: none); "wh" the limits of the energy delivered (null: open);
    "price" in the catalogue's currency; "heats" whether its label has it heat itself; "points" what it carried and for
    how long; "loads" a letter for each load of the catalogue.
    """
    result = unit.result
    energy = result.metrics.get("delivered_wh")
    return {
        "of": result.class_id,
        "price": round(result.price.amount, 2) if result.price else None,
        "heats": unit.record.label.heater is not None,
        "wh": limits(energy) if energy and energy.basis != "reported" else None,
        "points": points(result.carrying[-1].points) if result.carrying else [],
        "loads": loads(result.loads, derived.catalogue.loads),
    }


def limits(one: Measured) -> list[float | None]:
    """The value twice where it is exact, else the limits that the evidence allows; open ones are null."""
    ends = (one.value, one.value) if one.bound == "exact" else (one.lowest, one.highest)
    return [_number(end) for end in ends]


def points(of: Iterable[Point]) -> list[list[float | None]]:
    """What it carried: [surely at least, current, for at least]; with [at most, surely at most] where it cut off then.

    Currents in A, the third and the fourth are times in s; open ends are null; points that do not count are left out.
    Ends are rounded to the side on which they say less. A current of which only "at least" is known was never surely as
    low as anything: such a trip shows what was carried before it, and nothing else.
    """
    return [_point(point) for point in of if point.left_out is None]


def _point(point: Point) -> list[float | None]:
    current = point.current
    carried = [_outwards(current.lowest, ROUND_FLOOR), _number(current.value), _outwards(point.shortest_s, ROUND_FLOOR)]
    if not point.tripped or current.bound == "at_least":
        return carried
    return [*carried, _outwards(point.longest_s, ROUND_CEILING), _outwards(current.highest, ROUND_CEILING)]


def _outwards(end: float, rounding: str) -> float | None:
    if not math.isfinite(end):
        return None
    exact = Decimal(f"{end:.12g}")
    return float(exact.quantize(Decimal(1).scaleb(exact.adjusted() + 1 - DIGITS), rounding=rounding))


def loads(answers: Mapping[str, LoadAnswer], catalogue: Iterable[str]) -> str:
    """A letter for each load.

    It ran, it was started and cut off later, it should start, its start is borderline, it will not start, nobody knows.
    """
    return "".join(_letter(answers.get(name)) for name in catalogue)


def _letter(answer: LoadAnswer | None) -> str:
    if answer is None:
        return UNKNOWN
    seen = [run for run in answer.seen if not run.reported]
    if any(run.outcome in {"ran", "ran to the end"} for run in seen):
        return RAN
    seen_alone = any(len(run.together) == 1 for run in seen)
    known = {"starts": STARTED if seen_alone else PREDICTED, "borderline": BORDERLINE, "will not": NOT}
    return known.get(answer.start, UNKNOWN)


def _number(value: float) -> float | None:
    return float(f"{value:.{DIGITS}g}") if math.isfinite(value) else None
