"""All of one unit's evidence → its numbers: each test by its method, then the headline and what follows from it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from functools import partial

from site_builder.bench_tests import (
    AnyTest,
    BalanceTest,
    BuildTest,
    CapacityTest,
    ChargeTest,
    ColdChargeTest,
    LoadRun,
    OneTest,
    OverloadTest,
    ResistanceTest,
    StandbyTest,
)
from site_builder.catalogue_records import Bench, Catalogue, ComparisonClass, Price
from site_builder.derive.answers import Known, load_answers
from site_builder.derive.build_quality import build, built
from site_builder.derive.capacity import capacity
from site_builder.derive.carrying import carrying_of
from site_builder.derive.charging import balance, charge, standby
from site_builder.derive.cold_charge import cold_charge
from site_builder.derive.headline import capacity_names, date_of, headline_of, sample_of, series_of, superseded_by
from site_builder.derive.load_runs import load_run, longer_than_energy
from site_builder.derive.money import life_price_per_kwh, newest_price, price_per_kwh
from site_builder.derive.overload_log import has_steps
from site_builder.derive.plausible import implausible
from site_builder.derive.readings import Setting
from site_builder.derive.reported import as_reported, is_reported
from site_builder.derive.resistance import power_at_end_voltage_w, resistance
from site_builder.derive.results import Carrying, Finding, OneResult, Priced, Retention, UnitResult
from site_builder.derive.retention import Dated, retentions
from site_builder.derive.runtime import Supply
from site_builder.derive.wiring import fault_current_a
from site_builder.measured import Measured, rectangular, weakest_basis
from site_builder.records import Label, ResultsFile
from site_builder.series import Log

# Metrics that any test of a kind can give; the best one of the first sample that has any becomes the unit's. Those in
# one pair of brackets belong to one test and are taken from that together, by the first of them.
CARRIED_UP: Mapping[str, tuple[tuple[str, ...], ...]] = {
    "resistance": (("dc_resistance_milliohm", "open_circuit_v", "sag_v"), ("ac_resistance_milliohm",)),
    "cold_charge": (
        ("refused_up_to_c",),
        ("accepted_from_c",),
        ("heater_w",),
        ("heater_wh",),
        ("heater_charger_a",),
        ("standard_warm_up_s",),
        ("room_share",),
    ),
    "charge": (("charge_efficiency",), ("energy_efficiency",), ("max_current_a",)),
    "standby": (("loss_per_month",),),
    "balance": (("cell_spread_full_mv",), ("cell_spread_empty_mv",)),
}
# Of these not the best known one counts, but the largest or the smallest that was seen.
LARGEST = frozenset({"refused_up_to_c", "max_current_a"})
SMALLEST = frozenset({"accepted_from_c", "heater_charger_a"})

NO_POINTS = "what it carries is not known; it would take the current and the seconds of each step (points:), or a log"
# A battery that nobody emptied on a bench may hold more than its label says, by no more than this (judgement).
LABEL_MARGIN = 0.2


def class_of(label: Label, classes: Mapping[str, ComparisonClass]) -> str | None:
    """The comparison class whose bands hold this label, or None."""
    for name, one in classes.items():
        volts = one.nominal_v.from_.best <= label.nominal_v.best < one.nominal_v.below.best
        hours = one.capacity_ah.from_.best <= label.capacity_ah.best < one.capacity_ah.below.best
        if volts and hours and label.chemistry in one.chemistry:
            return name
    return None


def unit_result(
    file: ResultsFile, logs: Mapping[str, Log], catalogue: Catalogue, prices: Iterable[Price], as_of: dt.date
) -> UnitResult:
    """Everything this project can say about one unit.

    Args:
        file: The recorded evidence.
        logs: Cleaned logs by test name.
        catalogue: Benches, loads, classes, rates.
        prices: This unit's prices.
        as_of: The catalogue's date.
    """
    tests = _tests(file, logs, catalogue)
    superseded = superseded_by(file, tests)
    headline = headline_of(file, tests, superseded)
    price = newest_price(prices, catalogue.rates, as_of)
    settings = {name: setting_of(name, test, file, catalogue.benches) for name, test in file.tests.items()}
    carrying, findings = carrying_of(file, settings, logs)
    metrics = _unit_metrics(file, tests, headline, price, carrying)
    known = Known(
        file=file,
        tests=tests,
        points=carrying[-1].points if carrying else (),
        supply=_supply(file, tests, headline),
        open_circuit_v=_value(metrics.get("open_circuit_v"), file.label.nominal_v.best),
        resistance_milliohm=_value(metrics.get("dc_resistance_milliohm"), 0.0),
    )
    return UnitResult(
        id=file.unit.id,
        class_id=class_of(file.label, catalogue.classes),
        tests=tests,
        metrics=metrics,
        headline=headline,
        superseded=superseded,
        price=price,
        loads=load_answers(known, catalogue),
        known=known,
        sources=_sources(metrics, tests, carrying),
        carrying=carrying,
        retentions=_retentions(file, tests),
        findings=(
            *findings,
            *_longer_than_energy(file, tests, metrics.get("delivered_wh")),
            *implausible(file, tests, metrics, headline),
        ),
    )


def _unit_metrics(
    file: ResultsFile,
    tests: Mapping[str, OneResult],
    headline: str | None,
    price: Priced | None,
    carrying: Sequence[Carrying],
) -> dict[str, Measured]:
    """The unit's own numbers: those of the leading discharge, then what the other tests, scale and price add."""
    metrics = dict(tests[headline].metrics) if headline else {}
    metrics |= built(file, tests, metrics.get("delivered_wh"))
    metrics |= _carried_up(file, tests)
    metrics |= _money(file, price, metrics.get("delivered_wh"))
    if carrying:
        held = {f"carries_{name}_a": one.as_measured() for name, one in carrying[-1].brackets.items()}
        metrics |= {name: one for name, one in held.items() if one is not None}
    return metrics | _power_at_end(metrics, file.label) | _fault_current(metrics)


def _value(one: Measured | None, otherwise: float) -> float:
    return otherwise if one is None else one.value


def _tests(file: ResultsFile, logs: Mapping[str, Log], catalogue: Catalogue) -> dict[str, OneResult]:
    """Every test by its method; refills last, since they are held against the discharge before them."""
    order = sorted(file.tests, key=lambda name: isinstance(file.tests[name], ChargeTest))
    tests: dict[str, OneResult] = {}
    for name in order:
        tests[name] = one_result(name, file.tests[name], file, logs.get(name), catalogue, tests)
    return {name: tests[name] for name in file.tests}


def one_result(
    name: str, test: OneTest, file: ResultsFile, log: Log | None, catalogue: Catalogue, before: Mapping[str, OneResult]
) -> OneResult:
    """One test by the method of its kind."""
    setting = setting_of(name, test, file, catalogue.benches)
    result: OneResult
    match test:
        case CapacityTest():
            result = capacity(test, log, setting, file.label, catalogue.loads)
        case LoadRun():
            result = load_run(test, log, setting, file.label, catalogue.loads)
        case ColdChargeTest():
            result = cold_charge(test, log, setting, file.label, _mass_kg(file))
        case ResistanceTest():
            result = resistance(test, log, setting, file.label)
        case ChargeTest():
            filled = file.tests[test.after].before if test.after in file.tests else None
            result = charge(test, log, setting, before.get(test.after or ""), filled)
        case StandbyTest():
            result = standby(test, setting)
        case BalanceTest():
            result = balance(test, setting)
        case BuildTest():
            result = build(test, setting)
        case OverloadTest():
            # Its steps are evidence beside those of load runs: `carrying_of` puts them together.
            known = test.points or has_steps(log, file.label)
            result = OneResult(test=name, kind=test.kind, cannot=() if known else (NO_POINTS,))
    return as_reported(result) if is_reported(test) else result


def _mass_kg(file: ResultsFile) -> float | None:
    weighed = [test.mass_kg.best for test in file.tests.values() if isinstance(test, BuildTest) and test.mass_kg]
    claimed = [file.label.mass_kg.best] if file.label.mass_kg else []
    return next(iter(weighed + claimed), None)


def setting_of(name: str, test: AnyTest, file: ResultsFile, benches: Mapping[str, Bench]) -> Setting:
    """Unit, test and bench of one test."""
    bench_id = test.bench or file.bench
    bench = benches.get(bench_id) if bench_id else None
    ambient = test.ambient_c.best if test.ambient_c else None
    return Setting(
        unit=file.unit.id,
        test=name,
        bench_id=bench_id,
        bench=bench,
        ambient_c=ambient,
        nominal_v=file.label.nominal_v.best,
    )


def _carried_up(file: ResultsFile, tests: Mapping[str, OneResult]) -> dict[str, Measured]:
    """Figures from tests of other kinds: first sample, metered before as-read, then smallest relative u or extreme.

    Those whose evidence was kept go before all that are only reported.
    """
    samples = list(file.samples)

    def order(test: str, name: str) -> tuple[bool, int, bool, float]:
        sample, one = sample_of(file.tests[test], file), tests[test].metrics[name]
        rank = samples.index(sample) if sample in samples else 0
        extreme = one.value if name in SMALLEST else -one.value if name in LARGEST else None
        least = one.u / (abs(one.value) or 1) if extreme is None else extreme
        return one.basis == "reported", rank, one.basis == "as_read", least

    metrics: dict[str, Measured] = {}
    for kind, groups in CARRIED_UP.items():
        for names in groups:
            known = [test for test, one in tests.items() if one.kind == kind and names[0] in one.metrics]
            if known:
                best = tests[min(known, key=partial(order, name=names[0]))].metrics
                metrics |= {name: best[name] for name in names if name in best}
    return metrics


def _sources(
    metrics: Mapping[str, Measured], tests: Mapping[str, OneResult], carrying: Sequence[Carrying]
) -> dict[str, str]:
    """The test that each of the unit's figures was taken over from; those worked out from several have none."""
    found = {name: test for name, one in metrics.items() for test, of in tests.items() if of.metrics.get(name) is one}
    for name, bracket in carrying[-1].brackets.items() if carrying else ():
        seen = bracket.held or bracket.tripped
        if seen is not None:
            found[f"carries_{name}_a"] = seen.test
    return found


def _money(file: ResultsFile, price: Priced | None, energy: Measured | None) -> dict[str, Measured]:
    if price is None or energy is None or energy.value <= 0:
        return {}
    found = {"price_per_kwh": price_per_kwh(price, energy)}
    if file.label.cycles is not None:
        found["life_price_per_kwh"] = life_price_per_kwh(price, energy, file.label.cycles)
    return {name: one for name, one in found.items() if one is not None}


def _power_at_end(metrics: Mapping[str, Measured], label: Label) -> dict[str, Measured]:
    """Power left at the end voltage, its current no larger than what it was seen to carry for 10 s."""
    open_v, ohm = metrics.get("open_circuit_v"), metrics.get("dc_resistance_milliohm")
    end = label.discharge.end_v if label.discharge else None
    if open_v is None or ohm is None or end is None or ohm.value <= 0:
        return {}
    power = power_at_end_voltage_w(open_v, ohm, end.best)
    carried = metrics.get("carries_10_s_a")
    most_a = power.value / end.best
    if carried is None or (most_a <= carried.value and carried.bound != "at_most"):
        return {"end_voltage_power_w": power}
    components = {name: one.scaled(end.best) for name, one in carried.components.items()}
    capped = Measured(
        value=min(carried.value, most_a) * end.best,
        unit="W",
        components=components,
        bound="at_most" if carried.bound == "at_most" else "at_least",
        basis=weakest_basis(power.basis, carried.basis),
    )
    return {"end_voltage_power_w": capped}


def _fault_current(metrics: Mapping[str, Measured]) -> dict[str, Measured]:
    """Current of a short circuit, for choosing a fuse: from a 1 kHz meter, else "at least" from slower pulses."""
    open_v = metrics.get("open_circuit_v")
    metered, pulsed = metrics.get("ac_resistance_milliohm"), metrics.get("dc_resistance_milliohm")
    ohm = metered or pulsed
    if open_v is None or ohm is None or ohm.value <= 0:
        return {}
    return {"fault_current_a": fault_current_a(open_v, ohm, ohmic=metered is not None)}


def _longer_than_energy(
    file: ResultsFile, tests: Mapping[str, OneResult], delivered: Measured | None
) -> tuple[tuple[str, Finding], ...]:
    """Runs of one battery that used more than it holds as measured, or by a fifth more than its label says."""
    label = file.label
    rated_wh = label.energy_wh.best if label.energy_wh else label.nominal_v.best * label.capacity_ah.best
    margin = {"label": rectangular(LABEL_MARGIN * rated_wh)}
    measured = delivered is not None and delivered.bound in {"exact", "at_most"} and delivered.basis == "measured"
    holds = delivered if measured else Measured(value=rated_wh, unit="Wh", components=margin, basis="claimed")
    runs = [name for name, test in file.tests.items() if isinstance(test, LoadRun) and test.arrangement is None]
    found = [(name, longer_than_energy(tests[name], holds)) for name in runs]
    return tuple((name, finding) for name, finding in found if finding is not None)


def _supply(file: ResultsFile, tests: Mapping[str, OneResult], headline: str | None) -> Supply | None:
    if headline is None:
        return None
    metrics = tests[headline].metrics
    energy, rate, volts = metrics.get("delivered_wh"), metrics.get("rate_it"), metrics.get("mean_voltage_v")
    warmth = metrics.get("temperature_c")
    if energy is None or energy.basis in {"as_read", "reported"} or rate is None or rate.bound == "between":
        return None
    if energy.bound != "exact" and (energy := energy.opened_up()) is None:  # hours are never promised by an upper end
        return None
    mean_v = volts.value if volts is not None else file.label.nominal_v.best
    return Supply(
        unit=file.unit.id,
        chemistry=file.label.chemistry,
        energy=energy,
        rate_it=rate.value,
        rated_ah=file.label.capacity_ah.best,
        mean_v=mean_v,
        curve=tests[headline].curve,
        tested_c=round(warmth.value, 1) if warmth is not None else None,
    )


def _retentions(file: ResultsFile, tests: Mapping[str, OneResult]) -> tuple[Retention, ...]:
    dated = [
        Dated(test=name, date=date, series=series_of(name, file), result=tests[name])
        for name in capacity_names(file)
        if (date := date_of(file.tests[name], file)) is not None
    ]
    return tuple(retentions(dated, file.label.chemistry))
