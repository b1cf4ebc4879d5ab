"""Times in an impossible order: within a test, from reading to reading, from a test to its refill. Derives nothing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator

from site_builder.bench_tests import AnyTest, ChargeTest, ColdChargeTest
from site_builder.moments import Moment
from site_builder.problems import Problem
from site_builder.scene import Scene
from site_builder.yaml_text import Path as FieldPath

DAY_S, MINUTE_S = 86_400, 60
ONE_OF_TWO = "correct one of the two"


def check_times(scene: Scene) -> Iterable[Problem]:
    """Ends come after starts, of tests and of a video's scenes; a duration fits both."""
    for name, test, _ in scene.tests():
        yield from _own_day(scene, name, test)
        start, end = test.started, test.ended
        if start and end:
            ended: FieldPath = ("tests", name, "ended")
            if _is_before(end, start.on(test.date)):
                words = (f"{end.text} is before the start {start.text}", ONE_OF_TWO)
                yield scene.problem(ended, *words, "time-order")
            else:
                yield from _other_duration(scene, name, test, start, end)
        yield from _scene_backwards(scene, name, test)


def _own_day(scene: Scene, name: str, test: AnyTest) -> Iterator[Problem]:
    """A test's date is the day it began, so that nothing of it is earlier and its start is no other day."""
    if test.date is None:
        return
    started, ended = test.started and test.started.date, test.ended and test.ended.date
    if started and started != test.date:
        message = f"{started} is another day than the test's own date {test.date}, which is the day it began"
        yield scene.problem(("tests", name, "started"), message, ONE_OF_TWO, "time-order")
    if ended and ended < test.date and not test.started:
        message = f"{ended} is before the test's own date {test.date}, which is the day it began"
        yield scene.problem(("tests", name, "ended"), message, ONE_OF_TWO, "time-order")


def _scene_backwards(scene: Scene, name: str, test: AnyTest) -> Iterator[Problem]:
    shown = test.video
    if shown and shown.from_ is not None and shown.to is not None and shown.to <= shown.from_:
        path: FieldPath = ("tests", name, "video", "to")
        yield scene.problem(path, "the scene ends before it starts", "write from before to", "time-order")


def _is_before(one: Moment, other: Moment) -> bool:
    """Whether it cannot be otherwise: by their days, or by their times on the same day."""
    if one.date is None or other.date is None or one.date != other.date:
        return one.date is not None and other.date is not None and one.date < other.date
    return one.latest_s is not None and other.earliest_s is not None and one.latest_s < other.earliest_s


def _other_duration(scene: Scene, name: str, test: AnyTest, start: Moment, end: Moment) -> Iterator[Problem]:
    """A duration that the times of start and end leave no room for, each to the last digit written."""
    span, duration = _span_s(start.on(test.date), end), test.duration_s
    if span is None or duration is None:
        return
    digits = duration.step / 2 if duration.form == "plain" else 0.0
    if duration.low - digits > span[1] or duration.high + digits < span[0]:
        message = f"{duration.text} does not fit the times from {start.text} to {end.text}"
        way_out = "correct one of the three, or leave out the times where it paused between them"
        yield scene.problem(("tests", name, "duration_s"), message, way_out, "time-order")


def _span_s(start: Moment, end: Moment) -> tuple[float, float] | None:
    """Shortest and longest time from start to end; times of day are written to the minute. [s]"""
    days = (end.date - start.date).days if start.date and end.date else None
    if start.earliest_s is None or start.latest_s is None or end.earliest_s is None or end.latest_s is None:
        return None if days is None else (max(days - 1, 0) * DAY_S, (days + 1) * DAY_S)
    if days is None:  # an end without a day is the next day's where it is the earlier time
        days = 1 if end.latest_s < start.earliest_s else 0
    shift = days * DAY_S
    return end.earliest_s + shift - start.latest_s - MINUTE_S, end.latest_s + shift - start.earliest_s + MINUTE_S


def check_readings(scene: Scene) -> Iterable[Problem]:
    """Readings stand in the order of their times; those without a day may pass midnight once."""
    for name, test, _ in scene.tests():
        if isinstance(test, ColdChargeTest):
            yield from _readings_backwards(scene, name, test)


def _readings_backwards(scene: Scene, name: str, test: ColdChargeTest) -> Iterator[Problem]:
    last, said = _before_readings(test)
    midnight = ""
    for i, at in ((i, one.at) for i, one in enumerate(test.readings) if one.at):
        path: FieldPath = ("tests", name, "readings", i, "at")
        now = at.on(last.date)
        if not at.date and _is_earlier_in_the_day(at, last):
            if midnight:
                message = f"{at.text} is before {said}, and midnight was passed at {midnight} already"
                way_out = f'correct the order, or write days too, such as "{last.date or "2026-05-04"} {at.text}"'
                yield scene.problem(path, message, way_out, "time-order")
            midnight = midnight or at.text
            now = at.on(last.date and last.date + dt.timedelta(days=1))
        elif _is_before(now, last):
            yield scene.problem(path, f"{at.text} is before {said}", "correct the day or the order", "time-order")
        last, said = now, f"the {at.text} above it"


def _before_readings(test: ColdChargeTest) -> tuple[Moment, str]:
    """What no reading may be before: the start, or the test's own day; and its words."""
    if test.started and test.started.date:
        return test.started, f"the start {test.started.text}"
    return Moment(test.date, None, None, ""), f"the test's own date {test.date}"


def _is_earlier_in_the_day(one: Moment, other: Moment) -> bool:
    return one.latest_s is not None and other.earliest_s is not None and one.latest_s < other.earliest_s


def check_refills(scene: Scene) -> Iterable[Problem]:
    """A refill is not before the discharge that it follows."""
    for name, test, _ in scene.tests():
        followed = scene.unit.record.tests.get(test.after or "") if isinstance(test, ChargeTest) else None
        if followed is None:
            continue
        key, began = _first_day(test)
        before = _last_day(followed)
        if began and before and began < before:
            message = f"{began} is before the end of {test.after}, which it follows ({before})"
            yield scene.problem(("tests", name, key), message, "correct one of the two dates, or after", "time-order")


def _first_day(test: AnyTest) -> tuple[str, dt.date | None]:
    """When it began by its own word, with the key that says so."""
    if test.date is None and test.started:
        return "started", test.started.date
    return "date", test.date


def _last_day(test: AnyTest) -> dt.date | None:
    return (test.ended.date if test.ended else None) or _first_day(test)[1]
