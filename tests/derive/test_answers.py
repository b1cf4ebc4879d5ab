"""What a unit does with a load: seen before summed, alone or together, and which inverter stands between."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from site_builder.catalogue_records import Catalogue, Load
from site_builder.derive.results import LoadAnswer, UnitResult
from site_builder.derive.unit import unit_result
from site_builder.records import ResultsFile
from tests.logs_by_hand import bench

INSTRUMENTS = {
    "shunt": {"measures": "current", "of_reading": "0.5 %"},
    "meter": {"measures": "voltage", "of_reading": "0.1 %"},
    "counter": {"measures": "charge", "of_reading": "0.5 %"},
    "energy": {"measures": "energy", "of_reading": "0.5 %"},
}
GALLEY = {"idle_w": 10, "points": [{"ac_w": 900, "dc_w": 1010}], "nominal_v": 12}
CABIN = {"idle_w": 18, "points": [{"ac_w": 900, "dc_w": 1010}], "nominal_v": 24}
LOADS: dict[str, dict[str, Any]] = {
    "lights": {"title": "Lights", "running_w": 24, "mains": False},
    "pump": {"title": "Pump", "running_w": 256, "mains": False, "energy_per_use_wh": 64},
    "saw": {"title": "Saw", "running_w": 1000, "start": {"peak_w": 1790, "duration_s": 0.5}},
    "kettle": {"title": "Kettle", "running_w": 300},
}
CAPACITY = {"kind": "capacity", "date": "2026-05-06", "battery_c": 22, "counted_ah": 100, "counted_wh": 1280,
            "duration_s": "5 h", "ended_by": "bms"}  # fmt: skip
STEPS = {
    "kind": "overload",
    "points": [
        {"current_a": 110, "duration_s": "over 30 min", "held": True},
        {"current_a": 200, "duration_s": 0.1, "held": False},
    ],
}


def unit(inverters: dict[str, Any] | None = None, **tests: dict[str, Any]) -> UnitResult:
    """The numbers of a 100 Ah unit with these tests; underscores of their names are hyphens."""
    on = bench(instruments=INSTRUMENTS, inverters={"galley": GALLEY} if inverters is None else inverters)
    label = {"chemistry": "LiFePO4", "nominal_v": 12.8, "capacity_ah": 100}
    file = ResultsFile.model_validate(
        {
            "unit": {"id": "tarn-t100", "maker": "Tarn", "model": "T100"},
            "bench": "by-hand",
            "samples": {name: {"obtained": "bought"} for name in ("a", "b")},
            "label": label,
            "tests": {name.replace("_", "-"): test for name, test in tests.items()},
        }
    )
    loads = {name: Load.model_validate(load) for name, load in LOADS.items()}
    catalogue = Catalogue(benches={"by-hand": on}, loads=loads)
    return unit_result(file, {}, catalogue, [], dt.date(2026, 12, 31))


def answer(load: str, **more: Any) -> LoadAnswer:
    return unit(**more).loads[load]


def ran(load: str | list[str] = "saw", **more: Any) -> dict[str, Any]:
    return {"kind": "load_run", "load": load, "outcome": "ran"} | more


def tripped(after_s: Any, **more: Any) -> dict[str, Any]:
    return ran(outcome="tripped", duration_s=after_s, **more)


# --- hours and uses --------------------------------------------------------------------------------------------------
def test_hours_on_one_charge() -> None:
    found = answer("pump", run=CAPACITY)
    assert found.hours is not None
    assert found.hours.value == pytest.approx(5.0)
    assert (found.why_not, found.inverter) == (None, None)


def test_uses_are_hours_over_the_time_of_one() -> None:
    """A quarter of an hour at 256 W for each use."""
    found = answer("pump", run=CAPACITY)
    assert found.uses is not None
    assert found.uses.value == pytest.approx(20)
    assert answer("lights", run=CAPACITY).uses is None


@pytest.mark.parametrize(
    ("tests", "load", "why"),
    [
        ({}, "pump", "its energy was not measured"),
        ({"box": {"kind": "build"}}, "pump", "its energy was not measured"),
        ({"run": CAPACITY | {"bench": "nowhere"}}, "pump", "its energy was not measured"),
        ({"run": CAPACITY, "inverters": {}}, "saw", "it needs an inverter"),
        ({"run": CAPACITY, "inverters": {"cabin": CABIN}}, "kettle", "it needs an inverter"),
        ({"run": CAPACITY}, "saw", "more than projections reach"),
    ],
)
def test_what_is_not_known_says_why(tests: dict[str, Any], load: str, why: str) -> None:
    found = answer(load, **tests)
    assert found.hours is None
    assert found.why_not is not None
    assert why in found.why_not


def test_the_inverter_made_for_this_voltage_is_chosen() -> None:
    found = answer("kettle", run=CAPACITY, inverters={"cabin": CABIN, "galley": GALLEY})
    assert found.inverter == "galley"
    assert found.hours is not None
    assert "chain:by-hand/galley" in found.hours.components


# --- starts ----------------------------------------------------------------------------------------------------------
def test_a_start_by_the_points_and_the_current_at_the_battery() -> None:
    """1 790 W behind the inverter are 1 999 W at the battery: 156 A at 12.8 V, between 110 A held and 200 A tripped."""
    found = answer("saw", steps=STEPS)
    assert found.peak_a == pytest.approx((10 + 1790 * 1000 / 900) / 12.8)
    assert found.start == "borderline"
    assert answer("pump", steps=STEPS).start == "starts"


def test_a_start_names_the_steps_on_either_side_unless_it_was_seen() -> None:
    found = answer("saw", steps=STEPS)
    assert found.carried is not None
    assert found.tripped is not None
    assert (found.carried.current.value, found.tripped.current.value) == (110, 200)
    assert not found.start_seen
    seen = answer("saw", steps=STEPS, run=ran())
    assert (seen.start_seen, seen.carried, seen.tripped) == (True, None, None)


def test_sag_raises_the_current_that_a_start_takes() -> None:
    pulses = {
        "kind": "resistance",
        "readings": [{"current_a": 20, "voltage_v": 13.1}, {"current_a": 100, "voltage_v": 12.7}],
    }
    found = answer("saw", pulses=pulses)
    assert found.peak_a is not None
    # 13.2 V without current, 5 mΩ: P = I(U − I·R).
    assert found.peak_a * (13.2 - 0.005 * found.peak_a) == pytest.approx(10 + 1790 * 1000 / 900)


def test_beyond_what_the_battery_can_give_at_all_it_will_not_start() -> None:
    pulses = {
        "kind": "resistance",
        "readings": [{"current_a": 1, "voltage_v": 13.1}, {"current_a": 31, "voltage_v": 12.1}],
    }
    found = answer("saw", pulses=pulses)
    assert (found.start, found.peak_a) == ("will not", None)


def test_without_points_or_inverter_a_start_is_not_known() -> None:
    assert answer("saw").start == "not known"
    bare = answer("saw", steps=STEPS, inverters={})
    assert (bare.start, bare.peak_a) == ("not known", None)


@pytest.mark.parametrize(
    ("tests", "word"),
    [
        ({"a": ran()}, "starts"),
        ({"a": CAPACITY | {"load": "saw"}}, "starts"),
        ({"a": ran(outcome="did_not_start", by="bms")}, "will not"),
        ({"a": ran(outcome="did_not_start")}, "will not"),
        # Cut off in its inrush it never ran; cut off later it had started.
        ({"a": tripped(0.3, by="bms")}, "will not"),
        ({"a": tripped("3 to 5", by="bms")}, "starts"),
        ({"a": tripped(None, by="bms")}, "starts"),
        ({"a": ran(), "b": ran(outcome="did_not_start", by="bms")}, "borderline"),
        # An inverter that gave up says nothing of the battery.
        ({"a": ran(outcome="did_not_start", by="inverter")}, "borderline"),
        ({"a": tripped(4, by="fuse")}, "borderline"),
        # Together with another load it says nothing of either.
        ({"a": ran(["saw", "kettle"])}, "borderline"),
    ],
)
def test_an_actual_start_outranks_the_sum(tests: dict[str, Any], word: str) -> None:
    """By the points alone it is borderline."""
    assert answer("saw", steps=STEPS, **tests).start == word


# --- once it has started ---------------------------------------------------------------------------------------------
# 1 000 W behind the inverter are 88 A at the battery; 256 W without one are 20 A.
TRIPS = {
    "kind": "overload",
    "points": [
        {"current_a": 15, "duration_s": "over 30 min", "held": True},
        {"current_a": 19, "duration_s": "20 to 21", "held": False},
        {"current_a": 30, "duration_s": "5 to 6", "held": False},
    ],
}
SLOW = CAPACITY | {"counted_wh": 1280, "duration_s": "10 h"}


def test_no_hours_at_a_current_that_the_battery_cuts_off() -> None:
    found = answer("pump", run=SLOW, steps=TRIPS)
    assert (found.start, found.lasting.word, found.hours, found.uses) == ("starts", "cut off", None, None)
    assert found.why_not is not None
    assert "cut off" in found.why_not
    assert found.lasting.steady_a == pytest.approx(20)
    assert found.lasting.tripped is not None
    assert found.lasting.tripped.current.value == 19
    assert answer("lights", run=SLOW, steps=TRIPS).hours is not None


def test_hours_stay_where_nobody_knows_whether_it_is_cut_off() -> None:
    """Between 15 A held and 21 A tripped."""
    points = [TRIPS["points"][0], {"current_a": 21, "duration_s": 20, "held": False}]
    found = answer("pump", run=SLOW, steps=TRIPS | {"points": points})
    assert (found.lasting.word, found.hours is None) == ("borderline", False)
    # A whole discharge at 20 A carried it.
    assert answer("pump", run=CAPACITY, steps=TRIPS | {"points": points}).lasting.word == "lasts"


@pytest.mark.parametrize(
    ("tests", "word"),
    [
        ({"a": tripped("3 to 5", load="pump")}, "cut off"),
        ({"a": tripped("3 to 5", load="pump", soc={"start": "30 %", "end": "20 %"})}, "lasts"),  # nearly empty
        ({"a": tripped("3 to 5", load="pump", by="inverter")}, "lasts"),
        ({"a": tripped("3 to 5", load="pump"), "b": ran("pump")}, "borderline"),
        ({"steps": TRIPS, "b": ran("pump", duration_s="1 h")}, "lasts"),
        ({"steps": TRIPS, "b": ran("pump", duration_s="2 min")}, "borderline"),
        ({"steps": TRIPS, "b": CAPACITY | {"load": "pump"}}, "lasts"),
    ],
)
def test_a_run_that_was_seen_to_go_on_or_not_outranks_the_steps(tests: dict[str, Any], word: str) -> None:
    found = answer("pump", run=SLOW, **tests)
    assert found.lasting.word == word
    assert (found.hours is None) == (word == "cut off")


# --- what was seen ---------------------------------------------------------------------------------------------------
RAN = {"kind": "load_run", "load": "saw", "outcome": "ran"}
FAILED = RAN | {"outcome": "did_not_start", "by": "bms"}


@pytest.mark.parametrize(
    ("tests", "word"),
    [
        ({"first": RAN | {"sample": "a"}, "second": FAILED | {"sample": "b"}}, "starts"),
        ({"second": FAILED | {"sample": "b"}, "first": RAN | {"sample": "a"}}, "starts"),
        ({"second": FAILED | {"sample": "b"}}, "will not"),  # nobody tried the first one
        # The first one's steps say that it starts, whatever another battery did.
        ({"second": FAILED | {"sample": "b"}, "steps": STEPS | {"sample": "a"}}, "borderline"),
        ({"first": RAN | {"sample": "a"}, "steps": STEPS | {"sample": "b"}}, "starts"),
    ],
)
def test_another_sample_stands_beside_and_never_over(tests: dict[str, Any], word: str) -> None:
    assert answer("saw", **tests).start == word
    runs = [name for name, test in tests.items() if test["kind"] == "load_run"]
    assert [run.test for run in answer("saw", **tests).seen] == runs  # all of them are shown


def test_several_loads_together_are_one_run_and_never_split() -> None:
    found = unit(both=ran(["kettle", "pump"], duration_s="20 min", power_w=500, inverter="galley"))
    for load in ("kettle", "pump"):
        (seen,) = found.loads[load].seen
        assert (seen.test, seen.together, seen.outcome) == ("both", ("kettle", "pump"), "ran")
        assert seen.duration is not None
        assert seen.duration.value == 1200
    assert found.loads["saw"].seen == ()
    assert found.tests["both"].metrics["used_wh"].value == pytest.approx((10 + 500 * 1000 / 900) / 3)


@pytest.mark.parametrize(
    ("ended_by", "bound"), [("bms", "exact"), ("unknown", "exact"), ("tester", "at_least"), ("inverter", "at_least")]
)
def test_how_long_it_ran_to_the_end(ended_by: str, bound: str) -> None:
    found = answer("pump", night=CAPACITY | {"load": "pump", "ended_by": ended_by})
    (seen,) = found.seen
    assert seen.outcome == "ran to the end"
    assert seen.duration is not None
    assert (seen.duration.value, seen.duration.bound) == (18_000, bound)


def test_a_run_without_a_time_was_still_seen() -> None:
    (seen,) = answer("saw", a=ran(outcome="did_not_start", by="bms")).seen
    assert (seen.outcome, seen.by, seen.duration) == ("did_not_start", "bms", None)
