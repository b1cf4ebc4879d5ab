"""Scores of one class → the places that evidence can tell apart. Pure and deterministic: nothing is drawn at random.

A place is an interval: one below the number of units that are significantly better, to the number that are not
significantly worse. Units without a grade have no place.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist
from typing import Protocol

import numpy as np

from site_builder.grade import Components, Graded
from site_builder.series import Array

ERROR_RATE = 0.05
# Differences below a billionth of a point are rounding: a tie stays a tie.
TIE = 1e-9
ROWS_AT_ONCE = 256


class Ranked(Protocol):
    """What is ranked: its worst and best, and the signed standard uncertainties that both share, by source."""

    @property
    def low_end(self) -> float:
        """At its worst."""

    @property
    def high_end(self) -> float:
        """At its best."""

    @property
    def components(self) -> Components:
        """By source; a name that two units share is one error, and cancels in their difference."""


@dataclass(frozen=True, slots=True)
class Place:
    """A place from `low` to `high` of `of` units; 1 is the best."""

    low: int
    high: int
    of: int


def places(class_grades: Iterable[Graded]) -> dict[str, Place]:
    """The place interval of every graded unit of a class, by id; ungraded units are left out and not counted."""
    known = sorted((one for one in class_grades if one.score is not None), key=lambda one: one.id)
    return dict(zip((one.id for one in known), place_intervals([one.ends for one in known]), strict=True))


def place_intervals(ranked: Sequence[Ranked]) -> list[Place]:
    """One interval for each, in their order; each holds its unit's true place in 95 of 100 cases.

    A is better than B only if A's worst exceeds B's best by z standard uncertainties of their difference. Each unit's
    n - 1 comparisons are one family: z comes from Holm's step-down, two-sided, at 5 %. O(n²·(s + log n)) for n units
    and s shared sources of error.

    Source:
        Mogstad, Romano, Shaikh and Wilhelm 2023, Inference for Ranks with Applications to Mobility across
        Neighbourhoods and Academic Achievement across Countries, Review of Economic Studies,
        doi 10.1093/restud/rdad006 (marginal confidence sets), with Holm's thresholds in place of their bootstrap.
    """
    count = len(ranked)
    low, high = (np.array([getattr(one, end) for one in ranked], dtype=np.float64) for end in ("low_end", "high_end"))
    own, shared = _sources(ranked)
    thresholds = np.append(holm_thresholds(count - 1), np.inf)
    found: list[Place] = []
    for start in range(0, count, ROWS_AT_ONCE):
        rows = slice(start, min(start + ROWS_AT_ONCE, count))
        u = np.sqrt(own[rows, None] + own[None, :] + _shared_squares(shared, rows))
        ahead, behind = low[rows, None] - high[None, :], low[None, :] - high[rows, None]
        better, worse = _significant(_in_u(behind, u), _in_u(ahead, u), thresholds)
        found += [Place(1 + int(b), count - int(w), count) for b, w in zip(better, worse, strict=True)]
    return found


@lru_cache(maxsize=64)
def holm_thresholds(comparisons: int) -> tuple[float, ...]:
    """Holm's step-down for normal statistics: what the largest, second largest … has to exceed.

    The k-th of m is z(1 - α/(2(m - k + 1))), α 5 %: two-sided.

    Source:
        Holm 1979, A simple sequentially rejective multiple test procedure, Scandinavian Journal of Statistics 6.

    >>> [round(z, 3) for z in holm_thresholds(3)]
    [2.394, 2.241, 1.96]
    """
    normal = NormalDist()
    return tuple(-normal.inv_cdf(ERROR_RATE / (2 * left)) for left in range(comparisons, 0, -1))


def _sources(ranked: Sequence[Ranked]) -> tuple[Array, Array]:
    """Sums of squares of each unit's own sources [n], and the signed sources that two or more units share [n, s]."""
    known = Counter(name for one in ranked for name in one.components)
    names = sorted(name for name, units in known.items() if units > 1)
    column = {name: i for i, name in enumerate(names)}
    own, shared = np.zeros(len(ranked)), np.zeros((len(ranked), len(names)))
    for row, one in enumerate(ranked):
        for name in sorted(one.components):
            if name in column:
                shared[row, column[name]] = one.components[name]
            else:
                own[row] += one.components[name] ** 2
    return own, shared


def _shared_squares(shared: Array, rows: slice) -> Array:
    """Sum over shared sources of the squared difference between each unit of `rows` and every unit. [rows, n]

    Differences are taken before squaring, so that equal errors cancel exactly.
    """
    total = np.zeros((rows.stop - rows.start, len(shared)))
    for source in shared.T:
        difference = source[rows, None] - source[None, :]
        total += np.square(difference, out=difference)
    return total


def _in_u(gap: Array, u: Array) -> Array:
    """A gap between two units in standard uncertainties of their difference; infinite where that has none."""
    statistic = np.zeros_like(gap)
    np.divide(gap, u, out=statistic, where=u > 0)
    statistic[(gap > TIE) & (u == 0)] = np.inf
    statistic[gap <= TIE] = 0.0
    return statistic


def _significant(better: Array, worse: Array, thresholds: Array) -> tuple[Array, Array]:
    """How many others are significantly better and worse, by row: those at or above the last statistic that passes.

    A unit is never both; its comparison with itself is 0 and comes last.
    """
    ordered = -np.sort(-np.maximum(better, worse), axis=1)
    failed = ordered <= thresholds
    passed = np.argmax(failed, axis=1)
    cut = np.where(passed > 0, np.take_along_axis(ordered, np.maximum(passed - 1, 0)[:, None], axis=1)[:, 0], np.inf)
    rejected = cut[:, None]
    return (better >= rejected).sum(axis=1) * (passed > 0), (worse >= rejected).sum(axis=1) * (passed > 0)
