"""The offline build, opened from its folder by somebody who was sent it: links, table, charts, search, colours."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from filelock import FileLock
from playwright.sync_api import Browser, ConsoleMessage, Page, expect

from tests.browser.conftest import ROOT
from tests.browser.site_pages import draw_all, html_files, kinds
from tests.browser.test_whole_site import ids_of, references, resolves


@pytest.fixture(scope="session")
def folder(chromium_path: str, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the offline build, one for all workers."""
    del chromium_path
    own = tmp_path_factory.getbasetemp()
    shared = own.parent if "PYTEST_XDIST_WORKER" in os.environ else own
    finished = shared / "offline"
    with FileLock(shared / "offline.lock"):
        if not finished.exists():
            working = shared / "offline-in-work"
            command = [sys.executable, "-m", "site_builder", "build", "--offline", "--site", str(working)]
            done = subprocess.run(command, cwd=ROOT, check=False, capture_output=True, text=True)
            assert done.returncode == 0, done.stdout + done.stderr
            working.rename(finished)
    return finished


@pytest.fixture
def start(browser: Browser, folder: Path) -> Iterator[Page]:
    """The first page, from file://; no page may write an error or look outside of the folder."""
    complaints: list[str] = []
    home = (folder / "index.html").as_uri()
    context = browser.new_context(viewport={"width": 390, "height": 844})

    def hear(message: ConsoleMessage) -> None:
        if message.type == "error":
            complaints.append(message.text)

    context.on("console", hear)
    context.on("weberror", lambda error: complaints.append(str(error.error)))
    context.on("request", lambda request: complaints.append(request.url) if outside(request.url, home) else None)
    page = context.new_page()
    page.goto(home)
    yield page
    context.close()
    assert not complaints, "\n".join(complaints)


def outside(url: str, home: str) -> bool:
    return not url.startswith((home.removesuffix("index.html"), "data:"))


def test_every_link_names_a_file(folder: Path) -> None:
    ids = {path: set(ids_of(path.read_text(encoding="utf-8"))) for path in html_files(folder)}
    for path in html_files(folder):
        for target in references(path.read_text(encoding="utf-8")):
            place = (path.parent / target.partition("#")[0].partition("?")[0]).resolve()
            assert place.is_file() or target.startswith("#"), f"{path.relative_to(folder)} → {target}"
            assert resolves(folder, path, target, ids), f"{path.relative_to(folder)} → {target}"


def test_there_is_no_page_that_only_a_server_would_show(folder: Path) -> None:
    assert not (folder / "404.html").exists()


def test_there_is_no_worker_that_no_browser_would_run(folder: Path) -> None:
    assert not (folder / "sheets/worker.js").exists()


def test_a_battery_is_reached_from_the_table_and_home_again(start: Page) -> None:
    start.locator("#units").get_by_role("link", name="Ferngate F90").click()
    expect(start.locator("h1")).to_contain_text("Ferngate F90")
    start.locator(".site-name").click()
    expect(start.locator("#units")).to_be_visible()


def test_every_kind_of_page_draws_its_charts_and_keeps_its_policy(start: Page, folder: Path) -> None:
    for address in kinds(folder):
        start.goto((folder / address.lstrip("/") / "index.html").as_uri())
        figures = start.locator("figure.chart:visible").count()
        draw_all(start)
        assert start.locator("figure.chart:visible .picture svg").count() == figures, address


def test_the_search_finds_and_leads(start: Page) -> None:
    start.get_by_role("button", name="Search").click()
    start.keyboard.type("saltby")
    start.locator(".search__found").get_by_role("link", name="Saltby 100").click()
    expect(start.locator("h1")).to_contain_text("Saltby 100")


def test_colours_are_chosen_and_kept_on_the_next_page(start: Page) -> None:
    for _ in range(2):
        start.locator("#scheme-button").click()
    assert start.evaluate("document.body.dataset.mdColorScheme") == "slate"
    start.get_by_role("link", name="Methods", exact=True).click()
    expect(start.locator("body")).to_have_attribute("data-md-color-scheme", "slate")


def test_the_table_sorts(start: Page) -> None:
    heading = start.locator("#units thead button:visible").nth(1)
    heading.click()
    expect(start.locator("#units th[aria-sort]")).to_have_count(1)


def test_own_weights_give_an_order_that_leads_to_the_batteries(start: Page) -> None:
    start.get_by_role("link", name="Own weights").first.click()
    places = start.locator("#places li")
    expect(places.first).to_be_visible()
    before = places.all_inner_texts()
    start.get_by_label("Weight: Costs little for what it holds").fill("90")
    expect(start.locator("#whose")).to_contain_text("By your own weights")
    assert places.all_inner_texts() != before
    leader = places.first.get_by_role("link").first
    name = leader.inner_text()
    leader.click()
    expect(start.locator("h1")).to_contain_text(name)
