"""Show the working: for each number its method, where it comes from, and what is not known exactly, largest first.

Nothing is computed here but the order of what the derivations found.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from markupsafe import Markup

from site_builder.bench_tests import BalanceTest, OneTest, ResistanceTest
from site_builder.catalogue_records import Bench
from site_builder.derived import DerivedUnit, LogNote
from site_builder.measured import NOT_KEPT, Measured
from site_builder.moments import Moment
from site_builder.pages.recorded import anchor, spoken
from site_builder.pages.safe_text import link, safe, sentence
from site_builder.pages.switched import held, in_data
from site_builder.pages.text import (
    THIN,
    UNIT_WORDS,
    duration_unit,
    listed,
    number,
    significant,
    stated,
    stated_duration,
)
from site_builder.pages.video_words import at_second, seconds_words
from site_builder.pages.views import Fold, Words

# A component's first word says what kind of error it is; {} is its last, an instrument.
KINDS = {
    "gain": "{} gain",
    "drift": "{} warmth",
    "offset": "{} zero",
    "step": "display step",
    "digits": "last digits",
    "noise": "noise",
    "gaps": "gaps",
    "edge": "last interval",
    "lead": "leads",
    "repeat": "repeat",
    "stated": "as written",
    "peukert": "other rate",
    "temperature": "temperature",
    "chain": "inverter",
    "load": "the load's {}",
    "fit": "fit",
    "lag": "case and cells",
    "counter": "counter",
    "voltage": "mean voltage",
    "dead band": "counter's dead band",
}
WITH_INSTRUMENT = ("gain", "drift", "offset")
LIST_SAYS = "Standard uncertainties, largest first:"
SMALL = 0.1  # sources below this share of the whole are told together
TITLES = {
    "evidence": "evidence and ±", "logs": "logs", "capacity": "capacity", "loads": "loads", "overload": "overload",
    "cold": "cold", "resistance": "resistance", "charging": "charging", "cost-and-build": "cost and build",
}  # fmt: skip


@dataclass(frozen=True, kw_only=True, slots=True)
class Worked:
    """A published number by the title that it has in its section, and the test it comes from."""

    title: Words
    one: Measured
    test: str


def working(
    unit: DerivedUnit,
    benches: Mapping[str, Bench],
    worked: Sequence[Worked],
    *,
    methods: Sequence[str],
    assumed: str,
) -> tuple[Fold, ...]:
    """The fold under a section's numbers; none where it has no numbers.

    Args:
        unit: The battery.
        benches: All benches.
        worked: Its numbers, in the order of the section.
        methods: Names of the pages that explain the method.
        assumed: What was assumed, in whole sentences.
    """
    if not worked:
        return ()
    links = [sentence('<a href="../../methods/{}/">{}</a>', Markup(name), TITLES[name]) for name in methods]  # noqa: S704
    how = sentence("Method: {}. {}", Markup(listed(links)), assumed)  # noqa: S704  # sentences are markup
    tests = dict.fromkeys(one.test for one in worked if one.test in unit.record.tests)
    sources = Markup("<br>").join(sentence("{}: {}.", anchor(name), source(unit, name, benches)) for name in tests)
    items = tuple(sentence("{}: {}", one.title, unknowns(one.one)) for one in worked)
    says = (how, sources, _instruments([one.one for one in worked], unit, benches), LIST_SAYS)
    return (Fold(title="Show the working", says=tuple(words for words in says if words), items=items),)


def unknowns(one: Measured) -> Markup:
    """What adds to a number's ±, largest first, in its unit: "repeat 0.27, shunt gain 0.21 Ah"."""
    if one.basis == "as_read":
        return Markup("no ±: no instrument with known limits")
    if one.basis == "reported":
        return sentence("no ±: {}", NOT_KEPT)
    if not one.components:
        return sentence("limits as written down" if one.bound == "between" else "taken as it is")
    scale, unit = _scale(one)
    by_words: dict[str, float] = {}
    for name, component in one.components.items():
        words = component_words(name)
        by_words[words] = math.hypot(by_words.get(words, 0.0), component.u * scale)
    least = SMALL * math.hypot(*by_words.values())
    ordered = sorted(by_words.items(), key=lambda item: -item[1])
    said = [(words, u) for words, u in ordered if u >= least]
    rest = [u for _, u in ordered if u < least]
    said += [("rest", math.hypot(*rest))] if any(rest) else []
    text = ", ".join(f"{words} {significant(u, digits=2)}" for words, u in said) + (f"{THIN}{unit}" if unit else "")
    # The switch of units goes by the order of the numbers: an instrument's name with a digit in it would break it.
    named = any(letter.isdigit() for words, _ in said for letter in words)
    return in_data("" if named else held([u for _, u in said], "K" if unit == "°C" else unit), str(safe(text)))


def _scale(one: Measured) -> tuple[float, str]:
    if one.unit == "s":
        unit, seconds = duration_unit(abs(one.value))
        return 1 / seconds, unit
    return (100.0, "%") if one.unit == "1" else (1.0, UNIT_WORDS.get(one.unit, one.unit))


@lru_cache(maxsize=4096)
def component_words(name: str) -> str:
    """A component's name in words: its first word is the kind of error, its last the instrument.

    >>> component_words("gain:boathouse-2026/shunt")
    'shunt gain'
    """
    word, _, rest = name.partition(":")
    return KINDS.get(word, word).format(spoken(rest.rpartition("/")[2]))


def _instruments(many: Sequence[Measured], unit: DerivedUnit, benches: Mapping[str, Bench]) -> Markup:
    """The instruments that these numbers depend on; their limits stand once on the page."""
    names = {test.bench or unit.record.bench or "" for test in unit.record.tests.values()}
    known = {key for name in names if name in benches for key in benches[name].instruments}
    sources = dict.fromkeys(name for one in many for name in one.components)
    parted = ((name.partition(":")[0], name.rpartition("/")[2]) for name in sources)
    found = dict.fromkeys(key for word, key in parted if word in WITH_INSTRUMENT and key in known)
    if not found:
        return Markup("")
    return sentence('Instruments: {} (<a href="#limits">their limits</a>).', listed([spoken(key) for key in found]))


def source(unit: DerivedUnit, name: str, benches: Mapping[str, Bench]) -> Markup:
    """Where a test's numbers come from: the log's lines, what was read by hand on what, the video's seconds."""
    test, log = unit.record.tests[name], unit.logs.get(name)
    said = [_lines(log)] if log else []
    by_hand = list(_inputs(test))
    if by_hand and not log:
        bench = benches.get(test.bench or unit.record.bench or "")
        on = bench.instruments.get(test.read_on or "") if bench else None
        instrument = f" on {spoken(test.read_on or '')}" if on else ""
        said.append(sentence("read by hand{}: {}", instrument, Markup(", ").join(by_hand)))
    if test.video and test.video.in_ in unit.record.videos:
        said.append(video_words(unit, test))
    return Markup("; ").join(said) if said else Markup("read by hand")


def _lines(log: LogNote) -> Markup:
    first, last = log.lines
    rows = f"lines {number(first)} to {number(last)}" if last else f"{number(log.rows)} rows"
    return sentence("{}, {}", log.file, rows)


def video_words(unit: DerivedUnit, test: OneTest) -> Markup:
    """The seconds of the video, as a link to the first: "14:48 to 14:54 of the video"."""
    shown = test.video
    if shown is None:
        return Markup("")
    at = seconds_words(shown)
    return link(at_second(unit.record.videos[shown.in_], shown.from_), f"{at} of the video" if at else "the video")


_FIELDS = {
    "counted_ah": ("counted {}", "Ah"), "counted_wh": ("counted {}", "Wh"), "current_a": ("{}", "A"),
    "voltage_v": ("{}", "V"), "power_w": ("{}", "W"), "peak_w": ("peak {}", "W"), "heater_w": ("heater {}", "W"),
    "max_current_a": ("largest current {}", "A"), "meter_milliohm": ("{}", "mohm"), "mass_kg": ("{}", "kg"),
    "tail_a": ("at the end {}", "A"),
}  # fmt: skip


def _moment_words(moment: Moment) -> str:
    """A time as it was written; of a range both ends: "between 22:10 and 23:40"."""
    first, _, last = moment.text.partition(" to ")
    return f"between {first} and {last}" if last else first


def _inputs(test: OneTest) -> Iterator[Markup]:
    """What was written down by hand for a test, as it was written."""
    for field, (words, unit) in _FIELDS.items():
        if (value := getattr(test, field, None)) is not None:
            yield sentence(words, stated(value, unit))
    if test.duration_s is not None:
        yield sentence("{}", stated_duration(test.duration_s))
    elif test.started is not None and test.ended is not None:
        yield sentence("from {} to {}", _moment_words(test.started), _moment_words(test.ended))
    if (soc := getattr(test, "soc", None)) is not None and hasattr(soc, "start"):
        yield sentence("charge {} to {}", stated(soc.start, "1"), stated(soc.end, "1"))
    if isinstance(test, ResistanceTest):
        yield from (sentence("{} at {}", stated(r.voltage_v, "V"), stated(r.current_a, "A")) for r in test.readings)
    if isinstance(test, BalanceTest):
        yield from (sentence("{}", stated(volts, "V")) for volts in test.cell_v)
