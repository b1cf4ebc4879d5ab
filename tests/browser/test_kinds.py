"""Every kind of page in a browser: accessible, still, no wider than its screen, charts drawn, readable without scripts.

`new_page` fails a test in which a page wrote an error to the console (a breach of its policy is one) or asked another
host for anything.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.site_pages import (
    SEEN_TO_MOVE,
    address_of,
    draw_all,
    html_files,
    kinds,
    shifts,
    violations,
    watch_shifts,
)

FLAT = """all => all.map(svg => svg.getBoundingClientRect())
  .filter(box => !(box.width > 0 && box.height > 0)).length"""


def faults(view: Page, width: int) -> list[str]:
    """What is wrong with the page that stands there, after all of its charts were drawn."""
    draw_all(view)
    moved = shifts(view)
    said = [f"moved: {moved}"] if sum(value for value, _ in moved) > SEEN_TO_MOVE else []
    if flat := view.locator(".picture svg").evaluate_all(FLAT):
        said.append(f"{flat} charts without an extent")
    if (wide := view.evaluate("document.documentElement.scrollWidth")) > width:
        said.append(f"{wide} px wide")
    return said + violations(view)


@pytest.mark.parametrize("width", [390, 1280])
def test_every_kind_of_page(new_page: Callable[..., Page], site: Path, width: int) -> None:
    view = new_page(width=width)
    watch_shifts(view)
    found = []
    for address in kinds(site):
        view.goto(address)
        found += [f"{address}: {fault}" for fault in faults(view, width)]
    assert not found, "\n".join(found)


def come(view: Page, address: str, html: str) -> Page:
    """The view once this much of the address has come."""
    view.route(address, lambda route: route.fulfill(body=html, content_type="text/html; charset=utf-8"), times=1)
    view.goto(address)
    return view


@pytest.mark.parametrize("width", [390, 800, 1280])
def test_the_header_stands_where_it_is_however_much_of_it_has_come(new_page: Callable[..., Page], width: int) -> None:
    view = new_page(width=width)
    whole = view.request.get("/").text()
    parts = (".site-name", ".site-links", "#search-button", "#scheme-button")

    def places(html: str) -> dict[str, object]:
        come(view, "/", html)
        boxes = {part: view.locator(part).first for part in parts}
        return {part: box.bounding_box() for part, box in boxes.items() if box.count()}

    at_last = places(whole)
    assert list(at_last) == list(parts)
    begun = [places(whole[: whole.index(end)]) for end in ('<div class="site-tools', "<button", 'id="scheme-button')]
    assert all(place == at_last[part] for boxes in begun for part, place in boxes.items()), (at_last, begun)


CELLS = """all => all.filter(cell => cell.checkVisibility({visibilityProperty: true}))
  .map(cell => [cell.textContent, cell.getBoundingClientRect().x])"""


def test_no_column_is_seen_to_move_while_its_rows_come(new_page: Callable[..., Page], site: Path) -> None:
    view = new_page(width=1280)
    moved, complete = [], 0
    for address in kinds(site):
        whole = view.request.get(address).text()
        if "<td" not in whole:
            continue
        middle = whole.find("<tr", (whole.index("<td") + whole.rindex("<td")) // 2)
        begun, at_last = (
            come(view, address, html).locator("main table:not(#units) :is(th, td)").evaluate_all(CELLS)
            for html in (whole[:middle], whole)
        )
        complete += len(at_last)
        if begun != at_last[: len(begun)]:
            moved.append(address)
    assert complete
    assert not moved


def test_colours_that_only_one_scheme_lacks_are_found(page: Page) -> None:
    page.goto("/about/")
    page.locator("h1").evaluate("title => { title.style.color = '#333' }")
    assert [said.split(":")[:2] for said in violations(page)] == [["dark", " color-contrast"]]


def test_no_page_of_the_site_breaks_its_policy_or_writes_an_error(new_page: Callable[..., Page], site: Path) -> None:
    view = new_page(width=1280)
    seen_in_full = kinds(site)
    for path in html_files(site):
        if address_of(site, path) not in seen_in_full:
            view.goto("/" + path.relative_to(site).as_posix(), wait_until="load")


def test_every_kind_of_page_reads_without_scripts(new_page: Callable[..., Page], site: Path) -> None:
    plain = new_page(width=390, java_script_enabled=False)
    for address in kinds(site):
        plain.goto(address)
        assert plain.locator("h1").count() == 1, address
        assert len(plain.locator("main").inner_text()) > 200, f"{address} says next to nothing"
        expect(plain.locator("#search-button")).to_be_hidden()
        for button in plain.locator("main button:visible").all():
            pytest.fail(f"{address}: {button.inner_text()!r} cannot work")
        for form in plain.locator("main form:visible").all():
            assert form.get_attribute("action"), f"{address}: a form that leads nowhere"


def test_charts_are_there_again_after_going_back_and_follow_the_colours(page: Page) -> None:
    # Pages load whole (instant navigation is off), so that going back draws them anew or shows them as they were left.
    page.goto("/units/ferngate-f90/")
    draw_all(page)
    drawn = page.locator(".picture svg").count()
    page.locator(".site-name").click()
    page.go_back()
    draw_all(page)
    assert page.locator(".picture svg").count() == drawn
    before = page.locator(".picture svg").first.inner_html()
    page.locator("#scheme-button").click()
    page.locator("#scheme-button").click()
    assert page.evaluate("document.body.dataset.mdColorScheme") == "slate"
    assert page.locator(".picture svg").first.inner_html() == before, "colours are names, so nothing is drawn again"
    assert page.locator(".picture svg").evaluate_all(FLAT) == 0


def test_the_page_for_a_wrong_address_leads_to_the_table(page: Page) -> None:
    page.goto("/404.html")
    page.locator("main").get_by_role("link", name="All batteries").click()
    expect(page.locator("#units")).to_be_visible()


# What has the focus, and whether anything of it can be seen: WCAG 2.2, 2.4.7. What fills the screen needs no ring.
UNSEEN_FOCUS = """() => {
  const one = document.activeElement, style = getComputedStyle(one);
  const ringed = style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
  return one === document.body || ringed ? '' : one.outerHTML.slice(0, 80);
}"""


def test_what_the_keyboard_is_on_can_be_seen_on_every_kind_of_page(new_page: Callable[..., Page], site: Path) -> None:
    view = new_page(width=1280)
    found = set()
    for address in kinds(site):
        view.goto(address)
        for _ in range(30):  # header, tools, the first folds and fields
            view.keyboard.press("Tab")
            if unseen := view.evaluate(UNSEEN_FOCUS):
                found.add(f"{address}: {unseen}")
    assert not found, "\n".join(sorted(found))
