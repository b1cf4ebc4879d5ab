"""The table of all units as a visitor uses it: sorted, searched, narrowed, shared by its address, without scripts."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

BOUND, MISSING = "Saltby 100", "Quern 12-100"


def names(page: Page) -> list[str]:
    return page.locator("#units tbody tr:visible th").all_inner_texts()


def numbers(page: Page, heading: str) -> list[float | None]:
    column = 1 + page.locator("#units thead th").all_inner_texts().index(heading)
    cells = page.locator(f"#units tbody tr:visible td:nth-child({column})")
    return [
        None if text is None else float(text)
        for text in cells.evaluate_all("all => all.map(c => c.dataset.value ?? null)")
    ]


@pytest.mark.parametrize("presses", [1, 2])
def test_a_heading_sorts_by_numbers_and_leaves_bounds_and_untested_last(desk_page: Page, presses: int) -> None:
    desk_page.goto("/")
    heading = desk_page.get_by_role("button", name="Delivered, Wh")
    for _ in range(presses):
        heading.click()
    shown = numbers(desk_page, "Delivered, Wh")
    exact = [number for number in shown if number is not None]
    assert exact == sorted(exact, reverse=presses == 1)
    assert shown[len(exact) :] == [None] * (len(shown) - len(exact))
    assert names(desk_page)[-2:] == [BOUND, MISSING]
    direction = "descending" if presses == 1 else "ascending"
    expect(desk_page.locator("#units th[aria-sort]")).to_have_attribute("aria-sort", direction)
    expect(desk_page.locator("[data-note=units]")).to_contain_text(f"Sorted by Delivered, Wh, {direction}")
    expect(desk_page.locator("[data-note=units]")).to_contain_text("1 known from one side only, 1 not tested")


def test_the_keyboard_sorts_as_the_mouse_does(desk_page: Page) -> None:
    desk_page.goto("/")
    desk_page.get_by_role("button", name="Price", exact=True).focus()
    desk_page.keyboard.press("Enter")
    prices = [number for number in numbers(desk_page, "Price") if number is not None]
    assert prices == sorted(prices)


def test_rows_that_are_alike_keep_their_order(desk_page: Page) -> None:
    desk_page.goto("/")
    before = names(desk_page)
    desk_page.get_by_role("button", name="Charging in the cold").click()
    assert names(desk_page) == before, "cells without a number are all alike"


def test_filters_say_in_words_what_is_in_force_and_one_control_clears_them(page: Page) -> None:
    page.goto("/")
    every = len(names(page))
    expect(page.get_by_label("Name")).to_be_hidden()
    page.locator(".filters summary").click()
    page.get_by_label("Price, at most €").fill("250")
    page.get_by_label("Heats itself").select_option("no")
    found = names(page)
    assert 0 < len(found) < every
    expect(page.locator(".in-force")).to_have_text(f"up to 250 € · has no heater: {len(found)} of {every}")
    assert "price=250" in page.url
    page.get_by_role("button", name="clear", exact=True).click()
    expect(page.locator(".in-force")).to_have_text(f"all {every}")
    assert len(names(page)) == every
    assert "?" not in page.url


def test_an_address_brings_the_same_view_to_somebody_else(page: Page) -> None:
    page.goto("/?words=fern")
    assert names(page) == ["Ferngate F90"]
    expect(page.locator(".in-force")).to_contain_text("“fern”: 1 of")


def test_column_sets_show_other_figures_of_the_same_rows(desk_page: Page) -> None:
    desk_page.goto("/")
    expect(desk_page.get_by_role("button", name="Carries 10 s, A")).to_be_hidden()
    desk_page.get_by_text("overload", exact=True).click()
    expect(desk_page.get_by_role("button", name="Carries 10 s, A")).to_be_visible()
    expect(desk_page.get_by_role("button", name="Price", exact=True)).to_be_hidden()


def test_without_scripts_the_whole_table_stands_there_and_nothing_pretends_to_work(
    new_page: Callable[..., Page],
) -> None:
    plain = new_page(width=1280, java_script_enabled=False)
    plain.goto("/")
    assert len(names(plain)) >= 12
    expect(plain.locator(".filters")).to_be_hidden()
    expect(plain.locator(".column-sets")).to_be_hidden()
    expect(plain.locator("#units thead button")).to_have_count(0)


@pytest.mark.parametrize(
    "address", ["/", "/units/ferngate-f90/", "/units/quern-12-100/", "/classes/12v-100ah/", "/methods/"]
)
@pytest.mark.parametrize("width", [320, 390, 768, 1280])
def test_no_page_is_wider_than_its_screen(new_page: Callable[..., Page], address: str, width: int) -> None:
    view = new_page(width=width)
    view.goto(address)
    assert view.evaluate("document.documentElement.scrollWidth") <= width
