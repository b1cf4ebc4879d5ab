"""Simulated batteries again: resistance, heater, warm-up, hours, energy by state of charge, retention, brackets.

As in test_demo_truth.py: the 95 % intervals hold the truth in at least 93.5 % of 1,000 seeds, and the mean U is at most
1.25 times the exact 95 % half-width, where the simulator draws what the methods assume. Where their own allowance is
wider than the demo's batteries spread, the interval still has to hold the truth, and the reason stands beside the
measured ratio.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

import numpy as np
import pytest

from tests.external.simulated_tests import (
    APP,
    AT_ITS_LIMITS,
    BOATHOUSE,
    COLDS,
    HUT,
    PLANS,
    PULSES,
    RUNS,
    USES,
    bracketed,
    by_soc,
    carried_a,
    efficiency,
    heater,
    hours,
    lump_warm_up,
    pulse_pair,
    retention,
    two_node_warm_up,
)
from tests.external.test_demo_truth import TIGHT, Count, Seen, Trial, least_held, seen_over, widest

Scenario = Callable[[int], list[Trial]]
SLOW = "lights at 24 W"


def each(name: str, scenario: Callable[[str, int], list[Trial]], keys: Sequence[str]) -> dict[str, Scenario]:
    """The scenario for each of its keys."""
    return {f"{name}: {key}": partial(scenario, key) for key in keys}


TIGHT_SCENARIOS: dict[str, Scenario] = {
    **each("resistance", pulse_pair, list(PULSES)),
    **each("heater", heater, list(COLDS)),
    "warm-up as assumed: 86 W": partial(lump_warm_up, 86.0, -12.0, 8.0),
    "warm-up as assumed: 140 W": partial(lump_warm_up, 140.0, -18.0, 10.0),
    **each("hours", hours, [use for use in USES if use != SLOW]),
    "a counter at its limits that jumps": partial(by_soc, "galley, ferngate", AT_ITS_LIMITS, True),
    "retention, boathouse": partial(retention, BOATHOUSE, 2.0),
    "retention, hut": partial(retention, HUT, 2.0),
    "retention, other temperatures": partial(retention, BOATHOUSE, 6.0),
    "efficiency, boathouse": partial(efficiency, BOATHOUSE),
}


@pytest.mark.parametrize("name", TIGHT_SCENARIOS)
def test_intervals_hold_the_truth_and_are_tight(name: str, count: Count) -> None:
    seeds = count(60, 1000)
    check(seen_over(TIGHT_SCENARIOS[name], seeds), seeds, TIGHT)


def check(found: dict[str, Seen], seeds: int, limit: float) -> None:
    assert found
    for metric, seen in found.items():
        assert seen.held >= least_held(seeds), f"{metric}: {seen}"
        assert seen.mean_u <= widest(seeds, limit) * seen.exact, f"{metric}: {seen}"


@pytest.mark.parametrize("name", COLDS)
def test_the_warm_up_of_a_battery_whose_case_lags(name: str, count: Count) -> None:
    """Each of twelve points counts as read to 1 K on its own, which stands for the lag of the case behind the cells.

    The lag of the demo's batteries is alike from minute to minute and scatters less: measured 1.2 to 2.3 times the
    exact half-width over 1,000 batteries. Drawn as assumed ("warm-up as assumed" above) it is 0.96 to 0.98 times.
    """
    seeds = count(30, 1000)
    check(seen_over(partial(two_node_warm_up, name), seeds), seeds, 2.4)


@pytest.mark.parametrize("name", RUNS)
def test_energy_by_the_app_of_a_battery(name: str, count: Count) -> None:
    """A counter is allowed 2 % at either end, 5 % of the charge and 4 % of the voltage; the demo's app needs less.

    It counts to 2 % and is out of step by the same amount at both ends: measured 2.6 to 3.9 times the exact half-width.
    One that uses up its limits ("a counter at its limits that jumps" above) comes to 1.11 times.
    """
    seeds = count(40, 1000)
    check(seen_over(partial(by_soc, name, APP, False), seeds), seeds, 4.0)


def test_hours_below_a_twenty_fifth_of_the_capacity_an_hour_are_at_least_that(count: Count) -> None:
    """Nobody knows how much more a still slower discharge gives: the lower end holds."""
    seeds = count(60, 1000)
    trials = [trial for seed in range(seeds) for trial in hours(SLOW, seed)]
    assert {trial.interval.bound for trial in trials} == {"at_least"}
    held = float(np.mean([trial.interval.lowest <= trial.truth for trial in trials]))
    assert held >= least_held(seeds)


@pytest.mark.parametrize("name", PLANS)
def test_brackets_hold_what_the_protection_carries(name: str, count: Count) -> None:
    """Each of the five brackets, widened by its U, in 95 % of the tests; trips scatter by 5 %."""
    seeds = count(100, 1000)
    truths = carried_a(PLANS[name][1])
    found = [bracketed(name, seed) for seed in range(seeds)]
    for key, truth in truths.items():
        known = [one[key] for one in found if key in one]
        held = float(np.mean([one.lowest <= truth <= one.highest for one in known]))
        assert held >= least_held(seeds, 0.95), f"{key}: {held:.1%} of {len(known)}"


# Where a plan has narrow steps of current, how wide the brackets come out. [A]
FINE = "thermal memory, in fine steps"
WIDTHS_A = {"10_s": 100.0, "30_s": 45.0, "30_min": 6.0}


def test_brackets_are_no_wider_than_the_steps_and_the_scatter_of_the_trips(count: Count) -> None:
    """Steps of 4 to 50 A; a trip's time counts as 12 % and 0.35 s longer or shorter than read."""
    found = [bracketed(FINE, seed) for seed in range(count(50, 1000))]
    for key, width in WIDTHS_A.items():
        both = [one[key] for one in found if one[key].low is not None and one[key].high is not None]
        assert len(both) > 0.95 * len(found)
        assert np.mean([one.high - one.low for one in both if one.high and one.low]) < width
