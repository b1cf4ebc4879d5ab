"""Findings that cap a score: met by more than the uncertainty, and only where there is evidence."""

from __future__ import annotations

from typing import Any

import pytest

from site_builder.derive.cold_charge import SAFETY
from site_builder.derive.overload import Point
from site_builder.derive.results import Carrying
from site_builder.gates import GateHit, gates_hit
from site_builder.grading_records import Gate
from site_builder.measured import Measured
from tests.test_criteria import ICE, metered, one, record, result


def gate(when: Any, **more: Any) -> Gate:
    """A gate of the file."""
    return Gate(when=when, cap=40, title="a test", because="a test", **more)


COLD, LABEL = gate("charges below its limit"), gate("label overstated")
OVERLOAD = gate("no cut-off", times_rated=1.5, for_s=60)


def hits(found: tuple[GateHit, ...]) -> list[str]:
    """Their names."""
    return [hit.gate.when for hit in found]


def test_any_sample_that_charges_below_its_limit_is_enough() -> None:
    tests = {"ice": one("ice", "cold_charge", conditions=(SAFETY,), metrics={"accepted_from_c": metered(-9, "°C")})}
    (hit,) = gates_hit(result(tests), record(ICE, charge={"min_c": 0}), [COLD, OVERLOAD, LABEL])
    assert (hit.gate, hit.test, hit.limit) == (COLD, "ice", 0.0)
    assert hit.seen == metered(-9, "°C")
    assert gates_hit(result({"ice": one("ice", "cold_charge", conditions=("not decided",))}), record(ICE), [COLD]) == ()


@pytest.mark.parametrize(
    ("share", "expected"),
    [
        (metered(90, "Ah"), True),
        (metered(98.1, "Ah"), False),
        (metered(97.9, "Ah"), True),
        (metered(90, "Ah", bound="at_least"), False),
        (metered(90, "Ah", bound="at_most"), True),
        (metered(90, "Ah", basis="as_read"), False),
        (None, False),
    ],
)
def test_a_label_is_overstated_by_more_than_u(share: Measured | None, expected: bool) -> None:
    """At u 1 % of the value U is 1.96 %: 98.1 may be 100, 97.9 may not."""
    metrics = {} if share is None else {"comparable_ah": share}
    assert hits(gates_hit(result(metrics=metrics), record({}), [LABEL])) == (["label overstated"] if expected else [])


def point(current: Measured, seconds: float, *, tripped: bool = False, left_out: str | None = None) -> Point:
    """A current and how long it was carried."""
    return Point(
        test="steps",
        current=current,
        shortest_s=seconds,
        longest_s=seconds,
        seen_s=(seconds, seconds),
        tripped=tripped,
        stopped_by=None,
        left_out=left_out,
    )


@pytest.mark.parametrize(
    ("seen", "label", "expected"),
    [
        (point(metered(150), 60), {}, True),
        (point(metered(122), 60), {}, False),
        (point(metered(150), 59), {}, False),
        (point(metered(150), 60, tripped=True), {}, False),
        (point(metered(150), 60, left_out="at 20 % charge"), {}, False),
        (point(metered(150, bound="at_most"), 60), {}, False),
        (point(metered(150, bound="at_least"), 60), {}, True),
        (point(metered(150, basis="as_read"), 60), {}, False),
        (point(metered(150), 60), {"surge": [{"current_a": 160, "duration_s": 5}]}, False),
        (point(metered(170), 60), {"surge": [{"current_a": 160, "duration_s": 5}]}, True),
        (point(metered(150), 60), {"continuous_discharge_a": None}, False),
    ],
)
def test_no_cut_off_is_a_minute_above_the_label(seen: Point, label: dict[str, Any], expected: bool) -> None:
    """Rated 80 A: 120 A and more by U (2 %), and more than every surge that is claimed."""
    carrying = (Carrying(firmware=None, points=(seen,), brackets={}, curve=None),)
    found = gates_hit(result(carrying=carrying), record({}, **label), [OVERLOAD])
    assert hits(found) == (["no cut-off"] if expected else [])


def test_a_newer_firmware_that_cuts_off_lifts_the_gate() -> None:
    old, new = (
        Carrying(firmware=name, points=(point(metered(150), 60, tripped=tripped),), brackets={}, curve=None)
        for name, tripped in (("1", False), ("2", True))
    )
    assert hits(gates_hit(result(carrying=(old,)), record({}), [OVERLOAD])) == ["no cut-off"]
    assert gates_hit(result(carrying=(old, new)), record({}), [OVERLOAD]) == ()


def test_no_evidence_no_gate() -> None:
    assert gates_hit(result(), record({}), [COLD, OVERLOAD, LABEL]) == ()
