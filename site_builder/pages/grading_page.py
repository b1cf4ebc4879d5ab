"""The page of the grading: every question, anchor, weight and gate of grading.yml in words, with its reason."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from markupsafe import Markup

from site_builder import grade_charts
from site_builder.catalogue_records import Load
from site_builder.charts import Chart
from site_builder.grading_records import Criterion, Gate, Grading, Part
from site_builder.pages.grade_words import amount, load_title, percent, weight_words
from site_builder.pages.safe_text import sentence
from site_builder.pages.text import THIN, counted, day, listed, number
from site_builder.pages.views import Cell, Figure, GradedCriterion, GradedPart, GradingPage, Section, Table, columns

SCORE = (
    Markup(
        "Each question is answered in points from 0 to 100. Between two anchors they follow a straight line; beyond "
        "the outer ones they stay. Anchors are fixed: they never follow from which batteries there are, so that a new "
        "battery or a new price changes nobody's score. Anchors, weights and caps are <b>this project's judgement</b> "
        "where no source is named."
    ),
    Markup(
        "A question with several parts takes their mean by their shares. The score is the mean of the questions by "
        "their weights, Σ weight × points / Σ weight, over what was tested."
    ),
    Markup(
        "Its interval holds three things. What the instruments can be off, source by source, as on the page on "
        '<a href="../evidence/">evidence and ±</a>. What is known from one side only: it counts at its worse end, and '
        "widens the interval to its better one. What was not tested: anything from 0 to 100 points."
    ),
)
PLACES = (
    Markup(
        "A place is an interval. A battery is counted as better than another only if its score at its worst exceeds "
        "the other's at its best by more than the uncertainty of their difference; an error that both share, such as "
        "the gain of one shunt, cancels in it. What is bounded or untested stands at its worst and at its best."
    ),
    Markup(
        "Each battery is compared with all others of its class, and the more comparisons there are, the more often one "
        "of them would mislead. So each has to pass Holm's step-down threshold, two-sided, 5 % for all comparisons of "
        "one battery together. Its place then runs from one more than the number that are better to the number that "
        "are not worse. Batteries without a grade have no place and are not counted."
    ),
    Markup(
        "A rank is one of the samples that were tested: another sample may differ. Source: M. Mogstad, J. P. Romano, "
        "A. Shaikh and D. Wilhelm 2023, Inference for Ranks with Applications to Mobility across Neighbourhoods and "
        "Academic Achievement across Countries, Review of Economic Studies; with the thresholds of S. Holm 1979, "
        "A simple sequentially rejective multiple test procedure, Scandinavian Journal of Statistics 6, in place of "
        "their bootstrap."
    ),
)


def grading_page(grading: Grading, loads: Mapping[str, Load]) -> GradingPage:
    """The whole grading, in the file's order."""
    asked = sum(one.weight > 0 for one in grading.criteria.values())
    lead = "{}, each with fixed anchors, make a score from 0 to 100. Version {}, in force since {}."
    return GradingPage(
        title="How batteries are graded",
        description="Every question, anchor and weight behind a score, and how places in a class are made.",
        lead=sentence(lead, counted(asked, "question").capitalize(), grading.version, day(grading.since)),
        before=(_score(grading),),
        criteria=tuple(_criterion(name, one, grading, loads) for name, one in grading.criteria.items()),
        after=(*_gates(grading.gates), _places()),
    )


def _total(grading: Grading) -> float:
    return math.fsum(one.weight for one in grading.criteria.values())


def _score(grading: Grading) -> Section:
    least = sentence("With less than {} of the weight tested there is no score.", percent(grading.least_tested))
    rows = tuple(
        (
            Cell(words=sentence('<a href="#{}">{}</a>', Markup(name), one.title)),  # noqa: S704  # a checked name
            Cell(words=weight_words(one.weight, _total(grading))),
            Cell(words=one.because),
        )
        for name, one in grading.criteria.items()
    )
    return Section(
        anchor="score",
        heading=Markup("How a score is made"),
        short="Score",
        says=(*SCORE, least),
        tables=(Table(columns=columns("Question", "Weight", "Why that much", text={"Why that much"}), rows=rows),),
    )


def _criterion(name: str, one: Criterion, grading: Grading, loads: Mapping[str, Load]) -> GradedCriterion:
    if one.weight > 0:
        weight = sentence("{} of the weight. {}", weight_words(one.weight, _total(grading)), one.because)
    else:
        weight = sentence("No part of the score. {}", one.because)
    shares = math.fsum(part.share for part in one.parts)
    parts = tuple(_part(f"{name}-{i}", part, part.share / shares, loads) for i, part in enumerate(one.parts, start=1))
    return GradedCriterion(anchor=name, title=one.title, says=(weight,), parts=parts)


def _part(id_: str, part: Part, share: float, loads: Mapping[str, Load]) -> GradedPart:
    says = [part.because]
    if share < 1:
        says.append(f"It is {round(100 * share)}{THIN}% of this question.")
    if part.loads:
        says.append(f"Each has an equal share: {listed([load_title(name, loads) for name in part.loads])}.")
    return GradedPart(title=part.title, says=(" ".join(says),), figure=_figure(id_, part))


def _figure(id_: str, part: Part) -> Figure:
    return Figure(
        id=id_,
        says="Points for what was measured" if part.anchors else "Points for what was seen",
        description=f"Value function of: {part.title}. Its anchors are in the table below.",
        chart=_chart(part),
        table=Table(columns=columns("Found", "Points", "Why", text={"Why"}), rows=tuple(_rows(part))),
    )


def _chart(part: Part) -> Chart:
    if part.anchors:
        return grade_charts.value_function(
            [(one.at, one.points, str(amount(part.fact, one.at))) for one in part.anchors]
        )
    words = sorted(part.levels.items(), key=lambda level: -level[1].points)
    return grade_charts.scores(
        [
            grade_charts.Score(name=word, value=one.points, low=one.points, high=one.points, words=number(one.points))
            for word, one in words
        ]
    )


def _rows(part: Part) -> Iterator[tuple[Cell, ...]]:
    """Anchors from the smallest up, then words."""
    for anchor in part.anchors:
        yield Cell(words=amount(part.fact, anchor.at)), Cell(words=number(anchor.points)), Cell(words=anchor.because)
    for word, level in part.levels.items():
        yield Cell(words=word), Cell(words=number(level.points)), Cell(words=level.because)


def _gates(gates: tuple[Gate, ...]) -> Iterator[Section]:
    if not gates:
        return
    rows = tuple((Cell(words=one.title), Cell(words=number(one.cap)), Cell(words=one.because)) for one in gates)
    words = (
        "Some findings cap a score whatever else is good, if they hold beyond the uncertainty, before places are made."
    )
    yield Section(
        anchor="caps",
        heading=Markup("What caps a score"),
        short="Caps",
        says=(words,),
        tables=(Table(columns=columns("Finding", "At most", "Why", text={"Why"}), rows=rows),),
    )


def _places() -> Section:
    return Section(anchor="places", heading=Markup("How places are made"), short="Places", says=PLACES)
