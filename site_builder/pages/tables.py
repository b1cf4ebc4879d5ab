"""A table as finished HTML. Tables are the mass of a page; put together here they take a third of a template's time.

Written as short as HTML allows: the ends of rows and cells are understood, and so is the scope of a heading where the
first row and the first column hold nothing else.

Source:
    WHATWG HTML, 13.1.2.4 "Optional tags" and 4.9.12.2 "Forming relationships between data cells and header cells".
"""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from site_builder.pages.safe_text import safe
from site_builder.pages.views import Cell, Table


def table_html(table: Table) -> Markup:
    """The table; one with many columns scrolls sideways by itself on a phone."""
    caption = f"<caption>{safe(table.caption)}</caption>" if table.caption else ""
    headings = "".join(f"<th>{safe(column.heading)}" for column in table.columns)
    rows = "".join(_row_html(row) for row in table.rows)
    html = f'<table class="{_classes(table)}">{caption}<thead><tr>{headings}<tbody>{rows}</table>'
    if table.is_wide:
        name = safe(table.name or table.columns[0].heading)
        html = f'<div class=scroll tabindex=0 role=region aria-label="{name} table">{html}</div>'
    return Markup(html)  # noqa: S704  # every part was made safe


def _classes(table: Table) -> str:
    """Which columns hold words is said once and not by each cell; the first is a row's heading and always does."""
    words = [place for place, column in enumerate(table.columns, 1) if place > 1 and column.is_text]
    all_words = words and len(words) == len(table.columns) - 1
    named = ["words"] if all_words else [f"words-{place}" for place in words]
    return " ".join(["data", *(["matrix"] if table.is_matrix else []), *named])


def _row_html(row: Sequence[Cell]) -> str:
    return f"<tr><th>{safe(row[0].words)}" + "".join(f"<td{_style(cell)}>{safe(cell.words)}" for cell in row[1:])


def _style(cell: Cell) -> str:
    """Classes of a cell; an empty one needs none."""
    if not cell.words or not (cell.missing or cell.mark):
        return ""
    return f' class="{" ".join(name for name in ("missing" if cell.missing else "", cell.mark) if name)}"'
