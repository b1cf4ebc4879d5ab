"""What stands under a video that shows a battery: plain text in three lengths. No metric is made here.

Whichever length is taken, it says how the battery was obtained and who earns from what.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from site_builder.derived import Derived, DerivedUnit
from site_builder.pages.disclosure import PAYS, in_force, obtained, provenance
from site_builder.pages.history_words import HISTORY, touches
from site_builder.pages.recorded import spoken
from site_builder.pages.safe_text import safe, sentence
from site_builder.pages.text import day
from site_builder.pages.video_words import clock
from site_builder.pages.views import Fact
from site_builder.pages.words import name_of, plain
from site_builder.records import ResultsFile

REVISED = frozenset({"corrected", "retested", "disputed", "died"})


@dataclass(frozen=True, kw_only=True, slots=True)
class VideoText:
    """One length of the text under a video."""

    title: str
    lines: tuple[str, ...]

    @property
    def words(self) -> Markup:
        """The lines as text of a page."""
        return Markup("\n").join(safe(line) for line in self.lines)


def video_texts(
    unit: DerivedUnit, derived: Derived, lead: Sequence[Markup], facts: Sequence[Fact]
) -> tuple[VideoText, ...]:
    """The same in three lengths: one sentence; two and the key figures; and with each test's second."""
    record, name = unit.record, name_of(unit.record)
    offers = [f"{PAYS[offer.pays]}: {offer.url}" for offer in in_force(record, derived.as_of)]
    from_where = [
        plain(obtained(sample, key if len(record.samples) > 1 else "")) + "." for key, sample in record.samples.items()
    ]
    where = f"All figures, their ± and how they were made: {derived.address_of(unit.id)}"
    said = [plain(words) for words in lead]
    short = [f"{name}: {said[0] if said else 'not tested yet.'}", where, *from_where, *offers]
    figures = [f"{fact.name}: {_figure(fact)}" for fact in facts]
    source = plain(provenance(unit, derived.catalogue.benches))
    middle = [f"{name}: {' '.join(said[:2])}", "", *figures, "", where, source, *offers]
    revised = list(_revised(unit, derived))
    long = [
        f"{name}: {' '.join(said)}", "", *figures, "", *_seconds(record),
        *(["Since then:", *revised, ""] if revised else []),
        where, f"As of {plain(day(derived.as_of))}.", source, *offers,
    ]  # fmt: skip
    lengths = (("One sentence", short), ("Two sentences and figures", middle), ("With every test's second", long))
    return tuple(VideoText(title=title, lines=tuple(lines)) for title, lines in lengths)


def _figure(fact: Fact) -> str:
    below = plain(sentence("{}", fact.below)).strip() if fact.below else ""
    return f"{plain(sentence('{}', fact.value))}{f' ({below})' if below else ''}"


def _seconds(record: ResultsFile) -> Iterator[str]:
    """Each video's tests in the order in which it shows them, as m:ss."""
    for key, video in record.videos.items():
        shown = [
            (test.video.from_, f"{clock(test.video.from_)} {spoken(name)}")
            for name, test in record.tests.items()
            if test.video is not None and test.video.in_ == key and test.video.from_ is not None
        ]
        if shown:
            yield f"In “{video.title}”:"
            yield from (line for _, line in sorted(shown))
            yield ""


def _revised(unit: DerivedUnit, derived: Derived) -> Iterator[str]:
    """What was corrected, tested again or disputed since the first video."""
    first = min((video.date for video in unit.record.videos.values()), default=dt.date.min)
    said = [
        (entry.date, f"{HISTORY[entry.what]}. {entry.note}") for entry in unit.record.history if entry.what in REVISED
    ]
    said += [(change.date, change.note) for change in derived.catalogue.changes if touches(change, unit)]
    yield from (f"{plain(day(date))}: {words}" for date, words in sorted(said) if date > first)
