"""The home page: the table of all units, what is new, and the classes."""

from __future__ import annotations

import datetime as dt

from markupsafe import Markup

from site_builder.derive.headline import date_of
from site_builder.derived import Derived, DerivedUnit
from site_builder.frames import Frames
from site_builder.pages.history_words import HISTORY
from site_builder.pages.load_words import short_title
from site_builder.pages.safe_text import sentence
from site_builder.pages.table_columns import columns_of
from site_builder.pages.table_loads import CELLS, load_columns
from site_builder.pages.table_questions import asked_of
from site_builder.pages.table_views import ROWS_IN_PAGE, HomePage, SortRow, UnitsTable
from site_builder.pages.text import UNIT_WORDS, counted, day
from site_builder.pages.words import name_of
from site_builder.records import History


def home_page(derived: Derived, frames: Frames) -> HomePage:
    """All units on one page, in the order of their names; the reader sorts."""
    units = _by_name(derived, frames)
    table = _table(derived, units[:ROWS_IN_PAGE])
    classes = {name: one for name, one in derived.catalogue.classes.items() if derived.of_class(name)}
    lead = sentence(
        "{}, each run through the same tests, with what the instruments can and cannot tell. As of {}.",
        counted(len(units), "battery", "batteries").capitalize(),
        day(derived.as_of),
    )
    return HomePage(
        title="What boathouse batteries really do",
        description="Batteries run through the same tests, with what the instruments can and cannot tell.",
        lead=lead,
        news=_news(derived),
        table=table,
        total=len(units),
        classes=tuple(_class_line(name, one.title, len(derived.of_class(name))) for name, one in classes.items()),
        unlisted=tuple(_link(unit) for unit in units[ROWS_IN_PAGE:] if unit.result.class_id is None),
        waiting=tuple(_link(u) for u in derived.units if u.record.unit.status in {"planned", "testing"}),
        withdrawn=tuple(_link(u) for u in derived.units if u.record.unit.status == "withdrawn"),
    )


def units_table(derived: Derived, frames: Frames) -> UnitsTable:
    """All published units by all columns, in the order of their names."""
    return _table(derived, _by_name(derived, frames))


def _table(derived: Derived, units: list[DerivedUnit]) -> UnitsTable:
    currency = UNIT_WORDS.get(derived.catalogue.rates.currency, derived.catalogue.rates.currency)
    columns = columns_of(derived, currency)
    asked = [asked_of(unit, derived) for unit in units]
    return UnitsTable(
        columns=tuple(column.view for column in columns),
        rows=tuple(
            SortRow(
                id=unit.id,
                name=name_of(unit.record),
                asked=answers,
                cells=tuple(column.cell(unit) for column in columns),
            )
            for unit, answers in zip(units, asked, strict=True)
        ),
        classes={name: one.title for name, one in derived.catalogue.classes.items() if derived.of_class(name)},
        loads={name: short_title(name, derived.catalogue.loads) for name in derived.catalogue.loads},
        load_columns=load_columns(derived.catalogue.loads, [str(answers["loads"]) for answers in asked]),
        letters=CELLS,
        currency=currency,
    )


def _by_name(derived: Derived, frames: Frames) -> list[DerivedUnit]:
    by_id = {unit.id: unit for unit in derived.units}
    if not by_id:
        return []
    published = frames.units[frames.units["status"] == "published"]
    return [by_id[id_] for id_ in published.sort_values(["maker", "model"])["id"]]


def _class_line(class_id: str, title: str, count: int) -> Markup:
    words = counted(count, "battery", "batteries")
    return sentence('<a href="classes/{}/">{}</a>: {}', Markup(class_id), title, words)  # noqa: S704  # a checked name


def _link(unit: DerivedUnit) -> Markup:
    return sentence('<a href="units/{}/">{}</a>', Markup(unit.id), name_of(unit.record))  # noqa: S704  # a checked name


def _news(derived: Derived) -> Markup:
    """The newest thing that happened: an entry of some unit's history, or else its newest test."""
    events: list[tuple[dt.date, str, Markup]] = []
    for unit in derived.units:
        record = unit.record
        events += [(entry.date, unit.id, _told(unit, entry)) for entry in record.history]
        tested = [date for test in record.tests.values() if (date := date_of(test, record))]
        events += [(date, unit.id, sentence("{}: {}, tested.", day(date), _link(unit))) for date in tested]
    return max(events, key=lambda event: event[:2], default=(None, "", Markup("")))[2]


def _told(unit: DerivedUnit, entry: History) -> Markup:
    return sentence("{}: {}, {}. {}", day(entry.date), _link(unit), HISTORY[entry.what].lower(), entry.note)
