"""Any number of a unit's page as a sentence with its link."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

ADDRESS = "https://bench.hollinwater.example/units/ferngate-f90/"
MAY = ["clipboard-read", "clipboard-write"]


@pytest.fixture
def reader(new_page: Callable[..., Page]) -> Page:
    """A page whose clipboard can be read back."""
    view = new_page(width=1280, height=800, permissions=MAY)
    view.goto("/units/ferngate-f90/")
    return view


def copied(view: Page) -> str:
    return str(view.evaluate("navigator.clipboard.readText()")).replace("\u202f", " ").replace("\u00a0", " ")


def test_a_row_is_copied_as_a_sentence_with_its_link_by_keyboard(reader: Page) -> None:
    reader.get_by_role("button", name="Copy a number").focus()
    reader.keyboard.press("Enter")
    button = reader.get_by_role("button", name="copy: Ferngate F90, delivered charge")
    button.focus()
    reader.keyboard.press("Enter")
    expect(reader.get_by_role("status").filter(has_text="Copied")).to_be_visible()
    assert copied(reader) == f"Ferngate F90, delivered charge: label 90 Ah, measured 91.3 ± 0.8 Ah ({ADDRESS}#label)"
    expect(button).to_be_focused()


def test_a_fact_a_sentence_and_a_picture_are_copied_alike(reader: Page) -> None:
    reader.get_by_role("button", name="Copy a number").click()
    reader.locator(".facts .copy-number").first.click()
    assert copied(reader).startswith("Ferngate F90, delivered: 1 181 ± 10 Wh, label 1 152 Wh (https://")
    reader.locator("#label ~ p .copy-number").first.click()
    assert copied(reader).startswith("Ferngate F90: Delivered 91.3 ± 0.8 Ah at 18 A")
    assert copied(reader).endswith(f"({ADDRESS}#label)")
    reader.locator("#curve-says .copy-number").click()
    assert "± 0.016 V after a tenth of what it delivered" in copied(reader)
    reader.locator("#carries ~ table .copy-number").first.click()
    assert copied(reader).endswith("#carries)")


def test_a_row_of_the_grade_is_a_whole_sentence_without_its_small_explanation(reader: Page) -> None:
    reader.get_by_role("button", name="Copy a number").click()
    reader.get_by_role("button", name="copy: Ferngate F90, holds what its label says").click()
    said = "Ferngate F90, holds what its label says: points 93 (91 to 95), weight 25 %"
    assert copied(reader) == f"{said} ({ADDRESS}#grade)"
    reader.get_by_role("button", name="copy: Ferngate F90, score of 100").click()
    assert copied(reader).startswith("Ferngate F90, score of 100: 92 (89 to 94), what these instruments allow; ")


def test_a_test_of_which_only_a_date_stands_in_its_row_has_nothing_to_copy(reader: Page) -> None:
    reader.get_by_role("button", name="Copy a number").click()
    rows = reader.locator("#evidence ~ table tbody tr, #evidence ~ .scroll tbody tr")
    unboxing, refill = (rows.filter(has=reader.locator(f"#test-{name}")) for name in ("unboxing", "refill"))
    expect(unboxing.locator("time")).to_have_text("4 May 2026")
    expect(unboxing.locator(".copy-number")).to_have_count(0)
    refill.locator(".copy-number").click()
    said = "Ferngate F90, refill: date 6 May 2026, where to see it refill.csv.gz, 3 301 rows"
    assert copied(reader) == f"{said} ({ADDRESS}#test-refill)"


def test_the_buttons_come_and_go_with_one_button(reader: Page) -> None:
    button = reader.get_by_role("button", name="Copy a number")
    expect(reader.locator(".copy-number")).to_have_count(0)
    button.click()
    expect(button).to_have_attribute("aria-pressed", "true")
    assert reader.locator(".copy-number").count() > 30
    names = reader.locator(".copy-number").evaluate_all("all => all.map(one => one.getAttribute('aria-label'))")
    assert all(name.startswith("copy: Ferngate F90") for name in names)
    button.click()
    expect(reader.locator(".copy-number")).to_have_count(0)


def test_without_permission_it_is_copied_all_the_same(new_page: Callable[..., Page]) -> None:
    view = new_page(width=390)
    view.add_init_script("navigator.clipboard.writeText = () => Promise.reject(new Error('refused'))")
    view.goto("/units/nettle-95/")
    view.evaluate("addEventListener('copy', () => (window.seen = String(document.activeElement.value)))")
    view.get_by_role("button", name="Copy a number").click()
    view.locator(".facts .copy-number").first.click()
    expect(view.get_by_role("status").filter(has_text="Copied")).to_contain_text("Nettle 95, delivered")
    assert "Nettle 95, delivered" in view.evaluate("window.seen")
