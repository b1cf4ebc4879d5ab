"""What a results file does to its class, as lines for a terminal. Nothing is graded or ranked here."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from site_builder.catalogue_records import Load
from site_builder.grade import Graded
from site_builder.pages.grade_words import missing_of, percent, place_span, place_words, points, questions, score_span
from site_builder.pages.text import FIXED, THIN, number
from site_builder.rank import Place
from site_builder.standing import ClassEffect


def effect_lines(effect: ClassEffect, loads: Mapping[str, Load]) -> Iterator[str]:
    """One line for the grade, one for each cap, each unit that it moves, each question that is still open."""
    for words in _said(effect, loads):
        yield f"{effect.id}: {words}".replace(THIN, " ").replace(FIXED, " ")


def _said(effect: ClassEffect, loads: Mapping[str, Load]) -> Iterator[str]:
    yield f"{_score(effect.grade)}; {questions(effect.grade)}; {_place(effect)}"
    for hit in effect.grade.gates:
        yield f"capped at {number(hit.gate.cap)}: {hit.gate.title[:1].lower()}{hit.gate.title[1:]}"
    for move in effect.moves:
        yield f"moves {move.id} from {_of(move.without)} to {_of(move.with_it)}"
    for one in effect.grade.criteria:
        for words in missing_of(one, loads) if one.criterion.weight > 0 else ():
            yield f"open in {one.name!r}: {words.unescape()}"


def _score(grade: Graded) -> str:
    if grade.score is None:
        return f"no score, {percent(grade.tested)} of the weight tested"
    span = "" if grade.low == grade.high else f", {score_span(grade.ends)}"
    return f"score {points(grade.score)}{span}"


def _of(place: Place) -> str:
    return f"{place_span(place)} of {place.of}"


def _place(effect: ClassEffect) -> str:
    if effect.class_id is None:
        return "in no class"
    if effect.place is None:
        return f"no place in {effect.class_id}"
    return f"in {effect.class_id} {place_words(effect.place)}"
