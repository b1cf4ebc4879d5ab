"""Drawn lines: as few points as the eye needs, and none further off than it can see."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from site_builder.chart_points import SEEN, bends, drawn, drawn_lines
from site_builder.series import Array


def zigzag() -> tuple[Array, Array]:
    x = np.linspace(0, 90, 500)
    return x, np.interp(x, [0, 30, 60, 90], [0, 10, 2, 8])


def test_a_line_of_straight_parts_needs_its_corners_only() -> None:
    x, y = zigzag()
    assert x[bends(x, y, (90, 10))] == pytest.approx([0, 30, 60, 90], abs=0.2)


@given(st.lists(st.floats(-100, 100), min_size=2, max_size=60), st.sampled_from([0.001, 0.01, 0.1]))
def test_no_row_lies_further_from_the_drawn_line_than_was_asked(values: list[float], within: float) -> None:
    y = np.array(values)
    x = np.arange(len(y), dtype=float)
    chosen = bends(x, y, (len(y), 200.0), within)
    assert {0, len(y) - 1} <= set(chosen.tolist())
    # Upright distance is at least the distance to the line; that of the steepest possible part bounds it.
    between = np.interp(x, x[chosen], y[chosen])
    for first, last in pairwise(chosen):
        run, rise = (x[last] - x[first]) / len(y), (y[last] - y[first]) / 200.0
        upright = np.abs(y - between)[first : last + 1] / 200.0
        assert (upright * run / np.hypot(run, rise) <= within + 1e-9).all()


def test_a_step_keeps_both_its_sides() -> None:
    x = np.arange(100.0)
    y = np.where(x < 50, 6.0, 20.0)
    assert bends(x, y, (100, 20)).tolist() == [0, 49, 50, 99]


def test_digits_are_those_that_the_picture_can_show() -> None:
    x, y = np.array([0.0, 1.13912, 90.0]), np.array([13.2871, 13.2012, 10.0])
    assert list(drawn(x, y, (90.0, 4.0))) == ["0,13.29", "1.1,13.2", "90,10"]


def test_rounding_moves_a_point_by_less_than_the_eye_sees() -> None:
    for side in (0.5, 4.0, 25.0, 90.0, 400.0):
        x = np.linspace(0, side, 777)
        shown = np.array([float(point.partition(",")[0]) for point in drawn(x, x, (side, side))])
        assert np.abs(shown - x).max() / side <= SEEN / 2


def test_single_readings_are_all_drawn() -> None:
    x = np.arange(5.0)
    assert drawn_lines([(x, x, "r"), (x, x, "b")], (4.0, 4.0)).splitlines() == [
        "0,0,r", "1,1,r", "2,2,r", "3,3,r", "4,4,r", "0,0,b", "4,4,b",
    ]  # fmt: skip
