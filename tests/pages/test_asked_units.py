"""What scripts know of ids that an address may hold."""

from __future__ import annotations

from pathlib import Path

import pytest

from site_builder.build import derive_all
from site_builder.derived import Derived
from site_builder.pages.asked_units import asked_units
from tests.small_project import UNIT, log_text, small_project

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def demo() -> Derived:
    return derive_all(ROOT / "results", ROOT / "catalogue").derived


def test_former_ids_lead_on_and_what_has_no_results_is_told(demo: Derived) -> None:
    published = {unit.id for unit in demo.units if unit.record.unit.status == "published"}
    assert asked_units(demo, published) == {
        "moved": {"thrushby-100": "thrushby-t100"},
        "without": {
            "gannetholm-g24": "Gannetholm G24: withdrawn",
            "larkstile-l200": "Larkstile L200: planned, not tested yet",
        },
    }


def test_one_that_was_tested_for_something_else_is_told_so(demo: Derived) -> None:
    assert asked_units(demo, ())["without"]["ferngate-f90"] == "Ferngate F90: not tested for this"


def test_nothing_tells_of_what_is_embargoed(tmp_path: Path) -> None:
    project = small_project(tmp_path)
    project.unit(UNIT.replace("model: T90", "model: T90, former_ids: [tarn-90], status: embargoed"))
    project.log(log_text())
    derived = derive_all(project.results, project.catalogue).derived
    assert asked_units(derived, ()) == {"moved": {}, "without": {}}
