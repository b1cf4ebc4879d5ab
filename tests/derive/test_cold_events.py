"""What a reading or a log says of charge into the cells: accepted, refused, or not decided."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from site_builder.bench_tests import ColdChargeTest
from site_builder.derive.cold_events import ColdEvent, bounds, events, phases
from site_builder.measured import Measured
from site_builder.records import Label
from site_builder.series import Array, Log
from tests.logs_by_hand import bench, log, setting

PLAIN = {"chemistry": "LiFePO4", "nominal_v": 12.8, "capacity_ah": 90}
UNHEATED = Label.model_validate(PLAIN)
HEATED = Label.model_validate(PLAIN | {"heater": {"on_below_c": 2, "off_above_c": 8}})
BENCH = bench(
    instruments={
        "clamp": {"measures": "current", "of_reading": "2 %", "offset": 0.3},
        "plug": {"measures": "power", "of_reading": "2 %"},
        "probe": {"measures": "temperature", "offset": 0.5},
    },
    log={
        "time": {"column": "s"},
        "current": {"column": "A", "on": "clamp"},
        "battery_c": {"column": "C", "on": "probe"},
        "interval_s": 10,
    },
)


def a_test(*readings: dict[str, Any], **more: Any) -> ColdChargeTest:
    return ColdChargeTest.model_validate({"kind": "cold_charge", "readings": readings} | more)


def seen(test: ColdChargeTest, label: Label = UNHEATED, one: Log | None = None) -> list[ColdEvent]:
    found = None if one is None else phases(one, test, setting(BENCH), label)
    return events(test, one, found, setting(BENCH), label)


def verdict(label: Label = UNHEATED, reading: dict[str, Any] | None = None, **more: Any) -> str | None:
    """What one reading says; None where it says nothing."""
    found = seen(a_test(reading or {}, **more), label)
    return found[0].verdict if found else None


# --- readings --------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("reading", "says"),
    [
        ({"battery_c": -5}, None),
        ({"charge": "refused"}, "refused"),
        ({"charge": "accepted"}, "accepted"),
        ({"current_a": 0.2}, "refused"),
        ({"current_a": 0.55}, "accepted"),
        ({"current_a": 12}, "accepted"),
        ({"cell_current_a": 0.4}, "refused"),
        ({"cell_current_a": 0.5}, "accepted"),
        # The battery's own word about its cells outranks what somebody noted.
        ({"cell_current_a": 0.0, "charge": "accepted"}, "refused"),
    ],
)
def test_a_battery_without_a_heater(reading: dict[str, Any], says: str | None) -> None:
    assert verdict(UNHEATED, reading) == says


def test_a_current_that_may_be_the_clamps_own_error_decides_nothing() -> None:
    """0.55 A, give or take 0.6: neither surely nothing nor surely something."""
    loose = bench(instruments={"clamp": {"measures": "current", "offset": 0.6}})
    test = a_test({"current_a": 0.55})
    assert events(test, None, None, setting(loose), UNHEATED)[0].verdict == "not decided"


@pytest.mark.parametrize(
    ("reading", "says"),
    [
        # The current may be the heater's.
        ({"charge": "accepted"}, "not decided"),
        ({"charge": "accepted", "heater": True}, "not decided"),
        ({"current_a": 6.0}, None),
        ({"current_a": 6.0, "heater": True}, None),
        # The heater is off: what flows is charge.
        ({"charge": "accepted", "heater": False}, "accepted"),
        ({"current_a": 6.0, "heater": False}, "accepted"),
        ({"current_a": 0.1, "heater": False}, "refused"),
        ({"charge": "refused", "heater": True}, "refused"),
        ({"cell_current_a": 4.0, "heater": True}, "accepted"),
    ],
)
def test_a_battery_with_a_heater(reading: dict[str, Any], says: str | None) -> None:
    assert verdict(HEATED, reading) == says


@pytest.mark.parametrize(
    ("current_a", "says"), [(6.0, "refused"), (6.4, "refused"), (7.5, "accepted"), (20.0, "accepted")]
)
def test_what_flows_beyond_a_metered_heater_is_charge(current_a: float, says: str) -> None:
    """86 W at 14.4 V are 5.97 A; beyond that by more than U, and by half an ampere at least."""
    more = {"heater_w": 86, "charger": {"set_v": 14.4}}
    assert verdict(HEATED, {"current_a": current_a, "heater": True}, **more) == says


def test_slightly_more_than_the_heater_takes_is_not_decided() -> None:
    """0.58 A beyond it, on a clamp that is off by up to 0.7 A."""
    on = bench(instruments={"clamp": {"measures": "current", "offset": 0.7}, "plug": {"measures": "power"}})
    test = a_test({"current_a": 6.55, "charge": "accepted"}, heater_w=86, charger={"set_v": 14.4})
    assert events(test, None, None, setting(on), HEATED)[0].verdict == "not decided"


@pytest.mark.parametrize(
    ("times", "sustained"),
    [
        (("10:02", "10:20"), True),
        (("10:02", "10:03"), False),
        (("23:59", "0:05"), True),
        ((None, "10:20"), False),
        ((None, None), False),
    ],
)
def test_two_readings_over_a_minute_apart_show_that_it_went_on(times: tuple[str | None, ...], sustained: bool) -> None:
    rows = [{"charge": "accepted", "battery_c": -5} | ({"at": time} if time else {}) for time in times]
    assert [event.sustained for event in seen(a_test(*rows))] == [sustained, sustained]


def test_a_lone_reading_or_another_verdict_beside_it_shows_no_duration() -> None:
    refused = {"at": "10:00", "charge": "refused"}
    accepted = {"at": "10:30", "charge": "accepted"}
    assert [event.sustained for event in seen(a_test(refused, accepted))] == [False, False]
    assert [event.sustained for event in seen(a_test(accepted))] == [False]


def test_a_temperature_belongs_to_its_own_thermometer() -> None:
    (event,) = seen(a_test({"charge": "refused", "battery_c": -5, "read_on": "clamp"}))
    assert event.temperature is not None
    # A clamp measures no temperature: the bench's only probe does.
    assert event.temperature.components["offset:checked/run/probe"].limit == 0.5
    (bare,) = events(a_test({"charge": "refused", "battery_c": -5}), None, None, setting(None), UNHEATED)
    assert bare.temperature is not None
    assert bare.temperature.basis == "as_read"


# --- logs ------------------------------------------------------------------------------------------------------------
TIME = np.arange(0, 3600.0, 10.0)


def cold_log(charge_a: Array | float, temperature_c: Array | float = -5.0, **columns: Any) -> Log:
    """Charging current into the terminals, and the battery's temperature, every 10 s for an hour."""
    one = log(TIME, -np.broadcast_to(np.asarray(charge_a, dtype=float), TIME.shape))
    one.columns["battery_c"] = np.broadcast_to(np.asarray(temperature_c, dtype=float), TIME.shape)
    for name, values in columns.items():
        one.columns[name] = np.broadcast_to(np.asarray(values, dtype=float), TIME.shape)
    return one


def after(seconds: float, then: float, before: float = 0.0) -> Array:
    return np.where(seconds <= TIME, then, before)


CHARGER = {"charger": {"set_v": 14.4, "set_a": 20}}


def test_an_unheated_battery_refuses_and_then_accepts() -> None:
    one = cold_log(after(1800, 15.0), -5 + TIME / 300)
    refused, accepted = seen(a_test(**CHARGER), one=one)
    assert (refused.verdict, accepted.verdict) == ("refused", "accepted")
    assert refused.temperature is not None
    assert accepted.temperature is not None
    assert refused.temperature.value == pytest.approx(-5 + 1790 / 300)
    assert accepted.temperature.value == pytest.approx(-5 + 1800 / 300, abs=0.21)
    assert accepted.where == "case"


def test_a_minute_of_current_is_no_charge() -> None:
    blip = np.where((TIME >= 600) & (TIME < 650), 10.0, 0.0)
    assert [event.verdict for event in seen(a_test(**CHARGER), one=cold_log(blip))] == ["refused"]


def test_before_the_charger_was_on_nothing_was_refused() -> None:
    """Its voltage rests at 13.2 V until somebody connects a charger that stands at 14.4 V."""
    one = cold_log(after(1800, 15.0), voltage=after(1800, 14.0, 13.2))
    assert [event.verdict for event in seen(a_test(**CHARGER), one=one)] == ["accepted"]
    refusing = cold_log(after(1800, 15.0), voltage=after(600, 14.4, 13.2))
    assert [event.verdict for event in seen(a_test(**CHARGER), one=refusing)] == ["refused", "accepted"]
    # Nobody wrote down the charger's voltage: every row before charge counts.
    assert [event.verdict for event in seen(a_test(), one=one)] == ["refused", "accepted"]


def heater_log(heat_a: float = 6.0, charge_a: float = 20.0, on_at: float = 600, charge_at: float = 2400) -> Log:
    current = np.where(charge_at <= TIME, charge_a, np.where(on_at <= TIME, heat_a, 0.0))
    return cold_log(current, -10 + TIME / 180, voltage=14.4)


def test_a_heaters_plateau_and_the_step_after_it() -> None:
    found = phases(heater_log(), a_test(**CHARGER), setting(BENCH), HEATED)
    assert (found.heating, found.accepted_at) == (slice(60, 240), 240)
    assert [event.verdict for event in seen(a_test(**CHARGER), HEATED, heater_log())] == ["refused", "accepted"]


@pytest.mark.parametrize(("charge_a", "accepted_at"), [(9.0, None), (11.0, 240)])
def test_a_step_counts_from_three_tenths_of_what_the_charger_could_add(
    charge_a: float, accepted_at: int | None
) -> None:
    """6 A for the heater and a charger set to 20 A: 6 + 0.3 · 14 = 10.2 A. This project's judgement."""
    assert phases(heater_log(charge_a=charge_a), a_test(**CHARGER), setting(BENCH), HEATED).accepted_at == accepted_at


def test_a_heater_that_is_still_on_at_the_end() -> None:
    found = phases(heater_log(charge_at=9e9), a_test(**CHARGER), setting(BENCH), HEATED)
    assert (found.heating, found.accepted_at) == (slice(60, 360), None)


def test_a_current_like_the_chargers_own_from_the_start_decides_nothing() -> None:
    """A heater that takes nearly all of a small charger, or cells that take it at once: nobody can tell."""
    one = cold_log(19.0, voltage=14.4)
    assert [event.verdict for event in seen(a_test(**CHARGER), HEATED, one)] == ["not decided"]


def test_a_heated_battery_that_does_nothing_refuses() -> None:
    found = phases(cold_log(0.0), a_test(**CHARGER), setting(BENCH), HEATED)
    assert (found.heating, found.accepted_at) == (None, None)
    assert [event.verdict for event in seen(a_test(**CHARGER), HEATED, cold_log(0.0))] == ["refused"]


def test_what_the_battery_reports_of_its_cells_outranks_the_terminals() -> None:
    """6 A into the terminals all the time, none of it into the cells until 1 200 s."""
    one = cold_log(6.0, cell_current=-after(1200, 5.0))
    found = phases(one, a_test(**CHARGER), setting(BENCH), HEATED)
    assert (found.heating, found.accepted_at) == (slice(0, 120), 120)
    never = phases(cold_log(6.0, cell_current=0.0), a_test(**CHARGER), setting(BENCH), HEATED)
    assert (never.heating, never.accepted_at) == (slice(0, 360), None)
    unheated = phases(one, a_test(**CHARGER), setting(BENCH), UNHEATED)
    assert (unheated.heating, unheated.accepted_at) == (None, 120)


def test_the_coldest_minute_of_charging_is_an_event_of_its_own() -> None:
    """It began at 6 °C and cooled to 2 °C while charging; a single cold row is noise."""
    cooling = np.where(TIME < 1800, 6.0, 6 - (TIME - 1800) / 450)
    cooling[300] = -20.0
    refused, first, coldest = seen(a_test(**CHARGER), one=cold_log(after(1800, 15.0), cooling))
    assert refused.verdict == "refused"
    assert first.temperature is not None
    assert coldest.temperature is not None
    assert first.temperature.value == 6.0
    assert coldest.temperature.value == pytest.approx(2.0, abs=0.2)


def test_a_charge_that_breaks_off_after_its_first_row_has_no_coldest_minute() -> None:
    broken = after(1800, 15.0)
    broken[181] = 3.0
    _, *accepted = seen(a_test(**CHARGER), one=cold_log(broken, 5 - TIME / 900))
    assert [(event.verdict, event.source) for event in accepted] == [("accepted", "the log, line 182")]


def test_without_temperatures_there_are_verdicts_all_the_same() -> None:
    one = log(TIME, -after(1800, 15.0))
    assert [(event.verdict, event.temperature) for event in seen(a_test(), one=one)] == [
        ("refused", None),
        ("accepted", None),
    ]


# --- bounds ----------------------------------------------------------------------------------------------------------
def event(says: Any, temperature_c: float | None) -> ColdEvent:
    at = None if temperature_c is None else Measured(value=temperature_c, unit="°C")
    return ColdEvent(verdict=says, temperature=at, where="cell", heater=None, source="reading 1")


OWN = {"own_current_a": "60 mA"}
BUSY = Label.model_validate(PLAIN | {"own_current_a": 0.8})


def test_a_declared_own_consumption_stands_in_for_the_assumed_half_ampere() -> None:
    """0.45 A are no charge into a battery of which nobody knows what it takes for itself; into this one they are."""
    known = Label.model_validate(PLAIN | OWN)
    assert verdict(UNHEATED, {"current_a": 0.45}) == "refused"
    assert verdict(known, {"current_a": 0.45}) == "accepted"
    assert verdict(known, {"current_a": 0.25}) == "not decided"  # no more than what the clamp may be off by
    assert verdict(known, {"current_a": 0.05}) == "refused"
    assert verdict(BUSY, {"current_a": 0.7}) == "refused"


@pytest.mark.parametrize(("label", "charge_a", "says"), [
    (UNHEATED, 0.45, "refused"),
    (Label.model_validate(PLAIN | OWN), 0.45, "accepted"),
    (Label.model_validate(PLAIN | OWN), 0.25, "refused"),  # less than what the logger's clamp can tell from nothing
    (BUSY, 0.7, "refused"),
])  # fmt: skip
def test_the_same_in_a_log(label: Label, charge_a: float, says: str) -> None:
    assert seen(a_test(), label, cold_log(charge_a))[0].verdict == says


def test_two_bounds_not_a_threshold() -> None:
    warmest, coldest, nowhere = event("refused", 2.0), event("accepted", 1.0), event("accepted", None)
    found = bounds([event("refused", -14), warmest, event("accepted", 8), coldest, nowhere, event("not decided", -30)])
    assert found == (warmest, coldest)
    assert bounds([nowhere]) == (None, None)
