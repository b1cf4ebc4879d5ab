"""Layouts of overlaid curves are valid, and every style in them is one that charts.js knows."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import altair as alt
import pytest

from site_builder.overlay_layouts import ROOM, ROOM_NARROW, WHO, overlay_layouts

ASSETS = Path(__file__).parent.parent / "catalogue/pages/assets"
LAYOUTS = [(kind, width, spec) for kind, both in overlay_layouts().items() for width, spec in both.items()]


@pytest.mark.parametrize(("kind", "width", "spec"), LAYOUTS, ids=[f"{kind}-{width}" for kind, width, _ in LAYOUTS])
def test_layouts_are_valid_vega_lite(kind: str, width: str, spec: dict[str, Any]) -> None:
    """Validated by altair against the published schema of Vega-Lite."""
    del kind, width
    alt.LayerChart.from_dict(spec)


def test_each_battery_has_a_look_of_its_own_by_colour_and_by_dashes() -> None:
    script = (ASSETS / "charts.js").read_text("utf-8")
    looks = [look for who in WHO for look in re.findall(rf"\b{who}: \{{([^}}]*)\}}", script)]
    assert [f"var(--{who})" in look for who, look in zip(WHO, looks, strict=True)] == [True] * len(WHO)
    assert len({look.partition("strokeDash")[2] for look in looks}) == len(WHO)
    for kind, _, spec in LAYOUTS:
        assert set(re.findall(r'"style": "(\w+)"', json.dumps(spec))) == {*WHO, "words"} | (
            {"grid"} if kind == "overloads" else set()
        )


@pytest.mark.parametrize(
    ("kind", "titles"),
    [
        ("discharges", {"Charge delivered", "Voltage"}),
        ("warmings", {"Time", "Temperature"}),
        ("overloads", {"Time", "Current"}),
    ],
)
def test_each_axis_names_its_quantity_and_each_of_its_marks_its_unit(kind: str, titles: set[str]) -> None:
    for spec in overlay_layouts()[kind].values():
        axes = [place["axis"] for layer in spec["layer"] for place in layer["encoding"].values() if place.get("axis")]
        assert {axis.get("title") for axis in axes} == titles
        assert all("\u202f" in axis["labelExpr"] for axis in axes)


def test_levels_of_the_overload_picture_end_before_the_names() -> None:
    for width, spec in overlay_layouts()["overloads"].items():
        (levels,) = (layer for layer in spec["layer"] if layer["data"]["name"] == "levels")
        room = ROOM_NARROW if width == "narrow" else ROOM
        assert levels["mark"]["x2"] == {"expr": f"width - {room}"}


# Okabe and Ito (2008), Color Universal Design: the eight colours, as hexadecimal from memory.
PALETTE = {"#000", "#e69f00", "#56b4e9", "#009e73", "#f0e442", "#0072b2", "#d55e00", "#cc79a7"}


def test_colours_are_of_the_palette_and_differ_in_light_and_in_dark() -> None:
    sheet = (ASSETS / "compare.css").read_text("utf-8")
    for block in re.findall(r"\{([^{}]*--first:[^{}]*)\}", sheet):
        colours = re.findall(r"--(?:first|second|third|fourth): (#[0-9a-f]+)", block)
        assert len(colours) == len(set(colours)) == len(WHO)
        assert set(colours) <= PALETTE
