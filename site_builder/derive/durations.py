"""How long something took, from what was written down: a duration, two times, or a range where nobody saw the end."""

from __future__ import annotations

from site_builder.bench_tests import AnyTest
from site_builder.derive.readings import Setting, reading
from site_builder.measured import Measured, bounded, rectangular
from site_builder.moments import Moment

DAY_S = 86_400


def recorded_duration_s(test: AnyTest, setting: Setting) -> Measured | None:
    """The test's duration, or None where neither a duration nor both times were written down. [s]"""
    if test.duration_s is not None:
        read = reading(test.duration_s, "s", "time", setting, field="duration_s")
        # A watch is good enough; what was written down ends at its last digit.
        rounding = rectangular(test.duration_s.step / 2) if test.duration_s.form == "plain" else rectangular(0.0)
        plain = Measured(value=read.value, unit="s", components=read.components, bound=read.bound)
        return plain.with_component(setting.own("stated", "last digit"), rounding)
    if test.started is None or test.ended is None:
        return None
    return _between(test.started.on(test.day), test.ended, setting)


def over_time(per_time: Measured, duration: Measured, unit: str) -> Measured | None:
    """Current or power times time; what is open in either is open in the product. [Ah or Wh]

    None where nothing is known, or where zero readings leave less than nothing of a current.
    """
    if per_time.value < 0:
        return None
    return bounded(lambda x, t: x * t / 3600, per_time, duration, unit=unit, rises=(True, True))


def _between(start: Moment, end: Moment, setting: Setting) -> Measured | None:
    """From the two moments; an end before the start is the next day's where no date says otherwise."""
    if start.earliest_s is None or end.earliest_s is None or start.latest_s is None or end.latest_s is None:
        return _days(start, end, setting)
    days = (end.date - start.date).days if start.date and end.date else 0
    shift = days * DAY_S
    if not (start.date and end.date) and end.earliest_s < start.earliest_s:
        shift = DAY_S
    shortest, longest = end.earliest_s + shift - start.latest_s, end.latest_s + shift - start.earliest_s
    middle = (shortest + longest) / 2
    if start.earliest_s == start.latest_s and end.earliest_s == end.latest_s:
        # Times of day are written to the minute.
        return Measured(value=middle, unit="s", components={setting.own("stated", "time"): rectangular(60.0)})
    return Measured(value=middle, unit="s", bound="between", low=shortest, high=longest)


def _days(start: Moment, end: Moment, setting: Setting) -> Measured | None:
    if start.date is None or end.date is None:
        return None
    days = (end.date - start.date).days * DAY_S
    return Measured(value=days, unit="s", components={setting.own("stated", "days"): rectangular(DAY_S)})
