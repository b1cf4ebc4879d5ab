"""Drawn lines with no more points and digits than an eye can tell apart. No chart is chosen here."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

import numpy as np
from numpy.typing import NDArray

from site_builder.series import Array

SEEN = 0.003  # a share of the picture's side: one pixel of a chart 320 pixels high
PLACES = 1000  # positions along a side that a number's digits tell apart


def bends(x: Array, y: Array, span: tuple[float, float], within: float = SEEN) -> NDArray[np.intp]:
    """Rows that a line needs to pass all others no further off than `within`: its ends and its bends.

    Args:
        x: Increasing.
        y: As many.
        span: How much of x and of y the picture's sides stand for.
        within: A share of the sides.

    Source:
        Ramer (1972), Computer Graphics and Image Processing 1, 244; Douglas and Peucker (1973), Cartographica 10, 112.
    """
    u, v = x / (span[0] or 1.0), y / (span[1] or 1.0)
    kept, open_ = {0, len(x) - 1}, [(0, len(x) - 1)]
    while open_:
        first, last = open_.pop()
        if last - first < 2:
            continue
        off = _distances(u[first : last + 1], v[first : last + 1])
        worst = int(off.argmax())
        if off[worst] > within:
            kept.add(first + worst)
            open_ += [(first, first + worst), (first + worst, last)]
    return np.array(sorted(kept))


def _distances(u: Array, v: Array) -> Array:
    """Of each point from the line through the first and the last."""
    du, dv = u[-1] - u[0], v[-1] - v[0]
    length = math.hypot(du, dv)
    off: Array = np.abs(du * (v - v[0]) - dv * (u - u[0])) / length if length else np.hypot(u - u[0], v - v[0])
    return off


def drawn(x: Array, y: Array, span: tuple[float, float]) -> Iterator[str]:
    """Points as "x,y", with the digits that the picture can show."""
    places = [max(round(math.log10(PLACES / side)), 0) if side > 0 else 0 for side in span]
    for one, other in zip(x.tolist(), y.tolist(), strict=True):
        yield f"{round(one, places[0]):.6g},{round(other, places[1]):.6g}"


def drawn_lines(many: Iterable[tuple[Array, Array, str]], span: tuple[float, float]) -> str:
    """Lines on the same axes as CSV rows, each with its look; single readings ("r") are drawn one by one."""
    rows: list[str] = []
    for x, y, look in many:
        chosen = slice(None) if look == "r" else bends(x, y, span)
        rows += [f"{point},{look}\n" for point in drawn(x[chosen], y[chosen], span)]
    return "".join(rows)


def in_short(number: float | list[float] | str) -> object:
    """A number of a chart without the digits that no picture shows.

    >>> in_short([0.10416666666666666, 2.0])
    [0.10417, 2]
    """
    if isinstance(number, list):
        return [in_short(one) for one in number]
    if isinstance(number, str):
        return number
    return int(number) if number == int(number) else float(f"{number:.5g}")
