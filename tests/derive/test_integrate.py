"""Integrals over logs: what gaps, switching, noise and steps leave open."""

from __future__ import annotations

import math

import numpy as np
import pytest

from site_builder.derive.integrate import edges_u, integral, noise, step_u, steps_of, thinned
from tests.logs_by_hand import log

EVERY_10_S = np.arange(0, 7201.0, 10)


def test_gaps_are_longer_than_three_intervals_and_a_minute() -> None:
    time = [0, 10, 70, 131, 141]
    assert steps_of(log(time, 1.0)).gap_at.tolist() == [2]
    assert steps_of(log(time, 1.0, interval_s=30)).gap_at.tolist() == []
    assert steps_of(log([0, 30, 121], 1.0, interval_s=30)).gap_at.tolist() == [1]


def test_a_logger_that_writes_on_change_has_gaps_beyond_its_heartbeat_only() -> None:
    time = [0, 10, 300, 901]
    assert steps_of(log(time, 1.0, hold="previous", heartbeat_s=600)).gap_at.tolist() == [2]
    assert steps_of(log(time, 1.0, hold="previous")).gap_at.tolist() == []


def test_steps() -> None:
    steps = steps_of(log([0, 10, 20, 130], 1.0))
    assert steps.duration_s == 130
    assert steps.gap_share == pytest.approx(110 / 130)
    assert steps.usual_s == 10
    assert steps.root_sum_square_s == pytest.approx(math.sqrt(100 + 100 + 110**2))


def test_a_gap_in_a_steady_current() -> None:
    """18 A for two hours with 600 s missing: nothing is lost, ±1 % of the gap's share at least."""
    kept = (EVERY_10_S <= 3000) | (EVERY_10_S >= 3600)
    steady = log(EVERY_10_S[kept], 18.0)
    total = integral(steady, steady.columns["current"], steps_of(steady))
    assert total.value == pytest.approx(18 * 7200)
    assert total.across_gaps == pytest.approx(18 * 600)
    assert total.outside_gaps == pytest.approx(18 * 6600)
    assert total.gap_half_widths == pytest.approx((0.01 * 18 * 600,))


def test_a_gap_in_a_load_that_comes_and_goes() -> None:
    """10 A for a quarter of the time: a gap counts a quarter of 10 A, not half, give or take 5 A and a little more.

    The little more is what the mean of the two hours around it may stray by itself, √(1 + gap/known).
    """
    current = np.where(np.arange(len(EVERY_10_S)) % 80 < 20, 10.0, 0.0)
    kept = (EVERY_10_S <= 3000) | (EVERY_10_S >= 3600)
    cycling = log(EVERY_10_S[kept], current[kept])
    total = integral(cycling, cycling.columns["current"], steps_of(cycling))
    assert total.across_gaps == pytest.approx(2.5 * 600, rel=0.15)
    known = 3000 + min(3600, EVERY_10_S[-1] - 3600)
    assert total.gap_half_widths == pytest.approx((5 * 600 * np.sqrt(1 + 600 / known),), rel=1e-3)


def test_a_gap_looks_an_hour_around_and_no_further() -> None:
    """The load was 30 A until an hour and a bit before the gap: that says nothing of it."""
    time = np.arange(0, 20_001.0, 10)
    current = np.where(time < 6000, 30.0, 5.0)
    kept = (time <= 9700) | (time >= 10_300)
    changed = log(time[kept], current[kept])
    total = integral(changed, changed.columns["current"], steps_of(changed))
    assert total.gap_half_widths == pytest.approx((0.01 * 5 * 600,))
    assert total.across_gaps == pytest.approx(5 * 600)


def test_a_long_gap_looks_as_far_as_it_is_long() -> None:
    time = np.arange(0, 40_001.0, 10)
    current = np.where(time < 6000, 30.0, 5.0)
    kept = (time <= 9700) | (time >= 17_000)
    changed = log(time[kept], current[kept])
    (half,) = integral(changed, changed.columns["current"], steps_of(changed)).gap_half_widths
    assert half == pytest.approx(12.5 * 7300 * np.sqrt(1 + 7300 / (2 * 7300)), rel=1e-2)


def test_gaps_each_count() -> None:
    kept = np.isin(EVERY_10_S // 1000, [0, 2, 4, 6, 7])
    holed = log(EVERY_10_S[kept], 2.0)
    total = integral(holed, holed.columns["current"], steps_of(holed))
    assert len(total.gap_half_widths) == 3
    assert total.value == pytest.approx(2 * 7200)


def test_a_log_of_two_rows_with_nothing_around_its_gap() -> None:
    far = log([0, 1000], [10, 20])
    total = integral(far, far.columns["current"], steps_of(far))
    assert (total.value, total.gap_half_widths) == (15_000, (5000,))


def test_steps_of_a_held_value_do_not_use_the_next_one() -> None:
    held = log([0, 100, 120], [3, 1, 8], hold="previous", heartbeat_s=600)
    assert integral(held, held.columns["current"], steps_of(held)).value == 320


# --- edges -----------------------------------------------------------------------------------------------------------
def test_a_load_switched_between_two_rows() -> None:
    """18 A that ended somewhere within 10 s: 90 A·s counted, 0 to 180 possible, rectangular (GUM 4.3.7)."""
    ended = log([0, 10, 20, 30], [0, 18, 0, 0])
    once = 18 * 10 / 2 / math.sqrt(3)
    assert edges_u(ended, ended.columns["current"], steps_of(ended)) == pytest.approx(once * math.sqrt(2))


def test_a_log_that_stops_under_load() -> None:
    """It may have gone on for another interval, of which nothing is counted."""
    open_ended = log([0, 10, 20], [0, 0, 18])
    switched, unseen = 18 * 10 / 2, 18 * 10
    expected = math.hypot(switched, unseen) / math.sqrt(3)
    assert edges_u(open_ended, open_ended.columns["current"], steps_of(open_ended)) == pytest.approx(expected)


def test_a_gap_is_no_edge() -> None:
    holed = log([0, 10, 1000, 1010], [0, 0, 18, 0])
    assert edges_u(holed, holed.columns["current"], steps_of(holed)) == pytest.approx(18 * 10 / 2 / math.sqrt(3))


def test_a_logger_that_writes_on_change_has_no_late_edge() -> None:
    held = log([0, 10, 200, 210], [0, 18, 0, 0], hold="previous", heartbeat_s=600)
    assert edges_u(held, held.columns["current"], steps_of(held)) == 0


# --- noise and steps -------------------------------------------------------------------------------------------------
def test_noise_is_found_beneath_a_slope_and_a_switched_load() -> None:
    chance = np.random.default_rng(7)
    signal = np.linspace(20, 18, 4000) + chance.normal(0, 0.05, 4000)
    signal[1000:2000] += 30
    assert noise(signal) == pytest.approx(0.05, rel=0.05)


def test_noise_of_a_long_log_is_found_from_some_of_its_rows() -> None:
    chance = np.random.default_rng(8)
    assert noise(20 + chance.normal(0, 0.05, 200_000)) == pytest.approx(0.05, rel=0.05)


def test_a_still_signal_has_no_noise() -> None:
    assert noise(np.full(100, 20.0)) == 0
    assert noise(np.array([20.0, 20.0])) == 0


def test_a_step_averages_out_where_noise_stirs_it() -> None:
    steps = steps_of(log(EVERY_10_S, 1.0))
    u = 0.1 / math.sqrt(12)
    assert step_u(0.1, 0.05, steps) == pytest.approx(u * math.sqrt(720 * 100))
    assert step_u(0.1, 0.049, steps) == pytest.approx(u * 7200)


# --- thinning --------------------------------------------------------------------------------------------------------
def test_a_thinned_curve_keeps_its_ends_and_extremes() -> None:
    x = np.arange(10_000.0)
    y = np.cos(x / 500)
    y[4321], y[8765] = -5, 7
    thin_x, thin_y = thinned(x, y, 160)
    assert len(thin_x) <= 160
    assert (thin_x[0], thin_x[-1]) == (0, 9999)
    assert {4321.0, 8765.0} <= set(thin_x)
    assert np.all(np.diff(thin_x) > 0)
    np.testing.assert_array_equal(thin_y, y[thin_x.astype(int)])


@pytest.mark.parametrize("rows", [2, 3, 100, 158, 159, 300, 477])
def test_short_curves_keep_what_they_have(rows: int) -> None:
    x = np.arange(float(rows))
    thin_x, thin_y = thinned(x, x**2, 160)
    assert len(thin_x) <= max(160, min(rows, 160))
    assert (thin_x[0], thin_x[-1]) == (0, rows - 1)
    np.testing.assert_array_equal(thin_y, thin_x**2)
