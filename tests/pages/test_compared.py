"""The data that batteries are compared by: what is there, what may be compared, and that foreign text stays text."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from site_builder.build import derive_all
from site_builder.derived import Derived
from site_builder.measured import Component, Measured
from site_builder.pages.compare_page import compare_page
from site_builder.pages.compared import Cell, compared_rows, number_entry, questions_of
from site_builder.pages.compared_curves import compared_curves, curve_limits, warmed
from site_builder.pages.rendering import render_page
from site_builder.publish.compare_files import compare_files
from tests.small_project import UNIT, log_text, small_project

ROOT = Path(__file__).parents[2]
HOSTILE = "<img src=x onerror=alert(1)></script>"


@pytest.fixture(scope="module")
def demo() -> Derived:
    return derive_all(ROOT / "results", ROOT / "catalogue").derived


def cells(demo: Derived, unit_id: str) -> dict[str, Cell]:
    unit = next(unit for unit in demo.units if unit.id == unit_id)
    rows = [row for question in questions_of(demo) for row in question.rows]
    return {row.key: cell for row in rows if (cell := row.cell(unit))}


def test_questions_stand_in_the_order_of_a_units_page(demo: Derived) -> None:
    anchors = [question.anchor for question in questions_of(demo)]
    assert anchors == ["runs", "label", "carries", "cold", "idle", "build", "cost", "grade"]


def test_a_number_travels_with_what_its_difference_needs() -> None:
    components = {
        "gain:quay/shunt": Component(0.2108, limit=0.3654),
        "repeat:tarn/run": Component(0.274, dof=4.0),
        "noise:tarn/run": Component(0.001),
    }
    one = Measured(value=91.34, unit="Ah", components=components)
    assert number_entry(one) == {
        "value": 91.34,
        "unit": "Ah",
        "components": {
            "gain:quay/shunt": [0.2108, 0.3654],
            "noise:tarn/run": [0.001],
            "repeat:tarn/run": [0.274, None, 4.0],
        },
    }
    between = number_entry(Measured(value=1, unit="A", bound="between", low=1, high=math.pi))
    assert (between["bound"], between["low"], between["high"]) == ("between", 1, 3.14159265)
    assert number_entry(Measured(value=98, unit="Ah", basis="as_read"))["vague"] is True


def test_what_was_not_made_at_the_reference_is_told_and_not_compared(demo: Derived) -> None:
    ours, theirs = cells(demo, "saltby-100"), cells(demo, "tolgate-100l")
    assert ours["delivered_ah"].number is None
    assert ours["delivered_ah"].note == "off the reference"
    assert ours["comparable_ah"].number is not None
    assert theirs["delivered_ah"].number is not None


def test_in_the_cold_refusal_and_acceptance_enclose_where_charging_begins(demo: Derived) -> None:
    arnwick = cells(demo, "arnwick-polar")["cold"].number
    assert arnwick is not None
    assert (arnwick.bound, arnwick.unit) == ("between", "°C")
    assert arnwick.low is not None
    assert arnwick.high is not None
    assert arnwick.low < 0 < arnwick.high
    nettle = cells(demo, "nettle-95")["cold"].number
    assert nettle is not None
    assert nettle.bound == "at_most"
    assert cells(demo, "ferngate-f90")["cold"].number is None, "it still accepted below where it had refused"


def test_only_published_units_have_data(demo: Derived) -> None:
    files = compare_files(demo)
    assert {"data/compare/ferngate-f90.js", "data/compare/index.js", "data/student-t.js"} < set(files)
    for hidden in ("larkstile-l200", "gannetholm-g24"):
        assert f"data/compare/{hidden}.js" not in files
        assert hidden not in files["data/compare/index.js"]


def test_a_thousand_names_fit_into_one_index(demo: Derived) -> None:
    held = compare_files(demo)["data/compare/index.js"]
    index = json.loads(held.partition("=")[2].rstrip(";\n"))
    units = [unit for _, members in index["classes"] for unit in members]
    bytes_each = len(json.dumps(units, separators=(",", ":"))) / len(units)
    assert 1000 * bytes_each < 60_000


def test_foreign_text_stays_text(tmp_path: Path) -> None:
    project = small_project(tmp_path)
    project.unit(UNIT.replace("maker: Tarn", f'maker: "{HOSTILE}"'))
    project.log(log_text(hours=4.5))
    derived = derive_all(project.results, project.catalogue).derived
    files = compare_files(derived)
    assert files
    assert not [name for name, text in files.items() if "</script" in text]
    rows = compared_rows(derived.units[0], questions_of(derived))
    assert not [words for words, *_ in rows.values() if "<img" in words]


def test_curves_are_thin_and_keep_their_ends(demo: Derived) -> None:
    unit = next(unit for unit in demo.units if unit.id == "ferngate-f90")
    curves = compared_curves(unit)
    assert set(curves) == {"discharge", "warming", "carrying"}
    charge, voltage = curves["discharge"]
    assert len(charge) == len(voltage) < 60
    assert charge[0] == 0
    assert charge[-1] == pytest.approx(unit.result.metrics["delivered_ah"].value, rel=1e-3)
    assert charge == sorted(charge)
    assert {look for *_, look, _ in curves["carrying"]} == {"tripped", "held"}
    assert all(limit > 0 for *_, limit in curves["carrying"])
    assert set(curve_limits(unit)) == {"discharge", "warming"}
    assert " ± " in (warmed(unit) or "")


def test_a_unit_without_tests_has_words_of_its_label_alone(tmp_path: Path) -> None:
    project = small_project(tmp_path)
    project.unit(UNIT.partition("tests:")[0])
    derived = derive_all(project.results, project.catalogue).derived
    rows = compared_rows(derived.units[0], questions_of(derived))
    assert "label_ah" in rows
    assert "delivered_ah" not in rows
    assert compared_curves(derived.units[0]) == {}


def test_the_page_leads_to_the_classes_without_scripts(demo: Derived) -> None:
    html = render_page(compare_page(demo))
    without = html.partition('<div class="without">')[2].partition("</div>")[0]
    assert without.count('<a href="../classes/') == sum(bool(demo.of_class(name)) for name in demo.catalogue.classes)
