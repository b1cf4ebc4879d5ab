"""All of one unit's evidence → its numbers: each test by its method, then the headline and what follows from it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping

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
from site_builder.derive.load_runs import load_run
from site_builder.derive.money import life_price_per_kwh, newest_price, price_per_kwh
from site_builder.derive.readings import Setting
from site_builder.derive.resistance import power_at_end_voltage_w, resistance
from site_builder.derive.results import OneResult, Priced, Retention, UnitResult
from site_builder.derive.retention import Dated, retentions
from site_builder.derive.runtime import Supply
from site_builder.measured import Measured
from site_builder.records import Label, ResultsFile
from site_builder.series import Log

# Metrics that any test of a kind can give; the first sample's best one becomes the unit's.
CARRIED_UP: Mapping[str, tuple[str, ...]] = {
    "resistance": ("dc_resistance_milliohm", "open_circuit_v", "sag_v"),
    "cold_charge": ("refused_up_to_c", "accepted_from_c", "heater_w", "heater_wh", "standard_warm_up_s", "room_share"),
    "charge": ("charge_efficiency", "energy_efficiency", "max_current_a"),
    "standby": ("loss_per_month",),
    "balance": ("cell_spread_full_mv", "cell_spread_empty_mv"),
}


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
    metrics = dict(tests[headline].metrics) if headline else {}
    metrics |= built(file, tests, metrics.get("delivered_wh"))
    metrics |= _carried_up(file, tests)
    metrics |= _money(file, price, metrics.get("delivered_wh"))
    settings = {name: setting_of(name, test, file, catalogue.benches) for name, test in file.tests.items()}
    carrying, findings = carrying_of(file, settings)
    if carrying:
        held = {f"carries_{name}_a": one.as_measured() for name, one in carrying[-1].brackets.items()}
        metrics |= {name: one for name, one in held.items() if one is not None}
    metrics |= _power_at_end(metrics, file.label)
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
        carrying=carrying,
        retentions=_retentions(file, tests),
        findings=findings,
    )


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
            result = capacity(test, log, setting, file.label)
        case LoadRun():
            result = load_run(test, log, setting, file.label, catalogue.loads)
        case ColdChargeTest():
            result = cold_charge(test, log, setting, file.label, _mass_kg(file))
        case ResistanceTest():
            result = resistance(test, log, setting, file.label)
        case ChargeTest():
            result = charge(test, log, setting, before.get(test.after or ""))
        case StandbyTest():
            result = standby(test, setting)
        case BalanceTest():
            result = balance(test, setting)
        case BuildTest():
            result = build(test, setting)
        case OverloadTest():
            # Its steps are evidence beside those of load runs: `carrying_of` puts them together.
            result = OneResult(test=name, kind=test.kind)
    return result


def _mass_kg(file: ResultsFile) -> float | None:
    weighed = [test.mass_kg.best for test in file.tests.values() if isinstance(test, BuildTest) and test.mass_kg]
    claimed = [file.label.mass_kg.best] if file.label.mass_kg else []
    return next(iter(weighed + claimed), None)


def setting_of(name: str, test: AnyTest, file: ResultsFile, benches: Mapping[str, Bench]) -> Setting:
    """Unit, test and bench of one test."""
    bench_id = test.bench or file.bench
    bench = benches.get(bench_id) if bench_id else None
    ambient = test.ambient_c.best if test.ambient_c else None
    return Setting(unit=file.unit.id, test=name, bench_id=bench_id, bench=bench, ambient_c=ambient)


def _carried_up(file: ResultsFile, tests: Mapping[str, OneResult]) -> dict[str, Measured]:
    """Figures from tests of other kinds: of the first sample, metered before as-read, then the smallest relative u."""
    first = next(iter(file.samples), None)
    metrics: dict[str, Measured] = {}
    for kind, names in CARRIED_UP.items():
        of_kind = [
            one for name, one in tests.items() if one.kind == kind and sample_of(file.tests[name], file) == first
        ]
        for name in names:
            known = [one.metrics[name] for one in of_kind if name in one.metrics]
            if known:
                metrics[name] = min(known, key=lambda one: (one.basis == "as_read", one.u / (abs(one.value) or 1)))
    return metrics


def _money(file: ResultsFile, price: Priced | None, energy: Measured | None) -> dict[str, Measured]:
    if price is None or energy is None or energy.value <= 0:
        return {}
    metrics = {"price_per_kwh": price_per_kwh(price, energy)}
    if file.label.cycles is not None and file.label.cycles.count > 0:
        metrics["life_price_per_kwh"] = life_price_per_kwh(price, energy, file.label.cycles)
    return metrics


def _power_at_end(metrics: Mapping[str, Measured], label: Label) -> dict[str, Measured]:
    """Power left at the end voltage, its current no larger than what it was seen to carry for 10 s."""
    open_v, ohm = metrics.get("open_circuit_v"), metrics.get("dc_resistance_milliohm")
    end = label.discharge.end_v if label.discharge else None
    if open_v is None or ohm is None or end is None or ohm.value <= 0:
        return {}
    power = power_at_end_voltage_w(open_v, ohm, end.best)
    carried = metrics.get("carries_10_s_a")
    if carried is None or power.value / end.best <= carried.value:
        return {"end_voltage_power_w": power}
    components = {name: one.scaled(end.best) for name, one in carried.components.items()}
    capped = Measured(value=carried.value * end.best, unit="W", components=components, bound="at_least")
    return {"end_voltage_power_w": capped}


def _supply(file: ResultsFile, tests: Mapping[str, OneResult], headline: str | None) -> Supply | None:
    if headline is None:
        return None
    metrics = tests[headline].metrics
    energy, rate, volts = metrics.get("delivered_wh"), metrics.get("rate_it"), metrics.get("mean_voltage_v")
    if energy is None or energy.basis == "as_read" or rate is None or rate.bound == "between":
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
    )


def _retentions(file: ResultsFile, tests: Mapping[str, OneResult]) -> tuple[Retention, ...]:
    dated = [
        Dated(test=name, date=date, series=series_of(name, file), result=tests[name])
        for name in capacity_names(file)
        if (date := date_of(file.tests[name], file)) is not None
    ]
    return tuple(retentions(dated))
