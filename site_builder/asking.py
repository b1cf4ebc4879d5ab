"""What a browser answers from when it is asked for what the catalogue does not hold: other loads, other weights.

Pure: numbers of each battery and the rules of the sums, shortened for the way. The sums themselves are those of
`derive` and of `rank`.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

from site_builder.catalogue_records import Catalogue, Load
from site_builder.derive.answers import (
    SAME_VOLTAGE,
    USUAL_V,
    WORST_FIRST,
    Known,
    bench_of_loads,
    chain_at,
    same_voltage,
    voltages,
)
from site_builder.derive.inverter import UNMEASURED_U, chain_of
from site_builder.derive.overload import LASTING_S, Point
from site_builder.derive.peukert import COMPARABLE_TEMPERATURE_C, LFP_EXCESS_ENERGY, LFP_PER_10_K, OWN_U
from site_builder.derive.runtime import HIGHEST_RATE_IT, LOWEST_RATE_IT, Supply, share_above
from site_builder.derive.seen_runs import seen_lasting, seen_starts
from site_builder.derived import Asked, DerivedUnit
from site_builder.measured import Component
from site_builder.rank import holm_thresholds

# Twelve digits: nothing that a page shows changes, and the files are half as long.
DIGITS = 12
# Voltages at which inverters stop, of which a visitor can choose; per 12 V of the battery.
CUT_OFFS_V = (10.5, 11.0, 11.5, 12.0)
# A run counts as one at a temperature this close to its own, as in comparisons of resistance. [K]
NEAR_K = 5.0
# From this current on, cable and fuse get a caution of their own (this project's judgement). [A]
LARGE_A = 100.0


def asked(units: Iterable[DerivedUnit], catalogue: Catalogue) -> Asked:
    """Everything that pages of choice work with, as JSON can hold it."""
    published = [unit for unit in units if unit.record.unit.status == "published"]
    in_class = Counter(unit.result.class_id for unit in published if unit.result.class_id is not None)
    return Asked(
        rules=_rules(),
        voltages={name: voltages(load) for name, load in catalogue.loads.items() if not load.mains},
        inverters=dict(_inverters(catalogue)),
        units={unit.id: _unit(unit, known, catalogue) for unit in published if (known := unit.result.known)},
        thresholds={name: tuple(reversed(holm_thresholds(count - 1))) for name, count in in_class.items()},
    )


def short(value: float) -> float:
    """The number with as many digits as the sums need.

    >>> short(1 / 3)
    0.333333333333
    """
    return float(f"{value:.{DIGITS}g}")


def _rules() -> dict[str, Any]:
    """Constants of the sums, so that they stand in one place."""
    return {
        "lowest_it": LOWEST_RATE_IT,
        "highest_it": HIGHEST_RATE_IT,
        "excess": LFP_EXCESS_ENERGY,
        "own_u": OWN_U,
        "same_voltage": SAME_VOLTAGE,
        "worst_first": WORST_FIRST,
        "chain_u": UNMEASURED_U,
        "steady_c": COMPARABLE_TEMPERATURE_C,
        "near_k": NEAR_K,
        "per_10_k": LFP_PER_10_K,
        "large_a": LARGE_A,
        "lasting_s": LASTING_S,
    }


def _inverters(catalogue: Catalogue) -> Iterator[tuple[str, dict[str, Any]]]:
    for bench_id, bench in catalogue.benches.items():
        for name, one in bench.inverters.items():
            chain = chain_of(one)
            entry = {
                "idle_w": chain.idle_w,
                "off_w": chain.off_w,
                "slope": chain.slope,
                "square": chain.square,
                "u": chain.relative_u,
                "cut_off_v": chain.cut_off_v,
                "continuous_w": one.continuous_w.best if one.continuous_w else None,
                "volts": one.nominal_v.best if one.nominal_v else USUAL_V,
            }
            yield f"{bench_id}/{name}", entry


def _unit(unit: DerivedUnit, known: Known, catalogue: Catalogue) -> dict[str, Any]:
    nominal_v = unit.record.label.nominal_v.best
    bench_id = bench_of_loads(unit.record)
    bench = catalogue.benches.get(bench_id or "")
    chain_name, chain = chain_at(bench, nominal_v)
    runs = {frozenset(load) for test in unit.record.tests.values() if (load := getattr(test, "load", None))}
    return {
        "volts": nominal_v,
        "lfp": unit.record.label.chemistry == "LiFePO4",
        "parallel": unit.record.label.in_parallel,
        "inverter": f"{bench_id}/{chain_name}" if chain else None,
        "bench_inverters": len(bench.inverters) if bench else 0,
        "open_v": short(known.open_circuit_v),
        "milliohm": short(known.resistance_milliohm),
        "supply": _supply(known.supply, nominal_v, catalogue) if known.supply else None,
        "points": [_point(point) for point in known.points if point.left_out is None],
        "starts": _by_test(runs, seen_starts, known, catalogue),
        "lasting": _by_test(runs, seen_lasting, known, catalogue),
    }


def _supply(supply: Supply, nominal_v: float, catalogue: Catalogue) -> dict[str, Any]:
    return {
        "wh": short(supply.energy.value),
        "bound": supply.energy.bound,
        "rate_it": short(supply.rate_it),
        "ah": supply.rated_ah,
        "mean_v": short(supply.mean_v),
        "tested_c": supply.tested_c,
        "sources": _sources(supply.energy.components),
        "above": _shares_above(supply, nominal_v, catalogue),
    }


def _sources(components: Mapping[str, Component]) -> dict[str, list[float | None]]:
    """Components as assets/measured.js takes them: u, limit, degrees of freedom, what is usual left out.

    Only an inverter's error can be met again in a projection; the others need no names, and those without a limit are
    one.
    """
    named: dict[str, list[float | None]] = {}
    plain = 0.0
    for name, one in components.items():
        if one.limit is None and math.isinf(one.dof) and not name.startswith("chain:"):
            plain = math.hypot(plain, one.u)
        else:
            key = name if name.startswith("chain:") else str(len(named))
            rest = [one.limit and short(one.limit), None if math.isinf(one.dof) else one.dof]
            named[key] = [short(one.u), *(rest if rest[1] else rest[:1] if rest[0] else ())]
    return named | ({"plain": [short(plain)]} if plain else {})


def _shares_above(supply: Supply, nominal_v: float, catalogue: Catalogue) -> dict[str, float]:
    """Cut-off voltage → share of the energy above it, where that is less than all of it."""
    if supply.curve is None:
        return {}
    fitting = [
        one.cut_off_v.best
        for bench in catalogue.benches.values()
        for one in bench.inverters.values()
        if one.cut_off_v and same_voltage(one.nominal_v.best if one.nominal_v else USUAL_V, nominal_v)
    ]
    twelves = max(round(nominal_v / USUAL_V), 1)
    stops = sorted({*fitting, *(volts * twelves for volts in CUT_OFFS_V)})
    shares = {volts: share_above(supply.curve, volts) for volts in stops}
    return {f"{volts:g}": short(share) for volts, share in shares.items() if share < 1}


def _point(point: Point) -> list[Any]:
    """Test, current, its U, its bound, whether it tripped, shortest and longest time (-1: without end)."""
    return [
        point.test,
        short(point.current.value),
        short(point.current.expanded or 0.0),
        point.current.bound,
        int(point.tripped),
        short(point.shortest_s),
        short(point.longest_s) if math.isfinite(point.longest_s) else -1,
    ]


def _by_test(
    runs: Iterable[frozenset[str]],
    says: Callable[[frozenset[str], Mapping[str, Load], Known], Mapping[str, str]],
    known: Known,
    catalogue: Catalogue,
) -> dict[str, str]:
    """Test → what it says of its loads, for those that decide."""
    return {test: word for names in runs for test, word in says(names, catalogue.loads, known).items()}
