"""A unit's evidence of what it carries: points of overload tests and load runs, split where the firmware changed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

from site_builder.bench_tests import LoadRun, OverloadTest
from site_builder.derive.headline import date_of, sample_of
from site_builder.derive.overload import Point, brackets, point_of_run, points_of_test
from site_builder.derive.overload_log import points_of_log
from site_builder.derive.readings import Setting
from site_builder.derive.reported import is_reported, reported_point
from site_builder.derive.results import Carrying, Finding
from site_builder.derive.trip_curve import trip_curve
from site_builder.records import ResultsFile
from site_builder.series import Log

Findings = tuple[tuple[str, Finding], ...]


def carrying_of(
    file: ResultsFile, settings: Mapping[str, Setting], logs: Mapping[str, Log]
) -> tuple[tuple[Carrying, ...], Findings]:
    """Brackets and curve of the first sample that has points, one for each firmware, oldest test first.

    Firmware without a dated test keeps its place in the file. An overload test's log is read where nobody wrote its
    steps down: the same step from both would count twice.
    """
    points = {name: _points(name, file, settings[name], logs.get(name)) for name in file.tests}
    groups: dict[str | None, list[Point]] = {}
    for name in sorted(_names(file, points), key=lambda name: date_of(file.tests[name], file) or dt.date.min):
        groups.setdefault(_firmware(name, file), []).extend(points[name])
    # The last one speaks for the unit: not firmware of which there are reports alone.
    in_turn = sorted(groups.items(), key=lambda group: any(one.current.basis != "reported" for one in group[1]))
    found = tuple(
        Carrying(firmware=firmware, points=tuple(points), brackets=brackets(points), curve=trip_curve(points))
        for firmware, points in in_turn
    )
    return found, tuple(contradiction for one in found for contradiction in _contradictions(one))


def _names(file: ResultsFile, points: Mapping[str, list[Point]]) -> list[str]:
    """The tests with points of the first sample that has any; another sample's say nothing of it."""
    with_points = [name for name in file.tests if points[name]]
    kept = [name for name in with_points if not is_reported(file.tests[name])]
    for sample in [*file.samples, None]:
        if any(sample_of(file.tests[name], file) == sample for name in kept or with_points):
            return [name for name in with_points if sample_of(file.tests[name], file) == sample]
    return []


def _points(name: str, file: ResultsFile, setting: Setting, log: Log | None) -> list[Point]:
    test = file.tests[name]
    if isinstance(test, OverloadTest) and log is not None and not test.points:
        points = points_of_log(log, test, setting, file.label)
    elif isinstance(test, OverloadTest):
        points = points_of_test(test, setting)
    else:
        point = point_of_run(test, setting) if isinstance(test, LoadRun) else None
        points = [] if point is None else [point]
    return [reported_point(one) for one in points] if is_reported(test) else points


def _firmware(name: str, file: ResultsFile) -> str | None:
    test = file.tests[name]
    sample = file.samples.get(sample_of(test, file) or "")
    return test.firmware or (sample.firmware if sample else None)


def _contradictions(one: Carrying) -> list[tuple[str, Finding]]:
    """A hold above the smallest trip by more than both uncertainties: the battery did not do the same every time."""
    found: dict[str, tuple[str, Finding]] = {}
    for bracket in one.brackets.values():
        if bracket.crossed is None or bracket.tripped is None:
            continue
        held, tripped = bracket.crossed.current, bracket.tripped.current
        if held.value - tripped.value <= (held.expanded or 0.0) + (tripped.expanded or 0.0):
            continue
        message = f"it carried {held.value:.3g} A here, and tripped at {tripped.value:.3g} A in {bracket.tripped.test}"
        hint = "check currents and times, or say in a note what differed (rest, charge, temperature)"
        finding = Finding(field="", message=message, hint=hint, code="trips-contradict")
        found.setdefault(bracket.crossed.test, (bracket.crossed.test, finding))
    return list(found.values())
