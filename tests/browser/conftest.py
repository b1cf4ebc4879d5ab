"""The built site in a real browser: built once a run by its command line, served here, cut off from all others."""

import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread
from typing import Any

import pytest
from filelock import FileLock
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, Route, sync_playwright

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
# The first is the same browser without its windows, and starts in a third of the time.
NAMES = ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome")
QUIET = (
    "--no-sandbox",  # a container's root cannot make one; the pages are our own
    "--disable-gpu",
    "--disable-dev-shm-usage",  # containers give it 64 MB
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
)


@pytest.hookimpl(tryfirst=True)  # before `-m browser` chooses
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Marks every test of this folder."""
    for item in items:
        if HERE in item.path.parents:
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="session")
def chromium_path() -> str:
    """The browser's program. Without one, tests fail where a change is judged, and say "not run" elsewhere."""
    for name in NAMES:
        if path := shutil.which(name):
            return path
    missing = f"not run: none of {', '.join(NAMES)} is on the PATH"
    if os.environ.get("CI") == "true":
        pytest.fail(missing)
    pytest.skip(missing)


@pytest.fixture(scope="session")
def site(chromium_path: str, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the built site, one for all workers."""
    del chromium_path  # nothing to build for where nothing can look at it
    own = tmp_path_factory.getbasetemp()
    shared = own.parent if "PYTEST_XDIST_WORKER" in os.environ else own
    finished = shared / "site"
    with FileLock(shared / "site.lock"):
        if not finished.exists():
            build(shared / "site-in-work").rename(finished)
    return finished


def build(folder: Path) -> Path:
    """Builds the catalogue of this repository into the folder, as its publisher would; a warning fails it."""
    shutil.rmtree(folder, ignore_errors=True)
    command = [sys.executable, "-m", "site_builder", "build", "--site", str(folder)]
    done = subprocess.run(command, cwd=ROOT, check=False, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    return folder


class _SilentHandler(SimpleHTTPRequestHandler):
    def log_message(self, *_: object) -> None:
        """Requests are no part of a test's report."""


@pytest.fixture(scope="session")
def site_url(site: Path) -> Iterator[str]:
    """The site's address on this machine, without the last slash."""
    with ThreadingHTTPServer(("127.0.0.1", 0), partial(_SilentHandler, directory=site)) as server:
        thread = Thread(target=server.serve_forever, daemon=True)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}"
        server.shutdown()
        thread.join()


@pytest.fixture(scope="session")
def browser(chromium_path: str) -> Iterator[Browser]:
    """One browser for all tests of a worker."""
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=chromium_path, args=list(QUIET))
        yield chromium
        chromium.close()


@pytest.fixture
def new_page(browser: Browser, site_url: str) -> Iterator[Callable[..., Page]]:
    """`new_page(width=390, height=844, **of_the_context)`: a page of its own, to which "/units/" is an address.

    At the end of the test no page may have written an error to its console, or have asked any other host for anything.
    """
    complaints: list[str] = []
    contexts: list[BrowserContext] = []

    def refuse(route: Route) -> None:
        complaints.append(f"asked for {route.request.url}")
        route.abort()

    def hear(message: ConsoleMessage) -> None:
        if message.type == "error":
            complaints.append(f"{message.page.url if message.page else ''}: {message.text}")

    def open_page(*, width: int = 390, height: int = 844, **options: Any) -> Page:
        context = browser.new_context(base_url=site_url, viewport={"width": width, "height": height}, **options)
        contexts.append(context)
        context.route(lambda url: not url.startswith(site_url), refuse)
        context.on("console", hear)
        context.on("weberror", lambda error: complaints.append(str(error.error)))
        return context.new_page()

    yield open_page
    for context in contexts:
        context.close()
    assert not complaints, "\n".join(complaints)


@pytest.fixture
def page(new_page: Callable[..., Page]) -> Page:
    """A page as wide as a phone."""
    return new_page()


@pytest.fixture
def desk_page(new_page: Callable[..., Page]) -> Page:
    """A page as wide as a desk's screen."""
    return new_page(width=1280, height=800)
