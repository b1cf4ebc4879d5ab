"""Where a leader loses its place, on crossings that can be worked out by hand, and against a fine scan."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest

from site_builder.gates import GateHit
from site_builder.grade import Graded, graded_facts, score_ends
from site_builder.grading_records import Gate
from site_builder.sensitivity import WeightRange, leader, quadratic_roots, weight_ranges
from tests.grading_data import METRICS, criterion, grading, measured, unit


def span(one: WeightRange) -> tuple[float, float | None, str | None, str | None]:
    """From, to, and who leads beyond."""
    return round(one.low, 9), None if one.high is None else round(one.high, 9), one.below, one.above


def test_two_scores_cross_where_their_weighted_sums_are_equal() -> None:
    """A 80, 40 and B 60, 70: 80 w + 40 = 60 w + 70 at w = 1.5, and 2·80 + 40 v = 2·60 + 70 v at v = 4/3."""
    held = grading([2, 1])
    first, second = weight_ranges([unit("a", [80, 40], held), unit("b", [60, 70], held)])
    assert (first.criterion, first.weight) == ("c0", 2)
    assert span(first) == (1.5, None, "b", None)
    assert span(second) == (0, round(4 / 3, 9), None, "b")


def test_a_leader_in_everything_stays_first_at_any_weight() -> None:
    held = grading([2, 1])
    found = weight_ranges([unit("a", [80, 80], held), unit("b", [60, 70], held)])
    assert [span(one) for one in found] == [(0, None, None, None)] * 2


def test_who_did_not_test_a_criterion_keeps_its_score() -> None:
    """A 80 and 20, B 70 and untested: (80·3 + 20 w)/(3 + w) = 70 at w = 0.6."""
    held = grading([3, 0.5])
    second = weight_ranges([unit("a", [80, 20], held), unit("b", [70, None], held)])[1]
    assert span(second) == (0, 0.6, None, "b")


def test_a_cap_holds_at_any_weight() -> None:
    """A is capped at 60; B, 50 and 90, passes 60 where (50 w + 90)/(w + 1) = 60: at w = 3."""
    held = grading([4, 1])
    hit = Gate(when="label overstated", cap=60, title="a test", because="a test")
    facts = {METRICS[0]: measured(90), METRICS[1]: measured(90)}
    capped = graded_facts("a", facts, [GateHit(gate=hit, test=None, seen=None, limit=1)], held)
    first = weight_ranges([capped, unit("b", [50, 90], held)])[0]
    assert span(first) == (3, None, "b", None)


def test_the_best_that_is_possible_holds_too() -> None:
    """A: 90, and for the rest only "less than 20": its score is the least of 90 and (90·3 + 20 w)/(3 + w).

    B has 70 and 70: 270 + 20 w = 70 (3 + w) at w = 1.2.
    """
    held = grading([3, 1])
    a, b = unit("a", [90, measured(20, "at_most")], held), unit("b", [70, 70], held)
    second = weight_ranges([a, b])[1]
    assert span(second) == (0, 1.2, None, "b")


def test_a_tie_at_the_present_weights() -> None:
    """A 80, 40 and B 60, 60 at weights 1, 1: any less on the first and B leads."""
    held = grading([1, 1])
    first, second = weight_ranges([unit("a", [80, 40], held), unit("b", [60, 60], held)])
    assert span(first) == (1, None, "b", None)
    assert span(second) == (0, 1, None, "b")


def test_of_two_units_that_are_equal_at_any_weight_the_first_stays() -> None:
    held = grading([2, 1])
    found = weight_ranges([unit("b", [80, 40], held), unit("a", [80, 40], held)])
    assert [span(one) for one in found] == [(0, None, None, None)] * 2


def test_a_criterion_that_was_half_tested_counts_half() -> None:
    """A: (0.5·80 w + 40)/(0.5 w + 1), B: (60 w + 70)/(w + 1): equal where 10 w² - 15 w - 30 = 0."""
    held = grading([4, 1])
    both = [*held.criteria["c0"].parts, criterion("mass_kg", 1).parts[0]]
    two = held.criteria["c0"].model_copy(update={"parts": tuple(both)})
    held = held.model_copy(update={"criteria": {**held.criteria, "c0": two}})
    a = graded_facts("a", {METRICS[0]: measured(80), METRICS[1]: measured(40)}, (), held)
    b = graded_facts("b", {METRICS[0]: measured(60), "mass_kg": measured(60), METRICS[1]: measured(70)}, (), held)
    assert span(weight_ranges([a, b])[0]) == (round((15 + math.sqrt(1425)) / 20, 9), None, "b", None)


def test_no_units_no_leader() -> None:
    assert leader([]) is None
    assert weight_ranges([unit("a", [None, None], grading([1, 1]))]) == ()


def test_criteria_without_weight_are_left_out() -> None:
    held = grading([1, 1, 0])
    assert [one.criterion for one in weight_ranges([unit("a", [1, 2, 3], held)])] == ["c0", "c1"]


@pytest.mark.parametrize("seed", range(12))
def test_the_ends_are_where_a_scan_finds_them(seed: int) -> None:
    """Eight random units, some of them with untested and bounded criteria; a thousand weights tried one by one."""
    rng = np.random.default_rng(seed)
    held = grading([3, 2, 1, 1], least=0)
    units = [unit(f"u{i}", random_values(rng), held) for i in range(8)]
    first = leader(units)
    assert first is not None
    for found in weight_ranges(units):
        scan = np.linspace(0, 10, 1001)
        kept = [is_first(first, units, found.criterion, float(w)) for w in scan]
        inside = [found.low < w < (found.high or np.inf) for w in scan]
        edge = [min(abs(w - found.low), abs(w - (found.high or np.inf))) < 1e-9 for w in scan]
        around = round(found.weight * 100)
        low = max([i for i in range(around) if not kept[i]], default=-1)
        high = min([i for i in range(around, 1001) if not kept[i]], default=1001)
        expected = [low < i < high for i in range(1001)]
        assert [a for a, e in zip(inside, edge, strict=True) if not e][1:] == [
            a for a, e in zip(expected, edge, strict=True) if not e
        ][1:]


def random_values(rng: np.random.Generator) -> list[float | None]:
    """Points of one unit."""
    return [None if rng.random() < 0.2 else float(rng.uniform(0, 100)) for _ in METRICS]


def is_first(first: Graded, units: Sequence[Graded], criterion: str, weight: float) -> bool:
    """Whether nobody has a higher score with this weight."""
    weights = {one.name: one.criterion.weight for one in first.criteria} | {criterion: weight}
    best = max(score_ends(one.criteria, weights).value or 0.0 for one in units)
    return (score_ends(first.criteria, weights).value or 0.0) >= best - 1e-9


@pytest.mark.parametrize(
    ("coefficients", "roots"),
    [((0, 2, -3), (1.5,)), ((0, 0, 1), ()), ((1, 0, 1), ()), ((1, 0, 0), (0.0,)), ((1, -1e8, 1), (1e8, 1e-8))],
)
def test_roots(coefficients: tuple[float, float, float], roots: tuple[float, ...]) -> None:
    assert quadratic_roots(*coefficients) == pytest.approx(roots, rel=1e-12)
