"""The invented units under the catalogue's own grading: capped, ungraded and placed as their stories say."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from site_builder.build import derive_all
from site_builder.grade import Graded, graded
from site_builder.rank import places
from site_builder.sensitivity import leader, weight_ranges

ROOT = Path(__file__).parents[2]
CLASSES = ("12v-100ah", "12v-200ah", "24v-100ah", "12v-lead-acid")


@pytest.fixture(scope="module")
def grades() -> Mapping[str, Mapping[str, Graded]]:
    """Class → unit → grade, of published units."""
    derived = derive_all(ROOT / "results", ROOT / "catalogue").derived
    grading = derived.catalogue.grading
    assert grading is not None
    return {
        name: {unit.id: graded(unit.result, unit.record, grading) for unit in derived.of_class(name)}
        for name in CLASSES
    }


@pytest.mark.parametrize(
    ("unit", "gate", "cap"),
    [
        ("nettle-95", "charges below its limit", 40),
        ("wendlecote-w100", "label overstated", 60),
        ("otterfold-of200", "no cut-off", 40),
    ],
)
def test_who_is_capped_and_why(grades: Mapping[str, Mapping[str, Graded]], unit: str, gate: str, cap: float) -> None:
    one = next(units[unit] for units in grades.values() if unit in units)
    assert [hit.gate.when for hit in one.gates] == [gate]
    assert one.cap == one.ends.high == cap
    assert one.score is None or one.score <= cap


def test_nobody_else_is_capped(grades: Mapping[str, Mapping[str, Graded]]) -> None:
    capped = {one.id for units in grades.values() for one in units.values() if one.gates}
    assert capped == {"nettle-95", "wendlecote-w100", "otterfold-of200"}


def test_what_was_only_spoken_of_is_not_graded(grades: Mapping[str, Mapping[str, Graded]]) -> None:
    one = grades["12v-100ah"]["quern-12-100"]
    assert (one.score, one.why_not) == (None, "too little of it was tested")
    assert "quern-12-100" not in places(grades["12v-100ah"].values())


def test_places_cover_every_graded_unit_of_a_class(grades: Mapping[str, Mapping[str, Graded]]) -> None:
    units = grades["12v-100ah"]
    found = places(units.values())
    assert found.keys() == {name for name, one in units.items() if one.score is not None}
    assert {place.of for place in found.values()} == {len(found)}
    first = leader(units.values())
    assert first is not None
    assert found[first.id].low == 1
    assert all(one.low <= one.weight for one in weight_ranges(units.values()))


def test_a_price_of_yesterday_is_in_no_grade(grades: Mapping[str, Mapping[str, Graded]]) -> None:
    for units in grades.values():
        for one in units.values():
            price = next(c for c in one.criteria if c.name == "price")
            assert price.criterion.weight == 0
            assert one.questions[1] == len(one.criteria) - 1
