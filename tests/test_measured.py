"""Numbers with components: sums, limits, coverage and rounding. Worked examples of the GUM stand in tests/external."""

from __future__ import annotations

import math
from typing import Any

import pytest
from uncertainties import umath

from site_builder.measured import (
    COVERAGE_RECTANGULAR,
    Basis,
    Bound,
    Component,
    Measured,
    add_components,
    coverage_factor,
    display_step,
    effective_dof,
    exact,
    expanded_uncertainty,
    rectangular,
    rounded_pair,
    through,
    weakest_basis,
)

NORMAL_95 = 1.959963984540054  # two-sided 95 % quantile of the normal distribution; GUM table G.2 prints 1.960


def measured(value: float, bound: Bound = "exact", basis: Basis = "measured", **u: float) -> Measured:
    """A number whose sources have these standard uncertainties."""
    components = {name: Component(one) for name, one in u.items()}
    return Measured(value=value, unit="Ah", components=components, bound=bound, basis=basis)


def parts(one: Component) -> Any:
    """u, degrees of freedom, limit, to be compared approximately."""
    limit = None if one.limit is None else pytest.approx(one.limit)
    return pytest.approx(one.u), one.dof, limit


def test_limits_become_standard_uncertainties() -> None:
    """GUM 4.3.7 and F.2.2.1."""
    assert rectangular(3.0).u == pytest.approx(math.sqrt(3))
    assert rectangular(3.0).limit == 3.0
    assert display_step(1.0).u == pytest.approx(1 / math.sqrt(12))
    assert display_step(1.0).limit == 0.5


def test_a_scaled_component_keeps_its_sign_and_its_limit_has_none() -> None:
    assert parts(Component(0.2, 5, limit=0.5).scaled(-3)) == (-0.6, 5, 1.5)


def test_sources_of_one_name_add_with_their_signs() -> None:
    total = add_components({"gain": Component(0.3, limit=1.0)}, {"gain": Component(-0.2, 4, limit=2.0)})
    assert total.keys() == {"gain"}
    assert parts(total["gain"]) == (0.1, 4, 3.0)


def test_a_limit_of_one_part_is_no_limit_of_the_sum() -> None:
    assert add_components({"gain": rectangular(1)}, {"gain": Component(1.0)})["gain"].limit is None


def test_independent_sources_add_as_squares() -> None:
    assert measured(10, gain=3, offset=4).u == pytest.approx(5)


def test_a_shared_gain_cancels_in_a_ratio() -> None:
    """Two tests of one instrument whose gain is 2 % off: their ratio does not know of it."""
    out, into = measured(90, gain=1.8, noise_a=0.1), measured(95, gain=1.9, noise_b=0.1)
    ratio = through(lambda a, b: a / b, out, into, unit="1")
    assert ratio.components.get("gain", Component(0)).u == pytest.approx(0, abs=1e-15)
    assert ratio.u == pytest.approx(math.hypot(0.1 / 95, 90 * 0.1 / 95**2))


def test_components_arrive_by_name_with_sign_dof_and_limit() -> None:
    a = Measured(value=4.0, unit="V", components={"gain": rectangular(0.3), "repeat": Component(0.1, 4)})
    b = Measured(value=2.0, unit="A", components={"repeat": Component(0.2, 9)})
    result = through(lambda x, y: x - 3 * y, a, b, unit="Ω")
    assert result.value == -2
    assert result.unit == "Ω"
    assert parts(result.components["gain"]) == (0.3 / math.sqrt(3), math.inf, 0.3)
    assert parts(result.components["repeat"]) == (0.1 - 0.6, 4, None)


def test_a_function_beyond_operators() -> None:
    result = through(umath.exp, measured(1.0, gain=0.01), unit="1")
    assert result.value == pytest.approx(math.e)
    assert result.u == pytest.approx(0.01 * math.e)


def test_a_function_of_exact_numbers_is_exact() -> None:
    result = through(lambda a, b: a * b, exact(3, "V"), exact(4, "A"), unit="W")
    assert (result.value, result.u, result.expanded) == (12, 0, 0)


def test_a_result_is_worth_its_weakest_evidence() -> None:
    assert through(lambda a, b: a + b, measured(1), measured(2, basis="as_read"), unit="Ah").basis == "as_read"
    assert weakest_basis("measured", "projected", "estimate") == "estimate"
    assert weakest_basis() == "measured"


# --- coverage --------------------------------------------------------------------------------------------------------
def test_coverage_of_a_normal_error() -> None:
    assert measured(1, gain=0.5).expanded == pytest.approx(NORMAL_95 * 0.5)


def test_few_repeats_need_a_larger_factor() -> None:
    """Student's t, GUM table G.2: 2.78 at 4 degrees of freedom."""
    assert expanded_uncertainty({"repeat": Component(1.0, 4)}) == pytest.approx(2.776, abs=0.001)
    assert coverage_factor(4.9) == coverage_factor(4)
    assert coverage_factor(0.3) == coverage_factor(1)


def test_effective_degrees_of_freedom() -> None:
    """Two equal sources with 4 degrees of freedom each have 8 together (GUM equation G.2b, by hand)."""
    assert effective_dof({"a": Component(1.0, 4), "b": Component(-1.0, 4)}) == pytest.approx(8)
    assert effective_dof({"a": Component(1.0)}) == math.inf
    assert effective_dof({}) == math.inf


@pytest.mark.parametrize("others", [0.0, 0.29])
def test_one_limit_that_rules_has_its_own_shape(others: float) -> None:
    """95 % of a rectangle lie within 0.95 of its half-width, 1.65 standard deviations (GUM 4.3.7, G.2.2)."""
    ruling = rectangular(1.0)
    components = {"limit": ruling, "noise": Component(others * ruling.u)}
    assert expanded_uncertainty(components) == pytest.approx(COVERAGE_RECTANGULAR * math.hypot(1, others) * ruling.u)


@pytest.mark.parametrize("others", [0.31, 1.0])
def test_a_limit_among_others_of_its_size_does_not_rule(others: float) -> None:
    limit = rectangular(1.0)
    components = {"limit": limit, "noise": Component(others * limit.u)}
    assert expanded_uncertainty(components) == pytest.approx(NORMAL_95 * math.hypot(1, others) * limit.u)


def test_a_large_error_without_a_limit_does_not_rule() -> None:
    components = {"noise": Component(1.0), "limit": rectangular(0.01)}
    assert expanded_uncertainty(components) == pytest.approx(NORMAL_95, rel=1e-4)


def test_never_beyond_the_hard_limits() -> None:
    """Two limits of 1 and 0.5: k·u would be 1.96·0.645 = 1.265, together they reach 1.5; equal ones: 1.6 of 2."""
    assert expanded_uncertainty({"a": rectangular(1), "b": rectangular(0.5)}) == pytest.approx(1.265, abs=0.001)
    few = {"a": Component(1 / math.sqrt(3), 2, 1.0), "b": Component(1 / math.sqrt(3), 2, 1.0)}
    assert coverage_factor(4) * math.hypot(*(c.u for c in few.values())) > 2
    assert expanded_uncertainty(few) == 2


# --- what is published -----------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("basis", "u", "known"),
    [
        ("measured", {"gain": 1.0}, True),
        ("measured", {}, True),
        ("claimed", {"gain": 1.0}, True),
        ("claimed", {}, False),
        ("reported", {"gain": 1.0}, False),
        ("as_read", {"stated": 1.0}, False),
        ("projected", {"k": 1.0}, True),
    ],
)
def test_who_has_an_expanded_uncertainty(basis: Basis, u: dict[str, float], known: bool) -> None:
    one = Measured(value=1, unit="Ah", basis=basis, components={name: Component(part) for name, part in u.items()})
    assert (one.expanded is not None) is known


@pytest.mark.parametrize(
    ("bound", "lowest", "highest"),
    [("exact", 8.04, 11.96), ("at_least", 8.04, math.inf), ("at_most", -math.inf, 11.96)],
)
def test_the_interval_of_each_bound(bound: Bound, lowest: float, highest: float) -> None:
    one = measured(10, bound=bound, gain=1)
    assert (one.lowest, one.highest) == pytest.approx((lowest, highest), abs=0.001)


def test_between_two_ends_the_uncertainty_comes_on_top() -> None:
    one = Measured(value=10, unit="h", components={"clock": Component(0.5)}, bound="between", low=9, high=12)
    assert (one.lowest, one.highest) == pytest.approx((9 - 0.98, 12 + 0.98), abs=0.001)


def test_opening_a_side_and_adding_a_source_leave_the_original_alone() -> None:
    one = measured(10, gain=1)
    assert one.as_bound("at_least").bound == "at_least"
    assert one.with_component("gain", Component(2.0)).components["gain"].u == 3
    assert one.with_component("lead", Component(2.0)).components.keys() == {"gain", "lead"}
    assert one.bound == "exact"
    assert one.components == {"gain": Component(1.0)}


@pytest.mark.parametrize(
    ("value", "expanded", "published"),
    [
        (1169.2345, 13.29, (1169, 13)),
        (91.34567, 0.9449, (91.35, 0.94)),
        (91.34567, 0.0951, (91.346, 0.095)),
        (91.34567, 120.0, (90, 120)),
        (123.4, 9.96, (123.4, 10.0)),
        (-14.26, 0.53, (-14.26, 0.53)),
        (0.0, 0.5, (0.0, 0.5)),
        (91.345678, None, (91.3457, None)),
        (91.345678, 0.0, (91.3457, 0.0)),
        (91.345678, math.inf, (91.3457, math.inf)),
    ],
)
def test_rounding_as_published(value: float, expanded: float | None, published: tuple[float, float | None]) -> None:
    assert rounded_pair(value, expanded) == published


def test_without_a_pm_the_writers_own_words_are_the_limits() -> None:
    """Written as "85 to 95" on an instrument that nobody named: 90, and surely nothing outside of what was written."""
    written = {"stated:q/run/counted_ah": rectangular(5.0), "gain:b/shunt": rectangular(1.0)}
    spoken = Measured(value=90, unit="Ah", components=written, basis="as_read")
    assert (spoken.expanded, spoken.lowest, spoken.highest) == (None, 85.0, 95.0)
    assert (spoken.as_bound("at_least").lowest, spoken.as_bound("at_most").highest) == (85.0, 95.0)
    halved = through(lambda a: a / 2, spoken, unit="Ah")
    assert (halved.lowest, halved.highest) == pytest.approx((42.5, 47.5))
    measured = Measured(value=90, unit="Ah", components=written)
    assert measured.written_limit == 0.0, "with a ± the words are part of it"
    assert measured.lowest == 90 - (measured.expanded or 0.0)
