"""Comparison classes, and which test leads a unit's page."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from site_builder.build import derive_all
from site_builder.catalogue_records import ComparisonClass
from site_builder.derive.results import UnitResult
from site_builder.derive.unit import class_of
from site_builder.records import Label
from tests.small_project import UNIT, Project, log_text, small_project


def a_class(chemistry: str = "LiFePO4") -> ComparisonClass:
    span = {"nominal_v": {"from": 12, "below": 14}, "capacity_ah": {"from": 80, "below": 130}}
    return ComparisonClass.model_validate({"title": "T", "chemistry": [chemistry], **span})


@pytest.mark.parametrize(
    ("change", "found"),
    [
        ({}, True),
        ({"capacity_ah": 80}, True),
        ({"capacity_ah": 130}, False),
        ({"capacity_ah": 79.9}, False),
        ({"nominal_v": 14}, False),
        ({"nominal_v": 12}, True),
        ({"chemistry": "NMC"}, False),
    ],
)
def test_classes_hold_their_lower_end_and_not_the_upper(change: dict[str, Any], found: bool) -> None:
    label = Label.model_validate({"chemistry": "LiFePO4", "nominal_v": 12.8, "capacity_ah": 90} | change)
    assert class_of(label, {"other": a_class("LTO"), "12v-100ah": a_class()}) == ("12v-100ah" if found else None)


@pytest.fixture
def project(tmp_path: Path) -> Project:
    return small_project(tmp_path)


def result(project: Project, *tests: str, head: str = UNIT) -> UnitResult:
    """The unit with these tests in place of its own; each has a log of its own name."""
    before = head.partition("tests:\n")[0]
    project.unit(f"{before}tests:\n" + "".join(f"  {test}\n" for test in tests))
    checked = derive_all(project.results, project.catalogue)
    assert [one for one in checked.problems if one.severity == "error"] == []
    return checked.derived.units[0].result


def logged(name: str, date: str = "2026-05-06", battery_c: float = 22, more: str = "") -> str:
    return f"{name}: {{kind: capacity, date: {date}, battery_c: {battery_c}, log: run.csv, ended_by: bms{more}}}"


def test_on_the_reference_before_off_it(project: Project) -> None:
    found = result(project, logged("cold", battery_c=5), logged("warm", date="2026-05-01"))
    assert found.headline == "warm"
    assert found.metrics["temperature_c"].value == 22


def test_exact_before_at_least(project: Project) -> None:
    stopped = logged("stopped").replace("bms", "tester")
    assert result(project, stopped, logged("to-the-end", date="2026-05-01")).headline == "to-the-end"


def test_metered_before_as_read(project: Project) -> None:
    head = UNIT.replace("bench: quay\n", "")
    spoken = "spoken: {kind: capacity, date: 2026-05-07, battery_c: 22, current_a: 18, counted_ah: 91, ended_by: bms}"
    assert result(project, spoken, logged("metered", more=", bench: quay"), head=head).headline == "metered"


def test_the_first_sample_before_all(project: Project) -> None:
    head = UNIT.replace("  a: {", "  b: {obtained: given}\n  a: {")
    tests = [logged("one", more=", sample: a"), logged("two", battery_c=5, more=", sample: b")]
    assert result(project, *tests, head=head).headline == "two"


def test_the_smaller_uncertainty_last(project: Project) -> None:
    zeroed = logged("b-zeroed", more=", zero: {before_a: 0, after_a: 0}")
    assert result(project, logged("a-plain"), zeroed).headline == "b-zeroed"


def test_a_later_test_of_the_same_kind_replaces_an_earlier_one(project: Project) -> None:
    found = result(project, logged("first"), logged("second", date="2026-06-06"))
    assert found.superseded == {"first": "second"}
    assert found.headline == "second"
    assert set(found.tests) == {"first", "second"}


@pytest.mark.parametrize(
    "later",
    [
        pytest.param(logged("second", date="2026-06-06", battery_c=5), id="off the reference"),
        pytest.param(logged("second", date="2026-06-06").replace("bms", "tester"), id="not to the end"),
        pytest.param(logged("second", date="2026-06-06", more=", load: kettle"), id="by another method"),
        pytest.param(logged("second"), id="on the same day"),
    ],
)
def test_a_test_that_does_not_replace_another(project: Project, later: str) -> None:
    found = result(project, logged("first"), later)
    assert found.superseded == {}


def test_other_samples_are_never_replaced(project: Project) -> None:
    head = UNIT.replace("  a: {", "  b: {obtained: given}\n  a: {")
    tests = [logged("one", more=", sample: b"), logged("two", date="2026-06-06", more=", sample: a")]
    assert result(project, *tests, head=head).superseded == {}


def test_no_capacity_test_no_headline(project: Project) -> None:
    found = result(project, "box: {kind: build, date: 2026-05-06, mass_kg: 10.4}")
    assert found.headline is None
    assert found.metrics.keys() == {"mass_kg"}


def test_what_follows_from_the_headline(project: Project) -> None:
    project.log(log_text())
    found = result(project, logged("run"), "box: {kind: build, date: 2026-05-06, mass_kg: 10}")
    energy = found.metrics["delivered_wh"].value
    assert found.metrics["wh_per_kg"].value == pytest.approx(energy / 10)
    assert found.metrics["price_per_kwh"].value == pytest.approx(500 / energy * 1000)
    assert found.metrics["price_per_kwh"].unit == "EUR/kWh"
