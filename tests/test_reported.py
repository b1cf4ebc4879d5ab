"""Figures whose evidence was not kept: shown with those words, never with a ±, a score or a place."""

# ruff: noqa: E501  # a test of each kind is a line

import csv
import io
import json
import re
import shutil
from pathlib import Path

import pytest

from site_builder.__main__ import main
from site_builder.build import Checked, derive_all, render_site
from site_builder.measured import NOT_KEPT
from site_builder.pages.text import FIXED, THIN
from tests.grading_data import CATALOGUE
from tests.small_project import UNIT, Project, small_project

# One test of each kind, with everything in it that a grade or a gate looks at.
TESTS = """\
tests:
  run: {kind: capacity, counted_ah: 80, voltage_v: 13, current_a: 18, duration_s: 4.5 h, ended_by: bms, battery_c: 22}
  steps: {kind: overload, points: [{current_a: 100, duration_s: 40 min, held: true}, {current_a: 150, duration_s: 4, held: false}], came_back: {how: not}}
  boil: {kind: load_run, load: kettle, outcome: tripped, by: bms, current_a: 80, duration_s: 30}
  ice: {kind: cold_charge, readings: [{battery_c: -9, current_a: 5, charge: accepted}, {battery_c: -12, charge: refused}]}
  pulses: {kind: resistance, soc: 0.8, battery_c: 20, readings: [{current_a: 18, voltage_v: 13.12, after_s: 10}, {current_a: 90, voltage_v: 12.97, after_s: 1}]}
  refill: {kind: charge, max_current_a: 45}
  shelf: {kind: standby, started: 2026-05-20, ended: 2026-06-20, soc: {start: "90 %", end: "87 %"}}
  cells: {kind: balance, at: full, cell_v: [3.449, 3.451, 3.447, 3.452]}
  box: {kind: build, documents: [curves, limits], certificates_seen: [UN 38.3], app_works: false, mass_kg: 10.4}
"""
HEAD = UNIT.partition("tests:")[0].replace(
    "capacity_ah: 90}", "capacity_ah: 90, continuous_discharge_a: 90, charge: {min_c: 0}}"
)


def told(tests: str = TESTS) -> str:
    """Every test in it as one whose evidence was not kept."""
    return re.sub(r"\{kind: (\w+),", r"{kind: \1, evidence: reported,", tests)


@pytest.fixture
def project(tmp_path: Path) -> Project:
    """A project with one unit of which all is reported, beside a measured one of the same class."""
    project = small_project(tmp_path)
    for name in ("grading.yml", "loads.yml"):
        shutil.copy(CATALOGUE / name, project.catalogue / name)
    project.unit(
        HEAD.replace("tarn-t90", "beck-b90").replace("Tarn", "Beck").replace("T90", "B90") + told(), "beck-b90.yml"
    )
    return project


def text_of(page: str) -> str:
    """A page without its tags."""
    return re.sub(r"[ \n]+", " ", re.sub(r"<[^>]+>", "", page))


def derived(project: Project) -> Checked:
    checked = derive_all(project.results, project.catalogue)
    assert [problem for problem in checked.problems if problem.severity == "error"] == []
    return checked


def test_no_reported_figure_has_an_uncertainty_or_passes_as_measured(project: Project) -> None:
    (unit, _) = derived(project).derived.units
    assert unit.id == "beck-b90"
    # The same tests with their evidence kept give these figures; nothing is lost on the way but comparisons.
    assert {"delivered_ah", "delivered_wh", "share_of_rated", "dc_resistance_milliohm", "mass_kg"} <= set(
        unit.result.metrics
    )
    every = [
        *unit.result.metrics.items(),
        *(pair for one in unit.result.tests.values() for pair in one.metrics.items()),
    ]
    assert {(name, one.basis, one.expanded, len(one.components)) for name, one in every} == {
        (name, "reported", None, 0) for name, _ in every
    }
    assert all(point.left_out == NOT_KEPT for one in unit.result.carrying for point in one.points)
    assert all(answer.hours is None and answer.start == "not known" for answer in unit.result.loads.values())


def test_it_has_no_score_no_place_no_gate_and_no_place_by_price(project: Project) -> None:
    with (project.results / "prices.csv").open("a", encoding="utf-8") as prices:
        prices.write("2026-05-01,beck-b90,100,EUR,paid,a chandlery\n")
    standings = derived(project).derived.standings
    grade = standings.grades["beck-b90"]
    assert (grade.score, grade.gates) == (None, ())
    seen = {part.part.fact for one in grade.criteria for part in one.parts if part.ends.value is not None}
    assert seen <= {"warm_up_s", "app"}  # what the label says of itself
    assert "beck-b90" not in standings.places
    assert [one.id for one in standings.classes["12v-100ah"].value] == ["tarn-t90"]


def test_the_same_tests_with_their_evidence_would_be_graded(project: Project) -> None:
    """Otherwise the test above could not fail."""
    project.unit(
        (project.results / "beck-b90.yml").read_text(encoding="utf-8").replace(" evidence: reported,", ""),
        "beck-b90.yml",
    )
    grade = derived(project).derived.standings.grades["beck-b90"]
    assert grade.gates
    assert grade.tested > 0.5


def test_measured_figures_lead_before_reported_ones_whatever_sample_they_are_of(project: Project) -> None:
    two = HEAD.replace("samples:", "samples:\n  first: {obtained: given}")
    measured = "  own: {kind: capacity, sample: a, date: 2026-05-06, counted_ah: 88, voltage_v: 13, duration_s: 5 h, ended_by: bms, battery_c: 22}\n"
    older = told().replace("reported,", "reported, date: 2026-05-09, sample: first,")
    older = older.replace("started: 2026-05-20", "started: 2026-05-09")
    project.unit(two + older + measured)
    unit = derived(project).derived.units[1]
    assert (unit.result.headline, unit.result.superseded) == ("own", {})
    assert unit.result.metrics["delivered_ah"].basis == "measured"
    assert unit.result.metrics["delivered_ah"].value == 88


def test_pages_say_it_beside_every_figure(project: Project) -> None:
    site = render_site(project.results, project.catalogue)
    page = site.pages["units/beck-b90.md"]
    text = text_of(page)
    assert "Evidence not kept: somebody wrote these figures down" in text
    assert f"{FIXED}±{THIN}" not in page  # how a figure's own ± is written; limits of instruments are written otherwise
    assert f"{FIXED}±{THIN}" in site.pages["units/tarn-t90.md"]
    for figure in (f"Delivered 80{THIN}Ah", f"10.4{THIN}kg", f"2.08{THIN}mΩ", f"cut off at 80{THIN}A after 30{THIN}s"):
        assert f"{figure} ({NOT_KEPT})" in text
    home = text_of(site.pages["index.md"])
    assert NOT_KEPT in home
    assert NOT_KEPT in text_of(site.pages["classes/12v-100ah.md"])
    assert f"tripped after 30\u202fs ({NOT_KEPT})" in text_of(site.pages["loads/kettle.md"])


def test_data_files_say_it(project: Project) -> None:
    site = render_site(project.results, project.catalogue)
    unit = next(one for one in json.loads(site.files["data/units.json"])["units"] if one["id"] == "beck-b90")
    assert {(one["basis"], one["u"]) for one in unit["metrics"].values()} == {("reported", None)}
    assert [run["evidence"] for run in unit["loads"]["kettle"]["seen"]] == ["reported"]
    rows = list(csv.DictReader(io.StringIO(str(site.files["data/tests.csv"]))))
    assert {row["evidence"] for row in rows if row["unit"] == "beck-b90"} == {"reported"}
    assert {row["evidence"] for row in rows if row["unit"] == "tarn-t90"} == {"kept"}


def test_a_time_that_is_known_from_above_only_has_a_page(project: Project) -> None:
    """Measured or reported, "under 60" is a form that any duration may have."""
    for evidence in ("", " evidence: reported,"):
        steps = (
            f"  more: {{kind: overload,{evidence} points: [{{current_a: 150, duration_s: under 60, held: false}}]}}\n"
        )
        project.unit(HEAD + TESTS + steps)
        assert f"at most 60{THIN}s" in text_of(
            render_site(project.results, project.catalogue).pages["units/tarn-t90.md"]
        )


def test_a_log_contradicts_it(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    project.change("ended_by: bms", "ended_by: bms\n    evidence: reported")
    assert main(["check", str(project.results / "tarn-t90.yml")]) == 1
    assert (
        "tests.run.evidence: a log is named, so that evidence was kept; take away log: or evidence:"
        in capsys.readouterr().out
    )
