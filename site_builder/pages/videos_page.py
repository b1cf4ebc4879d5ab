"""From a video to the batteries it shows, the second of each test, and what was corrected since."""

from __future__ import annotations

from collections.abc import Iterator

from markupsafe import Markup

from site_builder.derived import Derived, DerivedUnit
from site_builder.pages.history_words import HISTORY, outdated_videos
from site_builder.pages.recorded import spoken
from site_builder.pages.safe_text import escaped, link, sentence
from site_builder.pages.text import day
from site_builder.pages.video_text import REVISED
from site_builder.pages.video_words import at_second, clock
from site_builder.pages.views import PlainPage, Section, Words
from site_builder.pages.words import name_of
from site_builder.records import Video


def videos_page(derived: Derived) -> PlainPage:
    """Every video, newest first; one that shows several batteries stands once."""
    shown: dict[str, list[tuple[DerivedUnit, str, Video]]] = {}
    for unit in derived.units:
        for key, video in unit.record.videos.items():
            shown.setdefault(video.url, []).append((unit, key, video))
    newest_first = sorted(shown.values(), key=lambda one: (-one[0][2].date.toordinal(), one[0][2].title))
    return PlainPage(
        title="Videos",
        description="Every video, the batteries it shows, the second of each test, and what was corrected since.",
        lead="From a video to the batteries it shows. A time opens the video at that second."
        if shown
        else "No results file names a video yet.",
        sections=tuple(_section(units) for units in newest_first),
    )


def _section(units: list[tuple[DerivedUnit, str, Video]]) -> Section:
    first, key, video = units[0]
    says: list[Words] = [sentence("{}: {}", day(video.date), link(video.url, "watch it"))]
    lines = tuple(line for unit, name, one in units for line in _lines(unit, name, one))
    return Section(
        anchor=f"{first.id}-{key}",
        heading=escaped(video.title),
        short=escaped(video.title),
        says=tuple(says),
        lists=(lines,),
    )


def _lines(unit: DerivedUnit, key: str, video: Video) -> Iterator[Words]:
    page = Markup(f"../units/{unit.id}/")  # noqa: S704  # a checked name
    tests = [
        (test.video.from_ or 0, name, test.video)
        for name, test in unit.record.tests.items()
        if test.video is not None and test.video.in_ == key
    ]
    seconds = [
        sentence(
            '{} <a href="{}#test-{}">{}</a>',
            link(at_second(video, shown.from_), clock(shown.from_)) if shown.from_ is not None else "",
            page,
            Markup(name),  # noqa: S704  # a checked name
            spoken(name),
        )
        for _, name, shown in sorted(tests, key=lambda one: one[:2])
    ]
    listed = sentence(": {}", Markup(", ").join(seconds)) if seconds else ""
    yield sentence('<a href="{}">{}</a>{}', page, name_of(unit.record), listed)
    yield from _since(unit, key, page)


def _since(unit: DerivedUnit, key: str, page: Markup) -> Iterator[Words]:
    """What changed after the video was published."""
    video = unit.record.videos[key]
    for entry in sorted(unit.record.history, key=lambda entry: entry.date):
        if entry.what in REVISED and entry.date > video.date:
            since = "Corrected since this video" if key in outdated_videos(entry, unit.record) else HISTORY[entry.what]
            name = name_of(unit.record)
            yield sentence('<a href="{}#evidence">{}</a>, {}: {}. {}', page, name, day(entry.date), since, entry.note)
