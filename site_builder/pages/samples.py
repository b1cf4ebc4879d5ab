"""Which sample a figure comes from, said beside it wherever that is not the unit's first one. Nothing is derived."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from markupsafe import Markup

from site_builder.derive.headline import sample_of, sample_rank
from site_builder.derived import DerivedUnit
from site_builder.pages.recorded import anchor
from site_builder.pages.safe_text import sentence
from site_builder.pages.text import listed


def other_sample(unit: DerivedUnit, *tests: str | None) -> str:
    """The sample of these tests: "sample b"; nothing where all were on the unit's first."""
    known = [name for name in tests if name in unit.record.tests and sample_rank(name, unit.record) > 0]
    named = dict.fromkeys(sample_of(unit.record.tests[name], unit.record) for name in known)
    return " and ".join(f"sample {name}" for name in named)


def behind(unit: DerivedUnit, *tests: str | None) -> Markup:
    """The same in brackets behind what it is about: " (sample b)"."""
    named = other_sample(unit, *tests)
    return sentence(" ({})", named) if named else Markup("")


def of_metrics(unit: DerivedUnit, *names: str) -> Markup:
    """The same behind figures of the unit, by their names."""
    return behind(unit, *(unit.result.sources.get(name) for name in names))


def tests_of_others(unit: DerivedUnit) -> Iterator[Markup]:
    """Which tests were on another sample than the first: where many figures stand together."""
    names: defaultdict[str, list[Markup]] = defaultdict(list)
    for test in unit.record.tests:
        if sample := other_sample(unit, test):
            names[sample].append(anchor(test))
    for sample, tests in names.items():
        yield sentence("On {} were: {}.", sample, Markup(listed(tests)))  # noqa: S704  # anchors are markup
