"""The data that batteries are compared by: what is there, what may be compared, and that foreign text stays text."""

from __future__ import annotations

import json
import math
import re
from html import unescape
from pathlib import Path

import pytest

from site_builder.build import derive_all
from site_builder.derived import Derived
from site_builder.measured import Component, Measured
from site_builder.pages.compare_page import compare_page
from site_builder.pages.compared import absent_words, compared_rows, questions_of
from site_builder.pages.compared_cells import Cell, entry, number_entry
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
    anchors = [question.of.anchor for question in questions_of(demo)]
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
        # Whoever asks for them is told why they are not there; they cannot be chosen.
        assert hidden not in files["data/compare/index.js"].partition('"without"')[0]


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
    words = warmed(unit) or ""
    assert words.startswith("from <data value=-14±")
    assert words.count("°C</span></data>") == 2, "in whatever unit the reader chose"


def test_a_unit_without_tests_has_words_of_its_label_alone(tmp_path: Path) -> None:
    project = small_project(tmp_path)
    project.unit(UNIT.partition("tests:")[0])
    derived = derive_all(project.results, project.catalogue).derived
    rows = compared_rows(derived.units[0], questions_of(derived))
    assert "label_ah" in rows
    assert "delivered_ah" not in rows
    assert compared_curves(derived.units[0]) == {}


def test_the_page_leads_to_the_units_own_pages_without_scripts(demo: Derived) -> None:
    html = render_page(compare_page(demo))
    without = html.partition('<div class="without">')[2].partition("</div>")[0]
    assert without.count('<a href="../classes/') == sum(bool(demo.of_class(name)) for name in demo.catalogue.classes)
    for unit in demo.units:
        is_there = f'<a href="../units/{unit.id}/">' in without
        assert is_there == (unit.record.unit.status == "published"), unit.id


def plain(words: str) -> str:
    return re.sub(r"<[^>]*>", "", words.replace("<br>", "; ")).replace("\xa0", " ").replace("\u202f", " ")


@pytest.mark.parametrize(
    ("unit", "load", "words"),
    [
        ("ferngate-f90", "cold-box", "ran 47.08 ± 0.01 h (seen); 48.8 ± 2.0 h (projected)"),
        ("ferngate-f90", "table-saw", "tripped after 3 to 5 s (seen)"),
        ("ferngate-f90", "kettle", "ran 20 ± 5 min, with the induction hob (seen)"),
        ("ferngate-f90", "fridge", "20.4 ± 0.6 h (projected)"),
        ("tolgate-100l", "table-saw", "ran 2.0 ± 0.5 min (seen)"),
        ("tolgate-100l", "anchor-winch", "starts (projected)"),
        ("ferngate-f90", "compressor", "borderline (projected)"),
        ("quern-12-100", "compressor", "tripped after 6 to 10 s (seen)"),
        ("saltby-100", "dehumidifier", "ran at least 3.6 h (seen); at least 3.46 h (projected)"),
    ],
)
def test_a_load_says_what_was_seen_first_and_then_what_is_projected(
    demo: Derived, unit: str, load: str, words: str
) -> None:
    assert plain(cells(demo, unit)[f"load-{load}"].words) == words


def test_what_was_seen_leads_to_its_test(demo: Derived) -> None:
    words = cells(demo, "ferngate-f90")["load-cold-box"].words
    assert words.startswith('<a href="../units/ferngate-f90/#test-cold-box-days">ran ')


def test_a_load_that_nobody_tried_and_no_sum_can_tell_is_not_known(demo: Derived) -> None:
    assert "load-laptop" not in cells(demo, "quern-12-100")
    missing = {row.key: row.missing for question in questions_of(demo) for row in question.rows}
    assert missing["load-laptop"] == "not known"
    assert missing["delivered_ah"] == "not tested"
    index = compare_files(demo)["data/compare/index.js"]
    assert '["load-laptop","Laptop","not known"]' in index


@pytest.mark.parametrize(
    ("unit", "key", "said"),
    [
        ("nettle-95", "heater_w", "no heater"),
        ("nettle-95", "heater_wh", "no heater"),
        ("nettle-95", "standard_warm_up_s", "no heater"),
        ("arnwick-polar", "heater_w", "not tested"),
        ("quern-12-100", "label_a", "not said by its label"),
        ("quern-12-100", "ingress", "not said by its label"),
        ("quern-12-100", "warranty", "not said by its label"),
        ("ludgill-agm100", "score", "too little tested"),
        ("ludgill-agm100", "place", "none"),
        ("quern-12-100", "price_per_kwh", "not tested"),
    ],
)
def test_not_tested_is_said_only_of_what_a_test_could_tell(demo: Derived, unit: str, key: str, said: str) -> None:
    assert key not in cells(demo, unit)
    assert said_without(demo, unit, key) == said


def said_without(demo: Derived, unit_id: str, key: str) -> str:
    """What the browser puts where the unit has nothing."""
    asked = questions_of(demo)
    unit = next(unit for unit in demo.units if unit.id == unit_id)
    row = next(row for question in asked for row in question.rows if row.key == key)
    return absent_words(unit, asked).get(key, row.missing)


def test_without_a_price_there_is_none_per_kwh(tmp_path: Path) -> None:
    project = small_project(tmp_path)
    project.unit(UNIT)
    project.log(log_text(hours=4.5))
    (project.results / "prices.csv").unlink()
    derived = derive_all(project.results, project.catalogue).derived
    assert derived.units[0].result.price is None
    assert said_without(derived, derived.units[0].id, "price") == "not known"
    for key in ("price_per_kwh", "life_price_per_kwh"):
        assert said_without(derived, derived.units[0].id, key) == "no price"


def test_a_capped_score_that_is_one_number_is_said_once(demo: Derived) -> None:
    assert plain(cells(demo, "nettle-95")["score"].words).startswith("40, capped: ")
    assert plain(cells(demo, "wendlecote-w100")["score"].words).startswith("55, 47 to 60, capped: ")


def test_hours_seen_and_hours_projected_are_two_numbers(demo: Derived) -> None:
    cell = cells(demo, "ferngate-f90")["load-cold-box"]
    assert cell.number is not None
    assert cell.seen is not None
    assert (cell.number.basis, cell.seen.basis) == ("projected", "measured")
    _, number, note, seen = entry(cell)
    assert (number["of"], number["unit"], note, seen["of"], seen["unit"]) == ("projected", "h", "", "seen", "s")
    assert cells(demo, "tolgate-100l")["load-cold-box"].seen is None
    assert cells(demo, "ferngate-f90")["load-kettle"].seen is None, "a run that was ended early is no whole charge"
    assert cells(demo, "ferngate-f90")["load-table-saw"].number is None


def test_what_is_worked_out_with_a_labels_number_is_as_vague_as_the_label(demo: Derived) -> None:
    kelderby, otterfold, ferngate = (cells(demo, name) for name in ("kelderby-k280", "otterfold-of200", "ferngate-f90"))
    for cell in (otterfold["mass_kg"], otterfold["wh_per_kg"], kelderby["volume_l"], kelderby["wh_per_l"]):
        assert cell.number is not None
        assert number_entry(cell.number)["vague"] is True
    assert unescape(kelderby["wh_per_l"].note) == "with its label's size, no ±"
    for name in ("wh_per_kg", "wh_per_l"):
        measured = ferngate[name].number
        assert measured is not None
        assert "vague" not in number_entry(measured)


def test_a_resistance_names_the_circumstances_of_its_own_test_alone(demo: Derived) -> None:
    note = cells(demo, "ferngate-f90")["resistance"].note
    assert note == "10 s at 18 A, then 1 s at 90.2 A, at 80 % charge, at <data value=22°C>22 °C</data>"
