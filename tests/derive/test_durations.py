"""How long something took, from what was written down."""

from __future__ import annotations

from typing import Any

import pytest

from site_builder.derive.durations import recorded_duration_s
from site_builder.measured import Measured
from tests.logs_by_hand import bench, capacity_test, setting

WATCH = bench(instruments={"watch": {"measures": "time", "offset": 30, "step": 60}})


def took(on: Any = None, **test: Any) -> Measured:
    duration = recorded_duration_s(capacity_test(**test), setting(on))
    assert duration is not None
    return duration


@pytest.mark.parametrize(
    ("written", "seconds", "limit"),
    [("20 min", 1200, 30), ("1.5 h", 5400, 180), ("90", 90, 0.5), ("about 20 min", 1200, 300), ("3 to 5", 4, 1)],
)
def test_a_duration_is_good_to_half_its_last_digit(written: str, seconds: float, limit: float) -> None:
    one = took(duration_s=written)
    assert one.value == pytest.approx(seconds)
    assert sum(part.limit or 0 for part in one.components.values()) == pytest.approx(limit)
    assert one.basis == "measured"


def test_a_watch_adds_its_own_limits() -> None:
    one = took(WATCH, duration_s="20 min")
    assert one.components["offset:checked/run/watch"].limit == 30
    assert one.components["step:checked/run/duration_s"].limit == 30


def test_a_duration_leads_over_times() -> None:
    assert took(duration_s="20 min", started="10:00", ended="12:00").value == 1200


@pytest.mark.parametrize(("written", "bound"), [("over 30 min", "at_least"), ("under 30 min", "at_most")])
def test_a_duration_with_one_end(written: str, bound: str) -> None:
    assert (took(duration_s=written).bound, took(duration_s=written).value) == (bound, 1800)


@pytest.mark.parametrize(
    ("started", "ended", "seconds"),
    [
        ("19:25", "22:10", 9900),
        ("22:10", "01:40", 12_600),  # the next day's
        ("10:00", "10:00", 0),
        ("2026-05-06 19:25", "2026-05-07 19:25", 86_400),
        ("2026-05-06 19:25", "2026-05-09 20:25", 3 * 86_400 + 3600),
        ("2026-05-06 22:00", "02:00", 14_400),
    ],
)
def test_two_times(started: str, ended: str, seconds: float) -> None:
    """Times of day are written to the minute: ±1 min for their difference."""
    one = took(started=started, ended=ended)
    assert (one.value, one.bound) == (seconds, "exact")
    assert [part.limit for part in one.components.values()] == [60]


@pytest.mark.parametrize(
    ("started", "ended", "low", "high"),
    [
        ("19:25", "22:10 to 23:40", 9900, 15_300),
        ("19:25", "23:40 to 01:40", 15_300, 22_500),
        ("23:00 to 23:30", "02:00", 9000, 10_800),
        ("19:00 to 19:30", "22:00 to 23:00", 9000, 14_400),
    ],
)
def test_an_end_that_nobody_saw(started: str, ended: str, low: float, high: float) -> None:
    one = took(started=started, ended=ended)
    assert (one.bound, one.low, one.high, one.value) == ("between", low, high, (low + high) / 2)


def test_two_days() -> None:
    one = took(started="2026-05-20", ended="2026-06-20")
    assert one.value == 31 * 86_400
    assert [(name, part.limit) for name, part in one.components.items()] == [("stated:checked/run/days", 86_400)]


@pytest.mark.parametrize(
    "test", [{}, {"started": "10:00"}, {"ended": "10:00"}, {"started": "2026-05-20", "ended": "9:00"}]
)
def test_too_little_was_written_down(test: dict[str, Any]) -> None:
    assert recorded_duration_s(capacity_test(**test), setting(None)) is None
