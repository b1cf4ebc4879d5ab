"""Which of several capacity tests leads, and which a later one has replaced."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from site_builder.bench_tests import AnyTest, CapacityTest
from site_builder.derive.capacity import OWN_END
from site_builder.derive.results import OneResult
from site_builder.records import ResultsFile


def sample_of(test: AnyTest, file: ResultsFile) -> str | None:
    """The sample a test was made on: named, or the file's only one."""
    return test.sample or next(iter(file.samples), None)


def sample_rank(name: str, file: ResultsFile) -> int:
    """Where the sample of a test stands in the file: the first one, 0, speaks for the unit."""
    samples, sample = list(file.samples), sample_of(file.tests[name], file)
    return samples.index(sample) if sample in samples else 0


def date_of(test: AnyTest, file: ResultsFile) -> dt.date | None:
    """When the test was made: its own day, else that of the video that shows it."""
    if test.day is not None:
        return test.day
    video = file.videos.get(test.video.in_) if test.video else None
    return video.date if video else None


def capacity_names(file: ResultsFile) -> list[str]:
    """Names of the capacity tests, in the file's order."""
    return [name for name, test in file.tests.items() if isinstance(test, CapacityTest)]


def series_of(name: str, file: ResultsFile) -> tuple[object, ...]:
    """What makes two capacity tests repeats: sample, bench and method (another load is another method)."""
    test = file.tests[name]
    return sample_of(test, file), test.bench or file.bench, getattr(test, "load", None)


def superseded_by(file: ResultsFile, tests: Mapping[str, OneResult]) -> dict[str, str]:
    """Older capacity tests → the latest one of the same sample, bench and method that is on reference."""
    replaced: dict[str, str] = {}
    dated = [(date, name) for name in capacity_names(file) if (date := date_of(file.tests[name], file)) is not None]
    for later, newer in sorted(dated):
        if file.tests[newer].evidence == "reported":
            continue
        if tests[newer].off_reference or getattr(file.tests[newer], "ended_by", None) not in OWN_END:
            continue
        for earlier, older in dated:
            if earlier < later and series_of(older, file) == series_of(newer, file):
                replaced[older] = newer
    return replaced


def headline_of(file: ResultsFile, tests: Mapping[str, OneResult], superseded: Mapping[str, str]) -> str | None:
    """The test that leads: first sample, metered before as-read, on reference before off, exact, then smallest u.

    One whose evidence was kept goes before any that is only reported.
    """
    samples = list(file.samples)

    def order(name: str) -> tuple[Any, ...]:
        result, sample = tests[name], sample_of(file.tests[name], file)
        lead = result.metrics.get("delivered_wh") or result.metrics["delivered_ah"]
        rank = samples.index(sample) if sample in samples else 0
        relative_u = lead.u / abs(lead.value or 1)
        own = lead.basis == "as_read", bool(result.off_reference), lead.bound != "exact", relative_u, name
        return lead.basis == "reported", rank, *own

    candidates = [name for name in capacity_names(file) if name not in superseded and _delivers(tests[name])]
    return min(candidates, key=order, default=None)


def _delivers(result: OneResult) -> bool:
    return "delivered_ah" in result.metrics or "delivered_wh" in result.metrics
