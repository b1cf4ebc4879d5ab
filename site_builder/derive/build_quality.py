"""How a unit is built: mass, size, and the energy it holds for them."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from site_builder.bench_tests import BuildTest, Size
from site_builder.derive.headline import sample_rank
from site_builder.derive.readings import Setting, reading
from site_builder.derive.results import OneResult
from site_builder.measured import Measured, bounded
from site_builder.records import Label, ResultsFile
from site_builder.values import Stated


def build(test: BuildTest, setting: Setting) -> OneResult:
    """Weighed mass and measured volume, where they were taken."""
    metrics: dict[str, Measured] = {}
    if test.mass_kg is not None:
        metrics["mass_kg"] = reading(test.mass_kg, "kg", "mass", setting, field="mass_kg")
    if test.size_mm is not None and (volume := volume_l(test.size_mm, setting)) is not None:
        metrics["volume_l"] = volume
    return OneResult(test=setting.test, kind=test.kind, metrics=metrics)


def volume_l(size: Size, setting: Setting) -> Measured | None:
    """Length times width times height, from overall size; None where its sides are open to both ends. [L]"""
    named = {"length": size.length, "width": size.width, "height": size.height}
    sides = [reading(side, "mm", "length", setting, field=f"size_mm.{name}") for name, side in named.items()]
    return bounded(lambda a, b, c: a * b * c / 1e6, *sides, unit="L", rises=(True, True, True))


def claimed_mass_kg(label: Label) -> Measured | None:
    """The label's mass, as a claim: it has no ±. [kg]"""
    return None if label.mass_kg is None else _claim(label.mass_kg, "kg")


def claimed_volume_l(label: Label) -> Measured | None:
    """The volume of the label's size, as a claim. [L]"""
    if label.size_mm is None:
        return None
    size = label.size_mm
    value = size.length.best * size.width.best * size.height.best / 1e6
    return Measured(value=value, unit="L", basis="claimed")


def _claim(value: Stated, unit: str) -> Measured:
    return Measured(value=value.best, unit=unit, basis="claimed")


def energy_per(energy_wh: Measured, by: Measured, unit: str) -> Measured | None:
    """Energy per mass or volume, as far as the bounds of both allow. [Wh/kg or Wh/L]"""
    return bounded(lambda e, m: e / m, energy_wh, by, unit=unit, rises=(True, False))


def built(file: ResultsFile, tests: Mapping[str, OneResult], energy: Measured | None) -> dict[str, Measured]:
    """Mass and volume, the first sample's before another's, weighed before claimed, and the energy held for each."""
    metrics: dict[str, Measured] = {}
    fallback: dict[str, Callable[[Label], Measured | None]] = {"mass_kg": claimed_mass_kg, "volume_l": claimed_volume_l}
    for name, ratio, unit in (("mass_kg", "wh_per_kg", "Wh/kg"), ("volume_l", "wh_per_l", "Wh/L")):
        known = {test: result.metrics[name] for test, result in tests.items() if name in result.metrics}
        first = min(known, key=lambda test: _order(known[test], sample_rank(test, file)), default=None)
        best = fallback[name](file.label) if first is None else known[first]
        if best is None:
            continue
        metrics[name] = best
        if energy is not None and (held := energy_per(energy, best, unit)) is not None:
            metrics[ratio] = held
    return metrics


def _order(one: Measured, rank: int) -> tuple[bool, int, bool, float]:
    return one.basis == "reported", rank, one.basis == "as_read", one.u
