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

from site_builder.measured import Measured
from site_builder.series import Array

Kind = Literal["discharge", "shares", "hours", "carrying", "warming"]
Look = Literal["measured", "projected", "stopped"]

VEGA_LITE = "6.4"
POINTS, COMPANION_POINTS = 160, 40
TALL, TALL_NARROW = 320, 280
ROW, ROW_NARROW, AXIS = 26, 44, 30
ROOM_FOR_WORDS = 0.4  # a line nearer to the left edge than this share has its words on its right
DRAWN_ABOVE = 0.75  # what lies below this share of the nominal voltage is a battery that has cut off


@dataclass(frozen=True, kw_only=True, slots=True)
class Chart:
    """One chart's data (CSV by name) and numbers for the layout of its kind, and its heights on a page. [px]"""

    kind: Kind
    datasets: Mapping[str, str]
    numbers: Mapping[str, float | list[float]]
    tall: int = TALL
    tall_narrow: int = TALL_NARROW

    @property
    def json(self) -> Markup:
        """For a <script> element; `<`, `>` and `&` are encoded, so that no text in it can end the element."""
        whole = {"kind": self.kind, "numbers": dict(self.numbers), "datasets": dict(self.datasets)}
        text = json.dumps(whole, ensure_ascii=False, separators=(",", ":"))
        return Markup(text.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e"))  # noqa: S704


def chart_script() -> str:
    """The browser's drawing library and the layouts as one classic script; written once a site, beside charts.js."""
    import vl_convert  # noqa: PLC0415  # loads a JavaScript engine

    from site_builder.chart_layouts import layouts  # noqa: PLC0415  # altair takes a third of a second to import

    # As a function of its own the library keeps its thousands of names to itself.
    library = vl_convert.javascript_bundle(vl_version=VEGA_LITE)  # type: ignore[call-arg]  # its stub lags behind
    return f"(function(){{{library}}})();\nwindow.chartLayouts={json.dumps(layouts(), ensure_ascii=False)};\n"


def curves_csv(curves: Iterable[tuple[Array, Array]], points: int, *, this: bool = False) -> str:
    """Curves as CSV rows (number, charge in Ah, voltage in V, this), each thinned to about so many points."""
    rows: list[str] = []
    for number, (charge, voltage) in enumerate(curves):
        chosen = _evenly_along(charge, voltage, points)
        rows += [
            f"{number},{q:.4g},{v:.4g},{int(this)}\n" for q, v in zip(charge[chosen], voltage[chosen], strict=True)
        ]
    return "".join(rows)


def _evenly_along(charge: Array, voltage: Array, points: int) -> NDArray[np.intp]:
    """Indexes of points at even distances along the drawn line, so that its bends keep enough of them."""
    seen = np.maximum(voltage, DRAWN_ABOVE * voltage.max())
    steps = np.hypot(np.diff(charge) / (np.ptp(charge) or 1), np.diff(seen) / (np.ptp(seen) or 1))
    along = np.concatenate([[0.0], np.cumsum(steps)])
    return np.unique(np.searchsorted(along, np.linspace(0, along[-1], points)).clip(0, len(charge) - 1))


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
        companions: The others' curves, by `curves_csv`.
        nominal_v: The label's voltage. [V]
        label: The label's capacity [Ah], and what stands at its line.
        delivered: What this battery delivered [Ah], and what stands at that line.
    """
    rows = f"{companions}{curves_csv([curve], POINTS, this=True)}"
    cells = [line.split(",") for line in rows.splitlines()]
    charges, voltages = ([float(cell[column]) for cell in cells] for column in (1, 2))
    right = max(*charges, label[0]) * 1.03
    bottom = min((v for v in voltages if v > DRAWN_ABOVE * nominal_v), default=min(voltages))
    lines = upright_lines((label[0], "label", label[1]), (delivered[0], "delivered", delivered[1]), right)
    return Chart(
        kind="discharge",
        datasets={"curves": "curve,charge_ah,voltage_v,this\n" + rows, "lines": lines},
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


TIME_MARKS = [0.1, 1.0, 10.0, 60.0, 600.0, 3600.0]


def carrying(
    steps: Sequence[Step], *, label: tuple[float, str] | None, curve: Iterable[tuple[float, float]] = ()
) -> Chart:
    """Current against the time it was carried, which runs on a logarithmic scale.

    Args:
        steps: Currents and times.
        label: The label's continuous current [A], and what stands at its line.
        curve: Points of a smooth curve through the trips. [s, A]
    """
    times = [time for step in steps for time in (step.low_s, step.high_s) if 0 < time < math.inf]
    left, right = min([1.0, *times]) / 1.5, max([60.0, *times]) * 1.5
    top = max([step.current_a for step in steps] + ([label[0]] if label else [])) * 1.12
    rows = [
        f"{max(step.low_s, left):.4g},{min(step.high_s, right):.4g},{step.current_a:.4g},{int(step.tripped)}\n"
        for step in steps
    ]
    lines = [f"{label[0]},{_cell(label[1])}\n"] if label else []
    drawn = [f"{time:.4g},{current:.4g}\n" for time, current in curve if left <= time <= right and current <= top]
    return Chart(
        kind="carrying",
        datasets={
            "steps": "low,high,current,tripped\n" + "".join(rows),
            "lines": "at,words\n" + "".join(lines),
            "curve": "time,current\n" + "".join(drawn),
        },
        numbers={"left": left, "right": right, "top": top, "marks": [m for m in TIME_MARKS if left <= m <= right]},
    )


def warming(curve: tuple[Array, Array]) -> Chart:
    """Battery temperature against time. [min, °C]"""
    minutes, temperature = curve
    chosen = np.unique(np.linspace(0, len(minutes) - 1, POINTS).round().astype(int))
    rows = [f"{x:.4g},{y:.3g}\n" for x, y in zip(minutes[chosen], temperature[chosen], strict=True)]
    low, high = float(temperature.min()), float(temperature.max())
    return Chart(
        kind="warming",
        datasets={"warming": "minutes,temperature\n" + "".join(rows)},
        numbers={"right": float(minutes[-1]), "bottom": 5 * math.floor(low / 5), "top": 5 * math.ceil(high / 5)},
        tall=240,
        tall_narrow=220,
    )


def _cell(text: str) -> str:
    """Foreign text as one quoted CSV cell."""
    return '"{}"'.format(text.replace('"', '""').replace("\n", " "))
