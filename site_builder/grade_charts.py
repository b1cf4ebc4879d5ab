"""Grades and value functions → the data of charts; which marks stand where is in `chart_layouts`. Grades nothing."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from site_builder.charts import AXIS, ROW, ROW_NARROW, Chart

FULL = 100.0
EDGE = 1.5  # room for a dot that stands at an end. [points]
SMALL = 150  # height of a value function. [px]
BEYOND = 0.14  # how far a value function is drawn beyond its outer anchors, as a share of their distance


@dataclass(frozen=True, kw_only=True, slots=True)
class Score:
    """One line: a name, its points, from where to where they could lie, and the words at its end. [points]"""

    name: str
    value: float
    low: float
    high: float
    words: str


def scores(lines: Sequence[Score]) -> Chart:
    """A dot for each score and a bar for what it could be, from a multiple of ten below the lowest up to 100."""
    left = min(90.0, 10.0 * math.floor(min(one.low for one in lines) / 10))
    step = 10 if left >= 50 else 20
    first = step * math.ceil(left / step)
    rows = [
        (row, one.name, f"{one.value:.2f}", f"{one.low:.2f}", f"{one.high:.2f}", one.words)
        for row, one in enumerate(lines)
    ]
    return Chart(
        kind="scores",
        datasets={"scores": _csv(("row", "name", "value", "low", "high", "words"), rows)},
        numbers={
            "left": left - EDGE,
            "right": FULL + EDGE,
            "marks": [float(mark) for mark in range(first, int(FULL) + 1, step)],
        },
        tall=len(lines) * ROW + AXIS,
        tall_narrow=len(lines) * ROW_NARROW + AXIS,
    )


def value_function(anchors: Sequence[tuple[float, float, str]]) -> Chart:
    """Points against the value of what is graded: straight lines between anchors, level beyond the outer ones.

    Args:
        anchors: Where each lies, its points, and the words below it; from the smallest up.
    """
    at = [anchor[0] for anchor in anchors]
    room = BEYOND * (at[-1] - at[0] or 1.0)
    left, right = at[0] - room, at[-1] + room
    corners = [(f"{x:.6g}", f"{points:g}", words) for x, points, words in anchors]
    first, last = (f"{left:.6g}", corners[0][1], ""), (f"{right:.6g}", corners[-1][1], "")
    return Chart(
        kind="value",
        datasets={"corners": _csv(("at", "points", "words"), [first, *corners, last])},
        numbers={"left": left, "right": right},
        tall=SMALL,
        tall_narrow=SMALL,
    )


def _csv(heading: tuple[str, ...], rows: Iterable[tuple[object, ...]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(heading)
    # A line break inside a name is a space: the browser's reader would take it for a new row.
    writer.writerows([str(cell).replace("\n", " ") for cell in row] for row in rows)
    return text.getvalue()
