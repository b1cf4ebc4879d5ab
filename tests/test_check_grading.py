"""What is refused in a grading and in classes, with the line it stands on."""

from __future__ import annotations

from pathlib import Path

import pytest

from site_builder.build import derive_all
from site_builder.problems import Problem
from tests.small_project import CLASSES, Project, small_project

GRADING = """\
version: 1
since: 2026-01-01
least_tested: 0.6
criteria:
  label:
    title: Holds what its label says
    weight: 3
    because: a test
    parts:
      - fact: rated_share
        title: Share of its label
        because: a test
        anchors:
          - {at: 0.8, points: 0, because: a test}
          - {at: 1, points: 90, because: a test}
          - {at: 1.1, points: 100, because: a test}
  heaters:
    title: Runs a kettle
    weight: 1
    because: a test
    parts:
      - fact: heater
        title: Heaters
        loads: [kettle]
        because: a test
        levels:
          runs: {points: 100, because: a test}
          cuts off: {points: 0, because: a test}
  price:
    title: Costs little
    weight: 0
    because: a test
    parts:
      - fact: price_per_kwh
        title: Price
        because: a test
        anchors:
          - {at: 100, points: 100, because: a test}
          - {at: 600, points: 0, because: a test}
gates:
  - {when: no cut-off, cap: 40, title: a test, because: a test, times_rated: 1.5, for_s: 60}
"""


@pytest.fixture
def project(tmp_path: Path) -> Project:
    return small_project(tmp_path)


def problems(project: Project, grading: str = GRADING) -> list[Problem]:
    """What check says of this grading."""
    (project.catalogue / "grading.yml").write_text(grading, encoding="utf-8")
    return list(derive_all(project.results, project.catalogue).problems)


def test_a_grading_without_a_fault(project: Project) -> None:
    assert problems(project) == []
    checked = derive_all(project.results, project.catalogue)
    assert checked.derived.catalogue.grading is not None
    assert list(checked.derived.catalogue.grading.criteria) == ["label", "heaters", "price"]


@pytest.mark.parametrize(
    ("old", "new", "line", "field", "code"),
    [
        ("weight: 3", "weight: -3", 7, "criteria.label.weight", "number-outside"),
        ("weight: 3", 'weight: "3"', 7, "criteria.label.weight", "number-form"),
        ("weight: 0", "weight: 2", 31, "criteria.price.weight", "grading-price"),
        ("fact: rated_share", "fact: rate_share", 10, "criteria.label.parts[0].fact", "unknown-fact"),
        ("fact: heater", "fact: nonsense", 22, "criteria.heaters.parts[0].fact", "unknown-fact"),
        ("at: 1, ", "at: 0.8, ", 15, "criteria.label.parts[0].anchors[1].at", "grading-anchors"),
        ("at: 1, ", "at: 0.7, ", 15, "criteria.label.parts[0].anchors[1].at", "grading-anchors"),
        ("points: 90", "points: 190", 15, "criteria.label.parts[0].anchors[1].points", "number-outside"),
        ("at: 1.1, points: 100", "at: 1.1, points: 80", 14, "criteria.label.parts[0].anchors", "grading-anchors"),
        ("points: 0, because: a test}\n          - {at: 1,", "points: 5, because: a test}\n          - {at: 1,", 14,
         "criteria.label.parts[0].anchors", "grading-anchors"),
        ("          runs: {points: 100, because: a test}\n", "", 22, "criteria.heaters.parts[0]", "grading-levels"),
        ("          runs:", "          trots:", 27, "criteria.heaters.parts[0].levels.trots", "grading-levels"),
        ("        loads: [kettle]\n", "", 22, "criteria.heaters.parts[0]", "grading-loads"),
        ("loads: [kettle]", "loads: [kettel]", 24, "criteria.heaters.parts[0].loads", "unknown-load"),
        ("loads: [kettle]", "loads: [bilge-pump]", 24, "criteria.heaters.parts[0].loads", "grading-loads"),
        ("title: Price\n", "title: Price\n        loads: [kettle]\n", 34, "criteria.price.parts[0]", "grading-loads"),
        ("title: Price\n", "title: Price\n        share: 0\n", 34, "criteria.price.parts", "grading-weights"),
        ("times_rated: 1.5, ", "", 41, "gates[0]", "grading-gates"),
        ("when: no cut-off", "when: label overstated", 41, "gates[0]", "grading-gates"),
        ("when: no cut-off", "when: smells", 41, "gates[0].when", "literal-error"),
        ("cap: 40", "cap: 140", 41, "gates[0].cap", "number-outside"),
        ("criteria:\n", "criterion: 1\ncriteria:\n", 4, "criterion", "key-unknown"),
        ("version: 1\n", "", 1, "", "key-missing"),
    ],
)  # fmt: skip
def test_one_thing_wrong(project: Project, old: str, new: str, line: int, field: str, code: str) -> None:
    loads = project.catalogue / "loads.yml"
    loads.write_text(
        loads.read_text("utf-8").replace("running_w: 40", "running_w: 40, start: {peak_w: 90, duration_s: 1}"), "utf-8"
    )
    assert GRADING.count(old) == 1
    found = problems(project, GRADING.replace(old, new))
    assert (line, field, code) in [(one.line, one.field, one.code) for one in found]
    assert all(one.file == "catalogue/grading.yml" and one.hint for one in found)
    # A word that is no longer there is missed as well.
    assert {one.code for one in found} == {code}


def test_weights_that_add_up_to_zero(project: Project) -> None:
    found = problems(project, GRADING.replace("weight: 3", "weight: 0").replace("weight: 1", "weight: 0"))
    assert [str(one) for one in found] == [
        "catalogue/grading.yml:5:3: criteria: the weights add up to zero; give at least one criterion a weight"
    ]


def test_anchors_that_rise_and_fall(project: Project) -> None:
    found = problems(project, GRADING.replace("at: 1.1, points: 100", "at: 1.1, points: 50"))
    assert "the points rise and fall again: better evidence could lower a score" in [one.message for one in found]


def test_a_number_without_anchors_and_a_word_with_them(project: Project) -> None:
    bare = GRADING[: GRADING.index("        anchors:")] + GRADING[GRADING.index("  heaters:") :]
    assert [one.message for one in problems(project, bare)] == ["its value is a number, and has no anchors"]
    both = GRADING.replace(
        "        levels:\n",
        "        anchors: [{at: 0, points: 0, because: x}, {at: 1, points: 100, because: x}]\n        levels:\n",
    )
    assert [one.message for one in problems(project, both)] == ["its value is a word, no number"]


def test_a_gate_that_stands_twice(project: Project) -> None:
    gate = GRADING.splitlines(keepends=True)[-1]
    assert [one.message for one in problems(project, GRADING + gate)] == ["'no cut-off' stands here twice"]


def test_loads_that_could_not_be_read_are_not_called_missing(project: Project) -> None:
    loads = project.catalogue / "loads.yml"
    loads.write_text(loads.read_text("utf-8") + "fridge: {}\n", "utf-8")
    assert {one.file for one in problems(project)} == {"catalogue/loads.yml"}


@pytest.mark.parametrize(
    ("volts", "hours", "chemistry", "overlaps"),
    [
        ("{from: 12, below: 14}", "{from: 100, below: 150}", "[LiFePO4]", True),
        ("{from: 13, below: 15}", "{from: 1, below: 81}", "[LTO, LiFePO4]", True),
        ("{from: 14, below: 15}", "{from: 80, below: 130}", "[LiFePO4]", False),
        ("{from: 10, below: 12}", "{from: 80, below: 130}", "[LiFePO4]", False),
        ("{from: 12, below: 14}", "{from: 130, below: 150}", "[LiFePO4]", False),
        ("{from: 12, below: 14}", "{from: 80, below: 130}", "[LTO]", False),
    ],
)
def test_classes_that_overlap(project: Project, volts: str, hours: str, chemistry: str, overlaps: bool) -> None:
    other = f"other:\n  title: Other\n  nominal_v: {volts}\n  capacity_ah: {hours}\n  chemistry: {chemistry}\n"
    (project.catalogue / "classes.yml").write_text(CLASSES + other, encoding="utf-8")
    expected = (
        "catalogue/classes.yml:6:1: other: a battery can be in this class and in '12v-100ah'; "
        "let one band start where the other ends, or separate the chemistries"
    )
    assert [str(one) for one in problems(project)] == ([expected] if overlaps else [])


def test_a_class_that_nothing_can_be_in(project: Project) -> None:
    (project.catalogue / "classes.yml").write_text(CLASSES.replace("from: 80", "from: 130"), encoding="utf-8")
    assert ("class-empty", 4) in [(one.code, one.line) for one in problems(project)]


def test_a_unit_in_no_class(project: Project) -> None:
    project.change("capacity_ah: 90", "capacity_ah: 300")
    assert [(one.code, one.line) for one in problems(project)] == [("class-none", 5)]
