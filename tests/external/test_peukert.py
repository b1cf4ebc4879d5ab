"""Capacity at another rate or temperature against worked examples."""

from __future__ import annotations

import math

import pytest

from site_builder.derive.peukert import at_reference_rate, lead_acid_at_25_c, peukert_hours
from site_builder.measured import Measured


def test_peukerts_worked_example() -> None:
    """120 Ah at 20 h, k 1.4, 120 A: 20·(120/(120·20))^1.4 h = 0.3017 h, by hand.

    The form is that of D. Doerffel and S. A. Sharkh, J. Power Sources 155 (2006) 395.
    """
    assert peukert_hours(120, 20, 1.4, 120) == pytest.approx(0.3017, abs=0.00005)
    assert 20 * math.exp(-1.4 * math.log(20)) == pytest.approx(0.3017, abs=0.00005)


def test_peukert_with_an_exponent_of_one_keeps_the_charge() -> None:
    assert peukert_hours(120, 20, 1.0, 120) == pytest.approx(1.0)


def test_lead_acid_brought_to_25_c() -> None:
    """90 Ah at 15 °C, λ 0.006: 90/(1 - 0.06) = 95.745 Ah; IEC 60896-11's relation, from memory."""
    assert lead_acid_at_25_c(90, 15) == pytest.approx(95.745, abs=0.0005)
    assert lead_acid_at_25_c(90, 25) == 90


@pytest.mark.parametrize("energy", [False, True])
def test_a_slow_run_brought_to_the_reference_rate(energy: bool) -> None:
    """From 0.05 to 0.2 I_t with k - 1 rectangular on 0 to 0.05 (energy 0.06), by hand.

    (1/4)^0.025 is 3.4 % less; u = ln 4·0.0144 is 2.0 %, and with the unit's own part of 0.004 it is 2.1 %.
    """
    at = at_reference_rate(Measured(value=100.0, unit="Ah"), 0.05, 0.2, unit="checked", energy=energy)
    assert at.basis == "projected"
    if energy:
        assert at.value == pytest.approx(100 * 4**-0.03, rel=1e-12)
        return
    assert at.value / 100 - 1 == pytest.approx(-0.034, abs=0.0005)
    shared = at.components["peukert:LiFePO4"].u / at.value
    assert abs(shared) == pytest.approx(0.020, abs=0.0005)
    assert at.u / at.value == pytest.approx(math.log(4) * math.hypot(0.05 / math.sqrt(12), 0.004), rel=1e-9)


def test_two_runs_at_one_rate_share_the_exponent() -> None:
    """What is not known of the chemistry's exponent cancels between two units that were run alike."""
    first, second = (
        at_reference_rate(Measured(value=value, unit="Ah"), 0.05, 0.2, unit=unit)
        for value, unit in ((100.0, "a"), (95.0, "b"))
    )
    shared = first.components["peukert:LiFePO4"].u - second.components["peukert:LiFePO4"].u
    assert abs(shared) == pytest.approx(abs(first.components["peukert:LiFePO4"].u) * 0.05, rel=1e-9)
    assert first.components.keys() & second.components.keys() == {"peukert:LiFePO4"}
