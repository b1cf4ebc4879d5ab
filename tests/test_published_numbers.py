"""Numbers that differ between two states, in words."""

from __future__ import annotations

from typing import Any

import pytest

from site_builder.published_numbers import moved_numbers, number_words


def number(value: float | None, u: float | None = None, **more: Any) -> dict[str, Any]:
    held = {"value": value, "u": u, "unit": "Ah", "bound": "exact", "low": None, "high": None, "basis": "measured"}
    return held | more


def entry(**metrics: Any) -> dict[str, Any]:
    return {"id": "t", "metrics": metrics}


@pytest.mark.parametrize(
    ("one", "words"),
    [
        (number(91.3, 0.9), "91.3 ± 0.9 Ah"),
        (number(21.0), "21 Ah"),
        (number(86.0, bound="at_least", low=86.0), "at least 86 Ah"),
        (number(30.0, bound="at_most", high=30.0, unit="s"), "at most 30 s"),
        (number(3.5, bound="between", low=2.8, high=4.3, unit="h"), "between 2.8 and 4.3 h"),
        (number(0.914, 0.009, unit="1"), "91.4 ± 0.9 %"),
        (number(9.0, 1.0, unit="h", basis="projected"), "9 ± 1 h (projected)"),
        (number(98, basis="as_read"), "98 Ah (as read)"),
        (number(71.2, bound="scored", low=66.0, high=77.5, unit="", basis=None), "71.2 (66 to 77.5)"),
        (None, "not known"),
    ],
)
def test_words(one: dict[str, Any] | None, words: str) -> None:
    assert number_words(one) == words


def test_a_number_that_moves_comes_and_goes() -> None:
    old = entry(delivered_ah=number(91.3, 0.9), mass_kg=number(10.4), volume_l=number(11.0))
    new = entry(delivered_ah=number(90.1, 0.9), mass_kg=number(10.4), sag_v=number(0.3))
    assert [str(one) for one in moved_numbers("t", old, new)] == [
        "delivered_ah 91.3 ± 0.9 Ah → 90.1 ± 0.9 Ah",
        "volume_l 11 Ah → not known",
        "sag_v not known → 0.3 Ah",
    ]


def test_its_uncertainty_or_its_basis_alone_moves_it() -> None:
    old = entry(a=number(91.3, 0.9), b=number(5.0))
    new = entry(a=number(91.3, 1.2), b=number(5.0, basis="claimed"))
    assert [one.new for one in moved_numbers("t", old, new)] == ["91.3 ± 1.2 Ah", "5 Ah (label)"]


def test_components_by_source_alone_do_not() -> None:
    old, new = entry(a=number(91.3, 0.9, components={"x": 1})), entry(a=number(91.3, 0.9, components={"y": 1}))
    assert moved_numbers("t", old, new) == ()


def test_scores_and_hours_are_numbers_too() -> None:
    def held(score: float, hours: float) -> dict[str, Any]:
        return entry() | {
            "score": {"value": score, "low": score - 5, "high": score + 5},
            "loads": {"kettle": {"hours": number(hours, 0.5, unit="h", basis="projected")}, "saw": {"hours": None}},
        }

    assert [str(one) for one in moved_numbers("t", held(71, 9), held(69, 8))] == [
        "score 71 (66 to 76) → 69 (64 to 74)",
        "hours:kettle 9 ± 0.5 h (projected) → 8 ± 0.5 h (projected)",
    ]


def test_a_kind_of_number_that_one_of_the_programs_does_not_give_has_not_moved() -> None:
    assert moved_numbers("t", entry(), entry() | {"score": {"value": 71, "low": 66, "high": 76}}) == ()


def test_a_unit_that_loses_its_score_says_so() -> None:
    old, new = entry() | {"score": {"value": 71, "low": 66, "high": 76}}, entry() | {"score": None}
    assert [str(one) for one in moved_numbers("t", old, new)] == ["score 71 (66 to 76) → not known"]


def test_numbers_of_a_single_test_are_named_with_it() -> None:
    def held(**tests: dict[str, Any]) -> dict[str, Any]:
        return entry(delivered_ah=tests["run"]["delivered_ah"]) | {"tests": tests}

    old = held(run={"delivered_ah": number(91.3, 0.9)}, night={"delivered_ah": number(90.8)})
    new = held(
        run={"delivered_ah": number(90.1, 0.9)}, night={"delivered_ah": number(89.8)}, again={"sag_v": number(1.0)}
    )
    assert [str(one) for one in moved_numbers("t", old, new)] == [
        "delivered_ah 91.3 ± 0.9 Ah → 90.1 ± 0.9 Ah",
        "night: delivered_ah 90.8 Ah → 89.8 Ah",
        "again: sag_v not known → 1 Ah",
    ]
