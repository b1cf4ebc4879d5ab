"""What a unit does with each load of the catalogue: what was seen, what is projected, and whether it would start."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from site_builder.bench_tests import CapacityTest, LoadRun
from site_builder.catalogue_records import Bench, Catalogue, Load
from site_builder.derive.headline import sample_of
from site_builder.derive.inverter import Chain, chain_of
from site_builder.derive.overload import Point, either_side, starts
from site_builder.derive.reported import is_reported
from site_builder.derive.resistance import current_at_power_a
from site_builder.derive.results import LoadAnswer, OneResult, SeenRun
from site_builder.derive.runtime import Supply, projected_hours
from site_builder.measured import Measured
from site_builder.records import ResultsFile

StartWord = Literal["starts", "will not", "borderline", "not known"]
# A nominal voltage counts as an inverter's when it lies this close to it.
SAME_VOLTAGE = 0.2
# What inverters and loads are made for where nobody says otherwise. [V]
USUAL_V = 12.0
# Of several loads the worst start counts.
WORST_FIRST = ("will not", "not known", "borderline", "starts")


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
    bench_id = bench_of_loads(known.file)
    bench = catalogue.benches.get(bench_id or "")
    return {name: _answer(name, load, known, bench, bench_id) for name, load in catalogue.loads.items()}


def bench_of_loads(file: ResultsFile) -> str | None:
    """The bench whose inverters loads are projected through: the file's, else that of the first test that names one."""
    return file.bench or next((test.bench for test in file.tests.values() if test.bench), None)


def _answer(name: str, load: Load, known: Known, bench: Bench | None, bench_id: str | None) -> LoadAnswer:
    chain_name, chain = chain_at(bench, known.file.label.nominal_v.best) if load.mains else ("none", None)
    unfit = not_for(load, known.file.label.nominal_v.best)
    projected = unfit or _projected(load, known, chain, f"{bench_id}/{chain_name}")
    peak_a = None if unfit else peak_current_a((load,), 0, known, chain)
    start_seen = bool(seen_starts(frozenset([name]), {name: load}, known))
    carried, tripped = (None, None) if start_seen else _sides(load, peak_a, known)
    return LoadAnswer(
        load=name,
        seen=tuple(_seen(name, known)),
        hours=projected if isinstance(projected, Measured) else None,
        why_not=projected if isinstance(projected, str) else None,
        start=start_of({name: load}, known, chain),
        peak_a=peak_a if peak_a is not None and math.isfinite(peak_a) else None,
        uses=None if unfit else _uses(load, known, chain, f"{bench_id}/{chain_name}"),
        inverter=chain_name if load.mains and chain is not None else None,
        start_seen=start_seen,
        carried=carried,
        tripped=tripped,
    )


def _sides(load: Load, peak_a: float | None, known: Known) -> tuple[Point | None, Point | None]:
    if peak_a is None or not math.isfinite(peak_a):
        return None, None
    return either_side(known.points, peak_a, start_duration_s(load))


def start_duration_s(load: Load) -> float:
    """How long its start takes; without a recorded one its running power counts for a second. [s]"""
    return load.start.duration_s.best if load.start else 1.0


def chain_at(bench: Bench | None, nominal_v: float) -> tuple[str, Chain | None]:
    """The bench's inverter for this voltage, if it has one."""
    for name, inverter in (bench.inverters if bench else {}).items():
        if same_voltage(inverter.nominal_v.best if inverter.nominal_v else USUAL_V, nominal_v):
            return name, chain_of(inverter)
    return "none", None


def same_voltage(made_for_v: float, nominal_v: float) -> bool:
    """Whether something made for one voltage runs on a battery of the other.

    >>> same_voltage(12, 12.8), same_voltage(12, 25.6)
    (True, False)
    """
    return abs(made_for_v - nominal_v) <= SAME_VOLTAGE * made_for_v


def not_for(load: Load, nominal_v: float) -> str | None:
    """Why a load without an inverter does not run on a battery of this voltage; None where it does."""
    made_for = voltages(load)
    if load.mains or any(same_voltage(volts, nominal_v) for volts in made_for):
        return None
    made = " and ".join(f"{volts:g}" for volts in made_for)
    return f"not known: it is made for {made} V, and this battery has {nominal_v:g} V"


def voltages(load: Load) -> tuple[float, ...]:
    """Battery voltages that a load without an inverter is made for. [V]"""
    return tuple(volts.best for volts in load.nominal_v) or (USUAL_V,)


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
    # A count has no unit; "1" would be shown as percent.
    return hours.scaled(1 / per_use_h, "")


def peak_current_a(
    loads: Sequence[Load], starting: int, known: Known, chain: Chain | None, batteries: int = 1
) -> float | None:
    """Current of each battery while one of the loads starts and the others run, with the sag it causes itself. [A]

    A load without an inrush counts with its running power. None where an inverter is needed and the bench has none;
    infinite beyond what the battery can give at all.
    """
    watts = [load.running_w.best for load in loads]
    first = loads[starting]
    watts[starting] = max(watts[starting], first.start.peak_w.best if first.start else 0.0)
    direct = sum(one for one, load in zip(watts, loads, strict=True) if not load.mains)
    if any(load.mains for load in loads):
        if chain is None:
            return None
        direct += chain.dc_w(sum(one for one, load in zip(watts, loads, strict=True) if load.mains))
    return current_at_power_a(direct / batteries, known.open_circuit_v, known.resistance_milliohm)


def start_of(loads: Mapping[str, Load], known: Known, chain: Chain | None, batteries: int = 1) -> str:
    """Whether these loads start, each while the others run; the worst of them counts.

    Seen before summed: a start of exactly these on this unit outranks the arithmetic, and so does one of them that
    would not even start alone; starts that differ are "borderline". Batteries in parallel share the current evenly.
    """
    if batteries == 1:
        seen = set(seen_starts(frozenset(loads), loads, known).values())
        alone = [set(seen_starts(frozenset([name]), loads, known).values()) for name in loads]
        if seen:
            return "borderline" if len(seen) > 1 else next(iter(seen))
        if {"will not"} in alone:
            return "will not"
    held = tuple(loads.values())
    if any(not_for(load, known.file.label.nominal_v.best) for load in held):
        return "not known"
    words = {_summed(held, one, known, chain, batteries) for one in range(len(held))}
    return next(word for word in WORST_FIRST if word in words)


def _summed(loads: Sequence[Load], starting: int, known: Known, chain: Chain | None, batteries: int) -> str:
    peak_a = peak_current_a(loads, starting, known, chain, batteries)
    if peak_a is None:
        return "not known"
    return starts(known.points, peak_a, start_duration_s(loads[starting])) if math.isfinite(peak_a) else "will not"


def seen_starts(names: frozenset[str], loads: Mapping[str, Load], known: Known) -> dict[str, StartWord]:
    """What runs of exactly these loads together say of their start, by test: those of the first sample with any.

    A sample behind the one whose currents are known decides nothing: it stands beside, never over.
    """
    starts_s = [loads[name].start for name in names if name in loads]
    duration_s = max((start.duration_s.best if start else 1.0 for start in starts_s), default=1.0)
    file = known.file
    words = {one: word for one, test in file.tests.items() if (word := _seen_start(names, test, duration_s))}
    for sample in _deciding_samples(known):
        own = {one: word for one, word in words.items() if sample_of(file.tests[one], file) == sample}
        if own:
            return own
    return {}


def _deciding_samples(known: Known) -> list[str | None]:
    samples: list[str | None] = [*known.file.samples, None]
    of_points = {sample_of(known.file.tests[point.test], known.file) for point in known.points}
    last = [i for i, sample in enumerate(samples) if sample in of_points]
    return samples[: last[0] + 1] if last else samples


def _seen_start(names: frozenset[str], test: object, duration_s: float) -> StartWord | None:
    """What one run says of the start of exactly these loads; with others, or stopped by an inverter, nothing."""
    if not isinstance(test, CapacityTest | LoadRun) or frozenset(test.load or ()) != names or is_reported(test):
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
                reported=test.evidence == "reported",
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
