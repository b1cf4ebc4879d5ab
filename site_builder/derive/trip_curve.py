"""A smooth curve through trips, t = k/((I/I_s)^α - 1): drawn dashed, because many BMS trip in steps."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from site_builder.derive.overload import Point
from site_builder.series import Array

LEAST_TRIPS = 5
LEAST_SPAN = 2.0
LEAST_SIGMA = 0.1
HALF_HOUR_S = 1800.0
SHORTEST_S = 1e-3
# What a trip costs below the pickup current, where the curve has none.
NEVER = 50.0


@dataclass(frozen=True, kw_only=True, slots=True)
class TripCurve:
    """The fitted curve: `k` [s], `alpha`, pickup current `pickup_a` [A], scatter `sigma` of ln t."""

    k_s: float
    alpha: float
    pickup_a: float
    sigma: float

    def time_s(self, current_a: float) -> float:
        """Time to a trip; infinite up to the pickup current. [s]

        Source:
            IEC 60255-151, inverse-time characteristic; at TMS 1 its standard inverse curve has k 0.14, α 0.02.

        >>> round(TripCurve(k_s=13.5, alpha=1, pickup_a=100, sigma=0.1).time_s(1000), 2)
        1.5
        """
        ratio = current_a / self.pickup_a
        return math.inf if ratio <= 1 else self.k_s / (ratio**self.alpha - 1)


def trip_curve(points: Sequence[Point]) -> TripCurve | None:
    """The most likely curve; None with fewer than five trips, or less than 2:1 between their currents.

    Lognormal times with a scatter of at least 0.1; a trip seen only between two times counts as such, a hold as a trip
    some time later. The pickup current is not below the largest current carried for half an hour.
    """
    used = [point for point in points if point.left_out is None]
    trips = [point for point in used if point.tripped and math.isfinite(point.longest_s)]
    currents = [point.current.value for point in trips]
    if len(trips) < LEAST_TRIPS or max(currents) < LEAST_SPAN * min(currents):
        return None
    carried = max((p.current.value for p in used if p.shortest_s >= HALF_HOUR_S), default=0.0)
    if carried >= min(currents):  # it did not do the same every time
        return None
    return _most_likely(_Seen.of(used), floor_a=carried, ceiling_a=min(currents))


@dataclass(frozen=True, slots=True)
class _Seen:
    """Points as arrays: currents [A], ln of the shortest and longest time; `held` marks those that never tripped."""

    current_a: Array
    ln_short: Array
    ln_long: Array
    held: NDArray[np.bool_]

    @classmethod
    def of(cls, points: Sequence[Point]) -> _Seen:
        short = [point.seen_s[0] if point.tripped else point.shortest_s for point in points]
        long = [point.seen_s[1] if point.tripped else math.inf for point in points]
        ln_short, ln_long = (np.log(np.maximum(np.array(times), SHORTEST_S)) for times in (short, long))
        current = np.array([point.current.value for point in points])
        return cls(current, ln_short, ln_long, np.array([not point.tripped for point in points]))

    def misfit(self, curve: TripCurve) -> float:
        """Minus the log-likelihood: density at exact times, mass between two times, mass beyond a hold."""
        from scipy.special import log_ndtr, ndtr  # noqa: PLC0415

        ratio = self.current_a / curve.pickup_a
        beyond = ratio > 1
        power = np.expm1(curve.alpha * np.log(np.where(beyond, ratio, 2.0)))
        centre = math.log(curve.k_s) - np.log(power)
        low, high = (self.ln_short - centre) / curve.sigma, (self.ln_long - centre) / curve.sigma
        exact = 0.5 * low**2 + math.log(curve.sigma)
        between = -np.log(np.maximum(ndtr(high) - ndtr(low), 1e-22))
        each = np.where(self.held, -log_ndtr(-low), np.where(self.ln_short == self.ln_long, exact, between))
        return float(np.where(beyond, each, np.where(self.held, 0.0, NEVER)).sum())


def _most_likely(seen: _Seen, *, floor_a: float, ceiling_a: float) -> TripCurve | None:
    from scipy.optimize import minimize  # noqa: PLC0415  # slow to import, and few units have five trips

    def curve_of(raw: Array) -> TripCurve:
        # The pickup lies between the largest half-hour hold and the smallest trip, whatever the optimiser tries.
        # For small α, t is near (k/α)/ln(I/I_s): fitting k/α keeps k and α from running along together.
        k_over_alpha, alpha, share, sigma = (float(one) for one in np.clip(raw, -12, 12))
        pickup = floor_a + (ceiling_a - floor_a) * (0.02 + 0.97 / (1 + math.exp(-share)))
        scatter = LEAST_SIGMA + math.exp(sigma)
        return TripCurve(
            k_s=math.exp(k_over_alpha + alpha), alpha=math.exp(alpha), pickup_a=max(pickup, 1e-6), sigma=scatter
        )

    def misfit(raw: Array) -> float:
        return seen.misfit(curve_of(raw))

    found = [minimize(misfit, np.array(start), method="BFGS", options={"gtol": 1e-7}) for start in STARTS]
    best = min(found, key=lambda one: float(one.fun))
    return curve_of(best.x) if math.isfinite(float(best.fun)) else None


# ln k/α, ln α, pickup (logit of its share), ln of the scatter beyond the least: flat and steep curves.
STARTS = ((2.0, -3.5, 0.0, -5.0), (3.0, 0.0, 0.0, -5.0))
