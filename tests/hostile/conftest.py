"""The same project three times: with harmless words in every text field, and with two kinds of harmful ones."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.hostile.project import LOG_NAME, built
from tests.hostile.words import HARMFUL, harmless


@pytest.fixture(scope="session")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of all workers."""
    own = tmp_path_factory.getbasetemp()
    return own.parent if "PYTEST_XDIST_WORKER" in os.environ else own


@pytest.fixture(scope="session")
def harmless_site(shared: Path) -> Path:
    """The site with harmless words."""
    return built(shared / "harmless", harmless, "run.csv")


@pytest.fixture(scope="session")
def harmful_sites(shared: Path) -> dict[str, Path]:
    """The sites with harmful words, by their kind."""
    return {kind: built(shared / kind.replace(" ", "-"), write, LOG_NAME) for kind, write in HARMFUL.items()}
