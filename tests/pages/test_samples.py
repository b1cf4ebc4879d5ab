"""A figure that is not the first sample's names its sample, wherever it stands; and the captions' numbers have a ±."""

from __future__ import annotations

import re

import pytest

from site_builder.build import derive_all
from site_builder.frames import frames_of
from site_builder.pages import render_pages
from tests.pages.test_pages import ROOT, text_of


@pytest.fixture(scope="module")
def demo_pages() -> dict[str, str]:
    demo = derive_all(ROOT / "results", ROOT / "catalogue").derived
    return render_pages(demo, frames_of(demo))


@pytest.mark.parametrize(
    ("unit", "says"),
    [
        ("arnwick-polar", "accepted it from 5.4 ± 0.8 °C (sample pinder)."),
        ("arnwick-polar", "Ran the microwave oven for 7 min (sample pinder)."),
        ("arnwick-polar", "All of that was sample pinder."),
        ("arnwick-polar", "Mass (sample pinder)"),
        ("arnwick-polar", "Down to its end voltage it can give at least 1 190 W (sample pinder)."),
        ("arnwick-polar", "On sample pinder were: pinder capacity, freezer, overload, microwave and box."),
        ("thrushby-t100", "All of that was sample b."),
        ("thrushby-t100", "under the 100 A that its label allows (sample b)."),
        ("thrushby-t100", "b pulses, sample b, 30 s at 20 A"),
    ],
)
def test_another_samples_figures_name_it(demo_pages: dict[str, str], unit: str, says: str) -> None:
    assert says in text_of(demo_pages[f"units/{unit}.md"])


def test_the_first_samples_figures_and_a_single_samples_name_none(demo_pages: dict[str, str]) -> None:
    arnwick = text_of(demo_pages["units/arnwick-polar.md"])
    assert "Delivered 100 ± 2 Ah, its label, as far as these instruments can tell." in arnwick
    nettle = text_of(demo_pages["units/nettle-95.md"])
    assert "sample" not in nettle.split("What does it run, and")[1].split("How good is the evidence")[0]


@pytest.mark.parametrize(
    ("unit", "says"),
    [
        (
            "ferngate-f90",
            r"13\.177 ± 0\.016 V after a tenth of what it delivered, 12\.630 ± 0\.016 V after nine tenths",
        ),
        ("ferngate-f90", r"From −14\.0 ± 0\.5 °C to 6\.4 ± 0\.5 °C in 57\.92 ± 0\.08 min"),
        ("ferngate-f90", r"Three pulses found in the log: shaded"),
        ("arnwick-polar", r"From −17\.5 ± 0\.8 °C to 5\.4 ± 0\.8 °C in 57\.0 ± 1\.0 min"),
    ],
)
def test_captions_carry_their_limits(demo_pages: dict[str, str], unit: str, says: str) -> None:
    assert re.search(says, text_of(demo_pages[f"units/{unit}.md"]))
