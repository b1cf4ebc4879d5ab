"""Whether charge goes into cells that are too cold for it: the safety finding, and what it takes to be one."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from site_builder.bench_tests import ColdChargeTest
from site_builder.derive.cold_charge import NOT_DECIDED, NOTHING_SEEN, SAFETY, charge_limit_c, cold_charge
from site_builder.derive.results import OneResult
from site_builder.records import Label
from site_builder.series import Log
from tests.logs_by_hand import bench, log, setting

PLAIN = {"chemistry": "LiFePO4", "nominal_v": 12.8, "capacity_ah": 90, "charge": {"min_c": 0}}
HEATER = {"heater": {"on_below_c": 2, "off_above_c": 8}}
BENCH = bench(
    instruments={
        "shunt": {"measures": "current", "offset": 0.03},
        "meter": {"measures": "voltage"},
        "probe": {"measures": "temperature", "offset": 0.5},
    },
    log={
        "time": {"column": "s"},
        "current": {"column": "A", "on": "shunt"},
        "voltage": {"column": "V", "on": "meter"},
        "battery_c": {"column": "C", "on": "probe"},
        "interval_s": 10,
    },
)
SOAKED: dict[str, Any] = {"before": {"soak_h": 12}}


def of(
    *readings: dict[str, Any], label: dict[str, Any] | None = None, one: Log | None = None, **more: Any
) -> OneResult:
    test = ColdChargeTest.model_validate({"kind": "cold_charge", "readings": readings} | more)
    return cold_charge(test, one, setting(BENCH), Label.model_validate(PLAIN | (label or {})), 10.0)


def accepted(
    temperature_c: Any = -11, minutes: tuple[str, str] = ("10:02", "10:20"), **more: Any
) -> list[dict[str, Any]]:
    """Two readings of charge taken at one temperature, eighteen minutes apart."""
    plain = {"battery_c": temperature_c, "where": "case", "charge": "accepted", "heater": False} | more
    return [plain | {"at": minute} for minute in minutes]


# --- the finding -----------------------------------------------------------------------------------------------------
def test_a_battery_without_a_heater_that_takes_charge_when_frozen() -> None:
    result = of(*accepted(), **SOAKED)
    assert result.conditions == (SAFETY,)
    assert result.cannot == ()
    assert result.metrics["accepted_from_c"].value == -11


def test_the_same_in_a_log() -> None:
    one = log(np.arange(0, 1800.0, 10.0), -10.0, 13.8)
    one.columns["battery_c"] = np.full(180, -11.0)
    assert of(one=one, charger={"set_v": 14.4, "set_a": 10}, **SOAKED).conditions == (SAFETY,)


@pytest.mark.parametrize("where", ["cell", "bms"])
def test_the_cells_own_temperature_needs_no_soak(where: str) -> None:
    assert of(*accepted(where=where)).conditions == (SAFETY,)


@pytest.mark.parametrize(
    ("change", "takes"),
    [
        ({"temperature_c": -0.3}, "a lower temperature or a better thermometer"),
        ({"minutes": ("10:02", "10:03")}, "two readings over a minute apart"),
        ({"read_on": "nobody"}, "the thermometer's name"),
    ],
)
def test_without_one_of_its_parts_it_is_not_decided(change: dict[str, Any], takes: str) -> None:
    """By more than U, for over a minute, on a named thermometer."""
    result = of(*accepted(**change), **SOAKED)
    assert result.conditions == (NOT_DECIDED,)
    assert "not decided" in result.cannot[0]
    assert takes in result.cannot[0]
    assert "it would take" in result.cannot[0]


@pytest.mark.parametrize("before", [{}, {"before": {"soak_h": 2}}])
def test_a_case_that_had_no_time_to_become_as_cold_as_its_cells_decides_nothing(before: dict[str, Any]) -> None:
    result = of(*accepted(), **before)
    assert result.conditions == (NOT_DECIDED,)
    assert "6 hours of soak" in result.cannot[0]


@pytest.mark.parametrize(("temperature_c", "found"), [(-7, (SAFETY,)), (-4, (NOT_DECIDED,))])
def test_a_case_around_heated_cells_is_colder_than_they_are(temperature_c: float, found: tuple[str, ...]) -> None:
    """By up to 5 K, this project's judgement: −7 + 0.5 + 5 is below 0 °C, −4 + 0.5 + 5 is not."""
    assert of(*accepted(temperature_c), label=HEATER, **SOAKED).conditions == found


def test_the_air_is_no_battery() -> None:
    result = of(*accepted(where="air"), **SOAKED)
    assert result.conditions == ()


def test_above_the_limit_there_is_no_finding() -> None:
    assert of(*accepted(5.0), **SOAKED).conditions == ()
    assert of(*accepted(5.0), label={"charge": {"min_c": 10}}, **SOAKED).conditions == (SAFETY,)


@pytest.mark.parametrize(
    ("label", "limit"),
    [
        ({}, 0.0),
        ({"charge": {"min_c": -20}}, -20.0),
        ({"charge": {}}, 0.0),
        ({"chemistry": "NMC", "charge": {}}, 0.0),
        ({"chemistry": "LTO", "charge": {}}, -math.inf),
    ],
)
def test_the_limit_is_the_labels_or_common_practice(label: dict[str, Any], limit: float) -> None:
    assert charge_limit_c(Label.model_validate(PLAIN | label)) == limit


# --- not decided -----------------------------------------------------------------------------------------------------
def test_a_current_that_may_be_the_heaters_is_not_decided() -> None:
    result = of({"battery_c": -11, "charge": "accepted", "heater": True}, label=HEATER)
    assert result.conditions == (NOT_DECIDED,)
    assert result.metrics == {}


def test_a_refusal_is_a_decision() -> None:
    result = of({"battery_c": -11, "charge": "refused", "read_on": "probe"})
    assert (result.conditions, result.cannot) == ((), ())
    assert result.metrics["refused_up_to_c"].value == -11


@pytest.mark.parametrize("readings", [[], [{"battery_c": -5}], [{"heater": True}]])
def test_nothing_seen_of_charge_says_what_it_would_take(readings: list[dict[str, Any]]) -> None:
    result = of(*readings)
    assert (result.conditions, result.cannot) == ((), (NOTHING_SEEN,))
    assert "it would take" in NOTHING_SEEN


# --- what ran the heater ---------------------------------------------------------------------------------------------
def test_the_charger_that_ran_the_heater() -> None:
    reading = {"battery_c": -5, "charge": "refused", "heater": True}
    found = of(reading, label=HEATER, charger={"set_a": 7})
    assert found.metrics["heater_charger_a"].value == 7
    idle = of(reading | {"heater": False}, label=HEATER, charger={"set_a": 5})
    assert "heater_charger_a" not in idle.metrics
    assert "heater_charger_a" not in of(reading, charger={"set_a": 7}).metrics
    assert "heater_charger_a" not in of(reading, label=HEATER).metrics


# --- a probe that was off --------------------------------------------------------------------------------------------
@pytest.mark.parametrize("read", [0, 1])
def test_a_log_whose_probe_was_off_has_no_picture(read: int) -> None:
    one = log(np.arange(0, 1800.0, 10.0), -10.0, 13.8)
    one.columns["battery_c"] = np.full(180, math.nan)
    one.columns["battery_c"][:read] = -11.0
    assert of(one=one).picture is None


def test_readings_by_hand_are_drawn_where_the_probe_was_off() -> None:
    one = log(np.arange(0, 1800.0, 10.0), -10.0, 13.8)
    one.columns["battery_c"] = np.full(180, math.nan)
    picture = of(*accepted(), one=one).picture
    assert picture is not None
    assert picture.by_hand


def test_a_column_of_nothing_is_not_drawn() -> None:
    one = log(np.arange(0, 1800.0, 10.0), -10.0, 13.8)
    one.columns["battery_c"] = np.full(180, -11.0)
    one.columns["cell_current"] = np.full(180, math.nan)
    picture = of(one=one).picture
    assert picture is not None
    assert list(picture.currents) == ["into its terminals"]
