"""Every file of the site that is no page: data, scripts' data, pictures, codes, pages of former addresses."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from site_builder.charts import chart_script
from site_builder.derived import Derived
from site_builder.frames import Frames
from site_builder.pages.asked_units import asked_units
from site_builder.pages.home_page import units_table
from site_builder.pages.search_entries import search_entries
from site_builder.publish.browser_data import data_script
from site_builder.publish.chooser_files import chooser_files
from site_builder.publish.compare_files import compare_files
from site_builder.publish.data import render_data_files
from site_builder.publish.feed import feed_xml
from site_builder.publish.heads import PICTURE
from site_builder.publish.pictures import picture_of
from site_builder.publish.qr import qr_files
from site_builder.publish.redirects import redirect_pages

Files = dict[str, str | bytes]


def render_files(
    derived: Derived, frames: Frames, pages: Mapping[str, str], written: Path, cache: Path | None
) -> Files:
    """Address below the site → content.

    Args:
        derived: Everything that may be shown.
        frames: The same as tables.
        pages: The generated pages, by their address among the Markdown files.
        written: Folder of the pages that are written by hand.
        cache: Folder in which slowly made files are kept; None to make them anew.
    """
    files: Files = {**render_data_files(derived, frames), "assets/charts-library.js": chart_script()}
    files["assets/search-index.js"] = _search_index(derived, pages, written)
    table = units_table(derived, frames)
    asked = asked_units(derived, {row.id for row in table.rows})
    files["assets/units-table.js"] = data_script("unitsTable", {**table.for_script, **asked})
    files |= compare_files(derived)
    files |= chooser_files(derived)
    files["feed.xml"] = feed_xml(derived)
    files["robots.txt"] = f"User-agent: *\nAllow: /\nSitemap: {derived.published.address}sitemap.xml\n"
    files |= redirect_pages(derived)
    for unit in derived.units:
        files |= qr_files(unit.id, derived.address_of(unit.id))
        files[f"units/{unit.id}/{PICTURE}"] = picture_of(unit, derived, cache)
    return files


def _search_index(derived: Derived, generated: Mapping[str, str], folder: Path) -> str:
    """The list that the search fetches when somebody opens it; hand-written pages are in it too."""
    written = {path.relative_to(folder).as_posix(): path.read_text("utf-8") for path in folder.rglob("*.md")}
    return data_script("searchIndex", search_entries(derived, {**written, **generated}))
