"""What browsers answer from: complete, finite, short enough for a thousand batteries, and harmless."""

from __future__ import annotations

import gzip
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from site_builder.asking import CUT_OFFS_V, short
from site_builder.build import derive_all
from site_builder.derive.runtime import share_above
from site_builder.derived import Derived
from site_builder.pages.runtime_data import runtime_data
from site_builder.publish.browser_data import data_script
from site_builder.publish.chooser_files import chooser_files
from tests.small_project import UNIT, Project, small_project

ROOT = Path(__file__).parent.parent
# This project's judgement of what a phone may fetch for one page of a catalogue of a thousand batteries.
THOUSAND_BYTES = 300_000


@pytest.fixture(scope="module")
def demo() -> Derived:
    return derive_all(ROOT / "results", ROOT / "catalogue").derived


@pytest.fixture
def project(tmp_path: Path) -> Project:
    return small_project(tmp_path)


def data(project: Project) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(json.dumps(runtime_data(derive_all(project.results, project.catalogue).derived)))
    return found


def test_only_published_batteries_are_in_it(project: Project) -> None:
    assert [unit["id"] for unit in data(project)["units"]] == ["tarn-t90"]
    project.unit(UNIT.replace("model: T90}", "model: T90, status: testing}"))
    assert data(project)["units"] == []


def test_a_load_says_what_it_is_made_for(project: Project) -> None:
    loads = data(project)["loads"]
    assert (loads["bilge-pump"]["volts"], loads["bilge-pump"]["mains"]) == ([12], False)
    assert (loads["kettle"]["volts"], loads["kettle"]["mains"]) == ([], True)
    assert loads["kettle"]["says"] == "900\u202fW"


def test_the_error_of_many_sources_stays_what_it_was(demo: Derived) -> None:
    """Sources without a limit are one: together they are as large as they were."""
    for unit in demo.units:
        supply = unit.result.known.supply if unit.result.known else None
        if supply is None or unit.id not in demo.asked.units:
            continue
        sources = demo.asked.units[unit.id]["supply"]["sources"]
        assert sum(one[0] ** 2 for one in sources.values()) ** 0.5 == pytest.approx(supply.energy.u, rel=1e-9)
        assert len(sources) <= len(supply.energy.components)


def test_shares_above_a_cut_off_are_those_of_the_curve(demo: Derived) -> None:
    (unit,) = (unit for unit in demo.units if unit.id == "ferngate-f90")
    known = unit.result.known
    assert known is not None
    assert known.supply is not None
    assert known.supply.curve is not None
    above = demo.asked.units[unit.id]["supply"]["above"]
    for volts in CUT_OFFS_V:
        assert above.get(f"{volts:g}", 1.0) == short(share_above(known.supply.curve, volts))
    assert above["12"] < 1


def test_no_name_of_a_battery_ends_the_script(project: Project) -> None:
    project.unit(UNIT.replace("model: T90", 'model: "</script><img src=x>"'))
    derived = derive_all(project.results, project.catalogue).derived
    assert all("</script" not in text for text in chooser_files(derived).values())


def test_a_thousand_batteries_are_a_short_file(demo: Derived) -> None:
    """Each under its own numbers, lest they compress as copies of one another."""
    several = runtime_data(demo)
    units = several["units"]
    many = [_varied(units[i % len(units)], i) for i in range(1000)]
    text = data_script("runtimeData", several | {"units": many})
    assert len(gzip.compress(text.encode())) <= THOUSAND_BYTES


def _varied(unit: dict[str, Any], number: int) -> dict[str, Any]:
    def other(value: Any) -> Any:
        if isinstance(value, float):
            return short(value * (1 + number / 7919))
        if isinstance(value, list):
            return [other(one) for one in value]
        return {key: other(one) for key, one in value.items()} if isinstance(value, dict) else value

    return {key: other(value) for key, value in unit.items()} | {"id": f"{unit['id']}-{number}"}


def test_a_catalogue_without_a_grading_has_nothing_to_weigh(project: Project) -> None:
    derived = derive_all(project.results, project.catalogue).derived
    assert set(chooser_files(derived)) == {"data/runtime.js"}


def test_the_data_does_not_depend_on_the_order_of_the_units(demo: Derived) -> None:
    turned = replace(demo, units=tuple(reversed(demo.units)))
    assert chooser_files(turned)["data/runtime.js"] == chooser_files(demo)["data/runtime.js"]
