"""A unit's numbers and what its file does to its class, as lines for a terminal. Nothing is graded or ranked here."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from site_builder.catalogue_records import Load
from site_builder.derived import DerivedUnit
from site_builder.grade import Graded
from site_builder.measured import Measured
from site_builder.narrowing import Narrowing
from site_builder.nomenclature import METRICS
from site_builder.pages.grade_words import missing_of, percent, place_span, place_words, questions, score_words
from site_builder.pages.text import FIXED, THIN, duration, number, quantity, significant
from site_builder.rank import Place
from site_builder.standing import ClassEffect

# A test that narrows a score by less than this is not worth naming: the page shows whole points.
WORTH_NAMING = 0.5
NOTES = {
    "as_read": " (as read)",
    "claimed": " (label)",
    "projected": " (projected)",
    "estimate": " (estimate)",
}


def number_lines(unit: DerivedUnit) -> Iterator[str]:
    """One line for each of the unit's numbers, with its ± or as a bound."""
    for name, one in unit.result.metrics.items():
        title = METRICS[name].title if name in METRICS else name
        yield _plain(f"{unit.id}: {title[:1].lower()}{title[1:]} {number_words(name, one)}{NOTES.get(one.basis, '')}")


def number_words(name: str, one: Measured) -> str:
    """A metric in words: a time in a unit of its size, all else in its own unit."""
    return str(duration(one) if METRICS[name].unit == "s" else quantity(one))


def _plain(words: str) -> str:
    return words.replace(THIN, " ").replace(FIXED, " ")


def effect_lines(effect: ClassEffect, loads: Mapping[str, Load]) -> Iterator[str]:
    """One line for the grade, one for each cap, each unit that it moves, each question that is still open."""
    for words in _said(effect, loads):
        yield _plain(f"{effect.id}: {words}")


def _said(effect: ClassEffect, loads: Mapping[str, Load]) -> Iterator[str]:
    yield f"{_score(effect.grade)}; {questions(effect.grade)}; {_place(effect)}"
    for hit in effect.grade.gates:
        yield f"capped at {number(hit.gate.cap)}: {hit.gate.title[:1].lower()}{hit.gate.title[1:]}"
    for move in effect.moves:
        yield f"moves {move.id} from {_of(move.without)} to {_of(move.with_it)}"
    for one in effect.grade.criteria:
        for words in missing_of(one, loads) if one.criterion.weight > 0 else ():
            yield f"open in {one.name!r}: {words.striptags()}"
    yield from _next_tests(effect)


def _next_tests(effect: ClassEffect) -> Iterator[str]:
    """What would make a grade of it where it has none, and which test would tell most."""
    if effect.grade.why_not:
        ways = [f"{one.takes} (+{percent(one.adds)})" for one in effect.for_a_grade]
        yield f"missing for a grade: {'; '.join(ways) or 'more than tests can add'}"
    for one in effect.narrows[:1]:
        if one.gain >= WORTH_NAMING:
            yield f"tells most next: {one.takes}; {_narrower(one)}"


def _narrower(one: Narrowing) -> str:
    left, now = significant(one.width, 2), significant(one.before, 2)
    return f"it would leave {left} of the {now} points that its score can lie in"


def _score(grade: Graded) -> str:
    if grade.score is None:
        return f"no score, {percent(grade.tested)} of the weight tested"
    return f"score {score_words(grade.ends)}"


def _of(place: Place) -> str:
    return f"{place_span(place)} of {place.of}"


def _place(effect: ClassEffect) -> str:
    if effect.class_id is None:
        return "in no class"
    if effect.place is None:
        return f"no place in {effect.class_id}"
    return f"in {effect.class_id} {place_words(effect.place)}"
