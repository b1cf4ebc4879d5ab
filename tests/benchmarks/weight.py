"""How much a viewer's phone loads for a unit's page, as a browser asks for it, up to the drawing library."""

from __future__ import annotations

import gzip
import shutil
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread
from urllib.parse import urlsplit

from playwright.sync_api import sync_playwright

from tests.benchmarks.measure import Row
from tests.browser.conftest import NAMES, QUIET, build

PAGE_KB, LOAD_KB = 60, 125
LIBRARY = "charts-library.js"  # comes with the first chart in view


class _SilentHandler(SimpleHTTPRequestHandler):
    def log_message(self, *_: object) -> None:
        """Requests are counted by the browser."""


def asked_for(site: Path, address: str) -> list[str]:
    """The files below the site that a browser fetches for one address."""
    program = next(path for name in NAMES if (path := shutil.which(name)))
    with ThreadingHTTPServer(("127.0.0.1", 0), partial(_SilentHandler, directory=site)) as server:
        Thread(target=server.serve_forever, daemon=True).start()
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=program, args=list(QUIET))
            page = browser.new_page(viewport={"width": 390, "height": 844})
            paths: list[str] = []
            page.on("request", lambda request: paths.append(urlsplit(request.url).path.lstrip("/")))
            page.goto(f"http://127.0.0.1:{server.server_port}/{address}", wait_until="networkidle")
            browser.close()
        server.shutdown()
    return paths


def rows(folder: Path) -> list[Row]:
    """The demo's heaviest unit page, by itself and with all that comes before the drawing library."""
    site = build(folder / "site")
    heaviest = max((site / "units").glob("*/index.html"), key=lambda path: path.stat().st_size)
    address = f"{heaviest.parent.relative_to(site).as_posix()}/"
    packed: dict[str, float] = {}
    for path in asked_for(site, address):
        file = site / path / "index.html" if path.endswith("/") or not path else site / path
        if file.is_file() and file.name != LIBRARY:
            packed[path] = len(gzip.compress(file.read_bytes())) / 1000
    loaded = ", ".join(f"{Path(path).name or path} {size:.1f}" for path, size in packed.items())
    size_kb = heaviest.stat().st_size / 1000
    what = "its first load, packed, before the drawing library"
    return [
        Row(what="HTML of the heaviest unit page", value=size_kb, unit="kB", budget=PAGE_KB, note=address),
        Row(what=what, value=sum(packed.values()), unit="kB", budget=LOAD_KB, note=loaded),
    ]
