"""Tested again: what is left of a capacity, only within one sample, bench and method, shared errors cancelled."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from site_builder.derive.peukert import LEAD_PER_K, LFP_EXCESS_CHARGE, LFP_PER_10_K
from site_builder.derive.results import OneResult, Retention
from site_builder.measured import Measured, rectangular, through

# How far Peukert's k may lie above 1, and what a kelvin may change; other chemistries as lead-acid (judgement).
SENSITIVITY = {"LiFePO4": (LFP_EXCESS_CHARGE, LFP_PER_10_K / 10)}
LEAD_ACID = (0.3, LEAD_PER_K)


@dataclass(frozen=True, kw_only=True, slots=True)
class Dated:
    """One capacity test with what makes it comparable."""

    test: str
    date: dt.date
    series: tuple[object, ...]
    result: OneResult


def retentions(tests: Sequence[Dated], chemistry: str) -> list[Retention]:
    """Each later test against the first of its series: the share left, both ends exact and on reference."""
    first: dict[tuple[object, ...], Dated] = {}
    found: list[Retention] = []
    for one in sorted(tests, key=lambda dated: (dated.date, dated.test)):
        if not _usable(one.result.metrics) or one.result.off_reference:
            continue
        earlier = first.setdefault(one.series, one)
        if earlier is not one:
            share = share_left(earlier.result, one.result, chemistry)
            found.append(Retention(first=earlier.test, later=one.test, share=share))
    return found


def share_left(earlier: OneResult, later: OneResult, chemistry: str = "LiFePO4") -> Measured:
    """Later charge over earlier charge, at the earlier one's rate; the gain they share cancels. [1]

    Also two tests on reference may differ in rate and temperature by enough to look like wear.
    """
    share = through(lambda a, b: b / a, earlier.metrics["delivered_ah"], later.metrics["delivered_ah"], unit="1")
    excess, per_k = SENSITIVITY.get(chemistry, LEAD_ACID)
    half_rate = excess / 2 * math.log(_ratio(earlier.metrics.get("rate_it"), later.metrics.get("rate_it")))
    apart_k = _difference(earlier.metrics.get("temperature_c"), later.metrics.get("temperature_c"))
    factor = math.exp(half_rate)
    components = {name: one.scaled(factor) for name, one in share.components.items()}
    components[f"peukert:{earlier.test}/{later.test}"] = rectangular(half_rate * share.value)
    components[f"temperature:{earlier.test}/{later.test}"] = rectangular(per_k * apart_k * share.value)
    known = {name: one for name, one in components.items() if one.u}
    return replace(share, value=share.value * factor, components=known)


def _ratio(earlier: Measured | None, later: Measured | None) -> float:
    return later.value / earlier.value if earlier and later and earlier.value > 0 and later.value > 0 else 1.0


def _difference(earlier: Measured | None, later: Measured | None) -> float:
    return later.value - earlier.value if earlier and later else 0.0


def _usable(metrics: Mapping[str, Measured]) -> bool:
    charge = metrics.get("delivered_ah")
    return charge is not None and charge.bound == "exact" and charge.basis == "measured"
