"""What a unit does with each load of the catalogue: what was seen, what is projected, and whether it would start."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from site_builder.bench_tests import CapacityTest, LoadRun
from site_builder.catalogue_records import Bench, Catalogue, Load
from site_builder.derive.inverter import Chain, chain_of
from site_builder.derive.overload import Point, starts
from site_builder.derive.resistance import current_at_power_a
from site_builder.derive.results import LoadAnswer, OneResult, SeenRun
from site_builder.derive.runtime import Supply, projected_hours
from site_builder.measured import Measured, through
from site_builder.records import ResultsFile

StartWord = Literal["starts", "will not", "borderline", "not known"]
# A nominal voltage counts as an inverter's when it lies this close to it.
SAME_VOLTAGE = 0.2


@dataclass(frozen=True, kw_only=True, slots=True)
class Known:
    """What is known of one unit when loads are asked about."""

    file: ResultsFile
    tests: Mapping[str, OneResult]
    points: Sequence[Point]
    supply: Supply | None
    open_circuit_v: float
    resistance_milliohm: float


def load_answers(known: Known, catalogue: Catalogue) -> dict[str, LoadAnswer]:
    """One answer for every load of the catalogue."""
    bench_id = known.file.bench or _bench_of_tests(known.file)
    bench = catalogue.benches.get(bench_id or "")
    return {name: _answer(name, load, known, bench, bench_id) for name, load in catalogue.loads.items()}


def _bench_of_tests(file: ResultsFile) -> str | None:
    return next((test.bench for test in file.tests.values() if test.bench), None)


def _answer(name: str, load: Load, known: Known, bench: Bench | None, bench_id: str | None) -> LoadAnswer:
    chain_name, chain = _chain(bench, known.file.label.nominal_v.best) if load.mains else ("none", None)
    projected = _projected(load, known, chain, f"{bench_id}/{chain_name}")
    peak_a = _peak_a(load, known, chain)
    return LoadAnswer(
        load=name,
        seen=tuple(_seen(name, known)),
        hours=projected if isinstance(projected, Measured) else None,
        why_not=projected if isinstance(projected, str) else None,
        start=_start_word(name, load, known, peak_a),
        peak_a=peak_a if peak_a is not None and math.isfinite(peak_a) else None,
        uses=_uses(load, known, chain, f"{bench_id}/{chain_name}"),
        inverter=chain_name if load.mains and chain is not None else None,
    )


def _chain(bench: Bench | None, nominal_v: float) -> tuple[str, Chain | None]:
    """The bench's inverter for this voltage, if it has one."""
    for name, inverter in (bench.inverters if bench else {}).items():
        volts = inverter.nominal_v.best if inverter.nominal_v else 12.0
        if abs(volts - nominal_v) <= SAME_VOLTAGE * volts:
            return name, chain_of(inverter)
    return "none", None


def _projected(load: Load, known: Known, chain: Chain | None, chain_name: str) -> Measured | str:
    if known.supply is None:
        return "not known: its energy was not measured"
    return projected_hours(load, known.supply, chain, chain_name)


def _uses(load: Load, known: Known, chain: Chain | None, chain_name: str) -> Measured | None:
    """How many uses of the load one charge holds, where the load states the energy of one. [1]"""
    if load.energy_per_use_wh is None or known.supply is None or (load.mains and chain is None):
        return None
    hours = projected_hours(load, known.supply, chain, chain_name)
    if isinstance(hours, str):
        return None
    # One use takes this long at the load's running power; the inverter idles with it.
    per_use_h = load.energy_per_use_wh.best / load.running_w.best / (load.duty.best if load.duty else 1.0)
    return through(lambda h: h / per_use_h, hours, unit="1").as_bound(hours.bound)


def _peak_a(load: Load, known: Known, chain: Chain | None) -> float | None:
    """Battery current while the load starts (or runs, where it has no inrush), with the sag it causes itself. [A]

    None where an inverter is needed and the bench has none; infinite beyond what the battery can give at all.
    """
    if load.mains and chain is None:
        return None
    watts = max(load.running_w.best, load.start.peak_w.best if load.start else 0.0)
    at_battery = chain.dc_w(watts) if chain is not None and load.mains else watts
    return current_at_power_a(at_battery, known.open_circuit_v, known.resistance_milliohm)


def _start_word(name: str, load: Load, known: Known, peak_a: float | None) -> str:
    """Seen before summed: an actual start on this unit outranks the arithmetic; starts that differ are "borderline"."""
    duration_s = load.start.duration_s.best if load.start else 1.0
    seen = {word for test in known.file.tests.values() if (word := _seen_start(name, test, duration_s)) is not None}
    if len(seen) > 1:
        return "borderline"
    if seen:
        return seen.pop()
    if peak_a is None:
        return "not known"
    return starts(known.points, peak_a, duration_s) if math.isfinite(peak_a) else "will not"


def _seen_start(name: str, test: object, duration_s: float) -> StartWord | None:
    """What one run says of this load's start; a run of several loads together, or one an inverter stopped, nothing."""
    if not isinstance(test, CapacityTest | LoadRun) or test.load != (name,):
        return None
    if isinstance(test, CapacityTest) or test.outcome == "ran":
        return "starts"
    if test.by not in {None, "bms"}:
        return None
    if test.outcome == "did_not_start":
        return "will not"
    # Cut off before the inrush was over, it never ran; cut off later, it had started.
    at_once = test.duration_s is not None and test.duration_s.high <= duration_s
    return "will not" if at_once else "starts"


def _seen(name: str, known: Known) -> list[SeenRun]:
    """Every run of this load on this unit; several loads together are one run and are never split."""
    runs = []
    for test_name, test in known.file.tests.items():
        loads = getattr(test, "load", None) or ()
        if name not in loads:
            continue
        result = known.tests[test_name]
        outcome = test.outcome if isinstance(test, LoadRun) else "ran to the end"
        runs.append(
            SeenRun(
                test=test_name,
                together=tuple(loads),
                outcome=outcome,
                duration=_duration(result, test),
                by=test.by if isinstance(test, LoadRun) else None,
            )
        )
    return runs


def _duration(result: OneResult, test: object) -> Measured | None:
    """How long it ran; to the end of a full charge only where the battery itself ended it. [s]"""
    duration = result.metrics.get("duration_s")
    if duration is None or not isinstance(test, CapacityTest):
        return duration
    own_end = test.ended_by in {"bms", "end_voltage", "unknown"}
    return duration if own_end else duration.as_bound("at_least")
