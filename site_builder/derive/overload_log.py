"""Steps of current in an overload test's own log: what was carried for how long, and whether the battery cut it off.

A log does not say who ended a step. At the terminals it shows: after a BMS cut them off there is no voltage, after
anything else stopped the battery's own comes back.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from site_builder.bench_tests import OverloadTest
from site_builder.derive.overload import Point, left_out, trip_times_s
from site_builder.derive.readings import Setting, instrument_components
from site_builder.measured import Measured, rectangular
from site_builder.records import Label
from site_builder.series import Log

# This project's judgement, all four: a row belongs to a step above this share of the log's largest current, …
STEP_SHARE = 0.2
# … and above this share of the capacity an hour; …
LEAST_IT = 0.1
# … a step whose current leaves its mean by more than this share is no single step; …
STEADY_SHARE = 0.05
# … and below this share of the nominal voltage the battery has switched its terminals off.
OFF_SHARE = 0.5
GAP_INTERVALS = 3.0
NOT_STEADY = "its current was not steady"
GAP = "the log has a gap in it"


@dataclass(frozen=True, slots=True)
class _Step:
    """First and last row of a step; `after_s` is the time since the one before, None for the first."""

    first: int
    last: int
    after_s: float | None


def points_of_log(log: Log, test: OverloadTest, setting: Setting, label: Label) -> list[Point]:
    """The steps of an overload test as its log shows them.

    Args:
        log: Current, and voltage where it was logged: without it no step counts as cut off.
        test: The recorded test.
        setting: Unit, test, bench.
        label: Nominal voltage and capacity.

    Returns:
        Each step with the mean of its current [A] and the time between rows [s].
    """
    return [_point(step, log, test, setting, label) for step in _steps(log, label)]


def has_steps(log: Log | None, label: Label) -> bool:
    """Whether a log shows any step at all."""
    return log is not None and any(True for _ in _steps(log, label))


def _steps(log: Log, label: Label) -> Iterator[_Step]:
    current = log.columns.get("current", np.empty(0))
    on = current > max(STEP_SHARE * float(current.max(initial=0.0)), LEAST_IT * label.capacity_ah.best)
    edges = np.diff(np.concatenate([[False], on, [False]]).astype(np.int8))
    before = None
    for first, end in zip(np.flatnonzero(edges == 1), np.flatnonzero(edges == -1), strict=True):
        last = int(end) - 1
        yield _Step(int(first), last, None if before is None else float(log.time_s[first] - log.time_s[before]))
        before = last


def _point(step: _Step, log: Log, test: OverloadTest, setting: Setting, label: Label) -> Point:
    seen = _between_rows(step, log)
    tripped = _switched_off(step, log, label)
    shortest, longest = trip_times_s(*seen, setting) if tripped else seen
    return Point(
        test=setting.test,
        current=_current(step, log, setting),
        shortest_s=shortest,
        longest_s=longest,
        seen_s=seen,
        tripped=tripped,
        stopped_by="bms" if tripped else None,
        left_out=_unfit(step, log) or left_out(step.after_s, _soc(step, log, test, label), test),
        note=f"from the log, line {int(log.line[step.first])} on",
    )


def _between_rows(step: _Step, log: Log) -> tuple[float, float]:
    """From its first to its last row, and from the row before to the row after: it ended somewhere in between. [s]"""
    time = log.time_s
    shortest = float(time[step.last] - time[step.first])
    if step.last + 1 == len(time):
        return shortest, math.inf
    return shortest, float(time[step.last + 1] - time[max(step.first - 1, 0)])


def _switched_off(step: _Step, log: Log, label: Label) -> bool:
    volts = log.columns.get("voltage")
    if volts is None or step.last + 1 == len(volts):
        return False
    return float(volts[step.last + 1]) < OFF_SHARE * label.nominal_v.best


def _current(step: _Step, log: Log, setting: Setting) -> Measured:
    """Mean of the step's rows, with the logger's limits and half of their range. [A]"""
    rows = log.columns["current"][step.first : step.last + 1]
    mean, field = float(rows.mean()), f"log.{int(log.line[step.first])}"
    form = setting.bench.log if setting.bench else None
    on = setting.instrument(form.current.on if form and form.current else None, "current")
    if on is None:
        return Measured(value=mean, unit="A", basis="as_read")
    components = instrument_components(mean, *on, setting, field=field)
    components[setting.own("range", field)] = rectangular(float(np.ptp(rows)) / 2)
    return Measured(value=mean, unit="A", components={name: one for name, one in components.items() if one.u})


def _unfit(step: _Step, log: Log) -> str | None:
    rows = log.columns["current"][step.first : step.last + 1]
    around = log.time_s[max(step.first - 1, 0) : step.last + 2]
    if float(np.abs(rows / rows.mean() - 1).max()) > STEADY_SHARE:
        return NOT_STEADY
    return GAP if float(np.diff(around).max(initial=0.0)) > GAP_INTERVALS * log.interval_s else None


def _soc(step: _Step, log: Log, test: OverloadTest, label: Label) -> float | None:
    """State of charge at the step: that at the start, less what had flowed since."""
    if test.soc is None:
        return None
    upto = slice(0, step.first + 1)
    taken_ah = float(np.trapezoid(log.columns["current"][upto], log.time_s[upto])) / 3600
    return max(test.soc.best - taken_ah / label.capacity_ah.best, 0.0)
