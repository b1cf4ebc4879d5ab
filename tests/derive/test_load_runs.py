"""A run of a load: which evidence gives its energy, what a percentage cannot tell, and runs that cannot be."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from site_builder.bench_tests import LoadRun
from site_builder.catalogue_records import Bench, Load
from site_builder.derive.battery_power import through_chain
from site_builder.derive.inverter import chain_of
from site_builder.derive.load_runs import load_run, longer_than_energy
from site_builder.derive.results import OneResult
from site_builder.measured import Component, Measured, exact
from site_builder.records import Label
from site_builder.series import Log
from tests.logs_by_hand import bench, log, setting

LABEL = Label.model_validate({"chemistry": "LiFePO4", "nominal_v": 12.8, "capacity_ah": 90})
LOADS = {
    "kettle": Load.model_validate({"title": "Kettle", "running_w": 610}),
    "induction-hob": Load.model_validate({"title": "Hob", "running_w": 700}),
    "bilge-pump": Load.model_validate({"title": "Pump", "running_w": 325, "mains": False}),
}
INSTRUMENTS: dict[str, dict[str, Any]] = {
    "shunt": {"measures": "current", "of_reading": "0.5 %"},
    "clamp": {"measures": "current", "of_reading": "2 %", "refresh_s": 0.4},
    "plug": {"measures": "power", "of_reading": "2 %", "refresh_s": 1},
    "counter": {"measures": "charge", "of_reading": "0.5 %"},
    "app": {"measures": "soc", "offset": 0.02, "step": 0.01, "dead_band_a": 0.5, "capacity_ah": 88},
}
GALLEY: dict[str, Any] = {"idle_w": 10, "points": [{"ac_w": 900, "dc_w": 1010}], "nominal_v": 12}
BENCH = bench(instruments=INSTRUMENTS, inverters={"galley": GALLEY})


def of(one: Log | None = None, on: Bench | None = BENCH, **more: Any) -> OneResult:
    plain = {"kind": "load_run", "load": "kettle", "outcome": "ran"}
    return load_run(LoadRun.model_validate(plain | more), one, setting(on), LABEL, LOADS)


def an_hour(current_a: float = 20.0) -> Log:
    time = np.arange(0, 3601.0, 10)
    return log(time, current_a, 12.5)


# --- which evidence --------------------------------------------------------------------------------------------------
def test_a_log_before_a_counter_before_power_times_time() -> None:
    metered: dict[str, Any] = {"inverter": "galley", "power_w": 900, "duration_s": "1 h"}
    counted: dict[str, Any] = {"counted_ah": 30, "counted_wh": 400}
    assert of(an_hour(), **metered, **counted).metrics["used_wh"].value == pytest.approx(250)
    assert of(**metered, **counted).metrics["used_wh"].value == 400
    assert of(**metered, **counted).metrics["used_ah"].value == 30
    assert of(**metered).metrics["used_wh"].value == pytest.approx(1010)


def test_current_times_time_is_the_charge_of_a_run_that_went_on() -> None:
    assert of(current_a=50, duration_s="30 min").metrics["used_ah"].value == pytest.approx(25)
    # At a trip, or with a load in cycles, the current that was read is not the mean.
    assert "used_ah" not in of(current_a=127, duration_s=4, outcome="tripped").metrics
    assert "used_ah" not in of(current_a=50, duration_s="30 min", duty="40 %").metrics
    assert "used_ah" not in of(current_a=50).metrics


def test_open_ends_stay_open() -> None:
    metered: dict[str, Any] = {"inverter": "galley", "power_w": 900}
    assert of(**metered, duration_s="over 1 h").metrics["used_wh"].bound == "at_least"
    between = of(**metered, started="22:00", ended="23:00 to 23:30").metrics["used_wh"]
    assert between.bound == "between"
    assert (between.low, between.high) == pytest.approx((1010, 1515))
    assert of(inverter="galley", power_w="under 900", duration_s="1 h").metrics["used_wh"].bound == "at_most"


def test_nothing_but_an_outcome_is_a_result_without_numbers() -> None:
    result = of(outcome="did_not_start")
    assert (dict(result.metrics), result.cannot, result.findings) == ({}, (), ())


def test_gaps_of_the_log_and_its_refusal_are_told() -> None:
    time = np.concatenate((np.arange(0, 1800.0, 10), np.arange(2100, 3601.0, 10)))
    gappy = of(log(time, 20.0, 12.5))
    assert gappy.metrics["used_wh"].bound == "at_least"
    assert "over 5 % of the log is missing" in gappy.reasons[0]
    refused = of(log(time, np.where(time < 900, -20.0, 20.0), 12.5))
    assert "used_wh" not in refused.metrics
    assert "it would take a log without gaps" in refused.cannot[0]


def test_several_batteries_together_each_give_their_share() -> None:
    metered: dict[str, Any] = {"inverter": "galley", "power_w": 900, "duration_s": "1 h", "current_a": 80}
    pair = of(**metered, arrangement={"series": 2, "parallel": 2}).metrics
    one = of(**metered).metrics
    assert pair["used_wh"].value == pytest.approx(one["used_wh"].value / 4)
    assert pair["battery_power_w"].value == pytest.approx(one["battery_power_w"].value / 4)
    assert pair["used_ah"].value == pytest.approx(one["used_ah"].value / 2)


# --- power at the battery --------------------------------------------------------------------------------------------
def test_power_behind_an_inverter_carries_its_chain() -> None:
    power = of(inverter="galley", power_w=450).metrics["battery_power_w"]
    assert power.value == pytest.approx(10 + 450 * 1000 / 900)
    assert power.components["gain:by-hand/plug"].u == pytest.approx(450 * 0.02 / math.sqrt(3) * 1000 / 900)
    assert power.components["chain:by-hand/galley"].u == pytest.approx(0.01 * power.value)


def test_of_a_load_in_cycles_only_the_time_on_counts_and_the_inverter_idles_always() -> None:
    power = of(inverter="galley", power_w=450, duty="30 % to 50 %").metrics["battery_power_w"]
    assert power.value == pytest.approx(10 + 0.4 * 500)
    assert power.components["stated:checked/run/duty"].u == pytest.approx(0.1 * 500 / math.sqrt(3))
    direct = of(load="bilge-pump", power_w=325, duty="40 %").metrics["battery_power_w"]
    assert direct.value == pytest.approx(130)


@pytest.mark.parametrize("inverter", [{}, {"inverter": "cabin"}])
def test_an_unknown_inverter_hides_the_power_at_the_battery(inverter: dict[str, Any]) -> None:
    result = of(power_w=450, duration_s="1 h", **inverter)
    assert "used_wh" not in result.metrics
    assert result.cannot == ("its power at the battery is not known: which inverter it went through was not recorded",)


def test_a_load_on_the_battery_itself_needs_none() -> None:
    result = of(load="bilge-pump", power_w=325, duration_s="2 h")
    assert result.metrics["used_wh"].value == pytest.approx(650)
    assert result.cannot == ()


def test_a_square_term_steepens_the_plugs_error() -> None:
    points = [{"ac_w": watts, "dc_w": 10 + 1.05 * watts + 2e-4 * watts**2} for watts in (100, 500, 1000)]
    chain = chain_of(bench(inverters={"g": {"idle_w": 10, "points": points}}).inverters["g"])
    ac = Measured(value=1000, unit="W", components={"gain": Component(10)})
    found = through_chain(ac, chain, 0.5, setting(BENCH), "g")
    assert found.components["gain"].u == pytest.approx(10 * 0.5 * (1.05 + 2 * 2e-4 * 1000), rel=1e-6)


# --- peaks -----------------------------------------------------------------------------------------------------------
def test_a_display_that_is_renewed_now_and_then_gives_a_peak_that_is_at_least() -> None:
    found = of(peak_w=1400, peak_a="over 110", read_on="plug").metrics
    assert (found["peak_w"].bound, found["peak_a"].bound) == ("at_least", "at_least")
    held = bench(instruments={"plug": {"measures": "power", "of_reading": "2 %"}})
    assert of(on=held, peak_w=1400).metrics["peak_w"].bound == "exact"
    assert of(on=held, peak_w="under 1450").metrics["peak_w"].bound == "at_most"


def test_an_upper_limit_of_a_peak_from_such_a_display_is_none() -> None:
    result = of(peak_w="under 1450", read_on="plug")
    assert "peak_w" not in result.metrics
    assert "renewed every 1 s; it would take an instrument that holds peaks" in result.cannot[0]


# --- state of charge -------------------------------------------------------------------------------------------------
def test_energy_by_a_percentage_with_all_that_it_cannot_tell() -> None:
    """28 % of 88 Ah at 12.8 V; each end ± 2 % and half a step, 5 % of the charge, 4 % of the voltage, 0.5 A for ½ h."""
    found = of(soc={"start": "88 %", "end": "60 %"}, duration_s="30 min", read_on="app").metrics["soc_used_wh"]
    whole = 88 * 12.8
    assert found.value == pytest.approx(0.28 * whole)
    ends = 2 * (0.02 * whole) ** 2 + 2 * (0.005 * whole) ** 2
    share = (0.05 * found.value) ** 2 + (0.04 * found.value) ** 2 + (0.25 * 12.8) ** 2
    assert found.u == pytest.approx(math.sqrt((ends + share) / 3))


def test_it_never_leads() -> None:
    result = of(soc={"start": "88 %", "end": "60 %"}, duration_s="30 min", read_on="app")
    assert "used_wh" not in result.metrics


def test_the_dead_band_counts_for_as_long_as_the_run_may_have_been() -> None:
    ends: dict[str, Any] = {"started": "22:00", "ended": "22:30 to 23:00"}
    found = of(soc={"start": "88 %", "end": "60 %"}, read_on="app", **ends).metrics["soc_used_wh"]
    assert found.components["dead band:checked/run"].limit == pytest.approx(0.5 * 1.0 * 12.8)


@pytest.mark.parametrize(
    ("soc", "why"),
    [
        ({"start": "60 %", "end": "88 %"}, "because it did not fall"),
        ({"start": "60 %", "end": "60 %"}, "because it did not fall"),
        ({"start": "100 %", "end": "60 %"}, "at 0 or 100 %, where the counter is set anew"),
        ({"start": "98 % to 100 %", "end": "60 %"}, "at 0 or 100 %"),
        ({"start": "40 %", "end": "0 %"}, "at 0 or 100 %"),
        ({"start": "over 90 %", "end": "60 %"}, "because one end is open"),
    ],
)
def test_a_percentage_that_gives_no_energy_says_why_and_what_it_would_take(soc: dict[str, str], why: str) -> None:
    result = of(soc=soc, duration_s="30 min", read_on="app")
    assert "soc_used_wh" not in result.metrics
    assert why in result.cannot[0]
    assert "it would take" in result.cannot[0]


def test_a_percentage_without_a_counter_says_so() -> None:
    result = of(on=None, soc={"start": "88 %", "end": "60 %"})
    assert "it would take read_on" in result.cannot[0]


def test_a_counter_set_to_exactly_the_rated_capacity_is_asked_about() -> None:
    app = INSTRUMENTS["app"] | {"capacity_ah": 90}
    result = of(on=bench(instruments=INSTRUMENTS | {"app": app}), soc={"start": "88 %", "end": "60 %"}, read_on="app")
    assert [finding.code for finding in result.findings] == ["counter-rated"]
    unset = {name: value for name, value in INSTRUMENTS["app"].items() if name != "capacity_ah"}
    quiet = of(on=bench(instruments=INSTRUMENTS | {"app": unset}), soc={"start": "88 %", "end": "60 %"}, read_on="app")
    assert quiet.findings == ()
    assert quiet.metrics["soc_used_wh"].value == pytest.approx(0.28 * 90 * 12.8)


def test_an_estimate_on_the_day_is_an_estimate() -> None:
    found = of(guess={"duration_s": "about 2 h", "by": "person"}).metrics["guess_s"]
    assert (found.value, found.basis) == (7200, "estimate")
    assert found.components["stated:guess"].limit == 1800


# --- longer than the energy allows -----------------------------------------------------------------------------------
HOLDS = Measured(value=1170, unit="Wh", components={"gain": Component(5)})


def a_run(hours: str, **more: Any) -> OneResult:
    return of(inverter="galley", power_w=900, duration_s=hours, **more)


def test_a_run_longer_than_the_energy_allows_is_a_finding_with_a_way_out() -> None:
    found = longer_than_energy(a_run("1.4 h"), HOLDS)
    assert found is not None
    assert (found.code, found.field) == ("run-longer-than-energy", "duration_s")
    assert "1414 Wh" in found.message
    assert "1170 Wh" in found.message
    assert "duty" in found.hint


@pytest.mark.parametrize(
    ("run", "holds"),
    [
        (a_run("1.1 h"), HOLDS),
        # 1 212 Wh ± 28 Wh reach down to what it holds.
        (a_run("1.2 h"), Measured(value=1170, unit="Wh", components={"gain": Component(20)})),
        (a_run("1.4 h"), HOLDS.as_bound("at_least")),
        (a_run("1.4 h"), None),
        (a_run("under 1.4 h"), HOLDS),
        (of(outcome="did_not_start"), HOLDS),
    ],
    ids=["shorter", "within U", "holds at least", "not known", "at most", "no energy"],
)
def test_a_run_that_may_be_right_is_none(run: OneResult, holds: Measured | None) -> None:
    assert longer_than_energy(run, holds) is None


def test_a_run_of_at_least_so_long_counts() -> None:
    assert longer_than_energy(a_run("over 1.4 h"), HOLDS) is not None
    assert longer_than_energy(a_run("1.4 h"), exact(1170, "Wh").as_bound("at_most")) is not None
