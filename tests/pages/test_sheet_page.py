"""What a bench sheet says where its label says little."""

from __future__ import annotations

from pathlib import Path

import pytest

from site_builder.build import derive_all
from site_builder.pages.sheet_page import SheetStep, sheet_pages
from tests.small_project import small_project

UNIT = """\
unit: {{id: pike-p6, maker: Pike, model: P6, status: planned}}
label: {{chemistry: LiFePO4, nominal_v: 12.8, {label}}}
"""


def step(tmp_path: Path, label: str, number: str) -> SheetStep:
    project = small_project(tmp_path / "project")
    project.unit(UNIT.format(label=label), "pike-p6.yml")
    pages = {page.id: page for page in sheet_pages(derive_all(project.results, project.catalogue).derived)}
    return next(one for one in pages["pike-p6"].steps if one.heading.startswith(number))


@pytest.mark.parametrize(
    ("label", "says"),
    [
        ("capacity_ah: 6", "none is small enough: take at most 1.2 A, a fifth of its capacity per hour"),
        (
            "capacity_ah: 100, charge: {max_a: 3}",
            "take at most 3 A, the largest charging current that its label names.",
        ),
        ("capacity_ah: 100", "the smallest charger first: 5 A, 10 A and 20 A; five minutes each."),
    ],
)
def test_a_cold_battery_is_charged_with_what_it_can_take(tmp_path: Path, label: str, says: str) -> None:
    words = " ".join(str(one) for one in step(tmp_path, label, "8.").says)
    assert says in words
    assert ("none is small enough" in words) == ("take at most" in says)


def test_without_a_continuous_current_there_are_no_steps_and_it_says_why(tmp_path: Path) -> None:
    why = "Its label names no continuous current, so there are no steps to hold."
    assert why in step(tmp_path / "a", "capacity_ah: 100", "7.").says
    named = step(tmp_path / "b", "capacity_ah: 100, continuous_discharge_a: 100", "7.")
    assert named.table is not None
    assert why not in named.says
