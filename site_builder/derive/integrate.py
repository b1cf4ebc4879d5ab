"""Clean arrays → charge and energy, and how far gaps, noise and steps leave them open. Numbers only, in SI units."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from site_builder.series import Array, Log

GAP_AT_LEAST_S = 60.0
GAP_INTERVALS = 3.0
NEIGHBOURHOOD_S = 3600.0
# A gap's charge is never known better than this share, however steady the current was on either side.
GAP_LEAST_SHARE = 0.01
_NOISE_SAMPLES = 4096
# The median of |x| for a normal x with standard deviation 1.
_MEDIAN_OF_ABS_NORMAL = 0.6744897501960817


@dataclass(frozen=True, kw_only=True, slots=True)
class Total:
    """An integral over time of one signal: outside gaps, and across them as centre ± half-width (each gap its own)."""

    outside_gaps: float
    across_gaps: float
    gap_half_widths: tuple[float, ...]

    @property
    def value(self) -> float:
        """Both parts together."""
        return self.outside_gaps + self.across_gaps


@dataclass(frozen=True, kw_only=True, slots=True)
class Steps:
    """The time axis of a log: step widths [s], where the gaps are, and √ΣΔt², what rows' own errors grow with [s]."""

    width_s: Array
    gap_at: NDArray[np.int64]
    root_sum_square_s: float

    @property
    def duration_s(self) -> float:
        """From first to last row. [s]"""
        return float(self.width_s.sum())

    @property
    def gap_share(self) -> float:
        """Share of the duration that lies in gaps."""
        return float(self.width_s[self.gap_at].sum()) / self.duration_s

    @property
    def usual_s(self) -> float:
        """The log's own usual interval, which may be longer than its bench declares. [s]"""
        return float(np.median(self.width_s[:1000]))


def product_sum(a: Array, b: Array) -> float:
    """Σ aᵢbᵢ. Not np.dot: BLAS wakes a thread per core for it, and those wait busily for milliseconds afterwards."""
    return float(np.einsum("i,i->", a, b))


def steps_of(log: Log) -> Steps:
    """Step widths, and gaps: longer than 3 intervals and 60 s; with `hold: previous` only beyond the heartbeat."""
    width = np.diff(log.time_s)
    if log.hold == "previous":
        limit = math.inf if log.heartbeat_s is None else log.heartbeat_s
    else:
        limit = max(GAP_INTERVALS * log.interval_s, GAP_AT_LEAST_S)
    grows_with = math.sqrt(product_sum(width, width))
    return Steps(width_s=width, gap_at=np.flatnonzero(width > limit), root_sum_square_s=grows_with)


def integral(log: Log, signal: Array, steps: Steps) -> Total:
    """∫ signal dt by trapezoids (by steps with `hold: previous`), gaps apart. [unit of signal × s]

    Args:
        log: Gives time axis and hold.
        signal: Same length as the log's time axis.
        steps: From `steps_of`.

    Returns:
        The integral; a gap counts as the signal's mean within max(gap, 1 h) on either side, times its length, give or
        take half the signal's range there (at least 1 %).
    """
    # The mean over each step, times two where it is a trapezoid: one pass over memory less.
    doubled = signal[:-1] + signal[1:] if log.hold == "linear" else 2 * signal[:-1]
    whole = product_sum(doubled, steps.width_s) / 2
    if not len(steps.gap_at):
        return Total(outside_gaps=whole, across_gaps=0.0, gap_half_widths=())
    inside = product_sum(doubled[steps.gap_at], steps.width_s[steps.gap_at]) / 2
    seen_s = steps.width_s.copy()
    seen_s[steps.gap_at] = 0.0
    pieces = [_across(log.time_s, signal, doubled / 2, seen_s, int(at)) for at in steps.gap_at]
    return Total(
        outside_gaps=whole - inside,
        across_gaps=sum(centre for centre, _ in pieces),
        gap_half_widths=tuple(half for _, half in pieces),
    )


def _across(time_s: Array, signal: Array, means: Array, seen_s: Array, at: int) -> tuple[float, float]:
    """Centre and half-width of the integral across the gap after row `at`.

    The centre is the mean while somebody looked, not the middle of the range: a load that is on for a sixth of the time
    draws a sixth of its current in the gaps too.

    Source:
        GUM (JCGM 100:2008) 4.3.8: a rectangle over the whole range, also where its ends are not equally far away.
    """
    gap_s = float(time_s[at + 1] - time_s[at])
    reach = max(gap_s, NEIGHBOURHOOD_S)
    first = int(np.searchsorted(time_s, time_s[at] - reach))
    last = int(np.searchsorted(time_s, time_s[at + 1] + reach, side="right"))
    low, high = float(signal[first:last].min()), float(signal[first:last].max())
    known_s = float(seen_s[first : last - 1].sum())
    weighted = product_sum(means[first : last - 1], seen_s[first : last - 1])
    centre = weighted / known_s if known_s else (low + high) / 2
    # The mean comes from a stretch of finite length, which strays from the long run as the gap itself may.
    strays = math.sqrt(1 + gap_s / known_s) if known_s else 1.0
    return centre * gap_s, max((high - low) / 2 * strays, GAP_LEAST_SHARE * abs(centre)) * gap_s


def edges_u(log: Log, signal: Array, steps: Steps) -> float:
    """Standard uncertainty of ∫ signal dt from changes that nobody saw happen. [unit of signal × s]

    A load that is switched between two rows was on for anything from none to all of that step, and half of it is
    counted; one that is on in the first or last row may have been on for an interval more, and none of it is counted.
    Each is rectangular (GUM 4.3.7) and on its own. With `hold: previous` a row is written at the change.
    """
    unseen = np.array([signal[0], signal[-1]]) * steps.usual_s
    switched = np.diff(signal) * steps.width_s / 2
    switched[steps.gap_at] = 0.0
    seen_late = product_sum(switched, switched) if log.hold == "linear" else 0.0
    return math.sqrt((seen_late + product_sum(unseen, unseen)) / 3)


def noise(signal: Array) -> float:
    """Standard deviation of one row's noise, from the median size of differences between neighbours.

    Robust against steps of the load; 0 where most neighbours are equal (the display's step hides the noise).
    """
    stride = max(1, (len(signal) - 1) // _NOISE_SAMPLES)
    differences = np.abs(signal[1::stride] - signal[: len(signal) - 1 : stride])
    return float(np.median(differences)) / _MEDIAN_OF_ABS_NORMAL / math.sqrt(2)


def step_u(step: float, row_noise: float, steps: Steps) -> float:
    """Standard uncertainty of ∫ x dt for a display step of x. [unit × s]

    It averages out only where the noise stirs the display by half a step or more.
    """
    grows_with = steps.root_sum_square_s if row_noise >= step / 2 else steps.duration_s
    return step / math.sqrt(12) * grows_with


def thinned(x: Array, y: Array, points: int) -> tuple[Array, Array]:
    """At most `points` rows that keep the smallest and largest y of each stretch, and both ends."""
    buckets = max((points - 2) // 2, 1)
    per_bucket = -(-len(y) // buckets)
    if per_bucket <= 2:
        return x, y
    whole = len(y) // per_bucket * per_bucket
    table = y[:whole].reshape(-1, per_bucket)
    starts = np.arange(0, whole, per_bucket)
    rest = [whole + int(y[whole:].argmin()), whole + int(y[whole:].argmax())] if whole < len(y) else []
    keep = np.concatenate([[0], starts + table.argmin(axis=1), starts + table.argmax(axis=1), rest, [len(y) - 1]])
    keep = np.unique(keep.astype(np.int64))
    return x[keep], y[keep]
