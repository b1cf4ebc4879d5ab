"""`site-builder serve`: editing a results file, a log or the catalogue refreshes the page that shows it."""

from __future__ import annotations

import gzip
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PATIENCE_S = 90
UNIT = "units/ferngate-f90/"


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def read(url: str) -> str:
    try:
        with urllib.request.urlopen(url, timeout=10) as answer:  # noqa: S310  # an address of this test's own
            text: str = answer.read().decode()
            return text
    except (urllib.error.URLError, ConnectionError, TimeoutError):
        return ""


def wait_for(url: str, words: str) -> None:
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        if words in read(url):
            return
        time.sleep(0.5)
    pytest.fail(f"{words!r} did not come to {url}")


@pytest.fixture
def served(tmp_path: Path) -> Iterator[tuple[Path, str]]:
    """A copy of the project with one unit, served; its folder and its address."""
    shutil.copytree(ROOT / "catalogue", tmp_path / "catalogue")
    shutil.copy(ROOT / "mkdocs.yml", tmp_path)
    (tmp_path / "results").mkdir()
    shutil.copy(ROOT / "results" / "ferngate-f90.yml", tmp_path / "results")
    shutil.copytree(ROOT / "results" / "logs" / "ferngate-f90", tmp_path / "results" / "logs" / "ferngate-f90")
    port = free_port()
    command = [sys.executable, "-m", "site_builder", "serve", "--address", f"127.0.0.1:{port}"]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    process = subprocess.Popen(
        command,
        cwd=tmp_path,
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        yield tmp_path, f"http://127.0.0.1:{port}/"
    finally:
        os.killpg(process.pid, signal.SIGTERM)
        process.wait(timeout=30)


def test_edits_refresh_the_page(served: tuple[Path, str]) -> None:
    folder, site = served
    wait_for(site + UNIT, "Ferngate F90")
    # What mkdocs adds for reloading is different every time: no policy could name it, so there is none.
    assert "livereload(" in read(site + UNIT)
    assert "Content-Security-Policy" not in read(site + UNIT)
    results = folder / "results" / "ferngate-f90.yml"
    results.write_text(results.read_text(encoding="utf-8").replace("model: F90}", "model: F91}"), encoding="utf-8")
    wait_for(site + UNIT, "Ferngate F91")
    benches = folder / "catalogue" / "instruments.yml"
    text = benches.read_text(encoding="utf-8")
    benches.write_text(text.replace("Boathouse bench, spring 2026", "Boathouse bench, mended"), encoding="utf-8")
    wait_for(site + UNIT, "oathouse bench, mended")
    log = folder / "results" / "logs" / "ferngate-f90" / "capacity.csv.gz"
    lines = gzip.decompress(log.read_bytes()).decode().splitlines()
    log.write_bytes(gzip.compress("\n".join(lines[: len(lines) // 2]).encode()))
    wait_for(site + UNIT, "Delivered 45")
