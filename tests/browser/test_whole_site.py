"""The whole built site as files: links, anchors, sizes, validity, policy. What a browser makes of it: test_kinds."""

from __future__ import annotations

import gzip
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import unquote, urljoin, urlsplit

import html5lib
from playwright.sync_api import Page

from site_builder.publish.content_policy import content_policy
from tests.browser.site_pages import html_files, kinds

UNIT_PAGE_BYTES = 60_000
FIRST_LOAD_BYTES = 125_000
OWN_SCRIPT_BYTES = 30_000
OWN_SCRIPT_LINES = 250
LIBRARY = "assets/charts-library.js"  # comes once, and only when a chart comes into view
WORKER = "sheets/worker.js"  # where a service worker lies says for what it may answer
DATA = "window."  # a script that only assigns data starts like this
TAG = re.compile(r"<([a-z][a-z0-9-]*)((?:\s[^<>]*)?)>")
REFERENCE = re.compile(r'\s(?:href|src|action)=(?:"([^"]*)"|([^\s>"]+))')


def test_every_internal_link_asset_and_anchor_resolves(site: Path) -> None:
    ids = {path: set(ids_of(path.read_text(encoding="utf-8"))) for path in html_files(site)}
    broken = [
        f"{path.relative_to(site)} → {target}"
        for path in html_files(site)
        for target in references(path.read_text(encoding="utf-8"))
        if not resolves(site, path, target, ids)
    ]
    assert not broken, "\n".join(broken[:20])


def references(html: str) -> Iterator[str]:
    for _, attributes in TAG.findall(html):
        for quoted, bare in REFERENCE.findall(attributes):
            target = quoted or bare
            if target and not re.match(r"[a-z]+:|//", target):
                yield target.replace("&amp;", "&")


def ids_of(html: str) -> list[str]:
    return re.findall(r'<[a-z][^<>]*?\sid="?([^"\s>]+)', html)


def resolves(site: Path, page: Path, target: str, ids: dict[Path, set[str]]) -> bool:
    parts = urlsplit(urljoin(f"/{page.relative_to(site).as_posix()}", target))
    path = site / unquote(parts.path).lstrip("/")
    if path.is_dir():
        path = path / "index.html"
    if not path.is_file():
        return False
    fragment = unquote(parts.fragment)
    state = "=" in fragment  # what a page's own script is to show
    return not fragment or state or path.suffix != ".html" or fragment in ids[path]


def test_a_page_names_nothing_that_a_browser_would_fetch_elsewhere(site: Path) -> None:
    fetched = re.compile(
        r'<(?:script|img|iframe|source|video|audio|embed|object|link rel="?(?:stylesheet|icon))[^>]*//'
    )
    foreign = [
        f"{path.relative_to(site)}: {tag}" for path in html_files(site) for tag in fetched.findall(path.read_text())
    ]
    assert not foreign


def test_a_unit_page_stays_under_60_kb(site: Path) -> None:
    sizes = {path.parent.name: path.stat().st_size for path in (site / "units").glob("*/index.html")}
    assert sizes
    assert max(sizes.values()) <= UNIT_PAGE_BYTES, max(sizes, key=lambda name: sizes[name])


def packed(path: Path) -> int:
    return len(gzip.compress(path.read_bytes()))


def test_a_first_load_is_light_and_fetches_nothing_early(new_page: Callable[..., Page], site: Path) -> None:
    """Each kind of page with all that it asks for by itself: under 125 kB gzipped, own scripts under 30 kB of it."""
    page = new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(urlsplit(request.url).path.lstrip("/")))
    heavy = []
    for address in kinds(site):
        asked.clear()
        page.goto(address, wait_until="networkidle")
        files = [site / unquote(path) for path in asked if path != LIBRARY]
        total = sum(packed(path / "index.html" if path.is_dir() else path) for path in files)
        scripts = sum(packed(path) for path in set(files) & set(own_scripts(site)))
        assert not [path for path in asked if "search-index" in path], "the search's list comes when it is opened"
        if total > FIRST_LOAD_BYTES or scripts > OWN_SCRIPT_BYTES:
            heavy.append(f"{address}: {total} bytes in {len(files)} requests, {scripts} of them in scripts")
    assert not heavy, "\n".join(heavy)


def own_scripts(site: Path) -> list[Path]:
    """Scripts written here: neither the theme's, nor the drawing library, nor data."""
    scripts = [path for path in (site / "assets").glob("*.js") if path.name != Path(LIBRARY).name]
    return [path for path in scripts if not path.read_text(encoding="utf-8").startswith(DATA)]


def test_own_scripts_are_short(site: Path) -> None:
    for path in (*own_scripts(site), site / WORKER):
        assert len(path.read_text(encoding="utf-8").splitlines()) < OWN_SCRIPT_LINES, path.name


def test_own_scripts_are_classic_and_fetch_nothing_that_a_folder_could_not_give(site: Path) -> None:
    for path in own_scripts(site):
        code = re.sub(r"/\*.*?\*/", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
        found = re.search(r"^\s*(?:import|export)\b|\bfetch\(|XMLHttpRequest|\beval\(|new Function", code, re.MULTILINE)
        assert not found, f"{path.name}: {found}"
    for path in html_files(site):
        assert 'type="module"' not in path.read_text(encoding="utf-8"), path


def test_every_page_is_valid_html(site: Path) -> None:
    faults = []
    for path in html_files(site):
        parser = html5lib.HTMLParser(strict=False)
        parser.parse(path.read_text(encoding="utf-8"))
        faults += [f"{path.relative_to(site)}: {error}" for error in parser.errors]
    assert not faults, "\n".join(map(str, faults[:10]))


def test_no_id_stands_twice_on_a_page(site: Path) -> None:
    for path in html_files(site):
        ids = ids_of(path.read_text(encoding="utf-8"))
        assert len(ids) == len(set(ids)), f"{path}: {sorted(one for one in ids if ids.count(one) > 1)}"


def test_every_page_has_the_policy_of_what_stands_in_it(site: Path) -> None:
    for path in html_files(site):
        html = path.read_text(encoding="utf-8")
        policies = re.findall(r'<meta http-equiv="Content-Security-Policy" content="([^"]*)">', html)
        assert policies == [content_policy(html)], path
        assert not re.search(r"<[a-z][^<>]*\s(?:style|on[a-z]+)=", html), f"{path}: no policy can name an attribute"


def test_unit_pages_are_not_in_the_navigation(site: Path) -> None:
    home = (site / "index.html").read_text(encoding="utf-8")
    navigation = "".join(re.findall(r"<nav\b.*?</nav>", home, flags=re.DOTALL))
    assert "units/" not in navigation


def test_a_broken_link_is_found(tmp_path: Path) -> None:
    page = tmp_path / "index.html"
    page.write_text('<a href="gone/">x</a><a id=here href=#here>y</a><a href="#nowhere">z</a>', encoding="utf-8")
    ids = {page: set(ids_of(page.read_text(encoding="utf-8")))}
    found = [
        target for target in references(page.read_text(encoding="utf-8")) if not resolves(tmp_path, page, target, ids)
    ]
    assert found == ["gone/", "#nowhere"]
