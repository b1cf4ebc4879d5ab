"""The data files: units.json, units.csv, tests.csv, the JSON Schema and the logs as they were recorded."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from site_builder.derive.results import LoadAnswer
from site_builder.derived import Derived, DerivedUnit
from site_builder.frames import Frames, metric_parts, rated_wh
from site_builder.measured import Measured
from site_builder.records import ResultsFile

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
        "units": [unit_entry(unit) for unit in derived.units],
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
            {"test": run.test, "together": list(run.together), "outcome": run.outcome, "by": run.by}
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
    here = {"amount": round(price.amount, 2), "currency": price.currency, "date": price.date, "kind": price.kind}
    return here | {"seller": price.seller, "stale": price.stale, "recorded": recorded}


def csv_text(frame: pd.DataFrame) -> str:
    """The frame as CSV; text that a spreadsheet would run as a formula gets an apostrophe in front."""
    safe = frame.map(_no_formula) if len(frame) else frame
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
