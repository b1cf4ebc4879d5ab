"""Counts and groups of tests: what runs at every change, what under FULL=1, and what is reported as not run."""

import gc
import os
from collections.abc import Callable
from importlib.util import find_spec
from pathlib import Path

# As the command line has it: a thread per core would spin beside each worker's own and beside the browser.
os.environ["OPENBLAS_NUM_THREADS"] = "1"

import pytest
from hypothesis import settings

from site_builder.build import Site, render_site
from site_builder.derived import Published

ROOT = Path(__file__).parents[1]
ADDRESS = "https://bench.hollinwater.example/"
FULL = os.environ.get("FULL", "") not in {"", "0"}

# What a developer's shell happens to say must not change a result: this variable is the date of the catalogue.
os.environ.pop("SOURCE_DATE_EPOCH", None)
os.environ["NO_MKDOCS_2_WARNING"] = "1"
os.environ["PYBAMM_DISABLE_TELEMETRY"] = "true"

# Reduced runs are alike every time, so that a failure belongs to the change; full runs look for new cases.
settings.register_profile("reduced", max_examples=50, deadline=None, derandomize=True, database=None)
settings.register_profile("stated", max_examples=1000, deadline=None, print_blob=True)
settings.load_profile("stated" if FULL else "reduced")


@pytest.fixture(scope="session")
def demo_site() -> Site:
    """What goes into the demo's site: its pages and files."""
    return render_site(ROOT / "results", ROOT / "catalogue", Published("Hollin Water bench", ADDRESS))


@pytest.fixture(scope="session")
def full() -> bool:
    """Whether this run uses the stated counts."""
    return FULL


@pytest.fixture(scope="session")
def count() -> Callable[[int, int], int]:
    """`count(reduced, stated)`: how many seeds, kills or cases this run does."""

    def choose(reduced: int, stated: int) -> int:
        return stated if FULL else reduced

    return choose


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Says why a test of an optional group does not run, instead of leaving it out in silence."""
    reasons = {}
    if not FULL:
        reasons["full"] = "not run: too long for every change; FULL=1 runs it"
    if find_spec("pybamm") is None:
        reasons["oracle"] = "not run: needs the optional group `oracle`"
    for item in items:
        for marker in reasons.keys() & {mark.name for mark in item.iter_markers()}:
            item.add_marker(pytest.mark.skip(reason=reasons[marker]))


def pytest_collection_finish() -> None:
    """Thousands of tests in memory make every pass of the cycle collector slow, and none of them is garbage."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)
