"""Rank intervals by the bootstrap of the literature: an oracle with random numbers, never part of what is published."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def step_down_intervals(score: Array, factors: Array, rng: np.random.Generator, draws: int = 1000) -> Array:
    """Marginal two-sided 95 % rank intervals, [n, 2]: the step-down procedure with a parametric bootstrap.

    For each unit the differences to all others are one family; the critical value is the 95 % quantile of the largest
    studentised difference among those not yet rejected, until nothing more is rejected.

    Args:
        score: Estimates [n]; higher is better.
        factors: Signed standard uncertainties by unit and source [n, s]; the covariance is factors·factorsᵀ.
        rng: Source of the draws.
        draws: How many.

    Source:
        Mogstad, Romano, Shaikh and Wilhelm 2023, Review of Economic Studies, doi 10.1093/restud/rdad006, section 3.
    """
    covariance = factors @ factors.T
    variance = np.diag(covariance)
    se = np.sqrt(np.maximum(variance[:, None] + variance[None, :] - 2 * covariance, 0.0))
    np.fill_diagonal(se, np.inf)
    errors = rng.standard_normal((draws, factors.shape[1])) @ factors.T
    statistic = (score[None, :] - score[:, None]) / se
    count = len(score)
    found = np.empty((count, 2))
    for j in range(count):
        drawn = np.abs(errors - errors[:, [j]]) / se[j]
        open_ = np.ones(count, dtype=bool)
        open_[j] = False
        while open_.any():
            critical = np.quantile(drawn[:, open_].max(axis=1), 0.95)
            rejected = open_ & (np.abs(statistic[j]) > critical)
            if not rejected.any():
                break
            open_ &= ~rejected
        decided = ~open_
        decided[j] = False
        found[j] = 1 + (decided & (statistic[j] > 0)).sum(), count - (decided & (statistic[j] < 0)).sum()
    return found
