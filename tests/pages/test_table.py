"""The table of all units as its page and its script get it: rows, what they sort by and are asked, sizes."""

from __future__ import annotations

import gzip
import json
import math
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import html5lib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from site_builder.build import derive_all
from site_builder.derive.overload import Point
from site_builder.derive.results import LoadAnswer, SeenRun
from site_builder.derived import Derived
from site_builder.frames import frames_of
from site_builder.measured import Component, Measured
from site_builder.pages.class_page import class_page
from site_builder.pages.home_page import home_page, units_table
from site_builder.pages.rendering import render_page
from site_builder.pages.table_loads import MOST_IN_SET
from site_builder.pages.table_questions import limits, loads, points
from site_builder.pages.table_views import ROWS_IN_PAGE, Bar, SortCell, cut
from site_builder.pages.text import quantity
from site_builder.publish.browser_data import data_script
from site_builder.standing import standings
from tests.many_units import many_units
from tests.pages.test_pages import html_of

ROOT = Path(__file__).parents[2]
# A page's own head, header and footer pack into 6 kB (measured on the demo); this leaves room for twice that.
SHELL_KB, TABLE_PAGE_KB = 12, 150


@pytest.fixture(scope="module")
def demo() -> Derived:
    return derive_all(ROOT / "results", ROOT / "catalogue").derived


@pytest.fixture(scope="module")
def data(demo: Derived) -> dict[str, Any]:
    return units_table(demo, frames_of(demo)).for_script


@pytest.fixture(scope="module")
def five_hundred(demo: Derived) -> Derived:
    return many_units(demo, 500)


def cell_of(data: dict[str, Any], name: str, key: str) -> list[Any]:
    place = [column["key"] for column in data["columns"]].index(key)
    (row,) = (row for row in data["rows"] if row["name"] == name)
    cell: list[Any] = row["cells"][place]
    return cell


def plain(html: str) -> str:
    return re.sub("<[^>]*>", "", html).replace("\xa0", " ").replace("\u202f", " ")


def test_a_number_sorts_by_its_value_a_bound_by_its_sure_end_and_nothing_by_nothing(data: dict[str, Any]) -> None:
    words, value, spread, *_ = cell_of(data, "Ferngate F90", "delivered_wh")
    assert (words, value, spread) == (0, pytest.approx(1181, abs=1), pytest.approx(10, abs=1))
    words, value, spread, kind, bar = cell_of(data, "Saltby 100", "delivered_wh")
    assert words == "at least 1\u202f190"
    assert 1190 <= value < 1200
    assert (spread, kind, bar[-1]) == (None, 1, 1)
    words, value, *_ = cell_of(data, "Saltby 100", "price_per_kwh")
    assert words == "at most 218"
    assert 217 < value <= 218
    (words,) = cell_of(data, "Quern 12-100", "delivered_wh")
    assert "not tested" in words


def test_what_is_known_in_part_is_told_from_what_is_not_known_and_from_what_is_not_there(data: dict[str, Any]) -> None:
    assert data["last"] == ["known in part", "evidence not kept"]
    words, value, _, kind = cell_of(data, "Wendlecote W100", "charging_cold")
    assert words.startswith("refused at")
    assert (value, kind) == (-9.1, 1)
    assert cell_of(data, "Nettle 95", "score")[1:4] == [40.0, None, None], "a capped score is exact"
    assert plain(cell_of(data, "Nettle 95", "score")[0]) == "40 capped"
    words, value, *_, bar = cell_of(data, "Wendlecote W100", "score")
    assert plain(words) == "55 47 to 60, capped"
    low, high = bar[1:3]
    assert 47 <= low < value < high == 60
    assert cell_of(data, "Nettle 95", "heater_w") == ['<span class="missing">no heater</span>']
    assert cell_of(data, "Otterfold OF200", "cut_off_a") == ['<span class="missing">none seen</span>']
    lacks = {column["key"]: column["lacks"] for column in data["columns"] if column["lacks"]}
    assert lacks == {"score": "no score", "place": "no place"}


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("Tolgate 100L", "refused up to 7.8 ± 0.5 °C, then accepted down to 2.2 ± 0.5 °C"),
        ("Ferngate F90", "refused up to 6.1 ± 0.5 °C, then accepted down to 2.6 ± 0.5 °C"),
        ("Arnwick Polar", "refused at −0.3 ± 0.8 °C, accepted from 5.4 ± 0.8 °C"),
        ("Nettle 95", "accepted at −11.4 ± 0.5 °C"),
    ],
)
def test_a_warmer_refusal_and_a_colder_acceptance_read_as_no_contradiction(
    data: dict[str, Any], name: str, words: str
) -> None:
    assert plain(cell_of(data, name, "charging_cold")[0]) == words


def test_evidence_that_was_not_kept_is_a_kind_of_its_own() -> None:
    assert SortCell(words="94", bound=94.0, is_kept=False).for_script == ["94", 94.0, None, 2]


def test_no_column_is_called_like_a_set_so_that_an_address_means_one_of_them(data: dict[str, Any]) -> None:
    sets = {name for column in data["columns"] for name in column["sets"]}
    assert sets == {"main", "capacity", "overload", "cold", "cost", "build", "loads"}
    assert not sets & {column["key"] for column in data["columns"]}


def test_a_column_of_a_load_has_a_cell_for_each_letter_and_the_most_seen_are_a_set(data: dict[str, Any]) -> None:
    of_loads = [column for column in data["columns"] if column["key"].startswith("load_")]
    letters = [[row["loads"][place] for row in data["rows"]] for place in range(len(of_loads))]
    assert {letter for column in letters for letter in column} <= set(data["letters"])
    seen = [sum(letter in "rs" for letter in column) for column in letters]
    in_set = ["loads" in column["sets"] for column in of_loads]
    assert sum(in_set) == MOST_IN_SET
    chosen = [count for count, is_in in zip(seen, in_set, strict=True) if is_in]
    others = [count for count, is_in in zip(seen, in_set, strict=True) if not is_in]
    assert min(chosen) >= max(others)
    assert "Table saw" in [column["heading"] for column in of_loads if column["sets"]]


def test_the_page_has_the_main_columns_and_the_script_has_all(demo: Derived, data: dict[str, Any]) -> None:
    page = html_of(render_page(home_page(demo, frames_of(demo))))
    tree = html5lib.parseFragment(page, treebuilder="etree", namespaceHTMLElements=False)
    headings = ["".join(cell.itertext()) for cell in next(tree.iter("tr"))]
    main = [column for column in data["columns"] if "main" in column["sets"]]
    plain = [re.sub("<[^>]+>", "", column["heading"]) for column in main]
    assert headings == ["Battery", *plain]
    assert [column["key"] for column in main if column["phone"]] == ["score", "delivered_wh", "price", "price_per_kwh"]
    assert len(data["columns"]) > len(main) + 10
    assert all(len(row["cells"]) + len(row["loads"]) == len(data["columns"]) for row in data["rows"])


def test_of_many_units_the_page_holds_the_first_rows_and_says_where_the_rest_is(five_hundred: Derived) -> None:
    page = render_page(home_page(five_hundred, frames_of(five_hundred)))
    assert page.count('<th scope="row">') == ROWS_IN_PAGE
    assert f"the first {ROWS_IN_PAGE} of 500" in page
    assert 'data-rows="500"' in page


def test_without_scripts_every_unit_is_linked_from_a_page(demo: Derived) -> None:
    """With more rows than the page holds: from the table, from its class's page, or as one that is in no class."""
    many = many_units(demo, ROWS_IN_PAGE + 60)
    many = replace(many, standings=standings(many.units, demo.catalogue.grading))
    frames = frames_of(many)
    classes = [class_page(name, many, frames) for name in many.catalogue.classes if many.of_class(name)]
    listed = render_page(home_page(many, frames)) + "".join(render_page(page) for page in classes)
    missing = [unit.id for unit in many.units if f'units/{unit.id}/"' not in listed]
    assert missing == []


def test_a_table_page_of_five_hundred_units_packs_into_its_budget(five_hundred: Derived) -> None:
    """Page and data together, though the data is fetched only when somebody first asks for more."""
    frames = frames_of(five_hundred)
    page = render_page(home_page(five_hundred, frames))
    script = data_script("unitsTable", units_table(five_hundred, frames).for_script)
    packed_kb = sum(len(gzip.compress(text.encode())) for text in (page, script)) / 1000
    assert packed_kb < TABLE_PAGE_KB - SHELL_KB


def test_what_the_script_gets_is_json(data: dict[str, Any]) -> None:
    assert json.loads(json.dumps(data, allow_nan=False)) == json.loads(json.dumps(data))


# --- what sorts -------------------------------------------------------------------------------------------------------
@given(st.floats(-2000, 2000), st.floats(0.001, 500))
def test_a_number_cut_for_the_script_reads_as_it_did(value: float, expanded: float) -> None:
    """Cutting digits off keeps the half that rounding looks for; rounding twice would not (1.349 → 1.35 → 1.4)."""
    one = Measured(value=value, unit="Wh", components={"gain": Component(expanded / 1.959963984540054)})
    cell = SortCell(words=quantity(one), value=value, spread=one.expanded)
    words, held, spread = cell.for_script
    assert words == 0
    assert isinstance(held, float)
    assert isinstance(spread, float)
    again = replace(one, value=held, components={"gain": Component(spread / 1.959963984540054)})
    assert str(quantity(again)) == str(quantity(one))


@pytest.mark.parametrize(("value", "place", "left"), [(91.349, -2, 91.34), (-0.259, -2, -0.25), (1239.0, 1, 1230.0)])
def test_cut_drops_digits(value: float, place: int, left: float) -> None:
    assert cut(value, place) == left


def test_a_bar_has_its_whisker_or_an_open_end_and_its_mark() -> None:
    closed, opened = (
        Bar(end=50, low=40, high=60, mark=80).__html__(),
        Bar(end=50, low=45, high=100, is_open=True).__html__(),
    )
    assert 'd="M40 1v7m0-3.5H60m0-3.5v7"' in closed
    assert 'd="M80 0v9"' in closed
    assert "class=o" in opened
    assert "class=w" not in opened
    assert "style=" not in closed + opened


# --- what is asked ----------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("bound", "known"),
    [("exact", [1000, 1000]), ("at_least", [1000, None]), ("at_most", [None, 1000]), ("between", [900, 1100])],
)
def test_an_energys_limits_are_open_where_the_evidence_is(bound: Any, known: list[float | None]) -> None:
    low, high = known if bound == "between" else (None, None)
    assert limits(Measured(value=1000, unit="Wh", bound=bound, low=low, high=high)) == known


def point(current: Measured, *, tripped: bool, left_out: str | None = None) -> Point:
    return Point(
        test="steps",
        current=current,
        shortest_s=3.2,
        longest_s=6.0,
        seen_s=(4, 5),
        tripped=tripped,
        stopped_by="bms" if tripped else None,
        left_out=left_out,
    )


def test_points_say_less_than_they_know_and_never_more() -> None:
    current = Measured(value=124, unit="A", components={"clamp": Component(1.234567)})
    held, tripped = points([point(current, tripped=False), point(current, tripped=True)])
    assert held[0] is not None
    assert held[0] <= current.lowest
    assert (len(held), len(tripped)) == (3, 5)
    assert tripped[4] is not None
    assert tripped[4] >= current.highest
    assert points([point(current, tripped=True, left_out="after only 60 s of rest")]) == []


def test_a_trip_at_no_less_than_a_current_is_not_one_at_any() -> None:
    current = Measured(value=124, unit="A", bound="at_least")
    (known,) = points([point(current, tripped=True)])
    assert len(known) == 3


def run(outcome: str, *together: str, reported: bool = False) -> SeenRun:
    return SeenRun(test="t", together=together, outcome=outcome, duration=None, by=None, reported=reported)


@pytest.mark.parametrize(
    ("seen", "start", "letter"),
    [
        ((run("ran", "saw"),), "starts", "r"),
        ((run("ran", "saw", "kettle"),), "borderline", "r"),
        ((run("tripped", "saw"),), "starts", "s"),
        ((), "starts", "p"),
        ((run("tripped", "saw", "kettle"),), "starts", "p"),
        ((run("ran", "saw", reported=True),), "not known", "u"),
        ((run("did_not_start", "saw"),), "will not", "n"),
        ((), "borderline", "b"),
        ((), "not known", "u"),
    ],
)
def test_a_load_ran_was_started_should_start_is_borderline_will_not_or_is_not_known(
    seen: tuple[SeenRun, ...], start: str, letter: str
) -> None:
    answer = LoadAnswer(
        load="saw", seen=seen, hours=None, why_not=None, start=start, peak_a=None, uses=None, inverter=None
    )
    assert loads({"saw": answer}, ["kettle", "saw"]) == "u" + letter


def test_demo_units_answer_from_their_own_evidence(data: dict[str, Any]) -> None:
    rows = {row["id"]: row for row in data["rows"]}
    assert rows["ferngate-f90"]["heats"] is True
    assert rows["ferngate-f90"]["price"] == 289
    assert rows["quern-12-100"]["wh"] is None
    assert rows["ferngate-f90"]["of"] == "12v-100ah", "an id, which stays when a class is added"
    assert all(math.isfinite(number) for row in data["rows"] for one in row["points"] for number in one if number)
