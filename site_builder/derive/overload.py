"""How much it carries, for how long: points from overload tests and load runs → brackets, and a fit where they allow.

Only a stop by the battery's own BMS is a trip; a stop by anything else shows that the battery held. A trip after t also
held for every shorter time.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from site_builder.bench_tests import AnyTest, LoadRun, OverloadPoint, OverloadTest
from site_builder.derive.readings import REPEATABILITY, Setting, offset_limit, reading
from site_builder.measured import Measured, weakest_basis
from site_builder.values import Stated

# The times that brackets are published for. [s]
BRACKET_TIMES_S: Mapping[str, float] = {"1_s": 1, "3_s": 3, "10_s": 10, "30_s": 30, "30_min": 1800}
# What was carried for so long is carried for as long as the charge lasts: the longest that steps are asked for. [s]
LASTING_S = BRACKET_TIMES_S["30_min"]
REST_AT_LEAST_S = 300.0
SOC_AT_LEAST = 0.5


@dataclass(frozen=True, kw_only=True, slots=True)
class Point:
    """One current and how long it was carried: as seen, and widened by what a repeat would differ by.

    `left_out` says why a point is shown but not used; `recorded` is the step as it was written down, where it was one.
    """

    test: str
    current: Measured
    shortest_s: float
    longest_s: float
    seen_s: tuple[float, float]
    tripped: bool
    stopped_by: str | None
    load: tuple[str, ...] = ()
    left_out: str | None = None
    note: str | None = None
    recorded: OverloadPoint | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Bracket:
    """What the battery carries for a time: at least `held`, less than `tripped`; None where nobody saw that side.

    `crossed` names a hold above the smallest trip: the battery did not do the same every time.
    """

    held: Point | None
    tripped: Point | None
    crossed: Point | None = None

    def as_measured(self) -> Measured | None:
        """The bracket as one number: between, at least, or at most; its low end is what was carried. [A]"""
        if self.held and self.tripped:
            low, high = self.held.current, self.tripped.current
            wider = high.components if high.u >= low.u else low.components
            basis = weakest_basis(low.basis, high.basis)
            return replace(low, components=wider, bound="between", low=low.value, high=high.value, basis=basis)
        if self.held:
            return self.held.current.as_bound("at_least")
        return self.tripped.current.as_bound("at_most") if self.tripped else None


def points_of_test(test: OverloadTest, setting: Setting) -> list[Point]:
    """The steps of an overload test."""
    return [_step(point, i, test, setting) for i, point in enumerate(test.points)]


def _step(point: OverloadPoint, number: int, test: OverloadTest, setting: Setting) -> Point:
    current = reading(
        point.current_a,
        "A",
        "current",
        setting,
        field=f"points.{number}.current_a",
        read_on=setting.fitting(test.read_on, "current"),
    )
    tripped = not point.held and point.by in {None, "bms"}
    shortest, longest = _times(point.duration_s, setting, tripped=tripped)
    return Point(
        test=setting.test,
        current=current,
        shortest_s=shortest,
        longest_s=longest,
        seen_s=(max(point.duration_s.low, 0.0), point.duration_s.high),
        tripped=tripped,
        stopped_by=point.by or ("bms" if tripped else None),
        left_out=left_out(point.rest_before_s.best if point.rest_before_s else None, _soc(point, test), test),
        note=point.note,
        recorded=point,
    )


def _soc(point: OverloadPoint, test: OverloadTest) -> float | None:
    stated = point.soc or test.soc
    return None if stated is None else stated.best


def point_of_run(run: LoadRun, setting: Setting) -> Point | None:
    """A load run as a point, where its battery current and time are known; one of 0 A shows nothing."""
    if run.current_a is None or run.duration_s is None or run.outcome == "did_not_start" or run.current_a.best <= 0:
        return None
    tripped = run.outcome == "tripped" and run.by in {None, "bms"}
    shortest, longest = _times(run.duration_s, setting, tripped=tripped)
    on = setting.fitting(run.read_on, "current")
    return Point(
        test=setting.test,
        current=reading(run.current_a, "A", "current", setting, field="current_a", read_on=on),
        shortest_s=shortest,
        longest_s=longest,
        seen_s=(max(run.duration_s.low, 0.0), run.duration_s.high),
        tripped=tripped,
        stopped_by=run.by or ("bms" if tripped else None),
        load=run.load,
        left_out=left_out(None, lowest_soc(run), run),
    )


def lowest_soc(run: LoadRun) -> float | None:
    """The state of charge at the emptier end of a run, where both were written down."""
    return min(run.soc.start.best, run.soc.end.best) if run.soc else None


def _times(stated: Stated, setting: Setting, *, tripped: bool) -> tuple[float, float]:
    """The time's limits; a trip's are widened by its clock, and by 2 standard deviations of what a repeat differs by.

    How long a current was held was the tester's choice: it counts as written down.
    """
    low, high = max(stated.low, 0.0), stated.high
    if not tripped:
        return low, high
    off = _clock_s(setting)
    return trip_times_s(low - off, high + off, setting)


def trip_times_s(low: float, high: float, setting: Setting) -> tuple[float, float]:
    """What a trip between two times shows: held for this long, tripped within that, whatever a repeat differs by."""
    declared = setting.bench.repeatability if setting.bench else None
    share = declared.trip_time.best if declared and declared.trip_time else REPEATABILITY["trip_time"]
    return max(low, 0.0) * max(1 - 2 * share, 0.0), high * (1 + 2 * share)


def _clock_s(setting: Setting) -> float:
    """What a time may be off by: the bench's finest clock (seconds are not read off one that shows minutes). [s]"""
    clocks = [one for one in setting.bench.instruments.values() if one.measures == "time"] if setting.bench else []
    limits = [offset_limit(one) + (one.step.best / 2 if one.step else 0.0) for one in clocks]
    return min(limits, default=0.0)


def left_out(rest_s: float | None, soc: float | None, test: AnyTest) -> str | None:
    """Why a step is shown and not used, by its rest [s], state of charge and arrangement; None where it is used."""
    if test.arrangement is not None and test.arrangement.parallel > 1:
        return f"{test.arrangement.parallel} batteries shared it"
    if rest_s is not None and rest_s < REST_AT_LEAST_S:
        return f"after only {rest_s:.0f} s of rest"
    if soc is not None and soc < SOC_AT_LEAST:
        return f"at {soc * 100:.0f} % charge"
    return None


def bracket(points: Iterable[Point], duration_s: float) -> Bracket:
    """The largest current carried that long, and the smallest that tripped sooner.

    Where they cross, the lower end is the largest hold below the smallest trip.
    """
    used = [point for point in points if point.left_out is None]
    holds = [point for point in used if point.shortest_s >= duration_s and point.current.bound != "at_most"]
    trips = [
        point for point in used if point.tripped and point.longest_s <= duration_s and point.current.bound != "at_least"
    ]
    held = max(holds, key=lambda point: point.current.value, default=None)
    tripped = min(trips, key=lambda point: point.current.value, default=None)
    if held is None or tripped is None or held.current.value < tripped.current.value:
        return Bracket(held=held, tripped=tripped)
    below = [point for point in holds if point.current.value < tripped.current.value]
    return Bracket(held=max(below, key=lambda point: point.current.value, default=None), tripped=tripped, crossed=held)


def brackets(points: Iterable[Point]) -> dict[str, Bracket]:
    """Brackets for 1, 3, 10, 30 s and 30 min, by name."""
    known = list(points)
    return {name: bracket(known, duration) for name, duration in BRACKET_TIMES_S.items()}


def starts(points: Iterable[Point], peak_a: float, duration_s: float) -> str:
    """Whether a start of `peak_a` for `duration_s` passes: "starts", "will not", "borderline" or "not known".

    "starts" if some point at or above it held as long; "will not" if some point at or below it tripped no later. A hold
    above the smallest trip decides nothing: the battery did not do the same every time.
    """
    used = [point for point in points if point.left_out is None]
    if not used:
        return "not known"
    smallest = bracket(used, duration_s).tripped
    held = [point for point in used if point.shortest_s >= duration_s and _surely(point, "low") >= peak_a]
    if smallest is not None and _surely(smallest, "high") <= peak_a:
        return "borderline" if held else "will not"
    sure = [point for point in held if smallest is None or point.current.value < smallest.current.value]
    return "starts" if sure else "borderline"


def lasts(points: Iterable[Point], steady_a: float, discharged_a: float) -> str:
    """Whether `steady_a` is carried for as long as the charge lasts: "lasts", "cut off" or "borderline".

    "cut off" if some point at or below it tripped, after whatever time; "borderline" between that and what was held for
    30 min, or given for a whole discharge (`discharged_a`). Without any trip nothing speaks against it: "lasts".
    """
    used = [point for point in points if point.left_out is None]
    smallest = bracket(used, math.inf).tripped
    if smallest is None:
        return "lasts"
    held = [point for point in _held_on(used) if _surely(point, "low") >= steady_a]
    if _surely(smallest, "high") <= steady_a:
        return "borderline" if held or discharged_a >= steady_a else "cut off"
    sure = [point for point in held if point.current.value < smallest.current.value]
    return "lasts" if sure or discharged_a >= steady_a else "borderline"


def either_side_of_steady(points: Iterable[Point]) -> tuple[Point | None, Point | None]:
    """The steps that `lasts` goes by: the most that was held for 30 min, below the smallest that tripped, and that."""
    used = [point for point in points if point.left_out is None]
    smallest = bracket(used, math.inf).tripped
    below = [point for point in _held_on(used) if smallest is None or point.current.value < smallest.current.value]
    return max(below, key=lambda point: point.current.value, default=None), smallest


def _held_on(points: Iterable[Point]) -> list[Point]:
    """Those held for 30 min without a trip after it."""
    longest = [point for point in points if not point.tripped and point.shortest_s >= LASTING_S]
    return [point for point in longest if point.current.bound != "at_most"]


def either_side(points: Iterable[Point], peak_a: float, duration_s: float) -> tuple[Point | None, Point | None]:
    """The steps that `starts` goes by: the one that carried a current, and the one that tripped at another.

    The first surely carried as much, or else carried most for so long; the second is the smallest that tripped in time.
    """
    used = [point for point in points if point.left_out is None]
    tripped = bracket(used, duration_s).tripped if used else None
    carried = [point for point in used if point.shortest_s >= duration_s and point.current.bound != "at_most"]
    below = [point for point in carried if tripped is None or point.current.value < tripped.current.value]
    sure = [point for point in below if _surely(point, "low") >= peak_a]
    if sure:
        return min(sure, key=lambda point: point.current.value), tripped
    return max(below, key=lambda point: point.current.value, default=None), tripped


def _surely(point: Point, end: str) -> float:
    """The current that the point surely had at least ("low") or at most ("high"), with its U. [A]"""
    if end == "low":
        return -math.inf if point.current.bound == "at_most" else point.current.value - (point.current.expanded or 0.0)
    return math.inf if point.current.bound == "at_least" else point.current.value + (point.current.expanded or 0.0)
