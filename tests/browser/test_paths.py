"""Questions that bring viewers here, each answered on a phone within four taps from the first page.

A tap is a press on a link, a button, a box or a fold; choosing from a list is two.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
import yaml
from playwright.sync_api import Locator, Page, expect

from tests.browser.conftest import ROOT

MOST_TAPS = 4


class Viewer:
    """Somebody with a phone, whose taps are counted."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.taps = 0
        page.goto("/")

    def tap(self, target: Locator) -> None:
        self.taps += 1
        target.click()
        self.page.wait_for_load_state()

    def reads(self, place: str | Locator, words: str | re.Pattern[str]) -> None:
        """The words stand there to be seen, however they are spaced."""
        shown = self.page.locator(place).first if isinstance(place, str) else place
        expect(shown).to_be_visible()
        expect(shown).to_contain_text(words)


@pytest.fixture
def viewer(new_page: Callable[..., Page]) -> Viewer:
    return Viewer(new_page(has_touch=True))


def published(site: Path) -> dict[str, dict[str, Any]]:
    """The units of the data file, by id."""
    units = json.loads((site / "data" / "units.json").read_text(encoding="utf-8"))["units"]
    return {unit["id"]: unit for unit in units}


def heats_itself(unit: str) -> bool:
    record = yaml.safe_load((ROOT / "results" / f"{unit}.yml").read_text(encoding="utf-8"))
    return "heater" in record["label"]


def test_the_cheapest_100_ah_battery_for_what_it_holds_that_heats_itself(viewer: Viewer, site: Path) -> None:
    prices = {
        name: unit["metrics"]["price_per_kwh"]["value"]
        for name, unit in published(site).items()
        if unit["class"] == "12v-100ah" and heats_itself(name) and "price_per_kwh" in unit["metrics"]
    }
    cheapest = published(site)[min(prices, key=lambda name: prices[name])]
    viewer.tap(viewer.page.get_by_role("link", name="12 V (12.8 V nominal), 100 Ah class"))
    priced = viewer.page.locator("tbody tr").filter(has=viewer.page.locator('a[href$="#cost"]'))
    heated = priced.filter(has_text="heats itself").first
    viewer.reads(heated, f"{cheapest['maker']} {cheapest['model']}")
    viewer.reads(heated, "±")
    assert viewer.taps <= MOST_TAPS


def test_the_cheapest_self_heating_battery_for_what_it_holds_from_the_table_alone(viewer: Viewer, site: Path) -> None:
    prices = {
        name: unit["metrics"]["price_per_kwh"]["value"]
        for name, unit in published(site).items()
        if heats_itself(name) and "price_per_kwh" in unit["metrics"]
    }
    cheapest = published(site)[min(prices, key=lambda name: prices[name])]
    viewer.tap(viewer.page.locator(".filters summary"))
    viewer.tap(viewer.page.get_by_label("Heats itself"))
    viewer.taps += 1  # the entry of the list, which a browser draws by itself
    viewer.page.get_by_label("Heats itself").select_option("yes")
    viewer.tap(viewer.page.get_by_role("button", name="€ per kWh it holds"))
    first = viewer.page.locator("#units tbody tr").first
    viewer.reads(first, f"{cheapest['maker']} {cheapest['model']}")
    viewer.reads(first, "±")
    assert viewer.taps <= MOST_TAPS


def test_whether_a_battery_starts_the_saw_and_on_what_evidence(viewer: Viewer) -> None:
    viewer.tap(viewer.page.locator("#units").get_by_role("link", name="Saltby 100"))
    viewer.reads(".lead", "Started the table saw, cut off at 125.7")
    row = viewer.page.get_by_role("row").filter(has=viewer.page.get_by_role("link", name="Table saw"))
    viewer.tap(row.first.get_by_role("link", name="where"))
    evidence = viewer.page.locator(urlsplit(viewer.page.url).fragment.join(['[id="', '"]']))
    expect(evidence).to_be_in_viewport()
    viewer.reads(evidence, "saw")
    assert viewer.taps <= MOST_TAPS


def test_whether_a_battery_starts_the_saw_that_nobody_tried_on_it(viewer: Viewer) -> None:
    viewer.tap(viewer.page.locator("header").get_by_role("link", name="Loads"))
    viewer.tap(viewer.page.get_by_role("link", name="Table saw").first)
    row = viewer.page.locator("table:not(figure table) tbody tr").filter(has_text="Kelderby K280")
    viewer.reads(row, "nobody tried")
    viewer.reads(row, "starts")
    viewer.tap(viewer.page.get_by_role("link", name="How that is told").first)
    expect(viewer.page.locator("h1")).to_have_text("Loads")
    assert viewer.taps <= MOST_TAPS


def test_how_long_a_battery_runs_the_cold_box_and_whether_overnight(viewer: Viewer) -> None:
    viewer.tap(viewer.page.locator("#units").get_by_role("link", name="Tolgate 100L"))
    viewer.tap(viewer.page.get_by_role("link", name="How long would it run mine?"))
    viewer.tap(viewer.page.get_by_role("button", name="Add it"))  # the cold box is the first in the list
    viewer.tap(viewer.page.get_by_label("Has to last"))
    viewer.page.keyboard.type("10")
    answer = viewer.page.locator("#answers > li").filter(has_text="Tolgate 100L")
    viewer.reads(answer, re.compile(r"\d+\s±\s\d+\sh"))
    viewer.reads(answer, "One is enough")
    assert viewer.taps <= MOST_TAPS


def test_who_leads_if_only_the_cold_matters(viewer: Viewer, site: Path) -> None:
    scores = {
        name: unit["score"]["criteria"]["cold"]
        for name, unit in published(site).items()
        if unit["class"] == "12v-100ah" and unit["score"] and "cold" in unit["score"]["criteria"]
    }
    best = max(score["value"] for score in scores.values() if score["value"] is not None)
    leaders = {name for name, score in scores.items() if score["value"] == best}
    viewer.tap(viewer.page.get_by_role("link", name="Weigh it yourself"))
    viewer.tap(viewer.page.get_by_role("button", name="Only: Behaves in the cold"))
    expect(viewer.page.locator("#whose")).to_contain_text("By your own weights")
    first = viewer.page.locator("#places > li a").first.get_attribute("href") or ""
    assert urlsplit(first).path.rstrip("/").rpartition("/")[2] in leaders
    viewer.reads("#summary", re.compile("lead|tell apart|told apart"))
    assert viewer.taps <= MOST_TAPS


def test_how_two_batteries_differ_by_more_than_the_instruments_can_mistake(viewer: Viewer) -> None:
    for name in ("Saltby 100", "Ferngate F90"):
        row = viewer.page.locator("#units tbody tr").filter(has_text=name)
        viewer.tap(row.get_by_role("checkbox"))
    viewer.tap(viewer.page.get_by_role("link", name="Compare (2)"))
    viewer.reads("main", re.compile(r"\d+ of \d+ numbers differ by more than the instruments can mistake"))
    viewer.tap(viewer.page.get_by_text("Only what differs by more than the instruments can mistake"))
    rows = viewer.page.locator(".compared tbody tr:visible")
    expect(rows.first).to_be_visible()
    for row in rows.all():
        expect(row).to_contain_text("more than the instruments can mistake")
    assert viewer.taps <= MOST_TAPS
