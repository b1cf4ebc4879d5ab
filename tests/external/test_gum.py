"""Propagation against the worked examples of the GUM, and against GTC, an independent implementation of it.

The GUM is JCGM 100:2008, "Guide to the expression of uncertainty in measurement", with its annex H of examples.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import GTC
import numpy as np
import pytest
from uncertainties import umath

from site_builder.measured import Component, Measured, coverage_factor, effective_dof, rectangular, through

# --- GUM H.1: calibration of an end gauge, lengths in nm -------------------------------------------------------------
LENGTH_OF_STANDARD_NM = 50_000_623  # H.1.3.1
DIFFERENCE_NM = 215  # H.1.2


def end_gauge(standard: Any, difference: Any, expansion: Any, expansions_apart: Any, theta: Any, apart_k: Any) -> Any:
    """GUM equation H.3: l = l_S + d - l_S(δα·θ + α_S·δθ)."""
    return standard + difference - standard * (expansions_apart * theta + expansion * apart_k)


# Name → value, components (u, degrees of freedom), from the clauses named; table H.1 collects them.
END_GAUGE: dict[str, tuple[float, dict[str, tuple[float, float]]]] = {
    "l_S": (LENGTH_OF_STANDARD_NM, {"l_S": (25.0, 18)}),  # H.1.3.1
    "d": (  # H.1.3.2: pooled repeats 13 nm/√5 from 25; comparator's random and systematic effects
        DIFFERENCE_NM,
        {"repeats": (13 / math.sqrt(5), 24), "random": (10 / 2.57, 5), "systematic": (20 / 3, 8)},
    ),
    "α_S": (11.5e-6, {"α_S": (2e-6 / math.sqrt(3), math.inf)}),  # H.1.3.3
    "δα": (0.0, {"δα": (1e-6 / math.sqrt(3), 50)}),  # H.1.3.5
    "θ": (-0.1, {"θ mean": (0.2, math.inf), "θ cycle": (0.5 / math.sqrt(2), math.inf)}),  # H.1.3.4
    "δθ": (0.0, {"δθ": (0.05 / math.sqrt(3), 2)}),  # H.1.3.6
}


def measured_end_gauge() -> Measured:
    inputs = [
        Measured(value=value, unit="", components={name: Component(u, dof) for name, (u, dof) in parts.items()})
        for value, parts in END_GAUGE.values()
    ]
    return through(end_gauge, *inputs, unit="nm")


def test_h1_value_and_uncertainty() -> None:
    length = measured_end_gauge()
    assert length.value == pytest.approx(50_000_838, abs=0.5)  # GUM H.1.5: l = 50.000 838 mm
    # GUM H.1.4: u_c² = 25² + 9.7² + 2.9² + 16.6² nm² = 1002 nm², which is 31.66 nm to first order; printed as 32 nm.
    assert length.u == pytest.approx(31.66, abs=0.02)
    assert math.sqrt(1002) == pytest.approx(31.66, abs=0.01)


@pytest.mark.parametrize(
    ("names", "u_nm"),
    [  # GUM table H.1, last column but one
        (("l_S",), 25),
        (("repeats", "random", "systematic"), 9.7),
        (("repeats",), 5.8),
        (("random",), 3.9),
        (("systematic",), 6.7),
        (("δα",), 2.9),
        (("δθ",), 16.6),
    ],
)
def test_h1_contributions(names: Sequence[str], u_nm: float) -> None:
    components = measured_end_gauge().components
    assert math.hypot(*(components[name].u for name in names)) == pytest.approx(u_nm, abs=0.05)


def test_h1_sources_whose_sensitivity_is_nothing() -> None:
    """GUM H.1.4: to first order neither α_S nor θ contributes, because their factors δθ and δα are zero."""
    assert {"α_S", "θ mean", "θ cycle"} & measured_end_gauge().components.keys() == set()


def test_h1_degrees_of_freedom() -> None:
    length = measured_end_gauge()
    # GUM H.1.6 prints 16.7 from rounded terms, with 25.6 for the three of d together; from unrounded ones 16.75.
    assert effective_dof(length.components) == pytest.approx(16.75, abs=0.01)
    of_d = {name: length.components[name] for name in ("repeats", "random", "systematic")}
    assert effective_dof(of_d) == pytest.approx(25.6, abs=0.1)
    # GUM H.1.6: U₉₉ = t₉₉(16)·u_c = 2.92·32 nm = 93 nm; G.4.1 cuts degrees of freedom to the whole number below.
    factor = coverage_factor(effective_dof(length.components), 0.99)
    assert factor == pytest.approx(2.92, abs=0.005)
    assert factor * length.u == pytest.approx(93, abs=1)


def test_h1_as_gtc_has_it() -> None:
    inputs = [
        sum((GTC.ureal(0.0, u, dof) for u, dof in parts.values()), start=GTC.ureal(0.0, 0.0)) + value
        for value, parts in END_GAUGE.values()
    ]
    other = end_gauge(*inputs)
    ours = measured_end_gauge()
    assert ours.value == pytest.approx(GTC.value(other), rel=1e-12)
    assert ours.u == pytest.approx(GTC.uncertainty(other), rel=1e-12)
    assert effective_dof(ours.components) == pytest.approx(GTC.dof(other), rel=1e-9)


# --- GUM H.2: resistance and reactance from simultaneous readings ----------------------------------------------------
# GUM table H.2: five readings of voltage [V], current [mA] and phase [rad].
READINGS = np.array(
    [
        [5.007, 19.663, 1.0456],
        [4.994, 19.639, 1.0438],
        [5.005, 19.640, 1.0468],
        [4.990, 19.685, 1.0428],
        [4.999, 19.678, 1.0433],
    ]
)


def resistance(v: Any, i: Any, phi: Any, cos: Callable[[Any], Any] = umath.cos) -> Any:
    return v / (i / 1000) * cos(phi)


def reactance(v: Any, i: Any, phi: Any, sin: Callable[[Any], Any] = umath.sin) -> Any:
    return v / (i / 1000) * sin(phi)


def impedance(v: Any, i: Any, _phi: Any) -> Any:
    return v / (i / 1000)


def correlated_means() -> list[Measured]:
    """The means, their correlation carried by three independent variables: rows of the covariance's Cholesky factor."""
    factor = np.linalg.cholesky(np.cov(READINGS, rowvar=False) / len(READINGS))
    dof = len(READINGS) - 1
    return [
        Measured(
            value=float(mean),
            unit="",
            components={f"variable {k}": Component(float(u), dof) for k, u in enumerate(row) if u},
        )
        for mean, row in zip(READINGS.mean(axis=0), factor, strict=True)
    ]


def correlation(a: Measured, b: Measured) -> float:
    shared = a.components.keys() & b.components.keys()
    return sum(a.components[name].u * b.components[name].u for name in shared) / (a.u * b.u)


FUNCTIONS: dict[str, Callable[..., Any]] = {"R": resistance, "X": reactance, "Z": impedance}


def results() -> dict[str, Measured]:
    return {name: through(function, *correlated_means(), unit="Ω") for name, function in FUNCTIONS.items()}


@pytest.mark.parametrize(
    ("name", "value", "u"),
    [("R", 127.732, 0.071), ("X", 219.847, 0.295), ("Z", 254.260, 0.236)],  # GUM table H.3
)
def test_h2_values_and_uncertainties(name: str, value: float, u: float) -> None:
    assert results()[name].value == pytest.approx(value, abs=0.0005)
    # The guide went on from rounded intermediate values: without rounding X has 0.2956, as GTC below confirms.
    assert results()[name].u == pytest.approx(u, abs=0.001)


@pytest.mark.parametrize(
    ("first", "second", "r"),
    [("R", "X", -0.588), ("R", "Z", -0.485), ("X", "Z", 0.993)],  # GUM table H.3
)
def test_h2_correlations_survive(first: str, second: str, r: float) -> None:
    assert correlation(results()[first], results()[second]) == pytest.approx(r, abs=0.0005)


def test_h2_inputs_are_correlated_as_printed() -> None:
    v, i, phi = correlated_means()
    # GUM table H.2: r(V, I) = -0.36, r(V, φ) = 0.86, r(I, φ) = -0.65
    assert correlation(v, i) == pytest.approx(-0.36, abs=0.005)
    assert correlation(v, phi) == pytest.approx(0.86, abs=0.005)
    assert correlation(i, phi) == pytest.approx(-0.65, abs=0.005)


def test_h2_as_gtc_has_it() -> None:
    v, i, phi = GTC.type_a.multi_estimate_real(READINGS.T.tolist())
    others = {
        "R": resistance(v, i, phi, GTC.cos),
        "X": reactance(v, i, phi, GTC.sin),
        "Z": impedance(v, i, phi),
    }
    ours = results()
    for name, other in others.items():
        assert ours[name].value == pytest.approx(GTC.value(other), rel=1e-12)
        assert ours[name].u == pytest.approx(GTC.uncertainty(other), rel=1e-9)
    for first, second in (("R", "X"), ("R", "Z"), ("X", "Z")):
        theirs = GTC.get_correlation(others[first], others[second])
        assert correlation(ours[first], ours[second]) == pytest.approx(theirs, abs=1e-9)


# --- Welch–Satterthwaite and Student's t -----------------------------------------------------------------------------
def test_degrees_of_freedom_of_the_guides_example() -> None:
    """GUM G.4.1, example: y = b·x₁x₂x₃ with relative u 0.25, 0.57, 0.82 % from 10, 5, 15 readings: ν_eff = 19.0."""
    components = {"1": Component(0.25, 9), "2": Component(0.57, 4), "3": Component(0.82, 14)}
    assert effective_dof(components) == pytest.approx(19.0, abs=0.05)
    assert coverage_factor(19.0) == pytest.approx(2.09, abs=0.005)  # t₉₅(19), GUM table G.2


@pytest.mark.parametrize(
    ("dof", "t95"),
    [(1, 12.71), (2, 4.30), (3, 3.18), (4, 2.78), (10, 2.23), (20, 2.09), (50, 2.01), (math.inf, 1.960)],
)
def test_students_t_as_tabulated(dof: float, t95: float) -> None:
    """GUM table G.2, column p = 95 %."""
    assert coverage_factor(dof) == pytest.approx(t95, abs=0.005)


def test_a_rectangular_limit_as_the_guide_has_it() -> None:
    """GUM 4.3.7 with 4.4.5's example: limits ±4 °C around 100 °C give u = 2.3 °C."""
    assert rectangular(4.0).u == pytest.approx(2.3, abs=0.05)


# --- random functions against GTC ------------------------------------------------------------------------------------
OPERATIONS: dict[str, Callable[[Any, Any], Any]] = {
    "sum": lambda a, b: a + b,
    "difference": lambda a, b: a - b,
    "product": lambda a, b: a * b,
    "ratio": lambda a, b: a / b,
    "power": lambda a, b: a ** (b / 7),
}


def random_inputs(chance: np.random.Generator) -> list[Measured]:
    """Three positive numbers that share some of five sources."""
    inputs = []
    for _ in range(3):
        names = chance.choice(5, size=int(chance.integers(1, 4)), replace=False)
        components = {
            f"source {name}": Component(float(chance.normal(0, 0.02)), float(chance.integers(3, 40))) for name in names
        }
        inputs.append(Measured(value=float(chance.uniform(1, 5)), unit="", components=components))
    return inputs


def random_function(chance: np.random.Generator) -> Callable[[Any, Any, Any], Any]:
    first, second = chance.choice(list(OPERATIONS), size=2)
    return lambda a, b, c: OPERATIONS[second](OPERATIONS[first](a, b) + 6, c) + a


def as_gtc(inputs: Sequence[Measured]) -> list[Any]:
    """The same numbers in GTC: one elementary number for each source, seen through its sensitivity."""
    sources = {name for one in inputs for name in one.components}
    unit = {name: GTC.ureal(0.0, 1.0) for name in sorted(sources)}
    return [one.value + sum((c.u * unit[name] for name, c in one.components.items()), start=0.0) for one in inputs]


def test_random_functions_of_correlated_numbers(count: Callable[[int, int], int]) -> None:
    for seed in range(count(100, 2000)):
        chance = np.random.default_rng(seed)
        inputs, function = random_inputs(chance), random_function(chance)
        ours, theirs = through(function, *inputs, unit=""), function(*as_gtc(inputs))
        assert ours.value == pytest.approx(GTC.value(theirs), rel=1e-12), seed
        assert ours.u == pytest.approx(GTC.uncertainty(theirs), rel=1e-9), seed
