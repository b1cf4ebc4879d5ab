"""Value functions, bounds, criteria, scores and caps, each on numbers that can be checked by head."""

from __future__ import annotations

import math

import pytest

from site_builder.criteria import Fact
from site_builder.gates import GateHit
from site_builder.grade import COVERAGE, UNTESTED, Graded, capped, graded_facts, number_ends, score_ends, value_at
from site_builder.grading_records import Criterion, Gate, Grading, Level, Part
from site_builder.measured import Component, Measured, rectangular
from tests.grading_data import anchors, criterion, ends, grading, measured, own_grading, unit

CORNERS = anchors((0.8, 0), (1.0, 80), (1.2, 100))
FALLING = anchors((10, 100), (20, 0))


@pytest.mark.parametrize(
    ("x", "points"),
    [(-math.inf, 0), (0.7, 0), (0.8, 0), (0.9, 40), (1.0, 80), (1.1, 90), (1.2, 100), (9, 100), (math.inf, 100)],
)
def test_straight_lines_between_anchors_and_the_same_beyond_them(x: float, points: float) -> None:
    assert value_at(CORNERS, x) == pytest.approx(points, abs=1e-12)


def test_a_measured_number_scores_from_v_of_x_minus_u_to_v_of_x_plus_u() -> None:
    """0.9 ± 0.0196 (u 0.01): 40 points, 4 points a hundredth: 36.08 to 43.92."""
    one = number_ends(CORNERS, measured(0.9, gain=0.01))
    assert (one.value, one.low_end, one.high_end) == pytest.approx((40, 40, 40))
    assert (one.low, one.high) == pytest.approx((40 - 4 * COVERAGE, 40 + 4 * COVERAGE))
    assert one.components == pytest.approx({"gain": 4.0})


def test_components_keep_their_sign_where_more_is_worse() -> None:
    assert number_ends(FALLING, measured(15, gain=0.1, offset=-0.2)).components == pytest.approx(
        {"gain": -1.0, "offset": 2.0}
    )


def test_just_above_a_corner_the_steeper_side_counts() -> None:
    """At 1.2 the value function is flat above: without this, the unit's 100 points would pass for certain."""
    one = number_ends(CORNERS, measured(1.2, gain=0.01))
    assert (one.value, one.low, one.high) == pytest.approx((100, 100 - COVERAGE, 100))
    assert one.components == pytest.approx({"gain": 1.0})
    below = number_ends(anchors((0.8, 0), (1.0, 20), (1.2, 100)), measured(1.0, gain=0.01))
    assert below.components == pytest.approx({"gain": 4.0})


def test_few_degrees_of_freedom_widen_the_components() -> None:
    """Student's t for 2 degrees of freedom is 4.303 (any table of t): 4.303/1.96 wider."""
    one = Measured(value=0.9, unit="1", components={"repeat": Component(0.01, dof=2)})
    assert number_ends(CORNERS, one).components["repeat"] == pytest.approx(4 * 4.303 / 1.960, rel=1e-3)


def test_a_rectangular_limit_never_makes_them_narrower() -> None:
    """Its U is 1.65 u; two of them together are nearly normal again."""
    one = Measured(value=0.9, unit="1", components={"offset": rectangular(0.01)})
    assert number_ends(CORNERS, one).components["offset"] == pytest.approx(4 / math.sqrt(3))


@pytest.mark.parametrize(
    ("bound", "corners", "value", "low_end", "high_end"),
    [
        ("exact", CORNERS, 40, 40, 40),
        ("at_least", CORNERS, 40, 40, 100),
        ("at_most", CORNERS, None, 0, 40),
        ("at_least", anchors((0.8, 100), (1.0, 0)), None, 0, 50),
        ("at_most", anchors((0.8, 100), (1.0, 0)), 50, 50, 100),
    ],
)
def test_a_bound_is_shown_at_its_worse_end(
    bound: str, corners: tuple[object, ...], value: float | None, low_end: float, high_end: float
) -> None:
    """Where the worse end is open, nothing is shown: "less than" alone is no result."""
    one = number_ends(corners, measured(0.9, bound))  # type: ignore[arg-type]
    assert one.value == (None if value is None else pytest.approx(value))
    assert (one.low_end, one.high_end) == pytest.approx((low_end, high_end))


def test_between_a_hold_and_a_trip_the_hold_is_shown() -> None:
    seen = Measured(value=0.9, unit="1", bound="between", low=0.9, high=1.1, components={"gain": Component(0.01)})
    one = number_ends(CORNERS, seen)
    assert (one.value, one.low_end, one.high_end) == pytest.approx((40, 40, 90))
    assert (one.low, one.high) == pytest.approx((40 - 4 * COVERAGE, 90 + COVERAGE))
    # Below 1.0 a hundredth is worth 4 points, above it 1: both ends are given the larger.
    assert one.components == pytest.approx({"gain": 4.0})


def test_a_score_is_the_mean_over_what_was_tested() -> None:
    """Weights 4, 3, 3; the last untested: (4·50 + 3·80)/7 from (4·50 + 3·80)/10 to that and 30."""
    one = unit("a", [50, 80, None], grading([4, 3, 3]))
    assert one.score == pytest.approx(440 / 7)
    assert (one.low, one.high) == pytest.approx((44, 74))
    assert one.tested == pytest.approx(0.7)
    assert one.questions == (2, 3)


def test_under_sixty_percent_of_the_weight_there_is_no_grade() -> None:
    held = grading([59, 41])
    none = unit("a", [50, None], held)
    assert (none.score, none.low, none.high) == (None, None, None)
    assert none.why_not == "too little of it was tested"
    assert unit("a", [50, None], grading([60, 40])).score == 50


def test_nothing_tested_at_all() -> None:
    one = unit("a", [None, None], grading([1, 1]))
    assert (one.score, one.tested, one.questions) == (None, 0, (0, 2))
    assert one.ends == UNTESTED
    assert one.criteria[0].parts[0].why_not == "it would take a test that gives its delivered energy"


@pytest.mark.parametrize(
    ("basis", "why"),
    [
        ("as_read", "it was read without a named instrument, or is a claim"),
        ("claimed", "it was read without a named instrument, or is a claim"),
        ("estimate", "it was read without a named instrument, or is a claim"),
        ("reported", "it was reported, and its evidence not kept"),
    ],
)
def test_what_no_named_instrument_showed_is_not_graded(basis: str, why: str) -> None:
    read = Measured(value=90.0, unit="Wh", basis=basis)  # type: ignore[arg-type]
    one = unit("a", [read, 50], grading([1, 1], least=0))
    assert one.criteria[0].parts[0].why_not == why
    assert (one.score, one.tested) == (50, 0.5)


def test_better_than_the_best_that_is_possible_is_never_shown() -> None:
    """Three quarters tested at 90; of the rest only "less than 20" is known: at best 0.75·90 + 0.25·20."""
    one = unit("a", [90, measured(20, "at_most")], grading([3, 1]))
    assert one.score == one.high == pytest.approx(72.5)


def test_one_instruments_error_adds_up_across_criteria_before_it_is_squared() -> None:
    """Two criteria of equal weight, both off by the same gain, one falling with it: it cancels."""
    one = grading([1, 1], ((0, 0), (100, 100)))
    other = criterion("delivered_ah", 1, ((0, 100), (100, 0)))
    held = one.model_copy(update={"criteria": {**one.criteria, "c1": other}})
    both = unit("a", [measured(50, gain=2.0), measured(50, gain=2.0)], one)
    against = unit("a", [measured(50, gain=2.0), measured(50, gain=2.0)], held)
    assert both.ends.components == pytest.approx({"gain": 2.0})
    assert against.ends.u == 0
    apart = unit("a", [measured(50, gain=2.0), measured(50, offset=2.0)], one)
    assert apart.ends.u == pytest.approx(math.sqrt(2))


def parts_grading() -> Grading:
    """Motors three quarters, an app one quarter of one criterion."""
    levels = {"starts": 100.0, "starts, then cuts off": 40.0, "does not start": 0.0}
    motors = Part(
        fact="motor",
        title="motors",
        share=3,
        levels={word: Level(points=points, because="a test") for word, points in levels.items()},
        because="a test",
    ).model_copy(update={"loads": ("fridge", "saw", "winch")})
    app = criterion("app", 1, (), {"works": 100, "none": 60, "does not work": 0}).parts[0]
    one = Criterion(title="a test", weight=1, because="a test", parts=(motors, app))
    return grading([1], least=0).model_copy(update={"criteria": {"only": one}})


def test_parts_and_loads_share_their_criterion() -> None:
    """Fridge 100, saw 40, winch not known, app 60: (100 + 40 + 60)/3 over three quarters."""
    facts: dict[str, Fact] = {"motor:fridge": "starts", "motor:saw": "starts, then cuts off", "app": "none"}
    one = graded_facts("a", facts, (), parts_grading()).criteria[0]
    assert [part.share for part in one.parts] == pytest.approx([0.25] * 4)
    assert one.tested == pytest.approx(0.75)
    assert one.ends.value == pytest.approx(200 / 3)
    assert (one.ends.low_end, one.ends.high_end) == pytest.approx((50, 75))


def test_a_criterion_counts_as_tested_when_half_of_it_was() -> None:
    """Motors are three quarters, each load a third of them."""
    two = graded_facts("a", {"motor:fridge": "starts", "app": "none"}, (), parts_grading())
    one = graded_facts("a", {"app": "none"}, (), parts_grading())
    assert [(found.criteria[0].tested, found.questions) for found in (two, one)] == [(0.5, (1, 1)), (0.25, (0, 1))]


def gate(cap: float) -> GateHit:
    """A gate that is met."""
    held = Gate(when="label overstated", cap=cap, title="a test", because="a test")
    return GateHit(gate=held, test=None, seen=None, limit=1.0)


def with_gates(values: list[float | Fact | None], *caps: float) -> Graded:
    """A unit of two criteria that meets these gates."""
    facts = {name: one for name, one in zip(("delivered_wh", "delivered_ah"), values, strict=True) if one is not None}
    measured_facts = {name: measured(one) if isinstance(one, float | int) else one for name, one in facts.items()}
    return graded_facts("a", measured_facts, [gate(cap) for cap in caps], grading([1, 1]))


def test_the_lowest_gate_caps_score_and_interval() -> None:
    one = with_gates([80, 90], 60, 40)
    assert (one.score, one.low, one.high, one.cap) == (40, 40, 40, 40)
    assert [hit.gate.cap for hit in one.gates] == [60, 40]


def test_a_cap_above_the_interval_changes_nothing() -> None:
    assert with_gates([20, 30], 60).ends == with_gates([20, 30]).ends


def test_a_cap_that_touches_the_interval_leaves_nothing_to_cancel() -> None:
    """A capped score does not move with its instrument; kept components would cancel against another unit's."""
    one = with_gates([measured(58, gain=2.0), measured(58, gain=2.0)], 60)
    assert one.ends.components == {}
    assert (one.score, one.high) == (58, 60)
    assert one.ends.low_end == one.low == pytest.approx(58 - 2 * COVERAGE)


def test_a_cap_on_nothing_tested() -> None:
    assert capped(UNTESTED, 40).value is None
    assert capped(UNTESTED, None) is UNTESTED


def test_a_viewers_weights_use_the_same_arithmetic() -> None:
    held = grading([1, 1, 0])
    one = unit("a", [50, 80, 20], held)
    assert score_ends(one.criteria, {"c0": 1, "c1": 1, "c2": 0}) == one.ends
    assert score_ends(one.criteria, {"c0": 0, "c1": 1, "c2": 1}).value == pytest.approx(50)
    assert score_ends(one.criteria, {"c0": 0, "c1": 0, "c2": 0}).value is None


def test_a_criterion_without_weight_is_no_question_and_moves_no_grade() -> None:
    held = grading([1, 1, 0])
    dear, cheap = (unit("a", [50, 80, value], held) for value in (measured(1, gain=9.0), measured(99)))
    assert dear.ends == cheap.ends
    assert dear.questions == (2, 2)


def test_the_ends_of_a_score() -> None:
    assert ends(3.0).u == 0
    assert ends(3.0, 4.0, {"a": 3.0, "b": -4.0}).u == 5.0


def test_the_catalogues_weights_ask_seven_questions() -> None:
    one = graded_facts("a", {}, (), own_grading())
    assert one.questions == (0, 7)
    assert one.version == own_grading().version
