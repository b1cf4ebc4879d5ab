"""What a tester reads after `check FILE`, word for word."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from site_builder.__main__ import main
from tests.small_project import UNIT, Project, log_text, small_project
from tests.test_standing import GRADING

# 18 A for 5 h are 90 Ah; the voltage falls from 13.2 V to 12.8 V, so that its mean is 13 V. U of the charge: 0.5 % of
# the shunt and its zero of 0.05 A over 5 h, both rectangular, and 0.5 % from run to run. The meter's 0.1 % are 0.013 V,
# of which 95 % lie within 0.012.
NUMBERS = """\
tarn-t90: delivered charge 90.0 ± 1.1 Ah
tarn-t90: delivered energy 1 170 ± 14 Wh
tarn-t90: duration 5.00 ± 0.01 h
tarn-t90: share of its label 100.0 ± 1.2 %
tarn-t90: mean current 18.0 ± 0.2 A
tarn-t90: rate 0.200 ± 0.002 It
tarn-t90: mean voltage 13.000 ± 0.012 V
tarn-t90: temperature 22.0 ± 0.5 °C
tarn-t90: charge at the reference rate 90.0 ± 1.1 Ah (projected)
tarn-t90: energy at the reference rate 1 170 ± 14 Wh (projected)
tarn-t90: price per kWh it holds 427 ± 5 € per kWh
"""


@pytest.fixture
def project(tmp_path: Path) -> Project:
    made = small_project(tmp_path)
    (made.catalogue / "grading.yml").write_text(GRADING, encoding="utf-8")
    return made


def printed(project: Project, capsys: pytest.CaptureFixture[str], *more: str) -> str:
    main(["check", str(project.results / "tarn-t90.yml"), *more])
    return capsys.readouterr().out


def test_numbers_grade_class_and_the_next_test(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    out = printed(project, capsys)
    assert out.startswith(NUMBERS)
    assert out.removeprefix(NUMBERS) == (
        "tarn-t90: score 100, 75 to 100; 1 of 2 questions tested; in 12v-100ah the only one graded\n"
        "tarn-t90: open in 'app': whether its app works (it would take whether its app connects, or that it claims "
        "none)\n"
        "tarn-t90: tells most next: whether its app connects, or that it claims none; it would leave 4.9 of the 25 "
        "points that its score can lie in\n"
    )


def test_what_is_missing_for_a_grade(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    """Without a discharge only nothing is known: four fifths of the weight come with one."""
    before = UNIT.partition("tests:\n")[0]
    project.unit(before + "tests:\n  unboxing: {kind: build, app_works: true}\n")
    lines = printed(project, capsys).splitlines()
    assert lines == [
        "tarn-t90: no score, 20 % of the weight tested; 1 of 2 questions tested; no place in 12v-100ah",
        (
            "tarn-t90: open in 'label': share of the label (it would take a discharge from full to its own end, "
            "on named "
            "instruments)"
        ),
        "tarn-t90: missing for a grade: a discharge from full to its own end, on named instruments (+80 %)",
        (
            "tarn-t90: tells most next: a discharge from full to its own end, on named instruments; it would "
            "leave 0 of "
            "the 80 points that its score can lie in"
        ),
    ]


def test_an_embargoed_unit_is_told_to_its_own_tester_alone(
    project: Project, capsys: pytest.CaptureFixture[str]
) -> None:
    project.change("model: T90", "model: T90, status: embargoed")
    assert printed(project, capsys).startswith(NUMBERS)
    main(["check", "--results", str(project.results)])
    everything = capsys.readouterr()
    assert everything.out == ""
    assert "0 units" in everything.err
    main(["check", "--results", str(project.results), "--format", "json"])
    assert "tarn-t90" not in capsys.readouterr().out


def test_an_embargoed_unit_is_warned_of_odd_figures(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    project.change("model: T90", "model: T90, status: embargoed")
    project.change("log: run.csv", "log: run.csv\n    counted_ah: 90")
    assert "tests.run.counted_ah: the counter showed exactly the rated capacity" in printed(project, capsys)


def as_json(project: Project, capsys: pytest.CaptureFixture[str]) -> Any:
    return json.loads(printed(project, capsys, "--format", "json"))


def test_json_says_the_same(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    held = as_json(project, capsys)
    assert list(held) == ["problems", "units", "class_effects", "missing"]
    (unit,) = held["units"]
    assert (unit["id"], unit["metrics"]["delivered_ah"]["value"], unit["score"]["value"]) == ("tarn-t90", 90, 100)
    (missing,) = held["missing"]
    (test,) = missing.pop("narrows")
    assert missing == {"id": "tarn-t90", "why_not": None, "for_a_grade": []}
    assert (test["facts"], test["adds_weight"]) == (["app"], 0.2)
    assert test["width"] == pytest.approx(test["width_after"] + 20, abs=0.5)


def test_json_without_files_has_the_same_parts(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    main(["check", "--results", str(project.results), "--format", "json"])
    held = json.loads(capsys.readouterr().out)
    assert (held["class_effects"], held["missing"]) == ([], [])


def test_a_warning_stands_before_the_numbers(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    project.log(log_text().replace("\n500,18.0,", "\n500,,"))
    lines = printed(project, capsys).splitlines()
    assert ": warning: " in lines[0]
    assert lines[1].startswith("tarn-t90: delivered charge ")


def test_a_warning_says_how_it_is_answered_and_the_answer_holds(
    project: Project, capsys: pytest.CaptureFixture[str]
) -> None:
    """1170 Wh in 2 kg are 585 Wh/kg, far beyond the chemistry."""
    text = UNIT + "  unboxing: {kind: build, mass_kg: 2}\n"
    project.unit(text)
    (line,) = [one for one in printed(project, capsys).splitlines() if "warning: " in one]
    said, _, answer = line.partition("; if it is right: ")
    assert answer.startswith("acknowledged: [{code: density, tests: [")
    assert answer.endswith("], reason: …}]")
    assert "code: density" not in said
    github = printed(project, capsys, "--format", "github").splitlines()[0]
    assert github.endswith(f"; if it is right: {answer}")
    project.unit(text + answer + "\n")
    assert "warning: " not in printed(project, capsys)


def test_what_cannot_be_answered_offers_no_answer(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    project.unit(UNIT + "acknowledged: [{code: density, reason: weighed twice}]\n")
    (line,) = [one for one in printed(project, capsys).splitlines() if "warning: " in one]
    assert "there is no warning 'density'" in line
    assert "if it is right" not in line
