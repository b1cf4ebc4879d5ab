"""The page that sets batteries side by side: what it says before any script has run, and without one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from site_builder.derived import Derived
from site_builder.pages.compared import classes_of
from site_builder.pages.safe_text import sentence
from site_builder.pages.text import listed, number
from site_builder.pages.views import Words

MOST_NAMED = 24


@dataclass(frozen=True, kw_only=True, slots=True)
class ComparePage:
    """Its words; `classes` are links to the pages of each class's batteries, where the same figures stand."""

    title: str
    description: str
    lead: Words
    without: Words
    classes: tuple[Words, ...]


def compare_page(derived: Derived) -> ComparePage:
    """The frame of the page; what stands in it is made in the browser."""
    ids = {one.title: name for name, one in derived.catalogue.classes.items()}
    return ComparePage(
        title="Batteries side by side",
        description="Up to four batteries side by side, and which differences the instruments can tell.",
        lead=Markup(
            "Up to four batteries, question by question. Where they differ it says whether that is more than the "
            "instruments can mistake; what they were measured with alike cancels out."
        ),
        without=Markup(
            "Your browser runs no scripts, and this page reckons in the browser: it would set the batteries that you "
            "choose beside one another. Without scripts each battery's own page has the same figures, question by "
            "question."
        ),
        classes=tuple(_class_line(title, ids.get(title), units) for title, units in classes_of(derived)),
    )


def _class_line(title: str, class_id: str | None, units: Sequence[tuple[str, str]]) -> Markup:
    """A class with its batteries, as many as a line holds; its own page has the others."""
    shown = units if class_id is None else units[:MOST_NAMED]
    links = [sentence('<a href="../units/{}/">{}</a>', Markup(id_), name) for id_, name in shown]  # noqa: S704  # a checked name
    if len(shown) < len(units):
        links.append(sentence("{} more", number(len(units) - len(shown))))
    named = Markup(listed(links))  # noqa: S704  # links are markup
    if class_id is None:
        return sentence("{}: {}", title, named)
    return sentence('<a href="../classes/{}/">{}</a>: {}', Markup(class_id), title, named)  # noqa: S704  # a checked name
