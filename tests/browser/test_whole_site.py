"""The whole built site: links, anchors, sizes, validity, accessibility."""

from __future__ import annotations

import gzip
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import unquote, urljoin, urlsplit

import html5lib
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

UNIT_PAGE_BYTES = 60_000
FIRST_LOAD_BYTES = 125_000
EVERY_KIND = (
    "/",
    "/units/ferngate-f90/",
    "/units/quern-12-100/",
    "/classes/12v-100ah/",
    "/methods/",
    "/cautions/",
    "/about/",
)


def html_files(site: Path) -> list[Path]:
    return sorted(site.rglob("*.html"))


def test_every_internal_link_asset_and_anchor_resolves(site: Path) -> None:
    ids = {path: set(re.findall(r'\bid="?([^"\s>]+)', path.read_text(encoding="utf-8"))) for path in html_files(site)}
    broken = [
        f"{path.relative_to(site)} → {target}"
        for path in html_files(site)
        if path.name != "404.html"
        for target in references(path.read_text(encoding="utf-8"))
        if not resolves(site, path, target, ids)
    ]
    assert not broken, "\n".join(broken[:20])


def references(html: str) -> Iterator[str]:
    for match in re.finditer(r'\b(?:href|src)=("([^"]*)"|([^\s>]+))', html):
        target = match.group(2) if match.group(2) is not None else match.group(3)
        if target and not re.match(r"[a-z]+:|//|\{", target):
            yield target.replace("&amp;", "&")


def resolves(site: Path, page: Path, target: str, ids: dict[Path, set[str]]) -> bool:
    parts = urlsplit(urljoin(f"/{page.relative_to(site).as_posix()}", target))
    path = site / unquote(parts.path).lstrip("/")
    if path.is_dir():
        path = path / "index.html"
    if not path.is_file():
        return False
    return (
        not parts.fragment
        or path.suffix != ".html"
        or unquote(parts.fragment) in ids[path]
        or parts.fragment == "__toc"
    )


def test_a_unit_page_stays_under_60_kb(site: Path) -> None:
    sizes = {path.parent.name: path.stat().st_size for path in (site / "units").glob("*/index.html")}
    assert sizes
    assert max(sizes.values()) <= UNIT_PAGE_BYTES, max(sizes, key=lambda name: sizes[name])


def test_the_first_load_of_a_unit_page_stays_under_125_kb_gzipped(page: Page, site: Path) -> None:
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto("/units/ferngate-f90/")
    page.wait_for_load_state("networkidle")
    total = 0
    for url in asked:
        if "charts-library" in url:
            continue  # counted apart: it comes once, and only when a chart comes into view
        path = site / unquote(urlsplit(url).path).lstrip("/")
        path = path / "index.html" if path.is_dir() else path
        total += len(gzip.compress(path.read_bytes())) if path.is_file() else 0
    assert total <= FIRST_LOAD_BYTES, f"{total} bytes in {len(asked)} requests"


def test_unit_pages_are_valid_html(site: Path) -> None:
    faults = []
    for path in [site / "index.html", *sorted((site / "units").glob("*/index.html"))]:
        parser = html5lib.HTMLParser(strict=False)
        parser.parse(path.read_text(encoding="utf-8"))
        faults += [f"{path.parent.name}: {error}" for error in parser.errors]
    assert not faults, "\n".join(map(str, faults[:10]))


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1280])
def test_no_accessibility_violations(new_page: Callable[..., Page], width: int, scheme: str) -> None:
    page = new_page(width=width, color_scheme=scheme)
    found = []
    for address in EVERY_KIND:
        page.goto(address)
        for violation in Axe().run(page).response["violations"]:
            places = [node["html"][:120] for node in violation["nodes"][:3]]
            found.append(f"{address}: {violation['id']}: {violation['help']}: {places}")
    assert not found, "\n".join(found)


def test_no_page_asks_another_host_for_anything(page: Page) -> None:
    # `new_page` refuses and reports every request that leaves the site; the loop gives it every kind of page.
    for address in EVERY_KIND:
        page.goto(address)
        page.wait_for_load_state("networkidle")


def test_unit_pages_are_not_in_the_navigation(site: Path) -> None:
    home = (site / "index.html").read_text(encoding="utf-8")
    navigation = "".join(re.findall(r"<nav\b.*?</nav>", home, flags=re.DOTALL))
    assert "units/" not in navigation
