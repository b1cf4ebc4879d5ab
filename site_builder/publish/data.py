"""The data files: units.json, units.csv, tests.csv, the JSON Schema and the logs as they were recorded."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from site_builder.derive.results import LoadAnswer
from site_builder.derived import Derived, DerivedUnit
from site_builder.frames import SCORE_DECIMALS, Frames, metric_parts, rated_wh
from site_builder.grade import CriterionGrade, Graded
from site_builder.measured import Measured
from site_builder.nomenclature import METRICS
from site_builder.rank import Place
from site_builder.records import ResultsFile
from site_builder.standing import ClassEffect

if TYPE_CHECKING:
    import pandas as pd

# A spreadsheet runs a cell that starts like this as a formula.
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def render_data_files(derived: Derived, frames: Frames) -> dict[str, str]:
    """Address below the site → text."""
    return {
        "data/units.json": units_json(derived),
        "data/units.csv": csv_text(frames.units),
        "data/tests.csv": csv_text(frames.tests),
        "data/result.schema.json": schema_text(),
    }


def units_json(derived: Derived) -> str:
    """Every unit with its metrics; each value with U, bound, limits, basis and its components by source."""
    document = {
        "as_of": derived.as_of.isoformat(),
        "generated_from": derived.source_hash,
        "units": [unit_entry(unit) | standing_entry(unit, derived) for unit in derived.units],
    }
    return json.dumps(document, ensure_ascii=False, separators=(",", ":"), allow_nan=False) + "\n"


def unit_entry(unit: DerivedUnit) -> dict[str, Any]:
    """One unit of units.json."""
    record = unit.record
    return {
        "id": unit.id,
        "maker": record.unit.maker,
        "model": record.unit.model,
        "status": record.unit.status,
        "class": unit.result.class_id,
        "label": {
            "chemistry": record.label.chemistry,
            "nominal_v": record.label.nominal_v.best,
            "capacity_ah": record.label.capacity_ah.best,
            "energy_wh": rated_wh(unit),
        },
        "headline_test": unit.result.headline,
        "metrics": {name: metric_entry(one) for name, one in unit.result.metrics.items()},
        "price": price_entry(unit),
        "loads": {name: load_entry(answer) for name, answer in unit.result.loads.items()},
    }


def tests_entry(unit: DerivedUnit) -> dict[str, Any]:
    """What each test of a unit gave, as tests.csv has it; no part of units.json."""
    given = {name: result.metrics for name, result in unit.result.tests.items()}
    return {
        "tests": {
            name: {key: metric_entry(one) for key, one in metrics.items() if key in METRICS}
            for name, metrics in given.items()
        }
    }


def standing_entry(unit: DerivedUnit, derived: Derived) -> dict[str, Any]:
    """Score and rank of one unit; null where it has none, and left out where the catalogue grades nothing."""
    if derived.catalogue.grading is None:
        return {}
    grade, place = derived.standings.grades.get(unit.id), derived.standings.places.get(unit.id)
    return {
        "score": score_entry(grade) if grade else None,
        "rank": rank_entry(place) if place else None,
    }


def rank_entry(place: Place) -> dict[str, Any]:
    """A place from `low` to `high` of `of`; `place` is one number only where the evidence tells which."""
    told = place.low if place.low == place.high else None
    return {"place": told, "low": place.low, "high": place.high, "of": place.of}


def score_entry(grade: Graded) -> dict[str, Any]:
    """A score with its interval, and what it was made from; `tested` and `of` count questions."""
    points = {"value": grade.score, "low": grade.low, "high": grade.high}
    return {
        **{name: _points(one) for name, one in points.items()},
        "version": grade.version,
        "tested": grade.questions[0],
        "of": grade.questions[1],
        "tested_weight": round(grade.tested, 4),
        "gates": [{"when": hit.gate.when, "cap": hit.gate.cap, "test": hit.test} for hit in grade.gates],
        "why_not": grade.why_not,
        "criteria": {one.name: criterion_entry(one) for one in grade.criteria},
    }


def criterion_entry(one: CriterionGrade) -> dict[str, Any]:
    """One criterion: what a page needs to weigh it anew. `low_end`, `high_end` and `components` as in `grade`."""
    ends = one.ends
    names = ("value", "low", "high", "low_end", "high_end")
    return {
        "weight": one.criterion.weight,
        "tested": round(one.tested, 4),
        **{name: _points(getattr(ends, name)) for name in names},
        "components": {name: float(f"{u:.4g}") for name, u in sorted(ends.components.items())},
    }


def effect_entry(effect: ClassEffect) -> dict[str, Any]:
    """What a results file does to its class: its score and place, whose place it moves, and what is not known yet."""
    return {
        "id": effect.id,
        "class": effect.class_id,
        "score": score_entry(effect.grade),
        "rank": rank_entry(effect.place) if effect.place else None,
        "moves": [
            {"id": move.id, "without": rank_entry(move.without), "with": rank_entry(move.with_it)}
            for move in effect.moves
        ],
        "missing": [
            {"criterion": one.name, "part": part.part.title, "load": part.load, "why_not": part.why_not}
            for one in effect.grade.criteria
            for part in one.parts
            if part.why_not is not None
        ],
    }


def missing_entry(effect: ClassEffect) -> dict[str, Any]:
    """What a unit lacks for a grade, and the tests that would tell more, the most telling first; widths in points."""
    return {
        "id": effect.id,
        "why_not": effect.grade.why_not,
        "for_a_grade": [one.takes for one in effect.for_a_grade],
        "narrows": [
            {
                "takes": one.takes,
                "facts": list(one.facts),
                "width": _points(one.before),
                "width_after": _points(one.width),
                "adds_weight": round(one.adds, 4),
            }
            for one in effect.narrows
        ],
    }


def _points(one: float | None) -> float | None:
    return None if one is None else round(one, SCORE_DECIMALS)


def load_entry(answer: LoadAnswer) -> dict[str, Any]:
    """What the unit does with one load: seen, projected, started."""
    return {
        "start": answer.start,
        "peak_a": None if answer.peak_a is None else round(answer.peak_a, 1),
        "hours": None if answer.hours is None else metric_entry(answer.hours),
        "why_not": answer.why_not,
        "uses": None if answer.uses is None else metric_entry(answer.uses),
        "inverter": answer.inverter,
        "seen": [
            {
                "test": run.test,
                "together": list(run.together),
                "outcome": run.outcome,
                "by": run.by,
                "evidence": "reported" if run.reported else "kept",
            }
            for run in answer.seen
        ],
    }


def metric_entry(one: Measured) -> dict[str, Any]:
    """One metric: value and U for 95 %, bound, limits, basis, and signed standard uncertainties by source."""
    value, expanded, bound, low, high, basis = metric_parts(one)
    components = {name: float(f"{component.u:.4g}") for name, component in sorted(one.components.items())}
    return {
        "value": value,
        "u": expanded,
        "unit": one.unit,
        "bound": bound,
        "low": low,
        "high": high,
        "basis": basis,
        "components": components,
    }


def price_entry(unit: DerivedUnit) -> dict[str, Any] | None:
    """The newest price, in the catalogue's currency and as recorded."""
    price = unit.result.price
    if price is None:
        return None
    recorded = {"amount": price.original, "currency": price.original_currency, "rate_date": price.rate_date}
    if price.tag.form != "plain":
        recorded["written"] = price.tag.text
    here = {"amount": round(price.amount, 2), "currency": price.currency, "date": price.date, "kind": price.kind}
    return here | {"seller": price.seller, "stale": price.stale, "recorded": recorded}


def csv_text(frame: pd.DataFrame) -> str:
    """The frame as CSV; text that a spreadsheet would run as a formula gets an apostrophe in front."""
    texts = [name for name in frame.columns if frame[name].dtype.kind not in "fiub" and frame[name].notna().any()]
    safe = frame.assign(**{name: frame[name].map(_no_formula, na_action="ignore") for name in texts})
    return str(safe.to_csv(index=False, lineterminator="\n"))


def _no_formula(cell: Any) -> Any:
    if not isinstance(cell, str):
        return cell
    # A carriage return on its own is written without quotes, and readers take it for the end of the row.
    text = cell.replace("\r", " ")
    return f"'{text}" if cell.startswith(_FORMULA_STARTS) else text


def schema_text() -> str:
    """The JSON Schema of a results file, exported from the records."""
    schema = ResultsFile.model_json_schema(by_alias=True)
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "Results of one tested battery"
    return json.dumps(schema, ensure_ascii=False, indent=1, sort_keys=True) + "\n"
