"""A log that runs the other way, or nowhere: an error at its test with the way out, and no figure from it."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import ArrayLike

from site_builder.bench_tests import ChargeTest, LoadRun
from site_builder.catalogue_records import Bench
from site_builder.derive.capacity import capacity
from site_builder.derive.charging import charge
from site_builder.derive.load_runs import load_run
from site_builder.derive.results import OneResult
from site_builder.records import Label
from site_builder.series import Log
from tests.logs_by_hand import bench, capacity_test, log, setting

LABEL = Label.model_validate({"chemistry": "LiFePO4", "nominal_v": 12.8, "capacity_ah": 100})
TIME = np.arange(0, 7201.0, 10)
ALTERNATING = np.where(np.arange(len(TIME)) % 2, 18.0, -18.0)
BENCH = bench({"offset": 0.05, "step": 0.01}, {"step": 0.001})


def discharged(one: Log, on: Bench | None = BENCH, **more: object) -> OneResult:
    return capacity(capacity_test(**more), one, setting(on), LABEL)


def ran(one: Log) -> OneResult:
    test = LoadRun.model_validate({"kind": "load_run", "load": "kettle", "outcome": "did_not_start"})
    return load_run(test, one, setting(BENCH), LABEL, {})


def refilled(one: Log) -> OneResult:
    return charge(ChargeTest.model_validate({"kind": "charge"}), one, setting(BENCH), None)


def errors(result: OneResult) -> list[tuple[str, str]]:
    return [(one.field, one.message) for one in result.findings if one.severity == "error"]


def test_a_reversed_discharge() -> None:
    result = discharged(log(TIME, -18.0, 13.0))
    assert errors(result) == [("log", "this log charges instead of discharging")]
    assert result.findings[0].hint == (
        "write positive: charge in the log of its bench (it reads discharge as positive), or name the test's own log"
    )
    assert not {"delivered_ah", "delivered_wh", "share_of_rated"} & set(result.metrics)
    assert result.curve is None
    why = "its log charges instead of discharging; it would take a log of the discharge"
    assert result.cannot == (f"charge and energy cannot be computed because {why}",)


def test_the_way_out_goes_by_what_the_bench_says_now() -> None:
    form = BENCH.log.model_copy(update={"positive": "charge"}) if BENCH.log else None
    turned = BENCH.model_copy(update={"log": form})
    (finding,) = discharged(log(TIME, -18.0, 13.0), turned).findings
    assert finding.hint.startswith("write positive: discharge in the log of its bench (it reads charge as positive)")


def test_the_counter_still_counts_beside_a_reversed_log() -> None:
    result = discharged(log(TIME, -18.0, 13.0), counted_ah=36)
    assert result.metrics["delivered_ah"].value == 36
    assert len(errors(result)) == 1


@pytest.mark.parametrize("current_a", [0.0, 1e-300, ALTERNATING], ids=["zero", "tiny", "to and fro"])
@pytest.mark.parametrize("on", [BENCH, None], ids=["metered", "as read"])
def test_a_log_that_delivers_nothing(current_a: ArrayLike, on: Bench | None) -> None:
    result = discharged(log(TIME, current_a, 13.0), on)
    assert errors(result) == [("log", "this log delivers nothing")]
    assert "delivered_ah" not in result.metrics


@pytest.mark.parametrize("current_a", [0.02, -0.02])
def test_less_than_its_shunt_can_tell_from_nothing(current_a: float) -> None:
    """The offset is 0.05 A; where nobody names the instrument, a current is what it says."""
    assert errors(discharged(log(TIME, current_a, 13.0))) == [("log", "this log delivers nothing")]
    as_read = errors(discharged(log(TIME, current_a, 13.0), None))
    assert as_read == ([] if current_a > 0 else [("log", "this log charges instead of discharging")])


def test_a_reversed_load_run_and_a_reversed_refill() -> None:
    assert errors(ran(log(TIME, -18.0, 13.0))) == [("log", "this log charges instead of discharging")]
    assert errors(refilled(log(TIME, 18.0, 13.0))) == [("log", "this log discharges instead of charging")]
    assert "charged_ah" not in refilled(log(TIME, 18.0, 13.0)).metrics
    assert errors(refilled(log(TIME, -18.0, 13.0))) == []


def test_a_load_that_never_started_has_a_log_without_current() -> None:
    assert errors(ran(log(TIME, 0.0, 13.0))) == []


@pytest.mark.parametrize("volts", [0.0, -0.5])
def test_a_voltage_of_nothing_is_no_energy(volts: float) -> None:
    result = discharged(log(TIME, 18.0, volts))
    assert result.metrics["delivered_ah"].value == pytest.approx(36)
    assert not {"delivered_wh", "mean_voltage_v", "comparable_wh"} & set(result.metrics)
    assert (result.curve, result.curve_v) == (None, None)
    assert [(one.field, one.code, one.severity) for one in result.findings] == [("log", "voltage-cells", "warning")]
    assert result.cannot == ("its energy is not known; it would take a voltage beside the current",)


@pytest.mark.parametrize("field", ["current_a", "power_w"])
def test_no_time_is_no_charge(field: str) -> None:
    bare = capacity_test(**{field: 20, "duration_s": "0 s"})
    assert not {"delivered_ah", "delivered_wh"} & set(capacity(bare, None, setting(BENCH), LABEL).metrics)


def test_at_least_nothing_is_no_mean_voltage() -> None:
    """Its end lies anywhere from its start on, so that it delivered at least 0 Wh, beside the counter's charge."""
    times = {"started": "19:25", "ended": "19:25 to 23:40", "ended_by": "unknown"}
    found = capacity(capacity_test(power_w=20, counted_ah=90, **times), None, setting(BENCH), LABEL).metrics
    assert (found["delivered_wh"].value, found["delivered_wh"].bound) == (0, "at_least")
    assert "mean_voltage_v" not in found
