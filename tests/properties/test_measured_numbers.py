"""Components, coverage and rounding on any numbers."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from site_builder.frames import metric_parts
from site_builder.measured import (
    Component,
    Measured,
    add_components,
    expanded_uncertainty,
    rectangular,
    rounded_pair,
    through,
)

SIZES = st.floats(1e-6, 1e3)
SIGNED = st.one_of(SIZES, SIZES.map(lambda size: -size))
NAMES = st.sampled_from([f"source {k}" for k in range(5)])
LIMITED = SIZES.map(rectangular)
FREE = st.builds(Component, SIGNED, st.one_of(st.just(math.inf), st.floats(1, 100)))
ANY = st.one_of(LIMITED, FREE)


def numbers(values: st.SearchStrategy[float]) -> st.SearchStrategy[Measured]:
    return st.builds(
        lambda value, components: Measured(value=value, unit="Ah", components=components),
        values,
        st.dictionaries(NAMES, ANY, max_size=4),
    )


@given(st.dictionaries(NAMES, LIMITED, min_size=1))
def test_never_beyond_the_sum_of_limits(components: dict[str, Component]) -> None:
    limits = sum(component.limit or 0.0 for component in components.values())
    expanded = expanded_uncertainty(components)
    assert 0 < expanded <= limits * (1 + 1e-12)


@given(st.dictionaries(NAMES, ANY, min_size=1))
def test_an_expanded_uncertainty_is_wider_than_a_standard_one(components: dict[str, Component]) -> None:
    u = math.hypot(*(component.u for component in components.values()))
    assert expanded_uncertainty(components) >= 1.64 * u or all(one.limit is not None for one in components.values())


@given(st.dictionaries(NAMES, ANY), NAMES, ANY)
def test_more_of_a_new_source_never_narrows(components: dict[str, Component], name: str, one: Component) -> None:
    assume(name not in components)
    before = math.hypot(*(component.u for component in components.values()))
    after = add_components(components, {name: one})
    assert math.hypot(*(component.u for component in after.values())) >= before


@given(numbers(st.floats(1, 100)), numbers(st.floats(1, 100)))
def test_the_names_of_sources_survive(a: Measured, b: Measured) -> None:
    for result in (
        through(lambda x, y: x + y, a, b, unit=""),
        through(lambda x, y: x * y, a, b, unit=""),
        through(lambda x, y: x / y, a, b, unit=""),
    ):
        own = (a.components.keys() | b.components.keys()) - (a.components.keys() & b.components.keys())
        # A shared source may cancel to nothing; one's own cannot.
        assert own <= result.components.keys() <= a.components.keys() | b.components.keys()


@given(numbers(st.floats(1, 100)), SIGNED)
def test_scaling_scales_everything(a: Measured, factor: float) -> None:
    scaled = through(lambda x: factor * x, a, unit="")
    assert scaled.value == pytest.approx(factor * a.value)
    assert scaled.u == pytest.approx(abs(factor) * a.u, rel=1e-9)
    for name, component in a.components.items():
        assert scaled.components[name].u == pytest.approx(factor * component.u)
        assert (scaled.components[name].limit is None) is (component.limit is None)


@given(numbers(st.floats(-100, 100)))
def test_a_number_minus_itself_is_exactly_nothing(a: Measured) -> None:
    nothing = through(lambda x, y: x - y, a, a, unit="")
    assert (nothing.value, nothing.u) == (0, 0)


@given(numbers(st.floats(-100, 100)), numbers(st.floats(-100, 100)))
def test_sums_agree_with_the_covariance(a: Measured, b: Measured) -> None:
    """u²(a + b) = u²(a) + u²(b) + 2·u(a, b): GUM equation 16."""
    shared = a.components.keys() & b.components.keys()
    covariance = sum(a.components[name].u * b.components[name].u for name in shared)
    total = through(lambda x, y: x + y, a, b, unit="").u
    assert total**2 == pytest.approx(a.u**2 + b.u**2 + 2 * covariance, rel=1e-6, abs=1e-9 * (a.u + b.u) ** 2)


@given(st.floats(-1e6, 1e6), st.floats(1e-9, 1e6))
def test_a_rounded_value_is_within_half_its_last_place(value: float, expanded: float) -> None:
    rounded, shown = rounded_pair(value, expanded)
    assert shown is not None
    place = 10.0 ** (math.floor(math.log10(expanded)) - 1)
    assert abs(rounded - value) <= place / 2 * (1 + 1e-6) + 1e-9 * abs(value)
    assert abs(shown - expanded) <= place / 2 * (1 + 1e-6)
    assert rounded == pytest.approx(round(rounded / place) * place, rel=1e-9, abs=place * 1e-6)


@given(st.floats(-1e6, 1e6), st.floats(1e-9, 1e6))
def test_rounding_again_changes_nothing(value: float, expanded: float) -> None:
    once = rounded_pair(value, expanded)
    if once[1] is not None and math.floor(math.log10(once[1])) == math.floor(math.log10(expanded)):
        assert rounded_pair(*once) == once


@given(numbers(st.floats(1, 1000)))
def test_what_is_published_stays_around_what_was_worked_out(one: Measured) -> None:
    value, expanded, _, low, high, _ = metric_parts(one)
    assert low <= value <= high
    if one.expanded:
        place = 10.0 ** (math.floor(math.log10(one.expanded)) - 1)
        assert np.allclose([low, high], [one.lowest, one.highest], rtol=1e-9, atol=place * 0.51)
        assert expanded == pytest.approx(one.expanded, rel=0.051)
