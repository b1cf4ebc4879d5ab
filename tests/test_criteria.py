"""The facts that are graded beside the metrics: one unit, one thing changed at a time."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest

from site_builder.criteria import CAME_BACK, FACTS, facts_of, gradable, heater, motor, takes, unit_of
from site_builder.derive.cold_charge import SAFETY
from site_builder.derive.overload import Point
from site_builder.derive.readings import Setting
from site_builder.derive.resistance import resistance
from site_builder.derive.results import Carrying, LoadAnswer, OneResult, SeenRun, UnitResult
from site_builder.measured import Component, Measured
from site_builder.nomenclature import METRICS
from site_builder.records import ResultsFile
from site_builder.series import Log

LABEL = {"chemistry": "LiFePO4", "nominal_v": 12.8, "capacity_ah": 100, "continuous_discharge_a": 80}
PULSES = {
    "kind": "resistance",
    "soc": "80 %",
    "battery_c": 22,
    "readings": [
        {"current_a": 20, "voltage_v": 13.2, "after_s": 10},
        {"current_a": 100, "voltage_v": 12.9, "after_s": 1},
    ],
}


def record(tests: Mapping[str, Any], samples: tuple[str, ...] = ("a",), **label: Any) -> ResultsFile:
    """A results file with these tests."""
    return ResultsFile.model_validate(
        {
            "unit": {"id": "tarn-t100", "maker": "Tarn", "model": "T100"},
            "samples": {name: {"obtained": "bought"} for name in samples},
            "label": LABEL | label,
            "tests": dict(tests),
        }
    )


def result(
    tests: Mapping[str, OneResult] | None = None,
    carrying: tuple[Carrying, ...] = (),
    metrics: Mapping[str, Measured] | None = None,
) -> UnitResult:
    """A unit's derived numbers."""
    return UnitResult(id="tarn-t100", class_id=None, tests=tests or {}, metrics=metrics or {}, carrying=carrying)


def metered(value: float, unit: str = "A", **more: Any) -> Measured:
    """A number from a named instrument, u 1 %."""
    return Measured(value=value, unit=unit, components={"gain": Component(value / 100)}, **more)


def one(name: str, kind: str, **more: Any) -> OneResult:
    """One test's result."""
    return OneResult(test=name, kind=kind, **more)


def test_every_fact_says_what_it_takes_and_no_fact_hides_a_metric() -> None:
    assert FACTS.keys() & METRICS.keys() == set()
    assert all(takes(name) for name in [*FACTS, *METRICS])
    assert (unit_of("warm_up_s"), unit_of("wh_per_kg"), unit_of("app"), unit_of("nothing")) == (
        "s",
        "Wh/kg",
        None,
        None,
    )


def test_shares_of_the_label_keep_bound_limits_and_components() -> None:
    carries = metered(88, low=88.0, high=120.0, bound="between")
    facts = facts_of(result(metrics={"comparable_ah": metered(95, "Ah"), "carries_30_min_a": carries}), record({}))
    share, carried = facts["rated_share"], facts["carries_30_min_share"]
    assert isinstance(share, Measured)
    assert isinstance(carried, Measured)
    assert (share.value, share.components["gain"].u) == pytest.approx((0.95, 0.0095))
    assert share.unit == "1"
    assert (carried.value, carried.low, carried.high) == pytest.approx((1.1, 1.1, 1.5))
    assert carried.bound == "between"
    assert carried.components["gain"].u == pytest.approx(0.011)


def test_without_a_continuous_current_nothing_is_a_share_of_it() -> None:
    facts = facts_of(result(metrics={"carries_3_s_a": metered(88)}), record({}, continuous_discharge_a=None))
    assert "carries_3_s_share" not in facts
    assert "carries_3_s_a" in facts


def trips(*names: str, firmware: str | None = None) -> Carrying:
    """Points of these tests."""
    points = tuple(
        Point(
            test=name,
            current=metered(100),
            shortest_s=1,
            longest_s=1,
            seen_s=(1, 1),
            tripped=True,
            stopped_by="bms",
        )
        for name in names
    )
    return Carrying(firmware=firmware, points=points, brackets={}, curve=None)


def overload(how: str, **more: Any) -> dict[str, Any]:
    """An overload test after which it came back like this."""
    return {"kind": "overload", "came_back": {"how": how}, **more}


def test_the_worst_way_that_it_came_back_counts() -> None:
    held = record({"first": overload("by itself"), "then": overload("after a button")})
    assert facts_of(result(), held)["came_back"] == "after a button"
    assert CAME_BACK[0] == "by itself"
    assert CAME_BACK[-1] == "not"
    assert "came_back" not in facts_of(result(), record({"first": {"kind": "overload"}}))


def test_an_older_firmware_and_another_sample_say_nothing_of_how_it_comes_back_now() -> None:
    tests = {
        "old": overload("not", firmware="1.0", sample="a"),
        "new": overload("by itself", firmware="1.1", sample="a"),
        "other": overload("after charging", firmware="1.1", sample="b"),
    }
    held = record(tests, samples=("a", "b"))
    carrying = (trips("old", firmware="1.0"), trips("new", firmware="1.1"))
    assert facts_of(result(carrying=carrying), held)["came_back"] == "by itself"


ICE = {"ice": {"kind": "cold_charge"}}
NEARLY_FROZEN = Measured(value=-0.5, unit="°C", components={"offset": Component(0.5)})


@pytest.mark.parametrize(
    ("conditions", "metrics", "min_c", "expected"),
    [
        ((SAFETY,), {}, 0, "charges below its limit"),
        ((), {"refused_up_to_c": metered(-5.0, "°C")}, 0, "refuses charge"),
        ((), {"refused_up_to_c": Measured(value=-5.0, unit="°C", basis="as_read")}, 0, None),
        ((), {"accepted_from_c": metered(-15.0, "°C")}, -20, "charges as its label allows"),
        ((), {"accepted_from_c": metered(5.0, "°C")}, -20, None),
        ((), {"accepted_from_c": NEARLY_FROZEN}, -20, None),
        ((SAFETY,), {"accepted_from_c": metered(-25.0, "°C")}, -20, "charges below its limit"),
        ((), {}, 0, None),
    ],
)
def test_what_it_does_frozen(
    conditions: tuple[str, ...], metrics: dict[str, Measured], min_c: float, expected: str | None
) -> None:
    tests = {"ice": one("ice", "cold_charge", conditions=conditions)}
    facts = facts_of(result(tests, metrics=metrics), record(ICE, charge={"min_c": min_c}))
    assert facts.get("frozen") == expected


HEATER = {"on_below_c": 2}


@pytest.mark.parametrize(
    ("label", "expected"),
    [
        ({}, "no heater"),
        ({"charge": {"min_c": 0}}, "no heater"),
        ({"charge": {"min_c": -20}}, "needs none"),
        ({"chemistry": "lead-acid AGM"}, None),
        ({"heater": HEATER}, None),
    ],
)
def test_the_warm_up_of_a_battery_without_a_log_of_it(label: dict[str, Any], expected: str | None) -> None:
    assert facts_of(result(), record({}, **label)).get("warm_up_s") == expected


def test_the_standard_warm_up_or_that_it_never_gets_there() -> None:
    held = record(ICE, heater=HEATER)
    warm_up = metered(3000, "s")
    assert facts_of(result(metrics={"standard_warm_up_s": warm_up}), held)["warm_up_s"] is warm_up
    never = {"ice": one("ice", "cold_charge", cannot=("never: its heater's 30 W do not reach 8 °C in air at -10 °C",))}
    assert facts_of(result(never), held)["warm_up_s"] == "never"


def test_sag_is_the_fall_for_i_t_as_a_share_of_the_nominal_voltage() -> None:
    """4 mΩ, 100 A, 12.8 V: 0.4/12.8 = 3.125 %."""
    tests = {"pulses": one("pulses", "resistance", metrics={"dc_resistance_milliohm": metered(4.0, "mΩ")})}
    sag = facts_of(result(tests), record({"pulses": PULSES}))["sag_share"]
    assert isinstance(sag, Measured)
    assert sag.value == pytest.approx(0.03125)
    assert sag.components["gain"].u == pytest.approx(0.0003125)


@pytest.mark.parametrize(
    "change",
    [
        {"soc": "50 %"},
        {"soc": None},
        {"battery_c": 30},
        {"battery_c": None},
        {"readings": [PULSES["readings"][0] | {"after_s": 30}, PULSES["readings"][1] | {"after_s": 5}]},  # type: ignore[index]
        {"readings": [{"current_a": 20, "voltage_v": 13.2}, {"current_a": 100, "voltage_v": 12.9}]},
        {"readings": []},
    ],
)
def test_sag_from_other_pulses_is_not_graded(change: dict[str, Any]) -> None:
    tests = {"pulses": one("pulses", "resistance", metrics={"dc_resistance_milliohm": metered(4.0, "mΩ")})}
    assert "sag_share" not in facts_of(result(tests), record({"pulses": PULSES | change}))


@pytest.mark.parametrize(("interval_s", "comparable"), [(1.0, True), (5.0, False)])
def test_pulses_of_a_log_are_comparable_where_it_is_fast_enough(interval_s: float, comparable: bool) -> None:
    """The words that name the pulse time come from the derivation itself."""
    steps = np.repeat([20.0, 100.0, 20.0, 100.0], 60)
    time = np.arange(len(steps), dtype=np.float64) * interval_s
    columns = {"current": steps, "voltage": 13.3 - 0.004 * steps}
    log = Log(
        time_s=time,
        columns=columns,
        line=np.arange(len(steps), dtype=np.int64) + 2,
        hold="linear",
        interval_s=interval_s,
        heartbeat_s=None,
        started=None,
        rows=len(steps),
        sha256="",
    )
    held = record({"pulses": PULSES | {"readings": [], "log": "pulses.csv"}})
    test = held.tests["pulses"]
    derived = resistance(test, log, Setting(unit="u", test="pulses", bench_id=None, bench=None), held.label)  # type: ignore[arg-type]
    named = one(
        "pulses",
        "resistance",
        metrics={"dc_resistance_milliohm": metered(derived.metrics["dc_resistance_milliohm"].value, "mΩ")},
        conditions=derived.conditions,
    )
    assert ("sag_share" in facts_of(result({"pulses": named}), held)) == comparable


def test_the_first_samples_sag_leads_and_among_its_tests_the_closest() -> None:
    names = {"b-close": ("b", 3.0, 0.001), "a-wide": ("a", 5.0, 0.5), "a-close": ("a", 4.0, 0.01)}
    tests = {
        name: one(
            name,
            "resistance",
            metrics={"dc_resistance_milliohm": Measured(value=value, unit="mΩ", components={name: Component(u)})},
        )
        for name, (_, value, u) in names.items()
    }
    held = record({name: PULSES | {"sample": sample} for name, (sample, *_) in names.items()}, samples=("a", "b"))
    sag = facts_of(result(tests), held)["sag_share"]
    assert isinstance(sag, Measured)
    assert sag.components.keys() == {"a-close"}


@pytest.mark.parametrize(
    ("box", "documents", "certificates"),
    [
        ({"documents": ["charge limits", "curves"]}, 2.0, 0.0),
        ({"documents": [], "certificates_seen": ["UN 38.3"]}, 0.0, 1.0),
        ({"certificates_seen": ["UN 38.3"]}, 0.0, 1.0),
        ({"documents": []}, 0.0, 0.0),
        ({"terminals": "M8"}, None, None),
    ],
)
def test_documents_count_where_somebody_listed_them(
    box: dict[str, Any], documents: float | None, certificates: float | None
) -> None:
    """Who lists what was in the box would have listed a certificate too; who lists nothing has not looked."""
    found = facts_of(result(), record({"box": {"kind": "build", **box}}))
    known = [found.get(name) for name in COUNTED]
    counts = [fact.value if isinstance(fact, Measured) else fact for fact in known]
    assert counts == [documents, certificates]


COUNTED = ("documents", "certificates")


@pytest.mark.parametrize(
    ("claimed", "works", "expected"),
    [
        (True, True, "works"),
        (True, False, "does not work"),
        (True, None, None),
        (False, None, "none"),
        (None, None, None),
        (None, True, "works"),
    ],
)
def test_an_app_that_is_not_claimed_is_no_fault(claimed: bool | None, works: bool | None, expected: str | None) -> None:
    held = record({"box": {"kind": "build", "app_works": works}}, app=claimed)
    assert facts_of(result(), held).get("app") == expected


def run(outcome: str, *others: str, by: str | None = None) -> SeenRun:
    """A run of the kettle."""
    return SeenRun(test="run", together=("kettle", *others), outcome=outcome, duration=None, by=by)


def answer(*seen: SeenRun, start: str = "not known", peak_a: float | None = 80.0) -> LoadAnswer:
    """What is known of the kettle."""
    return LoadAnswer(
        load="kettle", seen=seen, hours=None, why_not=None, start=start, peak_a=peak_a, uses=None, inverter=None
    )


@pytest.mark.parametrize(
    ("known", "expected"),
    [
        (answer(run("ran"), start="will not"), "starts"),
        (answer(run("ran to the end")), "starts"),
        (answer(run("ran", "hob")), "starts"),
        (answer(run("ran"), run("tripped", by="bms")), "starts, then cuts off"),
        (answer(run("tripped")), "starts, then cuts off"),
        (answer(run("tripped", by="inverter"), start="starts"), "starts"),
        (answer(run("tripped", "hob", by="bms")), None),
        (answer(run("did_not_start"), run("ran")), "does not start"),
        (answer(run("did_not_start", by="inverter")), None),
        (answer(start="starts"), "starts"),
        (answer(start="will not"), "does not start"),
        (answer(start="borderline"), None),
        (answer(start="not known"), None),
    ],
)
def test_a_motor_that_was_seen_outranks_the_sum(known: LoadAnswer, expected: str | None) -> None:
    """A stop by something else says nothing of the battery, nor does one of several loads together."""
    assert motor(known) == expected


@pytest.mark.parametrize(
    ("known", "carries", "expected"),
    [
        (answer(run("ran")), None, "runs"),
        (answer(run("tripped", by="bms"), run("ran")), None, "cuts off"),
        (answer(), metered(90), "runs"),
        (answer(), metered(81), None),
        (answer(), metered(70), "cuts off"),
        (answer(), metered(70, bound="at_least"), None),
        (answer(), metered(70, low=70.0, high=90.0, bound="between"), None),
        (answer(), Measured(value=90.0, unit="A", basis="as_read"), None),
        (answer(peak_a=None), metered(90), None),
        (answer(), None, None),
    ],
)
def test_a_heater_runs_where_the_battery_carries_its_current_for_half_an_hour(
    known: LoadAnswer, carries: Measured | None, expected: str | None
) -> None:
    """80 A: held by more than U, or cut off below it by more than U."""
    assert heater(known, carries) == expected


@pytest.mark.parametrize(
    ("basis", "expected"),
    [
        ("measured", True),
        ("projected", True),
        ("as_read", False),
        ("claimed", False),
        ("reported", False),
        ("estimate", False),
    ],
)
def test_what_is_gradable(basis: Any, expected: bool) -> None:
    assert gradable(Measured(value=1.0, unit="A", basis=basis)) == expected
    assert gradable("works")
    assert not gradable(None)
