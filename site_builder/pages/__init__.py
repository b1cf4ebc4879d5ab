"""From derived results to Markdown pages.

Views choose, order and phrase; templates only loop and branch; `text` alone rounds, adds units and escapes. Nothing in
here computes a metric or knows mkdocs.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import islice

from site_builder import charts
from site_builder.derived import Derived, DerivedUnit
from site_builder.frames import Frames
from site_builder.pages.capacity_section import Companions
from site_builder.pages.changes_page import changes_page
from site_builder.pages.class_page import class_page
from site_builder.pages.compare_page import compare_page
from site_builder.pages.data_page import data_page
from site_builder.pages.grading_page import grading_page
from site_builder.pages.home_page import home_page
from site_builder.pages.loads_pages import load_page, loads_page
from site_builder.pages.rendering import render_page
from site_builder.pages.runtime_page import runtime_page
from site_builder.pages.sheet_page import sheet_pages
from site_builder.pages.unit_page import unit_page
from site_builder.pages.videos_page import videos_page
from site_builder.pages.weights_page import weights_page
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
    pages["compare.md"] = render_page(compare_page(derived))
    pages["changes.md"] = render_page(changes_page(derived))
    pages["videos.md"] = render_page(videos_page(derived))
    pages["data/index.md"] = render_page(data_page(derived))
    pages |= {f"sheets/{sheet.id}.md": render_page(sheet) for sheet in sheet_pages(derived)}
    pages["loads/index.md"] = render_page(loads_page(derived))  # in every page's list of pages, so always there
    pages |= {f"loads/{name}.md": render_page(load_page(name, derived)) for name in derived.catalogue.loads}
    pages["runtime/index.md"] = render_page(runtime_page(derived))
    pages["priorities/index.md"] = render_page(weights_page(derived))
    drawn = {class_id: _drawn_curves(class_id, derived) for class_id in derived.catalogue.classes}
    for unit in derived.units:
        companions = _companions(unit, drawn.get(unit.result.class_id or "", {}))
        pages[f"units/{unit.id}.md"] = render_page(unit_page(unit, derived, companions))
    return pages


def _drawn_curves(class_id: str, derived: Derived) -> dict[str, str]:
    """The class's first curves as the chart takes them, by unit id: one more than a page shows beside its own."""
    curves = ((unit.id, curve) for unit in derived.of_class(class_id) if (curve := _curve(unit)) is not None)
    first = enumerate(islice(curves, MAX_COMPANIONS + 1))
    return {id_: charts.curve_csv(n, curve, charts.IN_GREY) for n, (id_, curve) in first}


def _companions(unit: DerivedUnit, drawn: Mapping[str, str]) -> Companions:
    """The curves of the first others of its class, in the order of their ids."""
    others = [rows for id_, rows in drawn.items() if id_ != unit.id][:MAX_COMPANIONS]
    return Companions(curves="".join(others), count=len(others))


def _curve(unit: DerivedUnit) -> tuple[Array, Array] | None:
    headline = unit.result.headline
    return unit.result.tests[headline].curve if headline else None
