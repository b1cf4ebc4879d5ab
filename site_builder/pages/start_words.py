"""What pages say of starts and large currents: on what evidence a load starts, what to mind. Nothing is derived.

The words of a start are those of assets/runtime-words.js.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from markupsafe import Markup

from site_builder.catalogue_records import Load
from site_builder.derive.answers import start_duration_s
from site_builder.derive.results import Lasting, LoadAnswer
from site_builder.derived import DerivedUnit
from site_builder.pages.load_words import MAY_CUT_OFF, STARTS, is_cut_off, may_cut_off, seen_words
from site_builder.pages.recorded import anchor, the_loads
from site_builder.pages.safe_text import safe, sentence
from site_builder.pages.text import THIN, quantity, significant, time_span

IN_PARALLEL = (
    "Only as many as the maker allows, and only of one model, age and condition; at equal voltage before they are "
    "joined; a fuse for each, and cables of equal length."
)
LARGE_CURRENTS = (
    "Cables, fuses and terminals have to be made for that current and for a short circuit, as the makers’ manuals and "
    "local codes say."
)
NO_STEPS = "what it carries was not tested"
NO_INVERTER = "the bench has no inverter for it"
NO_STEP_NEAR = "no current near it was tried for so long"


def start_words(unit: DerivedUnit, load: Load, answer: LoadAnswer, up: str) -> Markup:
    """Whether it starts and on what evidence, each step a link to its test; `up` leads to the site's root."""
    word = outcome_words(unit, answer, up)
    if answer.start_seen:
        return (
            outcome_words(unit, answer, up, "seen to start") if answer.start == "starts" else sentence("{}, seen", word)
        )
    if answer.start == "not known":
        return sentence("{}{}", word, _why_unknown(unit, load, answer, up))
    if answer.peak_a is None:
        return sentence("{}: more than its voltage gives at its {}", word, _link(unit, up, "idle", "resistance"))
    current, time = significant(answer.peak_a), significant(start_duration_s(load))
    return sentence("{}: {}; it takes about {}{}A for {}{}s", word, _sides(unit, answer, up), current, THIN, time, THIN)


def outcome_words(unit: DerivedUnit, answer: LoadAnswer, up: str, start: str = "") -> Markup:
    """Whether it starts, and what ends it soon: "starts, then cut off at 124 ± 3 A after 4 s", a link to its test."""
    word = safe(start or STARTS[answer.start])
    if is_cut_off(answer):
        return sentence("{}, then {}", word, _cut_off(unit, answer.lasting, up))
    return sentence("{}, {}", word, MAY_CUT_OFF) if may_cut_off(answer) else word


def _cut_off(unit: DerivedUnit, lasting: Lasting, up: str) -> Markup:
    if lasting.run is not None:
        return _link(unit, up, f"test-{lasting.run}", seen_words(unit, lasting.run).replace("tripped", "cut off", 1))
    if lasting.tripped is None:
        return Markup("cut off")
    words = sentence("cut off at {} after {}", quantity(lasting.tripped.current), time_span(*lasting.tripped.seen_s))
    return _link(unit, up, f"test-{lasting.tripped.test}", words)


def _why_unknown(unit: DerivedUnit, load: Load, answer: LoadAnswer, up: str) -> Markup:
    """Nothing where the load is for another voltage: that stands beside it."""
    if load.mains and answer.peak_a is None:
        return sentence(": {}", NO_INVERTER)
    untested = answer.peak_a is not None and not unit.result.carrying
    return sentence(": {}", _link(unit, up, "carries", NO_STEPS)) if untested else Markup("")


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
