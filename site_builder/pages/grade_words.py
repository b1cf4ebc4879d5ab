"""How grades read: scores, places, what made a criterion's points, gates. Nothing is graded or ordered here."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from markupsafe import Markup

from site_builder.catalogue_records import Load
from site_builder.criteria import FACTS
from site_builder.gates import GateHit
from site_builder.grade import CriterionGrade, Ends, Graded, PartGrade
from site_builder.measured import Measured
from site_builder.nomenclature import METRICS
from site_builder.pages.load_words import short_title
from site_builder.pages.safe_text import sentence
from site_builder.pages.switched import held, with_measures
from site_builder.pages.text import (
    FIXED,
    THIN,
    UNIT_WORDS,
    Shown,
    duration,
    duration_unit,
    listed,
    number,
    quantity,
    significant,
)
from site_builder.rank import Place

ROUNDING = 1e-9
COUNTED = {"documents", "certificates"}  # plain counts, whose unit is 1 as a share's is


def ordinal(place: int) -> str:
    """A place in words.

    >>> [ordinal(n) for n in (1, 2, 3, 4, 11, 22, 113)]
    ['1st', '2nd', '3rd', '4th', '11th', '22nd', '113th']
    """
    ending = "th" if place % 100 in {11, 12, 13} else {1: "st", 2: "nd", 3: "rd"}.get(place % 10, "th")
    return f"{place}{ending}"


def place_span(place: Place) -> str:
    """From which to which place: "3rd", "1st or 2nd", "3rd to 5th"."""
    if place.low == place.high:
        return ordinal(place.low)
    return f"{ordinal(place.low)} {'or' if place.high == place.low + 1 else 'to'} {ordinal(place.high)}"


def place_words(place: Place) -> str:
    """A place among those that have one: "3rd to 5th of 9, too close to tell apart".

    >>> place_words(Place(3, 5, 9)), place_words(Place(6, 6, 6))
    ('3rd to 5th of 9, too close to tell apart', '6th of 6')
    """
    if place.of == 1:
        return "the only one graded"
    return f"{place_span(place)} of {place.of}{place_note(place)}"


def place_note(place: Place) -> str:
    """Why it is no single place."""
    return "" if place.low == place.high else ", too close to tell apart"


def points(value: float) -> str:
    """Points without decimals, half up."""
    return str(math.floor(value + 0.5 + ROUNDING))


def score_span(ends: Ends) -> str:
    """The interval of a score, rounded outwards: "66 to 77"; one number where it is one."""
    if ends.high - ends.low <= ROUNDING:
        return points(ends.low)
    return f"{math.floor(ends.low + ROUNDING)}{FIXED}to{FIXED}{math.ceil(ends.high - ROUNDING)}"


def scored(ends: Ends) -> Markup:
    """A score and its interval, which is set lighter: "71, 66 to 77"."""
    if ends.value is None:
        return Markup("not tested")
    if ends.high - ends.low <= ROUNDING:
        return Markup(points(ends.value))  # noqa: S704  # digits
    return sentence('{} <span class="u">{}</span>', points(ends.value), score_span(ends))


def score_words(ends: Ends) -> str:
    """A score and, where it is not one number, its interval, in plain words: "71, 66 to 77".

    >>> score_words(Ends(value=40, low_end=40, high_end=40, low=40, high=40))
    '40'
    """
    span = "" if ends.high - ends.low <= ROUNDING else f", {score_span(ends)}"
    return f"{points(ends.value or 0.0)}{span}"


def questions(grade: Graded) -> str:
    """How much of it was tested: "6 of 7 questions tested"."""
    tested, of = grade.questions
    return f"{tested} of {of} questions tested"


def why_no_grade(grade: Graded, least: float) -> str:
    """Why it has no score, with the share that was tested."""
    return f"{percent(grade.tested)} of the weight was tested, and a grade takes {percent(least)}"


def percent(share: float) -> str:
    """A share as whole percent, rounded down: what was not reached never reads as if it were."""
    return f"{math.floor(100 * share + 1e-6)}{THIN}%"


# A bound on a page has its ± in it already; points are given for the value, and ± makes their span.
HOW_BOUNDED = {"at_least": "less its ±", "at_most": "and its ±", "between": "at its {} end, before ±"}


def made_of(one: CriterionGrade, loads: Mapping[str, Load]) -> Markup:
    """What was tested of a criterion, and how it made these points, in words."""
    return Markup("; ").join([*_numbers(one), *_of_loads(one, loads)])


def _numbers(one: CriterionGrade) -> Iterator[Markup]:
    several = len(one.parts) > 1
    for part in one.parts:
        if part.load is None and part.given is not None and part.ends.value is not None:
            weighed = f" ({round(100 * part.share)}{THIN}% of it)" if several else ""
            yield sentence("{}{}: {}", in_short(part.part.title), weighed, _from_anchors(part))


def in_short(title: str) -> str:
    """A part's title up to its first comma; the whole of it stands on the page of the grading."""
    return title.partition(",")[0]


# Words of a fact that only the label can have said.
BY_LABEL = {"no heater": "no heater on its label", "needs none": "needs none, by its label"}


def _from_anchors(part: PartGrade) -> Markup:
    """The number or the word that was found, its points, and the anchors that make them so."""
    given, worth = part.given, f"{points(part.ends.value or 0.0)} points"
    if not isinstance(given, Measured):
        return sentence("{}, {}", BY_LABEL.get(given or "", given), worth)
    at = _scored_at(part, given)
    shown, read = fact_words(part.part.fact, given), amount(part.part.fact, at)
    how = HOW_BOUNDED.get(given.bound, "").format("lower" if at == given.low else "upper")
    if not how or not given.expanded:
        return sentence("{}, {} ({})", shown, worth, _anchors_around(part, at))
    return sentence("{} ({} {}); {} for {} ({})", shown, read, how, worth, read, _anchors_around(part, at))


def _scored_at(part: PartGrade, given: Measured) -> float:
    """Where the value function is read: at the value, or at the worse end of what is bounded."""
    anchors = part.part.anchors
    worse = given.low if anchors[-1].points >= anchors[0].points else given.high
    return given.value if worse is None else worse


def _anchors_around(part: PartGrade, at: float) -> Markup:
    """The corners of the value function around the number, or the outer one that it lies beyond."""
    anchors, fact = part.part.anchors, part.part.fact
    if at <= anchors[0].at or at >= anchors[-1].at:
        edge, side = (anchors[0], "below") if at <= anchors[0].at else (anchors[-1], "above")
        return sentence("{} at {} and {}", number(edge.points), amount(fact, edge.at), side)
    low, high = next((a, b) for a, b in pairwise(anchors) if a.at <= at < b.at)
    ends = (number(low.points), amount(fact, low.at), number(high.points), amount(fact, high.at))
    return sentence("{} at {}, {} at {}", *ends)


def _of_loads(one: CriterionGrade, loads: Mapping[str, Load]) -> Iterator[Markup]:
    """Loads by what happened to them: "starts, 100 points: fridge and circular saw"."""
    groups: dict[tuple[str, float], list[str]] = {}
    for part in one.parts:
        if part.load is not None and isinstance(part.given, str) and part.ends.value is not None:
            groups.setdefault((part.given, part.ends.value), []).append(load_title(part.load, loads))
    for (word, value), names in groups.items():
        yield sentence("{}, {} points: {}", word, points(value), listed(names))


def load_title(name: str, loads: Mapping[str, Load]) -> str:
    """A load as it stands inside a sentence."""
    title = short_title(name, loads)
    return f"{title[:1].lower()}{title[1:]}"


def missing_of(one: CriterionGrade, loads: Mapping[str, Load]) -> Iterator[Markup]:
    """What was not tested of a criterion, or is bounded on one side only, and what it would take."""
    by_reason: dict[str, list[str]] = {}
    for part in one.parts:
        if part.why_not is None and part.ends.high_end - part.ends.low_end <= ROUNDING:
            continue
        title = in_short(part.part.title)
        words = load_title(part.load, loads) if part.load else f"{title[:1].lower()}{title[1:]}"
        names = by_reason.setdefault(part.why_not or "only bounds of it are known", [])
        names += [words] if words not in names else []
    for why, names in by_reason.items():
        yield sentence("{} ({})", listed(names), with_measures(why))


def fact_words(fact: str, given: Measured) -> Shown:
    """A number that is graded, as its own kind of quantity reads."""
    if fact in COUNTED:
        return Shown(number(given.value))
    return duration(given) if _unit_of(fact) == "s" else quantity(given)


def _unit_of(fact: str) -> str:
    known = METRICS[fact].unit if fact in METRICS else FACTS[fact].unit
    return (known or "").replace("currency/", "per ")  # which currency, the part's title says


def amount(fact: str, value: float) -> Shown:
    """A plain value of what is graded: "95 %", "30 min", "100 Wh/kg"."""
    unit = _unit_of(fact)
    if fact in COUNTED:
        return Shown(number(value))
    if unit == "s":
        words, length = duration_unit(value)
        return Shown(significant(value / length), unit=words)
    factor, words = (100.0, "%") if unit == "1" else (1.0, UNIT_WORDS.get(unit, unit))
    return Shown(significant(value * factor), unit=words, held=held([value], words))


def gate_words(hit: GateHit) -> Markup:
    """A finding that caps a score: what, on what evidence, and why."""
    seen = sentence(" Seen: {}, held against {}.", quantity(hit.seen), _gate_limit(hit)) if hit.seen else ""
    return sentence("{}: no score above {}.{} {}", hit.gate.title, number(hit.gate.cap), seen, hit.gate.because)


def _gate_limit(hit: GateHit) -> Shown:
    unit = hit.seen.unit if hit.seen else ""
    factor = 100.0 if unit == "1" else 1.0
    return Shown(number(hit.limit * factor), unit=UNIT_WORDS.get(unit, unit), held=held([hit.limit], unit))


def weight_words(weight: float, total: float) -> str:
    """A weight as the share that it is of all of them."""
    return f"{significant(100 * weight / total)}{THIN}%" if total else "0"


def sum_words(grade: Graded) -> Markup:
    """The score as the mean that it is: weight times points of what was tested, over the weight that was tested."""
    tested = [one for one in grade.criteria if one.criterion.weight > 0 and one.ends.value is not None]
    if not tested:
        return Markup("")
    terms = [f"{_weight(one)}{FIXED}×{FIXED}{one.ends.value:.1f}" for one in tested]
    total = math.fsum(one.criterion.weight * one.tested for one in tested)
    value = math.fsum(one.criterion.weight * one.tested * (one.ends.value or 0.0) for one in tested) / total
    return sentence("({}) / {} = {}", " + ".join(terms), significant(total), f"{value:.1f}")


def _weight(one: CriterionGrade) -> str:
    return significant(one.criterion.weight * one.tested)


def names_in_row(names: Sequence[str]) -> str:
    """Names in a sentence; from the fifth on only how many more."""
    shown = list(names[:4]) + ([f"{len(names) - 4} more"] if len(names) > 4 else [])
    return listed(shown)
