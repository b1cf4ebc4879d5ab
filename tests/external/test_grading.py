"""Scores and places against published examples and independent libraries."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.stats import norm

from site_builder.grade import COVERAGE
from site_builder.rank import Place, holm_thresholds, place_intervals
from tests.external.rank_bootstrap import step_down_intervals
from tests.grading_data import ends, grading, unit

PISA = Path(__file__).parent.parent / "data" / "reference" / "pisa-2018-mathematics.csv"


def test_the_weighted_sum_of_the_textbook_and_its_tie() -> None:
    """E. Triantaphyllou, Multi-Criteria Decision Making Methods: A Comparative Study (2000), the weighted sum model.

    Three alternatives on four criteria with weights .20, .15, .40, .25: 21.50, 22.00, 22.00.
    """
    held = grading([0.20, 0.15, 0.40, 0.25])
    rows = {"a1": (25, 20, 15, 30), "a2": (10, 30, 20, 30), "a3": (30, 10, 30, 10)}
    units = [unit(name, row, held) for name, row in rows.items()]
    assert [one.score for one in units] == pytest.approx([21.5, 22.0, 22.0], abs=1e-12)
    places = place_intervals([one.ends for one in units])
    # The tie stays one: exact scores have no ±, and rounding must not tell them apart.
    assert places == [Place(3, 3, 3), Place(1, 2, 3), Place(1, 2, 3)]


def test_a_third_alternative_does_not_swap_two_others() -> None:
    """The rank reversal that V. Belton and T. Gear, Omega 11 (1983) 228, found (from memory), on figures of our own.

    A (100, 92) and B (104, 90): scaled to the set's minimum and maximum, C decides which of them leads.
    """
    third = ((80, 60), (80, 89))

    def scaled_to_the_set(c: tuple[float, float]) -> bool:
        rows = np.array([(100, 92), (104, 90), c], dtype=float)
        points = (rows - rows.min(axis=0)) / (rows.max(axis=0) - rows.min(axis=0))
        return bool(points[0].sum() > points[1].sum())

    assert [scaled_to_the_set(c) for c in third] == [False, True]
    held = grading([1, 1], corners=((0, 0), (200, 100)))
    for c in third:
        a, b, _ = (unit(name, row, held).score for name, row in (("a", (100, 92)), ("b", (104, 90)), ("c", c)))
        assert (a, b) == (48, 48.5)


def test_the_coverage_factor_is_the_normal_quantile() -> None:
    assert pytest.approx(float(norm.ppf(0.975)), abs=1e-12) == COVERAGE


@pytest.mark.parametrize("count", [1, 2, 9, 49, 4999])
def test_thresholds_are_holms_against_scipy(count: int) -> None:
    """S. Holm, Scandinavian Journal of Statistics 6 (1979) 65: α/(m - k + 1) for the k-th smallest of m p-values."""
    steps = np.arange(count, 0, -1)
    assert holm_thresholds(count) == pytest.approx(norm.isf(0.05 / (2 * steps)), abs=1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_what_is_rejected_is_what_statsmodels_rejects(seed: int) -> None:
    """Each of 31 units against the 30 others: significant is what statsmodels' Holm procedure rejects."""
    multitest: Any = pytest.importorskip("statsmodels.stats.multitest", reason="not run: needs statsmodels")
    rng = np.random.default_rng(seed)
    score, u = rng.normal(0, 2, 31), rng.uniform(0.3, 1.2, 31)
    ranked = [ends(float(s), components={f"own-{i}": float(u[i])}) for i, s in enumerate(score)]
    found = []
    for i, place in enumerate(place_intervals(ranked)):
        statistic = (np.delete(score, i) - score[i]) / np.hypot(np.delete(u, i), u[i])
        rejected = multitest.multipletests(2 * norm.sf(abs(statistic)), alpha=0.05, method="holm")[0]
        better, worse = (rejected & (statistic > 0)).sum(), (rejected & (statistic < 0)).sum()
        assert place == Place(1 + better, 31 - worse, 31)
        found.append(better + worse)
    assert 0 < sum(found) < 30 * 31


def pisa() -> tuple[list[str], np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    """Country, mean and standard error."""
    rows = list(csv.DictReader(PISA.read_text("utf-8").splitlines()))
    columns = (np.array([float(row[name]) for row in rows]) for name in ("mean", "standard_error"))
    return [row["country"] for row in rows], *columns  # type: ignore[return-value]


# Printed in the documentation of the R package csranks 1.2 (its README and the vignette "Inference for Ranks"), by the
# authors of Mogstad, Romano, Shaikh and Wilhelm 2023: mathematics in PISA 2018 (OECD), 37 countries.
PUBLISHED_RANKS = [
    24, 18, 10, 7, 35, 37, 17, 8, 3, 11, 20, 15, 34, 30, 21, 16, 32, 25, 1, 2, 19, 29, 27, 36, 4,
    22, 14, 5, 23, 26, 9, 28, 12, 6, 33, 13, 31,
]  # fmt: skip
PUBLISHED_INTERVAL = ("United Kingdom", 8, 23)
PUBLISHED_TOP_FIVE = {
    "Belgium", "Canada", "Denmark", "Estonia", "Finland", "Japan", "Korea", "Netherlands", "Poland", "Slovenia",
    "Sweden", "Switzerland",
}  # fmt: skip


def test_published_rank_intervals() -> None:
    """Without random numbers the places are those of the published bootstrap, at most two wider at one end.

    Published in numbers are every country's rank, one interval, and which countries may be among the first five;
    the other intervals are pictures there, and here come from the same procedure, which reproduces those numbers.
    """
    countries, mean, error = pisa()
    assert [1 + int((mean > one).sum()) for one in mean] == PUBLISHED_RANKS
    oracle = step_down_intervals(mean, np.diag(error), np.random.default_rng(1), draws=4000)
    name, low, high = PUBLISHED_INTERVAL
    assert tuple(oracle[countries.index(name)]) == (low, high)
    ranked = [ends(float(m), components={c: float(e)}) for c, m, e in zip(countries, mean, error, strict=True)]
    places = place_intervals(ranked)
    assert abs(places[countries.index(name)].low - low) <= 1
    assert places[countries.index(name)].high == high
    for place, (oracle_low, oracle_high) in zip(places, oracle, strict=True):
        assert oracle_low - 1 <= place.low <= oracle_low
        assert oracle_high <= place.high <= oracle_high + 2
    wide = sum(place.high - place.low + 1 for place in places)
    assert wide <= 1.1 * float((oracle[:, 1] - oracle[:, 0] + 1).sum())
    # Their set for the first five holds for all countries at once, and so holds every interval that reaches them.
    assert {c for c, place in zip(countries, places, strict=True) if place.low <= 5} <= PUBLISHED_TOP_FIVE
