"""From derived results to Markdown pages.

Views choose, order and phrase; templates only loop and branch; `text` alone rounds, adds units and escapes. Nothing in
here computes a metric or knows mkdocs.
"""

from __future__ import annotations

from site_builder.derived import Derived, DerivedUnit
from site_builder.frames import Frames
from site_builder.pages.capacity_section import Companions, thinned
from site_builder.pages.class_page import class_page
from site_builder.pages.grading_page import grading_page
from site_builder.pages.home_page import home_page
from site_builder.pages.loads_pages import load_page, loads_page
from site_builder.pages.rendering import render_page
from site_builder.pages.unit_page import unit_page
from site_builder.series import Array

MAX_COMPANIONS = 8


def render_pages(derived: Derived, frames: Frames) -> dict[str, str]:
    """Every generated page: its address among the Markdown files ("units/ferngate-f90.md") → its text."""
    pages = {"index.md": render_page(home_page(derived, frames))}
    for class_id in derived.catalogue.classes:
        if derived.of_class(class_id):
            pages[f"classes/{class_id}.md"] = render_page(class_page(class_id, derived, frames))
    if (grading := derived.catalogue.grading) is not None:
        pages["methods/grading.md"] = render_page(grading_page(grading, derived.catalogue.loads))
    pages["loads/index.md"] = render_page(loads_page(derived))  # in every page's list of pages, so always there
    pages |= {f"loads/{name}.md": render_page(load_page(name, derived)) for name in derived.catalogue.loads}
    for unit in derived.units:
        pages[f"units/{unit.id}.md"] = render_page(unit_page(unit, derived, _companions(unit, derived)))
    return pages


def _companions(unit: DerivedUnit, derived: Derived) -> Companions:
    """The curves of the first others of its class, in the order of their ids."""
    class_id = unit.result.class_id
    others = [other for other in (derived.of_class(class_id) if class_id else ()) if other.id != unit.id]
    curves = [curve for other in others if (curve := _curve(other)) is not None]
    return thinned(curves[:MAX_COMPANIONS])


def _curve(unit: DerivedUnit) -> tuple[Array, Array] | None:
    headline = unit.result.headline
    return unit.result.tests[headline].curve if headline else None
