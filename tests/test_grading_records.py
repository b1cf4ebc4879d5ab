"""The catalogue's own grading: read, complete, and its arithmetic unchanged under its version."""

from __future__ import annotations

import hashlib
import json
from typing import Any

import pytest
from pydantic import ValidationError

from site_builder.criteria import FACTS, unit_of
from site_builder.grading_records import Anchor, Grading
from site_builder.nomenclature import METRICS
from tests.grading_data import own_grading

REASONS = {"because", "title", "since"}
# Version → a digest of everything that a score is computed from. A new version is a new line; none is ever changed.
VERSIONS = {1: "76d5a095afea3e4a"}


def arithmetic(node: Any) -> Any:
    """The grading without its words: what scores are made of."""
    if isinstance(node, dict):
        return {key: arithmetic(one) for key, one in node.items() if key not in REASONS}
    return [arithmetic(one) for one in node] if isinstance(node, list | tuple) else node


def digest(grading: Grading) -> str:
    """Of the arithmetic alone."""
    text = json.dumps(arithmetic(grading.model_dump()), sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def test_anchors_weights_and_gates_move_only_with_the_version() -> None:
    assert digest(own_grading()) == VERSIONS[own_grading().version]
    assert max(VERSIONS) == own_grading().version


def test_a_moved_anchor_and_another_weight_change_the_digest_and_a_reworded_reason_does_not() -> None:
    held = own_grading()
    label = held.criteria["label"]
    reworded = label.model_copy(update={"because": "another reason"})
    heavier = label.model_copy(update={"weight": label.weight + 1})
    part = label.parts[0]
    moved = part.model_copy(update={"anchors": (part.anchors[0].model_copy(update={"at": 0.79}), *part.anchors[1:])})
    changes = [reworded, heavier, label.model_copy(update={"parts": (moved,)})]
    digests = [digest(held.model_copy(update={"criteria": {**held.criteria, "label": changed}})) for changed in changes]
    assert [one == digest(held) for one in digests] == [True, False, False]


def test_the_criteria_are_the_seven_questions_and_a_price_without_weight() -> None:
    weights = {name: one.weight for name, one in own_grading().criteria.items()}
    assert weights == {
        "label": 25,
        "overload": 20,
        "household": 15,
        "cold": 15,
        "sag-efficiency": 10,
        "mass": 5,
        "build": 10,
        "price": 0,
    }


def test_the_gates_and_their_caps() -> None:
    """Methods: charges below its limit 40; more than 1.5 times rated carried for 60 s 40; label overstated 60."""
    gates = {gate.when: (gate.cap, gate.times_rated, gate.for_s) for gate in own_grading().gates}
    assert gates == {
        "charges below its limit": (40, None, None),
        "no cut-off": (40, 1.5, 60),
        "label overstated": (60, None, None),
    }
    assert own_grading().least_tested == 0.6


def test_every_anchor_level_weight_and_gate_has_its_reason() -> None:
    held = own_grading()
    parts = [part for one in held.criteria.values() for part in one.parts]
    reasons = [one.because for one in held.criteria.values()] + [one.because for one in held.gates]
    for part in parts:
        reasons += [
            part.because,
            *(one.because for one in part.anchors),
            *(one.because for one in part.levels.values()),
        ]
    assert all(len(because) > 5 for because in reasons)
    assert all(part.fact in METRICS or part.fact in FACTS for part in parts)
    assert all(bool(part.anchors) == (unit_of(part.fact) is not None) for part in parts)


@pytest.mark.parametrize(
    ("points", "code"),
    [("90", "number-form"), (True, "number-form"), (float("nan"), "number-form"), (101, "number-outside")],
)
def test_an_anchor_is_a_plain_number(points: object, code: str) -> None:
    with pytest.raises(ValidationError) as raised:
        Anchor.model_validate({"at": 1, "points": points, "because": "a test"})
    assert [error["type"] for error in raised.value.errors()] == [code]
