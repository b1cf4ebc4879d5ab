"""Places on numbers that can be checked by head."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from site_builder.grade import Ends
from site_builder.rank import ROWS_AT_ONCE, Place, holm_thresholds, place_intervals, places
from tests.grading_data import ends, grading, measured, unit


def test_exact_scores_have_exact_places() -> None:
    assert place_intervals([ends(10), ends(30), ends(20)]) == [Place(3, 3, 3), Place(1, 1, 3), Place(2, 2, 3)]


def test_one_unit_and_none() -> None:
    assert place_intervals([ends(10, components={"a": 1.0})]) == [Place(1, 1, 1)]
    assert place_intervals([]) == []


def test_equal_units_share_all_their_places() -> None:
    """Shared places use up the places after them: three at the top are all first to third, and nobody is second."""
    many = [ends(50), ends(50), ends(50), ends(10)]
    assert place_intervals(many) == [Place(1, 3, 4)] * 3 + [Place(4, 4, 4)]


def test_rounding_tells_nobody_apart() -> None:
    assert place_intervals([ends(50), ends(50 + 1e-12)]) == [Place(1, 2, 2)] * 2
    nearly = [ends(50, components={"gain": 1.0}), ends(50 + 1e-12, components={"gain": 1 + 1e-15})]
    assert place_intervals(nearly) == [Place(1, 2, 2)] * 2


@pytest.mark.parametrize(("gap", "apart"), [(2.75, False), (2.80, True)])
def test_two_units_are_apart_from_1_96_u_of_their_difference(gap: float, apart: bool) -> None:
    """At u 1 each it is √2 for the difference; 1.96·√2 = 2.772."""
    two = [ends(50, components={"a": 0.6, "c": 0.8}), ends(50 + gap, components={"b": 1.0})]
    assert place_intervals(two) == ([Place(2, 2, 2), Place(1, 1, 2)] if apart else [Place(1, 2, 2)] * 2)


def test_one_instruments_error_cancels() -> None:
    """Both read 1 too high or too low together: what is left are the own parts, 0.1 each."""
    shared = [ends(50, components={"gain": 1.0, "a": 0.1}), ends(51, components={"gain": 1.0, "b": 0.1})]
    apart = [ends(50, components={"gain-1": 1.0, "a": 0.1}), ends(51, components={"gain-2": 1.0, "b": 0.1})]
    assert place_intervals(shared) == [Place(2, 2, 2), Place(1, 1, 2)]
    assert place_intervals(apart) == [Place(1, 2, 2)] * 2


def test_an_error_of_the_other_sign_adds_up() -> None:
    two = [ends(50, components={"gain": 1.0}), ends(53, components={"gain": -1.0})]
    assert place_intervals(two) == [Place(1, 2, 2)] * 2


def test_perfect_cancelling_leaves_an_exact_difference() -> None:
    two = [ends(50, components={"gain": 1.0}), ends(50.01, components={"gain": 1.0})]
    assert place_intervals(two) == [Place(2, 2, 2), Place(1, 1, 2)]


def test_bounded_evidence_counts_at_its_worst_and_best() -> None:
    """40 to 60 is neither above 50 nor below it, but above 30."""
    assert place_intervals([ends(40, 60), ends(50), ends(30)]) == [Place(1, 2, 3), Place(1, 2, 3), Place(3, 3, 3)]


def test_more_comparisons_need_larger_differences() -> None:
    """3 u apart are two units alone; among fifty units Holm asks for z(1 - 0.025/49) = 3.28 of the first."""
    pair = [ends(0.0, components={"a": 1.0}), ends(3.0 * math.sqrt(2), components={"b": 1.0})]
    crowd = [*pair, *(ends(1.5 * math.sqrt(2), components={f"c{i}": 1.0}) for i in range(48))]
    assert place_intervals(pair)[1] == Place(1, 1, 2)
    assert place_intervals(crowd)[1] == Place(1, 50, 50)
    assert holm_thresholds(49)[0] == pytest.approx(3.28, abs=0.005)


def test_the_step_down_rejects_more_than_one_threshold_for_all() -> None:
    """Statistics 3, 2.3 and 2 against 2.394, 2.241 and 1.96: all three; against 2.394 only the first."""
    others = [ends(-t, components={}) for t in (3.0, 2.3, 2.0)]
    assert place_intervals([ends(0.0, components={"a": 1.0}), *others])[0] == Place(1, 1, 4)
    later = [ends(-t, components={}) for t in (3.0, 2.2, 2.1)]
    assert place_intervals([ends(0.0, components={"a": 1.0}), *later])[0] == Place(1, 3, 4)


def test_ungraded_units_have_no_place_and_are_not_counted() -> None:
    held = grading([1, 1])
    units = [unit("a", [50, 50], held), unit("b", [90, None], held), unit("c", [60, 60], held)]
    assert places(units) == {"a": Place(2, 2, 2), "c": Place(1, 1, 2)}


def test_capped_units_tie() -> None:
    two = [ends(40.0), ends(40.0), ends(70.0, components={"gain": 5.0})]
    assert place_intervals(two) == [Place(2, 3, 3), Place(2, 3, 3), Place(1, 1, 3)]


def test_the_order_of_units_changes_nothing() -> None:
    held = grading([2, 1])
    units = [unit(f"u{i}", [measured(50 + 3 * i, gain=1.0), 10 * i], held) for i in range(5)]
    expected = places(units)
    assert all(list(places(order).items()) == list(expected.items()) for order in itertools.permutations(units))


def many(count: int) -> list[Ends]:
    """Units with own and shared errors."""
    rng = np.random.default_rng(3)
    own, gain, score = rng.uniform(0.5, 1, count), rng.uniform(0.5, 1, count), rng.normal(0, 4, count)
    return [
        ends(float(score[i]), components={f"own-{i}": float(own[i]), f"gain-{i % 3}": float(gain[i])})
        for i in range(count)
    ]


def test_blocks_of_rows_give_what_one_unit_alone_gives() -> None:
    """More units than are worked on at once, against the definition, one pair at a time."""
    units = many(ROWS_AT_ONCE + 40)
    thresholds = holm_thresholds(len(units) - 1)
    found = place_intervals(units)
    for i in (0, 1, ROWS_AT_ONCE - 1, ROWS_AT_ONCE, len(units) - 1):
        statistics = []
        for j, other in enumerate(units):
            names = units[i].components.keys() | other.components.keys()
            u = math.hypot(*(units[i].components.get(n, 0.0) - other.components.get(n, 0.0) for n in names))
            if i != j:
                statistics.append((other.low_end - units[i].low_end) / u)
        statistics.sort(key=abs, reverse=True)
        passing = list(
            itertools.takewhile(lambda pair: abs(pair[0]) > pair[1], zip(statistics, thresholds, strict=True))
        )
        better, worse = (sum(sign * t > 0 for t, _ in passing) for sign in (1, -1))
        assert found[i] == Place(1 + better, len(units) - worse, len(units))
