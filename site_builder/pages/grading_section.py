"""A unit's grade on its page: two facts of the first screen, and how it was made and could change. Grades nothing."""

from __future__ import annotations

import math
from collections.abc import Iterator

from markupsafe import Markup

from site_builder.derived import Derived, DerivedUnit
from site_builder.grade import CriterionGrade, Graded
from site_builder.grading_records import Grading
from site_builder.pages import unit_questions
from site_builder.pages.grade_words import (
    gate_words,
    made_of,
    missing_of,
    percent,
    place_note,
    place_span,
    points,
    questions,
    score_span,
    scored,
    sum_words,
    weight_words,
    why_no_grade,
)
from site_builder.pages.safe_text import sentence
from site_builder.pages.samples import tests_of_others
from site_builder.pages.text import day, number
from site_builder.pages.views import Cell, Fact, Fold, Section, Table, Words, columns
from site_builder.sensitivity import IfKnown

GRADING = Markup("../../methods/grading/")


def grade_facts(unit: DerivedUnit, derived: Derived) -> tuple[Fact, ...]:
    """Score and place for the first screen; none where the catalogue grades nothing."""
    grade = derived.standings.grades.get(unit.id)
    if grade is None:
        return ()
    return _score_fact(grade), _place_fact(unit, derived)


def _score_fact(grade: Graded) -> Fact:
    tested = sentence('<a href="#grade">{}</a>', questions(grade))
    if grade.score is None:
        return Fact(name="Score of 100", value="none", below=sentence("{}, too little for a grade", tested))
    if grade.gates:
        capped = sentence("{}; {}", "; ".join(hit.gate.title.lower() for hit in grade.gates), tested)
        return Fact(name="Score of 100, capped", value=scored(grade.ends), below=capped)
    return Fact(
        name="Score of 100", value=scored(grade.ends), below=sentence("what these instruments allow; {}", tested)
    )


def _place_fact(unit: DerivedUnit, derived: Derived) -> Fact:
    place, class_id = derived.standings.places.get(unit.id), unit.result.class_id
    if class_id is None:
        return Fact(name="Place in its class", value="none", below="no others like it yet")
    link = Markup("../../classes/{}/#standing").format(class_id)
    if place is None:
        return Fact(name="Place in its class", value="none", below=sentence('<a href="{}">not graded</a>', link))
    span = sentence('{} <span class="u">of {}</span>', place_span(place), place.of)
    note = place_note(place).removeprefix(", ") or (
        "the only one graded" if place.of == 1 else "beyond what they allow"
    )
    return Fact(name="Place in its class", value=span, below=sentence('<a href="{}">{}</a>', link, note))


def grading_section(unit: DerivedUnit, derived: Derived) -> Iterator[Section]:
    """How it was graded, and what could change that; nothing where the catalogue grades nothing."""
    grade, grading = derived.standings.grades.get(unit.id), derived.catalogue.grading
    if grade is None or grading is None:
        return
    yield Section(
        anchor=unit_questions.GRADE.anchor,
        heading=unit_questions.GRADE.heading,
        short=unit_questions.GRADE.short,
        says=(*_says(grade, grading), *tests_of_others(unit)),
        tables=(_criteria_table(grade, grading, derived),),
        lists=((changes,) if (changes := tuple(_changes(grade, grading, derived))) else ()),
        folds=tuple(_working(grade)),
    )


def _says(grade: Graded, grading: Grading) -> Iterator[Words]:
    said = [_result(grade, grading), *(gate_words(hit) for hit in grade.gates)]
    if grade.score is not None and grade.uncapped is not None and grade.uncapped > grade.score:
        said.append(sentence("Without that its score would be {}.", points(grade.uncapped)))
    yield Markup(" ").join(said)
    version = sentence('<a href="{}">version {} of the grading</a>', GRADING, grade.version)
    yield sentence(
        "Graded by {}, in force since {}; every anchor stands there, with its reason.", version, day(grading.since)
    )


def _result(grade: Graded, grading: Grading) -> Markup:
    if grade.score is None:
        return sentence("No grade: {}.", why_no_grade(grade, grading.least_tested))
    if grade.ends.low == grade.ends.high:
        return sentence("Score {} of 100; {}.", points(grade.score), questions(grade))
    allowed = "which is what instruments and open questions allow"
    return sentence(
        "Score {} of 100, {}, {}; {}.", points(grade.score), score_span(grade.ends), allowed, questions(grade)
    )


def _criteria_table(grade: Graded, grading: Grading, derived: Derived) -> Table:
    total = math.fsum(one.weight for one in grading.criteria.values())
    rows = tuple(
        (
            Cell(words=_what_made_it(one, derived)),
            Cell(words=scored(one.ends), missing=one.ends.value is None),
            Cell(words=weight_words(one.criterion.weight, total)),
        )
        for one in grade.criteria
        if one.criterion.weight > 0
    )
    caption = "Points from 0 to 100, and from where to where they could lie; weights are shares of the whole."
    return Table(columns=columns("Question", "Points", "Weight"), rows=rows, caption=caption)


def _what_made_it(one: CriterionGrade, derived: Derived) -> Markup:
    title = sentence('<a href="{}#{}">{}</a>', GRADING, Markup(one.name), one.criterion.title)  # noqa: S704  # a name
    made = made_of(one, derived.catalogue.loads)
    return sentence('{}<span class="u">{}.</span>', title, made) if made else title


def _changes(grade: Graded, grading: Grading, derived: Derived) -> Iterator[Words]:
    """For each question that is not closed: what is open, and between which scores the answer would put it."""
    for one in grade.criteria:
        known = derived.standings.if_known[grade.id].get(one.name)
        if known is not None:
            open_ = Markup("; ").join(missing_of(one, derived.catalogue.loads))
            yield sentence("{}: {}. {}", one.criterion.title, open_, _would_be(known, grade, grading))


def _would_be(known: IfKnown, grade: Graded, grading: Grading) -> str:
    """What knowing it would do: at worst and at best."""
    low, high = points(known.worst), points(known.best)
    if known.tested < grading.least_tested:
        return f"With it, {percent(known.tested)} of the weight would be tested."
    if grade.score is None:
        ends = f"{low} at worst, {high} at best" if low != high else f"{low}, whatever it shows"
        return f"With it there would be a grade: {ends}."
    if grade.cap is not None and low == high == points(grade.score):
        return "The cap would stay."
    return f"Known, the score would be {low} at worst, {high} at best." if low != high else "The score would stay."


def _working(grade: Graded) -> Iterator[Fold]:
    if grade.score is None:
        return
    steps = [
        sentence("Weight that was tested × points, summed, over the weight that was tested: {}.", sum_words(grade))
    ]
    if grade.cap is not None:
        steps.append(sentence("Capped at {}.", number(grade.cap)))
    yield Fold(title="Show the working", says=tuple(steps))
