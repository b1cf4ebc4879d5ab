"""What no single field can show; exact wordings are kept in tests/data/invalid."""

from __future__ import annotations

from pathlib import Path

import pytest

from site_builder.build import derive_all
from site_builder.check import log_path
from tests.small_project import BENCHES, UNIT, Project, small_project


@pytest.fixture
def project(tmp_path: Path) -> Project:
    return small_project(tmp_path)


def found(project: Project) -> list[tuple[str, str]]:
    """Field and code of every problem."""
    return [(problem.field, problem.code) for problem in derive_all(project.results, project.catalogue).problems]


def test_a_project_without_a_fault(project: Project) -> None:
    assert found(project) == []


@pytest.mark.parametrize(
    ("old", "new", "field", "code"),
    [
        pytest.param("bench: quay", "bench: key", "bench", "unknown-bench", id="a bench"),
        pytest.param("date: 2026-05-06", "bench: key", "tests.run.bench", "unknown-bench", id="a test's bench"),
        pytest.param("date: 2026-05-06", "sample: b", "tests.run.sample", "unknown-sample", id="a sample"),
        pytest.param("date: 2026-05-06", "load: kettel", "tests.run.load", "unknown-load", id="a load"),
        pytest.param("date: 2026-05-06", "load: [kettle, saw]", "tests.run.load", "unknown-load", id="of two loads"),
        pytest.param("date: 2026-05-06", "read_on: clamp", "tests.run.read_on", "unknown-instrument", id="instrument"),
        pytest.param("date: 2026-05-06", "inverter: hut", "tests.run.inverter", "unknown-inverter", id="an inverter"),
        pytest.param("date: 2026-05-06", "video: {in: one}", "tests.run.video.in", "unknown-video", id="a video"),
        pytest.param("run.csv", "ran.csv", "tests.run.log", "log-missing", id="a log"),
        pytest.param("run.csv", "../other/run.csv", "tests.run.log", "log-missing", id="another unit's log"),
        pytest.param("run.csv", "../../../run.csv", "tests.run.log", "log-outside", id="a log elsewhere"),
        pytest.param("run.csv", "/etc/passwd", "tests.run.log", "log-outside", id="a file of the machine"),
        pytest.param("run.csv", ".", "tests.run.log", "log-path", id="a folder for a log"),
        pytest.param("id: tarn-t90", "id: tarn", "unit.id", "id-file", id="an id that is not the file's"),
        pytest.param(
            "model: T90", "model: T90, former_ids: [tarn-t90]", "unit.former_ids[0]", "id-former", id="a former id"
        ),
        pytest.param("model: T90", "model: T90, status: withdrawn", "unit", "reason-missing", id="withdrawn, but why"),
        pytest.param("capacity_ah: 90", "capacity_ah: 300", "label", "class-none", id="no class"),
        pytest.param("date: 2026-05-06", "date: 2025-12-31", "tests.run.date", "date-bench", id="before its bench"),
        pytest.param("date: 2026-05-06", "date: 2026-04-30", "tests.run.date", "date-sample", id="before its sample"),
        pytest.param(
            "date: 2026-05-06",
            'started: "2026-05-06 10:00", ended: "2026-05-06 09:00"',
            "tests.run.ended",
            "time-order",
            id="an end before its start",
        ),
    ],
)
def test_one_thing_wrong(project: Project, old: str, new: str, field: str, code: str) -> None:
    if ", ended" in new:
        new = new.replace(", ended", "\n    ended")
    project.change(old, new)
    assert (field, code) in found(project)
    # A date may be too early for two reasons.
    assert {one for _, one in found(project)} - {"date-bench", "date-sample"} <= {code}


@pytest.mark.parametrize(
    ("more", "field", "code"),
    [
        ("history: [{date: 2026-06-01, what: added, tests: [rum], note: x}]", "history[0].tests[0]", "unknown-test"),
        ("history: [{date: 2026-06-01, what: died, sample: b, note: x}]", "history[0].sample", "unknown-sample"),
        ("acknowledged: [{code: log-cell, tests: [rum], reason: x}]", "acknowledged[0].tests[0]", "unknown-test"),
        (
            "  refill: {kind: charge, date: 2026-05-07, after: rum}",
            "tests.refill.after",
            "unknown-test",
        ),
        (
            "  ice: {kind: cold_charge, date: 2026-05-07, readings: [{battery_c: 1, read_on: ear}]}",
            "tests.ice.readings[0].read_on",
            "unknown-instrument",
        ),
        (
            """\
  ice: {kind: cold_charge, date: 2026-05-07, video: {in: v, from: "2:00", to: "1:00"}}
videos: {v: {url: "https://example.org", title: V, date: 2026-06-01}}
""",
            "tests.ice.video.to",
            "time-order",
        ),
    ],
)
def test_one_thing_wrong_elsewhere(project: Project, more: str, field: str, code: str) -> None:
    project.unit(f"{UNIT}{more}\n")
    assert found(project) == [(field, code)]


def test_names_that_are_there(project: Project) -> None:
    project.change("date: 2026-05-06", "date: 2026-05-06\n    sample: a\n    load: kettle\n    inverter: galley")
    assert found(project) == []


def test_with_two_samples_every_test_says_which(project: Project) -> None:
    project.change("  a: {", "  b: {obtained: given}\n  a: {")
    assert found(project) == [("tests.run", "sample-missing")]
    project.change("kind: capacity", "kind: capacity\n    sample: a")
    assert found(project) == []


def test_without_classes_every_unit_may_stand_alone(project: Project) -> None:
    (project.catalogue / "classes.yml").unlink()
    assert found(project) == []


def test_a_log_needs_a_bench_that_says_how_it_is_written(project: Project) -> None:
    project.change("bench: quay\n", "")
    assert found(project) == [("tests.run.log", "log-no-bench")]


@pytest.mark.parametrize("folder", ["tarn-t90", "tarn"])
def test_with_another_id_than_the_files_name_logs_are_found_by_either(project: Project, folder: str) -> None:
    """Their own faults come at once, and none seems missing."""
    project.change("id: tarn-t90", "id: tarn")
    (project.results / "logs" / "tarn-t90").rename(project.results / "logs" / folder)
    assert ("unit.id", "id-file") in found(project)
    assert "log-missing" not in {code for _, code in found(project)}
    project.log("s,A,V\n0,1,13\noops,1,13\n", unit=folder)
    assert {code for _, code in found(project)} >= {"id-file", "log-time"}


def test_a_set_date_is_the_last_one(project: Project, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1778025600")  # 2026-05-06, midnight UTC
    assert found(project) == []
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1778025599")
    assert found(project) == [("tests.run.date", "date-future")]


def test_two_files_may_not_claim_one_id(project: Project) -> None:
    project.unit(
        UNIT.replace("model: T90", "model: T90, former_ids: [tarn-t90]").replace("id: tarn-t90", "id: b"), "b.yml"
    )
    project.log((project.results / "logs/tarn-t90/run.csv").read_text(), unit="b")
    assert found(project) == [("unit.former_ids[0]", "id-twice")]


@pytest.mark.parametrize(
    ("row", "code"),
    [
        ("2026-05-02,tarn-t9,5,EUR,paid,shop", "unknown-unit"),
        ("2026-05-02,tarn-t90,5,CHF,paid,shop", "currency-unknown"),
        ("2026-05-02,tarn-t90,5,USD,paid,shop", ""),
    ],
)
def test_prices(project: Project, row: str, code: str) -> None:
    path = project.results / "prices.csv"
    path.write_text(path.read_text() + row + "\n")
    problems = derive_all(project.results, project.catalogue).problems
    assert [(one.file, one.line, one.code) for one in problems] == ([("results/prices.csv", 3, code)] if code else [])


@pytest.mark.parametrize(
    ("old", "new", "field"),
    [
        ("same_gain_as: shunt", "same_gain_as: shant", "quay.instruments.counter.same_gain_as"),
        ("on: meter", "on: voltmeter", "quay.log.voltage.on"),
    ],
)
def test_a_bench_names_its_own_instruments(project: Project, old: str, new: str, field: str) -> None:
    path = project.catalogue / "instruments.yml"
    path.write_text(path.read_text().replace(old, new))
    assert (field, "unknown-instrument") in found(project)


def test_a_link_out_of_the_folder_is_no_log(project: Project, tmp_path: Path) -> None:
    (tmp_path / "secret.csv").write_text("s,A,V\n0,1,2\n")
    link = log_path(project.results, "tarn-t90", "run.csv")
    link.unlink()
    link.symlink_to(tmp_path / "secret.csv")
    assert found(project) == [("tests.run.log", "log-outside")]


def test_a_column_of_one_of_several_instruments_names_its(project: Project) -> None:
    """Without, its readings have no limits, and nobody would notice."""
    path = project.catalogue / "instruments.yml"
    two = BENCHES.replace("    meter:", '    clamp: {measures: current, of_reading: "2 %"}\n    meter:')
    path.write_text(two.replace("{column: A, on: shunt}", "{column: A}"), encoding="utf-8")
    problems = derive_all(project.results, project.catalogue).problems
    (said,) = [str(one) for one in problems if one.code == "log-instrument"]
    assert said.endswith("warning: quay.log.current: this column may be from shunt or clamp; add on: shunt, or another")
    path.write_text(two, encoding="utf-8")
    assert found(project) == []
