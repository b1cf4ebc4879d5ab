"""The last section of a unit's page: its link, a text for under a video, how to cite it, its data."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from site_builder.derived import Derived, DerivedUnit
from site_builder.pages.safe_text import safe, sentence
from site_builder.pages.text import day
from site_builder.pages.video_text import video_texts
from site_builder.pages.views import Fact, Fold, Section
from site_builder.pages.words import name_of

REUSE = Markup(
    "Text, figures and data may be used by anyone who says where they come from "
    '(<a href="https://creativecommons.org/licenses/by/4.0/" rel="license noopener">CC BY 4.0</a>).'
)
AS_DATA = Markup(
    'As data, for a table or a program: <a href="../../data/">every battery\'s numbers and logs</a>; '
    "a code of this page's address, to show on a screen: "
    '<a href="qr.svg" download>as SVG</a>, <a href="qr.png" download>as PNG</a>.'
)


def share_section(unit: DerivedUnit, derived: Derived, lead: Sequence[Markup], facts: Sequence[Fact]) -> Section:
    """How to link, tell, cite and reuse."""
    address = derived.address_of(unit.id)
    link = sentence("This page, for good: <span data-copy>{}</span>", address)
    cite = sentence(
        "Cite as: <span data-copy>{}, “{}”, as of {}, {}</span>",
        derived.published.name,
        name_of(unit.record),
        safe(day(derived.as_of).striptags()),
        address,
    )
    folds = tuple(
        Fold(title=f"Text for under a video: {one.title.lower()}", copies=one.words)
        for one in video_texts(unit, derived, lead, facts)
    )
    return Section(
        anchor="cite",
        heading="Link, cite, reuse",
        short="Link, cite, reuse",
        says=(link, cite, REUSE, AS_DATA),
        folds=folds if unit.record.unit.status == "published" else (),
    )
