"""Derived figures of single tests as rows of a section's table, and the same figures for its working."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from markupsafe import Markup

from site_builder.derived import DerivedUnit
from site_builder.measured import Measured
from site_builder.nomenclature import METRICS
from site_builder.pages.recorded import anchor
from site_builder.pages.safe_text import sentence
from site_builder.pages.samples import other_sample
from site_builder.pages.switched import with_measures
from site_builder.pages.text import duration, quantity
from site_builder.pages.views import Cell, Words
from site_builder.pages.working import Worked


def metric_rows(unit: DerivedUnit, test: str, names: Sequence[str]) -> Iterator[tuple[Cell, ...]]:
    """Figures of one test with their titles; what belongs to them stands beside the first."""
    first, result = True, unit.result.tests[test]
    of = [sample] if (sample := other_sample(unit, test)) else []
    for name in names:
        if name not in result.metrics:
            continue
        notes = [anchor(test), *of, *map(with_measures, result.conditions)] if first else []
        yield (
            Cell(words=METRICS[name].title),
            Cell(words=_shown(name, result.metrics[name])),
            Cell(words=Markup(", ").join(notes)),
        )
        first = False


def worked_in(unit: DerivedUnit, tests: Iterable[str], names: Sequence[str]) -> list[Worked]:
    """Those numbers of some tests that are there."""
    return [
        Worked(title=METRICS[name].title, one=unit.result.tests[test].metrics[name], test=test)
        for test in tests
        for name in names
        if name in unit.result.tests[test].metrics
    ]


def _shown(name: str, one: Measured) -> Words:
    shown = duration(one) if METRICS[name].unit == "s" else quantity(one)
    return sentence("{} (as read)", shown) if one.basis == "as_read" else shown
