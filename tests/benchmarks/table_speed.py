"""What sorting and filtering the table of 5,000 units costs a browser: its script, style and layout, in CPU time.

Read off the kernel's account of the renderer's main thread, so that other work on the machine does not count as ours;
it includes painting. A table of 500 units, packed, stands beside it: its page, and the data for the rest.
"""

from __future__ import annotations

import gzip
import shutil
import statistics
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread

from playwright.sync_api import Browser, Page, sync_playwright

from site_builder.build import derive_all
from site_builder.derived import Derived
from site_builder.frames import frames_of
from site_builder.pages.home_page import home_page, units_table
from site_builder.pages.rendering import render_page
from site_builder.publish.browser_data import data_script
from tests.benchmarks.measure import Row
from tests.browser.conftest import NAMES, QUIET, build
from tests.many_units import many_units

ROOT = Path(__file__).parents[2]
UNITS, FEWER = 5_000, 500
BUDGET_MS, BUDGET_KB = 100.0, 150.0
ROUNDS = 5
# After each a forced layout: what the visitor waits for.
SORT = """async (i) => {
    const key = ["price", "delivered_wh", "score", "mass_kg", "name"][i];
    await window.unitsView.change({ sorted: { key, down: i % 2 === 0 } });
    return document.body.offsetHeight;
}"""
FILTER = """async (i) => {
    const form = document.getElementById("filters");
    Object.assign(form.elements.amps, { value: 90 + i });
    Object.assign(form.elements.price, { value: 400 + i });
    form.dispatchEvent(new Event("input"));
    await window.unitsView.load();
    await new Promise((drawn) => setTimeout(drawn));
    return document.body.offsetHeight;
}"""


class _SilentHandler(SimpleHTTPRequestHandler):
    def log_message(self, *_: object) -> None:
        """Nobody reads them."""


def script_of(derived: Derived) -> str:
    """The data of the table of all units."""
    return data_script("unitsTable", units_table(derived, frames_of(derived)).for_script)


def main_thread(browser: Browser, page: Page) -> Path:
    """The account of the page's main thread: its first number is the time on a processor. [ns]"""
    processes = browser.new_browser_cdp_session().send("SystemInfo.getProcessInfo")["processInfo"]
    renderers = [Path(f"/proc/{int(one['id'])}/schedstat") for one in processes if one["type"] == "renderer"]
    before = {account: on_processor_ms(account) for account in renderers}
    page.evaluate("() => { for (const end = performance.now() + 300; performance.now() < end; ); }")
    # The busy one is the page's; others stand by for the next.
    return max(renderers, key=lambda account: on_processor_ms(account) - before[account])


def on_processor_ms(account: Path) -> float:
    """What the account says so far. [ms]"""
    return int(account.read_text("utf-8").split()[0]) / 1e6


def spent_ms(page: Page, account: Path, call: str) -> float:
    """Median of some rounds. [ms]"""
    times = []
    for i in range(ROUNDS):
        before = on_processor_ms(account)
        page.evaluate(call, i)
        times.append(on_processor_ms(account) - before)
    return statistics.median(times)


def in_browser(site: Path, width: int) -> dict[str, float]:
    """What a sort and a filter cost on a screen of this width. [ms]"""
    program = next(path for name in NAMES if (path := shutil.which(name)))
    with ThreadingHTTPServer(("127.0.0.1", 0), partial(_SilentHandler, directory=site)) as server:
        Thread(target=server.serve_forever, daemon=True).start()
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=program, args=list(QUIET))
            page = browser.new_page(viewport={"width": width, "height": 900})
            page.goto(f"http://127.0.0.1:{server.server_port}/")
            page.evaluate("() => window.unitsView.change({})")
            account = main_thread(browser, page)
            spent = {name: spent_ms(page, account, call) for name, call in (("sort", SORT), ("filter", FILTER))}
            browser.close()
        server.shutdown()
    return spent


def rows(folder: Path) -> list[Row]:
    """Sort and filter at two widths, and the packed size of a page with fewer units."""
    demo = derive_all(ROOT / "results", ROOT / "catalogue").derived
    site = build(folder / "site")
    shell_kb = len(gzip.compress((site / "about" / "index.html").read_bytes())) / 1000
    (site / "assets" / "units-table.js").write_text(script_of(many_units(demo, UNITS)), encoding="utf-8")
    speed = [
        Row(what=f"{name} {UNITS:,} units, {width} px wide", value=ms, unit="ms", budget=BUDGET_MS)
        for width in (1280, 390)
        for name, ms in in_browser(site, width).items()
    ]
    fewer = many_units(demo, FEWER)
    page = render_page(home_page(fewer, frames_of(fewer)))
    page_kb, data_kb = (len(gzip.compress(text.encode())) / 1000 for text in (page, script_of(fewer)))
    note = f"its table {page_kb:.1f}, the data {data_kb:.1f}, another page of the site {shell_kb:.1f}"
    total_kb = page_kb + data_kb + shell_kb
    what = f"table page of {FEWER} units with its data, packed"
    return [*speed, Row(what=what, value=total_kb, unit="kB", budget=BUDGET_KB, note=note)]
