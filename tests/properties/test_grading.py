"""What holds for every grading and every set of units."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from site_builder.criteria import Fact
from site_builder.grade import Graded, capped, graded_facts
from site_builder.grading_records import Grading
from site_builder.measured import Bound, Component, Measured
from site_builder.rank import place_intervals, places
from site_builder.sensitivity import leader, weight_ranges
from tests.grading_data import METRICS, criterion, grading, own_grading

BOUNDS: tuple[Bound, ...] = ("exact", "at_least", "at_most", "between")
SOURCES = ("gain:bench/shunt", "gain:bench/meter", "offset", "repeat")
numbers = st.floats(min_value=-50, max_value=150, allow_nan=False)
small = st.floats(min_value=-5, max_value=5, allow_nan=False)


@st.composite
def value_functions(draw: st.DrawFn) -> tuple[tuple[float, float], ...]:
    """Two to five corners, rising or falling, from 0 to 100 points."""
    at = sorted(draw(st.lists(st.integers(-40, 140), min_size=2, max_size=5, unique=True)))
    middle = sorted(draw(st.lists(st.integers(0, 100), min_size=len(at) - 2, max_size=len(at) - 2)))
    points = [0, *middle, 100]
    if draw(st.booleans()):
        points.reverse()
    return tuple((float(x), float(y)) for x, y in zip(at, points, strict=True))


@st.composite
def gradings(draw: st.DrawFn) -> Grading:
    """Four criteria of one metric each, with weights that do not add up to nothing."""
    weights = draw(st.lists(st.integers(0, 10), min_size=4, max_size=4).filter(lambda all_: sum(all_) > 0))
    criteria = {
        f"c{i}": criterion(METRICS[i], float(weight), draw(value_functions())) for i, weight in enumerate(weights)
    }
    return grading([1], least=0).model_copy(update={"criteria": criteria})


@st.composite
def evidence(draw: st.DrawFn) -> Measured:
    """A number with a few sources of error, exact or bounded."""
    bound = draw(st.sampled_from(BOUNDS))
    value = draw(numbers)
    high = value + draw(st.floats(0, 40)) if bound == "between" else None
    sources = draw(st.dictionaries(st.sampled_from(SOURCES), small, max_size=4))
    components = {name: Component(u) for name, u in sources.items()}
    low = value if bound == "between" else None
    return Measured(value=value, unit="1", bound=bound, low=low, high=high, components=components)


@st.composite
def facts(draw: st.DrawFn) -> dict[str, Fact]:
    """Evidence on some of the four metrics."""
    return {name: draw(evidence()) for name in METRICS if draw(st.booleans())}


def named(index: int, known: dict[str, Fact]) -> dict[str, Fact]:
    """The same facts with own errors of this unit: only gains are shared."""
    return {
        fact: Measured(
            value=one.value,
            unit=one.unit,
            bound=one.bound,
            low=one.low,
            high=one.high,
            components={f"{n}" if n.startswith("gain") else f"{n}:{index}": c for n, c in one.components.items()},
        )
        for fact, one in known.items()
        if isinstance(one, Measured)
    }


def units(many: list[dict[str, Fact]], held: Grading) -> list[Graded]:
    """Their grades, by number."""
    return [graded_facts(f"u{i}", named(i, one), (), held) for i, one in enumerate(many)]


classes = st.lists(facts(), min_size=2, max_size=6)


@given(many=classes, held=gradings())
def test_another_unit_changes_no_score_and_swaps_no_two(many: list[dict[str, Fact]], held: Grading) -> None:
    alone, together = units(many[:-1], held), units(many, held)
    assert together[:-1] == alone
    scores = [one.score for one in together[:-1] if one.score is not None]
    assert [one.score for one in alone if one.score is not None] == scores
    # Leaving the last one out never turns "better" into "worse".
    before, after = places(alone), places(together)
    for a in before:
        for b in before:
            assert not (before[a].high < before[b].low and after[b].high < after[a].low)


@given(known=facts(), held=gradings(), which=st.sampled_from(METRICS), step=st.floats(0, 60))
def test_improving_one_criterion_never_lowers_a_score(
    known: dict[str, Fact], held: Grading, which: str, step: float
) -> None:
    one = known.get(which)
    assume(isinstance(one, Measured))
    assert isinstance(one, Measured)
    part = next(c.parts[0] for c in held.criteria.values() if c.parts[0].fact == which)
    rises = part.anchors[-1].points > part.anchors[0].points
    by = step if rises else -step
    moved: dict[str, Any] = {"value": one.value + by, "low": one.low, "high": one.high}
    if one.low is not None and one.high is not None:
        moved |= {"low": one.low + by, "high": one.high + by}
    better = Measured(unit=one.unit, bound=one.bound, components=one.components, **moved)
    old, new = (graded_facts("u", facts_, (), held) for facts_ in (known, known | {which: better}))
    assert old.tested == new.tested
    assert (old.score is None) == (new.score is None)
    if old.score is not None and new.score is not None:
        assert new.score >= old.score - 1e-9
    assert new.ends.low_end >= old.ends.low_end - 1e-9
    assert new.ends.high_end >= old.ends.high_end - 1e-9


@given(known=facts(), held=gradings(), cap=st.integers(0, 100))
def test_a_score_lies_between_its_ends_and_those_within_the_scale(
    known: dict[str, Fact], held: Grading, cap: int
) -> None:
    graded = graded_facts("u", known, (), held)
    for one in (graded.ends, capped(graded.ends, float(cap)), *(c.ends for c in graded.criteria)):
        tiny = 1e-9
        assert -tiny <= one.low <= one.low_end + tiny
        assert one.high_end <= one.high + tiny <= 100 + 2 * tiny
        assert one.low_end <= one.high_end + tiny
        if one.value is not None:
            assert one.low_end - tiny <= one.value <= one.high_end + tiny


@given(many=classes, held=gradings(), scale=st.floats(0.01, 50))
def test_scaling_all_weights_changes_nothing(many: list[dict[str, Fact]], held: Grading, scale: float) -> None:
    scaled = held.model_copy(
        update={"criteria": {n: c.model_copy(update={"weight": c.weight * scale}) for n, c in held.criteria.items()}}
    )
    one, other = units(many, held), units(many, scaled)
    for a, b in zip(one, other, strict=True):
        assert (a.score is None) == (b.score is None)
        if a.score is not None:
            assert (a.score, a.low, a.high) == pytest.approx((b.score, b.low, b.high), abs=1e-9)
        assert a.ends.components == pytest.approx(b.ends.components, abs=1e-9)


@given(many=classes, held=gradings(), seed=st.randoms(use_true_random=False))
def test_nothing_depends_on_the_order_of_files(many: list[dict[str, Fact]], held: Grading, seed: Any) -> None:
    known = units(many, held)
    shuffled = list(known)
    seed.shuffle(shuffled)
    assert places(shuffled) == places(known)
    assert leader(shuffled) == leader(known)
    assert weight_ranges(shuffled) == weight_ranges(known)


@given(many=classes, held=gradings())
def test_a_tie_in_is_a_tie_out(many: list[dict[str, Fact]], held: Grading) -> None:
    """Two units with the same evidence, their own errors of equal size, have the same score and the same place."""
    known = units([*many, many[0]], held)
    found = places(known)
    first, last = known[0], known[-1]
    assert first.score == last.score
    assert found.get(first.id) == found.get(last.id)


@given(many=classes, held=gradings())
def test_places_are_within_the_class_and_hold_the_units_own_rank(many: list[dict[str, Fact]], held: Grading) -> None:
    known = [one for one in units(many, held) if one.score is not None]
    for one, place in zip(known, place_intervals([one.ends for one in known]), strict=True):
        assert 1 <= place.low <= place.high <= place.of == len(known)
        # At the same values, nobody who is significantly better is behind.
        ahead = sum(other.ends.low_end > one.ends.high_end for other in known)
        assert place.low <= 1 + ahead


@given(price=st.floats(1, 10_000), known=st.booleans(), rated=st.floats(0.5, 1.2))
def test_a_price_change_moves_no_grade(price: float, known: bool, rated: float) -> None:
    """With the catalogue's own grading: score, interval, components, gates and what was tested."""
    others: dict[str, Fact] = {
        "rated_share": Measured(value=rated, unit="1", components={"gain": Component(0.005)}),
        "wh_per_kg": Measured(value=100.0, unit="Wh/kg", components={"gain": Component(0.5)}),
    }
    tag: dict[str, Fact] = {"price_per_kwh": Measured(value=price, unit="EUR/kWh", components={"gain": Component(1)})}
    held = own_grading().model_copy(update={"least_tested": 0.0})
    one = graded_facts("u", others, (), held)
    other = graded_facts("u", others | tag if known else others, (), held)
    assert one.ends == other.ends
    assert (one.tested, one.questions, one.score) == (other.tested, other.questions, other.score)
