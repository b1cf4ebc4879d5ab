"""The search as somebody uses it: by keyboard, by name, feature and load; its list is fetched when it is opened."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.site_pages import violations


def open_search(view: Page, words: str = "") -> None:
    view.get_by_role("button", name="Search").click()
    expect(view.get_by_role("dialog", name="Search")).to_be_visible()
    expect(view.locator(".search__said")).not_to_contain_text("Fetching")
    view.keyboard.type(words)


def titles(view: Page) -> list[str]:
    return view.locator(".search__found a").all_inner_texts()


def test_the_list_is_fetched_once_and_only_when_the_search_is_opened(new_page: Callable[..., Page]) -> None:
    page = new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto("/units/ferngate-f90/", wait_until="networkidle")
    assert not [url for url in asked if "search-index" in url]
    open_search(page)
    page.keyboard.press("Escape")
    open_search(page)
    assert len([url for url in asked if "search-index" in url]) == 1


@pytest.mark.parametrize(
    ("words", "first"),
    [
        ("ferngate", "Ferngate F90"),
        ("f90", "Ferngate F90"),
        ("FERN", "Ferngate F90"),
        ("table saw", "Table saw"),
        ("agm", "Ludgill AGM100"),
        ("280ah", "Kelderby K280"),
        ("withdrawn", "Gannetholm G24"),
        ("ran hut circulation pump", "Kelderby K280"),
        ("lithium iron", "Arnwick Polar"),
    ],
)
def test_words_find(page: Page, words: str, first: str) -> None:
    page.goto("/about/")
    open_search(page, words)
    assert titles(page)[0] == first


def test_a_number_has_to_be_whole_unless_it_is_being_typed(page: Page) -> None:
    page.goto("/about/")
    open_search(page, "28")
    assert "Kelderby K280" in titles(page)
    page.keyboard.type(" ah")
    assert "Kelderby K280" not in titles(page)


def test_all_words_count_wherever_they_stand(page: Page, site: Path) -> None:
    page.goto("/about/")
    open_search(page, "self-heating 100 Ah app")
    text = (site / "assets" / "search-index.js").read_text(encoding="utf-8")
    entries = json.loads(text.removeprefix("window.searchIndex=").removesuffix(";\n"))
    wanted = [
        title for _, title, _, features in entries if "self-heating" in features and "has a phone app" in features
    ]
    assert set(titles(page)) <= set(wanted)
    assert titles(page)


def test_a_result_shows_the_answer_and_why_it_was_found(page: Page) -> None:
    page.goto("/about/")
    open_search(page, "tripped table saw")
    line = page.locator(".search__found li", has_text="Ferngate F90")
    expect(line).to_contain_text("Delivered 91.3")
    expect(line).to_contain_text("tripped or did not start: table saw")


def test_keyboard_alone_opens_finds_and_follows(desk_page: Page) -> None:
    desk_page.goto("/")
    desk_page.locator("#search-button").focus()
    desk_page.keyboard.press("Enter")
    expect(desk_page.get_by_role("searchbox", name="Search")).to_be_focused()
    desk_page.keyboard.type("heats itself")
    expect(desk_page.locator(".search__said")).to_contain_text("found")
    found = titles(desk_page)
    desk_page.keyboard.press("ArrowDown")
    desk_page.keyboard.press("ArrowDown")
    expect(desk_page.locator(".search__found a").nth(1)).to_be_focused()
    desk_page.keyboard.press("ArrowUp")
    desk_page.keyboard.press("Enter")
    expect(desk_page.locator("h1")).to_contain_text(found[0])


def test_enter_in_the_field_follows_the_first_line_and_escape_gives_the_focus_back(page: Page) -> None:
    page.goto("/about/")
    open_search(page)
    page.keyboard.press("Escape")
    expect(page.locator("#search-button")).to_be_focused()
    open_search(page, "saltby")
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text("Saltby 100")


def test_no_piece_of_an_answer_becomes_markup(new_page: Callable[..., Page]) -> None:
    page = new_page()
    harm = "<img src=x onerror=alert(1)>"
    answer = [f"Marl {harm} ", [f"6±1°C{harm}", f"6 ± 1 °C{harm}"], harm]
    script = f"window.searchIndex = {json.dumps([['about/', f'Marl {harm}', answer, f'marl: {harm}']])};"
    page.route(
        "**/search-index.js", lambda route: route.fulfill(body=script, content_type="text/javascript; charset=utf-8")
    )
    page.goto("/about/")
    open_search(page, "marl")
    expect(page.locator(".search__found")).to_contain_text(harm)
    expect(page.locator(".search__found img")).to_have_count(0)


def test_nothing_found_is_said(page: Page) -> None:
    page.goto("/about/")
    open_search(page, "xylophone")
    expect(page.locator(".search__said")).to_have_text("Nothing found.")
    assert titles(page) == []


def test_the_open_search_is_accessible(page: Page) -> None:
    page.goto("/methods/")
    open_search(page, "saw")
    assert violations(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") == 390


def test_tables_and_charts_are_not_in_the_list(site: Path) -> None:
    text = (site / "assets" / "search-index.js").read_text(encoding="utf-8")
    assert "datasets" not in text
    assert "Show the working" not in text
    assert "mean current" not in text.lower()


def test_the_list_holds_less_than_a_kilobyte_a_battery(site: Path) -> None:
    text = (site / "assets" / "search-index.js").read_text(encoding="utf-8")
    entries = json.loads(text.removeprefix("window.searchIndex=").removesuffix(";\n"))
    units = [json.dumps(entry, ensure_ascii=False) for entry in entries if entry[0].startswith("units/")]
    assert sum(len(one.encode()) for one in units) / len(units) < 1_000
