"""The kinds of pages of a built site, found from the site itself, so that a new kind is tested from its first build."""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path
from typing import Literal

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

MOVED = "assets/moved.js"  # on a page that only leads to another
ALSO = ("/methods/grading/", "/units/nettle-95/")  # neither the smallest nor the largest: charts and marks of grading

# The score of a shift is the share of the screen that moved times how far, as a share of the screen's height (Layout
# Instability API): at this, the whole screen by less than a pixel, or one line of a table by less than its height.
SEEN_TO_MOVE = 0.001
WATCH_SHIFTS = """(() => {
  window.shifted = [];
  const told = entry => [entry.value, entry.sources.map(source => source.node?.outerHTML?.slice(0, 80))];
  new PerformanceObserver(list => list.getEntries().forEach(entry => {
    if (!entry.hadRecentInput) window.shifted.push(told(entry));
  })).observe({type: 'layout-shift', buffered: true});
})()"""


def html_files(site: Path) -> list[Path]:
    """Every page, 404.html too."""
    return sorted(site.rglob("*.html"))


def kinds(site: Path) -> list[str]:
    """Addresses: each page of the first level, and of each folder below it the smallest and the largest page."""
    groups: dict[Path, list[Path]] = defaultdict(list)
    for path in html_files(site):
        if path.name == "index.html" and MOVED not in path.read_text(encoding="utf-8"):
            folder = path.parent.relative_to(site)
            groups[folder if len(folder.parts) < 2 else folder.parent / "*"].append(path)
    chosen = [path for paths in groups.values() for path in {_least(paths), _most(paths)}]
    return sorted({*ALSO, *(address_of(site, path) for path in chosen)})


def _least(paths: list[Path]) -> Path:
    return min(paths, key=lambda path: (path.stat().st_size, path))


def _most(paths: list[Path]) -> Path:
    return max(paths, key=lambda path: (path.stat().st_size, path))


def address_of(site: Path, path: Path) -> str:
    """Where a server shows the file: "/units/ferngate-f90/"."""
    return "/" + path.relative_to(site).as_posix().removesuffix("index.html")


def draw_all(view: Page) -> None:
    """Scrolls every chart into view and waits until it stands there."""
    for figure in view.locator("figure.chart:visible").all():
        figure.scroll_into_view_if_needed()
        expect(figure.locator(".picture svg")).to_be_visible(timeout=20_000)


def watch_shifts(view: Page) -> None:
    """From its next page on, the view remembers what moved without having been asked to."""
    view.add_init_script(WATCH_SHIFTS)


def shifts(view: Page) -> list[tuple[float, list[str]]]:
    """The score of each shift since the page began, and the beginnings of what moved; two frames are waited for."""
    view.evaluate("() => new Promise((drawn) => requestAnimationFrame(() => requestAnimationFrame(drawn)))")
    return [(value, moved) for value, moved in view.evaluate("window.shifted")]


# The schemes, and what axe asks in each: what colours do not decide is the same in both.
SCHEMES: tuple[tuple[Literal["light", "dark"], dict[str, object]], ...] = (
    ("light", {}),
    ("dark", {"runOnly": {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}}),
)
STILL = """async () => {
  await new Promise((drawn) => requestAnimationFrame(() => requestAnimationFrame(drawn)));
  await Promise.allSettled(document.getAnimations().map((one) => one.finished));
}"""


def violations(view: Page) -> list[str]:
    """What axe finds on the page as it stands, in light and then in dark, each with the beginnings of three places."""
    said = []
    for scheme, asked in SCHEMES:
        view.emulate_media(color_scheme=scheme)
        view.evaluate(STILL)
        for one in Axe().run(view, options={"resultTypes": ["violations"], **asked}).response["violations"]:
            places = [node["html"][:120] for node in one["nodes"][:3]]
            said.append(f"{scheme}: {one['id']}: {one['help']}: {places}")
    return said
