"""Derived curves and shares → charts: which marks stand where, in two layouts (desk and phone), and the data for them.

Nothing here computes a metric or names a colour: marks carry style names, and charts.js says what those look like. A
layout is the same for every battery, so it is made once and travels with the drawing library; a page carries data only.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from markupsafe import Markup

from site_builder.measured import Measured
from site_builder.pages.text import THIN
from site_builder.series import Array

VEGA_LITE = "6.4"
POINTS, COMPANION_POINTS = 160, 40
CURVE_HEADING = "unit,charge_ah,voltage_v,this\n"
CURVE_HEIGHT, CURVE_HEIGHT_NARROW = 320, 280
ROW, ROW_NARROW, AXIS = 26, 44, 30
NAMES, VALUES = 150, 104  # widths left and right of bars, where there is room for them beside the plot
ROOM_FOR_WORDS = 0.4  # a line nearer to the left edge than this share has its words on its right

# Said outright: what a column holds is otherwise guessed from how it is used, and wrongly for filters.
_CURVE_COLUMNS = {"charge_ah": "number", "voltage_v": "number", "this": "boolean"}
_LINE_COLUMNS = {"at": "number", "top": "number"}
_SHARE_COLUMNS = {"share": "number", "low": "number", "high": "number"}


@dataclass(frozen=True, kw_only=True, slots=True)
class Chart:
    """One chart's data (CSV by name) and numbers for the layout of its kind, and its heights on a page. [px]"""

    kind: Literal["discharge", "shares"]
    datasets: Mapping[str, str]
    numbers: Mapping[str, float]
    tall: int
    tall_narrow: int

    @property
    def json(self) -> Markup:
        """For a <script> element; `<`, `>` and `&` are encoded, so that no text in it can end the element."""
        whole = {"kind": self.kind, "numbers": dict(self.numbers), "datasets": dict(self.datasets)}
        text = json.dumps(whole, ensure_ascii=False, separators=(",", ":"))
        return Markup(text.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e"))  # noqa: S704


def chart_script() -> str:
    """The browser's drawing library and the layouts as one classic script; written once a site, beside charts.js."""
    import vl_convert  # noqa: PLC0415  # loads a JavaScript engine

    # As a function of its own the library keeps its thousands of names to itself.
    library = vl_convert.javascript_bundle(vl_version=VEGA_LITE)
    return f"(function(){{{library}}})();\nwindow.chartLayouts={json.dumps(layouts(), ensure_ascii=False)};\n"


def layouts() -> dict[str, dict[str, dict[str, Any]]]:
    """Kind of chart → "wide" and "narrow" → a Vega-Lite specification that lacks data, numbers and height."""
    kinds = {"discharge": _discharge_layout, "shares": _shares_layout}
    return {kind: {"wide": layout(False), "narrow": layout(True)} for kind, layout in kinds.items()}


def curves_csv(curves: Iterable[tuple[str, tuple[Array, Array]]], points: int, *, this: bool = False) -> str:
    """Curves as CSV rows (unit, charge in Ah, voltage in V, this), each thinned to about so many points."""
    rows: list[str] = []
    for unit, (charge, voltage) in curves:
        chosen = np.unique(np.linspace(0, len(charge) - 1, points).round().astype(int))
        rows += [f"{unit},{q:.4g},{v:.4g},{int(this)}\n" for q, v in zip(charge[chosen], voltage[chosen], strict=True)]
    return "".join(rows)


def discharge(
    curve: tuple[Array, Array],
    companions: str,
    *,
    nominal_v: float,
    label_ah: float,
    delivered_ah: float,
    label_words: str,
    delivered_words: str,
) -> Chart:
    """Voltage against charge delivered: this battery, its class in grey, and upright lines at label and delivered.

    Args:
        curve: This battery's charge [Ah] and voltage [V].
        companions: The others' curves, by `curves_csv`.
        nominal_v: The label's voltage; what lies below three quarters of it is a battery that has cut off. [V]
        label_ah: The label's capacity. [Ah]
        delivered_ah: What this battery delivered. [Ah]
        label_words: What stands at the label's line.
        delivered_words: What stands at the line at the end of this battery's curve.
    """
    rows = f"{companions}{curves_csv([('this', curve)], POINTS, this=True)}"
    cells = [line.split(",") for line in rows.splitlines()]
    charges, voltages = ([float(cell[column]) for cell in cells] for column in (1, 2))
    right = max(*charges, label_ah) * 1.03
    bottom = min(voltage for voltage in voltages if voltage > 0.75 * nominal_v)
    lines = upright_lines((label_ah, "label", label_words), (delivered_ah, "delivered", delivered_words), right)
    return Chart(
        kind="discharge",
        datasets={"curves": CURVE_HEADING + rows, "lines": lines},
        numbers={"right": right, "bottom": math.floor(bottom), "top": math.ceil(max(voltages))},
        tall=CURVE_HEIGHT,
        tall_narrow=CURVE_HEIGHT_NARROW,
    )


def upright_lines(first: tuple[float, str, str], second: tuple[float, str, str], right: float) -> str:
    """Two lines (place, kind, words) as CSV, their words above the plot where they never meet the other's line.

    Words that end at their line lie left of it; with the further line's words in the upper row, the nearer line stops
    below them. Near the left edge there is no room for words, so they start at the line, and the rows change places.
    """
    near, far = sorted((first, second))
    upper, lower = -40, -20
    if near[0] < ROOM_FOR_WORDS * right:
        placed = [(near, upper, "left"), (far, lower, "right")]
    else:
        placed = [(far, upper, "right"), (near, lower, "right")]
    rows = [f"{at},{kind},{top},{align},{words}\n" for (at, kind, words), top, align in placed]
    return "at,kind,top,align,words\n" + "".join(rows)


def _discharge_layout(narrow: bool) -> dict[str, Any]:
    import altair as alt  # noqa: PLC0415  # a third of a second that check and new do without

    curves = alt.NamedData("curves", format=alt.CsvDataFormat(type="csv", parse=_CURVE_COLUMNS))
    lines = alt.NamedData("lines", format=alt.CsvDataFormat(type="csv", parse=_LINE_COLUMNS))
    across = alt.Scale(domainMin=0, domainMax=_expr("right"), nice=False)
    up = alt.Scale(domainMin=_expr("bottom"), domainMax=_expr("top"), nice=False, zero=False)
    x_axis = alt.Axis(grid=False, tickCount=4 if narrow else 8, labelExpr=f"datum.label + '{THIN}Ah'")
    y_axis = alt.Axis(values=_expr("sequence(bottom, top + 1)"), labelExpr=f"datum.label + '{THIN}V'")
    curve = alt.Chart(curves).encode(
        x=alt.X("charge_ah", type="quantitative", scale=across, axis=x_axis),
        y=alt.Y("voltage_v", type="quantitative", scale=up, axis=y_axis),
        detail=alt.Detail("unit", type="nominal"),
    )
    upright = alt.Chart(lines).encode(x=alt.X("at", type="quantitative"))
    words = upright.mark_text(
        style="words",
        y=_expr("datum.top"),
        align=_expr("datum.align"),
        dx=_expr("datum.align == 'right' ? -5 : 5"),
        baseline="top",
    ).encode(text=alt.Text("words", type="nominal"))
    return _finished(
        alt.layer(
            curve.transform_filter("!datum.this").mark_line(style="companion", clip=True),
            *(
                upright.transform_filter(f"datum.kind == '{kind}'").mark_rule(
                    style=style, strokeWidth=1.25, y=_expr("datum.top"), y2=_expr("height")
                )
                for kind, style in (("label", "limit"), ("delivered", "this"))
            ),
            curve.transform_filter("datum.this").mark_line(style="this", clip=True),
            words,
        )
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class Share:
    """One bar: a battery, what it delivered of its label (a fraction), and the words beside the bar."""

    name: str
    measured: Measured
    words: str


def shares_of_label(shares: Sequence[Share]) -> Chart:
    """Delivered against label, one bar a battery, ± as whiskers, an open arrow where only one side is known."""
    right = max([1.1, *(one.measured.highest * 1.02 for one in shares if one.measured.bound != "at_least")])
    rows = [
        f"{_csv_text(one.name)},{one.measured.value:.4f},{one.measured.lowest:.4f},{min(one.measured.highest, right):.4f},"
        f"{one.measured.bound},{_csv_text(one.words)}\n"
        for one in shares
    ]
    return Chart(
        kind="shares",
        datasets={"shares": "name,share,low,high,bound,words\n" + "".join(rows)},
        numbers={"right": right},
        tall=len(shares) * ROW + AXIS,
        tall_narrow=len(shares) * ROW_NARROW + AXIS,
    )


def _csv_text(text: str) -> str:
    """Foreign text as one quoted cell."""
    return '"{}"'.format(" ".join(text.split(" ")).replace('"', '""').replace("\n", " "))


def _shares_layout(narrow: bool) -> dict[str, Any]:
    """Name and value stand beside the bar, or on a phone above it, where no line runs."""
    import altair as alt  # noqa: PLC0415  # a third of a second that check and new do without

    plot = [0, _expr("width")] if narrow else [NAMES, _expr(f"width - {VALUES}")]
    axis = alt.Axis(
        grid=False,
        values=[0, 0.5, 1] if narrow else [0, 0.25, 0.5, 0.75, 1],
        labelExpr=f"datum.value == 1 ? '100{THIN}% label' : datum.value * 100 + '{THIN}%'",
    )
    scale = alt.Scale(domainMin=0, domainMax=_expr("right"), range=plot, nice=False)
    drop, lift = (10, -9) if narrow else (0, 0)
    base = alt.Chart(alt.NamedData("shares", format=alt.CsvDataFormat(type="csv", parse=_SHARE_COLUMNS))).encode(
        y=alt.Y("name", type="nominal", sort=None, axis=None, scale=alt.Scale(padding=0))
    )
    share = alt.X("share", type="quantitative", scale=scale, axis=axis)
    mark = base.mark_tick(style="limit", thickness=1.5, height=18, yOffset=drop)
    line = alt.Chart(base.data).mark_rule(style="limit")  # through all rows: beside bars no words stand in its way
    closed = base.transform_filter("datum.bound == 'exact'").mark_rule(style="whisker", yOffset=drop)
    opened = base.transform_filter("datum.bound == 'at_least'").mark_point(
        style="open", shape="M0,-1L1,0L0,1", size=50, xOffset=4, yOffset=drop
    )
    words = base.mark_text(style="words", align="right", dy=lift, x=_expr("width"))
    names = base.mark_text(style="words", align="left", dy=lift, x=0, limit=NAMES + 40 if narrow else NAMES - 10)
    return _finished(
        alt.layer(
            base.mark_bar(style="this", height=7, yOffset=drop).encode(x=share),
            closed.encode(x=alt.X("low", type="quantitative"), x2=alt.X2("high")),
            opened.encode(x=share),
            (mark if narrow else line).encode(x=alt.XDatum(1.0)),
            words.encode(text=alt.Text("words", type="nominal")),
            names.encode(text=alt.Text("name", type="nominal")),
        )
    )


def _expr(expression: str) -> Any:
    """Something that the browser works out: a number of the chart, its width or height, a row's own value."""
    import altair as alt  # noqa: PLC0415  # a third of a second that check and new do without

    return alt.ExprRef(expr=expression)


def _finished(chart: Any) -> dict[str, Any]:
    """The specification, as wide as its figure; axes and words included in the height that the page keeps free."""
    import altair as alt  # noqa: PLC0415  # a third of a second that check and new do without

    fit = alt.AutoSizeParams(type="fit", contains="padding")
    spec: dict[str, Any] = chart.properties(width="container", autosize=fit, padding=0).to_dict(validate=False)
    # altair's own theme would stand against the style names
    return {key: value for key, value in spec.items() if key not in {"config", "$schema"}}
