"""Facts of one unit → points by fixed value functions → a score with its interval. Pure; knows no other unit.

A part scores by straight lines between anchors, a criterion is the mean of its parts, a score the mean of the criteria:
sums only, so that a browser repeats it. Measured evidence enters as signed components by source; bounded and untested
evidence stands between the worst and the best that it allows.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from statistics import NormalDist

from site_builder.criteria import Fact, facts_of, gradable, load_fact, takes
from site_builder.derive.results import UnitResult
from site_builder.gates import GateHit, gates_hit
from site_builder.grading_records import Anchor, Criterion, Grading, Part
from site_builder.measured import CONFIDENCE, Measured
from site_builder.records import ResultsFile

WORST, BEST = 0.0, 100.0
# Two-sided 95 % of the sum of many sources; a part with few degrees of freedom brings its own, wider U.
COVERAGE = NormalDist().inv_cdf((1 + CONFIDENCE) / 2)
Components = Mapping[str, float]


@dataclass(frozen=True, kw_only=True, slots=True)
class Ends:
    """Points as evidence allows: `value` where it was measured (None where it was not), and its ends.

    `low_end` and `high_end` hold bounded and untested evidence at its worst and best, at the measured value of the
    rest; `components` are the signed standard uncertainties of both ends by source; `low` and `high` include them.
    """

    value: float | None
    low_end: float
    high_end: float
    low: float
    high: float
    components: Components = field(default_factory=dict)

    @property
    def u(self) -> float:
        """Combined standard uncertainty of the ends. [points]"""
        return math.hypot(*self.components.values())


UNTESTED = Ends(value=None, low_end=WORST, high_end=BEST, low=WORST, high=BEST)


@dataclass(frozen=True, kw_only=True, slots=True)
class PartGrade:
    """One part of a criterion: what it was `given`, and the points that this is worth.

    `share` is its share of the criterion (all shares sum to one); `why_not` says what it would take to test it.
    """

    part: Part
    load: str | None
    share: float
    given: Fact | None
    ends: Ends
    why_not: str | None


@dataclass(frozen=True, kw_only=True, slots=True)
class CriterionGrade:
    """One criterion: its parts, the share of it that was tested, and its points (`ends.value` over what was tested)."""

    name: str
    criterion: Criterion
    parts: tuple[PartGrade, ...]
    tested: float
    ends: Ends

    @property
    def is_tested(self) -> bool:
        """Whether it counts in "6 of 7 questions tested": at least half of it was."""
        return self.tested >= 0.5


@dataclass(frozen=True, kw_only=True, slots=True)
class Graded:
    """One unit's grade under one version of the grading.

    `score`, `low` and `high` are None where `why_not` says why; `ends` and their components are what places are made
    from, with any cap applied; `uncapped` is the score without it; `tested` is the tested share of the weight;
    `questions` are (tested, of).
    """

    id: str
    version: int
    criteria: tuple[CriterionGrade, ...]
    tested: float
    questions: tuple[int, int]
    gates: tuple[GateHit, ...]
    cap: float | None
    ends: Ends
    uncapped: float | None
    why_not: str | None

    @property
    def score(self) -> float | None:
        """The score, 0 to 100, capped."""
        return None if self.why_not else self.ends.value

    @property
    def low(self) -> float | None:
        """The lowest score that the evidence allows."""
        return None if self.why_not else self.ends.low

    @property
    def high(self) -> float | None:
        """The highest score that the evidence allows."""
        return None if self.why_not else self.ends.high


def graded(result: UnitResult, record: ResultsFile, grading: Grading) -> Graded:
    """One unit's grade, from its own evidence and the grading alone.

    Args:
        result: The unit's derived numbers.
        record: Its results file: label, documents, what was seen.
        grading: Criteria, weights and gates.
    """
    return graded_facts(result.id, facts_of(result, record), gates_hit(result, record, grading.gates), grading)


def graded_facts(unit: str, facts: Mapping[str, Fact], gates: Sequence[GateHit], grading: Grading) -> Graded:
    """The grade of a unit of which these facts are known."""
    criteria = tuple(criterion_grade(name, one, facts) for name, one in grading.criteria.items())
    weights = {name: one.weight for name, one in grading.criteria.items()}
    tested = share_tested(criteria, weights)
    cap = min((hit.gate.cap for hit in gates), default=None)
    asked = [one for one in criteria if one.criterion.weight > 0]
    free = score_ends(criteria, weights)
    return Graded(
        id=unit,
        version=grading.version,
        criteria=criteria,
        tested=tested,
        questions=(sum(one.is_tested for one in asked), len(asked)),
        gates=tuple(gates),
        cap=cap,
        ends=capped(free, cap),
        uncapped=free.value,
        why_not=None if tested >= grading.least_tested - 1e-12 else "too little of it was tested",
    )


def criterion_grade(name: str, criterion: Criterion, facts: Mapping[str, Fact]) -> CriterionGrade:
    """A criterion as the weighted mean of its parts; loads of one part share it equally."""
    total = math.fsum(part.share for part in criterion.parts)
    parts = tuple(
        _part_grade(part, load, part.share / total / len(part.loads or (None,)), facts)
        for part in criterion.parts
        for load in part.loads or (None,)
    )
    tested = math.fsum(one.share for one in parts if one.ends.value is not None)
    ends = mean_of([(one.share, one.share if one.ends.value is not None else 0.0, one.ends) for one in parts])
    return CriterionGrade(name=name, criterion=criterion, parts=parts, tested=tested, ends=ends)


def _part_grade(part: Part, load: str | None, share: float, facts: Mapping[str, Fact]) -> PartGrade:
    given = facts.get(load_fact(part.fact, load) if load else part.fact)
    ends, why_not = UNTESTED, None
    if given is None:
        why_not = f"it would take {takes(part.fact)}"
    elif not gradable(given):
        why_not = _why_not_graded(given)
    else:
        ends = number_ends(part.anchors, given) if isinstance(given, Measured) else word_ends(part, given)
        why_not = None if ends.value is not None else "only the better side of it is bounded"
    return PartGrade(part=part, load=load, share=share, given=given, ends=ends, why_not=why_not)


def _why_not_graded(given: Fact) -> str:
    if isinstance(given, Measured) and given.basis == "reported":
        return "it was reported, and its evidence not kept"
    return "it was read without a named instrument, or is a claim"


def word_ends(part: Part, word: str) -> Ends:
    """Points of an observation in words: no ±."""
    points = part.levels[word].points
    return Ends(value=points, low_end=points, high_end=points, low=points, high=points)


def value_at(anchors: Sequence[Anchor], x: float) -> float:
    """The piecewise-linear value function: constant beyond its ends. [points]

    >>> value_at([Anchor(at=0, points=0, because="-"), Anchor(at=2, points=100, because="-")], 0.5)
    25.0
    """
    if x <= anchors[0].at:
        return anchors[0].points
    for before, after in pairwise(anchors):
        if x < after.at:
            return before.points + (after.points - before.points) * (x - before.at) / (after.at - before.at)
    return anchors[-1].points


def number_ends(anchors: Sequence[Anchor], given: Measured) -> Ends:
    """Points of a measured number: at its value, from v(x - U) to v(x + U), or as far as its bound allows.

    A bound is valued at its worse end; where that end is open it is no value. The components take the steeper side of
    the value function within ±U, so that a value just above a corner is not taken for certain.
    """
    expanded = given.expanded or 0.0
    lowest = -math.inf if given.bound == "at_most" else given.value if given.low is None else given.low
    highest = math.inf if given.bound == "at_least" else given.value if given.high is None else given.high
    # The two ends of the evidence, and how far U moves each of them outwards.
    at_low, at_high = value_at(anchors, lowest), value_at(anchors, highest)
    below, above = value_at(anchors, lowest - expanded), value_at(anchors, highest + expanded)
    rising = anchors[-1].points >= anchors[0].points
    worse_is_open = math.isinf(lowest if rising else highest)
    steepest = max(abs(at_low - below), abs(at_high - above)) * (1 if rising else -1)
    return Ends(
        value=None if worse_is_open else min(at_low, at_high),
        low_end=min(at_low, at_high),
        high_end=max(at_low, at_high),
        low=min(below, above),
        high=max(below, above),
        components=_scaled_components(given, steepest, expanded),
    )


def _scaled_components(given: Measured, points: float, expanded: float) -> dict[str, float]:
    """Signed components in points, `points` being what ±`expanded` is worth.

    Where U is more than 1.96 u (few degrees of freedom) they are widened in proportion; never made smaller.
    """
    if not points or not expanded:
        return {}
    factor = points / expanded * max(1.0, expanded / (COVERAGE * given.u))
    return {name: one.u * factor for name, one in given.components.items() if one.u}


def mean_of(many: Iterable[tuple[float, float, Ends]]) -> Ends:
    """The weighted mean of (weight, tested weight, ends): its value over what was tested, its ends over everything.

    The value never exceeds the best that the evidence allows. Low and high take the components together, but never
    reach further than all of them at once.
    """
    known = [one for one in many if one[0] > 0]
    total = math.fsum(weight for weight, _, _ in known)
    tested = math.fsum(share for _, share, _ in known)
    if not total:
        return UNTESTED

    def mean(end: str) -> float:
        return math.fsum(weight * getattr(ends, end) for weight, _, ends in known) / total

    components: dict[str, float] = {}
    for weight, _, ends in known:
        for name, u in ends.components.items():
            components[name] = components.get(name, 0.0) + weight / total * u
    low_end, high_end = mean("low_end"), mean("high_end")
    half = COVERAGE * math.hypot(*components.values())
    value = math.fsum(share * (ends.value or 0.0) for _, share, ends in known) / tested if tested else None
    return Ends(
        value=None if value is None else min(value, high_end),
        low_end=low_end,
        high_end=high_end,
        low=max(low_end - half, mean("low")),
        high=min(high_end + half, mean("high")),
        components=components,
    )


def score_ends(criteria: Iterable[CriterionGrade], weights: Mapping[str, float]) -> Ends:
    """The score under these weights, before caps: the grading's own, or a viewer's."""
    return mean_of((weights[one.name], weights[one.name] * one.tested, one.ends) for one in criteria)


def share_tested(criteria: Sequence[CriterionGrade], weights: Mapping[str, float]) -> float:
    """The share of the weight that was tested."""
    total = math.fsum(weights[one.name] for one in criteria)
    return math.fsum(weights[one.name] * one.tested for one in criteria) / total if total else 0.0


def capped(ends: Ends, cap: float | None) -> Ends:
    """The score under a cap.

    Where the cap touches the interval, its ends are the interval itself and it has no components left: a capped score
    no longer moves with an instrument's error, and must not cancel one in a difference.
    """
    if cap is None or ends.high <= cap:
        return ends
    low, value = min(ends.low, cap), None if ends.value is None else min(ends.value, cap)
    return Ends(value=value, low_end=low, high_end=cap, low=low, high=cap)
