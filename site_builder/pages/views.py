"""What a page shows, in the order in which it stands there: data for the templates, which only loop and branch."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from site_builder.charts import Chart
from site_builder.pages.text import Shown

Words = str | Markup | Shown


@dataclass(frozen=True, kw_only=True, slots=True)
class Cell:
    """A table cell; `missing` words are set quiet; a `mark` before them says "seen" or "projected" by its shape."""

    words: Words = ""
    missing: bool = False
    mark: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Column:
    """A column's heading; words stand left, numbers right."""

    heading: Words
    is_text: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Table:
    """A small table: the first cell of a row is its heading; `name` tells one that scrolls from others on the page."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    caption: Words = ""
    is_matrix: bool = False
    name: str = ""

    @property
    def is_wide(self) -> bool:
        """Whether it needs a sideways scroll of its own on a phone."""
        return self.is_matrix or len(self.columns) > 4


def columns(*headings: str, text: frozenset[str] | set[str] = frozenset()) -> tuple[Column, ...]:
    """Headings in a row; those in `text` stand over words, the others over numbers."""
    return tuple(Column(heading=heading, is_text=heading in text) for heading in headings)


@dataclass(frozen=True, kw_only=True, slots=True)
class Fold:
    """Something folded away under its title: sentences, plain text to copy, a list, a table."""

    title: str
    says: tuple[Words, ...] = ()
    copies: Words = ""
    items: tuple[Words, ...] = ()
    table: Table | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Figure:
    """A chart with its caption, its words for those who cannot see it, and its numbers as a table.

    One whose numbers stand in tables right below it, as its description says, has none of its own.
    """

    id: str
    says: Words
    description: str
    chart: Chart
    table: Table | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Section:
    """One subject of a page: sentences, a picture, small tables, folded matters."""

    anchor: str
    heading: str
    short: str
    says: tuple[Words, ...] = ()
    figure: Figure | None = None
    more_figures: tuple[Figure, ...] = ()
    tables: tuple[Table, ...] = ()
    lists: tuple[tuple[Words, ...], ...] = ()
    folds: tuple[Fold, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Box:
    """What must be read before everything else, with the word for it."""

    word: Words
    says: Words


@dataclass(frozen=True, kw_only=True, slots=True)
class Fact:
    """One of the facts of a first screen: its name, the value, and a line below."""

    name: str
    value: Words
    below: Words = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class UnitPage:
    """A unit's page, first screen first."""

    title: str
    description: str
    over: Words
    boxes: tuple[Box, ...]
    lead: Words
    facts: tuple[Fact, ...]
    provenance: Words
    acts: tuple[Words, ...]
    sections: tuple[Section, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class PlainPage:
    """A title, what it says first, and sections: classes, loads, changes, videos, data.

    `over` stands above the title, `boxes` and `facts` where there are any around the lead.
    """

    title: str
    description: str
    lead: Words
    sections: tuple[Section, ...]
    over: Words = ""
    boxes: tuple[Box, ...] = ()
    facts: tuple[Fact, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class GradedPart:
    """One figure or observation that is graded, and its value function."""

    title: str
    says: tuple[Words, ...]
    figure: Figure


@dataclass(frozen=True, kw_only=True, slots=True)
class GradedCriterion:
    """One question that is graded, and its parts."""

    anchor: str
    title: str
    says: tuple[Words, ...]
    parts: tuple[GradedPart, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class GradingPage:
    """The grading in words: what holds for all of it, then its questions, then caps and places."""

    title: str
    description: str
    lead: Words
    before: tuple[Section, ...]
    criteria: tuple[GradedCriterion, ...]
    after: tuple[Section, ...]
