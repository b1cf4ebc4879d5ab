"""What a page shows, in the order in which it stands there: data for the templates, which only loop and branch."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

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

    def style(self, place: int, cell: Cell) -> Markup:
        """Classes of the cell in a column; an empty one needs none."""
        if not cell.words:
            return Markup("")
        is_text = self.columns[place].is_text
        names = [
            name for name, is_set in (("text", is_text), ("missing", cell.missing), (cell.mark, cell.mark)) if is_set
        ]
        return Markup(' class="{}"').format(" ".join(names)) if names else Markup("")


def columns(*headings: str, text: frozenset[str] | set[str] = frozenset()) -> tuple[Column, ...]:
    """Headings in a row; those in `text` stand over words, the others over numbers."""
    return tuple(Column(heading=heading, is_text=heading in text) for heading in headings)


@dataclass(frozen=True, kw_only=True, slots=True)
class Fold:
    """Something folded away under its title: sentences, a list, a table."""

    title: str
    says: tuple[Words, ...] = ()
    items: tuple[Words, ...] = ()
    table: Table | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Figure:
    """A chart with its caption, its words for those who cannot see it, and its numbers as a table."""

    id: str
    says: Words
    description: str
    chart: Chart
    table: Table


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
    sections: tuple[Section, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Bar:
    """Delivered against label as a line in a table cell; all numbers are percent of the track's length."""

    end: float
    low: float
    high: float
    label: float
    is_open: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class SortCell:
    """A cell of the table of all units: `value` sorts, or `bound` where only one side is known; neither: not tested."""

    words: Words
    value: float | None = None
    bound: float | None = None
    bar: Bar | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class SortColumn:
    """A heading of the table of all units, the sets it belongs to, and which way it is sorted first."""

    heading: str
    sets: str
    first: str = "ascending"
    on_phone: bool = False
    is_text: bool = False

    @property
    def style(self) -> Markup:
        """Classes of its cells."""
        names = [name for name, is_set in (("text", self.is_text), ("desk", not self.on_phone)) if is_set]
        return Markup(' class="{}"').format(" ".join(names)) if names else Markup("")


@dataclass(frozen=True, kw_only=True, slots=True)
class SortRow:
    """A row of the table of all units and what the filters compare."""

    name: str
    href: Markup
    filters: Mapping[str, str]
    cells: tuple[SortCell, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class HomePage:
    """The table of all units, and what stands around it."""

    title: str
    description: str
    lead: Words
    news: Words
    columns: tuple[SortColumn, ...]
    rows: tuple[SortRow, ...]
    class_titles: tuple[str, ...]
    currency: str
    classes: tuple[Words, ...]
    waiting: tuple[Words, ...] = field(default=())
    withdrawn: tuple[Words, ...] = field(default=())


@dataclass(frozen=True, kw_only=True, slots=True)
class ClassPage:
    """One comparison class."""

    title: str
    description: str
    lead: Words
    sections: tuple[Section, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class LoadPage:
    """All loads, or one: what batteries do with it."""

    title: str
    description: str
    over: Words
    boxes: tuple[Box, ...]
    lead: Words
    facts: tuple[Fact, ...]
    sections: tuple[Section, ...]


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
