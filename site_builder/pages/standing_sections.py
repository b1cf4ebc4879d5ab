"""How a class stands: scores and places, points by question, what would change the order, what a kWh costs.

Chooses and phrases; who stands where is worked out elsewhere.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from site_builder import grade_charts
from site_builder.derived import ClassStanding, Derived, DerivedUnit
from site_builder.grade import Graded
from site_builder.grading_records import Grading
from site_builder.pages.grade_words import (
    ROUNDING,
    names_in_row,
    percent,
    place_span,
    points,
    questions,
    score_span,
    scored,
    weight_words,
)
from site_builder.pages.safe_text import sentence
from site_builder.pages.text import COUNTS, THIN, UNIT_WORDS, day, number, quantity
from site_builder.pages.views import Cell, Figure, Section, Table, Words, columns
from site_builder.pages.words import name_of, price_words
from site_builder.rank import Place
from site_builder.value import Valued


@dataclass(frozen=True, kw_only=True, slots=True)
class _Class:
    """The graded units of a class by score, the best first, and those without a grade by name."""

    derived: Derived
    standing: ClassStanding
    grading: Grading
    graded: tuple[DerivedUnit, ...]
    ungraded: tuple[DerivedUnit, ...]

    def grade(self, unit: DerivedUnit) -> Graded:
        return self.derived.standings.grades[unit.id]

    def place(self, unit: DerivedUnit) -> Place:
        return self.derived.standings.places[unit.id]

    def name(self, id_: str) -> str:
        return next(name_of(unit.record) for unit in self.graded if unit.id == id_)

    @property
    def asked(self) -> tuple[str, ...]:
        """Names of the criteria that have a weight."""
        return tuple(name for name, one in self.grading.criteria.items() if one.weight > 0)


def standing_sections(class_id: str, derived: Derived) -> Iterator[Section]:
    """The sections on a class's order; none where the catalogue grades nothing."""
    standing = derived.standings.classes.get(class_id)
    if derived.catalogue.grading is None or standing is None:
        return
    units = derived.of_class(class_id)
    known = [unit for unit in units if unit.id in derived.standings.places]
    known.sort(key=lambda unit: (-(derived.standings.grades[unit.id].score or 0.0), unit.id))
    rest = [unit for unit in units if unit.id not in derived.standings.places]
    rest.sort(key=lambda unit: (name_of(unit.record), unit.id))
    held = _Class(
        derived=derived, standing=standing, grading=derived.catalogue.grading, graded=tuple(known), ungraded=tuple(rest)
    )
    yield _standing(held)
    yield _by_question(held)
    yield _what_would_change(held)
    if standing.value:
        yield _value(standing.value, {unit.id: unit for unit in units})


def _link(unit: DerivedUnit, anchor: str = "") -> Markup:
    return sentence('<a href="../../units/{}/{}">{}</a>', Markup(unit.id), anchor, name_of(unit.record))  # noqa: S704


def _standing(held: _Class) -> Section:
    says = () if held.graded else (Markup("None of them is graded yet."),)
    figure = _picture(held) if held.graded else None
    without = tuple(_without(unit, held) for unit in held.ungraded)
    heading, lists = Markup("Who stands where"), (without,) if without else ()
    return Section(anchor="standing", heading=heading, short="Order", says=says, figure=figure, lists=lists)


def _without(unit: DerivedUnit, held: _Class) -> Markup:
    """Why a unit has no score, what would still cap it, and where it would be seen what is missing."""
    grade, least = held.grade(unit), percent(held.grading.least_tested)
    capped = sentence("; no score above {} in any case", number(grade.cap)) if grade.cap is not None else ""
    tested = percent(grade.tested)
    return sentence(
        "{}: no grade, {} of the weight tested of {} that it takes{}", _link(unit, "#grade"), tested, least, capped
    )


def _picture(held: _Class) -> Figure:
    lines = [_line(unit, held) for unit in held.graded]
    rows = tuple(
        (
            Cell(words=_link(unit, "#grade")),
            Cell(words=points(held.grade(unit).score or 0.0)),
            Cell(words=f"{score_span(held.grade(unit).ends)}{_capped(held.grade(unit))}"),
            Cell(words=_of(held.place(unit))),
        )
        for unit in held.graded
    )
    return Figure(
        id="scores",
        says=sentence(
            "{}. The dot is the score of 100, the bar what instruments and open questions allow", _who_leads(held)
        ),
        description="Score of each battery, what it could be, and its place; the numbers are in the table below.",
        chart=grade_charts.scores(lines),
        table=Table(columns=columns("Battery", "Score", "Could be", "Place"), rows=rows),
    )


def _of(place: Place) -> str:
    return f"{place_span(place)} of {place.of}"


def _line(unit: DerivedUnit, held: _Class) -> grade_charts.Score:
    grade = held.grade(unit)
    return grade_charts.Score(
        name=name_of(unit.record),
        value=grade.score or 0.0,
        low=grade.ends.low,
        high=grade.ends.high,
        words=f"{place_span(held.place(unit))}{_capped(grade)}",
    )


def _capped(grade: Graded) -> str:
    return "" if grade.cap is None else f", capped at {number(grade.cap)}"


def _who_leads(held: _Class) -> Markup:
    """Who leads, and whether the evidence tells them apart."""
    first = [unit for unit in held.graded if held.place(unit).low == 1]
    if len(held.graded) == 1:
        return sentence("{} is the only one graded", name_of(first[0].record))
    if len(first) == 1:
        return sentence("{} leads, by more than the evidence can be off", name_of(first[0].record))
    names = names_in_row([name_of(unit.record) for unit in first])
    count = COUNTS[len(first)] if len(first) < len(COUNTS) else str(len(first))
    return sentence("{} cannot be told apart at the top: {}", count.capitalize(), names)


def _by_question(held: _Class) -> Section:
    criteria = held.grading.criteria
    total = math.fsum(one.weight for one in criteria.values())
    weights = (Cell(words="Weight"), *(Cell(words=weight_words(criteria[name].weight, total)) for name in held.asked))
    rows = tuple(_points_row(unit, held) for unit in (*held.graded, *held.ungraded))
    note = (
        "Points from 0 to 100 for what was tested of a question, smaller what they could be. "
        "A battery's name leads to the numbers and anchors behind them."
    )
    return Section(
        anchor="questions",
        heading=Markup("Points by question"),
        short="Questions",
        tables=(
            Table(
                columns=columns("Battery", *(criteria[name].title for name in held.asked)),
                rows=(weights, *rows),
                caption=note,
            ),
        ),
    )


def _points_row(unit: DerivedUnit, held: _Class) -> tuple[Cell, ...]:
    ends = {one.name: one.ends for one in held.grade(unit).criteria}
    cells = (Cell(words=scored(ends[name]), missing=ends[name].value is None) for name in held.asked)
    return (Cell(words=_link(unit, "#grade")), *cells)


def _what_would_change(held: _Class) -> Section:
    return Section(
        anchor="changes",
        heading=Markup("What would change this order"),
        short="What would change it",
        says=tuple(_weights_say(held)),
        lists=tuple(one for one in (tuple(_weights(held)), tuple(_open_questions(held))) if one),
    )


def _weights_say(held: _Class) -> Iterator[Words]:
    first = held.standing.leader
    if first is None or len(held.graded) == 1:
        yield f"There is no order yet: {'one' if first else 'none'} of them is graded."
        return
    ranges = held.standing.weights
    safe = [one for one in ranges if one.below is None and one.above is None]
    if len(safe) == len(ranges):
        yield sentence("{} keeps the highest score whatever weight any single question has.", held.name(first))
    elif safe:
        titles = names_in_row([f"“{held.grading.criteria[one.criterion].title}”" for one in safe])
        yield sentence("{} keeps the highest score whatever weight one of these has: {}.", held.name(first), titles)


def _weights(held: _Class) -> Iterator[Words]:
    """The weights, all others unchanged, beyond which another unit has the highest score."""
    if len(held.graded) < 2:
        return
    total = math.fsum(one.weight for one in held.grading.criteria.values())
    for one in held.standing.weights:
        title, now = held.grading.criteria[one.criterion].title, weight_words(one.weight, total)
        others = total - one.weight
        if one.above is not None and one.high is not None:
            at = math.ceil(100 * one.high / (one.high + others) - ROUNDING)
            yield sentence(
                "“{}” has {} of the weight: above {}{}%, {} would lead.", title, now, at, THIN, held.name(one.above)
            )
        if one.below is not None:
            at = math.floor(100 * one.low / (one.low + others) + ROUNDING)
            yield sentence(
                "“{}” has {} of the weight: below {}{}%, {} would lead.", title, now, at, THIN, held.name(one.below)
            )


def _open_questions(held: _Class) -> Iterator[Words]:
    """What is untested or only bounded, and between which scores it leaves a unit."""
    for unit in held.graded:
        grade = held.grade(unit)
        if grade.ends.high_end - grade.ends.low_end < 0.5:
            continue
        open_ = [one.criterion.title for one in grade.criteria if one.name in held.derived.standings.if_known[unit.id]]
        titles = names_in_row([f"“{title}”" for title in open_])
        low, high = points(grade.ends.low_end), points(grade.ends.high_end)
        yield sentence(
            "{}, {}: what is open about {} leaves it between {} and {}.",
            _link(unit, "#grade"),
            questions(grade),
            titles,
            low,
            high,
        )


def _value(order: Sequence[Valued], units: dict[str, DerivedUnit]) -> Section:
    currency = UNIT_WORDS.get(order[0].priced.currency, order[0].priced.currency)
    rows = tuple(
        (
            Cell(
                words=sentence('{}<span class="u">{}{}</span>', _link(units[one.id], "#cost"), _of(one.place), heated)
            ),
            Cell(words=quantity(one.price_per_kwh).bare),
            Cell(words=_priced(one)),
        )
        for one in order
        for heated in [", heats itself" if units[one.id].record.label.heater else ""]
    )
    return Section(
        anchor="value",
        heading=Markup("What a kWh costs: an order of its own"),
        short="Value",
        says=(Markup("Price is no part of the score: a score must not age because a shop changed a tag."),),
        tables=(Table(columns=columns("Battery", f"{currency} per kWh it holds", "Price"), rows=rows),),
    )


def _priced(one: Valued) -> Markup:
    """The price with its date, and that it is old where it is."""
    stale = " (older than 12 months)" if one.priced.stale else ""
    return sentence(
        '{} <span class="u">{}{}</span>', price_words(one.priced), day(dt.date.fromisoformat(one.priced.date)), stale
    )
