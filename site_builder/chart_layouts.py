"""Where the marks of each kind of chart stand, for a desk and for a phone.

Marks have style names; charts.js says what those look like in light, dark and print. No data is here.
"""

from __future__ import annotations

from typing import Any

import altair as alt

from site_builder.chart_parts import CROSS, NUMBER, between, degrees, every, expr, finished, named, on_x, on_y
from site_builder.pages.text import THIN

NAMES, VALUES = 176, 104  # widths left and right of bars, where there is room for them beside the plot
LONG_VALUES, PLACES = 200, 160
VOLTS = f"datum.label + '{THIN}V'"
RIGHT_WORDS = 76  # width right of a plot for the words at the end of a line


def layouts() -> dict[str, dict[str, dict[str, Any]]]:
    """Kind of chart → "wide" and "narrow" → a Vega-Lite specification that lacks data, numbers and height."""
    kinds = {
        "discharge": discharge,
        "shares": shares,
        "hours": hours,
        "warming": warming,
        "falling": falling,
        "pulses": pulses,
        "scores": scores,
    }
    both = {kind: {"wide": layout(False), "narrow": layout(True)} for kind, layout in kinds.items()}
    alike = {"carrying": carrying(), "value": value_function()}
    return both | {kind: dict.fromkeys(("wide", "narrow"), layout) for kind, layout in alike.items()}


def discharge(narrow: bool) -> dict[str, Any]:
    """Voltage against charge; upright lines with their words in a strip above the plot."""
    x_axis = alt.Axis(grid=False, tickCount=4 if narrow else 8, labelExpr=f"datum.label + '{THIN}Ah'")
    curve = alt.Chart(named("curves", curve=NUMBER, charge_ah=NUMBER, voltage_v=NUMBER)).encode(
        x=on_x("charge_ah", alt.Scale(domainMin=0, domainMax=expr("right"), nice=False), x_axis),
        y=on_y("voltage_v", between("bottom", "top"), every(1, "V")),
        detail=alt.Detail("curve", type="nominal"),
    )
    upright = alt.Chart(named("lines", at=NUMBER, top=NUMBER)).encode(x=alt.X("at", type="quantitative"))
    words = upright.mark_text(
        style="words",
        y=expr("datum.top"),
        align=expr("datum.align"),
        dx=expr("datum.align == 'right' ? -5 : 5"),
        baseline="top",
    ).encode(text=alt.Text("words", type="nominal"))
    lines = [
        upright.transform_filter(f"datum.kind == '{kind}'").mark_rule(
            style=style, strokeWidth=1.25, y=expr("datum.top"), y2=expr("height")
        )
        for kind, style in (("label", "limit"), ("delivered", "this"))
    ]
    return finished(
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
    scale = alt.Scale(domainMin=0, domainMax=expr("right"), range=_plot(narrow, VALUES), nice=False)
    rows = _Rows(named("shares", row=NUMBER, share=NUMBER, low=NUMBER, high=NUMBER), narrow)
    share = on_x("share", scale, axis)
    mark = rows.base.mark_tick(style="limit", thickness=1.5, height=18, yOffset=rows.drop)
    line = alt.Chart(rows.data).mark_rule(style="limit")  # through all rows: beside bars no words stand in its way
    return finished(
        rows.bar(style="this").encode(x=share),
        *rows.ends("share"),
        (mark if narrow else line).encode(x=alt.XDatum(1.0)),
        *rows.words(),
    )


def hours(narrow: bool) -> dict[str, Any]:
    """A bar a load, on a logarithmic scale of hours."""
    axis = alt.Axis(grid=not narrow, values=expr("marks"), labelExpr=f"datum.value + '{THIN}h'")
    scale = alt.Scale(
        type="log", domainMin=expr("left"), domainMax=expr("right"), range=_plot(narrow, LONG_VALUES), nice=False
    )
    rows = _Rows(named("hours", row=NUMBER, start=NUMBER, end=NUMBER, low=NUMBER, high=NUMBER), narrow)
    end = on_x("end", scale, axis)
    bars = [
        rows.bar(f"datum.look == '{look}'", style=style, orient="horizontal").encode(x=end, x2=alt.X2("start"))
        for look, style in (("measured", "this"), ("projected", "projected"))
    ]
    stopped = rows.base.transform_filter("datum.look == 'stopped'").mark_point(
        style="trip", shape=CROSS, size=40, xOffset=5, yOffset=rows.drop
    )
    return finished(*bars, *rows.ends("end", "datum.look != 'stopped'"), stopped.encode(x=end), *rows.words())


def carrying() -> dict[str, Any]:
    """Current against time, both logarithmic: steps by their look, brackets as bands, the label's line, a fit."""
    times = f"datum.value < 60 ? datum.value + '{THIN}s' : datum.value / 60 + '{THIN}min'"
    x_axis = alt.Axis(grid=False, values=expr("marks"), labelExpr=times)
    y_axis = alt.Axis(values=expr("currents"), labelExpr=f"datum.value + '{THIN}A'", labelOverlap=True)
    plot = [0, expr(f"width - {RIGHT_WORDS}")]
    x = alt.Scale(type="log", domainMin=expr("left"), domainMax=expr("right"), range=plot, nice=False)
    y = alt.Scale(type="log", domainMin=expr("bottom"), domainMax=expr("top"), nice=False)
    steps = alt.Chart(named("steps", low=NUMBER, high=NUMBER, current=NUMBER)).encode(
        x=on_x("low", x, x_axis), y=on_y("current", y, y_axis)
    )
    label = alt.Chart(named("lines", at=NUMBER)).encode(y=alt.Y("at", type="quantitative"))
    bands = alt.Chart(named("bands", time=NUMBER, low=NUMBER, high=NUMBER)).mark_rule(style="bracket")
    curve = alt.Chart(named("curve", time=NUMBER, current=NUMBER)).encode(
        x=alt.X("time", type="quantitative"), y=alt.Y("current", type="quantitative")
    )
    tripped, held, left_out = (
        steps.transform_filter(f"datum.look == '{look}'") for look in ("tripped", "held", "left out")
    )
    return finished(
        bands.encode(x=alt.X("time", type="quantitative"), y=alt.Y("low", type="quantitative"), y2=alt.Y2("high")),
        curve.mark_line(style="fitted"),
        label.mark_rule(style="limit", x=0, x2=expr(plot[1].expr)),
        label.mark_text(style="words", align="right", x=expr("width")).encode(text=alt.Text("words", type="nominal")),
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
    plot = [0, expr("width - room")]
    x = on_x("minutes", alt.Scale(domainMin=0, domainMax=expr("right"), range=plot, nice=False), x_axis)
    warm = alt.Chart(named("warming", minutes=NUMBER, temperature=NUMBER)).encode(
        x=x,
        y=on_y("temperature", between("bottom", "top", [expr("split * height"), 0]), degrees()),
    )
    amps = alt.Axis(values=expr("currents"), labelExpr=f"datum.label + '{THIN}A'", orient="left")
    level = alt.Scale(domainMin=0, domainMax=expr("most"), range=[expr("height"), expr("height * 0.74")], nice=False)
    taken = alt.Chart(named("currents", minutes=NUMBER, current=NUMBER)).encode(x=x, y=on_y("current", level, amps))
    moment = alt.Chart(named("moments", at=NUMBER, top=NUMBER)).encode(x=alt.X("at", type="quantitative"))
    words = moment.mark_text(style="words", y=expr("datum.top"), align="left", dx=5, baseline="top")
    above, below = (
        alt.layer(*(_as_look(part, look, style) for look, style in looks))
        for part, looks in (
            (warm, (("b", "this"), ("m", "fitted"), ("r", "held"))),
            (taken, (("o", "companion"), ("b", "this"), ("r", "held"))),
        )
    )
    upright = moment.mark_rule(style="moment", y=expr("datum.top"), y2=expr("height"))
    both = (above, below, upright, words.encode(text=alt.Text("words", type="nominal")))
    return finished(*both, resolve=alt.Resolve(scale={"y": "independent"}))


def falling(narrow: bool) -> dict[str, Any]:
    """Points with ± and a line through them, both axes in the units that the page names."""
    x_axis = alt.Axis(grid=False, tickCount=4 if narrow else 8, labelExpr=f"datum.label + '{THIN}' + x_unit")
    y_axis = alt.Axis(tickCount=4, labelExpr=f"replace(datum.label, '-', '−') + '{THIN}' + y_unit")
    x = on_x("x", alt.Scale(domainMin=0, domainMax=expr("right"), nice=False), x_axis)
    line = alt.Chart(named("line", x=NUMBER, y=NUMBER)).encode(x=x, y=on_y("y", between("bottom", "top"), y_axis))
    points = alt.Chart(named("points", x=NUMBER, y=NUMBER, low=NUMBER, high=NUMBER)).encode(x=x)
    return finished(
        line.mark_line(style="this"),
        points.mark_rule(style="whisker").encode(y=alt.Y("low", type="quantitative"), y2=alt.Y2("high")),
        points.mark_point(style="held", size=50).encode(y=alt.Y("y", type="quantitative")),
    )


def pulses(narrow: bool) -> dict[str, Any]:
    """Voltage above, current below, on one time axis; each pulse a band from its last row before the step on."""
    x_axis = alt.Axis(grid=False, tickCount=3 if narrow else 8, labelExpr=f"datum.label + '{THIN}s'")
    scale = alt.Scale(domainMin=0, domainMax=expr("right"), nice=False)
    rows = alt.Chart(named("rows", s=NUMBER, volts=NUMBER, amps=NUMBER)).encode(x=on_x("s", scale, x_axis))
    volts = on_y("volts", between("bottom", "top", [expr("0.64 * height"), 0]), alt.Axis(tickCount=4, labelExpr=VOLTS))
    level = alt.Scale(domainMin=0, domainMax=expr("most"), range=[expr("height"), expr("height * 0.74")], nice=False)
    amps = alt.Axis(values=expr("currents"), labelExpr=f"datum.label + '{THIN}A'", orient="left")
    found = alt.Chart(named("found", **{"from": NUMBER, "to": NUMBER})).mark_rect(
        style="bracket", y=0, y2=expr("height")
    )
    read = alt.Chart(named("read", s=NUMBER, volts=NUMBER)).mark_point(style="held", size=40)
    above = alt.layer(
        rows.mark_line(style="this", clip=True).encode(y=volts),
        read.encode(x=alt.X("s", type="quantitative"), y=alt.Y("volts", type="quantitative")),
    )
    return finished(
        found.encode(x=on_x("from", scale, x_axis), x2=alt.X2("to")),
        above,
        rows.mark_line(style="this", clip=True).encode(y=on_y("amps", level, amps)),
        resolve=alt.Resolve(scale={"y": "independent"}),
    )


def _as_look(part: Any, look: str, style: str) -> Any:
    """The rows of one look: a line, or points where they are single readings."""
    rows = part.transform_filter(f"datum.look == '{look}'")
    return rows.mark_point(style=style, size=40) if look == "r" else rows.mark_line(style=style, clip=True)


def scores(narrow: bool) -> dict[str, Any]:
    """A line a battery: a bar for what its score could be, a dot for the score, its place in words."""
    axis = alt.Axis(grid=not narrow, values=expr("marks"))
    ends = {"domainMin": expr("left"), "domainMax": expr("right")}
    scale = alt.Scale(**ends, range=_plot(narrow, PLACES), nice=False, zero=False)
    rows = _Rows(named("scores", row=NUMBER, value=NUMBER, low=NUMBER, high=NUMBER), narrow)
    dot = rows.base.mark_point(style="this", shape="circle", filled=True, size=70, opacity=1, yOffset=rows.drop)
    bar = rows.bar(style="this", opacity=0.5, orient="horizontal").encode(x=on_x("low", scale, axis), x2=alt.X2("high"))
    return finished(bar, dot.encode(x=alt.X("value", type="quantitative")), *rows.words())


def value_function() -> dict[str, Any]:
    """Points against what is graded; the anchors' values stand below the plot, where an axis would have its own."""
    none = alt.Axis(grid=False, labels=False)
    corners = alt.Chart(named("corners", at=NUMBER, points=NUMBER)).encode(
        x=on_x("at", alt.Scale(domainMin=expr("left"), domainMax=expr("right"), nice=False, zero=False), none),
        y=on_y("points", alt.Scale(domain=[0, 100], nice=False), alt.Axis(values=[0, 50, 100])),
    )
    anchors = corners.transform_filter("datum.words != ''")
    words = alt.Chart(corners.data).mark_text(style="words", y=expr("height + 8"), baseline="top")
    return finished(
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
        values = self.base.mark_text(style="words", align="right", dy=self.lift, x=expr("width"))
        return [
            names.encode(text=alt.Text("name", type="nominal")),
            values.encode(text=alt.Text("words", type="nominal")),
        ]


def _plot(narrow: bool, values: int) -> list[Any]:
    return [0, expr("width")] if narrow else [NAMES, expr(f"width - {values}")]
