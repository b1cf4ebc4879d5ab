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
from playwright.sync_api import Browser, ConsoleMessage, Page, ViewportSize, sync_playwright

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
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
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


class Visit:
    """A visitor's context, and what its pages complained of or asked of other hosts."""

    def __init__(self, browser: Browser, site_url: str, *, width: int, height: int, **options: Any) -> None:
        self.viewport = ViewportSize(width=width, height=height)
        self.context = browser.new_context(base_url=site_url, viewport=self.viewport, **options)
        self.complaints: list[str] = []
        own = (site_url, "data:", "blob:")
        self.context.on("request", lambda one: None if one.url.startswith(own) else self._hear(f"asked for {one.url}"))
        self.context.on("console", lambda said: self._hear(_place_of(said)) if said.type == "error" else None)
        self.context.on("weberror", lambda error: self._hear(str(error.error)))

    def _hear(self, complaint: str) -> None:
        self.complaints.append(complaint)

    def forget(self, view: Page) -> None:
        """Makes the page that is left as good as new."""
        for other in self.context.pages:
            if other is not view:
                other.close()
        self.context.set_offline(False)
        self.context.clear_permissions()
        view.unroute_all(behavior="ignoreErrors")
        view.evaluate(
            "location.protocol === 'about:' || [localStorage, sessionStorage].forEach((kept) => kept.clear())"
        )
        view.goto("about:blank")
        view.emulate_media(media="null", color_scheme="null", forced_colors="null", reduced_motion="null")
        view.set_viewport_size(self.viewport)


def _place_of(said: ConsoleMessage) -> str:
    return f"{said.page.url if said.page else ''}: {said.text}"


@pytest.fixture
def new_page(browser: Browser, site_url: str) -> Iterator[Callable[..., Page]]:
    """`new_page(width=390, height=844, **of_the_context)`: a page of its own, to which "/units/" is an address.

    At the end of the test no page may have written an error to its console, or have asked any other host for anything.
    """
    visits: list[Visit] = []

    def open_page(*, width: int = 390, height: int = 844, **options: Any) -> Page:
        visits.append(Visit(browser, site_url, width=width, height=height, **options))
        return visits[-1].context.new_page()

    yield open_page
    for visit in visits:
        visit.context.close()
    complaints = [complaint for visit in visits for complaint in visit.complaints]
    assert not complaints, "\n".join(complaints)


def _not_here(*_: object) -> None:
    pytest.fail("the next test uses this page too: what stays with a page belongs on one from new_page")


def _lent(browser: Browser, site_url: str, width: int, height: int) -> Iterator[Callable[[], Iterator[Page]]]:
    """One page after another test's, as a new one would be, since to start one takes longer than most tests do."""
    visit = Visit(browser, site_url, width=width, height=height)
    view = visit.context.new_page()
    for name in ("on", "once", "add_init_script"):
        setattr(view, name, _not_here)

    def lend() -> Iterator[Page]:
        visit.complaints.clear()
        yield view
        complaints = list(visit.complaints)
        visit.forget(view)
        assert not complaints, "\n".join(complaints)

    yield lend
    visit.context.close()


@pytest.fixture(scope="session")
def _phone(browser: Browser, site_url: str) -> Iterator[Callable[[], Iterator[Page]]]:
    yield from _lent(browser, site_url, 390, 844)


@pytest.fixture(scope="session")
def _desk(browser: Browser, site_url: str) -> Iterator[Callable[[], Iterator[Page]]]:
    yield from _lent(browser, site_url, 1280, 800)


@pytest.fixture
def page(_phone: Callable[[], Iterator[Page]]) -> Iterator[Page]:
    """A page as wide as a phone."""
    yield from _phone()


@pytest.fixture
def desk_page(_desk: Callable[[], Iterator[Page]]) -> Iterator[Page]:
    """A page as wide as a desk's screen."""
    yield from _desk()
