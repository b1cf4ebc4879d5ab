"""What a unit does with each load of the catalogue: what was seen, what is projected, and whether it would start."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from site_builder.catalogue_records import Bench, Catalogue, Load
from site_builder.derive.inverter import Chain, chain_of
from site_builder.derive.overload import Point, either_side, either_side_of_steady, lasts, starts
from site_builder.derive.resistance import current_at_power_a
from site_builder.derive.results import Lasting, LoadAnswer, OneResult
from site_builder.derive.runtime import Supply, Use, hours_together, on_power_w
from site_builder.derive.seen_runs import seen_lasting, seen_runs, seen_starts
from site_builder.measured import Measured
from site_builder.records import ResultsFile

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
    projected = hours_of({name: Use(load=load)}, known, chain, f"{bench_id}/{chain_name}")
    peak_a = None if unfit else peak_current_a((load,), 0, known, chain)
    start_seen = bool(seen_starts(frozenset([name]), {name: load}, known))
    carried, tripped = (None, None) if start_seen else _sides(load, peak_a, known)
    return LoadAnswer(
        load=name,
        seen=tuple(seen_runs(name, known)),
        hours=projected if isinstance(projected, Measured) else None,
        why_not=projected if isinstance(projected, str) else None,
        start=start_of({name: load}, known, chain),
        peak_a=peak_a if peak_a is not None and math.isfinite(peak_a) else None,
        uses=_uses(load, projected),
        inverter=chain_name if load.mains and chain is not None else None,
        start_seen=start_seen,
        carried=carried,
        tripped=tripped,
        lasting=lasting_of({name: load}, known, chain),
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


def hours_of(
    uses: Mapping[str, Use],
    known: Known,
    chain: Chain | None,
    chain_name: str,
    *,
    batteries: int = 1,
    idle_of_day: float = 1.0,
    warmth_c: float | None = None,
) -> Measured | str:
    """Hours of these loads on one charge, as `hours_together` has them, or in words why not: it may cut them off."""
    loads = {name: use.load for name, use in uses.items()}
    unfit = [why for load in loads.values() if (why := not_for(load, known.file.label.nominal_v.best))]
    if unfit:
        return unfit[0]
    if lasting_of(loads, known, chain, batteries).word == "cut off":
        return "not known: the battery was seen to cut off at no more than this takes while it is on"
    if known.supply is None:
        return "not known: its energy was not measured"
    return hours_together(
        tuple(uses.values()),
        known.supply,
        chain,
        chain_name,
        batteries=batteries,
        idle_of_day=idle_of_day,
        warmth_c=warmth_c,
    )


def lasting_of(loads: Mapping[str, Load], known: Known, chain: Chain | None, batteries: int = 1) -> Lasting:
    """Whether the battery carries these loads, all of them on at once, for as long as its charge lasts.

    Seen before summed, as in `start_of`; runs that differ, and a sum that a run speaks against, are "borderline".
    """
    seen = seen_lasting(frozenset(loads), loads, known) if batteries == 1 else {}
    cut_off = [test for test, word in seen.items() if word == "cut off"]
    if cut_off:
        return Lasting(word="cut off", run=cut_off[0]) if len(set(seen.values())) == 1 else Lasting(word="borderline")
    if "lasts" in seen.values():
        return Lasting(word="lasts")
    for name in loads if batteries == 1 else ():
        alone = seen_lasting(frozenset([name]), loads, known)
        if set(alone.values()) == {"cut off"}:
            return Lasting(word="cut off", run=next(iter(alone)))
    return _lasting_by_steps(loads, known, chain, batteries, has_run=bool(seen))


def _lasting_by_steps(
    loads: Mapping[str, Load], known: Known, chain: Chain | None, batteries: int, *, has_run: bool
) -> Lasting:
    held = tuple(loads.values())
    unfit = any(not_for(load, known.file.label.nominal_v.best) for load in held)
    if unfit or (chain is None and any(load.mains for load in held)):
        return Lasting(word="not known")
    power_w = on_power_w(held, chain) / batteries
    steady_a = current_at_power_a(power_w, known.open_circuit_v, known.resistance_milliohm)
    if not math.isfinite(steady_a):
        return Lasting(word="not known")
    discharged_a = known.supply.rate_it * known.supply.rated_ah if known.supply else 0.0
    word = lasts(known.points, steady_a, discharged_a)
    carried, tripped = either_side_of_steady(known.points)
    doubted = word == "cut off" and has_run
    return Lasting(word="borderline" if doubted else word, steady_a=steady_a, carried=carried, tripped=tripped)


def _uses(load: Load, hours: Measured | str) -> Measured | None:
    """How many uses of the load one charge holds, where the load states the energy of one. [1]"""
    if load.energy_per_use_wh is None or isinstance(hours, str):
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
