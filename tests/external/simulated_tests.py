"""Simulated tests beside their truth: resistance, heater, warm-up, hours, state of charge, retention, overload.

Each takes a seed, which draws instruments within the limits that the catalogue declares; what the methods know
beforehand (a battery's exponent, its heat capacity, what a counter misses) is drawn from the range they state. Read by
test_demo_truth_derivations.py.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np

from site_builder.bench_tests import ChargeTest, ColdChargeTest, LoadRun, OverloadTest, ResistanceTest
from site_builder.catalogue_records import Bench, Load, Repeatability
from site_builder.derive.capacity import capacity
from site_builder.derive.charging import charge
from site_builder.derive.cold_charge import cold_charge
from site_builder.derive.inverter import chain_of
from site_builder.derive.load_runs import load_run
from site_builder.derive.overload import BRACKET_TIMES_S, brackets, points_of_test
from site_builder.derive.readings import Setting
from site_builder.derive.resistance import resistance
from site_builder.derive.results import OneResult
from site_builder.derive.retention import share_left
from site_builder.derive.runtime import Supply, hours_together
from site_builder.derive.runtime import Use as LoadUse
from site_builder.derive.thermal import Warming, fitted, temperature_c, warm_up_s
from site_builder.derive.warm_up import standard_warm_up
from site_builder.measured import Component, Measured
from site_builder.records import Label
from tests.conftest import FULL
from tests.demo import benches as true_benches
from tests.demo.batteries import Battery, Trace, follow
from tests.demo.bench import Bench as TrueBench
from tests.demo.bench import Unit, logged
from tests.demo.charges import emptied_soc, refill
from tests.demo.colds import Warming as TrueWarming
from tests.demo.colds import standard_warm_up_s, warm_up
from tests.demo.discharges import simulate_capacity
from tests.demo.instruments import Counter
from tests.demo.inverters import Inverter
from tests.demo.randomness import generator
from tests.demo.roster import UNITS
from tests.demo.strains import largest_held_a, simulate_load_run, simulate_overload, simulate_pulses
from tests.external.recording import as_log, benches, share, with_repeatability
from tests.external.test_demo_truth import (
    LOGGED,
    Trial,
    drawn_battery,
)

BY_ID = {bench.id: bench for bench in (*true_benches.BENCHES,)}
BOATHOUSE, HUT, JETTY, PINDER = (BY_ID[f"{name}-2026"] for name in ("boathouse", "hut", "jetty", "pinder"))


def label_of(unit: Unit, **more: Any) -> Label:
    """What the unit's case says."""
    volts = 3.2 * unit.battery.cells
    plain = {"chemistry": "LiFePO4", "nominal_v": volts, "capacity_ah": unit.battery.rated_ah}
    return Label.model_validate(plain | more)


def at(bench: TrueBench, declared: Bench, test: str = "run") -> Setting:
    return Setting(unit="simulated", test=test, bench_id=bench.id, bench=declared)


# --- resistance ------------------------------------------------------------------------------------------------------
PULSES: dict[str, tuple[TrueBench, str, tuple[float, float]]] = {
    "ferngate, boathouse": (BOATHOUSE, "ferngate-f90", (18.0, 90.0)),
    "tolgate, boathouse": (BOATHOUSE, "tolgate-100l", (20.0, 100.0)),
    "arnwick, hut": (HUT, "arnwick-polar", (20.0, 100.0)),
    "otterfold, jetty": (JETTY, "otterfold-of200", (40.0, 200.0)),
    "mossgarth, Pinder Lake": (PINDER, "mossgarth-m24", (20.0, 100.0)),
}


def pulsed(
    bench: TrueBench, declared: Bench, unit: Unit, currents: tuple[float, float], *key: Any
) -> tuple[Measured, float]:
    """R as derived from the two pulses of IEC 61960-3, and as it is. [mΩ]"""
    seed, test = key
    seen, truth = simulate_pulses(unit, bench, ((currents[0], 10.0), (currents[1], 1.0)), seed=seed, test=test)
    rows = [{"current_a": one.current_a, "voltage_v": one.voltage_v, "after_s": one.after_s} for one in seen]
    read = ResistanceTest.model_validate({"kind": "resistance", "readings": rows, "read_on": bench.current})
    metrics = resistance(read, None, at(bench, declared, test), label_of(unit)).metrics
    return metrics["dc_resistance_milliohm"], truth


REPEATS = 1000 if FULL else 200


@cache
def repeats_of(name: str) -> float:
    """The standard deviation that a tester finds who repeats the pulses on this battery again and again."""
    bench, unit, currents = PULSES[name]
    found = [
        pulsed(bench, benches()[bench.id], UNITS[unit], currents, 10_000, f"repeat-{i}")[0].value
        for i in range(REPEATS)
    ]
    return float(np.std(found) / np.mean(found))


def pulse_pair(name: str, seed: int) -> list[Trial]:
    """R on a bench that knows its repeatability."""
    bench, unit, currents = PULSES[name]
    known = Repeatability(resistance=share(repeats_of(name)))
    declared = benches()[bench.id].model_copy(update={"repeatability": known})
    return [Trial("resistance", *pulsed(bench, declared, UNITS[unit], currents, seed, "pulses"))]


# --- heater and warm-up ----------------------------------------------------------------------------------------------
# Air and battery at the start [°C].
COLDS: dict[str, tuple[TrueBench, str, dict[str, float]]] = {
    "ferngate, boathouse": (BOATHOUSE, "ferngate-f90", {"ambient_c": -10, "start_c": -14, "duration_s": 5400}),
    "tolgate, boathouse": (BOATHOUSE, "tolgate-100l", {"ambient_c": -12, "start_c": -12.5, "duration_s": 5400}),
    "arnwick, boathouse": (BOATHOUSE, "arnwick-polar", {"ambient_c": -18, "start_c": -17.5, "duration_s": 5400}),
    "arnwick, hut": (HUT, "arnwick-polar", {"ambient_c": -18, "start_c": -17.5, "duration_s": 5400}),
    "kelderby, hut": (HUT, "kelderby-k280", {"ambient_c": -8, "start_c": -9, "duration_s": 9000, "set_a": 60}),
}


@cache
def warmed(bench: TrueBench, unit: Unit, how: tuple[tuple[str, float], ...]) -> TrueWarming:
    """The warm-up as it truly goes; the same for all seeds."""
    usual = {"set_v": 14.4, "set_a": 20.0}
    return warm_up(unit, step_s=bench.interval_s, **(usual | dict(how)))


def frozen(bench: TrueBench, unit: Unit, how: dict[str, float], seed: int) -> tuple[OneResult, TrueWarming]:
    """What is derived from the log of a cold battery on a charger, and how it truly went."""
    run = warmed(bench, unit, tuple(sorted(how.items())))
    shown = logged(bench, run.trace, bench.interval_s, "ice-bath", seed)
    charger = {"set_v": 14.4, "set_a": how.get("set_a", 20.0)}
    test = ColdChargeTest.model_validate({"kind": "cold_charge", "ambient_c": how["ambient_c"], "charger": charger})
    declared = benches()[bench.id]
    heater = unit.protection.heater
    assert heater is not None
    label = label_of(unit, heater={"on_below_c": heater.on_below_c, "off_above_c": heater.off_above_c})
    where = at(bench, declared, "ice-bath")
    return cold_charge(test, as_log(shown, declared), where, label, unit.battery.mass_kg), run


def heater(name: str, seed: int) -> list[Trial]:
    """Power, and energy until charge first went into the cells."""
    bench, unit, how = COLDS[name]
    result, run = frozen(bench, UNITS[unit], how, seed)
    true = UNITS[unit].protection.heater
    assert true is not None
    heated_s = float(run.heating[: int(np.argmax(run.cell_current_a > 0))].sum()) * bench.interval_s
    return [
        Trial("power", result.metrics["heater_w"], true.power_w),
        Trial("energy", result.metrics["heater_wh"], true.power_w * heated_s / 3600),
    ]


@cache
def drawn_lump(unit: str, seed: int) -> tuple[Unit, float]:
    """The unit with heat capacity and loss from the methods' range, and its true standard warm-up. [s]"""
    chance = generator("lump", unit, seed)
    heat = 1000 * float(chance.uniform(0.8, 1.2))
    loss = float(np.exp(chance.normal(math.log(2), 0.5)))
    drawn = replace(UNITS[unit], battery=replace(UNITS[unit].battery, heat_j_per_kg_k=heat, loss_w_per_k=loss))
    return drawn, standard_warm_up_s(drawn)


def two_node_warm_up(name: str, seed: int) -> list[Trial]:
    """The standard warm-up of a battery whose case lags behind its cells; where it is told at all."""
    bench, unit, how = COLDS[name]
    drawn, truth = drawn_lump(unit, seed)
    result, _ = frozen(bench, drawn, how | {"duration_s": 9000}, seed)
    found = result.metrics.get("standard_warm_up_s")
    return [] if found is None else [Trial("warm-up", found, truth)]


def lump_warm_up(power_w: float, air_c: float, target_c: float, seed: int) -> list[Trial]:
    """A warm-up drawn from exactly what the methods assume: one lump, and 1 K of its own for each of twelve points."""
    chance = generator("assumed", seed)
    mass_kg, sensor_k = 11.0, float(chance.uniform(-0.5, 0.5))
    heat = mass_kg * 1000 * float(chance.uniform(0.8, 1.2))
    loss = float(np.exp(chance.normal(math.log(2), 0.5)))
    lasted = warm_up_s(air_c, target_c, air_c, power_w, heat, loss)
    truth = warm_up_s(-10.0, target_c, -10.0, power_w, heat, loss)
    if not lasted < 20_000 or not truth < 20_000:
        return []
    time = np.linspace(0, lasted, 12)
    true = np.array([temperature_c(float(t), air_c, air_c, power_w, heat, loss) for t in time])
    scatter = chance.normal(0, 1, 12)
    scatter[0] = 0.0  # before it is heated, sensor and battery are equally cold
    gain = {"gain": Component(0.002 * power_w)}
    read_w = power_w * (1 + 0.002 * float(chance.normal()))
    seen = Warming(
        time_s=time,
        sensor_c=true + scatter + sensor_k,
        air_c=np.full(12, air_c),
        heater_w=Measured(value=read_w, unit="W", components=gain),
        sensor_u_k=0.5 / math.sqrt(3),
        air_u_k=0.0,
        mass_kg=mass_kg,
    )
    target = Measured(value=target_c + sensor_k, unit="°C")
    found, _ = standard_warm_up(fitted(seen), seen.heater_w, target, "fit")
    return [] if found is None else [Trial("warm-up", found, truth)]


# --- hours of a load -------------------------------------------------------------------------------------------------
@dataclass(frozen=True)
class Use:
    """A load [W], the share of the time it is on, and the inverter it needs."""

    running_w: float
    duty: float = 1.0
    inverter: Inverter | None = None
    named: str = ""


USES = {
    "lights at 24 W": Use(24.0),
    "cold box at 60 W, on for 42 %": Use(60.0, 0.42),
    "heater at 100 W": Use(100.0),
    "pumps at 500 W": Use(500.0),
    "laptop behind an inverter": Use(45.0, 1.0, true_benches.GALLEY, "galley"),
    "fridge at 45 W behind an inverter, on for 35 %": Use(45.0, 0.35, true_benches.GALLEY, "galley"),
    "dehumidifier behind an inverter": Use(300.0, 1.0, true_benches.GALLEY, "galley"),
}


def true_hours(battery: Battery, end_v: float, use: Use, takes: float) -> float:
    """How long it truly runs, the load on and off in cycles of a quarter of an hour; voltage and current settle.

    The inverter takes `takes` times what its points say.
    """
    step = 20.0
    idle = use.inverter.idle_w * takes if use.inverter else 0.0
    on_w = float(use.inverter.drawn_w(use.running_w)) * takes if use.inverter else use.running_w
    stop = max(end_v, use.inverter.cut_off_v if use.inverter else 0.0)
    mean_w = idle + use.duty * (on_w - idle)
    length = int(1.25 * battery.full_ah * 3.2 * battery.cells / mean_w * 3600 / step)
    seconds = np.arange(length) * step
    power = np.where(seconds % 900 < use.duty * 900, on_w, idle)
    current = power / (3.2 * battery.cells)
    while True:
        volts = follow(battery, current, step).voltage_v
        wanted = power / np.maximum(volts, stop)
        if float(np.abs(wanted - current).max()) < 1e-5:
            return float(np.argmax(volts < stop)) * step / 3600
        current = wanted


def hours(name: str, seed: int) -> list[Trial]:
    """Hours projected from a logged discharge at 0.2 I_t, of a battery from the methods' range."""
    use, bench, unit = USES[name], true_benches.BOATHOUSE_SLOW, drawn_battery(seed)
    declared = with_repeatability(benches()[bench.id], unit.repeat_charge, None)
    shown, _ = simulate_capacity(unit, bench, seed=seed)
    label = label_of(unit)
    found = capacity(LOGGED, as_log(shown, declared), at(bench, declared), label)
    metrics = found.metrics
    supply = Supply(
        unit="simulated",
        chemistry="LiFePO4",
        energy=metrics["delivered_wh"],
        rate_it=metrics["rate_it"].value,
        rated_ah=label.capacity_ah.best,
        mean_v=metrics["mean_voltage_v"].value,
        curve=found.curve,
    )
    load = Load.model_validate(
        {"title": name, "running_w": use.running_w, "duty": use.duty, "mains": use.inverter is not None}
    )
    chain = chain_of(declared.inverters[use.named]) if use.named else None
    projected = hours_together((LoadUse(load=load),), supply, chain, use.named)
    assert isinstance(projected, Measured), projected
    # No chain is known better than to 1 %, however well its points fit (this project's judgement).
    takes = 1 + 0.01 * float(generator("chain", seed).normal())
    return [Trial("hours", projected, true_hours(unit.battery, unit.protection.end_v, use, takes))]


# --- energy by a state of charge -------------------------------------------------------------------------------------
# Unit, watts given, seconds, state of charge at the start.
RUNS: dict[str, tuple[TrueBench, str, str, float, float, float]] = {
    "galley, ferngate": (BOATHOUSE, "ferngate-f90", "galley", 905.0, 1200.0, 0.885),
    "galley, tolgate": (BOATHOUSE, "tolgate-100l", "galley", 905.0, 1500.0, 0.93),
    "circulation pump, kelderby": (HUT, "kelderby-k280", "hut", 91.0, 43_200.0, 0.96),
}
INVERTERS = {"galley": true_benches.GALLEY, "hut": true_benches.HUT_INVERTER}
APP = Counter(setting_ah=0.0, of_reading=0.02, dead_band_a=0.5, unsynchronised=0.01)
AT_ITS_LIMITS = Counter(setting_ah=0.0, of_reading=0.05, dead_band_a=0.5, unsynchronised=0.02)


def by_soc(name: str, counter: Counter, jumps: bool, seed: int) -> list[Trial]:
    """Energy of a run by the fall of a counter that is set to the battery's rated capacity and out of step.

    With `jumps` the counter is out of step by another amount at the end.
    """
    bench, unit_name, inverter, given_w, lasted, soc = RUNS[name]
    unit = UNITS[unit_name]
    app = replace(counter, setting_ah=unit.battery.rated_ah)

    def run(test: str) -> Any:
        return simulate_load_run(
            unit, bench, app, given_w=given_w, duration_s=lasted, soc=soc, inverter=INVERTERS[inverter],
            seed=seed, test=test,
        )  # fmt: skip

    seen, truth = run("load")
    other, _ = run("load again") if jumps else (seen, truth)
    instruments = dict(benches()[bench.id].instruments)
    set_to = replace(share(unit.battery.rated_ah), step=1.0)
    instruments["app"] = instruments["app"].model_copy(update={"capacity_ah": set_to})
    declared = benches()[bench.id].model_copy(update={"instruments": instruments})
    test = LoadRun.model_validate(
        {
            "kind": "load_run",
            "load": "kettle",
            "inverter": inverter,
            "outcome": "ran",
            "soc": {"start": seen.soc_start, "end": other.soc_end},
            "duration_s": lasted,
            "read_on": "app",
        }
    )
    metrics = load_run(test, None, at(bench, declared), label_of(unit), {}).metrics
    return [Trial("energy", metrics["soc_used_wh"], truth.used_wh)]


# --- retention and efficiency ----------------------------------------------------------------------------------------
def retention(bench: TrueBench, spread_k: float, seed: int) -> list[Trial]:
    """A battery that has lost a tenth, at another temperature; what a kelvin changes is drawn as the methods say."""
    chance = generator("tested again", seed)
    per_k = float(chance.uniform(0, 0.001))
    new = replace(UNITS["tolgate-100l"], battery=replace(UNITS["tolgate-100l"].battery, charge_per_kelvin=per_k))
    old = replace(new, battery=replace(new.battery, full_ah=0.9 * new.battery.full_ah))
    declared = with_repeatability(benches()[bench.id], new.repeat_charge, None)
    results = []
    for test, unit in (("new", new), ("old", old)):
        air = 22.0 + float(chance.uniform(-spread_k, spread_k))
        shown, _ = simulate_capacity(unit, bench, seed=seed, test=test, ambient_c=air)
        results.append(capacity(LOGGED, as_log(shown, declared), at(bench, declared, test), label_of(unit)))
    return [Trial("share", share_left(results[0], results[1]), 0.9)]


@cache
def refilled(unit: Unit) -> Trace:
    """The refill as it truly goes, a sample a second; the same for all seeds."""
    empty = emptied_soc(unit, 22.0)
    return refill(unit, set_v=14.4, set_a=20.0, tail_a=4.0, soc=empty, ambient_c=22.0, step_s=1.0)


def charged(run: Trace) -> tuple[float, float]:
    """What a refill puts in. [Ah, Wh]"""
    return -float(run.current_a.sum()) / 3600, -float(run.current_a @ run.voltage_v) / 3600


def efficiency(bench: TrueBench, seed: int) -> list[Trial]:
    """A refill after a discharge: what came out of this run over what went back in."""
    unit = UNITS["ferngate-f90"]
    declared = benches()[bench.id]
    shown, out = simulate_capacity(replace(unit, repeat_charge=0.0), bench, seed=seed, ambient_c=22.0)
    before = capacity(LOGGED, as_log(shown, declared), at(bench, declared), label_of(unit))
    run = refilled(unit)
    into = charged(run)
    test = ChargeTest.model_validate({"kind": "charge", "after": "run"})
    found = charge(
        test, as_log(logged(bench, run, 1.0, "refill", seed), declared), at(bench, declared, "refill"), before
    ).metrics
    return [
        Trial("charge", found["charge_efficiency"], out.delivered_ah / into[0]),
        Trial("energy", found["energy_efficiency"], out.delivered_wh / into[1]),
    ]


# --- how much it carries ---------------------------------------------------------------------------------------------
HALF_HOUR_S = 1800.0
REST_S = 900.0
PLANS: dict[str, tuple[TrueBench, str, Sequence[float]]] = {
    "steps, boathouse": (BOATHOUSE, "ferngate-f90", (108.6, 122.4, 148.0, 182.6, 207.3)),
    "thermal memory, boathouse": (BOATHOUSE, "tolgate-100l", (122, 150, 180, 220, 270, 320)),
    "thermal memory, in fine steps": (
        BOATHOUSE, "tolgate-100l", (122, 126, 130, 134, 140, 150, 160, 180, 200, 220, 250, 300, 350, 400, 600, 800),
    ),
    "thermal memory, hut": (HUT, "tolgate-100l", (122, 150, 180, 220, 270, 320)),
    "steps, Pinder Lake": (PINDER, "arnwick-polar", (122, 162, 205, 260)),
    "steps, jetty": (JETTY, "thrushby-t100", (101, 118, 164)),
    "large, hut": (HUT, "kelderby-k280", (206, 252, 330)),
}  # fmt: skip


@cache
def carried_a(unit: str) -> dict[str, float]:
    """What the cold-started protection truly carries, for each of the published times."""
    return {name: largest_held_a(UNITS[unit], seconds) for name, seconds in BRACKET_TIMES_S.items()}


def bracketed(name: str, seed: int) -> dict[str, Measured]:
    """The brackets of one overload test."""
    bench, unit, currents = PLANS[name]
    plan = [(float(amps), HALF_HOUR_S, REST_S) for amps in currents]
    seen = simulate_overload(UNITS[unit], bench, plan, seed=seed)
    # Whoever stops after half an hour writes half an hour.
    points = [
        {
            "current_a": one.current_a,
            "duration_s": one.duration_s if one.tripped else HALF_HOUR_S,
            "held": not one.tripped,
            "rest_before_s": REST_S,
        }
        for one in seen
    ]
    test = OverloadTest.model_validate({"kind": "overload", "read_on": "clamp", "points": points})
    found = brackets(points_of_test(test, at(bench, benches()[bench.id])))
    return {key: one for key, bracket in found.items() if (one := bracket.as_measured()) is not None}
