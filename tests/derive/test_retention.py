"""Tested again: which tests make a series, and what two tests on reference may still differ by."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

import pytest

from site_builder.derive.results import OneResult
from site_builder.derive.retention import Dated, retentions, share_left
from site_builder.measured import Component, Measured


def one_test(ah: float = 90.0, rate_it: float = 0.2, temperature_c: float | None = 22.0, **more: Any) -> OneResult:
    """A capacity test with a gain that it shares with others, and a repeatability of its own."""
    name = more.pop("test", "run")
    gain, own = {"gain": Component(0.003 * ah)}, {f"repeat:{name}": Component(0.004 * ah)}
    charge = Measured(value=ah, unit="Ah", components=gain | own, bound=more.pop("bound", "exact"))
    metrics = {"delivered_ah": charge, "rate_it": Measured(value=rate_it, unit="It")}
    if temperature_c is not None:
        metrics["temperature_c"] = Measured(value=temperature_c, unit="°C")
    return OneResult(test=name, kind="capacity", metrics=metrics, **more)


def test_the_gain_cancels_and_each_tests_own_luck_stays() -> None:
    found = share_left(one_test(test="new"), one_test(81, test="old"))
    assert found.value == pytest.approx(0.9)
    assert found.components.keys() - {"gain"} == {"repeat:new", "repeat:old"}
    assert found.u == pytest.approx(0.9 * 0.004 * math.sqrt(2))


def test_other_temperatures_may_be_a_percent_per_ten_kelvin() -> None:
    found = share_left(one_test(test="new"), one_test(81, temperature_c=17, test="old"))
    assert abs(found.components["temperature:new/old"].u) == pytest.approx(0.9 * 0.005 / math.sqrt(3))
    assert "temperature:new/old" not in share_left(one_test(), one_test(temperature_c=None)).components


def test_other_rates_are_brought_together_by_peukerts_relation() -> None:
    """0.16 then 0.24 I_t: k − 1 from 0 to 0.05 is 0 to 2 % of charge, so 1 % more and ± 1 %."""
    found = share_left(one_test(rate_it=0.16, test="new"), one_test(81, rate_it=0.24, test="old"))
    half = 0.025 * math.log(1.5)
    assert found.value == pytest.approx(0.9 * math.exp(half))
    assert found.components["peukert:new/old"].u == pytest.approx(0.9 * half / math.sqrt(3))


def test_lead_acid_is_given_more_room() -> None:
    """Peukert's k up to 1.3, 0.6 % per kelvin."""
    ends = one_test(rate_it=0.18, test="new"), one_test(81, rate_it=0.2, temperature_c=20, test="old")
    lithium, lead = (share_left(*ends, chemistry) for chemistry in ("LiFePO4", "lead-acid AGM"))
    assert lead.u > 2 * lithium.u


def test_a_rate_of_nothing_is_no_fault() -> None:
    assert share_left(one_test(rate_it=0.0), one_test(81)).value == pytest.approx(0.9)


# --- series ----------------------------------------------------------------------------------------------------------
def dated(name: str, day: int, result: OneResult, series: str = "a") -> Dated:
    return Dated(test=name, date=dt.date(2026, 1, day), series=(series,), result=result)


def shares(*tests: Dated) -> list[tuple[str, str]]:
    return [(one.first, one.later) for one in retentions(tests, "LiFePO4")]


def test_each_later_test_is_held_against_the_first_of_its_series() -> None:
    tests = [dated("c", 3, one_test(80)), dated("a", 1, one_test()), dated("b", 2, one_test(85))]
    assert shares(*tests) == [("a", "b"), ("a", "c")]


def test_another_series_is_another_battery_bench_or_method() -> None:
    assert shares(dated("a", 1, one_test()), dated("b", 2, one_test(), series="b")) == []


@pytest.mark.parametrize(
    "result",
    [
        one_test(bound="at_least"),
        one_test(off_reference=("at 5 °C instead of 15 to 30 °C",)),
        OneResult(test="run", kind="capacity"),
        OneResult(
            test="run", kind="capacity", metrics={"delivered_ah": Measured(value=90, unit="Ah", basis="as_read")}
        ),
    ],
    ids=["at least", "off reference", "no charge", "as read"],
)
def test_only_exact_tests_on_reference_count(result: OneResult) -> None:
    assert shares(dated("a", 1, result), dated("b", 2, one_test()), dated("c", 3, one_test())) == [("b", "c")]
    assert shares(dated("a", 1, one_test()), dated("b", 2, result)) == []
