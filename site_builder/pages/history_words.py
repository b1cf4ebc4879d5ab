"""What happened to results, in words: one battery's history, and corrections that touch many. Nothing is derived."""

from __future__ import annotations

import datetime as dt

from markupsafe import Markup

from site_builder.catalogue_records import Change
from site_builder.derived import DerivedUnit
from site_builder.pages.recorded import spoken
from site_builder.pages.safe_text import sentence
from site_builder.pages.text import day, listed
from site_builder.records import History, ResultsFile

HISTORY = {
    "added": "Added",
    "corrected": "Corrected",
    "retested": "Tested again",
    "firmware": "New firmware",
    "replaced": "Replaced",
    "died": "Died",
    "discontinued": "Discontinued",
    "maker_says": "The maker says",
    "disputed": "The maker disputes this",
}
CHANGES = {
    "bench": "A bench",
    "grading": "The grading",
    "method": "A method",
    "load": "A load",
    "code": "The program that works the numbers out",
}


def entry_words(entry: History) -> Markup:
    """One entry without its date: "Corrected (galley). The hob ran alone. Found by a viewer."."""
    tests = sentence(" ({})", listed([spoken(name) for name in entry.tests])) if entry.tests else ""
    found = sentence(" Found by {}.", entry.found_by) if entry.found_by else ""
    kept = sentence(" Kept because: {}", entry.kept_because) if entry.kept_because else ""
    return sentence("{}{}. {}{}{}", HISTORY[entry.what], tests, entry.note, found, kept)


def dated_entry(entry: History) -> Markup:
    """One entry, its date first."""
    return sentence("{}: {}", day(entry.date), entry_words(entry))


def touches(change: Change, unit: DerivedUnit) -> bool:
    """Whether a correction of many concerns this unit: named, or tested on that bench, or all are meant."""
    record = unit.record
    benches = {test.bench or record.bench for test in record.tests.values()}
    return unit.id in change.units or (not change.units and (change.bench is None or change.bench in benches))


def outdated_videos(entry: History, record: ResultsFile) -> list[str]:
    """Names of the videos that show what an entry corrects and were published before it."""
    tests = entry.tests or tuple(record.tests)
    shown = [record.tests[name].video for name in tests if name in record.tests]
    names = dict.fromkeys(one.in_ for one in shown if one is not None and one.in_ in record.videos)
    return [name for name in names if entry.what == "corrected" and record.videos[name].date < entry.date]


def corrected_since(test: str, record: ResultsFile) -> dt.date | None:
    """When a test was last corrected after the video that shows it; None where the video still says the same."""
    shown = record.tests[test].video
    dates = [
        entry.date
        for entry in record.history
        if shown is not None
        and (not entry.tests or test in entry.tests)
        and shown.in_ in outdated_videos(entry, record)
    ]
    return max(dates, default=None)
