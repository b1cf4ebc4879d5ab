"""Links that last and what they show: old addresses, anchors, copying, the page for addresses that lead nowhere."""

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

# Anchors that videos and other sites point at; a name may be added, never changed.
ANCHORS = (
    "runs", "label", "carries", "cold", "idle", "build", "cost", "grade", "evidence", "cite",
    "test-boathouse-capacity", "test-bilge-pump-night", "test-ice-bath", "test-galley", "test-table-saw",
)  # fmt: skip


def test_a_renamed_units_old_link_lands_on_the_new_page_with_what_followed(page: Page) -> None:
    page.goto("/units/thrushby-100/?from=video#label")
    expect(page).to_have_url(re.compile(r"/units/thrushby-t100/\?from=video#label$"))
    expect(page.get_by_role("heading", level=1)).to_have_text("Thrushby T100")


def test_without_scripts_the_old_address_leads_on_too(new_page: Callable[..., Page]) -> None:
    page = new_page(java_script_enabled=False)
    page.goto("/units/thrushby-100/")
    expect(page).to_have_url(re.compile(r"/units/thrushby-t100/$"))


@pytest.mark.parametrize("anchor", ANCHORS)
def test_anchors_stay(page: Page, anchor: str) -> None:
    page.goto(f"/units/ferngate-f90/#{anchor}")
    expect(page.locator(f"[id='{anchor}']")).to_have_count(1)


def test_a_test_leads_to_the_second_of_the_video_that_shows_it(page: Page) -> None:
    page.goto("/units/ferngate-f90/#evidence")
    row = page.get_by_role("row").filter(has=page.locator("#test-table-saw"))
    link = row.get_by_role("link")
    expect(link).to_have_attribute("href", "https://example.org/v/ferngate-f90?t=888")
    expect(link).to_contain_text("14:48 to 14:54")


def test_text_for_a_video_is_copied_with_one_press(new_page: Callable[..., Page]) -> None:
    page = new_page(permissions=["clipboard-read", "clipboard-write"])
    page.goto("/units/ferngate-f90/#cite")
    page.get_by_text("Text for under a video: one sentence").click()
    part = page.locator("details", has_text="Text for under a video: one sentence")
    part.get_by_role("button", name="Copy").press("Enter")
    expect(part.get_by_role("button")).to_have_text("Copied")
    copied = page.evaluate("navigator.clipboard.readText()")
    assert copied.startswith("Ferngate F90: Ran the bilge pumps for between 2.75 and 4.25 h")
    assert (
        "\nAll figures, their ± and how they were made: https://bench.hollinwater.example/units/ferngate-f90/" in copied
    )


def test_the_link_of_the_page_and_of_a_section_is_copied(new_page: Callable[..., Page]) -> None:
    page = new_page(permissions=["clipboard-read", "clipboard-write"])
    page.goto("/units/ferngate-f90/")
    page.get_by_role("button", name="Share: copy this page's link").first.click()
    assert page.evaluate("navigator.clipboard.readText()") == "https://bench.hollinwater.example/units/ferngate-f90/"
    page.get_by_role("button", name="Copy the link to “What does it do in the cold?”").click()
    expected = "https://bench.hollinwater.example/units/ferngate-f90/#cold"
    assert page.evaluate("navigator.clipboard.readText()") == expected


def test_an_address_that_leads_nowhere_names_the_nearest_unit(page: Page, site_url: str) -> None:
    page.goto("/404.html")
    page.evaluate("history.replaceState(null, '', '/units/ferngat-f9O/')")
    page.evaluate("document.querySelector('#nearest').textContent = ''")
    page.add_script_tag(url=f"{site_url}/assets/nearest.js")
    expect(page.locator("#nearest a").first).to_have_text("Ferngate F90")
    page.locator("#nearest a").first.click()
    expect(page).to_have_url(f"{site_url}/units/ferngate-f90/")
