"""Derived curves and figures → the data of charts; which marks stand where is in `chart_layouts`.

Nothing here computes a metric or names a colour. A layout is the same for every battery, so it is made once and travels
with the drawing library; a page carries data only.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray

from site_builder.chart_points import SEEN, bends, drawn, drawn_lines, in_short
from site_builder.measured import Measured
from site_builder.series import Array

Kind = Literal["discharge", "shares", "hours", "carrying", "warming", "falling", "scores", "value", "pulses"]
Look = Literal["measured", "projected", "stopped"]

VEGA_LITE = "6.4"
THIS = -1  # the number of the curve that a page is about
IN_GREY = 0.012  # how far off its own line another battery's may be drawn, as a share of the picture
TALL, TALL_NARROW = 320, 280
ROW, ROW_NARROW, AXIS = 26, 44, 30
ROOM_FOR_WORDS = 0.4  # a line nearer to the left edge than this share has its words on its right
WARM_SHARE, CURRENT_SHARE = 0.64, 0.26  # of a cold test's picture, as in its layout
DRAWN_ABOVE = 0.75  # what lies below this share of the nominal voltage is a battery that has cut off


@dataclass(frozen=True, kw_only=True, slots=True)
class Chart:
    """One chart's data (CSV by name), numbers or units for the layout of its kind, and its heights on a page. [px]"""

    kind: Kind
    datasets: Mapping[str, str]
    numbers: Mapping[str, float | list[float] | str]
    tall: int = TALL
    tall_narrow: int = TALL_NARROW

    @property
    def json(self) -> Markup:
        """For a <script> element; `<`, `>` and `&` are encoded, so that no text in it can end the element."""
        numbers = {name: in_short(one) for name, one in self.numbers.items()}
        whole = {"kind": self.kind, "numbers": numbers, "datasets": dict(self.datasets)}
        text = json.dumps(whole, ensure_ascii=False, separators=(",", ":"))
        return Markup(text.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e"))  # noqa: S704


def chart_script() -> str:
    """The browser's drawing library and the layouts as one classic script; written once a site, beside charts.js."""
    import vl_convert  # noqa: PLC0415  # loads a JavaScript engine

    # altair takes a third of a second to import
    from site_builder.chart_layouts import layouts  # noqa: PLC0415
    from site_builder.overlay_layouts import overlay_layouts  # noqa: PLC0415

    # As a function of its own the library keeps its thousands of names to itself.
    library = vl_convert.javascript_bundle(vl_version=VEGA_LITE)  # type: ignore[call-arg]  # its stub lags behind
    placed = json.dumps(layouts() | overlay_layouts(), ensure_ascii=False)
    return f"(function(){{{library}}})();\nwindow.chartLayouts={placed};\n"


def curve_csv(number: int, curve: tuple[Array, Array], within: float = SEEN) -> str:
    """A curve as CSV rows (its number, charge in Ah, voltage in V), its bends kept."""
    charge, voltage = curve
    chosen, span = bends_of_curve(charge, voltage, within)
    return "".join(f"{number},{point}\n" for point in drawn(charge[chosen], voltage[chosen], span))


def bends_of_curve(charge: Array, voltage: Array, within: float = SEEN) -> tuple[NDArray[np.intp], tuple[float, float]]:
    """Rows that a discharge is drawn from, and how much of Ah and V its picture shows: not how it ends at 0 V."""
    seen = np.maximum(voltage, DRAWN_ABOVE * voltage.max())
    span = (float(np.ptp(charge)), float(np.ptp(seen)))
    return bends(charge, seen, span, within), span


def discharge(
    curve: tuple[Array, Array],
    companions: str,
    *,
    nominal_v: float,
    label: tuple[float, str],
    delivered: tuple[float, str],
) -> Chart:
    """Voltage against charge delivered: this battery, its class in grey, and upright lines at label and delivered.

    Args:
        curve: This battery's charge [Ah] and voltage [V].
        companions: The others' curves, by `curve_csv`.
        nominal_v: The label's voltage. [V]
        label: The label's capacity [Ah], and what stands at its line.
        delivered: What this battery delivered [Ah], and what stands at that line.
    """
    rows = f"{companions}{curve_csv(THIS, curve)}"
    cells = [line.split(",") for line in rows.splitlines()]
    charges, voltages = ([float(cell[column]) for cell in cells] for column in (1, 2))
    right = max(*charges, label[0]) * 1.03
    bottom = min((v for v in voltages if v > DRAWN_ABOVE * nominal_v), default=min(voltages))
    lines = upright_lines((label[0], "label", label[1]), (delivered[0], "delivered", delivered[1]), right)
    return Chart(
        kind="discharge",
        datasets={"curves": "curve,charge_ah,voltage_v\n" + rows, "lines": lines},
        numbers={"right": right, "bottom": math.floor(bottom), "top": math.ceil(max(voltages))},
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
    rows = [f"{at},{kind},{top},{align},{_cell(words)}\n" for (at, kind, words), top, align in placed]
    return "at,kind,top,align,words\n" + "".join(rows)


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
        f"{row},{_cell(one.name)},{one.measured.value:.4f},{one.measured.lowest:.4f},"
        f"{min(one.measured.highest, right):.4f},{one.measured.bound},{_cell(one.words)}\n"
        for row, one in enumerate(shares)
    ]
    return Chart(
        kind="shares",
        datasets={"shares": "row,name,share,low,high,bound,words\n" + "".join(rows)},
        numbers={"right": right},
        tall=len(shares) * ROW + AXIS,
        tall_narrow=len(shares) * ROW_NARROW + AXIS,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class Hours:
    """One bar: how long something ran or would run, and the words beside the bar. `low` and `high` may be open. [h]

    A run that was stopped has a cross at the axis instead of a bar, and its words say what happened.
    """

    name: str
    value: float
    low: float
    high: float
    bound: str
    look: Look
    words: str


HOURS_MARKS = "Filled: seen; outlined: projected from what it delivered; a cross: stopped"
HOUR_MARKS = [0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0]


def hours(bars: Sequence[Hours]) -> Chart:
    """Running times on one charge, on a logarithmic scale: measured bars filled, projected ones outlined."""
    ends = [end for bar in bars if bar.look != "stopped" for end in (bar.value, bar.high) if math.isfinite(end)]
    left, right = min([0.5, *ends]) / 1.6, max([1.0, *ends]) * 1.1
    rows = [
        f"{row},{_cell(bar.name)},{left:.4g},{max(_bar_end(bar), left):.4g},{max(bar.low, left):.4g},"
        f"{min(bar.high, right):.4g},{bar.bound},{bar.look},{_cell(bar.words)}\n"
        for row, bar in enumerate(bars)
    ]
    return Chart(
        kind="hours",
        datasets={"hours": "row,name,start,end,low,high,bound,look,words\n" + "".join(rows)},
        numbers={"left": left, "right": right, "marks": [mark for mark in HOUR_MARKS if left <= mark <= right]},
        tall=len(bars) * ROW + AXIS,
        tall_narrow=len(bars) * ROW_NARROW + AXIS,
    )


def _bar_end(bar: Hours) -> float:
    """A bar is filled as far as is sure where only a bound is known."""
    return bar.low if bar.bound in {"at_least", "between"} else bar.value


@dataclass(frozen=True, kw_only=True, slots=True)
class Step:
    """One current and how long it was carried, or the limits of that time. [A, s]"""

    current_a: float
    low_s: float
    high_s: float
    tripped: bool
    used: bool = True

    @property
    def look(self) -> str:
        """Which mark it is drawn with."""
        return "left out" if not self.used else "tripped" if self.tripped else "held"


@dataclass(frozen=True, kw_only=True, slots=True)
class Band:
    """Between the largest current carried for a time and the smallest that cut off sooner. [s, A]"""

    time_s: float
    low_a: float
    high_a: float


TIME_MARKS = [0.1, 1.0, 10.0, 60.0, 600.0, 3600.0]
CURRENT_MARKS = [factor * 10.0**power for power in range(-1, 5) for factor in (1, 1.5, 2, 3, 4, 6)]
FINE_MARKS = [factor * 10.0**power for power in range(-1, 5) for factor in (1, 1.2, 1.4, 1.6, 1.8, 2, 2.5, 3, 4, 5, 7)]


def carrying(
    steps: Sequence[Step],
    *,
    label: tuple[float, str] | None,
    brackets: Sequence[Band] = (),
    curve: Iterable[tuple[float, float]] = (),
) -> Chart:
    """Current against the time it was carried, both on logarithmic scales.

    Args:
        steps: Currents and times.
        label: The label's continuous current [A], and what stands at its line.
        brackets: What is known for certain times, as bands.
        curve: Points of a smooth curve through the trips. [s, A]
    """
    times = [time for step in steps for time in (step.low_s, step.high_s) if 0 < time < math.inf]
    left, right = min([1.0, *times]) / 1.5, max([60.0, *times]) * 1.5
    currents = [step.current_a for step in steps if step.current_a > 0] + ([label[0]] if label else []) or [1.0]
    bottom, top = min(currents) / 1.25, max(currents) * 1.15
    rows = [
        f"{max(step.low_s, left):.4g},{min(step.high_s, right):.4g},{max(step.current_a, bottom):.4g},{step.look}\n"
        for step in steps
    ]
    lines = [f"{label[0]},{_cell(label[1])}\n"] if label else []
    bands = [f"{band.time_s:g},{band.low_a:.4g},{band.high_a:.4g}\n" for band in brackets if left < band.time_s < right]
    drawn = [f"{time:.4g},{current:.4g}\n" for time, current in curve if left <= time <= right and current <= top]
    return Chart(
        kind="carrying",
        datasets={
            "steps": "low,high,current,look\n" + "".join(rows),
            "lines": "at,words\n" + "".join(lines),
            "bands": "time,low,high\n" + "".join(bands),
            "curve": "time,current\n" + "".join(drawn),
        },
        numbers={
            "left": left, "right": right, "bottom": bottom, "top": top,
            "marks": [mark for mark in TIME_MARKS if left <= mark <= right],
            "currents": _current_marks(bottom, top),
        },
    )  # fmt: skip


def _current_marks(bottom: float, top: float) -> list[float]:
    """Round currents inside the axis; finer ones where it is too short for three coarse ones."""
    coarse, fine = ([mark for mark in marks if bottom <= mark <= top] for marks in (CURRENT_MARKS, FINE_MARKS))
    return coarse if len(coarse) >= 3 else fine


def warming(
    temperatures: tuple[Array, Array],
    currents: Sequence[tuple[Array, Array]],
    moments: Sequence[tuple[float, str]],
    model: tuple[Array, Array] | None,
    *,
    by_hand: bool,
) -> Chart:
    """Battery temperature over the charging current, on one time axis. [min, °C, A]

    Args:
        temperatures: Times and temperatures.
        currents: Times and currents into the battery; the first is drawn strongest.
        moments: Times, and what happened then.
        model: Times and temperatures of a fitted model.
        by_hand: Whether these are single readings, drawn as points.
    """
    look = "r" if by_hand else "b"
    warm = [(*temperatures, look), *([(*model, "m")] if model else [])]
    taken = [(*one, look if i == 0 else "o") for i, one in enumerate(currents)]
    low, high = (float(end) for end in (temperatures[1].min(), temperatures[1].max()))
    right = float(temperatures[0][-1]) or 1.0
    most = max([1.0, *(float(amps.max()) for _, amps in currents)])
    step = next((step for step in (1, 2, 5, 10, 20, 50, 100) if most <= 2.5 * step), 200)
    return Chart(
        kind="warming",
        datasets={
            "warming": "minutes,temperature,look\n" + drawn_lines(warm, (right, (high - low) / WARM_SHARE)),
            "currents": "minutes,current,look\n" + drawn_lines(taken, (right, most / CURRENT_SHARE)),
            "moments": "at,top,words\n"
            + "".join(f"{at:.4g},{-20 * (len(moments) - i)},{_cell(words)}\n" for i, (at, words) in enumerate(moments)),
        },
        numbers={
            "right": right,
            "bottom": 5 * math.floor(low / 5),
            "top": 5 * math.ceil(high / 5 + 0.01),
            "most": most * 1.05,
            "currents": [float(step * i) for i in range(3) if step * i <= most],
            "room": 70 if any(at > ROOM_FOR_WORDS * right for at, _ in moments) else 0,
            "split": 0.64 if currents else 1.0,
        },
    )


def falling(
    line: Sequence[tuple[float, float]], points: Sequence[tuple[float, float, float, float]], units: tuple[str, str]
) -> Chart:
    """Something that falls along a line: points (x, y, lowest, highest) with ±, and the line through them."""
    ends = [y for _, y in line] + [end for _, _, low, high in points for end in (low, high)]
    room = 0.15 * (max(ends) - min(ends)) or 0.1
    return Chart(
        kind="falling",
        datasets={
            "line": "x,y\n" + "".join(f"{x:.4g},{y:.5g}\n" for x, y in line),
            "points": "x,y,low,high\n" + "".join(f"{x:.4g},{y:.5g},{a:.5g},{b:.5g}\n" for x, y, a, b in points),
        },
        numbers={
            "right": max(x for x, _ in line) * 1.03,
            "bottom": min(ends) - room, "top": max(ends) + room,
            "x_unit": units[0], "y_unit": units[1],
        },
        tall=200,
        tall_narrow=190,
    )  # fmt: skip


def _cell(text: str) -> str:
    """Foreign text as one quoted CSV cell."""
    return '"{}"'.format(text.replace('"', '""').replace("\n", " "))
