"""A unit's page on paper: two sheets of A4, nothing on them that only a screen can use."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.site_pages import draw_all

LEAST_PT = 7.0  # small print of data sheets; common practice, no source
PT = 72 / 96  # CSS pixels are 1/96 inch, points 1/72 (CSS Values and Units 4, section 6.2)


def pages_of(pdf: bytes) -> int:
    """Page objects of a PDF (ISO 32000-1, 7.7.3.3)."""
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


@pytest.mark.parametrize("drawn", [False, True])
def test_every_unit_prints_on_two_sheets(desk_page: Page, site: Path, drawn: bool) -> None:
    fullest = sorted((site / "units").glob("*/index.html"), key=lambda path: -path.stat().st_size)[:5]
    for path in fullest:
        desk_page.goto(f"/units/{path.parent.name}/")
        if drawn:
            draw_all(desk_page)
        assert pages_of(desk_page.pdf(format="A4", prefer_css_page_size=True)) <= 2, path.parent.name


def test_on_paper_there_is_the_answer_and_no_button(desk_page: Page) -> None:
    desk_page.goto("/units/ferngate-f90/")
    desk_page.get_by_role("button", name="Copy a number").click()
    draw_all(desk_page)
    desk_page.emulate_media(media="print")
    for gone in (".site-header", ".acts", ".copy-number", "details", ".jump", ".md-sidebar--secondary"):
        assert not [one for one in desk_page.locator(gone).all() if one.is_visible()], gone
    for shown in ("h1", ".lead", ".facts", "#label", "#curve-says ~ .picture svg", "#cite ~ p"):
        expect(desk_page.locator(shown).first).to_be_visible()


def test_what_is_printed_is_large_enough_to_read(desk_page: Page) -> None:
    desk_page.goto("/units/ferngate-f90/")
    draw_all(desk_page)
    desk_page.set_viewport_size({"width": 695, "height": 1000})  # 184 mm, what the margins leave of a sheet
    desk_page.emulate_media(media="print")
    sizes = desk_page.evaluate(
        """() => [...document.querySelectorAll('article *')].filter(
          one => one.checkVisibility() && [...one.childNodes].some(n => n.nodeType === 3 && n.data.trim())
        ).map(one => {
          const svg = one.closest('svg');
          const scale = svg ? svg.getBoundingClientRect().width / svg.viewBox.baseVal.width : 1;
          return [parseFloat(getComputedStyle(one).fontSize) * scale, one.textContent.trim().slice(0, 40)];
        })"""
    )
    assert len(sizes) > 100
    small = [(round(size * PT, 1), words) for size, words in sizes if size * PT < LEAST_PT]
    assert small == []
