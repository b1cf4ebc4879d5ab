"""A load in cycles: whole ones, edge to edge, and few of them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from site_builder.derive.duty import duty_u, logged_duty
from site_builder.measured import Measured
from site_builder.series import Log
from tests.logs_by_hand import log


def cycles(*stretches: tuple[float, float], lead_s: float = 100.0, tail_s: float = 100.0) -> Log:
    """Idle, then so many seconds on and off again and again, and idle; a row every 10 s."""
    pieces = [np.zeros(int(lead_s / 10))]
    for on_s, off_s in stretches:
        pieces += [np.full(int(on_s / 10), 5.0), np.zeros(int(off_s / 10))]
    current = np.concatenate([*pieces, np.zeros(int(tail_s / 10))])
    return log(np.arange(len(current)) * 10.0, current)


def duty(one: Log) -> Measured:
    found = logged_duty(one)
    assert found is not None
    return found


def test_whole_cycles_edge_to_edge() -> None:
    """Three whole cycles of 40 %; the fourth has no end, and how long it was idle before the first nobody saw."""
    found = duty(cycles((400, 600), (400, 600), (400, 600), (400, 0), lead_s=3000))
    assert found.value == pytest.approx(0.4)
    assert found.u == pytest.approx(0.0)


def test_the_interval_is_students() -> None:
    """Duties 0.3, 0.4, 0.5: mean 0.4, s 0.1, t(2) = 4.303 (GUM table G.2: 4.30), so ± 0.248."""
    found = duty(cycles((300, 700), (400, 600), (500, 500), (400, 600)))
    assert found.value == pytest.approx(0.4)
    assert found.u == pytest.approx(0.1 / math.sqrt(3))
    assert found.expanded == pytest.approx(4.303 * 0.1 / math.sqrt(3), rel=1e-3)


@pytest.mark.parametrize(("whole", "share"), [(1, 0.15), (2, 0.075)])
def test_fewer_than_three_cycles(whole: int, share: float) -> None:
    """U = 15/n % of the duty: this project's judgement."""
    found = duty(cycles(*[(400, 600)] * (whole + 1)))
    assert found.u == pytest.approx(share * 0.4)


@pytest.mark.parametrize(
    "one",
    [
        cycles((400, 600)),
        cycles((4000, 0), lead_s=0, tail_s=0),
        cycles(lead_s=1000),
        log(np.arange(5.0), [0.0, 1.0, 0.0, 1.0, 0.0]),
    ],
    ids=["one start", "always on", "never on", "no end"],
)
def test_without_a_whole_cycle_there_is_none_or_a_number(one: Log) -> None:
    found = logged_duty(one)
    assert found is None or 0 < found.value < 1


def test_a_log_without_a_current_has_no_duty() -> None:
    one = log(np.arange(10.0), 1.0)
    del one.columns["current"]
    assert logged_duty(one) is None


def test_no_cycle_at_all_is_as_uncertain_as_one() -> None:
    assert duty_u(0.4, 0, 0.0).u == duty_u(0.4, 1, 0.0).u
