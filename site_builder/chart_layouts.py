"""Where the marks of each kind of chart stand, for a desk and for a phone.

Marks have style names; charts.js says what those look like in light, dark and print. No data is here.
"""

from __future__ import annotations

from typing import Any

import altair as alt

from site_builder.pages.text import THIN

NAMES, VALUES = 176, 104  # widths left and right of bars, where there is room for them beside the plot
LONG_VALUES, PLACES = 200, 160
CROSS = "M-1,-1L1,1M-1,1L1,-1"
RIGHT_WORDS = 76  # width right of a plot for the words at the end of a line
NUMBER = "number"


def layouts() -> dict[str, dict[str, dict[str, Any]]]:
    """Kind of chart → "wide" and "narrow" → a Vega-Lite specification that lacks data, numbers and height."""
    kinds = {
        "discharge": discharge,
        "shares": shares,
        "hours": hours,
        "warming": warming,
        "falling": falling,
        "scores": scores,
    }
    both = {kind: {"wide": layout(False), "narrow": layout(True)} for kind, layout in kinds.items()}
    alike = {"carrying": carrying(), "value": value_function()}
    return both | {kind: dict.fromkeys(("wide", "narrow"), layout) for kind, layout in alike.items()}


def discharge(narrow: bool) -> dict[str, Any]:
    """Voltage against charge; upright lines with their words in a strip above the plot."""
    x_axis = alt.Axis(grid=False, tickCount=4 if narrow else 8, labelExpr=f"datum.label + '{THIN}Ah'")
    curve = alt.Chart(_csv("curves", curve=NUMBER, charge_ah=NUMBER, voltage_v=NUMBER)).encode(
        x=_x("charge_ah", alt.Scale(domainMin=0, domainMax=_expr("right"), nice=False), x_axis),
        y=_y("voltage_v", _between("bottom", "top"), _every(1, "V")),
        detail=alt.Detail("curve", type="nominal"),
    )
    upright = alt.Chart(_csv("lines", at=NUMBER, top=NUMBER)).encode(x=alt.X("at", type="quantitative"))
    words = upright.mark_text(
        style="words",
        y=_expr("datum.top"),
        align=_expr("datum.align"),
        dx=_expr("datum.align == 'right' ? -5 : 5"),
        baseline="top",
    ).encode(text=alt.Text("words", type="nominal"))
    lines = [
        upright.transform_filter(f"datum.kind == '{kind}'").mark_rule(
            style=style, strokeWidth=1.25, y=_expr("datum.top"), y2=_expr("height")
        )
        for kind, style in (("label", "limit"), ("delivered", "this"))
    ]
    return _finished(
        curve.transform_filter("datum.curve >= 0").mark_line(style="companion", clip=True),
        *lines,
        curve.transform_filter("datum.curve < 0").mark_line(style="this", clip=True),
        words,
    )


def shares(narrow: bool) -> dict[str, Any]:
    """A bar a battery, in percent of its label."""
    axis = alt.Axis(
        grid=False,
        values=[0, 0.5, 1] if narrow else [0, 0.25, 0.5, 0.75, 1],
        labelExpr=f"datum.value == 1 ? '100{THIN}% label' : datum.value * 100 + '{THIN}%'",
    )
    scale = alt.Scale(domainMin=0, domainMax=_expr("right"), range=_plot(narrow, VALUES), nice=False)
    rows = _Rows(_csv("shares", row=NUMBER, share=NUMBER, low=NUMBER, high=NUMBER), narrow)
    share = _x("share", scale, axis)
    mark = rows.base.mark_tick(style="limit", thickness=1.5, height=18, yOffset=rows.drop)
    line = alt.Chart(rows.data).mark_rule(style="limit")  # through all rows: beside bars no words stand in its way
    return _finished(
        rows.bar(style="this").encode(x=share),
        *rows.ends("share"),
        (mark if narrow else line).encode(x=alt.XDatum(1.0)),
        *rows.words(),
    )


def hours(narrow: bool) -> dict[str, Any]:
    """A bar a load, on a logarithmic scale of hours."""
    axis = alt.Axis(grid=not narrow, values=_expr("marks"), labelExpr=f"datum.value + '{THIN}h'")
    scale = alt.Scale(
        type="log", domainMin=_expr("left"), domainMax=_expr("right"), range=_plot(narrow, LONG_VALUES), nice=False
    )
    rows = _Rows(_csv("hours", row=NUMBER, start=NUMBER, end=NUMBER, low=NUMBER, high=NUMBER), narrow)
    end = _x("end", scale, axis)
    bars = [
        rows.bar(f"datum.look == '{look}'", style=style, orient="horizontal").encode(x=end, x2=alt.X2("start"))
        for look, style in (("measured", "this"), ("projected", "projected"))
    ]
    stopped = rows.base.transform_filter("datum.look == 'stopped'").mark_point(
        style="trip", shape=CROSS, size=40, xOffset=5, yOffset=rows.drop
    )
    return _finished(*bars, *rows.ends("end", "datum.look != 'stopped'"), stopped.encode(x=end), *rows.words())


def carrying() -> dict[str, Any]:
    """Current against time, both logarithmic: steps by their look, brackets as bands, the label's line, a fit."""
    times = f"datum.value < 60 ? datum.value + '{THIN}s' : datum.value / 60 + '{THIN}min'"
    x_axis = alt.Axis(grid=False, values=_expr("marks"), labelExpr=times)
    y_axis = alt.Axis(values=_expr("currents"), labelExpr=f"datum.value + '{THIN}A'", labelOverlap=True)
    plot = [0, _expr(f"width - {RIGHT_WORDS}")]
    x = alt.Scale(type="log", domainMin=_expr("left"), domainMax=_expr("right"), range=plot, nice=False)
    y = alt.Scale(type="log", domainMin=_expr("bottom"), domainMax=_expr("top"), nice=False)
    steps = alt.Chart(_csv("steps", low=NUMBER, high=NUMBER, current=NUMBER)).encode(
        x=_x("low", x, x_axis), y=_y("current", y, y_axis)
    )
    label = alt.Chart(_csv("lines", at=NUMBER)).encode(y=alt.Y("at", type="quantitative"))
    bands = alt.Chart(_csv("bands", time=NUMBER, low=NUMBER, high=NUMBER)).mark_rule(style="bracket")
    curve = alt.Chart(_csv("curve", time=NUMBER, current=NUMBER)).encode(
        x=alt.X("time", type="quantitative"), y=alt.Y("current", type="quantitative")
    )
    tripped, held, left_out = (
        steps.transform_filter(f"datum.look == '{look}'") for look in ("tripped", "held", "left out")
    )
    return _finished(
        bands.encode(x=alt.X("time", type="quantitative"), y=alt.Y("low", type="quantitative"), y2=alt.Y2("high")),
        curve.mark_line(style="fitted"),
        label.mark_rule(style="limit", x=0, x2=_expr(plot[1].expr)),
        label.mark_text(style="words", align="right", x=_expr("width")).encode(text=alt.Text("words", type="nominal")),
        tripped.mark_rule(style="trip").encode(x2=alt.X2("high")),
        tripped.mark_point(style="trip", shape=CROSS, size=40),
        held.mark_point(style="held", shape="triangle-right", size=70),
        left_out.mark_point(style="unused", shape="circle", size=50),
    )


def warming(narrow: bool) -> dict[str, Any]:
    """Temperature above, charging current below, on one time axis; moments as upright lines through both.

    Looks are one letter, since each row carries one: b battery, m model, o another current, r a single reading.
    """
    x_axis = alt.Axis(grid=False, tickCount=3 if narrow else 8, labelExpr=f"datum.label + '{THIN}min'")
    plot = [0, _expr("width - room")]
    x = _x("minutes", alt.Scale(domainMin=0, domainMax=_expr("right"), range=plot, nice=False), x_axis)
    warm = alt.Chart(_csv("warming", minutes=NUMBER, temperature=NUMBER)).encode(
        x=x,
        y=_y("temperature", _between("bottom", "top", [_expr("split * height"), 0]), _every(5, "°C")),
    )
    amps = alt.Axis(values=_expr("currents"), labelExpr=f"datum.label + '{THIN}A'", orient="left")
    level = alt.Scale(domainMin=0, domainMax=_expr("most"), range=[_expr("height"), _expr("height * 0.74")], nice=False)
    taken = alt.Chart(_csv("currents", minutes=NUMBER, current=NUMBER)).encode(x=x, y=_y("current", level, amps))
    moment = alt.Chart(_csv("moments", at=NUMBER, top=NUMBER)).encode(x=alt.X("at", type="quantitative"))
    words = moment.mark_text(style="words", y=_expr("datum.top"), align="left", dx=5, baseline="top")
    above, below = (
        alt.layer(*(_as_look(part, look, style) for look, style in looks))
        for part, looks in (
            (warm, (("b", "this"), ("m", "fitted"), ("r", "held"))),
            (taken, (("o", "companion"), ("b", "this"), ("r", "held"))),
        )
    )
    upright = moment.mark_rule(style="moment", y=_expr("datum.top"), y2=_expr("height"))
    both = (above, below, upright, words.encode(text=alt.Text("words", type="nominal")))
    return _finished(*both, resolve=alt.Resolve(scale={"y": "independent"}))


def falling(narrow: bool) -> dict[str, Any]:
    """Points with ± and a line through them, both axes in the units that the page names."""
    x_axis = alt.Axis(grid=False, tickCount=4 if narrow else 8, labelExpr=f"datum.label + '{THIN}' + x_unit")
    y_axis = alt.Axis(tickCount=4, labelExpr=f"replace(datum.label, '-', '−') + '{THIN}' + y_unit")
    x = _x("x", alt.Scale(domainMin=0, domainMax=_expr("right"), nice=False), x_axis)
    line = alt.Chart(_csv("line", x=NUMBER, y=NUMBER)).encode(x=x, y=_y("y", _between("bottom", "top"), y_axis))
    points = alt.Chart(_csv("points", x=NUMBER, y=NUMBER, low=NUMBER, high=NUMBER)).encode(x=x)
    return _finished(
        line.mark_line(style="this"),
        points.mark_rule(style="whisker").encode(y=alt.Y("low", type="quantitative"), y2=alt.Y2("high")),
        points.mark_point(style="held", size=50).encode(y=alt.Y("y", type="quantitative")),
    )


def _as_look(part: Any, look: str, style: str) -> Any:
    """The rows of one look: a line, or points where they are single readings."""
    rows = part.transform_filter(f"datum.look == '{look}'")
    return rows.mark_point(style=style, size=40) if look == "r" else rows.mark_line(style=style, clip=True)


def scores(narrow: bool) -> dict[str, Any]:
    """A line a battery: a bar for what its score could be, a dot for the score, its place in words."""
    axis = alt.Axis(grid=not narrow, values=_expr("marks"))
    ends = {"domainMin": _expr("left"), "domainMax": _expr("right")}
    scale = alt.Scale(**ends, range=_plot(narrow, PLACES), nice=False, zero=False)
    rows = _Rows(_csv("scores", row=NUMBER, value=NUMBER, low=NUMBER, high=NUMBER), narrow)
    dot = rows.base.mark_point(style="this", shape="circle", filled=True, size=70, opacity=1, yOffset=rows.drop)
    bar = rows.bar(style="this", opacity=0.5, orient="horizontal").encode(x=_x("low", scale, axis), x2=alt.X2("high"))
    return _finished(bar, dot.encode(x=alt.X("value", type="quantitative")), *rows.words())


def value_function() -> dict[str, Any]:
    """Points against what is graded; the anchors' values stand below the plot, where an axis would have its own."""
    none = alt.Axis(grid=False, labels=False)
    corners = alt.Chart(_csv("corners", at=NUMBER, points=NUMBER)).encode(
        x=_x("at", alt.Scale(domainMin=_expr("left"), domainMax=_expr("right"), nice=False, zero=False), none),
        y=_y("points", alt.Scale(domain=[0, 100], nice=False), alt.Axis(values=[0, 50, 100])),
    )
    anchors = corners.transform_filter("datum.words != ''")
    words = alt.Chart(corners.data).mark_text(style="words", y=_expr("height + 8"), baseline="top")
    return _finished(
        corners.mark_line(style="this"),
        anchors.mark_point(style="this", shape="circle", filled=True, size=50, opacity=1),
        words.encode(x=alt.X("at", type="quantitative"), text=alt.Text("words", type="nominal")),
    )


class _Rows:
    """Horizontal bars: name and value stand beside each bar, or on a phone above it, where no line runs."""

    def __init__(self, data: alt.NamedData, narrow: bool) -> None:
        self.data, self.narrow = data, narrow
        self.drop, self.lift = (10, -9) if narrow else (0, 0)
        y = alt.Y("row", type="ordinal", sort="ascending", axis=None, scale=alt.Scale(padding=0))
        self.base = alt.Chart(data).encode(y=y)

    def bar(self, only: str = "true", **look: Any) -> Any:
        return self.base.transform_filter(only).mark_bar(height=7, yOffset=self.drop, **look)

    def ends(self, value: str, only: str = "true") -> list[Any]:
        """± as a whisker; an open arrow where it may be more."""
        closed = self.base.transform_filter(f"({only}) && (datum.bound == 'exact' || datum.bound == 'between')")
        opened = self.base.transform_filter("datum.bound == 'at_least'")
        arrow = opened.mark_point(style="open", shape="M0,-1L1,0L0,1", size=50, xOffset=4, yOffset=self.drop)
        whisker = closed.mark_rule(style="whisker", yOffset=self.drop)
        return [
            whisker.encode(x=alt.X("low", type="quantitative"), x2=alt.X2("high")),
            arrow.encode(x=alt.X(value, type="quantitative")),
        ]

    def words(self) -> list[Any]:
        limit = NAMES + 40 if self.narrow else NAMES - 10
        names = self.base.mark_text(style="words", align="left", dy=self.lift, x=1, limit=limit)
        values = self.base.mark_text(style="words", align="right", dy=self.lift, x=_expr("width"))
        return [
            names.encode(text=alt.Text("name", type="nominal")),
            values.encode(text=alt.Text("words", type="nominal")),
        ]


def _plot(narrow: bool, values: int) -> list[Any]:
    return [0, _expr("width")] if narrow else [NAMES, _expr(f"width - {values}")]


def _csv(name: str, **columns: str) -> alt.NamedData:
    """A dataset of the page; what its columns hold is said outright, since filters would guess it wrongly."""
    return alt.NamedData(name, format=alt.CsvDataFormat(type="csv", parse=columns))


def _x(field: str, scale: alt.Scale, axis: alt.Axis) -> alt.X:
    return alt.X(field, type="quantitative", scale=scale, axis=axis)


def _y(field: str, scale: alt.Scale, axis: alt.Axis) -> alt.Y:
    return alt.Y(field, type="quantitative", scale=scale, axis=axis)


def _between(bottom: str, top: str, place: list[Any] | None = None) -> alt.Scale:
    """A scale that ends where the numbers say, over the whole height or over a place in it."""
    where: dict[str, Any] = {"range": place} if place else {}
    return alt.Scale(domainMin=_expr(bottom), domainMax=_expr(top), nice=False, zero=False, **where)


def _every(step: int, unit: str) -> alt.Axis:
    marks = _expr(f"sequence(bottom, top + {step}, {step})")
    return alt.Axis(values=marks, labelExpr=f"replace(datum.label, '-', '−') + '{THIN}{unit}'")


def _expr(expression: str) -> Any:
    """Something that the browser works out: a number of the chart, its width or height, a row's own value."""
    return alt.ExprRef(expr=expression)


# A font's letters reach a little above the line that "top" means, and below the one that "bottom" does.
EDGES = {"left": 0, "right": 0, "top": 4, "bottom": 4}


def _finished(*layers: Any, **more: Any) -> dict[str, Any]:
    """The specification, as wide as its figure; axes and words included in the height that the page keeps free."""
    fit = alt.AutoSizeParams(type="fit", contains="padding")
    chart = alt.layer(*layers).properties(width="container", autosize=fit, padding=EDGES, **more)
    # altair's own theme would stand against the style names
    return {key: value for key, value in chart.to_dict(validate=False).items() if key not in {"config", "$schema"}}
