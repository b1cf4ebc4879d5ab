"""Readings by hand of one battery or several: how far they reach, worked out beside each by arithmetic alone."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from site_builder.bench_tests import CapacityTest, ChargeTest
from site_builder.catalogue_records import Bench, Load
from site_builder.derive.capacity import capacity
from site_builder.derive.charging import charge
from site_builder.derive.durations import recorded_duration_s
from site_builder.derive.results import OneResult
from site_builder.measured import Measured
from tests.derive.test_capacity import BENCH, INSTRUMENTS, LABEL, of, steady
from tests.logs_by_hand import capacity_test, setting

UNSEEN = {"started": "19:25", "ended": "22:10 to 23:40"}  # 2.75 to 4.25 h


def ends(one: Measured) -> tuple[float | None, float | None]:
    return one.low, one.high


# --- ends that nobody saw ---------------------------------------------------------------------------------------------
def test_energy_and_what_follows_from_it_end_where_the_charge_does() -> None:
    """20 A at 12.9 V for 2.75 to 4.25 h: 55 to 85 Ah, 709.5 to 1 096.5 Wh."""
    result = of(capacity_test(current_a=20, voltage_v=12.9, ambient_c=20, read_on="shunt", **UNSEEN)).metrics
    assert ends(result["delivered_ah"]) == pytest.approx((55, 85))
    assert ends(result["delivered_wh"]) == pytest.approx((709.5, 1096.5))
    assert result["mean_voltage_v"].value == pytest.approx(12.9)
    assert result["mean_voltage_v"].bound == "exact"
    assert ends(result["comparable_ah"]) == pytest.approx((55, 85))  # at the reference rate, 0.2 I_t of 100 Ah


def test_ended_by_nobody_knows_what_all_of_it_is_at_least_what_the_earliest_end_gives() -> None:
    test = capacity_test(current_a=20, voltage_v=12.9, ended_by="unknown", read_on="shunt", **UNSEEN)
    result = of(test).metrics
    for name, value in (("delivered_ah", 55), ("delivered_wh", 709.5)):
        assert result[name].bound == "at_least"
        assert result[name].value == pytest.approx(value)


@pytest.mark.parametrize(
    ("times", "hours"),
    [
        ({"date": "2026-05-09", "started": "19:25", "ended": "2026-05-10 21:00"}, 25 + 35 / 60),
        ({"date": "2026-05-09", "started": "9:00", "ended": "2026-05-10 10:00"}, 25),
        ({"date": "2026-05-09", "started": "19:25", "ended": "2026-05-12 19:25"}, 72),
        ({"date": "2026-05-09", "started": "19:25", "ended": "21:00"}, 95 / 60),
        ({"date": "2026-05-09", "started": "19:25", "ended": "6:10"}, 10.75),
    ],
)
def test_a_test_begins_on_its_own_day(times: dict[str, str], hours: float) -> None:
    took = recorded_duration_s(capacity_test(**times), setting(BENCH))
    assert took is not None
    assert took.value == pytest.approx(hours * 3600)


# --- bounds of what was read ------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("read", "name", "bound", "value"),
    [
        ({"counted_ah": 98, "voltage_v": "over 12.9"}, "delivered_wh", "at_least", 98 * 12.9),
        ({"counted_ah": "under 98", "voltage_v": 12.9}, "delivered_wh", "at_most", 98 * 12.9),
        ({"current_a": "over 20", **UNSEEN}, "delivered_ah", "at_least", 55),
        ({"current_a": "under 20", **UNSEEN}, "delivered_ah", "at_most", 85),
        ({"current_a": "over 20", "duration_s": "under 5 h"}, "delivered_ah", None, None),
        ({"counted_ah": "over 98", "voltage_v": "under 12.9"}, "delivered_wh", None, None),
    ],
)
def test_bounds_of_factors(read: dict[str, Any], name: str, bound: str | None, value: float | None) -> None:
    one = of(capacity_test(read_on="shunt", **read)).metrics.get(name)
    assert (one and one.bound) == bound
    assert (one and one.value) == (value and pytest.approx(value))


def test_an_upper_end_of_a_run_that_was_broken_off_says_nothing() -> None:
    result = of(capacity_test(counted_ah="under 98", ended_by="tester"))
    assert "delivered_ah" not in result.metrics
    assert "only an upper end was read" in result.cannot[0]


# --- several batteries ------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("read", "ah", "wh"),
    [
        ({"counted_ah": 192, "counted_wh": 2480, "duration_s": "290 min"}, 96, 620),
        ({"current_a": 40, "voltage_v": 25.8, "duration_s": "5 h"}, 100, 1290),
        ({"power_w": 1032, "duration_s": "5 h"}, None, 1290),
    ],
)
def test_each_of_several_batteries_gave_its_part(read: dict[str, Any], ah: float | None, wh: float) -> None:
    """Two in parallel, two such pairs in series."""
    result = of(capacity_test(arrangement={"parallel": 2, "series": 2}, **read)).metrics
    assert result["delivered_wh"].value == pytest.approx(wh)
    if ah is not None:
        assert result["delivered_ah"].value == pytest.approx(ah)
        assert result["rate_it"].value == pytest.approx(ah / (290 / 60 if "counted_ah" in read else 5) / 100)


def test_each_of_several_batteries_took_its_part() -> None:
    record = {"kind": "charge", "counted_ah": 200, "max_current_a": 40, "arrangement": {"parallel": 2}}
    result = charge(ChargeTest.model_validate(record), None, setting(BENCH), None).metrics
    assert (result["charged_ah"].value, result["max_current_a"].value) == (100, 20)


# --- from less than full ----------------------------------------------------------------------------------------------
@pytest.mark.parametrize("soc", ["50 %", "about 50 %", "under 60 %"])
@pytest.mark.parametrize("by_log", [True, False])
def test_what_did_not_start_full_could_have_given_more(soc: str, *, by_log: bool) -> None:
    read: dict[str, Any] = {} if by_log else {"counted_ah": 49, "counted_wh": 630, "duration_s": "150 min"}
    result = of(capacity_test(battery_c=22, before={"soc": soc}, **read), steady(hours=2.5) if by_log else None)
    for name in ("delivered_ah", "delivered_wh", "share_of_rated", "comparable_ah"):
        assert result.metrics[name].bound == "at_least", name
    assert "it did not start full" in result.reasons
    assert "it did not start full" in result.off_reference


def test_a_full_charge_written_down_is_one() -> None:
    result = of(capacity_test(battery_c=22, before={"soc": "100 %"}), steady())
    assert (result.metrics["delivered_ah"].bound, result.off_reference) == ("exact", ())


# --- power read behind an inverter ------------------------------------------------------------------------------------
GALLEY = {"idle_w": 11, "points": [{"ac_w": 100, "dc_w": 119}, {"ac_w": 500, "dc_w": 549}]}
LOADS = {"press": Load.model_validate({"title": "Heat press", "running_w": 250})}
ON_BOARD = Bench.model_validate(
    {
        "title": "On board",
        "tester": "Ines Hallam",
        "since": "2026-01-01",
        "instruments": INSTRUMENTS,
        "inverters": {"galley": GALLEY},
    }
)


def by_power(**more: Any) -> OneResult:
    record = {"kind": "capacity", "ended_by": "bms", "power_w": 250, "duration_s": "5 h", **more}
    return capacity(CapacityTest.model_validate(record), None, setting(ON_BOARD), LABEL, LOADS)


def test_power_at_a_plug_is_not_the_batterys() -> None:
    """The points above idle: 108 W for 100 W, 538 W for 500 W, so 1.076 W to 1.08 W a watt: 280 to 281 W at 250 W."""
    energy = by_power(load="press", inverter="galley", read_on="plug").metrics["delivered_wh"]
    assert 280 * 5 <= energy.value <= 281 * 5
    assert energy.expanded is not None
    assert energy.expanded > 0.02 * energy.value  # the plug's 2 % and the chain's own


def test_without_its_inverter_the_energy_is_not_known() -> None:
    result = by_power(load="press")
    assert "delivered_wh" not in result.metrics
    assert any("which inverter it went through" in why for why in result.cannot)


# --- counters over a long time ----------------------------------------------------------------------------------------
@pytest.mark.parametrize(("hours", "limit_ah"), [(5, 1.0), (20, 1.0), (40, 2.0), (100, 5.0)])
def test_a_counters_zero_grows_with_time(hours: float, limit_ah: float) -> None:
    """The shunt behind it may be off by 0.05 A all the time; the counter's own limit is 1 Ah. GUM 4.3.7."""
    one = of(capacity_test(counted_ah=100, duration_s=f"{hours} h")).metrics["delivered_ah"]
    zero = [part for name, part in one.components.items() if name.startswith("offset:")]
    assert [part.u for part in zero] == [pytest.approx(limit_ah / np.sqrt(3))]


# --- zero readings and leads ------------------------------------------------------------------------------------------
def test_zero_readings_correct_a_current_read_by_hand() -> None:
    """22 A where nothing showed 2.0 and 2.2 A: 19.9 A, known to half their difference."""
    test = capacity_test(current_a=22, duration_s="5 h", read_on="shunt", zero={"before_a": 2.0, "after_a": 2.2})
    result = of(test).metrics
    assert result["delivered_ah"].value == pytest.approx(99.5)
    assert result["mean_current_a"].components["offset:checked/run/shunt"].limit == pytest.approx(0.1)


def test_a_zero_above_the_current_leaves_nothing() -> None:
    result = of(capacity_test(current_a=2, duration_s="5 h", read_on="shunt", zero={"before_a": 3}))
    assert not result.metrics.keys() & {"delivered_ah", "share_of_rated", "mean_current_a", "rate_it"}
    assert result.cannot


@pytest.mark.parametrize(
    ("lead", "bound", "volts"), [({"resistance_milliohm": 20}, "exact", 12.9 + 20 * 0.02), ({}, "at_least", 12.9)]
)
def test_a_voltage_read_behind_a_lead_lacks_what_the_lead_takes(
    lead: dict[str, float], bound: str, volts: float
) -> None:
    test = capacity_test(current_a=20, voltage_v=12.9, duration_s="5 h", sense={"at": "inverter", **lead})
    energy = of(test).metrics["delivered_wh"]
    assert energy.bound == bound
    assert energy.value == pytest.approx(100 * volts)
