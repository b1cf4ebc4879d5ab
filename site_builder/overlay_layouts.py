"""Where marks stand in pictures that lay several batteries over one another. Looks are in charts.js, data nowhere."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import altair as alt

from site_builder.chart_parts import CROSS, NUMBER, between, degrees, every, expr, finished, named, on_x, on_y
from site_builder.pages.text import THIN

WHO = ("first", "second", "third", "fourth")  # their styles, by colour and by dashes
ROOM, ROOM_NARROW = 176, 136  # right of a plot, for names


def overlay_layouts() -> dict[str, dict[str, dict[str, Any]]]:
    """Kind of chart → "wide" and "narrow" → its specification, as in `chart_layouts`."""
    kinds = {"discharges": discharges, "warmings": warmings, "overloads": overloads}
    return {kind: {"wide": layout(False), "narrow": layout(True)} for kind, layout in kinds.items()}


def discharges(narrow: bool) -> dict[str, Any]:
    """Voltage against the charge that was delivered."""
    return _overlaid(narrow, ("Charge delivered", "Ah"), "Voltage", every(1, "V"))


def warmings(narrow: bool) -> dict[str, Any]:
    """A battery's temperature against time, with marks as on a unit's page, in °C or °F."""
    return _overlaid(narrow, ("Time", "min"), "Temperature", degrees())


def _overlaid(narrow: bool, across: tuple[str, str], upwards: str, y_axis: alt.Axis) -> dict[str, Any]:
    """Curves of several batteries; from the end of each an upright line leads to its name in a strip above the plot."""
    title, unit = across
    x_axis = alt.Axis(grid=False, tickCount=4 if narrow else 8, labelExpr=f"datum.label + '{THIN}{unit}'", title=title)
    y_axis.title = upwards
    x = on_x("x", alt.Scale(domainMin=0, domainMax=expr("right"), nice=False), x_axis)
    y = on_y("y", between("bottom", "top"), y_axis)
    lines = alt.Chart(named("lines", x=NUMBER, y=NUMBER)).encode(x=x, y=y)
    ends = alt.Chart(named("ends", x=NUMBER, y=NUMBER, row=NUMBER, dx=NUMBER)).encode(x=alt.X("x", type="quantitative"))
    at_end = "scale('y', datum.y)"  # the mark's other end is no place on that scale
    words = ends.mark_text(style="words", align="left", baseline="top", y=expr("datum.row"), dx=expr("datum.dx"))
    return finished(
        *_of_each(lines, lambda part, style: part.mark_line(style=style, clip=True)),
        *_of_each(ends, lambda part, who: _thin(part, who, y=expr("datum.row + 14"), y2=expr(at_end))),
        words.encode(text=alt.Text("words", type="nominal")),
    )


def overloads(narrow: bool) -> dict[str, Any]:
    """Current against time of several batteries, both logarithmic; names at the right edge, led to by a line."""
    times = f"datum.value < 60 ? datum.value + '{THIN}s' : datum.value / 60 + '{THIN}min'"
    plot = [0, expr(f"width - {ROOM_NARROW if narrow else ROOM}")]
    x_axis = alt.Axis(grid=False, values=expr("marks"), labelExpr=times, title="Time")
    amps = f"datum.value + '{THIN}A'"
    y_axis = alt.Axis(grid=False, values=expr("currents"), labelExpr=amps, labelOverlap=True, title="Current")
    scale = alt.Scale(type="log", domainMin=expr("left"), domainMax=expr("right"), range=plot, nice=False)
    y = on_y("y", alt.Scale(type="log", domainMin=expr("bottom"), domainMax=expr("top"), nice=False), y_axis)
    lines, steps, ends = (
        alt.Chart(named(name, x=NUMBER, x2=NUMBER, y=NUMBER, y2=NUMBER)).encode(x=on_x("x", scale, x_axis), y=y)
        for name in ("lines", "steps", "ends")
    )
    tripped, held = (steps.transform_filter(f"datum.look == '{look}'") for look in ("tripped", "held"))
    names = ends.encode(x=alt.X("x2", type="quantitative"), y=alt.Y("y2", type="quantitative"))
    # The axis' own grid would run on under the names.
    levels = alt.Chart(named("levels", y=NUMBER)).encode(y=y).mark_rule(style="grid", x=0, x2=plot[1])
    return finished(
        levels,
        *_of_each(lines, lambda part, style: part.mark_line(style=style, interpolate="step-after")),
        *_of_each(ends.encode(x2=alt.X2("x2"), y2=alt.Y2("y2")), _thin),
        *_of_each(tripped.encode(x2=alt.X2("x2")), lambda part, style: part.mark_rule(style=style, strokeDash=[1, 0])),
        *_of_each(tripped, lambda part, style: _mark(part, style, CROSS, 40)),
        *_of_each(held, lambda part, style: _mark(part, style, "triangle-right", 70)),
        names.mark_text(style="words", align="left", dx=5).encode(text=alt.Text("words", type="nominal")),
    )


def _of_each(chart: Any, drawn: Callable[[Any, str], Any]) -> list[Any]:
    """The rows of each battery in its own look."""
    return [drawn(chart.transform_filter(f"datum.who == '{who}'"), who) for who in WHO]


def _thin(part: Any, style: str, **place: Any) -> Any:
    return part.mark_rule(style=style, strokeWidth=1, **place)


def _mark(part: Any, style: str, shape: str, size: int) -> Any:
    return part.mark_point(style=style, shape=shape, size=size, filled=False, strokeDash=[1, 0])
