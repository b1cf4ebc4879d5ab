"""All of one unit's evidence → its numbers: each test by its method, then the headline and what follows from it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from site_builder.bench_tests import AnyTest, BuildTest, CapacityTest, OneTest
from site_builder.catalogue_records import Bench, ComparisonClass, Price, Rates
from site_builder.derive.build_quality import build, claimed_mass_kg, claimed_volume_l, energy_per
from site_builder.derive.capacity import OWN_END, capacity
from site_builder.derive.money import newest_price, price_per_kwh
from site_builder.derive.readings import Setting
from site_builder.derive.results import OneResult, UnitResult
from site_builder.measured import Measured
from site_builder.records import Label, ResultsFile
from site_builder.series import Log


def class_of(label: Label, classes: Mapping[str, ComparisonClass]) -> str | None:
    """The comparison class whose bands hold this label, or None."""
    for name, one in classes.items():
        volts = one.nominal_v.from_.best <= label.nominal_v.best < one.nominal_v.below.best
        hours = one.capacity_ah.from_.best <= label.capacity_ah.best < one.capacity_ah.below.best
        if volts and hours and label.chemistry in one.chemistry:
            return name
    return None


def unit_result(
    file: ResultsFile,
    logs: Mapping[str, Log],
    benches: Mapping[str, Bench],
    classes: Mapping[str, ComparisonClass],
    prices: Iterable[Price],
    rates: Rates,
    as_of: dt.date,
) -> UnitResult:
    """Everything this project can say about one unit.

    Args:
        file: The recorded evidence.
        logs: Cleaned logs by test name.
        benches: Benches by id.
        classes: Comparison classes by id.
        prices: This unit's prices.
        rates: Currency rates.
        as_of: The catalogue's date.
    """
    tests = {name: one_result(name, test, file, logs.get(name), benches) for name, test in file.tests.items()}
    superseded = _superseded(file, tests)
    headline = headline_of(file, tests, superseded)
    price = newest_price(prices, rates, as_of)
    metrics = dict(tests[headline].metrics) if headline else {}
    metrics |= _built(file, tests, metrics.get("delivered_wh"))
    if price is not None and (energy := metrics.get("delivered_wh")) is not None and energy.value > 0:
        metrics["price_per_kwh"] = price_per_kwh(price, energy)
    return UnitResult(
        id=file.unit.id,
        class_id=class_of(file.label, classes),
        tests=tests,
        metrics=metrics,
        headline=headline,
        superseded=superseded,
        price=price,
    )


def one_result(name: str, test: OneTest, file: ResultsFile, log: Log | None, benches: Mapping[str, Bench]) -> OneResult:
    """One test by the method of its kind; kinds without a derivation are passed on as recorded."""
    setting = setting_of(name, test, file, benches)
    if isinstance(test, CapacityTest):
        return capacity(test, log, setting, file.label)
    if isinstance(test, BuildTest):
        return build(test, setting)
    return OneResult(test=name, kind=test.kind)


def setting_of(name: str, test: AnyTest, file: ResultsFile, benches: Mapping[str, Bench]) -> Setting:
    """Unit, test and bench of one test."""
    bench_id = test.bench or file.bench
    bench = benches.get(bench_id) if bench_id else None
    ambient = test.ambient_c.best if test.ambient_c else None
    return Setting(unit=file.unit.id, test=name, bench_id=bench_id, bench=bench, ambient_c=ambient)


def sample_of(test: AnyTest, file: ResultsFile) -> str | None:
    """The sample a test was made on: named, or the file's only one."""
    return test.sample or next(iter(file.samples), None)


def date_of(test: AnyTest, file: ResultsFile) -> dt.date | None:
    """When the test was made: its own date, else that of the video that shows it."""
    if test.date is not None:
        return test.date
    video = file.videos.get(test.video.in_) if test.video else None
    return video.date if video else None


def _superseded(file: ResultsFile, tests: Mapping[str, OneResult]) -> dict[str, str]:
    """Older capacity tests → the later one of the same sample, bench and method that is on reference."""
    replaced: dict[str, str] = {}
    dated = [(date_of(file.tests[name], file), name) for name in _capacity_names(file)]
    for later, newer in dated:
        for earlier, older in dated:
            if later is None or earlier is None or earlier >= later or not _same_series(file, older, newer):
                continue
            if not tests[newer].off_reference and file.tests[newer].ended_by in OWN_END:  # type: ignore[union-attr]
                replaced[older] = newer
    return replaced


def _same_series(file: ResultsFile, older: str, newer: str) -> bool:
    a, b = file.tests[older], file.tests[newer]
    same_bench = (a.bench or file.bench) == (b.bench or file.bench)
    # Another load is another method: a fridge's cycles do not repeat a steady discharge.
    same_method = getattr(a, "load", None) == getattr(b, "load", None)
    return same_bench and same_method and sample_of(a, file) == sample_of(b, file)


def _capacity_names(file: ResultsFile) -> list[str]:
    return [name for name, test in file.tests.items() if isinstance(test, CapacityTest)]


def headline_of(file: ResultsFile, tests: Mapping[str, OneResult], superseded: Mapping[str, str]) -> str | None:
    """The capacity test that leads: first sample, metered before as-read, on reference before off, then smallest u."""
    samples = list(file.samples)

    def order(name: str) -> tuple[Any, ...]:
        result, sample = tests[name], sample_of(file.tests[name], file)
        lead = result.metrics.get("delivered_wh") or result.metrics["delivered_ah"]
        rank = samples.index(sample) if sample in samples else 0
        return (
            rank,
            lead.basis == "as_read",
            bool(result.off_reference),
            lead.bound != "exact",
            lead.u / abs(lead.value or 1),
            name,
        )

    candidates = [name for name in _capacity_names(file) if name not in superseded and _delivers(tests[name])]
    return min(candidates, key=order, default=None)


def _delivers(result: OneResult) -> bool:
    return "delivered_ah" in result.metrics or "delivered_wh" in result.metrics


def _built(file: ResultsFile, tests: Mapping[str, OneResult], energy: Measured | None) -> dict[str, Measured]:
    """Mass and volume, weighed before claimed, and the energy held for each."""
    metrics: dict[str, Measured] = {}
    fallback: dict[str, Callable[[Label], Measured | None]] = {"mass_kg": claimed_mass_kg, "volume_l": claimed_volume_l}
    for name, ratio, unit in (("mass_kg", "wh_per_kg", "Wh/kg"), ("volume_l", "wh_per_l", "Wh/L")):
        measured = [result.metrics[name] for result in tests.values() if name in result.metrics]
        best = min(measured, key=lambda one: (one.basis == "as_read", one.u), default=None) or fallback[name](
            file.label
        )
        if best is None:
            continue
        metrics[name] = best
        if energy is not None:
            metrics[ratio] = energy_per(energy, best, unit)
    return metrics
