"""The page of own weights: questions, the site's weights to start from, and what it says without scripts."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from site_builder.derived import Derived
from site_builder.grading_records import Grading
from site_builder.pages.grade_words import percent
from site_builder.pages.runtime_page import Choice
from site_builder.pages.safe_text import sentence
from site_builder.pages.text import number
from site_builder.pages.views import Words


@dataclass(frozen=True, kw_only=True, slots=True)
class Question:
    """A criterion, its weight on this site, and why it weighs that."""

    name: str
    title: str
    weight: str
    because: str


@dataclass(frozen=True, kw_only=True, slots=True)
class WeightsPage:
    """Questions and classes; both are empty where the catalogue grades nothing."""

    title: str
    description: str
    lead: Words
    without: Words
    notes: tuple[Words, ...]
    questions: tuple[Question, ...]
    classes: tuple[Choice, ...]


def weights_page(derived: Derived) -> WeightsPage:
    """The form of the page; its order of batteries is made in the browser."""
    grading = derived.catalogue.grading
    held = {name: one.title for name, one in derived.catalogue.classes.items() if derived.of_class(name)}
    classes = tuple(Choice(value=name, words=title) for name, title in held.items()) if grading else ()
    return WeightsPage(
        title="Weigh it yourself",
        description="Give each question a weight of your own: the batteries of a class in your order.",
        lead=_lead(grading),
        without=_without(classes),
        notes=tuple(_notes(grading)) if grading else (),
        questions=_questions(grading) if grading else (),
        classes=classes,
    )


def _lead(grading: Grading | None) -> Words:
    if grading is None:
        return "Nothing in this catalogue is given points, so that there is nothing to weigh."
    return (
        "How much does each question weigh for you? The points stay as they were measured; only their weights change."
    )


def _without(classes: tuple[Choice, ...]) -> Markup:
    links = [sentence('<a href="../classes/{}/">{}</a>', Markup(one.value), one.words) for one in classes]  # noqa: S704  # a checked name
    said = Markup("; ").join(links)
    return sentence(
        "Your browser runs no scripts, and this page reckons in the browser. By the site’s own weights, with "
        "the points of each question: {}.",
        said,
    )


def _notes(grading: Grading) -> tuple[Words, ...]:
    least = percent(grading.least_tested)
    gates = [sentence("{} (no score above {})", gate.title, number(gate.cap)) for gate in grading.gates]
    caps = sentence("Findings that cap a score do so here as well: {}.", Markup("; ").join(gates)) if gates else ""
    return (
        Markup(
            'The sums are those of this site: <a href="../methods/grading/">how a score and a place are made</a>. '
            "Price has no weight in the site’s grade, since a score must not age because a shop changed a tag; here "
            "you can give it one."
        ),
        sentence("A battery of which less than {} of your weight was tested has no score by your weights.", least),
        *([caps] if caps else []),
        "A place is an interval: from it to it the evidence cannot tell. It is about the samples tested.",
    )


def _questions(grading: Grading) -> tuple[Question, ...]:
    return tuple(
        Question(name=name, title=one.title, weight=number(one.weight), because=one.because)
        for name, one in grading.criteria.items()
    )
