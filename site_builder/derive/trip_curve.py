"""A smooth curve through trips, t = k/((I/I_s)^α - 1): drawn dashed, because many BMS trip in steps."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from site_builder.derive.overload import Point
from site_builder.series import Array

LEAST_TRIPS = 5
LEAST_SPAN = 2.0
LEAST_SIGMA = 0.1
HALF_HOUR_S = 1800.0
SHORTEST_S = 1e-3
# How close to the smallest trip the pickup may lie, as a share of the way from the largest half-hour hold.
HIGHEST_PICKUP = 0.999
# ln k/α, ln α, pickup (logit of its share), ln of the scatter beyond the least: flat and steep curves, early and late.
STARTS = tuple((level, steep, share, -4.0) for level, steep in ((2.0, -3.5), (3.0, 0.0)) for share in (-2.0, 2.0))
# Beyond so many scatters a mass is too small for a floating-point number; its logarithm is not.
FAR = 30.0
# Wide enough for any protection, narrow enough for floating-point numbers.
BOUNDS = ((-12.0, 12.0), (-6.0, 3.0), (-14.0, 12.0), (-14.0, 3.0))


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
    carried = max((p.current.value for p in used if not p.tripped and p.shortest_s >= HALF_HOUR_S), default=0.0)
    if carried >= min(currents):  # it did not do the same every time
        return None
    return _most_likely([_Seen.of(point) for point in used], floor_a=carried, ceiling_a=min(currents))


@dataclass(frozen=True, slots=True)
class _Seen:
    """One point: its current [A], and ln of the time that it is known to have lasted at least, and at most."""

    current_a: float
    ln_least: float
    ln_most: float

    @classmethod
    def of(cls, point: Point) -> _Seen:
        least, most = point.seen_s if point.tripped else (point.shortest_s, math.inf)
        return cls(point.current.value, math.log(max(least, SHORTEST_S)), math.log(max(most, SHORTEST_S)))

    def misfit(self, centre: float, sigma: float) -> tuple[float, float, float]:
        """Minus the log-likelihood, and its slopes by the centre of ln t and by its scatter.

        The density at an exact time, the mass between two times, the mass beyond a hold.
        """
        low, high = (self.ln_least - centre) / sigma, (self.ln_most - centre) / sigma
        if self.ln_least == self.ln_most:
            return low**2 / 2 + math.log(sigma), -low / sigma, (1 - low**2) / sigma
        if math.isinf(self.ln_most) or low > FAR:
            hazard = _hazard(low)
            return -_ln_above(low), -hazard / sigma, -hazard * low / sigma
        if high < -FAR:
            hazard = _hazard(-high)
            return -_ln_above(-high), hazard / sigma, hazard * high / sigma
        # On the upper side the small masses beyond are known better than the large ones below.
        mass = _below(-low) - _below(-high) if low > 0 else _below(high) - _below(low)
        at_low, at_high = _density(low) / mass, _density(high) / mass
        return -math.log(mass), (at_high - at_low) / sigma, (at_high * high - at_low * low) / sigma


def _density(z: float) -> float:
    return math.exp(-(z**2) / 2) / math.sqrt(2 * math.pi)


def _below(z: float) -> float:
    return math.erfc(-z / math.sqrt(2)) / 2


def _ln_above(z: float) -> float:
    return math.log(_below(-z)) if z < FAR else -(z**2) / 2 - math.log(z * math.sqrt(2 * math.pi))


def _hazard(z: float) -> float:
    return _density(z) / _below(-z) if z < FAR else z


def _most_likely(seen: Sequence[_Seen], *, floor_a: float, ceiling_a: float) -> TripCurve:
    from scipy.optimize import minimize  # noqa: PLC0415  # slow to import, and few units have five trips

    def misfit(raw: Array) -> tuple[float, Array]:
        return _misfit(raw, seen, floor_a, ceiling_a)

    options = {"ftol": 1e-15, "gtol": 1e-9, "maxiter": 500}
    found = [
        minimize(misfit, np.array(start), jac=True, method="L-BFGS-B", bounds=BOUNDS, options=options)
        for start in STARTS
    ]
    return _curve_of(min(found, key=lambda one: float(one.fun)).x, floor_a, ceiling_a)


def _curve_of(raw: Array, floor_a: float, ceiling_a: float) -> TripCurve:
    """The curve of one guess; its pickup lies between the largest half-hour hold and the smallest trip.

    For small α, t is near (k/α)/ln(I/I_s): fitting k/α keeps k and α from running along together.
    """
    k_over_alpha, alpha, share, scatter = (float(one) for one in raw)
    pickup = floor_a + (ceiling_a - floor_a) * HIGHEST_PICKUP / (1 + math.exp(-share))
    sigma = LEAST_SIGMA + math.exp(scatter)
    return TripCurve(k_s=math.exp(k_over_alpha + alpha), alpha=math.exp(alpha), pickup_a=pickup, sigma=sigma)


def _misfit(raw: Array, seen: Sequence[_Seen], floor_a: float, ceiling_a: float) -> tuple[float, Array]:
    """The misfit of one guess over all points, and its slopes by the four fitted numbers."""
    curve = _curve_of(raw, floor_a, ceiling_a)
    per_share = (ceiling_a - floor_a) * HIGHEST_PICKUP / (2 + 2 * math.cosh(float(raw[2])))
    total = by_level = by_steep = by_pickup = by_scatter = 0.0
    for one in seen:
        over = math.log(one.current_a / curve.pickup_a) if one.current_a > 0 else -math.inf
        if over <= 0:  # below the pickup nothing trips, and only holds can lie there
            continue
        power = math.expm1(curve.alpha * over)
        steep = curve.alpha * (power + 1) / power
        value, by_centre, by_sigma = one.misfit(math.log(curve.k_s) - math.log(power), curve.sigma)
        total += value
        by_level += by_centre
        by_steep += by_centre * (1 - over * steep)
        by_pickup += by_centre * steep / curve.pickup_a * per_share
        by_scatter += by_sigma * (curve.sigma - LEAST_SIGMA)
    return total, np.array([by_level, by_steep, by_pickup, by_scatter])
