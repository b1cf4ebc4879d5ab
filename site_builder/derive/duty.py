"""How much of the time a load in cycles is on: whole cycles of a log, edge to edge."""

from __future__ import annotations

import math

import numpy as np

from site_builder.measured import Component, Measured
from site_builder.series import Log

LEAST_CYCLES = 3
# This project's judgement for one or two cycles: u as a share of the duty, divided by their number.
FEW_CYCLES_U = 0.15
# Off is below this share of what it draws while on; a load that never falls so low is not in cycles.
OFF_BELOW_SHARE = 0.5


def logged_duty(log: Log) -> Measured | None:
    """Share of the time that the load in a log was on; None without one whole cycle.

    Time before the first and after the last switching on is left out: nobody saw how long those cycles were.
    """
    starts, ends = _edges(log)
    if len(starts) < 2 or len(ends) < len(starts) - 1:
        return None
    length = np.diff(log.time_s[starts])
    on = log.time_s[ends[: len(length)]] - log.time_s[starts[:-1]]
    value = float(on.sum() / length.sum())
    spread = float(np.std(on / length, ddof=1)) if len(length) > 1 else 0.0
    return Measured(value=value, unit="1", components={"cycles": duty_u(value, len(length), spread)})


def _edges(log: Log) -> tuple[np.ndarray[tuple[int], np.dtype[np.int64]], ...]:
    """Rows where it came on, and rows where each of those stretches ended."""
    current = log.columns.get("current")
    if current is None:
        return np.empty(0, np.int64), np.empty(0, np.int64)
    on = current > OFF_BELOW_SHARE * float(np.quantile(current, 0.95))
    change = np.diff(on.astype(np.int8))
    starts = np.flatnonzero(change == 1) + 1
    ends = np.flatnonzero(change == -1) + 1
    return starts, ends[ends > starts[0]] if len(starts) else ends


def duty_u(share: float, cycles: int, spread: float) -> Component:
    """Uncertainty of a duty from n whole cycles: U = t(n-1)·s/√n; with fewer than three, u = 15/n %.

    Args:
        share: The duty.
        cycles: Whole cycles seen, edge to edge.
        spread: Standard deviation of single cycles' duty.

    Source:
        GUM (JCGM 100:2008) 4.2.3 and G.3.2: a mean of n values, with n - 1 degrees of freedom.
    """
    if cycles < LEAST_CYCLES:
        return Component(FEW_CYCLES_U / max(cycles, 1) * share)
    return Component(spread / math.sqrt(cycles), float(cycles - 1))
