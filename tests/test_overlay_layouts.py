"""Layouts of overlaid curves are valid, and every style in them is one that charts.js knows."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import altair as alt
import pytest

from site_builder.overlay_layouts import WHO, overlay_layouts

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
    for _, _, spec in LAYOUTS:
        assert set(re.findall(r'"style": "(\w+)"', json.dumps(spec))) == {*WHO, "words"}


# Okabe and Ito (2008), Color Universal Design: the eight colours, as hexadecimal from memory.
PALETTE = {"#000", "#e69f00", "#56b4e9", "#009e73", "#f0e442", "#0072b2", "#d55e00", "#cc79a7"}


def test_colours_are_of_the_palette_and_differ_in_light_and_in_dark() -> None:
    sheet = (ASSETS / "compare.css").read_text("utf-8")
    for block in re.findall(r"\{([^{}]*--first:[^{}]*)\}", sheet):
        colours = re.findall(r"--(?:first|second|third|fourth): (#[0-9a-f]+)", block)
        assert len(colours) == len(set(colours)) == len(WHO)
        assert set(colours) <= PALETTE
