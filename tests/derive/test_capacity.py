"""A capacity test: which evidence leads, what opens a bound, on or off the reference, and what is compared."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from site_builder.bench_tests import CapacityTest
from site_builder.catalogue_records import Bench
from site_builder.derive.capacity import capacity, reference_it
from site_builder.derive.results import OneResult
from site_builder.measured import Measured
from site_builder.records import Label
from site_builder.series import Log
from tests.logs_by_hand import bench, capacity_test, log, setting

FIVE_HOURS = np.arange(0, 18_001.0, 10)
CLAIMS = {"chemistry": "LiFePO4", "nominal_v": 12.8, "capacity_ah": 100}
LABEL = Label.model_validate(CLAIMS)
INSTRUMENTS: dict[str, dict[str, Any]] = {
    "shunt": {"measures": "current", "of_reading": "0.5 %", "offset": 0.05},
    "meter": {"measures": "voltage", "of_reading": "0.1 %"},
    "counter": {"measures": "charge", "of_reading": "0.5 %", "offset": 1, "same_gain_as": "shunt"},
    "plug": {"measures": "power", "of_reading": "2 %"},
    "watch": {"measures": "time", "offset": 30},
}
BENCH = bench(instruments=INSTRUMENTS)


def label(**more: Any) -> Label:
    return Label.model_validate(CLAIMS | more)


def of(
    test: CapacityTest,
    one: Log | None = None,
    on: Bench | None = BENCH,
    to: Label = LABEL,
    ambient_c: float | None = None,
) -> OneResult:
    return capacity(test, one, setting(on, ambient_c=ambient_c), to)


def steady(current_a: float = 20.0, hours: float = 5.0, volts: float = 12.5) -> Log:
    time = np.arange(0, hours * 3600 + 1, 10)
    return log(time, current_a, volts)


def metric(result: OneResult, name: str) -> Measured:
    return result.metrics[name]


def test_figures_of_a_logged_run() -> None:
    result = of(capacity_test(battery_c=25), steady())
    values = {name: one.value for name, one in result.metrics.items()}
    assert values == {
        "delivered_ah": pytest.approx(100),
        "delivered_wh": pytest.approx(1250),
        "duration_s": 18_000,
        "share_of_rated": pytest.approx(1),
        "mean_current_a": pytest.approx(20),
        "rate_it": pytest.approx(0.2),
        "mean_voltage_v": pytest.approx(12.5),
        "temperature_c": 25,
        "comparable_ah": pytest.approx(100),
        "comparable_wh": pytest.approx(1250),
    }
    assert (result.off_reference, result.reasons, result.cannot, result.findings) == ((), (), (), ())
    assert result.curve is not None


def test_shares_keep_their_components() -> None:
    result = of(capacity_test(), steady())
    delivered, share = metric(result, "delivered_ah"), metric(result, "share_of_rated")
    assert share.components.keys() == delivered.components.keys()
    assert share.u == pytest.approx(delivered.u / 100)


def test_a_shared_gain_cancels_in_the_mean_voltage() -> None:
    """The shunt's gain is in charge and energy alike; the meter's own is left."""
    sources = metric(of(capacity_test(), steady()), "mean_voltage_v").components
    assert abs(sources["gain:by-hand/meter"].u) == pytest.approx(12.5 * 0.001 / 3**0.5)
    assert abs(sources["gain:by-hand/shunt"].u if "gain:by-hand/shunt" in sources else 0.0) < 1e-12


# --- which evidence leads --------------------------------------------------------------------------------------------
def test_log_and_counter_the_smaller_uncertainty_leads() -> None:
    result = of(capacity_test(counted_ah=100.3), steady())
    assert metric(result, "delivered_ah").value == pytest.approx(100)
    assert result.findings == ()
    poor = bench(
        instruments={
            "shunt": {"measures": "current", "offset": 2},
            "meter": {"measures": "voltage"},
            "counter": {"measures": "charge", "offset": 0.1},
        }
    )
    assert metric(of(capacity_test(counted_ah=100.3), steady(), poor), "delivered_ah").value == 100.3


def test_a_counter_that_disagrees_is_a_finding() -> None:
    (finding,) = of(capacity_test(counted_ah=104), steady()).findings
    assert (finding.code, finding.field) == ("log-counter-disagree", "counted_ah")


def test_a_shared_gain_is_no_excuse_for_a_disagreement() -> None:
    """Both show 2 % too much, or neither does: only the counter's offset of 1 Ah and the shunt's are left."""
    wide = {"of_reading": "5 %"}
    shared = bench(
        instruments={
            "shunt": {"measures": "current", **wide},
            "meter": {"measures": "voltage"},
            "counter": {"measures": "charge", "offset": 0.1, "same_gain_as": "shunt", **wide},
        }
    )
    assert of(capacity_test(counted_ah=102), steady(), shared).findings
    own = bench(
        instruments={
            "shunt": {"measures": "current", **wide},
            "meter": {"measures": "voltage"},
            "counter": {"measures": "charge", "offset": 0.1, **wide},
        }
    )
    assert not of(capacity_test(counted_ah=102), steady(), own).findings


def with_a_hole() -> Log:
    kept = (FIVE_HOURS <= 6000) | (FIVE_HOURS >= 8000)
    return log(FIVE_HOURS[kept], 20.0, 12.5)


def test_a_counter_that_ran_on_leads_a_log_with_a_hole() -> None:
    result = of(capacity_test(counted_ah=100.3), with_a_hole())
    assert metric(result, "delivered_ah").value == 100.3
    assert metric(result, "delivered_ah").bound == "exact"
    assert result.findings == ()
    assert metric(result, "delivered_wh").bound == "at_least"
    assert result.reasons


def test_a_counter_below_what_a_log_with_a_hole_saw_is_a_finding() -> None:
    assert of(capacity_test(counted_ah=80), with_a_hole()).findings


def test_current_times_time() -> None:
    result = of(capacity_test(current_a=20, duration_s="5 h", read_on="shunt"))
    assert metric(result, "delivered_ah").value == pytest.approx(100)
    assert metric(result, "delivered_ah").expanded is not None
    assert "delivered_wh" not in result.metrics
    assert result.cannot


def test_charge_times_voltage() -> None:
    result = of(capacity_test(counted_ah=100, voltage_v=12.5))
    assert metric(result, "delivered_wh").value == pytest.approx(1250)


def test_power_times_time() -> None:
    result = of(capacity_test(power_w=250, duration_s="5 h"))
    assert metric(result, "delivered_wh").value == pytest.approx(1250)
    assert "delivered_ah" not in result.metrics


def test_nothing_to_go_by() -> None:
    result = of(capacity_test())
    assert not {"delivered_ah", "delivered_wh"} & result.metrics.keys()
    assert result.cannot


def test_an_instrument_speaks_for_its_own_quantity() -> None:
    """`read_on: counter` beside a current: the current is the shunt's all the same."""
    result = of(capacity_test(counted_ah=100, current_a=20, read_on="counter"))
    assert any("gain:by-hand/shunt" in name for name in metric(result, "mean_current_a").components)


def test_without_a_bench_everything_is_as_read() -> None:
    result = of(capacity_test(counted_ah=100, current_a=20), on=None)
    assert metric(result, "delivered_ah").basis == "as_read"
    assert metric(result, "delivered_ah").expanded is None
    assert not any(name.startswith("repeat") for name in metric(result, "delivered_ah").components)


# --- repeatability ---------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("declared", "share", "dof"),
    [
        ({}, 0.005, float("inf")),
        ({"charge": "0.3 %"}, 0.003, float("inf")),
        ({"charge": "0.3 %", "repeats": 4}, 0.003, 3),
        ({"resistance": "2 %", "repeats": 4}, 0.005, float("inf")),
    ],
)
def test_repeatability_is_the_benchs_own_else_a_judgement(declared: dict[str, Any], share: float, dof: float) -> None:
    on = bench(instruments=INSTRUMENTS, repeatability=declared)
    repeat = metric(of(capacity_test(), steady(), on), "delivered_ah").components["repeat:checked/run/charge"]
    assert repeat.u == pytest.approx(100 * share)
    assert (repeat.dof, repeat.limit) == (dof, None)


# --- what ended it ---------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("ended_by", ["bms", "end_voltage"])
def test_the_batterys_own_end_is_exact(ended_by: str) -> None:
    assert metric(of(capacity_test(ended_by=ended_by), steady()), "delivered_ah").bound == "exact"


@pytest.mark.parametrize("ended_by", ["inverter", "tester", "died", "unknown"])
def test_any_other_end_makes_it_at_least(ended_by: str) -> None:
    result = of(capacity_test(ended_by=ended_by, battery_c=25), steady())
    for name in ("delivered_ah", "delivered_wh", "share_of_rated", "comparable_ah", "comparable_wh"):
        assert metric(result, name).bound == "at_least", name
    assert len(result.reasons) == 1


def test_an_end_that_nobody_saw_is_counted_at_its_earliest() -> None:
    test = capacity_test(ended_by="unknown", current_a=20, started="19:00", ended="23:00 to 01:00", read_on="shunt")
    result = of(test)
    assert metric(result, "delivered_ah").value == pytest.approx(20 * 4)
    assert metric(result, "delivered_ah").bound == "at_least"


def test_an_end_between_two_times_is_between_two_figures() -> None:
    test = capacity_test(current_a=20, started="19:00", ended="23:00 to 01:00", read_on="shunt")
    delivered = metric(of(test), "delivered_ah")
    assert (delivered.bound, delivered.low, delivered.high) == ("between", 80, 120)


def test_a_counter_and_an_end_between_two_times_leave_the_current_open() -> None:
    test = capacity_test(counted_ah=100, started="19:00", ended="23:00 to 01:00")
    mean = metric(of(test), "mean_current_a")
    assert mean.bound == "between"
    assert (mean.low, mean.high) == pytest.approx((100 / 6, 25))


# --- on and off the reference ----------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("current_a", "battery_c", "off"),
    [(20, 25, 0), (15.1, 15, 0), (24.9, 30, 0), (14.9, 25, 1), (25.1, 25, 1), (20, 14, 1), (20, 31, 1), (5, 5, 2)],
)
def test_the_reference_is_0_2_it_at_15_to_30_c(current_a: float, battery_c: float, off: int) -> None:
    result = of(capacity_test(battery_c=battery_c), steady(current_a, 100 / current_a))
    assert len(result.off_reference) == off


def test_an_unknown_temperature_or_current_is_off_the_reference() -> None:
    assert len(of(capacity_test(), steady()).off_reference) == 1
    assert len(of(capacity_test(counted_ah=100, battery_c=25)).off_reference) == 1


def test_the_labels_own_discharge_time_is_its_reference() -> None:
    slow = label(rated_over_h=20)
    assert reference_it(slow) == 0.05
    assert of(capacity_test(battery_c=25), steady(5, 20), to=slow).off_reference == ()
    assert len(of(capacity_test(battery_c=25), steady(20, 5), to=slow).off_reference) == 1


def test_the_air_stands_in_for_the_battery() -> None:
    assert metric(of(capacity_test(ambient_c=21), steady()), "temperature_c").value == 21
    assert metric(of(capacity_test(ambient_c=21, battery_c=24), steady()), "temperature_c").value == 24


# --- what is compared ------------------------------------------------------------------------------------------------
def test_at_the_reference_rate_nothing_is_projected_away() -> None:
    result = of(capacity_test(battery_c=25), steady())
    assert metric(result, "comparable_ah").value == pytest.approx(metric(result, "delivered_ah").value)
    assert metric(result, "comparable_ah").basis == "projected"


def test_a_slow_run_gives_less_at_the_reference_rate() -> None:
    """(0.05/0.2)^0.025: 3.4 % less; for energy (1/4)^0.03."""
    result = of(capacity_test(battery_c=25), steady(5, 20))
    assert metric(result, "comparable_ah").value == pytest.approx(100 * 0.25**0.025)
    assert metric(result, "comparable_wh").value == pytest.approx(1250 * 0.25**0.03)


@pytest.mark.parametrize(("current_a", "known"), [(3.9, False), (4.1, True), (49.5, True), (51, False)])
def test_rates_that_can_be_compared(current_a: float, known: bool) -> None:
    result = of(capacity_test(battery_c=25), steady(current_a, 100 / current_a))
    assert ("comparable_ah" in result.metrics) is known


@pytest.mark.parametrize(
    ("battery_c", "limit", "bound"),
    [(25, 0.0, "exact"), (15, 1.0, "exact"), (35, 1.0, "exact"), (9, None, "at_least"), (36, None, "at_least")],
)
def test_temperature_of_what_is_compared(battery_c: float, limit: float | None, bound: str) -> None:
    """±1 % per 10 K from 25 °C; colder than 10 °C it would have given more."""
    one = metric(of(capacity_test(battery_c=battery_c), steady()), "comparable_ah")
    assert one.bound == bound
    source = one.components.get("temperature:checked/run")
    assert (source.limit if source else None) == (None if limit is None else pytest.approx(limit))


def test_an_unknown_temperature_is_compared_as_at_least() -> None:
    assert metric(of(capacity_test(), steady()), "comparable_ah").bound == "at_least"


def test_lead_acid_is_brought_to_25_c_at_its_own_rate_only() -> None:
    """90 Ah at 15 °C with λ 0.006: 95.745 Ah."""
    lead = label(chemistry="lead-acid AGM", rated_over_h=20)
    result = of(capacity_test(battery_c=15), steady(4.5, 20), to=lead)
    assert metric(result, "comparable_ah").value == pytest.approx(95.745, abs=0.001)
    assert metric(result, "comparable_ah").basis == "projected"
    assert "comparable_wh" not in result.metrics
    assert "comparable_ah" not in of(capacity_test(battery_c=15), steady(20, 4.5), to=lead).metrics


def test_other_chemistries_are_not_projected() -> None:
    result = of(capacity_test(battery_c=25), steady(), to=label(chemistry="NMC"))
    assert not {"comparable_ah", "comparable_wh"} & result.metrics.keys()
