"""What counts as a unit's evidence: whatever derivations read, and nothing else."""

from __future__ import annotations

import datetime as dt
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel

from site_builder.derive.unit import unit_result
from site_builder.evidence_changes import changed_paths, evidence_of, touched_tests
from site_builder.load import Loaded, read_all, read_unit
from site_builder.records import ResultsFile
from tests.small_project import UNIT, Project, small_project

ROOT = Path(__file__).parent.parent
MORE = """\
videos: {first: {url: "https://example.org/v/1", title: Ninety?, date: 2026-05-30}}
offers: [{url: "https://example.org/t90", pays: nobody}]
view: Quiet.
history: [{date: 2026-05-30, what: added, note: First.}]
"""


@pytest.fixture
def project(tmp_path: Path) -> Project:
    made = small_project(tmp_path)
    made.unit(UNIT + "    note: a fine day\n    video: {in: first, from: 1:00}\n" + MORE)
    return made


def changed(project: Project, old: str, new: str) -> tuple[str, ...]:
    """What a change of the file changes of its evidence."""
    path = project.results / "tarn-t90.yml"
    before, _, _ = read_unit(path, project.root)
    project.change(old, new)
    after, _, problems = read_unit(path, project.root)
    assert before is not None
    assert after is not None, problems
    return changed_paths(evidence_of(before, {"run": "one"}), evidence_of(after, {"run": "one"}))


@pytest.mark.parametrize(
    ("old", "new", "paths"),
    [
        ("capacity_ah: 90", "capacity_ah: 91", ("label.capacity_ah",)),
        ("nominal_v: 12.8}", "nominal_v: 12.8, mass_kg: 10}", ("label.mass_kg",)),
        ("battery_c: 22", "battery_c: about 22", ("tests.run.battery_c",)),
        ("date: 2026-05-06", "date: 2026-05-07", ("tests.run.date",)),
        ("bench: quay\n", "", ("tests.run.bench",)),
        ("ended_by: bms", "ended_by: tester", ("tests.run.ended_by",)),
        ("log: run.csv", "counted_ah: 88", ("tests.run.counted_ah",)),
        ("ended_by: bms", "ended_by: bms\n    before: {rest_h: 2}", ("tests.run.before.rest_h",)),
        ("  run:", "  discharge:", ("tests.discharge", "tests.run")),
        ("{obtained: bought,", '{obtained: bought, firmware: "2",', ("samples.a.firmware",)),
        ("  a: {", "  b: {", ("samples",)),
    ],
)  # fmt: skip
def test_evidence(project: Project, old: str, new: str, paths: tuple[str, ...]) -> None:
    if "mass_kg" in new:
        old, new = "capacity_ah: 90}", "capacity_ah: 90, mass_kg: 10}"
    assert changed(project, old, new) == paths


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("a fine day", "a fine, still day"),
        ("from: 1:00", "from: 1:01"),
        ("v/1", "v/2"),
        ("Ninety?", "Ninety!"),
        ("pays: nobody", "pays: tester"),
        ("view: Quiet.", "view: Loud."),
        ("note: First.", "note: The first."),
        ("maker: Tarn", "maker: Tarn Power"),
        ("obtained: bought", "obtained: given"),
        ("battery_c: 22", 'battery_c: "22 °C"'),
        ("battery_c: 22", 'battery_c: "22"'),
    ],
)
def test_no_evidence(project: Project, old: str, new: str) -> None:
    assert changed(project, old, new) == ()


def test_a_number_written_more_finely_is_another(project: Project) -> None:
    assert changed(project, "battery_c: 22", "battery_c: 22.0") == ("tests.run.battery_c",)


def test_a_videos_date_counts_where_the_test_has_none(project: Project) -> None:
    project.change("    date: 2026-05-06\n", "")
    assert changed(project, "date: 2026-05-30}}", "date: 2026-05-31}}") == ("tests.run.date",)


def test_a_log_counts_by_its_bytes(project: Project) -> None:
    record, _, _ = read_unit(project.results / "tarn-t90.yml", project.root)
    assert record is not None
    assert changed_paths(evidence_of(record, {"run": "one"}), evidence_of(record, {"run": "two"})) == ("tests.run.log",)


def test_the_tests_of_paths() -> None:
    assert touched_tests(["label.mass_kg", "tests.run.date", "tests.run.log", "tests.sag"]) == {"", "run", "sag"}


@cache
def demo() -> Loaded:
    return read_all(ROOT / "results", ROOT / "catalogue")


def bare(value: Any) -> Any:
    """The same record without what is said to be no evidence."""
    if not isinstance(value, BaseModel):
        return tuple(map(bare, value)) if isinstance(value, tuple) else value
    kept = {key: bare(getattr(value, key)) for key in type(value).model_fields}
    return value.model_copy(update={key: None if key == "note" else one for key, one in kept.items()})


@pytest.mark.parametrize("name", [file.record.unit.id for file in demo().units])
def test_no_number_of_the_demo_comes_from_what_is_no_evidence(name: str) -> None:
    """Without notes, videos, offers, view, history and answers the derivations give the same."""
    record = next(file.record for file in demo().units if file.record.unit.id == name)
    # A test without a date of its own is dated by its video, and that date is evidence.
    tests = {
        key: bare(test).model_copy(update={"video": test.video if test.date is None else None})
        for key, test in record.tests.items()
    }
    samples = {
        key: sample.model_copy(update={"from_": None, "keeps": None, "ties": None})
        for key, sample in record.samples.items()
    }
    without = {"offers": (), "view": None, "history": (), "acknowledged": ()}
    other = record.model_copy(update={"tests": tests, "samples": samples, **without})
    assert changed_paths(evidence_of(record, {}), evidence_of(other, {})) == ()
    assert numbers(other) == numbers(record)


def numbers(record: ResultsFile) -> dict[str, dict[str, str]]:
    result = unit_result(record, {}, demo().catalogue, (), dt.date(2026, 11, 1))
    tests = {name: {key: repr(one) for key, one in test.metrics.items()} for name, test in result.tests.items()}
    return tests | {"": {key: repr(one) for key, one in result.metrics.items()}}
