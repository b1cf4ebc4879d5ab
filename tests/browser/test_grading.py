"""Scores and places as a viewer sees them: first screen, picture of a class, page of the grading, table of all."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.browser.site_pages import draw_all
from tests.browser.test_charts import OVERLAPS
from tests.browser.unit_sections import section_of

PHONE_SCREEN = 844
GRADED = ("Tolgate 100L", "Ferngate F90", "Arnwick Polar", "Saltby 100", "Wendlecote W100", "Nettle 95")


def test_score_and_place_stand_in_the_first_screen_of_a_phone(page: Page) -> None:
    page.goto("/units/ferngate-f90/")
    for name in ("Score of 100", "Place in its class"):
        fact = page.locator(".facts > div", has_text=name)
        box = fact.bounding_box()
        assert box is not None
        assert box["y"] + box["height"] < PHONE_SCREEN
    expect(page.locator(".facts")).to_contain_text("too close to tell apart")


def test_the_score_leads_to_what_made_it_and_on_to_its_anchors(page: Page) -> None:
    page.goto("/units/ferngate-f90/")
    page.get_by_role("link", name="7 of 7 questions tested").click()
    expect(page.locator("h2#grade")).to_be_in_viewport()
    section_of(page, "grade").get_by_role("link", name="Carries overload and recovers").click()
    expect(page.locator("h2#overload")).to_be_in_viewport()
    expect(page.locator("h2#overload + .part")).to_contain_text("Nobody stands beside a battery in a bilge")


@pytest.mark.parametrize("width", [390, 1280])
def test_the_picture_of_a_class_names_each_battery_beside_its_own_line(
    new_page: Callable[..., Page], width: int
) -> None:
    view = new_page(width=width)
    view.goto("/classes/12v-100ah/")
    draw_all(view)
    picture = view.locator("#scores-says ~ .picture svg")
    tops = []
    for name in GRADED:
        words = picture.locator(".role-mark text", has_text=name)
        box = words.bounding_box()
        assert box is not None
        assert float(words.evaluate("text => parseFloat(getComputedStyle(text).fontSize)")) >= 12
        tops.append(box["y"])
    assert tops == sorted(tops)
    dots = [dot.bounding_box() for dot in picture.locator(".mark-symbol path").all()]
    assert len(dots) == len(GRADED)
    for top, dot in zip(tops, dots, strict=True):
        assert dot is not None
        assert -4 < dot["y"] - top < 30, "a dot stands in the line of its name or right below it"
    assert view.evaluate(OVERLAPS) == []


@pytest.mark.parametrize("width", [390, 1280])
def test_no_label_of_a_value_function_sits_on_a_line(new_page: Callable[..., Page], width: int) -> None:
    view = new_page(width=width)
    view.goto("/methods/grading/")
    draw_all(view)
    assert view.evaluate(OVERLAPS) == []
    assert view.evaluate("document.documentElement.scrollWidth") == width


def test_a_phones_table_keeps_name_score_delivered_and_price(page: Page) -> None:
    page.goto("/")
    shown = [heading.inner_text() for heading in page.locator("#units thead th").all() if heading.is_visible()]
    assert [heading.strip() for heading in shown] == [
        "Battery",
        "Score of 100",
        "Delivered, Wh",
        "Price, €",
        "€ per kWh it holds",
    ]


@pytest.mark.parametrize("presses", [1, 2])
def test_sorted_by_score_capped_ones_stand_by_their_value_and_ungraded_last(desk_page: Page, presses: int) -> None:
    desk_page.goto("/")
    for _ in range(presses):
        desk_page.get_by_role("button", name="Score of 100").click()
    direction = "descending" if presses == 1 else "ascending"
    expect(desk_page.locator("#table-note")).to_contain_text(f"Sorted by Score of 100, {direction}")
    cells = desk_page.locator("#units tbody tr td:nth-child(2)").all_inner_texts()
    scores = [int(cell.split()[0]) for cell in cells if "too little" not in cell]
    assert scores == sorted(scores, reverse=presses == 1)
    assert any("capped" in cell for cell in cells)
    assert all("too little" in cell for cell in cells[len(scores) :])
