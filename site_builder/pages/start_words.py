"""What pages say of starts and large currents: on what evidence a load starts, what to mind. Nothing is derived.

The words of a start are those of assets/runtime-answers.js.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from markupsafe import Markup

from site_builder.catalogue_records import Load
from site_builder.derive.answers import start_duration_s
from site_builder.derive.results import LoadAnswer
from site_builder.derived import DerivedUnit
from site_builder.pages.load_words import STARTS
from site_builder.pages.recorded import anchor, the_loads
from site_builder.pages.safe_text import sentence
from site_builder.pages.text import THIN, quantity, significant

IN_PARALLEL = (
    "Only as many as the maker allows, and only of one model, age and condition; at equal voltage before they are "
    "joined; a fuse for each, and cables of equal length."
)
LARGE_CURRENTS = (
    "Cables, fuses and terminals have to be made for that current and for a short circuit, as the makers’ manuals and "
    "local codes say."
)
NO_STEPS = "what it carries was not tested"
NO_STEP_NEAR = "no current near it was tried for so long"


def start_words(unit: DerivedUnit, load: Load, answer: LoadAnswer, up: str) -> Markup:
    """Whether it starts and on what evidence, each step a link to its test; `up` leads to the site's root."""
    word = STARTS[answer.start]
    if answer.start_seen:
        return sentence("seen to start" if answer.start == "starts" else "{}, seen", word)
    if answer.start == "not known":
        untested = answer.peak_a is not None and not unit.result.carrying
        return sentence("{}: {}", word, _link(unit, up, "carries", NO_STEPS)) if untested else Markup(word)  # noqa: S704
    if answer.peak_a is None:
        return sentence("{}: more than its voltage gives at its {}", word, _link(unit, up, "idle", "resistance"))
    current, time = significant(answer.peak_a), significant(start_duration_s(load))
    return sentence("{}: {}; it takes about {}{}A for {}{}s", word, _sides(unit, answer, up), current, THIN, time, THIN)


def _sides(unit: DerivedUnit, answer: LoadAnswer, up: str) -> Markup:
    said = []
    if answer.carried and answer.start != "will not":
        words = sentence("carried {} that long", quantity(answer.carried.current))
        said.append(_link(unit, up, f"test-{answer.carried.test}", words))
    if answer.tripped and answer.start != "starts":
        words = sentence("cut off at {} no later", quantity(answer.tripped.current))
        said.append(_link(unit, up, f"test-{answer.tripped.test}", words))
    return Markup(", ").join(said) if said else _link(unit, up, "carries", NO_STEP_NEAR)


def _link(unit: DerivedUnit, up: str, place: str, words: str) -> Markup:
    href = Markup(f"{up}units/{unit.id}/#{place}")  # noqa: S704  # checked names
    return sentence('<a href="{}">{}</a>', href, words)


def with_loads(test_name: str, names: Sequence[str], loads: Mapping[str, Load]) -> Markup:
    """A run by its loads, for the beginning of a sentence: "With the table saw", which leads to its evidence."""
    return sentence("With {}", anchor(test_name, the_loads(names, loads)))
