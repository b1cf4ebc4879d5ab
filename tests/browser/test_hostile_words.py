"""Harmful words in every text field, and the site used by a person: no script takes them for more than words."""

from __future__ import annotations

import os
from collections.abc import Iterator
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.hostile.project import LOG_NAME, built
from tests.hostile.words import formula_first

# What the words would make: elements, handlers, addresses of their own.
MADE = """() => [...document.querySelectorAll("*")].filter(one =>
  [...one.attributes].some(({ name, value }) =>
    name.startsWith("on") ||
    ["href", "src", "action"].includes(name) && /^(javascript|data):|^https:.{0,2}evil|^x$/i.test(value))
  || one.localName === "script" && !one.type.includes("json") && one.textContent.includes("hit()")
).map(one => one.outerHTML.slice(0, 200))"""
PAGES = (
    "/", "/compare/?units=ferngate-f90,nettle-95,wendlecote-w100", "/runtime/?uses=kettle", "/priorities/",
    "/classes/12v-100ah/", "/units/ferngate-f90/", "/units/thrushby-t100/", "/units/gannetholm-g24/", "/loads/",
    "/loads/kettle/", "/sheets/larkstile-l200/",
    "/methods/grading/", "/changes/", "/videos/", "/data/",
)  # fmt: skip


class _Quiet(SimpleHTTPRequestHandler):
    def log_message(self, *_: object) -> None:
        """Requests are no part of a test's report."""


@pytest.fixture(scope="module")
def hostile_url(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of the site with harmful words."""
    own = tmp_path_factory.getbasetemp()
    shared = own.parent if "PYTEST_XDIST_WORKER" in os.environ else own
    site = built(shared / "formula-first", formula_first, LOG_NAME)
    with ThreadingHTTPServer(("127.0.0.1", 0), partial(_Quiet, directory=site)) as server:
        Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_port}"
        server.shutdown()


@pytest.fixture
def view(browser: Browser, hostile_url: str) -> Iterator[Page]:
    """A page on which a complaint of the policy, or a request to anybody else, fails the test."""
    complaints: list[str] = []
    context = browser.new_context(base_url=hostile_url, viewport={"width": 1280, "height": 800})
    context.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
    context.on("request", lambda one: None if one.url.startswith(hostile_url) else complaints.append(one.url))
    context.on("weberror", lambda error: complaints.append(str(error.error)))
    yield context.new_page()
    context.close()
    assert complaints == []


def test_scripts_show_words_as_words(view: Page) -> None:
    for address in PAGES:
        view.goto(address, wait_until="networkidle")
        view.evaluate("window.scrollTo(0, document.body.scrollHeight)")
        view.evaluate("document.querySelectorAll('main details').forEach(one => { one.open = true })")
        view.wait_for_load_state("networkidle")
        assert view.evaluate(MADE) == [], address


def test_the_table_shows_words_as_words_in_all_its_columns(view: Page) -> None:
    view.goto("/", wait_until="networkidle")
    for columns in ("capacity", "overload", "cold", "cost", "build"):
        view.locator(f"#columns input[value={columns}]").evaluate("one => one.click()")
        assert view.evaluate(MADE) == [], columns
    view.locator("#filters [name=words]").fill("zqunit")
    assert view.locator("#units tbody th a").count() > 0
    for chosen in view.locator("#units tbody input").all()[:3]:
        chosen.evaluate("one => one.click()")
    assert view.evaluate(MADE) == []


def test_the_search_shows_words_as_words(view: Page) -> None:
    view.goto("/", wait_until="networkidle")
    view.get_by_role("button", name="Search").click()
    expect(view.locator(".search__said")).not_to_contain_text("Fetching")
    view.keyboard.type("zqunitmaker")
    expect(view.locator(".search__found a").first).to_contain_text("<script>hit()</script>")
    assert view.evaluate(MADE) == []
