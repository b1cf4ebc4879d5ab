"""One battery's curves for pictures that lay several over each other, as data for the browser. Nothing is derived."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from markupsafe import Markup

from site_builder import charts
from site_builder.chart_points import bends
from site_builder.derive.cold_picture import BATTERY
from site_builder.derive.results import ColdPicture
from site_builder.derived import DerivedUnit
from site_builder.pages.cold_section import warmed_words
from site_builder.series import Array


def compared_curves(unit: DerivedUnit) -> dict[str, Any]:
    """Picture → what this unit has for it; pictures that it has nothing for are left out.

    `discharge` is [Ah, V], `warming` [min, °C], each as two lists; `carrying` is a list of
    [lowest s, highest s, A, "tripped" | "held", ± A], by current.
    """
    found = {"discharge": _discharge(unit), "warming": _warming(unit), "carrying": _carrying(unit)}
    return {picture: curve for picture, curve in found.items() if curve}


def curve_limits(unit: DerivedUnit) -> dict[str, float]:
    """Picture → how far each of its voltages [V] or temperatures [K] may be off, where that is known."""
    headline, cold = unit.result.headline, _cold_picture(unit)
    ends = unit.result.tests[headline].curve_v if headline else None
    found = {"discharge": ends[1].expanded if ends else None, "warming": cold.limits.get(BATTERY) if cold else None}
    return {picture: _four(limit) for picture, limit in found.items() if limit}


def warmed(unit: DerivedUnit) -> Markup | None:
    """From which temperature to which the cold test went, and how long it took, as its own page says it, as HTML."""
    picture = _cold_picture(unit)
    if picture is None:
        return None
    words = warmed_words(picture)
    return words[:1].lower() + words[1:]


def _discharge(unit: DerivedUnit) -> list[list[float]] | None:
    headline = unit.result.headline
    curve = unit.result.tests[headline].curve if headline else None
    if curve is None:
        return None
    charge, voltage = curve
    return _rounded(charge, voltage, charts.bends_of_curve(charge, voltage)[0])


def _warming(unit: DerivedUnit) -> list[list[float]] | None:
    """The first cold test that shows temperatures."""
    picture = _cold_picture(unit)
    if picture is None:
        return None
    time_s, temperature = picture.temperatures
    span = (float(np.ptp(time_s)), float(np.ptp(temperature)))
    return _rounded(time_s / 60, temperature, bends(time_s, temperature, span))


def _cold_picture(unit: DerivedUnit) -> ColdPicture | None:
    pictures = (result.picture for result in unit.result.tests.values())
    return next((one for one in pictures if one is not None and len(one.temperatures[0]) > 1), None)


def _rounded(x: Array, y: Array, chosen: Any) -> list[list[float]]:
    return [[_four(one) for one in values[chosen]] for values in (x, y)]


def _carrying(unit: DerivedUnit) -> list[list[Any]] | None:
    """Every step that counts, of the newest firmware; a hold with an open end ends where it was stopped."""
    carrying = unit.result.carrying[-1] if unit.result.carrying else None
    steps = [point for point in carrying.points if point.left_out is None] if carrying else []
    rows = []
    for point in sorted(steps, key=lambda one: one.current.value):
        low, high = point.seen_s
        high = high if math.isfinite(high) else low
        look = "tripped" if point.tripped else "held"
        current = point.current
        rows.append([_four(low), _four(high), _four(current.value), look, _four(current.expanded or 0.0)])
    return rows or None


def _four(value: float) -> float:
    return float(f"{value:.4g}")
