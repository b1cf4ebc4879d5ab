"""Tests whose evidence was not kept: their figures are told as reported, and nothing is decided from them.

Pure. `OneResult` of such a test carries basis "reported" and no ±; whoever grades looks at `kept` only.
"""

from __future__ import annotations

from dataclasses import replace

from site_builder.bench_tests import AnyTest
from site_builder.derive.overload import Point
from site_builder.derive.results import OneResult, UnitResult
from site_builder.measured import NOT_KEPT, Measured
from site_builder.records import ResultsFile

# What only measured figures are brought to, so that they can stand beside others.
COMPARED = frozenset({"comparable_ah", "comparable_wh", "standard_warm_up_s"})


def is_reported(test: AnyTest) -> bool:
    """Whether the test says that its evidence was not kept."""
    return test.evidence == "reported"


def as_reported(result: OneResult) -> OneResult:
    """The test's figures as somebody reported them: bounds stay, ±, comparisons, curves and findings of safety go."""
    told = {name: reported(one) for name, one in result.metrics.items() if name not in COMPARED}
    return OneResult(
        test=result.test,
        kind=result.kind,
        metrics=told,
        reasons=result.reasons,
        off_reference=result.off_reference,
    )


def reported(one: Measured) -> Measured:
    """The number alone, with the side that is known: no instrument stands behind it."""
    return replace(one, components={}, basis="reported")


def reported_point(point: Point) -> Point:
    """A step that is shown and never used."""
    return replace(point, current=reported(point.current), left_out=NOT_KEPT)


def kept(result: UnitResult, record: ResultsFile) -> tuple[UnitResult, ResultsFile]:
    """Results and record without the tests whose evidence was not kept: all that may be graded."""
    gone = {name for name, test in record.tests.items() if is_reported(test)}
    if not gone:
        return result, record
    loads = {
        name: replace(answer, seen=tuple(run for run in answer.seen if run.test not in gone))
        for name, answer in result.loads.items()
    }
    tests = {name: one for name, one in result.tests.items() if name not in gone}
    left = {name: test for name, test in record.tests.items() if name not in gone}
    carrying = (
        replace(one, points=tuple(point for point in one.points if point.test not in gone)) for one in result.carrying
    )
    used = tuple(one for one in carrying if one.points)
    return replace(result, tests=tests, loads=loads, carrying=used), record.model_copy(update={"tests": left})
