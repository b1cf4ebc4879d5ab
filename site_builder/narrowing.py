"""Which test would tell most about a unit: by how much its score's interval shrinks if that were measured as usual.

Pure. "As usual" is the class: the median half-width that the same part has on its other units, and none where no other
has it. This is a judgement of this project; it orders tests, and no published number is made from it.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median

from site_builder.criteria import takes
from site_builder.grade import COVERAGE, CriterionGrade, Ends, Graded, PartGrade, capped, mean_of, score_ends
from site_builder.rank import TIE

PartKey = tuple[str, str, str | None]  # criterion, fact, load


@dataclass(frozen=True, kw_only=True, slots=True)
class Narrowing:
    """One kind of test, named by what it `takes`: how wide the score's interval would be after it, and the weight.

    `facts` are what it would tell; `width` and `before` are in points; `adds` is the share of the weight that is not
    tested yet and would be.
    """

    takes: str
    facts: tuple[str, ...]
    width: float
    before: float
    adds: float

    @property
    def gain(self) -> float:
        """By how much the interval shrinks. [points]"""
        return self.before - self.width


def narrowings(grade: Graded, others: Iterable[Graded]) -> tuple[Narrowing, ...]:
    """Every test that would narrow the score's interval or add tested weight, the one that narrows most first.

    What a part would turn out to be is not known: it is taken at its value, or in the middle of what is possible, and
    never reaches further than it does now.

    Args:
        grade: The unit's grade, be there too little for a score or not.
        others: The grades of the other units of its class, for what a measurement usually leaves open.
    """
    usual = usual_half_widths(others)
    groups: dict[str, set[PartKey]] = {}
    for key, part in _parts(grade):
        if part.ends.high - part.ends.low > TIE:
            groups.setdefault(takes(part.part.fact), set()).add(key)
    found = [_narrowing(grade, words, keys, usual) for words, keys in groups.items()]
    useful = [one for one in found if one.gain > TIE or one.adds > TIE]
    return tuple(sorted(useful, key=lambda one: (-one.gain, -one.adds, one.takes)))


def usual_half_widths(grades: Iterable[Graded]) -> dict[PartKey, float]:
    """The median half-width of each part over the units on which it was tested. [points]"""
    widths: dict[PartKey, list[float]] = {}
    for grade in grades:
        for key, part in _parts(grade):
            if part.ends.value is not None:
                widths.setdefault(key, []).append((part.ends.high - part.ends.low) / 2)
    return {key: median(known) for key, known in widths.items()}


def enough_for_a_grade(grade: Graded, tests: Sequence[Narrowing], least: float) -> tuple[Narrowing, ...]:
    """The fewest of these tests, the heaviest first, that bring the tested weight to `least`; all, if none suffice."""
    reached, chosen = grade.tested, []
    for one in sorted(tests, key=lambda one: (-one.adds, -one.gain, one.takes)):
        if reached < least - TIE and one.adds > TIE:
            chosen.append(one)
            reached += one.adds
    return tuple(chosen)


def _parts(grade: Graded) -> Iterable[tuple[PartKey, PartGrade]]:
    for one in grade.criteria:
        if one.criterion.weight > 0:
            yield from (((one.name, part.part.fact, part.load), part) for part in one.parts)


def _narrowing(grade: Graded, words: str, keys: Collection[PartKey], usual: Mapping[PartKey, float]) -> Narrowing:
    weights = {one.name: one.criterion.weight for one in grade.criteria}
    then = [_if_tested(one, keys, usual) for one in grade.criteria]
    after = capped(score_ends(then, weights), grade.cap)
    total = math.fsum(weights.values())
    adds = math.fsum(
        weights[one.name] * (one.tested - now.tested) for one, now in zip(then, grade.criteria, strict=True)
    )
    return Narrowing(
        takes=words,
        facts=tuple(sorted({fact for _, fact, _ in keys})),
        width=after.high - after.low,
        before=grade.ends.high - grade.ends.low,
        adds=adds / total if total else 0.0,
    )


def _if_tested(one: CriterionGrade, keys: Collection[PartKey], usual: Mapping[PartKey, float]) -> CriterionGrade:
    """The criterion with some of its parts measured as usual."""
    parts = []
    for part in one.parts:
        key = (one.name, part.part.fact, part.load)
        parts.append(replace(part, ends=_as_usual(part.ends, usual.get(key), key)) if key in keys else part)
    tested = math.fsum(part.share for part in parts if part.ends.value is not None)
    ends = mean_of([(part.share, part.share if part.ends.value is not None else 0.0, part.ends) for part in parts])
    return replace(one, parts=tuple(parts), tested=tested, ends=ends)


def _as_usual(ends: Ends, usual: float | None, key: PartKey) -> Ends:
    """The part at its value, or in the middle, with the usual half-width or its own where that is less.

    Where no other unit has it, nothing would be left of what is open, and a measurement keeps its own.
    """
    is_open = ends.value is None or ends.high_end - ends.low_end > TIE
    half_width = usual if usual is not None else 0.0 if is_open else math.inf
    middle = (ends.low + ends.high) / 2 if ends.value is None else ends.value
    low, high = max(ends.low, middle - half_width), min(ends.high, middle + half_width)
    u = max(middle - low, high - middle) / COVERAGE
    name = ":".join(("usual", *(word for word in key if word)))
    return Ends(value=middle, low_end=middle, high_end=middle, low=low, high=high, components={name: u} if u else {})
