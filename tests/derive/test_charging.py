"""Refills, efficiency, standing idle, balance: what belongs together, and what cannot be told."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from site_builder.bench_tests import BalanceTest, Before, ChargeTest, StandbyTest
from site_builder.catalogue_records import Bench
from site_builder.derive.charging import MONTH_S, balance, charge, standby
from site_builder.derive.results import OneResult
from site_builder.measured import Bound, Component, Measured
from site_builder.series import Log
from tests.logs_by_hand import bench, log, setting

INSTRUMENTS: dict[str, dict[str, Any]] = {
    "shunt": {"measures": "current", "of_reading": "0.5 %", "offset": 0.05},
    "meter": {"measures": "voltage", "of_reading": "0.1 %", "offset": 0.01, "step": 0.001},
    "counter": {"measures": "charge", "of_reading": "0.5 %", "same_gain_as": "shunt"},
    "app": {"measures": "soc", "offset": 0.02, "step": 0.01},
}
BENCH = bench(instruments=INSTRUMENTS)


def out(ah: float = 90.0, wh: float | None = 1150.0, bound: Bound = "exact") -> OneResult:
    """A discharge from full, with the shunt's gain and a repeatability of its own."""
    metrics = {}
    for name, value, unit in (("delivered_ah", ah, "Ah"), ("delivered_wh", wh, "Wh")):
        if value is not None:
            components = {"gain:by-hand/shunt": Component(0.003 * value), "repeat:run": Component(0.005 * value)}
            metrics[name] = Measured(value=value, unit=unit, components=components, bound=bound)
    return OneResult(test="run", kind="capacity", metrics=metrics)


def refill(one: Log | None = None, before: OneResult | None = None, **more: Any) -> OneResult:
    filled = more.pop("filled", None)
    test = ChargeTest.model_validate({"kind": "charge", "after": "run"} | more)
    return charge(test, one, setting(BENCH, test="refill"), before, filled)


def charging(surge_a: float = 18.3) -> Log:
    """Five hours at 18.3 A, with three rows of something else; the charger lets go in the last row."""
    time = np.arange(0, 18_001.0, 10)
    current = np.full(len(time), -18.3)
    current[100:103], current[-1] = -surge_a, 0.0
    return log(time, current, 13.5)


# --- what went in ----------------------------------------------------------------------------------------------------
def test_what_went_in_counts_as_positive() -> None:
    found = refill(charging()).metrics
    assert found["charged_ah"].value == pytest.approx(91.5, rel=1e-3)
    assert found["charged_wh"].value == pytest.approx(91.5 * 13.5, rel=1e-3)
    assert found["max_current_a"].value == pytest.approx(18.3)
    # Not the row in which the charger has let go.
    assert found["tail_a"].value == pytest.approx(18.3)
    assert found["charged_ah"].components["gain:by-hand/shunt"].u == pytest.approx(
        91.5 * 0.005 / math.sqrt(3), rel=1e-3
    )


def test_hand_read_figures_stand_without_a_log() -> None:
    found = refill(counted_ah=92, max_current_a=20, tail_a="about 4", duration_s="4.6 h").metrics
    assert {name: one.value for name, one in found.items()} == {
        "charged_ah": 92,
        "max_current_a": 20,
        "tail_a": 4,
        "duration_s": pytest.approx(16_560),
    }


def test_a_short_surge_is_no_current_that_it_took() -> None:
    assert refill(charging(surge_a=40.0)).metrics["max_current_a"].value == pytest.approx(18.3)


@pytest.mark.parametrize("rows", [2, 3])
def test_a_log_of_a_few_rows_is_no_fault(rows: int) -> None:
    found = refill(log(np.arange(rows) * 10.0, -5.0, 13.5)).metrics
    assert found["tail_a"].value == pytest.approx(5.0)


# --- efficiency ------------------------------------------------------------------------------------------------------
def test_a_shared_gain_and_the_discharges_own_luck_cancel() -> None:
    found = refill(before=out(), counted_ah=91).metrics["charge_efficiency"]
    assert found.value == pytest.approx(90 / 91)
    assert not [name for name in found.components if name.startswith("repeat:")]
    assert abs(found.components["gain:by-hand/shunt"].u) < 0.0002


def test_an_offset_adds_since_it_keeps_the_currents_sign() -> None:
    """0.05 A too much is counted as more out and as less in: over five hours each, twice 0.25 Ah."""
    never = bench(instruments=INSTRUMENTS, zeroed="never")
    one = charging()
    before = OneResult(
        test="run",
        kind="capacity",
        metrics={
            "delivered_ah": Measured(
                value=90, unit="Ah", components={"offset:by-hand/shunt": Component(0.25 / math.sqrt(3), limit=0.25)}
            )
        },
    )
    test = ChargeTest.model_validate({"kind": "charge", "after": "run"})
    found = charge(test, one, setting(never, test="refill"), before).metrics["charge_efficiency"]
    alone = 0.25 / math.sqrt(3) / 91.5
    assert abs(found.components["offset:by-hand/shunt"].u) == pytest.approx(2 * alone, rel=0.02)


@pytest.mark.parametrize(
    ("before", "more", "why"),
    [
        (None, {"counted_ah": 91}, "it would take a discharge from full before this refill"),
        (out(bound="at_least"), {"counted_ah": 91}, "the discharge before has no exact end"),
        (out(), {"counted_ah": "over 91"}, "what went in is open to one side"),
        (out(), {}, "it would take charge or energy of both"),
        (out(wh=None), {"counted_wh": 1200}, "it would take charge or energy of both"),
    ],
)
def test_without_both_ends_there_is_no_efficiency(before: OneResult | None, more: dict[str, Any], why: str) -> None:
    result = refill(before=before, **more)
    assert [name for name in result.metrics if "efficiency" in name] == []
    assert why in result.cannot[0]
    assert "it would take" in result.cannot[0]


def test_filled_at_another_voltage_the_states_do_not_agree() -> None:
    before = Before.model_validate({"charged_to_v": 14.6})
    result = refill(before=out(), counted_ah=91, charger={"set_v": 14.2}, filled=before)
    assert "charge_efficiency" not in result.metrics
    assert "filled at 14.6 V before, and was refilled at 14.2 V; it would take the same" in result.cannot[0]
    alike = refill(before=out(), counted_ah=91, charger={"set_v": 14.58}, filled=before)
    assert "charge_efficiency" in alike.metrics
    unsaid = refill(before=out(), counted_ah=91, charger={"set_v": 14.2}, filled=Before())
    assert "charge_efficiency" in unsaid.metrics


def test_above_one_by_more_than_its_uncertainty_is_refused_and_asked_about() -> None:
    result = refill(before=out(ah=95, wh=None), counted_ah=90)
    assert "charge_efficiency" not in result.metrics
    assert [finding.code for finding in result.findings] == ["efficiency-above-one"]
    assert result.findings[0].hint
    (why,) = result.cannot
    assert why.startswith("efficiency cannot be computed because more came out")
    assert "it would take the refill right after a full discharge" in why


def test_with_one_ratio_above_one_the_other_is_not_given_either() -> None:
    """The refill does not belong to that discharge: 98.9 % of its energy would be as wrong."""
    result = refill(before=out(ah=95, wh=1177), counted_ah=90, counted_wh=1190)
    assert not {"charge_efficiency", "energy_efficiency"} & set(result.metrics)
    assert len(result.cannot) == 1


def test_above_one_within_its_uncertainty_is_a_measurement() -> None:
    close = OneResult(
        test="run",
        kind="capacity",
        metrics={"delivered_ah": Measured(value=90.2, unit="Ah", components={"offset": Component(0.3)})},
    )
    result = refill(before=close, counted_ah=90)
    assert result.metrics["charge_efficiency"].value > 1
    assert result.findings == ()


def test_a_refused_log_says_so() -> None:
    time = np.concatenate((np.arange(0, 1800.0, 10), np.arange(5400, 7201.0, 10)))
    result = refill(log(time, np.where(time < 900, 18.0, -18.0), 13.5), before=out())
    assert "charged_ah" not in result.metrics
    assert "it would take a log without gaps" in result.cannot[0]


# --- standing idle ---------------------------------------------------------------------------------------------------
def shelf(**more: Any) -> OneResult:
    plain = {"kind": "standby", "soc": {"start": "99 %", "end": "96 %"}, "read_on": "app"}
    days = {"started": "2026-05-20", "ended": "2026-06-20"}
    return standby(StandbyTest.model_validate(plain | days | more), setting(BENCH))


def test_loss_a_month_with_an_error_of_its_own_at_each_end() -> None:
    found = shelf().metrics["loss_per_month"]
    months = 31 * 86_400 / MONTH_S
    assert found.value == pytest.approx(0.03 / months)
    ends = math.sqrt(2 * (0.02**2 + 0.005**2) / 3) / months
    assert found.u == pytest.approx(math.hypot(ends, found.value / 31 / math.sqrt(3)), rel=1e-6)


def test_a_counter_that_did_not_move_lost_nothing_within_its_uncertainty() -> None:
    found = shelf(soc={"start": "99 %", "end": "99 %"}).metrics["loss_per_month"]
    assert found.value == 0
    assert found.highest > 0.02


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"soc": {"start": "90 %", "end": "95 %"}}, "because the state of charge rose"),
        ({"soc": {"start": "over 95 %", "end": "90 %"}}, "because one end is open"),
        ({"soc": None}, "is not known"),
        ({"ended": None}, "is not known"),
        ({"ended": "2026-05-20"}, "is not known"),
    ],
)
def test_without_two_ends_a_loss_says_what_it_would_take(change: dict[str, Any], why: str) -> None:
    result = shelf(**change)
    assert "loss_per_month" not in result.metrics
    assert why in result.cannot[0]
    assert "it would take" in result.cannot[0]


def test_own_consumption_is_a_reading() -> None:
    assert shelf(current_a="15 mA", read_on="shunt").metrics["own_current_a"].value == pytest.approx(0.015)


# --- balance ---------------------------------------------------------------------------------------------------------
def cells(*volts: float | str, on: Bench | None = BENCH, **more: Any) -> OneResult:
    test = BalanceTest.model_validate({"kind": "balance", "at": "full", "cell_v": volts} | more)
    return balance(test, setting(on))


def test_the_largest_difference_without_the_meters_offset() -> None:
    found = cells(3.449, 3.451, 3.440, 3.452, read_on="meter").metrics["cell_spread_full_mv"]
    assert found.value == pytest.approx(12)
    # Both ends rounded to a millivolt; the offset of 10 mV is the same for all cells, and of the gain 0.1 % is left.
    steps = 2 * 0.5**2 / 3
    assert found.u == pytest.approx(math.sqrt(steps + (0.012 / math.sqrt(3)) ** 2), rel=1e-3)


def test_cell_voltages_of_an_app_are_as_read() -> None:
    """The app is declared for its percentage; its limits say nothing of volts, and the bench's meter was not used."""
    found = cells(3.449, 3.440, read_on="app").metrics["cell_spread_full_mv"]
    assert (found.basis, found.components) == ("as_read", {})
    assert cells(3.449, 3.440).metrics["cell_spread_full_mv"].basis == "measured"


@pytest.mark.parametrize("volts", [(), (3.45,)])
def test_one_cell_has_no_spread(volts: tuple[float, ...]) -> None:
    result = cells(*volts)
    assert "it would take the voltage of every cell" in result.cannot[0]
    assert result.metrics == {}


def test_a_cell_of_which_only_a_bound_is_known_leaves_the_spread_open() -> None:
    result = cells(3.41, "over 3.40")
    assert result.metrics == {}
    assert result.cannot == ("cell spread is not known; of some cells only a bound was written down",)


def test_less_than_an_hour_on_the_shelf_says_nothing_of_a_month() -> None:
    data = {"kind": "standby", "duration_s": "50 min", "soc": {"start": "90 %", "end": "87 %"}}
    result = standby(StandbyTest.model_validate(data), setting(BENCH))
    assert "loss_per_month" not in result.metrics
    assert result.cannot[0].startswith("loss a month is not known")
