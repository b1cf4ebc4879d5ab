"""Unit pages in their versions: full logs, spoken readings only, safety finding, died, disputed, planned, withdrawn."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.browser.site_pages import shifts, watch_shifts

PHONE_SCREEN = 844


def test_the_answer_stands_in_the_first_screen_of_a_phone(page: Page) -> None:
    page.goto("/units/ferngate-f90/")
    lead = page.locator(".lead").first
    box = lead.bounding_box()
    assert box is not None
    assert box["y"] + box["height"] < PHONE_SCREEN
    text = lead.inner_text()
    assert "Delivered 91" in text
    assert "±" in text
    price = page.get_by_text("per kWh").first.bounding_box()
    assert price is not None
    assert price["y"] < PHONE_SCREEN


def test_charts_are_drawn_when_they_come_into_view_and_not_before(new_page: Callable[..., Page]) -> None:
    page = new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto("/units/ferngate-f90/")
    assert not any("charts-library" in url for url in asked), "the drawing library came before a chart was in view"
    figures = page.locator("figure.chart")
    assert figures.count() >= 2
    for i in range(figures.count()):
        figures.nth(i).scroll_into_view_if_needed()
        svg = figures.nth(i).locator("svg")
        expect(svg).to_be_visible(timeout=20_000)
        box = svg.bounding_box()
        assert box is not None
        assert box["width"] > 250
        assert box["height"] > 80
    assert sum("charts-library" in url for url in asked) == 1


def test_every_chart_has_a_caption_and_the_same_as_a_table(desk_page: Page) -> None:
    desk_page.goto("/units/ferngate-f90/")
    for figure in desk_page.locator("figure.chart").all():
        assert figure.locator("figcaption").inner_text().strip()
        figure.scroll_into_view_if_needed()
        expect(figure.locator("svg")).to_be_visible(timeout=20_000)
        picture = figure.locator(".picture[role=img]")
        assert "the numbers" in (picture.get_attribute("aria-label") or ""), "not the drawing library's words"
    # The hours of loads stand in the section's own tables.
    figures = desk_page.locator("figure.chart .picture:not([aria-label*='in the tables below'])").count()
    assert desk_page.locator("details", has_text="The same as a table").locator("table").count() >= figures > 0


def test_nothing_jumps_while_charts_load(new_page: Callable[..., Page]) -> None:
    page = new_page()
    watch_shifts(page)
    page.goto("/units/ferngate-f90/")
    for figure in page.locator("figure.chart").all():
        figure.scroll_into_view_if_needed()
        expect(figure.locator("svg")).to_be_visible(timeout=20_000)
    assert shifts(page) == []


@pytest.mark.parametrize(
    ("unit", "words"),
    [
        ("quern-12-100", "on an unnamed instrument"),
        ("saltby-100", "at least"),
        ("thrushby-t100", "died"),
        ("wendlecote-w100", "disputed"),
        ("larkstile-l200", "not tested"),
        ("gannetholm-g24", "withdrawn"),
        ("nettle-95", "Safety"),
    ],
)
def test_each_version_of_the_page_says_what_it_is(page: Page, unit: str, words: str) -> None:
    page.goto(f"/units/{unit}/")
    assert words.lower() in page.locator("main").inner_text().lower()


def test_a_safety_finding_stands_above_everything(page: Page) -> None:
    page.goto("/units/nettle-95/")
    text = page.locator("main").inner_text().lower()
    assert text.index("safety") < text.index("delivered")


def test_a_log_leads_to_the_file_that_was_recorded(desk_page: Page) -> None:
    desk_page.goto("/units/ferngate-f90/")
    link = desk_page.locator("a[href*='/data/logs/ferngate-f90/capacity']").first
    href = link.get_attribute("href")
    assert href is not None
    answer = desk_page.request.get(desk_page.evaluate("href => new URL(href, location.href).href", href))
    assert answer.ok
    assert len(answer.body()) > 1000


def test_dark_is_a_palette_of_its_own_and_readable(new_page: Callable[..., Page]) -> None:
    page = new_page(width=390, color_scheme="dark")
    page.goto("/units/ferngate-f90/")
    background, ink = page.evaluate(
        "() => [getComputedStyle(document.body).backgroundColor, getComputedStyle(document.querySelector('h1')).color]"
    )
    assert luminance(background) < 0.05
    assert (luminance(ink) + 0.05) / (luminance(background) + 0.05) > 7


def luminance(colour: str) -> float:
    """Relative luminance of an "rgb(…)" colour.

    Source:
        WCAG 2.2, "relative luminance".
    """
    channels = [float(part) / 255 for part in colour[colour.index("(") + 1 : -1].split(",")[:3]]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
