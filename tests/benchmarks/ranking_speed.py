"""Grading and placing many units: CPU seconds for 1,000 units in 20 classes and for 5,000 in one, and how they grow."""

from __future__ import annotations

import math
import tempfile
from pathlib import Path

import numpy as np

from site_builder.criteria import Fact
from site_builder.grade import Graded, graded_facts
from site_builder.grading_records import Grading
from site_builder.load import read_catalogue
from site_builder.measured import Component, Measured
from site_builder.rank import places
from tests.benchmarks.measure import Row, cpu_s, table

CATALOGUE = Path(__file__).parents[2] / "catalogue"
BENCHES = 10
BUDGET_20_CLASSES_S = 1.0
BUDGET_ONE_CLASS_S = 10.0


def grading() -> Grading:
    """The catalogue's own grading.

    Raises:
        ValueError: It cannot be read.
    """
    held = read_catalogue(CATALOGUE, CATALOGUE.parent, {}, []).grading
    if held is None:
        raise ValueError("catalogue/grading.yml cannot be read")
    return held


def many_facts(count: int, held: Grading, seed: int = 1) -> list[dict[str, Fact]]:
    """Facts of units that were measured on ten benches: most exact, some bounds, some not tested."""
    rng = np.random.default_rng(seed)
    return [_facts(unit, held, rng) for unit in range(count)]


def _facts(unit: int, held: Grading, rng: np.random.Generator) -> dict[str, Fact]:
    facts: dict[str, Fact] = {}
    bench = int(rng.integers(BENCHES))
    for part in (part for criterion in held.criteria.values() for part in criterion.parts):
        if not part.anchors:
            names = [f"{part.fact}:{load}" for load in part.loads] if part.loads else [part.fact]
            facts |= {name: str(rng.choice(list(part.levels))) for name in names}
        elif rng.random() < 0.9:
            low, high = part.anchors[0].at, part.anchors[-1].at
            value = float(rng.uniform(low, high))
            u = 0.005 * abs(value)
            own = {f"{word}:{unit}/{part.fact}": Component(u) for word in ("offset", "step", "repeat", "edge")}
            shared = {f"gain:{bench}/{name}": Component(u) for name in ("shunt", "meter")}
            seen = Measured(value=value, unit="1", components=own | shared)
            facts[part.fact] = seen.as_bound("at_least") if rng.random() < 0.1 else seen
    return facts


def graded_units(facts: list[dict[str, Fact]], held: Grading) -> list[Graded]:
    """Every unit's grade."""
    return [graded_facts(f"unit-{i:05}", one, (), held) for i, one in enumerate(facts)]


def rows(_: Path) -> list[Row]:
    """Both budgets, grading included; the note says how the time grows with the number of units."""
    held = grading()
    twenty = many_facts(1000, held)
    graded_units(twenty[:50], held)  # caches

    def classes() -> None:
        units = graded_units(twenty, held)
        for first in range(0, 1000, 50):
            places(units[first : first + 50])

    facts = many_facts(5000, held)
    whole = cpu_s(lambda: places(graded_units(facts, held)))
    units = graded_units(facts, held)
    half_s, whole_s = (cpu_s(lambda n=n: places(units[:n])) for n in (2500, 5000))  # type: ignore[misc]
    note = (
        f"placing alone: 2,500 units {half_s:.2f} s, 5,000 units {whole_s:.2f} s: grows as n^{_power(half_s, whole_s)}"
    )
    return [
        Row(
            what="1,000 units in 20 classes, graded and placed",
            value=cpu_s(classes),
            unit="s",
            budget=BUDGET_20_CLASSES_S,
        ),
        Row(
            what="5,000 units in one class, graded and placed",
            value=whole,
            unit="s",
            budget=BUDGET_ONE_CLASS_S,
            note=note,
        ),
    ]


def _power(half_s: float, whole_s: float) -> str:
    return f"{math.log2(whole_s / half_s):.1f}"


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as folder:
        print(table(rows(Path(folder))))


if __name__ == "__main__":
    main()
