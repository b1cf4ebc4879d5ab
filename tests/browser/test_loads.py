"""The pages of loads as a visitor sees them, and the questions that a unit's page answers."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.browser.unit_sections import section_of

ADDRESSES = ["/loads/", "/loads/table-saw/", "/loads/hut-circulation-pump/", "/loads/cabin-lights/"]


@pytest.mark.parametrize("width", [320, 390, 1280])
def test_no_page_of_loads_is_wider_than_its_screen(new_page: Callable[..., Page], width: int) -> None:
    view = new_page(width=width)
    for address in ADDRESSES:
        view.goto(address)
        assert view.evaluate("document.documentElement.scrollWidth") <= width, address


def test_the_matrix_scrolls_in_its_own_box_and_keeps_the_names_of_the_loads(page: Page) -> None:
    page.goto("/loads/")
    box = page.locator(".scroll").first
    before = box.locator("tbody th").first.bounding_box()
    seen = box.locator("tbody td").first.bounding_box()
    box.evaluate("box => box.scrollTo(200, 0)")
    after = box.locator("tbody th").first.bounding_box()
    moved = box.locator("tbody td").first.bounding_box()
    assert before
    assert after
    assert seen
    assert moved
    assert after["x"] == before["x"]
    assert moved["x"] == pytest.approx(seen["x"] - 200, abs=1)


def test_seen_and_projected_differ_in_words_and_in_shape(desk_page: Page) -> None:
    desk_page.goto("/loads/")
    shape = "cell => getComputedStyle(cell, '::before').content"
    seen, projected = desk_page.locator("td.seen").first, desk_page.locator("td.projected").first
    assert seen.evaluate(shape) != projected.evaluate(shape)
    expect(seen).to_contain_text("ran")
    expect(projected).to_contain_text("starts")


def test_a_seen_cell_leads_to_the_test_where_it_was_seen(desk_page: Page) -> None:
    desk_page.goto("/loads/")
    desk_page.get_by_role("link", name="tripped after 3 to 5 s").click()
    assert desk_page.url.endswith("/units/ferngate-f90/#test-table-saw")
    expect(desk_page.locator("#test-table-saw")).to_be_in_viewport()


@pytest.mark.parametrize("load", ["hut-circulation-pump", "hut-lights"])
def test_a_load_wired_into_a_building_has_its_caution_in_a_box_above_everything(page: Page, load: str) -> None:
    page.goto(f"/loads/{load}/")
    caution = page.locator(".warning")
    for words in (
        "wired into the building",
        "listed transfer switch or interlock",
        "local code",
        "licensed electrician",
    ):
        expect(caution).to_contain_text(words)
    assert caution.evaluate("box => getComputedStyle(box).borderTopWidth") == "1px"
    above, lead = caution.bounding_box(), page.locator(".lead").first.bounding_box()
    assert above
    assert lead
    assert above["y"] < lead["y"]


def test_a_load_page_says_who_ran_it_who_tripped_and_draws_the_hours(page: Page) -> None:
    page.goto("/loads/table-saw/")
    expect(page.locator(".lead").first).to_contain_text(
        "Stopped on three batteries: Ferngate F90 (tripped after 3 to 5"
    )
    figure = page.locator("figure.chart")
    assert figure.locator("figcaption").inner_text().strip()
    figure.scroll_into_view_if_needed()
    expect(figure.locator("svg")).to_be_visible(timeout=20_000)
    rows = figure.locator("tbody th").all_text_contents()
    tops = figure.locator("svg .role-mark text").evaluate_all(
        "texts => texts.map(text => [text.getBoundingClientRect().top, text.textContent]).sort((a, b) => a[0] - b[0])"
    )
    assert [words for _, words in tops if words in rows] == rows, "bars stand in the order of the table"


@pytest.mark.parametrize(
    ("load", "battery", "says", "step"),
    [
        (
            "table-saw",
            "Kelderby K280",
            r"starts: carried [\d. ±]+ A that long; it takes about [\d.]+ A for 0\.4 s",
            "carried",
        ),
        ("anchor-winch", "Wendlecote W100", r"borderline: carried 142 ± 3 A that long; it takes about", "carried 142"),
    ],
)
def test_a_start_that_nobody_tried_leads_to_the_step_that_says_so(
    desk_page: Page, load: str, battery: str, says: str, step: str
) -> None:
    desk_page.goto(f"/loads/{load}/")
    row = desk_page.locator("tr", has=desk_page.get_by_role("link", name=battery, exact=True)).filter(has_text="nobody")
    expect(row).to_contain_text(re.compile(says.replace(" ", r"\s")))
    row.get_by_role("link", name=step).click()
    assert "/units/" in desk_page.url
    test = desk_page.url.partition("#")[2]
    assert test.startswith("test-")
    expect(desk_page.locator(f"[id='{test}']")).to_be_in_viewport()


def test_a_load_of_large_currents_says_what_to_mind(page: Page) -> None:
    page.goto("/loads/microwave/")
    expect(page.locator(".warning")).to_contain_text("At 12 V it takes 158 A or more.")
    page.locator(".warning").get_by_role("link", name="Large currents").click()
    expect(page.locator("h2#large-currents")).to_be_visible()
    page.goto("/loads/cabin-lights/")
    expect(page.locator(".warning")).to_have_count(0)


def test_a_run_that_something_is_not_known_of_is_named_by_its_loads(page: Page) -> None:
    page.goto("/units/ferngate-f90/")
    words = "With the induction hob and the travel kettle, the peak is not known because"
    expect(page.get_by_text(words)).to_be_visible()


def test_the_loads_of_a_unit_lead_to_their_pages_and_back(desk_page: Page) -> None:
    desk_page.goto("/units/ferngate-f90/")
    section_of(desk_page, "runs").and_(desk_page.locator("table")).get_by_role("link", name="Table saw").click()
    assert desk_page.url.endswith("/loads/table-saw/")
    desk_page.locator(".lead").get_by_role("link", name="Ferngate F90").click()
    assert desk_page.url.endswith("/units/ferngate-f90/#runs")


@pytest.mark.parametrize("unit", ["ferngate-f90", "quern-12-100"])
@pytest.mark.parametrize(
    ("section", "answers"),
    [
        ("runs", {"ferngate-f90": "Ran the bilge pumps for between", "quern-12-100": "Ran the travel kettle for 8.0"}),
        (
            "carries",
            {"ferngate-f90": "Carried 110 ± 2 A for 30 min", "quern-12-100": "Cut off at about 143 A after 6 to 10 s"},
        ),
        ("cold", {"ferngate-f90": "Refused charge up to 6.1 ± 0.5 °C", "quern-12-100": "Not tested"}),
        ("idle", {"ferngate-f90": "Its voltage falls by 0.331 ± 0.019 V", "quern-12-100": "Not tested"}),
    ],
)
def test_the_first_sentence_of_a_section_answers_its_question(
    page: Page, unit: str, section: str, answers: dict[str, str]
) -> None:
    page.goto(f"/units/{unit}/")
    first = page.locator(f"h2#{section} + p").inner_text()
    assert " ".join(first.split()).startswith(answers[unit])
    if not first.startswith("Not tested"):
        part = section_of(page, section)
        # Of a single step there is a table and no picture.
        expect(part.and_(page.locator("figure.chart, table")).first).to_be_visible()
        expect(part.get_by_text("Show the working")).to_have_count(1)


def test_limits_named_in_the_working_are_one_press_away(desk_page: Page) -> None:
    desk_page.goto("/units/ferngate-f90/")
    details = section_of(desk_page, "label").and_(desk_page.locator("details"))
    working = details.filter(has_text="Show the working")
    working.locator("summary").click()
    working.get_by_role("link", name="their limits").click()
    expect(desk_page.get_by_text("± 0.4 % of the reading; ± 0.03 A", exact=False).first).to_be_visible()
