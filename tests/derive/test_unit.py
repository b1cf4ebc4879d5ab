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


# --- what other kinds of test add ------------------------------------------------------------------------------------
PULSES = "{kind: resistance, soc: 0.8, readings: [{current_a: 18, voltage_v: %s}, {current_a: 90, voltage_v: %s}]}"
LIMITS = UNIT.replace("capacity_ah: 90}", "capacity_ah: 90, discharge: {end_v: 10}, continuous_discharge_a: 90}")


def pulses(name: str, low_v: float, high_v: float) -> str:
    return f"{name}: " + PULSES % (low_v, high_v)


def test_figures_of_one_pulse_stay_together(project: Project) -> None:
    """The second test has the smaller relative u of R; voltage and sag come along with it."""
    found = result(project, pulses("stiff", 13.2, 13.1), pulses("soft", 12.9, 12.3), head=LIMITS).metrics
    ohm = 0.6 / 72
    assert found["dc_resistance_milliohm"].value == pytest.approx(1000 * ohm)
    assert found["open_circuit_v"].value == pytest.approx(12.9 + 18 * ohm)
    assert found["sag_v"].value == pytest.approx(90 * ohm)


def cold(name: str, *readings: str, more: str = "") -> str:
    return f"{name}: {{kind: cold_charge, readings: [{', '.join(readings)}]{more}}}"


def test_of_several_cold_tests_the_warmest_refusal_and_the_coldest_acceptance_count(project: Project) -> None:
    tests = [
        cold("one", "{battery_c: -9, charge: refused}", "{battery_c: 9, charge: accepted}"),
        cold("two", "{battery_c: 2, charge: refused}", "{battery_c: 5, charge: accepted}"),
        cold("three", "{battery_c: -3, charge: refused}", "{battery_c: 7, charge: accepted}"),
    ]
    found = result(project, *tests).metrics
    assert (found["refused_up_to_c"].value, found["accepted_from_c"].value) == (2, 5)


def test_the_smallest_charger_that_ran_the_heater_and_the_largest_current_it_took(project: Project) -> None:
    head = UNIT.replace("capacity_ah: 90}", "capacity_ah: 90, heater: {on_below_c: 2}}")
    warm = "{battery_c: -9, charge: refused, heater: true}"
    tests = [cold(f"c{amps}", warm, more=f", charger: {{set_a: {amps}}}") for amps in (20, 7, 10)]
    tests += [f"f{amps}: {{kind: charge, max_current_a: {amps}, read_on: shunt}}" for amps in (20, 40, 30)]
    found = result(project, *tests, head=head).metrics
    assert (found["heater_charger_a"].value, found["max_current_a"].value) == (7, 40)


def test_metered_figures_go_before_as_read_ones_and_the_first_sample_before_all(project: Project) -> None:
    head = UNIT.replace("  a: {", "  b: {obtained: given}\n  a: {")
    other, own = pulses("p-a", 13.2, 13.1), pulses("p-b", 12.9, 12.3)
    tests = [other.replace("soc: 0.8", "sample: a"), own.replace("soc: 0.8", "sample: b")]
    first, second = pytest.approx(1000 * 0.6 / 72), pytest.approx(1000 * 0.1 / 72)
    assert result(project, *tests, head=head).metrics["dc_resistance_milliohm"].value == first
    # Where the first sample has none, the next one's stands in.
    assert result(project, tests[0], head=head).metrics["dc_resistance_milliohm"].value == second
    # Of one sample, what was read on an instrument goes before what was only said.
    spoken = pulses("p-c", 13.2, 13.199).replace("soc: 0.8", "sample: b")
    metered = tests[1].replace("sample: b", "sample: b, bench: quay")
    found = result(project, spoken, metered, head=head.replace("bench: quay\n", "")).metrics
    assert found["dc_resistance_milliohm"].value == first


# --- power and short circuit -----------------------------------------------------------------------------------------
def steps(*points: tuple[float, str, bool]) -> str:
    rows = ", ".join(f"{{current_a: {a}, duration_s: {s}, held: {str(held).lower()}}}" for a, s, held in points)
    return f"steps: {{kind: overload, points: [{rows}]}}"


@pytest.mark.parametrize(
    ("points", "watts", "bound"),
    [
        ([], 10 * 3.1 / 0.0055555, "exact"),
        # Carried: at least that much, however much more the voltage would allow.
        ([(120, "60", True)], 1200, "at_least"),
        ([(120, "60", True), (150, "4", False)], 1200, "at_least"),
        # Only trips were seen: it is no more than that.
        ([(150, "4", False)], 1500, "at_most"),
        # Carried more than the voltage allows: the voltage is the limit.
        ([(900, "60", True)], 10 * 3.1 / 0.0055555, "exact"),
    ],
)
def test_power_at_the_end_voltage_is_no_more_than_it_carries(
    project: Project, points: list[tuple[float, str, bool]], watts: float, bound: str
) -> None:
    tests = [pulses("p", 13.0, 12.6), *([steps(*points)] if points else [])]
    found = result(project, *tests, head=LIMITS).metrics["end_voltage_power_w"]
    assert found.value == pytest.approx(watts, rel=1e-3)
    assert found.bound == bound


def test_a_short_circuit_is_at_least_what_pulses_say(project: Project) -> None:
    slow = result(project, pulses("p", 13.0, 12.6)).metrics["fault_current_a"]
    assert slow.value == pytest.approx(13.1 / 0.0055555, rel=1e-3)
    assert slow.bound == "at_least"
    metered = pulses("p", 13.0, 12.6).replace("soc: 0.8", "meter_milliohm: 2")
    fast = result(project, metered).metrics["fault_current_a"]
    assert fast.value == pytest.approx(13.1 / 0.002, rel=1e-3)
    assert fast.bound == "exact"
    assert "fault_current_a" not in result(project, logged("run")).metrics


# --- findings that take more than one test ---------------------------------------------------------------------------
def long_run(hours: str, more: str = "") -> str:
    return f"long: {{kind: load_run, load: bilge-pump, outcome: ran, power_w: 320, duration_s: {hours}{more}}}"


def codes(project: Project, *tests: str) -> list[tuple[str, str]]:
    return [(test, finding.code) for test, finding in result(project, *tests).findings]


def test_a_run_longer_than_the_measured_energy_allows(project: Project) -> None:
    """The log delivers about 1 170 Wh; 320 W for 4 h are 1 280 Wh. "4 h" may be 3.5, and 1 120 Wh."""
    assert codes(project, logged("run"), long_run("4.0 h")) == [("long", "run-longer-than-energy")]
    assert codes(project, logged("run"), long_run("4 h")) == []
    assert codes(project, logged("run"), long_run("3.0 h")) == []
    assert codes(project, logged("run"), long_run("4.0 h", ", duty: 0.5")) == []
    assert codes(project, logged("run"), long_run("4.0 h", ", arrangement: {parallel: 2}")) == []


def test_without_a_measured_energy_the_label_and_a_fifth_more_is_the_limit(project: Project) -> None:
    """12.8 V · 90 Ah = 1 152 Wh, 1 382 Wh with a fifth."""
    assert codes(project, long_run("4.0 h")) == []
    assert codes(project, long_run("4.5 h")) == [("long", "run-longer-than-energy")]
    stopped = logged("run").replace("bms", "inverter")
    assert codes(project, stopped, long_run("4.0 h")) == []
    assert codes(project, stopped, long_run("4.5 h")) == [("long", "run-longer-than-energy")]


def test_the_finding_reaches_the_tester_as_a_warning_that_can_be_answered(project: Project) -> None:
    result(project, logged("run"), long_run("4.0 h"))
    (warning,) = [one for one in derive_all(project.results, project.catalogue).problems if "longer" in one.code]
    assert (warning.severity, warning.field) == ("warning", "tests.long.duration_s")
    text = UNIT.partition("tests:\n")[0] + f"tests:\n  {logged('run')}\n  {long_run('4.0 h')}\n"
    answer = "acknowledged: [{code: run-longer-than-energy, tests: [long], reason: The pump ran dry.}]\n"
    project.unit(text + answer)
    assert [one.code for one in derive_all(project.results, project.catalogue).problems] == []


def test_an_overload_test_without_points_says_what_it_would_take(project: Project) -> None:
    found = result(project, "steps: {kind: overload}")
    assert "it would take the current and the seconds of each step" in found.tests["steps"].cannot[0]
    assert found.carrying == ()


def test_an_overload_tests_own_log_is_read_where_nobody_wrote_its_steps_down(project: Project) -> None:
    rows = [f"{t},{100 if 600 <= t < 700 else 0},{'0.2' if t >= 700 else '13.0'}" for t in range(0, 1000, 10)]
    project.log("\n".join(["s,A,V", *rows, ""]), "steps.csv")
    (carrying,) = result(project, "steps: {kind: overload, log: steps.csv}").carrying
    (point,) = carrying.points
    assert (point.current.value, point.seen_s, point.tripped) == (100, (90, 110), True)
    written = "steps: {kind: overload, log: steps.csv, points: [{current_a: 101, duration_s: 98, held: false}]}"
    (point,) = result(project, written).carrying[0].points
    assert point.current.value == 101  # the same step from both would count twice


# --- refills and retention -------------------------------------------------------------------------------------------
def test_a_refill_knows_how_the_battery_had_been_filled_before(project: Project) -> None:
    run = logged("run", more=", before: {charged_to_v: 14.6}")
    fill = "fill: {kind: charge, after: run, counted_ah: 91, charger: {set_v: %s}}"
    assert "charge_efficiency" in result(project, run, fill % 14.6).metrics
    other = result(project, run, fill % 14.2)
    assert "charge_efficiency" not in other.metrics
    assert "start and end differ" in other.tests["fill"].cannot[0]


def test_a_refill_is_worked_out_after_its_discharge_wherever_it_stands(project: Project) -> None:
    fill = "fill: {kind: charge, after: run, counted_ah: 91}"
    found = result(project, fill, logged("run"))
    assert list(found.tests) == ["fill", "run"]
    assert found.metrics["charge_efficiency"].value == pytest.approx(90 / 91, rel=1e-3)


def test_a_later_test_tells_what_is_left(project: Project) -> None:
    project.log(log_text(hours=4.5), "later.csv")
    later = logged("later", date="2026-12-06").replace("run.csv", "later.csv")
    (left,) = result(project, logged("run"), later).retentions
    assert (left.first, left.later) == ("run", "later")
    assert left.share.value == pytest.approx(0.9, rel=1e-3)


# --- whatever is missing ---------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    "test",
    [
        "{kind: capacity, ended_by: unknown}",
        "{kind: load_run, load: kettle, outcome: ran}",
        "{kind: overload}",
        "{kind: cold_charge}",
        "{kind: resistance}",
        "{kind: charge}",
        "{kind: standby}",
        "{kind: balance, at: full}",
        "{kind: build}",
    ],
)
def test_a_test_that_says_nothing_is_no_fault(project: Project, test: str) -> None:
    """It is told what it would take, or there is nothing to tell; never a blank number."""
    found = result(project, f"bare: {test}")
    one = found.tests["bare"]
    assert one.metrics == {}
    assert all("it would take" in words for words in one.cannot)
    assert one.cannot or one.kind in {"load_run", "build"}
    assert found.metrics == {}
    assert all(answer.start == "not known" or answer.seen for answer in found.loads.values())
