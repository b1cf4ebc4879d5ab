"""Charts: valid specifications without colours, data that cannot break out, labels that meet no foreign line."""

from __future__ import annotations

import csv
import io
import json
import math
from pathlib import Path

import altair as alt
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from site_builder import chart_layouts, charts
from site_builder.measured import Component, Measured
from site_builder.series import Array

LAYOUTS = chart_layouts.layouts()


def curve(capacity_ah: float = 90.0, end_v: float = 10.0) -> tuple[Array, Array]:
    charge = np.linspace(0, capacity_ah, 400)
    return charge, np.where(charge < 0.95 * capacity_ah, 13.2, end_v)


@pytest.mark.parametrize("kind", sorted(LAYOUTS))
@pytest.mark.parametrize("width", ["wide", "narrow"])
def test_layout_is_valid_vega_lite(kind: str, width: str) -> None:
    """Against the JSON Schema of Vega-Lite 6, which altair carries."""
    alt.LayerChart.from_dict({**LAYOUTS[kind][width], "height": 300})


def test_layouts_leave_every_colour_to_the_style_sheet() -> None:
    text = json.dumps(LAYOUTS)
    assert "#" not in text
    assert "var(" not in text
    for name in ("color", "fill", "stroke", "background"):
        assert f'"{name}":' not in text


def test_every_style_of_a_mark_is_one_that_the_script_defines() -> None:
    script = (Path(__file__).parents[1] / "catalogue" / "pages" / "assets" / "charts.js").read_text("utf-8")

    def styles(part: object) -> set[str]:
        if isinstance(part, dict):
            own = {part["style"]} if isinstance(part.get("style"), str) else set()
            return own.union(*(styles(value) for value in part.values()))
        return set().union(*(styles(value) for value in part)) if isinstance(part, list) else set()

    for style in styles(LAYOUTS):
        assert f"{style}: {{" in script


@pytest.mark.parametrize(
    ("label", "delivered", "upper", "aligned"),
    [
        pytest.param(90.0, 91.3, "delivered", "right", id="a little above the label"),
        pytest.param(100.0, 86.8, "label", "right", id="below the label"),
        pytest.param(100.0, 20.0, "delivered", "left", id="so little that there is no room on the left"),
    ],
)
def test_of_two_upright_lines_the_words_of_neither_meet_the_other(
    label: float, delivered: float, upper: str, aligned: str
) -> None:
    text = charts.upright_lines((label, "label", "label"), (delivered, "delivered", "delivered"), 105.0)
    rows = list(csv.DictReader(io.StringIO(text)))
    top, below = sorted(rows, key=lambda row: float(row["top"]))
    assert (top["kind"], top["align"]) == (upper, aligned)
    # The upper row's line is the only one that reaches the lower row's height: it must lie outside those words.
    if below["align"] == "right":
        assert float(top["at"]) >= float(below["at"]) or top["align"] == "left"
    else:
        assert float(top["at"]) <= float(below["at"])


@given(st.text(max_size=40))
def test_foreign_names_stay_inside_their_cell_and_inside_the_script_element(name: str) -> None:
    measured = Measured(value=0.98, unit="1", components={"gain": Component(0.005)})
    chart = charts.shares_of_label([charts.Share(name=name, measured=measured, words="98 %")])
    assert "</" not in chart.json
    assert "<!--" not in chart.json
    rows = list(csv.reader(io.StringIO(json.loads(chart.json)["datasets"]["shares"])))
    assert len(rows) == 2
    assert rows[1][1].replace("\r", "\n").split() == name.replace("\r", "\n").split()


def test_thinned_curve_keeps_its_ends_and_its_bend() -> None:
    charge, voltage = curve()
    rows = [line.split(",") for line in charts.curve_csv(0, (charge, voltage)).splitlines()]
    assert len(rows) <= 40
    assert [float(cell) for cell in rows[0][1:3]] == [0.0, 13.2]
    assert float(rows[-1][1]) == 90.0
    assert any(abs(float(row[1]) - 85.5) < 0.5 for row in rows)


def test_discharge_shows_the_volts_of_a_working_battery_only() -> None:
    """A log that goes on after the cut-off ends at 0 V; the picture does not."""
    charge, voltage = curve(end_v=0.0)
    chart = charts.discharge(
        (charge, voltage), "", nominal_v=12.8, label=(90.0, "label 90 Ah"), delivered=(90.0, "delivered 90 Ah")
    )
    assert chart.numbers["bottom"] == 13
    assert chart.numbers["top"] == 14


def test_hours_of_an_open_bound_end_where_is_sure_and_stay_finite() -> None:
    bars = [
        charts.Hours(name="pump", value=3.5, low=2.8, high=4.3, bound="between", look="measured", words="between"),
        charts.Hours(
            name="fridge", value=20, low=20, high=math.inf, bound="at_least", look="measured", words="at least"
        ),
    ]
    chart = charts.hours(bars)
    rows = list(csv.DictReader(io.StringIO(chart.datasets["hours"])))
    assert [float(row["end"]) for row in rows] == [2.8, 20]
    assert "inf" not in chart.datasets["hours"]
    left, right = chart.numbers["left"], chart.numbers["right"]
    assert isinstance(left, float)
    assert isinstance(right, float)
    assert left < 2.8
    assert right > 20


def test_steps_outside_the_time_axis_are_drawn_at_its_edge() -> None:
    steps = [
        charts.Step(current_a=110, low_s=1800, high_s=math.inf, tripped=False),
        charts.Step(current_a=210, low_s=0.0, high_s=0.3, tripped=True),
    ]
    chart = charts.carrying(steps, label=(90.0, "label 90 A"), curve=[(5.0, 120.0), (1e9, 100.0)])
    rows = list(csv.DictReader(io.StringIO(chart.datasets["steps"])))
    assert all(0 < float(row["low"]) <= float(row["high"]) < math.inf for row in rows)
    assert chart.datasets["curve"].count("\n") == 2


def test_steps_without_any_current_have_an_axis_all_the_same() -> None:
    step = charts.Step(current_a=0.0, low_s=1800, high_s=math.inf, tripped=False)
    numbers = charts.carrying([step], label=None).numbers
    assert (numbers["bottom"], numbers["top"]) == (0.8, 1.15)


def test_overload_marks_what_was_left_out_apart_and_brackets_as_bands() -> None:
    steps = [
        charts.Step(current_a=110, low_s=1800, high_s=math.inf, tripped=False),
        charts.Step(current_a=124, low_s=4, high_s=4, tripped=True),
        charts.Step(current_a=90, low_s=60, high_s=60, tripped=True, used=False),
    ]
    bands = [charts.Band(time_s=30, low_a=110, high_a=124), charts.Band(time_s=1e6, low_a=1, high_a=2)]
    chart = charts.carrying(steps, label=(90.0, "label 90 A"), brackets=bands)
    looks = [row["look"] for row in csv.DictReader(io.StringIO(chart.datasets["steps"]))]
    assert looks == ["held", "tripped", "left out"]
    assert chart.datasets["bands"] == "time,low,high\n30,110,124\n", "a band beyond the axis is not drawn"
    currents = chart.numbers["currents"]
    assert isinstance(currents, list)
    assert len(currents) >= 3
    assert all(float(chart.numbers["bottom"]) <= mark <= float(chart.numbers["top"]) for mark in currents)  # type: ignore[arg-type]


def test_warming_has_temperatures_model_currents_and_moments_on_one_axis() -> None:
    time = np.array([0.0, 30.0, 60.0])
    chart = charts.warming(
        (time, np.array([-14.0, -4.0, 6.0])),
        [(time, np.array([6.0, 6.0, 20.0])), (time, np.array([0.0, 0.0, 19.0]))],
        [(0.0, "heater on"), (55.0, "accepted")],
        (time, np.array([-14.0, -3.5, 6.2])),
        by_hand=False,
    )
    looks = [row["look"] for row in csv.DictReader(io.StringIO(chart.datasets["warming"]))]
    assert looks == ["b"] * 2 + ["m"] * 3, "a line needs its ends and its bends"
    assert [row["look"] for row in csv.DictReader(io.StringIO(chart.datasets["currents"]))] == ["b"] * 3 + ["o"] * 3
    moments = list(csv.DictReader(io.StringIO(chart.datasets["moments"])))
    # An earlier moment's words stand higher, so that a later one's line, which starts lower, never meets them.
    assert [row["words"] for row in sorted(moments, key=lambda row: float(row["top"]))] == ["heater on", "accepted"]
    assert (chart.numbers["bottom"], chart.numbers["top"]) == (-15, 10)


def test_hours_of_a_run_that_was_stopped_have_words_and_no_length() -> None:
    bars = [
        charts.Hours(name="saw", value=0, low=0, high=0, bound="exact", look="stopped", words="tripped after 3 to 5 s"),
        charts.Hours(name="fridge", value=20, low=19, high=21, bound="exact", look="projected", words="20 h"),
    ]
    chart = charts.hours(bars)
    rows = list(csv.DictReader(io.StringIO(chart.datasets["hours"])))
    assert rows[0]["start"] == rows[0]["end"]
    assert [row["look"] for row in rows] == ["stopped", "projected"]
