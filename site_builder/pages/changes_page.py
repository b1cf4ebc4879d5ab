"""Everything that happened to the catalogue's results, newest first, by month. Chooses and words; derives nothing."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Mapping

from markupsafe import Markup

from site_builder.catalogue_records import Change
from site_builder.derived import Derived, DerivedUnit
from site_builder.pages.history_words import CHANGES, entry_words, outdated_videos
from site_builder.pages.safe_text import link, sentence
from site_builder.pages.text import day, listed, month
from site_builder.pages.views import PlainPage, Section
from site_builder.pages.words import name_of
from site_builder.records import History

LEAD = "What was added, corrected and tested again, what makers say, and what died; the newest first."
NOTHING = "Nothing has changed since the first results."


def changes_page(derived: Derived) -> PlainPage:
    """The page of changes, also where there are none."""
    by_month: defaultdict[tuple[int, int], list[Markup]] = defaultdict(list)
    for date, _, words in sorted(_events(derived), key=lambda event: event[:2], reverse=True):
        by_month[date.year, date.month].append(sentence("{}: {}", day(date), words))
    return PlainPage(
        title="Changes",
        description="Results added, corrected, tested again or disputed, by date.",
        lead=LEAD if by_month else NOTHING,
        sections=tuple(_section(*when, tuple(items)) for when, items in by_month.items()),
    )


def _section(year: int, number: int, items: tuple[Markup, ...]) -> Section:
    name = month(year, number)
    return Section(anchor=f"m{year}-{number:02d}", heading=name, short=name, lists=(items,))


def _events(derived: Derived) -> Iterator[tuple[dt.date, str, Markup]]:
    """Date, what keeps the order of one day, words."""
    for unit in derived.units:
        for i, entry in enumerate(unit.record.history):
            yield entry.date, f"{unit.id} {i:03d}", _of_unit(unit, entry)
    units = {unit.id: unit for unit in derived.units}
    for i, change in enumerate(derived.catalogue.changes):
        yield change.date, f" {i:03d}", _of_many(change, derived, units)


def _of_unit(unit: DerivedUnit, entry: History) -> Markup:
    since = [unit.record.videos[name] for name in outdated_videos(entry, unit.record)]
    seen = Markup(" and ").join(sentence("“{}”", link(video.url, video.title)) for video in since)
    note = sentence(" Corrected since this video: {}.", seen) if since else ""
    return sentence("{}. {}{}", _page(unit), entry_words(entry), note)


def _of_many(change: Change, derived: Derived, units: Mapping[str, DerivedUnit]) -> Markup:
    """A correction of many, with the bench and the units that it names; those that are not shown stay unnamed."""
    bench = derived.catalogue.benches.get(change.bench or "")
    where = sentence(" ({})", bench.title) if bench else ""
    named = [str(_page(units[name])) for name in change.units if name in units]
    whom = sentence(" Touches {}.", Markup(listed(named))) if named else ""  # noqa: S704  # links made here
    return sentence("{}{}. {}{}", CHANGES[change.what], where, change.note, whom)


def _page(unit: DerivedUnit) -> Markup:
    return sentence('<a href="../units/{}/">{}</a>', Markup(unit.id), name_of(unit.record))  # noqa: S704  # a checked name
