"""What a search engine may read of a unit: JSON-LD in the terms of schema.org (from memory; the tests check the terms).

One product, one review by one tester. There is no aggregate: one bench's score is nobody else's opinion.
"""

from __future__ import annotations

import json
from typing import Any

from site_builder.derive.headline import date_of
from site_builder.derived import Derived, DerivedUnit
from site_builder.frames import metric_parts
from site_builder.nomenclature import METRICS
from site_builder.pages.words import name_of

LICENCE = "https://creativecommons.org/licenses/by/4.0/"
BEST, WORST = 100, 0
SHOWN = ("delivered_wh", "delivered_ah", "mass_kg")  # what a list of products may show beside the name


def structured_data(unit: DerivedUnit, derived: Derived, says: str) -> str:
    """A `<script>` element with the unit's product, review (which `says` what it did) and data; it never runs."""
    graph = [_product(unit, derived, says), _dataset(unit, derived)]
    text = json.dumps({"@context": "https://schema.org", "@graph": graph}, ensure_ascii=False, separators=(",", ":"))
    for raw in "<>&":  # so that no text in it can end the element
        text = text.replace(raw, f"\\u{ord(raw):04x}")
    return f'<script type="application/ld+json">{text}</script>'


def _product(unit: DerivedUnit, derived: Derived, says: str) -> dict[str, Any]:
    address = derived.address_of(unit.id)
    label = unit.record.label
    product = {
        "@type": "Product",
        "@id": f"{address}#battery",
        "name": name_of(unit.record),
        "brand": {"@type": "Brand", "name": unit.record.unit.maker},
        "model": unit.record.unit.model,
        "description": f"{label.chemistry} battery, {label.nominal_v.best:g} V, rated {label.capacity_ah.best:g} Ah",
        "url": address,
        "image": f"{address}picture.png",
        "additionalProperty": [_property(name, unit) for name in SHOWN if name in unit.result.metrics],
    }
    review = _review(unit, derived, says)
    return product | ({"review": review} if review else {})


def _property(name: str, unit: DerivedUnit) -> dict[str, Any]:
    """A measured number; its limits where it has them, since there is no term for ±."""
    value, _, bound, low, high, _ = metric_parts(unit.result.metrics[name])
    limits = {"value": value if bound == "exact" else None, "minValue": low, "maxValue": high}
    known = {key: one for key, one in limits.items() if one is not None}
    return {"@type": "PropertyValue", "name": METRICS[name].title, "unitText": METRICS[name].unit} | known


def _review(unit: DerivedUnit, derived: Derived, says: str) -> dict[str, Any] | None:
    """The tester's, with the score that the page shows; none where there is no score."""
    grade = derived.standings.grades.get(unit.id)
    if grade is None or grade.score is None or grade.low is None or grade.high is None:
        return None
    dates = [date for test in unit.record.tests.values() if (date := date_of(test, unit.record))]
    return {
        "@type": "Review",
        "author": {"@type": "Person", "name": _tester(unit, derived)},
        "datePublished": max(dates, default=derived.as_of).isoformat(),
        "reviewBody": says,
        "reviewRating": {
            "@type": "Rating",
            "ratingValue": round(grade.score),
            "bestRating": BEST,
            "worstRating": WORST,
            "ratingExplanation": f"{round(grade.low)} to {round(grade.high)} as far as instruments can tell",
        },
    }


def _tester(unit: DerivedUnit, derived: Derived) -> str:
    benches = derived.catalogue.benches
    names = [unit.record.bench, *(test.bench for test in unit.record.tests.values())]
    return next((benches[name].tester for name in names if name and name in benches), derived.published.name)


def _dataset(unit: DerivedUnit, derived: Derived) -> dict[str, Any]:
    address, data = derived.address_of(unit.id), f"{derived.published.address}data/"
    name = name_of(unit.record)
    return {
        "@type": "Dataset",
        "@id": f"{address}#data",
        "name": f"Bench tests of the {name}",
        "description": f"What each test of the {name} gave, with its uncertainty, and the logs of the bench.",
        "url": address,
        "license": LICENCE,
        "isAccessibleForFree": True,
        "creator": {"@type": "Organization", "name": derived.published.name},
        "about": {"@id": f"{address}#battery"},
        "variableMeasured": [METRICS[name].title for name in unit.result.metrics if name in METRICS],
        "distribution": [
            {"@type": "DataDownload", "encodingFormat": "text/csv", "contentUrl": f"{data}tests.csv"},
            {"@type": "DataDownload", "encodingFormat": "application/json", "contentUrl": f"{data}units.json"},
        ],
    }
