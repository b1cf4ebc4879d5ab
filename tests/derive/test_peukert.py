"""How a run at another rate is brought to the reference; worked examples stand in tests/external."""

from __future__ import annotations

import math

import pytest

from site_builder.derive.peukert import at_reference_rate, lfp_temperature_component, peukert_hours
from site_builder.measured import Bound, Component, Measured, rectangular

RUN = Measured(value=100.0, unit="Ah", components={"gain": rectangular(0.5)})


def test_at_its_own_rate_nothing_changes() -> None:
    at = at_reference_rate(RUN, 0.2, 0.2, unit="tarn-t90")
    assert at.value == 100
    assert at.u == pytest.approx(RUN.u)


@pytest.mark.parametrize(("rate_it", "more"), [(0.05, False), (0.1, False), (0.3, True), (0.5, True)])
def test_a_slow_run_is_brought_down_and_a_fast_one_up(rate_it: float, more: bool) -> None:
    assert (at_reference_rate(RUN, rate_it, 0.2, unit="tarn-t90").value > 100) is more


def test_the_exponents_share_is_signed() -> None:
    """A larger exponent brings a slow run further down and a fast one further up."""
    slow, fast = (at_reference_rate(RUN, rate, 0.2, unit="tarn-t90") for rate in (0.1, 0.4))
    assert slow.components["peukert:LiFePO4"].u < 0 < fast.components["peukert:LiFePO4"].u
    assert slow.components["peukert:LiFePO4"].limit == pytest.approx(0.025 * math.log(2) * slow.value)


def test_the_runs_own_components_come_along() -> None:
    at = at_reference_rate(RUN, 0.1, 0.2, unit="tarn-t90")
    factor = at.value / 100
    assert at.components["gain"] == Component(RUN.components["gain"].u * factor, limit=0.5 * factor)
    assert "peukert:tarn-t90" in at.components


@pytest.mark.parametrize("bound", ["exact", "at_least"])
def test_a_bound_stays(bound: Bound) -> None:
    assert at_reference_rate(RUN.as_bound(bound), 0.1, 0.2, unit="tarn-t90").bound == bound


@pytest.mark.parametrize(("temperature_c", "limit"), [(25, 0), (15, 1), (35, 1), (20, 0.5)])
def test_one_percent_per_ten_kelvin(temperature_c: float, limit: float) -> None:
    assert lfp_temperature_component(100, temperature_c).limit == pytest.approx(limit)


def test_twice_the_current_takes_less_than_half_the_time() -> None:
    assert peukert_hours(100, 20, 1.2, 10) < peukert_hours(100, 20, 1.2, 5) / 2
