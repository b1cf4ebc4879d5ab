"""What would change a score or an order: evidence that is missing, and weights, exact where two scores cross.

Pure. Scores are ratios of sums that are linear in one weight, so that two of them cross where a quadratic is zero.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from site_builder.grade import Graded, capped, mean_of
from site_builder.rank import TIE


@dataclass(frozen=True, kw_only=True, slots=True)
class WeightRange:
    """The weights of one criterion, around its own, at which the leader stays first; all other weights unchanged.

    `low` is 0 where no smaller weight changes it, `high` None where no larger one does; `below` and `above` name who
    leads beyond them.
    """

    criterion: str
    weight: float
    low: float
    high: float | None
    below: str | None
    above: str | None


@dataclass(frozen=True, kw_only=True, slots=True)
class IfKnown:
    """What a criterion would do if all of it were measured: the tested share of the weight, the score at either end."""

    tested: float
    worst: float
    best: float


def if_known(grade: Graded, criterion: str) -> IfKnown | None:
    """The score if all of one criterion had been measured, at its worst and at its best; None where it was.

    What was tested of it keeps its value; what is bounded or untested takes either end. All else stays as it is.
    """
    asked = next(one for one in grade.criteria if one.name == criterion)
    if asked.ends.high_end - asked.ends.low_end <= TIE:
        return None
    total = math.fsum(one.criterion.weight for one in grade.criteria)
    added = asked.criterion.weight * (1 - asked.tested) / total if total else 0.0
    worst, best = (_score_with(grade, criterion, end) for end in (asked.ends.low_end, asked.ends.high_end))
    return IfKnown(tested=grade.tested + added, worst=worst, best=best)


def _score_with(grade: Graded, criterion: str, points: float) -> float:
    known = [
        (
            one.criterion.weight,
            one.criterion.weight * (1.0 if one.name == criterion else one.tested),
            replace(one.ends, value=points, low_end=points, high_end=points) if one.name == criterion else one.ends,
        )
        for one in grade.criteria
    ]
    return capped(mean_of(known), grade.cap).value or 0.0


@dataclass(frozen=True, slots=True)
class _Ratio:
    """(a + b·w)/(c + d·w): a score as a function of one weight w."""

    a: float
    b: float
    c: float
    d: float

    def at(self, weight: float) -> float:
        below = self.c + self.d * weight
        return (self.a + self.b * weight) / below if below > 0 else 0.0


def leader(class_grades: Iterable[Graded]) -> Graded | None:
    """The graded unit with the highest score; of equals the first by id."""
    known = [one for one in class_grades if one.score is not None]
    return min(known, key=lambda one: (-(one.score or 0.0), one.id), default=None)


def weight_ranges(class_grades: Iterable[Graded]) -> tuple[WeightRange, ...]:
    """For each criterion with a weight: from where to where the class's leader keeps the highest score.

    Units that are graded at the present weights are compared, gates and caps included; a tie keeps the leader.
    """
    known = sorted((one for one in class_grades if one.score is not None), key=lambda one: one.id)
    first = leader(known)
    if first is None:
        return ()
    weights = {one.name: one.criterion.weight for one in first.criteria}
    return tuple(_range(name, weights, first, known) for name, weight in weights.items() if weight > 0)


def _range(name: str, weights: Mapping[str, float], first: Graded, known: Sequence[Graded]) -> WeightRange:
    own = _Score(first, name, weights)
    others = [(one.id, _Score(one, name, weights)) for one in known if one.id != first.id]
    crossings = sorted({w for _, other in others for w in own.crossings(other)})
    weight = weights[name]
    above = [w for w in crossings if w > weight]
    below = [w for w in reversed(crossings) if w < weight]
    high, who_above = _first_loss(own, others, [weight, *above, math.inf])
    low, who_below = _first_loss(own, others, [weight, *below, 0.0])
    return WeightRange(
        criterion=name,
        weight=weight,
        low=low,
        high=None if math.isinf(high) else high,
        below=who_below,
        above=who_above,
    )


def _first_loss(own: _Score, others: Sequence[tuple[str, _Score]], ends: Sequence[float]) -> tuple[float, str | None]:
    """The first end, going outwards, behind which somebody else leads, and who; the last end where nobody does.

    Between two crossings the order does not change: one weight between them shows it.
    """
    for end, beyond in pairwise(ends):
        between = 2 * end + 1 if math.isinf(beyond) else (end + beyond) / 2
        best, who = max(((other.at(between), name) for name, other in others), default=(0.0, None))
        if best > own.at(between) + TIE:
            return end, who
    return ends[-1], None


class _Score:
    """One unit's capped score as a function of one weight: the least of its mean, its best possible, and its cap."""

    def __init__(self, one: Graded, name: str, weights: Mapping[str, float]) -> None:
        terms = [(weights[c.name], c.tested, c.ends.value or 0.0, c.ends.high_end) for c in one.criteria]
        at = [c.name for c in one.criteria].index(name)
        fixed = [term for i, term in enumerate(terms) if i != at]
        _, tested, value, high = terms[at]
        self.pieces = [
            _Ratio(
                math.fsum(w * t * v for w, t, v, _ in fixed),
                tested * value,
                math.fsum(w * t for w, t, _, _ in fixed),
                tested,
            ),
            _Ratio(math.fsum(w * h for w, _, _, h in fixed), high, math.fsum(w for w, *_ in fixed), 1.0),
        ]
        if one.cap is not None:
            self.pieces.append(_Ratio(one.cap, 0.0, 1.0, 0.0))

    def at(self, weight: float) -> float:
        return min(piece.at(weight) for piece in self.pieces)

    def crossings(self, other: _Score) -> list[float]:
        return [w for mine in self.pieces for theirs in other.pieces for w in _crossings(mine, theirs)]


def _crossings(one: _Ratio, two: _Ratio) -> list[float]:
    """Positive weights at which two ratios are equal: the roots of (a+bw)(c'+d'w) = (a'+b'w)(c+dw)."""
    square = one.b * two.d - two.b * one.d
    linear = one.a * two.d + one.b * two.c - two.a * one.d - two.b * one.c
    constant = one.a * two.c - two.a * one.c
    return [root for root in quadratic_roots(square, linear, constant) if root > 0 and math.isfinite(root)]


def quadratic_roots(square: float, linear: float, constant: float) -> tuple[float, ...]:
    """Real roots of square·x² + linear·x + constant, without the loss of digits of the school formula.

    Source:
        Press et al., Numerical Recipes, 3rd ed., section 5.6.

    >>> quadratic_roots(1, -3, 2)
    (2.0, 1.0)
    """
    if square == 0:
        return () if linear == 0 else (-constant / linear,)
    inside = linear**2 - 4 * square * constant
    if inside < 0:
        return ()
    q = -(linear + math.copysign(math.sqrt(inside), linear)) / 2
    return (q / square,) if q == 0 else (q / square, constant / q)
