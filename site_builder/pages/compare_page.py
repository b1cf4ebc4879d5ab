"""The page that sets batteries side by side: what it says before any script has run, and without one."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from site_builder.derived import Derived
from site_builder.pages.safe_text import sentence
from site_builder.pages.text import counted
from site_builder.pages.views import Words


@dataclass(frozen=True, kw_only=True, slots=True)
class ComparePage:
    """Its words; `classes` are links to where the same figures stand in tables."""

    title: str
    description: str
    lead: Words
    without: Words
    classes: tuple[Words, ...]


def compare_page(derived: Derived) -> ComparePage:
    """The frame of the page; what stands in it is made in the browser."""
    classes = {name: one.title for name, one in derived.catalogue.classes.items() if derived.of_class(name)}
    return ComparePage(
        title="Batteries side by side",
        description="Up to four batteries side by side, and which differences the instruments can tell.",
        lead=Markup(
            "Up to four batteries, question by question. Where they differ it says whether that is more than the "
            "instruments can mistake; what they were measured with alike cancels out."
        ),
        without=Markup(
            "Your browser runs no scripts, and this page reckons in the browser: it would set the batteries that you "
            "choose beside one another. Without scripts each class shows the same figures in tables."
        ),
        classes=tuple(_class_line(name, title, len(derived.of_class(name))) for name, title in classes.items()),
    )


def _class_line(class_id: str, title: str, count: int) -> Markup:
    words = counted(count, "battery", "batteries")
    return sentence('<a href="../classes/{}/">{}</a>: {}', Markup(class_id), title, words)  # noqa: S704  # a checked name
