"""Frames → charts: what is drawn and where, in two layouts (desk and phone) of the same data.

Nothing here computes a metric or names a colour: marks carry style names, and the page's style sheet says what those
look like, in light, dark and print.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from site_builder.pages.text import THIN

if TYPE_CHECKING:
    import altair as alt
    import pandas as pd

VEGA_LITE = "6.4"
ROW_WIDE, ROW_NARROW = 26, 44
NAMES, VALUES = 150, 104  # widths left and right of bars, where there is room for them beside the plot
STRIP = 40  # height above the plot that holds the labels of upright lines

# Said outright: what a column holds is otherwise guessed from how it is used, and wrongly for filters.
_CURVE_COLUMNS = {"charge_ah": "number", "voltage_v": "number", "this": "boolean"}
_SHARE_COLUMNS = {"share": "number", "low": "number", "high": "number", "this": "boolean"}


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart's data (CSV by name), its two layouts, and the height that the page keeps free for each. [px]"""

    datasets: Mapping[str, str]
    wide: Mapping[str, Any]
    narrow: Mapping[str, Any]
    tall: int
    tall_narrow: int

    @property
    def json(self) -> Markup:
        """The chart for a <script> element; `<`, `>` and `&` are encoded, so that no text in it can end the element."""
        whole = {"datasets": dict(self.datasets), "wide": dict(self.wide), "narrow": dict(self.narrow)}
        text = json.dumps(whole, ensure_ascii=False, separators=(",", ":"))
        return Markup(text.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e"))  # noqa: S704


def drawing_library() -> str:
    """The browser's drawing library as one classic script that needs no network; write it once, as assets/vega.js."""
    import vl_convert  # noqa: PLC0415  # loads a JavaScript engine

    # As a function of its own it keeps its thousands of names to itself.
    return f"(function(){{{vl_convert.javascript_bundle(vl_version=VEGA_LITE)}}})();"


def discharge(
    curves: pd.DataFrame, *, label_ah: float, delivered_ah: float, label_words: str, delivered_words: str
) -> Chart:
    """Voltage against charge delivered: this battery, its class in grey, and upright lines at label and delivered.

    Args:
        curves: Columns unit (text), charge_ah [Ah], voltage_v [V], this (bool), in drawing order.
        label_ah: The label's capacity. [Ah]
        delivered_ah: What this battery delivered. [Ah]
        label_words: What stands at the label's line.
        delivered_words: What stands at the end of this battery's curve.
    """
    right = max(float(curves["charge_ah"].max()), label_ah) * 1.03
    low, high = int(curves["voltage_v"].min()), -int(-curves["voltage_v"].max() // 1)
    lines = upright_labels((label_ah, label_words, "limit"), (delivered_ah, delivered_words, "this"), right)
    data = {"curves": curves.to_csv(index=False, float_format="%.5g")}
    wide, narrow = (
        _discharge_layout(lines, (0.0, right), (low, high), height=h, ticks=t) for h, t in ((320, 8), (280, 4))
    )
    return Chart(data, wide, narrow, 320, 280)


def _discharge_layout(
    lines: list[UprightLabel], across: tuple[float, float], up: tuple[int, int], height: int, ticks: int
) -> dict[str, Any]:
    import altair as alt  # noqa: PLC0415  # a third of a second that check and new do without

    source = alt.NamedData("curves", format=alt.CsvDataFormat(type="csv", parse=_CURVE_COLUMNS))
    x = alt.X("charge_ah:Q", scale=alt.Scale(domain=list(across), nice=False)).axis(
        grid=False, tickCount=ticks, labelExpr="datum.label + ' Ah'"
    )
    y = alt.Y("voltage_v:Q", scale=alt.Scale(domain=list(up), nice=False)).axis(
        values=list(range(up[0], up[1] + 1)), labelExpr="datum.label + ' V'"
    )
    base = alt.Chart(source).encode(x=x, y=y, detail="unit:N")
    companions = base.transform_filter("!datum.this").mark_line(style="companion")
    this = base.transform_filter("datum.this").mark_line(style="this")
    uprights = [layer for line in lines for layer in line.layers(alt)]
    return _finished(alt.layer(companions, *uprights, this), height)


@dataclass(frozen=True, slots=True)
class UprightLabel:
    """An upright line at `at` with its words above the plot, in row 0 (upper) or 1, ending or starting at the line."""

    at: float
    words: str
    style: str
    row: int
    align: str

    def layers(self, alt: Any) -> list[alt.Chart]:
        """The line, through the plot up to its words, and the words."""
        top = -STRIP + 20 * self.row
        one = alt.Chart(alt.InlineData(values=[{}])).encode(x=alt.datum(self.at))
        line = one.mark_rule(style="limit" if self.style == "limit" else "this", strokeWidth=1.25)
        words = one.mark_text(
            style="words", text=self.words, align=self.align, baseline="top", dx=-5 if self.align == "right" else 5
        )
        return [
            line.encode(y=alt.value(top), y2=alt.value("height")),
            words.encode(y=alt.value(top)),
        ]


def upright_labels(first: tuple[float, str, str], second: tuple[float, str, str], right: float) -> list[UprightLabel]:
    """Two labelled lines whose words never meet a line that they do not name.

    Words that end at their line lie left of it; with the further line's words in the upper row, the nearer line stops
    below them. Near the left edge there is no room, so the words start at the line, and the rows change places.
    """
    near, far = sorted((first, second))
    if near[0] < 0.4 * right:
        return [UprightLabel(*near, row=0, align="left"), UprightLabel(*far, row=1, align="right")]
    return [UprightLabel(*far, row=0, align="right"), UprightLabel(*near, row=1, align="right")]


def shares_of_label(shares: pd.DataFrame) -> Chart:
    """Delivered against label, one bar a battery, ± as whiskers, an open arrow where only one side is known.

    Args:
        shares: Columns name, share, low, high (fractions of the label), bound ("exact", "at_least", …), words (what
            stands beside the bar), this (bool), in drawing order from the top.
    """
    data = {"shares": shares.to_csv(index=False, float_format="%.5g")}
    right = max(1.1, float(shares["high"].max()) * 1.02)
    tall, tall_narrow = (len(shares) * row + 30 for row in (ROW_WIDE, ROW_NARROW))
    return Chart(data, _shares_layout(right, tall, False), _shares_layout(right, tall_narrow, True), tall, tall_narrow)


def _shares_layout(right: float, height: int, narrow: bool) -> dict[str, Any]:
    """Name and value stand beside the bar, or on a phone above it, where no line runs."""
    import altair as alt  # noqa: PLC0415  # a third of a second that check and new do without

    source = alt.NamedData("shares", format=alt.CsvDataFormat(type="csv", parse=_SHARE_COLUMNS))
    plot = [0, {"expr": "width"}] if narrow else [NAMES, {"expr": f"width - {VALUES}"}]
    x = alt.X("share:Q", scale=alt.Scale(domain=[0, right], range=plot, nice=False)).axis(
        grid=False,
        values=[0, 0.5, 1] if narrow else [0, 0.25, 0.5, 0.75, 1],
        labelExpr=f"datum.value == 1 ? '100{THIN}% label' : datum.value * 100 + '{THIN}%'",
    )
    drop, lift = (10, -9) if narrow else (0, 0)
    base = alt.Chart(source).encode(y=alt.Y("name:N", sort=None, axis=None).scale(padding=0))
    bars = {
        style: base.transform_filter(test).mark_bar(style=style, height=10, yOffset=drop).encode(x=x)
        for style, test in (("companion", "!datum.this"), ("this", "datum.this"))
    }
    two_sided = base.transform_filter("datum.bound == 'exact'").mark_rule(style="whisker", yOffset=drop)
    at_least = base.transform_filter("datum.bound == 'at_least'").mark_point(
        style="open", shape="M0,-1L1,0L0,1", size=50, xOffset=4, yOffset=drop
    )
    label = alt.Chart(source).mark_rule(style="limit").encode(x=alt.datum(1.0))
    if narrow:
        label = base.mark_tick(style="limit", thickness=1.5, height=18, yOffset=drop).encode(x=alt.datum(1.0))
    words = base.mark_text(style="words", align="right", dy=lift).encode(x=alt.value("width"), text="words:N")
    names = base.mark_text(style="words", align="left", dy=lift, limit=NAMES + 40 if narrow else NAMES - 10)
    return _finished(
        alt.layer(
            *bars.values(),
            two_sided.encode(x="low:Q", x2="high:Q"),
            at_least.encode(x="share:Q"),
            label,
            words,
            names.encode(x=alt.value(0), text="name:N"),
        ),
        height,
    )


def _finished(chart: Any, height: int) -> dict[str, Any]:
    """The specification, as wide as its figure, exactly as tall as the page keeps free."""
    import altair as alt  # noqa: PLC0415  # a third of a second that check and new do without

    chart = chart.properties(
        width="container", height=height, autosize=alt.AutoSizeParams(type="fit", contains="padding"), padding=0
    )
    spec: dict[str, Any] = chart.to_dict(validate=False)
    # The style sheet's names say it all; altair's own size and theme would stand against them.
    for extra in ("config", "$schema"):
        spec.pop(extra, None)
    return spec
