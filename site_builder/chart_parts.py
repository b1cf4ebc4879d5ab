"""Pieces that layouts of charts are made of: named data, scales, axes, the finished specification."""

from __future__ import annotations

from typing import Any

import altair as alt

from site_builder.pages.text import THIN

NUMBER = "number"
CROSS = "M-1,-1L1,1M-1,1L1,-1"


def named(name: str, **columns: str) -> alt.NamedData:
    """A dataset of the page; what its columns hold is said outright, since filters would guess it wrongly.

    It is written as CSV, which is short; charts.js makes rows of it: the library's own reader of CSV compiles code.
    """
    return alt.NamedData(name, format=alt.JsonDataFormat(type="json", parse=columns))


def on_x(field: str, scale: alt.Scale, axis: alt.Axis) -> alt.X:
    """A quantity from left to right."""
    return alt.X(field, type="quantitative", scale=scale, axis=axis)


def on_y(field: str, scale: alt.Scale, axis: alt.Axis) -> alt.Y:
    """A quantity from bottom to top."""
    return alt.Y(field, type="quantitative", scale=scale, axis=axis)


def between(bottom: str, top: str, place: list[Any] | None = None) -> alt.Scale:
    """A scale that ends where the numbers say, over the whole height or over a place in it."""
    where: dict[str, Any] = {"range": place} if place else {}
    return alt.Scale(domainMin=expr(bottom), domainMax=expr(top), nice=False, zero=False, **where)


def every(step: int, unit: str) -> alt.Axis:
    """Marks at whole multiples of a step, with their unit."""
    marks = expr(f"sequence(bottom, top + {step}, {step})")
    return alt.Axis(values=marks, labelExpr=f"replace(datum.label, '-', '−') + '{THIN}{unit}'")


def degrees() -> alt.Axis:
    """Every 5 °C, or every 10 °F where the reader chose that ("us"); the numbers drawn stay in °C."""
    fahrenheit = "sequence((ceil((bottom * 1.8 + 32) / 10) * 10 - 32) / 1.8, top + 0.01, 10 / 1.8)"
    marks = expr(f"us ? {fahrenheit} : sequence(bottom, top + 5, 5)")
    label = f"us ? round(datum.value * 1.8 + 32) + '{THIN}°F' : datum.value + '{THIN}°C'"
    return alt.Axis(values=marks, labelExpr=f"replace({label}, '-', '−')")


def expr(expression: str) -> Any:
    """Something that the browser works out: a number of the chart, its width or height, a row's own value."""
    return alt.ExprRef(expr=expression)


# A font's letters reach a little above the line that "top" means, and below the one that "bottom" does.
EDGES = {"left": 0, "right": 0, "top": 4, "bottom": 4}


def finished(*layers: Any, **more: Any) -> dict[str, Any]:
    """The specification, as wide as its figure; axes and words included in the height that the page keeps free."""
    fit = alt.AutoSizeParams(type="fit", contains="padding")
    chart = alt.layer(*layers).properties(width="container", autosize=fit, padding=EDGES, **more)
    # altair's own theme would stand against the style names
    return {key: value for key, value in chart.to_dict(validate=False).items() if key not in {"config", "$schema"}}
