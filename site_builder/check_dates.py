"""Dates: nothing after the catalogue's own date, no test before its bench or after its video. Derives nothing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator

from site_builder.bench_tests import AnyTest, ColdChargeTest
from site_builder.load import Loaded, UnitFile
from site_builder.problems import Problem
from site_builder.records import ResultsFile, Sample, Video
from site_builder.scene import Scene
from site_builder.yaml_text import Path as FieldPath


def check_dates(scene: Scene) -> Iterable[Problem]:
    """Nothing is dated after the catalogue's set date; no test before its bench stood or its sample was there.

    Nor is one shown before it was made.
    """
    for path, date in _all_dates(scene.unit.record):
        if scene.not_after and date > scene.not_after:
            yield scene.problem(path, *future(date, scene.not_after))
    for name, test, bench in scene.tests():
        sample, video = _sample_of(name, scene.unit), _video_of(test, scene.unit)
        for key, date in _dates(test):
            path = ("tests", name, *key)
            if bench is not None and date < bench.since:
                message = f"{date} is before the bench stood like this ({bench.since})"
                yield scene.problem(path, message, "name the bench entry of that time", "date-bench")
            if sample and sample.date and date < sample.date:
                message = f"{date} is before the sample was obtained ({sample.date})"
                yield scene.problem(path, message, "correct one of the two", "date-sample")
            if video and date > video.date:
                message = f"{date} is after the video that shows the test ({video.date})"
                yield scene.problem(path, message, "correct one of the two, or name another video", "date-video")


def future(date: dt.date, not_after: dt.date) -> tuple[str, str, str]:
    """Message, way out and code for what is dated after the catalogue."""
    message = f"{date} is after the catalogue's date {not_after}"
    return message, "correct the date, or publish later", "date-future"


def _sample_of(name: str, unit: UnitFile) -> Sample | None:
    """The sample of a test, by its own word or as the file's only one; None where that could not be read."""
    named = unit.record.tests[name].sample or next(iter(unit.names("samples")), "")
    return None if unit.lacks(f"tests.{name}.sample") else unit.record.samples.get(named)


def _video_of(test: AnyTest, unit: UnitFile) -> Video | None:
    """The video that shows a test; None where it or its date could not be read."""
    return unit.record.videos.get(test.video.in_) if test.video else None


def _all_dates(record: ResultsFile) -> Iterator[tuple[FieldPath, dt.date]]:
    """Every day on which something happened, with its place: an offer's last day is none."""
    for name, test in record.tests.items():
        yield from ((("tests", name, *key), day) for key, day in _dates(test))
    yield from ((("samples", name, "date"), one.date) for name, one in record.samples.items() if one.date)
    yield from ((("videos", name, "date"), one.date) for name, one in record.videos.items())
    yield from ((("history", i, "date"), one.date) for i, one in enumerate(record.history))
    if record.viewed:
        yield ("viewed",), record.viewed


def newest_date(loaded: Loaded) -> dt.date:
    """The newest date of a test, sample, video, view, history entry, price or change."""
    dates = [price.date for price in loaded.catalogue.prices] + [change.date for change in loaded.catalogue.changes]
    dates += [day for unit in loaded.units for _, day in _all_dates(unit.record)]
    return max(dates, default=dt.date(1970, 1, 1))


def _dates(test: AnyTest) -> Iterator[tuple[FieldPath, dt.date]]:
    """The places in a test that say a day, with it."""
    days = {"date": test.date, "started": test.started and test.started.date, "ended": test.ended and test.ended.date}
    yield from (((key,), day) for key, day in days.items() if day)
    if isinstance(test, ColdChargeTest):
        moments = ((("readings", i, "at"), one.at) for i, one in enumerate(test.readings))
        yield from ((path, at.date) for path, at in moments if at and at.date)


def check_changes(loaded: Loaded, not_after: dt.date | None) -> Iterable[Problem]:
    """No correction is dated after the catalogue's set date."""
    document = loaded.documents.get("changes.yml")
    for i, change in enumerate(loaded.catalogue.changes):
        if document is not None and not_after and change.date > not_after:
            yield document.problem((i, "date"), *future(change.date, not_after))
