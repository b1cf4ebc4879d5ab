"""The flow: one pass from files to numbers and problems, the catalogue's date, and what changes the hash."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from site_builder.build import Checked, derive_all, render_site, source_date
from site_builder.problems import has_errors
from tests.small_project import UNIT, Project, log_text, small_project


@pytest.fixture
def project(tmp_path: Path) -> Project:
    return small_project(tmp_path)


def derived(project: Project, only: list[Path] | None = None) -> Checked:
    return derive_all(project.results, project.catalogue, only)


def test_numbers_come_from_the_log(project: Project) -> None:
    checked = derived(project)
    assert checked.problems == ()
    (unit,) = checked.derived.units
    # 18 A for 5 h; and the row before the first and after the last may have been under load too: no bias.
    assert unit.result.metrics["delivered_ah"].value == pytest.approx(90)
    assert unit.result.headline == "run"
    assert unit.result.class_id == "12v-100ah"
    note = unit.logs["run"]
    assert (note.file, note.rows, note.used_rows, note.faults) == ("run.csv", 1801, 1801, ())


def test_a_warning_of_a_log_becomes_a_problem_and_a_note(project: Project) -> None:
    project.log(log_text().replace("\n500,18.0,", "\n500,,"))
    checked = derived(project)
    assert [(one.file, one.line, one.severity) for one in checked.problems] == [
        ("results/logs/tarn-t90/run.csv", 52, "warning")
    ]
    note = checked.derived.units[0].logs["run"]
    assert (note.rows, note.used_rows) == (1801, 1800)
    assert note.faults[0].startswith("line 52:")


def test_a_log_that_cannot_be_read_is_an_error_of_its_own_file(project: Project) -> None:
    project.log("s,A\n0,18\n10,18\n")
    checked = derived(project)
    assert [(one.file, one.severity) for one in checked.problems] == [("results/logs/tarn-t90/run.csv", "error")]
    assert "delivered_ah" not in checked.derived.units[0].result.metrics


def test_a_finding_may_be_answered(project: Project) -> None:
    """A counter that no log agrees with is warned of until the file says why."""
    project.change("log: run.csv", "log: run.csv\n    counted_ah: 95")
    (problem,) = derived(project).problems
    assert (problem.code, problem.field, problem.severity) == (
        "log-counter-disagree",
        "tests.run.counted_ah",
        "warning",
    )
    assert problem.line == 12
    answer = "acknowledged: [{code: log-counter-disagree, tests: [run], reason: The counter was not reset.}]\n"
    text = (project.results / "tarn-t90.yml").read_text()
    project.unit(text + answer)
    assert derived(project).problems == ()
    project.unit(text + answer.replace("[run]", "[]"))
    assert derived(project).problems == ()
    project.unit(text + answer.replace("log-counter-disagree", "log-counter-disagrees"))
    unanswered, unknown = derived(project).problems
    assert (unanswered.code, unknown.code, unknown.severity) == ("log-counter-disagree", "unknown-code", "error")
    assert (unknown.field, unknown.hint) == ("acknowledged[0].code", "did you mean 'log-counter-disagree'?")


def test_an_embargoed_unit_is_in_nothing(project: Project) -> None:
    project.change("model: T90", "model: T90, status: embargoed")
    assert derived(project).derived.units == ()


def test_some_files_only(project: Project) -> None:
    other = project.unit(UNIT.replace("tarn-t90", "alder"), "alder.yml")
    project.log(log_text(), unit="alder")
    assert [unit.id for unit in derived(project).derived.units] == ["alder", "tarn-t90"]
    checked = derived(project, [other])
    assert [unit.id for unit in checked.derived.units] == ["alder"]
    assert checked.problems == ()


# --- the catalogue's date --------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("more", "date"),
    [
        ("", "2026-05-06"),
        ("history: [{date: 2026-06-01, what: added, note: x}]", "2026-06-01"),
        ("videos: {v: {url: 'https://example.org', title: V, date: 2026-07-01}}", "2026-07-01"),
        ("offers: [{url: 'https://example.org', pays: nobody, until: 2027-01-01}]", "2026-05-06"),
        ("  shelf: {kind: standby, started: 2026-05-20, ended: 2026-06-20}", "2026-06-20"),
        ('  night: {kind: standby, started: "2026-05-20 22:00"}', "2026-05-20"),
    ],
)
def test_the_newest_date_is_the_catalogues(project: Project, more: str, date: str) -> None:
    project.unit(f"{UNIT}{more}\n")
    assert derived(project).derived.as_of == dt.date.fromisoformat(date)


def test_a_price_counts_for_the_date(project: Project) -> None:
    path = project.results / "prices.csv"
    path.write_text(path.read_text() + "2026-08-01,tarn-t90,480,EUR,sale,shop\n")
    assert derived(project).derived.as_of == dt.date(2026, 8, 1)


def test_a_set_date_leads(project: Project, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1798675200")
    assert derived(project).derived.as_of == dt.date(2026, 12, 31)


@pytest.mark.parametrize("epoch", ["", "soon", "-5", "1.5", "٣", " 1767225600"])
def test_a_date_that_is_none_stops_everything(epoch: str, project: Project, monkeypatch: pytest.MonkeyPatch) -> None:
    """The specification of SOURCE_DATE_EPOCH (Reproducible Builds): a build with a malformed one should fail."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", epoch)
    (problem,) = derived(project).problems
    assert (problem.file, problem.code, problem.severity) == ("SOURCE_DATE_EPOCH", "source-date-epoch", "error")
    assert has_errors(derived(project).problems)  # so that neither pages nor a site are written


def test_without_a_set_date_there_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
    assert source_date() == (None, ())


@pytest.mark.parametrize(("answers", "left"), [("[run]", 1), ("[]", 1), ("[rum]", 0)])
def test_an_answer_to_nothing_is_warned_of(project: Project, answers: str, left: int) -> None:
    """Unless its test is unknown: then that is what is wrong."""
    text = (project.results / "tarn-t90.yml").read_text()
    project.unit(f"{text}acknowledged: [{{code: trips-contradict, tests: {answers}, reason: x}}]\n")
    idle = [one for one in derived(project).problems if one.code == "answers-nothing"]
    assert [(one.severity, one.field) for one in idle] == [("warning", "acknowledged[0]")] * left


def test_an_empty_project_has_a_date_all_the_same(tmp_path: Path) -> None:
    (tmp_path / "results").mkdir()
    checked = derive_all(tmp_path / "results", tmp_path / "catalogue")
    assert (checked.derived.units, checked.problems, checked.derived.as_of) == ((), (), dt.date(1970, 1, 1))


# --- the hash of what was recorded -----------------------------------------------------------------------------------
def test_the_hash_follows_every_recorded_byte(project: Project) -> None:
    before = derived(project).derived.source_hash
    assert derived(project).derived.source_hash == before
    for path in (
        project.results / "tarn-t90.yml",
        project.catalogue / "loads.yml",
        project.catalogue / "instruments.yml",
    ):
        kept = path.read_text()
        path.write_text(kept + "# a remark\n")
        assert derived(project).derived.source_hash != before, path
        path.write_text(kept)
    assert derived(project).derived.source_hash == before
    project.log(log_text(current_a=18.1))
    assert derived(project).derived.source_hash != before


def test_the_hash_does_not_depend_on_where_the_project_lies(project: Project, tmp_path: Path) -> None:
    elsewhere = small_project(tmp_path / "elsewhere")
    assert derived(elsewhere).derived.source_hash == derived(project).derived.source_hash


# --- the site --------------------------------------------------------------------------------------------------------
def test_with_an_error_nothing_is_rendered(project: Project) -> None:
    project.change("bench: quay", "bench: key")
    site = render_site(project.results, project.catalogue)
    assert [problem.code for problem in site.problems] == ["unknown-bench"]
    assert (dict(site.pages), dict(site.files), dict(site.copies)) == ({}, {}, {})


def test_the_site_has_a_page_data_and_the_log(project: Project) -> None:
    site = render_site(project.results, project.catalogue)
    assert site.problems == ()
    assert any("units/tarn-t90" in uri for uri in site.pages)
    assert {"data/units.json", "data/units.csv", "data/tests.csv"} <= site.files.keys()
    assert site.copies == {"data/logs/tarn-t90/run.csv": project.results / "logs" / "tarn-t90" / "run.csv"}
