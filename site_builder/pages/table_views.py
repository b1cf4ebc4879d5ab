"""The table of all units, and the home page around it: data for the template and for the table's script."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import ROUND_DOWN, Decimal

from markupsafe import Markup

from site_builder.pages.text import Shown, place_of_uncertainty, place_within
from site_builder.pages.views import Words

FORM = Markup('class=bar viewBox="0 0 100 9" preserveAspectRatio=none aria-hidden=true')
# What stands last when a column is sorted, named.
KNOWN_IN_PART, EVIDENCE_NOT_KEPT = "known in part", "evidence not kept"
# Digits that the script gets behind those of U that are shown. Where readers may choose another unit: those that
# `switched.held` keeps, and enough behind them to decide how they, and the three of the CSV, round once converted.
DIGITS_BEHIND, DIGITS_BEHIND_SWITCHED = 1, 4
ROWS_IN_PAGE = 200  # more come as data, for the script; without it the pages of the classes name them


@dataclass(frozen=True, kw_only=True, slots=True)
class Bar:
    """A number as a line in a table's cell, with its ± and a mark; all lengths are percent of the track's."""

    end: float
    low: float
    high: float
    mark: float | None = None
    is_open: bool = False

    def __html__(self) -> Markup:
        """Lengths as attributes of a drawing: a page's policy allows no style attributes in data."""
        parts = [f'<path d="M0 4.5H{self.end:g}"/>']
        if self.is_open:
            parts.append(f'<path class=o d="M{self.end:g} 4.5H100"/>')
        elif self.high > self.low:
            parts.append(f'<path class=w d="M{self.low:g} 1v7m0-3.5H{self.high:g}m0-3.5v7"/>')
        if self.mark is not None:
            parts.append(f'<path class=m d="M{self.mark:g} 0v9"/>')
        return Markup("<svg {}>{}</svg>").format(FORM, Markup("").join(map(Markup, parts)))

    @property
    def ends(self) -> list[float]:
        """[end, low, high, mark, whether it is open], for the script to draw the same."""
        return [self.end, self.low, self.high, self.mark or 0, int(self.is_open)]


def cut(value: float, place: int) -> float:
    """The number without the digits after a place: a number cut so still rounds, halves upwards, to what it did.

    >>> cut(91.349, -2), cut(-0.259, -2), cut(1234, 1)
    (91.34, -0.25, 1230.0)
    """
    exact = Decimal(f"{value:.12g}")
    return float(exact.quantize(Decimal(1).scaleb(place_within(exact, place)), rounding=ROUND_DOWN))


@dataclass(frozen=True, kw_only=True, slots=True)
class SortCell:
    """A cell of the table of all units.

    `value` sorts, or `bound` where it is known in part ("at least 86") or its evidence was not kept (then not
    `is_kept`); neither: there is nothing, and the words say why. `spread` is the U of an exact value.
    """

    words: Words
    value: float | None = None
    bound: float | None = None
    spread: float | None = None
    bar: Bar | None = None
    is_kept: bool = True

    @property
    def is_missing(self) -> bool:
        """Whether there is nothing to sort by."""
        return self.value is None and self.bound is None

    def __html__(self) -> Markup:
        """What stands between the cell's tags."""
        return Markup("{}{}").format(self.words, self.bar or "")

    @property
    def for_script(self) -> list[object]:
        """[words, what sorts it, U, 1 if known in part or 2 if not kept, bar], cut where nothing follows.

        Words are 0 where they say no more than value ± U, which the script rounds as pages do.
        """
        bare = self.words if self.spread is not None and isinstance(self.words, Shown) and not self.words.note else None
        value, spread = self._cut(is_switched=bool(bare.held)) if bare else (self.value, self.spread)
        words = str(Markup("{}").format(self.words)) if bare is None else 0
        whole: list[object] = [
            words,
            self.bound if value is None else value,
            spread,
            None if self.bound is None else 1 if self.is_kept else 2,
            self.bar and self.bar.ends,
        ]
        while whole[-1] is None:
            whole.pop()
        return whole

    def _cut(self, *, is_switched: bool) -> tuple[float | None, float | None]:
        """Value and U without digits that no reader sees."""
        if not self.spread:
            return self.value, self.spread
        place = place_of_uncertainty(self.spread) - (DIGITS_BEHIND_SWITCHED if is_switched else DIGITS_BEHIND)
        return None if self.value is None else cut(self.value, place), cut(self.spread, place)


@dataclass(frozen=True, kw_only=True, slots=True)
class SortColumn:
    """A column of the table of all units: its heading, the sets it belongs to, and which way it is sorted first.

    `unit` is that of its numbers, where readers may choose another (°C, kg); `in_words`: a number only sorts it;
    `lacks` names what a battery has none of here, where its cell's own words do not.
    """

    key: str
    heading: Words
    sets: str
    down: bool = False
    on_phone: bool = False
    is_text: bool = False
    in_words: bool = False
    unit: str = ""
    lacks: str = ""

    @property
    def in_page(self) -> bool:
        """Whether it stands in the page itself; other columns come as data when somebody asks for them."""
        return "main" in self.sets.split()

    @property
    def style(self) -> Markup:
        """Classes of its cells."""
        names = [name for name, is_set in (("text", self.is_text), ("desk", not self.on_phone)) if is_set]
        return Markup(' class="{}"').format(" ".join(names)) if names else Markup("")


@dataclass(frozen=True, kw_only=True, slots=True)
class SortRow:
    """A unit's row: its cells by column, and what is known of what the filters ask."""

    id: str
    name: str
    asked: Mapping[str, object]
    cells: tuple[SortCell, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class UnitsTable:
    """The table, or its first rows, in the order of names.

    `load_columns` come last and have no cells: each row's answer is a letter, and `letters` has the cell for each.
    """

    columns: tuple[SortColumn, ...]
    rows: tuple[SortRow, ...]
    classes: Mapping[str, str]
    loads: Mapping[str, str]
    load_columns: tuple[SortColumn, ...]
    letters: Mapping[str, SortCell]
    currency: str

    @property
    def is_graded(self) -> bool:
        """Whether a column of it is a score."""
        return any(column.key == "score" for column in self.columns)

    @property
    def for_script(self) -> dict[str, object]:
        """What the table's script sorts, filters and draws."""
        return {
            "columns": [
                {
                    "key": one.key,
                    "heading": str(Markup("{}").format(one.heading)),
                    "sets": one.sets.split(),
                    "down": one.down,
                    "phone": one.on_phone,
                    "text": one.is_text,
                    "words": one.in_words,
                    "unit": one.unit,
                    "lacks": one.lacks,
                }
                for one in (*self.columns, *self.load_columns)
            ],
            "letters": {letter: cell.for_script for letter, cell in self.letters.items()},
            "last": [KNOWN_IN_PART, EVIDENCE_NOT_KEPT],
            "rows": [
                {"id": row.id, "name": row.name, **row.asked, "cells": [cell.for_script for cell in row.cells]}
                for row in self.rows
            ],
        }


@dataclass(frozen=True, kw_only=True, slots=True)
class HomePage:
    """The first rows of the table of all `total` units, and what stands around it.

    `unlisted` units are named neither in the table nor in a class.
    """

    title: str
    description: str
    lead: Words
    news: Words
    table: UnitsTable
    total: int
    classes: tuple[Words, ...]
    unlisted: tuple[Words, ...] = field(default=())
    waiting: tuple[Words, ...] = field(default=())
    withdrawn: tuple[Words, ...] = field(default=())
