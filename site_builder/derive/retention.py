"""Tested again: what is left of a capacity, only within one sample, bench and method, shared errors cancelled."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from site_builder.derive.results import OneResult, Retention
from site_builder.measured import Measured, through


@dataclass(frozen=True, kw_only=True, slots=True)
class Dated:
    """One capacity test with what makes it comparable."""

    test: str
    date: dt.date
    series: tuple[object, ...]
    result: OneResult


def retentions(tests: Sequence[Dated]) -> list[Retention]:
    """Each later test against the first of its series: the share left, both ends exact and on reference."""
    first: dict[tuple[object, ...], Dated] = {}
    found: list[Retention] = []
    for one in sorted(tests, key=lambda dated: (dated.date, dated.test)):
        if not _usable(one.result.metrics) or one.result.off_reference:
            continue
        earlier = first.setdefault(one.series, one)
        if earlier is not one:
            found.append(Retention(first=earlier.test, later=one.test, share=share_left(earlier.result, one.result)))
    return found


def share_left(earlier: OneResult, later: OneResult) -> Measured:
    """Later charge over earlier charge; the gain they share cancels. [1]"""
    return through(lambda a, b: b / a, earlier.metrics["delivered_ah"], later.metrics["delivered_ah"], unit="1")


def _usable(metrics: Mapping[str, Measured]) -> bool:
    charge = metrics.get("delivered_ah")
    return charge is not None and charge.bound == "exact" and charge.basis == "measured"
