"""Views → Markdown through the templates beside this file. No choice of content is made here."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import jinja2

from site_builder.pages.compare_page import ComparePage
from site_builder.pages.runtime_page import RuntimePage
from site_builder.pages.safe_text import escaped, safe
from site_builder.pages.sheet_page import SheetPage
from site_builder.pages.table_views import HomePage
from site_builder.pages.tables import table_html
from site_builder.pages.views import GradingPage, PlainPage, UnitPage
from site_builder.pages.weights_page import WeightsPage

TEMPLATES = Path(__file__).with_name("templates")


def render_page(
    page: UnitPage | HomePage | ComparePage | GradingPage | PlainPage | RuntimePage | SheetPage | WeightsPage,
) -> str:
    """The page as Markdown, by the template of its kind."""
    names = {
        UnitPage: "unit",
        HomePage: "home",
        ComparePage: "compare",
        GradingPage: "grading",
        PlainPage: "plain",
        RuntimePage: "runtime",
        SheetPage: "sheet",
        WeightsPage: "weights",
    }
    return _environment().get_template(f"{names[type(page)]}.md.jinja").render(page=page)


@lru_cache(maxsize=1)
def _environment() -> jinja2.Environment:
    """Whatever a template prints is made safe for block HTML, so that none can forget to; headings say `encoded`."""
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(TEMPLATES),
        autoescape=True,
        finalize=safe,
        undefined=jinja2.StrictUndefined,
        comment_start_string="{*",  # "{#id}" names a heading in Markdown
        comment_end_string="*}",
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters |= {"encoded": escaped, "table": table_html}
    return environment
