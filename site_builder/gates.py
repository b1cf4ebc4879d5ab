"""Findings that cap a unit's score whatever else is good: which of grading.yml's gates it meets, and on what evidence.

Pure. A gate is met only by more than the uncertainty; where evidence is missing it is not met.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from site_builder.criteria import facts_of, gradable
from site_builder.derive.cold_charge import SAFETY, charge_limit_c
from site_builder.derive.reported import kept
from site_builder.derive.results import UnitResult
from site_builder.grading_records import Gate, GateName
from site_builder.measured import Measured
from site_builder.records import Label, ResultsFile


@dataclass(frozen=True, kw_only=True, slots=True)
class GateHit:
    """A gate that a unit meets: `test` shows it, `seen` is what was measured there, `limit` what it is held against.

    `seen` and `limit` are in the same unit: °C, A, or the share of the rated capacity.
    """

    gate: Gate
    test: str | None
    seen: Measured | None
    limit: float


def gates_hit(result: UnitResult, record: ResultsFile, gates: Iterable[Gate]) -> tuple[GateHit, ...]:
    """Every gate that this unit meets, in the file's order; tests whose evidence was not kept show none."""
    result, record = kept(result, record)
    return tuple(hit for gate in gates if (hit := _CHECKS[gate.when](result, record, gate)) is not None)


def charges_below_limit(result: UnitResult, record: ResultsFile, gate: Gate) -> GateHit | None:
    """Some sample charged its cells below the label's limit, by more than U (decided where the test is derived)."""
    for name, one in result.tests.items():
        if SAFETY in one.conditions:
            seen = one.metrics.get("accepted_from_c")
            return GateHit(gate=gate, test=name, seen=seen, limit=charge_limit_c(record.label))
    return None


def no_cut_off(result: UnitResult, record: ResultsFile, gate: Gate) -> GateHit | None:
    """It carried, without a trip, more than a multiple of its rated current and more than any surge it claims."""
    limit = overload_limit_a(record.label, gate)
    if limit is None or not result.carrying:
        return None
    held = [
        point
        for point in result.carrying[-1].points
        if point.left_out is None and not point.tripped and point.shortest_s >= (gate.for_s or 0.0)
        if point.current.bound != "at_most" and gradable(point.current)
    ]
    most = max(held, key=lambda point: point.current.lowest, default=None)
    if most is None or most.current.lowest <= limit:
        return None
    return GateHit(gate=gate, test=most.test, seen=most.current, limit=limit)


def overload_limit_a(label: Label, gate: Gate) -> float | None:
    """The current above which a battery has to cut off; None where the label states no continuous current. [A]"""
    if label.continuous_discharge_a is None:
        return None
    surges = [surge.current_a.best for surge in label.surge]
    return max([(gate.times_rated or 1.0) * label.continuous_discharge_a.best, *surges])


def label_overstated(result: UnitResult, record: ResultsFile, gate: Gate) -> GateHit | None:
    """It delivered less than rated, by more than U, at the reference rate and to its own end."""
    share = facts_of(result, record).get("rated_share")
    if not isinstance(share, Measured) or not gradable(share) or share.highest >= 1:
        return None
    return GateHit(gate=gate, test=result.headline, seen=share, limit=1.0)


_CHECKS: Mapping[GateName, Callable[[UnitResult, ResultsFile, Gate], GateHit | None]] = {
    "charges below its limit": charges_below_limit,
    "no cut-off": no_cut_off,
    "label overstated": label_overstated,
}
