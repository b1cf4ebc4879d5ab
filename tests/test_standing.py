"""Who stands where: published units alone, by class, and what one file changes in its class.

Expected points are worked out by hand: 80 % of the label is worth 0, all of it 100, so that 90 % is worth 50.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from site_builder.__main__ import main
from site_builder.build import derive_all, effects_in_class
from site_builder.derived import Derived
from site_builder.frames import frames_of
from site_builder.publish.data import render_data_files, units_json
from site_builder.rank import Place
from tests.small_project import CLASSES, UNIT, Project, log_text, small_project

GRADING = """\
version: 3
since: 2026-01-01
least_tested: 0.6
criteria:
  label:
    title: Holds what its label says
    weight: 4
    because: a test
    parts:
      - fact: rated_share
        title: Share of the label
        because: a test
        anchors: [{at: 0.8, points: 0, because: worst}, {at: 1.0, points: 100, because: best}]
  app:
    title: Has an app
    weight: 1
    because: a test
    parts:
      - fact: app
        title: Whether its app works
        because: a test
        levels:
          works: {points: 100, because: best}
          none: {points: 50, because: a test}
          does not work: {points: 0, because: worst}
"""
HOURS = {"alder-a90": 4.5, "birch-b90": 4.25}  # at 18 A: 81 and 76.5 Ah of 90 Ah


@pytest.fixture
def project(tmp_path: Path) -> Project:
    """Three units that held 100, 90 and 85 % of their labels; nobody looked at an app."""
    made = small_project(tmp_path)
    (made.catalogue / "grading.yml").write_text(GRADING, encoding="utf-8")
    for name, hours in HOURS.items():
        made.unit(UNIT.replace("tarn-t90", name), f"{name}.yml")
        made.log(log_text(hours=hours), unit=name)
    return made


def derived_of(project: Project) -> Derived:
    checked = derive_all(project.results, project.catalogue)
    assert not [problem for problem in checked.problems if problem.severity == "error"]
    return checked.derived


def test_scores_and_places_of_three_that_differ_by_far(project: Project) -> None:
    found = derived_of(project).standings
    assert {name: round(grade.score or -1) for name, grade in found.grades.items()} == {
        "tarn-t90": 100, "alder-a90": 50, "birch-b90": 25,
    }  # fmt: skip
    assert found.places.keys() == found.grades.keys()
    # The open fifth of the weight is 0 to 100 points: 80 to 100, 40 to 60 and 20 to 40 of the whole score.
    assert found.places["tarn-t90"] == Place(1, 1, 3)
    assert (found.places["alder-a90"].low, found.places["birch-b90"].high) == (2, 3)
    assert found.classes["12v-100ah"].leader == "tarn-t90"


def test_what_knowing_an_open_question_would_do(project: Project) -> None:
    found = derived_of(project).standings.if_known
    assert found["tarn-t90"].keys() == {"app"}
    known = found["alder-a90"]["app"]
    assert (known.worst, known.best) == pytest.approx((40, 60), abs=0.2)
    assert known.tested == pytest.approx(1)


@pytest.mark.parametrize("status", ["planned", "testing", "withdrawn", "embargoed"])
def test_only_what_is_published_stands_anywhere(project: Project, status: str) -> None:
    reason = ", reason: recalled" if status == "withdrawn" else ""
    project.change("model: T90", f"model: T90, status: {status}{reason}", "birch-b90.yml")
    found = derived_of(project).standings
    assert set(found.grades) == {"tarn-t90", "alder-a90"}
    assert {place.of for place in found.places.values()} == {2}


def test_classes_are_ranked_apart(project: Project) -> None:
    project.change("nominal_v: 12.8", "nominal_v: 25.6", "birch-b90.yml")
    classes = project.catalogue / "classes.yml"
    other = CLASSES.replace("12v", "24v").replace("{from: 12, below: 14}", "{from: 24, below: 28}")
    classes.write_text(CLASSES + other, encoding="utf-8")
    found = derived_of(project).standings
    assert found.grades["birch-b90"].score == pytest.approx(25, abs=0.3)
    assert found.places["birch-b90"] == Place(1, 1, 1)
    assert found.places["alder-a90"] == Place(2, 2, 2)


def test_a_file_says_what_it_does_to_its_class_before_it_is_published(project: Project) -> None:
    project.change("model: T90", "model: T90, status: embargoed")
    (effect,) = effects_in_class(project.results, project.catalogue, [project.results / "tarn-t90.yml"])
    assert (effect.id, effect.class_id, effect.place) == ("tarn-t90", "12v-100ah", Place(1, 1, 3))
    alder = next(move for move in effect.moves if move.id == "alder-a90")
    assert (alder.without.low, alder.without.of) == (1, 2)
    assert (alder.with_it.low, alder.with_it.of) == (2, 3)


def test_one_that_is_worse_than_all_moves_nobody(project: Project) -> None:
    project.log(log_text(hours=4.0), unit="birch-b90")  # 72 of 90 Ah: 0 points, at most 20 of the score
    (effect,) = effects_in_class(project.results, project.catalogue, [project.results / "birch-b90.yml"])
    assert effect.place == Place(3, 3, 3)
    assert effect.moves == ()


def test_check_says_it_for_files_given_by_name_alone(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "--results", str(project.results)]) == 0
    assert capsys.readouterr().out == ""
    assert main(["check", str(project.results / "tarn-t90.yml")]) == 0
    lines = capsys.readouterr().out.splitlines()
    score = next(line for line in lines if line.startswith("tarn-t90: score 100, "))
    assert score.endswith("; 1 of 2 questions tested; in 12v-100ah 1st of 3")
    assert [line.split(" from ")[0] for line in lines if "moves" in line] == [
        "tarn-t90: moves alder-a90", "tarn-t90: moves birch-b90",
    ]  # fmt: skip
    assert lines[-2].startswith("tarn-t90: open in 'app': whether its app works (it would take whether its app")
    # Of the 0 to 20 points of the app nothing would be left, and the label's own ± stays.
    assert lines[-1].startswith("tarn-t90: tells most next: whether its app connects, or that it claims none; it would")


def test_check_says_it_as_json_too(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    main(["check", "--format", "json", str(project.results / "alder-a90.yml")])
    (effect,) = json.loads(capsys.readouterr().out)["class_effects"]
    assert effect["score"]["value"] == pytest.approx(50, abs=0.3)
    assert effect["score"]["version"] == 3
    assert effect["rank"]["of"] == 3
    assert [(one["criterion"], one["load"]) for one in effect["missing"]] == [("app", None)]


def test_a_file_with_an_error_is_not_graded(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    project.change("capacity_ah: 90", "capacity_ah: -90")
    assert main(["check", str(project.results / "tarn-t90.yml")]) == 1
    assert "score" not in capsys.readouterr().out


def test_data_files_hold_score_and_place(project: Project) -> None:
    derived = derived_of(project)
    alder = json.loads(units_json(derived))["units"][0]
    assert alder["score"]["value"] == pytest.approx(50, abs=0.3)
    assert (alder["score"]["tested"], alder["score"]["of"], alder["score"]["version"]) == (1, 2, 3)
    assert alder["score"]["criteria"]["app"] | {"components": {}} == {
        "weight": 1, "tested": 0, "value": None, "low": 0, "high": 100, "low_end": 0, "high_end": 100, "components": {},
    }  # fmt: skip
    assert alder["rank"] == {"place": 2, "low": 2, "high": 2, "of": 3} or alder["rank"]["place"] is None
    row = frames_of(derived).units.set_index("id").loc["tarn-t90"]
    assert (row["place_low"], row["place_high"], row["place_of"], row["questions_tested"]) == (1, 1, 3, 1)
    assert row["score_low"] <= row["score"] <= row["score_high"]


def test_a_unit_without_a_grade_has_empty_cells(project: Project) -> None:
    project.change("    log: run.csv\n", "    counted_ah: 81\n", "birch-b90.yml")
    project.change("bench: quay\n", "", "birch-b90.yml")
    derived = derived_of(project)
    assert derived.standings.grades["birch-b90"].why_not is not None
    row = frames_of(derived).units.set_index("id").loc["birch-b90"]
    assert row[["score", "place_of"]].isna().all()


def test_without_a_grading_nothing_of_it_appears(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    (project.catalogue / "grading.yml").unlink()
    derived = derived_of(project)
    for text in render_data_files(derived, frames_of(derived)).values():
        for word in ('"score"', "score_low", "place_of", '"rank"', "questions_tested"):
            assert word not in text
    assert main(["check", str(project.results / "tarn-t90.yml")]) == 0
    printed = capsys.readouterr().out
    assert "tarn-t90: delivered charge " in printed
    assert "score" not in printed
