"""What the page of running times works with: the numbers that `asking` picked, with their names and words.

Nothing is worked out here. The script's sums are those of `derive.runtime` and `derive.answers`, on the same numbers.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from site_builder.asking import short
from site_builder.bench_tests import CapacityTest
from site_builder.catalogue_records import Catalogue, Load
from site_builder.derived import Derived, DerivedUnit
from site_builder.pages.asked_units import asked_units
from site_builder.pages.load_words import load_tests, ran_s, seen_words
from site_builder.pages.text import number, quantity, stated, stated_duration, time_span
from site_builder.pages.words import name_of
from site_builder.values import Stated


def runtime_data(derived: Derived) -> dict[str, Any]:
    """All of it, as JSON can hold it."""
    catalogue, asked = derived.catalogue, derived.asked
    units = sorted((unit for unit in derived.units if unit.id in asked.units), key=lambda unit: name_of(unit.record))
    return {
        "rules": asked.rules,
        "loads": {name: _load(load, asked.voltages.get(name, ())) for name, load in catalogue.loads.items()},
        "inverters": {name: {"title": title, **asked.inverters[name]} for name, title in inverter_titles(catalogue)},
        "units": [_unit(unit, asked.units[unit.id]) for unit in units],
        **asked_units(derived, asked.units),
    }


def inverter_titles(catalogue: Catalogue) -> Iterator[tuple[str, str]]:
    """The benches' inverters by "bench/name", with their titles."""
    for bench_id, bench in catalogue.benches.items():
        for name, one in bench.inverters.items():
            yield f"{bench_id}/{name}", f"{one.title or name}, {bench.title}"


def _load(load: Load, volts: tuple[float, ...]) -> dict[str, Any]:
    return {
        "title": load.title,
        "w": _open(load.running_w),
        "start": [load.start.peak_w.best, load.start.duration_s.best] if load.start else None,
        "duty": _open(load.duty) if load.duty else None,
        "mains": load.mains,
        "volts": volts,
        "caution": load.caution or "",
        "says": ", ".join(_figures(load, volts)),
    }


def _open(one: Stated) -> list[float]:
    """A number and the half-width that the way it was written leaves open."""
    return [one.best, one.half_width if math.isfinite(one.half_width) else 0.0]


def _figures(load: Load, volts: tuple[float, ...]) -> Iterator[str]:
    yield str(stated(load.running_w, "W"))
    if load.start:
        yield f"{stated(load.start.peak_w, 'W')} for {stated_duration(load.start.duration_s)} at its start"
    if load.duty:
        yield f"on for {stated(load.duty, '1')} of the time"
    if not load.mains:
        yield f"{' or '.join(number(one) for one in volts)} V without an inverter"


def _unit(unit: DerivedUnit, numbers: Mapping[str, Any]) -> dict[str, Any]:
    rest = {name: value for name, value in numbers.items() if name not in {"starts", "lasting"}}
    seen = list(_seen(unit, numbers["starts"], numbers["lasting"]))
    named = {"id": unit.id, "name": name_of(unit.record), "class": unit.result.class_id, "seen": seen}
    return {**named, **rest, "points": list(_points(unit, numbers["points"]))}


def _points(unit: DerivedUnit, numbers: Iterable[list[Any]]) -> Iterator[list[Any]]:
    """Each step; behind it its current in words, where nobody can tell its ±, and the time that was seen."""
    known = unit.result.known
    used = [point for point in (known.points if known else ()) if point.left_out is None]
    for point, held in zip(used, numbers, strict=True):
        current = "" if point.current.expanded is not None else str(quantity(point.current))
        yield [*held, current, str(time_span(*point.seen_s))]


def _seen(unit: DerivedUnit, starts: Mapping[str, str], lasting: Mapping[str, str]) -> Iterator[list[Any]]:
    """Test, loads, what was seen in words, what that says of a start, how warm it was [°C], a whole charge's hours.

    Last, what it says once it has started.
    """
    for name, test in load_tests(unit).items():
        run = [name, list(test.load or ()), seen_words(unit, name), starts.get(name), _warmth_c(unit, name)]
        yield [*run, _whole_charge_h(unit, name), lasting.get(name)]


def _whole_charge_h(unit: DerivedUnit, test_name: str) -> list[Any] | None:
    """Hours of one whole charge with these loads, their ± and bound; None for a run that is part of one. [h]"""
    test, ran = unit.record.tests[test_name], ran_s(unit, test_name)
    if not isinstance(test, CapacityTest) or ran is None or ran.basis == "reported" or test.arrangement is not None:
        return None
    if ran.bound == "between":
        middle, half = (ran.lowest + ran.highest) / 2, (ran.highest - ran.lowest) / 2
        return [short(middle / 3600), short(half / 3600), ran.bound]
    return [short(ran.value / 3600), short((ran.expanded or 0.0) / 3600), ran.bound]


def _warmth_c(unit: DerivedUnit, test_name: str) -> float | None:
    """How warm the battery was, or else the air. [°C]"""
    measured = unit.result.tests[test_name].metrics.get("temperature_c")
    test = unit.record.tests[test_name]
    written = test.battery_c or test.ambient_c
    return round(measured.value, 1) if measured is not None else written.best if written else None
