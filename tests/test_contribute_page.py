"""What the page on contributing tells people to write is accepted as it stands there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from site_builder.answered import ANSWERABLE
from site_builder.build import derive_all
from site_builder.records import History, Status
from tests.small_project import Project, small_project

SOURCE = Path(__file__).parent.parent / "catalogue/pages/contribute.md"


def blocks() -> list[str]:
    """The YAML on the page, as its writer put it; tests/test_plugin.py shows that it is published like that."""
    return re.findall(r"^```yaml\n(.*?)^```$", SOURCE.read_text(encoding="utf-8"), re.DOTALL | re.MULTILINE)


@pytest.fixture
def project(tmp_path: Path) -> Project:
    made = small_project(tmp_path)
    bench = made.catalogue / "instruments.yml"
    bench.write_text(bench.read_text(encoding="utf-8").replace("quay:", "boathouse-2026:"), encoding="utf-8")
    (made.results / "tarn-t90.yml").unlink()
    (made.results / "prices.csv").unlink()
    return made


def test_its_examples_make_a_file_without_a_fault(project: Project) -> None:
    """The first block is a file; others are what may be added to it."""
    whole, *more = [one for one in blocks() if one.startswith(("unit:", "acknowledged:", "history:"))]
    assert [one.partition(":")[0] for one in more] == ["acknowledged", "history"]
    for added in ("", more[1], "\n".join(more)):
        text = whole + added
        # The answer is one to a counter that shows the label's capacity.
        project.unit(text.replace("90.8", "90") if "acknowledged" in added else text, "ferngate-f90.yml")
        assert [str(problem) for problem in derive_all(project.results, project.catalogue).problems] == []


def test_every_warning_that_can_be_answered_stands_on_it() -> None:
    named = set(re.findall(r"`([a-z…-]+)`", SOURCE.read_text(encoding="utf-8").partition("{#status}")[0]))
    assert {code for code in ANSWERABLE if not code.startswith("log-") or code == "log-counter-disagree"} <= named
    assert "log-…" in named


def test_every_kind_of_history_and_every_status_stands_on_it() -> None:
    text = SOURCE.read_text(encoding="utf-8")
    kinds = History.model_json_schema()["properties"]["what"]["enum"]
    states: tuple[str, ...] = Status.__args__  # type: ignore[attr-defined]
    assert [word for word in (*kinds, *states) if f"`{word}`" not in text] == []
