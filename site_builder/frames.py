"""Derived evidence → pandas frames: a row per unit, a row per test; a number's ± and bound stand beside it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from site_builder.derived import Derived, DerivedUnit
from site_builder.measured import Measured, rounded_pair
from site_builder.nomenclature import METRICS, OF_TESTS_ONLY, PARTS

if TYPE_CHECKING:
    import pandas as pd

COUNTS = ("place_low", "place_high", "place_of", "questions_tested")
SCORE_DECIMALS = 2  # far below what any instrument tells


@dataclass(frozen=True, kw_only=True, slots=True)
class Frames:
    """The two tables. `units`: one row per unit that may be shown; `tests`: one per test."""

    units: pd.DataFrame
    tests: pd.DataFrame


def frames_of(derived: Derived) -> Frames:
    """Both frames, sorted by unit id (and test name); column suffixes are units."""
    import pandas as pd  # noqa: PLC0415  # slow to import, and most commands never need it

    units = pd.DataFrame([unit_row(unit) | score_cells(unit, derived) for unit in derived.units])
    # Whole numbers stay whole beside empty cells; these columns are the last ones.
    counts = units[[name for name in COUNTS if name in units]].astype("Int64")
    units = pd.concat([units.drop(columns=list(counts)), counts], axis=1)
    tests = pd.DataFrame([row for unit in derived.units for row in rows_of_tests(unit)])
    return Frames(units=units, tests=tests)


def unit_row(unit: DerivedUnit) -> dict[str, Any]:
    """One unit as a flat row."""
    record, result = unit.record, unit.result
    label = record.label
    row: dict[str, Any] = {
        "id": unit.id,
        "maker": record.unit.maker,
        "model": record.unit.model,
        "class": result.class_id,
        "status": record.unit.status,
        "chemistry": label.chemistry,
        "nominal_v": label.nominal_v.best,
        "rated_ah": label.capacity_ah.best,
        "rated_wh": rated_wh(unit),
        "claims_heater": label.heater is not None,
        "headline_test": result.headline,
    }
    row |= _metric_cells(result.metrics, [name for name in METRICS if name not in OF_TESTS_ONLY])
    price = result.price
    row |= {
        "price": price.amount if price else None,
        "price_currency": price.currency if price else None,
        "price_date": price.date if price else None,
        "price_kind": price.kind if price else None,
        "price_stale": price.stale if price else None,
    }
    return row


def score_cells(unit: DerivedUnit, derived: Derived) -> dict[str, Any]:
    """Score and place as cells; none at all where the catalogue grades nothing. [points]"""
    if derived.catalogue.grading is None:
        return {}
    grade, place = derived.standings.grades.get(unit.id), derived.standings.places.get(unit.id)
    points = (grade.score, grade.low, grade.high) if grade else (None, None, None)
    score, low, high = (None if one is None else round(one, SCORE_DECIMALS) for one in points)
    return {
        "score": score,
        "score_low": low,
        "score_high": high,
        "place_low": place.low if place else None,
        "place_high": place.high if place else None,
        "place_of": place.of if place else None,
        "questions_tested": grade.questions[0] if grade else None,
    }


def rated_wh(unit: DerivedUnit) -> float:
    """The energy that the label claims; nominal voltage times capacity where it states none. [Wh]"""
    label = unit.record.label
    return label.energy_wh.best if label.energy_wh else label.nominal_v.best * label.capacity_ah.best


def rows_of_tests(unit: DerivedUnit) -> list[dict[str, Any]]:
    """One row per test of a unit: what it was, where it was made, and what it gave."""
    rows = []
    for name, test in unit.record.tests.items():
        result = unit.result.tests[name]
        row: dict[str, Any] = {
            "unit": unit.id,
            "test": name,
            "kind": test.kind,
            "evidence": test.evidence,
            "date": test.day.isoformat() if test.day else None,
            "sample": test.sample or next(iter(unit.record.samples), None),
            "bench": test.bench or unit.record.bench,
            "log": test.log,
            "log_sha256": unit.logs[name].sha256 if name in unit.logs else None,
            "superseded_by": unit.result.superseded.get(name),
            "off_reference": "; ".join(result.off_reference) or None,
            "reasons": "; ".join(result.reasons) or None,
            "cannot": "; ".join(result.cannot) or None,
        }
        rows.append(row | _metric_cells(result.metrics, METRICS))
    return rows


def _metric_cells(metrics: Mapping[str, Measured], names: Iterable[str]) -> dict[str, Any]:
    cells: dict[str, Any] = dict(_empty_cells(tuple(names)))
    for name, one in metrics.items():
        if name in cells:  # the first part has no suffix
            cells |= {f"{name}{part}": value for part, value in zip(PARTS, metric_parts(one), strict=True)}
    return cells


@lru_cache(maxsize=4)
def _empty_cells(names: tuple[str, ...]) -> dict[str, None]:
    return dict.fromkeys(f"{name}{part}" for name in names for part in PARTS)


def metric_parts(one: Measured | None) -> tuple[Any, ...]:
    """Value, U (95 %), bound, lowest, highest, basis, as published: U with two digits, the rest to match."""
    if one is None:
        return None, None, None, None, None, None
    value, expanded = rounded_pair(one.value, one.expanded)
    low = None if one.bound == "at_most" else rounded_pair(one.lowest, one.expanded)[0]
    high = None if one.bound == "at_least" else rounded_pair(one.highest, one.expanded)[0]
    return value, expanded, one.bound, low, high, one.basis
