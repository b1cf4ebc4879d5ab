"""What runs of loads on a unit show: whether they started, whether they ran on, and how long."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Literal

from site_builder.bench_tests import CapacityTest, LoadRun
from site_builder.catalogue_records import Load
from site_builder.derive.headline import sample_of
from site_builder.derive.overload import LASTING_S, left_out, lowest_soc
from site_builder.derive.reported import is_reported
from site_builder.derive.results import OneResult, SeenRun
from site_builder.measured import Measured

if TYPE_CHECKING:
    from site_builder.derive.answers import Known

StartWord = Literal["starts", "will not", "borderline", "not known"]
RunWord = Literal["lasts", "ran", "cut off"]


def seen_starts(names: frozenset[str], loads: Mapping[str, Load], known: Known) -> dict[str, StartWord]:
    """What runs of exactly these loads together say of their start, by test: those of the first sample with any.

    A sample behind the one whose currents are known decides nothing: it stands beside, never over.
    """
    starts_s = [loads[name].start for name in names if name in loads]
    duration_s = max((start.duration_s.best if start else 1.0 for start in starts_s), default=1.0)
    file = known.file
    words = {one: word for one, test in file.tests.items() if (word := _seen_start(names, test, duration_s))}
    for sample in _deciding_samples(known):
        own = {one: word for one, word in words.items() if sample_of(file.tests[one], file) == sample}
        if own:
            return own
    return {}


def _deciding_samples(known: Known) -> list[str | None]:
    samples: list[str | None] = [*known.file.samples, None]
    of_points = {sample_of(known.file.tests[point.test], known.file) for point in known.points}
    last = [i for i, sample in enumerate(samples) if sample in of_points]
    return samples[: last[0] + 1] if last else samples


def _seen_start(names: frozenset[str], test: object, duration_s: float) -> StartWord | None:
    """What one run says of the start of exactly these loads; with others, or stopped by an inverter, nothing."""
    if not isinstance(test, CapacityTest | LoadRun) or frozenset(test.load or ()) != names or is_reported(test):
        return None
    if isinstance(test, CapacityTest) or test.outcome == "ran":
        return "starts"
    if test.by not in {None, "bms"}:
        return None
    if test.outcome == "did_not_start":
        return "will not"
    # Cut off before the inrush was over, it never ran; cut off later, it had started.
    at_once = test.duration_s is not None and test.duration_s.high <= duration_s
    return "will not" if at_once else "starts"


def seen_lasting(names: frozenset[str], loads: Mapping[str, Load], known: Known) -> dict[str, RunWord]:
    """What runs of exactly these loads say once they have started, by test: of those that decide about the start.

    "lasts" after a whole charge or half an hour, "cut off" where the BMS ended it, "ran" for less: that decides nothing
    but against a sum.
    """
    started = [test for test, word in seen_starts(names, loads, known).items() if word == "starts"]
    words = {test: _went_on(known.file.tests[test]) for test in started}
    return {test: word for test, word in words.items() if word is not None}


def _went_on(test: object) -> RunWord | None:
    if not isinstance(test, LoadRun):
        return "lasts"
    if test.outcome == "ran":
        return "lasts" if test.duration_s is not None and test.duration_s.low >= LASTING_S else "ran"
    # One that was nearly empty, or had others beside it, says no more than it does as a step of an overload test.
    return "cut off" if left_out(None, lowest_soc(test), test) is None else None


def seen_runs(name: str, known: Known) -> list[SeenRun]:
    """Every run of this load on this unit; several loads together are one run and are never split."""
    runs = []
    for test_name, test in known.file.tests.items():
        loads = getattr(test, "load", None) or ()
        if name not in loads:
            continue
        result = known.tests[test_name]
        outcome = test.outcome if isinstance(test, LoadRun) else "ran to the end"
        runs.append(
            SeenRun(
                test=test_name,
                together=tuple(loads),
                outcome=outcome,
                duration=_duration(result, test),
                by=test.by if isinstance(test, LoadRun) else None,
                reported=test.evidence == "reported",
            )
        )
    return runs


def _duration(result: OneResult, test: object) -> Measured | None:
    """How long it ran; to the end of a full charge only where the battery itself ended it. [s]"""
    duration = result.metrics.get("duration_s")
    if duration is None or not isinstance(test, CapacityTest):
        return duration
    own_end = test.ended_by in {"bms", "end_voltage", "unknown"}
    return duration if own_end else duration.opened_up()
