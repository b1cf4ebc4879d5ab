"""Gradings and units made up for tests: criteria on one metric each, and the catalogue's own grading."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path

from site_builder.criteria import Fact
from site_builder.grade import Components, Ends, Graded, graded_facts
from site_builder.grading_records import Anchor, Criterion, Grading, Level, Part
from site_builder.load import read_catalogue
from site_builder.measured import Bound, Component, Measured

CATALOGUE = Path(__file__).parent.parent / "catalogue"
# Four metrics whose values the tests choose freely.
METRICS = ("delivered_wh", "delivered_ah", "mean_voltage_v", "temperature_c")
WHOLE = ((0.0, 0.0), (100.0, 100.0))


def anchors(*corners: tuple[float, float]) -> tuple[Anchor, ...]:
    """Corners of a value function."""
    return tuple(Anchor(at=at, points=points, because="a test") for at, points in corners)


def criterion(
    fact: str, weight: float, corners: Sequence[tuple[float, float]] = WHOLE, words: Mapping[str, float] | None = None
) -> Criterion:
    """A criterion of one part; without corners it is graded by words alone."""
    levels = {word: Level(points=points, because="a test") for word, points in (words or {}).items()}
    part = Part(fact=fact, title=fact, anchors=anchors(*corners), levels=levels, because="a test")
    return Criterion(title=fact, weight=weight, because="a test", parts=(part,))


def grading(weights: Sequence[float], corners: Sequence[tuple[float, float]] = WHOLE, least: float = 0.6) -> Grading:
    """One criterion for each weight, on the metrics above; points are the value itself without other corners."""
    named = zip(METRICS, weights, strict=False)
    criteria = {f"c{i}": criterion(fact, weight, corners) for i, (fact, weight) in enumerate(named)}
    return Grading.model_validate({"version": 1, "since": "2026-01-01", "least_tested": least, "criteria": criteria})


def measured(value: float, bound: Bound = "exact", **components: float) -> Measured:
    """A number with standard uncertainties by source."""
    held = {name: Component(u) for name, u in components.items()}
    return Measured(value=value, unit="1", bound=bound, components=held)


def unit(name: str, values: Sequence[float | Fact | None], held: Grading) -> Graded:
    """A graded unit; a plain number has no ±, None was not tested."""
    facts: dict[str, Fact] = {}
    for fact, value in zip(METRICS, values, strict=False):
        if value is not None:
            facts[fact] = measured(value) if isinstance(value, float | int) else value
    return graded_facts(name, facts, (), held)


def ends(low: float, high: float | None = None, components: Components | None = None) -> Ends:
    """A score from its worst to its best."""
    best = low if high is None else high
    return Ends(value=low, low_end=low, high_end=best, low=low, high=best, components=components or {})


@cache
def own_grading() -> Grading:
    """The grading of the catalogue."""
    held = read_catalogue(CATALOGUE, CATALOGUE.parent, {}, []).grading
    assert held is not None
    return held
