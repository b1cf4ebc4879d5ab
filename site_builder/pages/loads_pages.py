"""The pages of loads: all of them against all batteries, and one page a load with what each battery does with it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from markupsafe import Markup

from site_builder import charts
from site_builder.asking import LARGE_A
from site_builder.bench_tests import CapacityTest
from site_builder.catalogue_records import Load
from site_builder.derive.answers import USUAL_V
from site_builder.derive.results import LoadAnswer
from site_builder.derived import Derived, DerivedUnit
from site_builder.pages.load_words import (
    hours_words,
    is_cut_off,
    load_link,
    load_tests,
    projected_bar,
    seen_bars,
    seen_links,
    seen_words,
    short_title,
    uses_words,
    why_no_hours,
)
from site_builder.pages.safe_text import escaped, sentence
from site_builder.pages.start_words import LARGE_CURRENTS, outcome_words, start_words
from site_builder.pages.text import COUNTS, THIN, counted, day, listed, stated, stated_duration
from site_builder.pages.views import Box, Cell, Column, Fact, Figure, PlainPage, Section, Table, Words, columns
from site_builder.pages.words import name_of

MAX_BARS = 24
MOST_NAMED = 6
UNTRIED = Cell(words="nobody tried", missing=True)
LEGEND = (
    "A filled square: seen on the bench. An open one: projected from its overload steps and from what it delivered. "
    "Hours are for one charge; where none stand there, they are not known."
)
HOW = Markup('<a href="{}methods/loads/">How that is told</a>.')


def _published(derived: Derived) -> list[DerivedUnit]:
    return sorted((u for u in derived.units if u.record.unit.status == "published"), key=lambda u: name_of(u.record))


def _unit_link(unit: DerivedUnit, up: str, test: str = "runs", words: str = "") -> Markup:
    href = Markup(f"{up}units/{unit.id}/#{test}")  # noqa: S704  # checked names
    return sentence('<a href="{}">{}</a>', href, words or name_of(unit.record))


def loads_page(derived: Derived) -> PlainPage:
    """All loads against all batteries, a table a class."""
    loads = derived.catalogue.loads
    units = _published(derived) if loads else []
    names = {name: one.title for name, one in derived.catalogue.classes.items()}
    groups = {name: [unit for unit in units if unit.result.class_id == name] for name in names}
    alone = [unit for unit in units if unit.result.class_id not in names]
    sections = [_matrix(name, names[name], group, loads) for name, group in groups.items() if group]
    sections += [_matrix("others", "In no class", alone, loads)] if alone else []
    sections[:1] = [replace(first, says=(sentence("{} {}", LEGEND, HOW.format("../")),)) for first in sections[:1]]
    what = "what ran, what tripped and, where nobody tried, what would start and for how long"
    lead = sentence(
        '{} on {}: {}. As of {}. <a href="../runtime/">How long would it run yours?</a>',
        counted(len(loads), "load").capitalize(),
        counted(len(units), "battery", "batteries"),
        what,
        day(derived.as_of),
    )
    return PlainPage(
        title="Loads", description=f"Appliances and tools on each battery: {what}.", over="", boxes=(), lead=lead,
        facts=(), sections=tuple(sections),
    )  # fmt: skip


def _matrix(anchor: str, title: str, units: Sequence[DerivedUnit], loads: Mapping[str, Load]) -> Section:
    headings = (Column(heading="Load"), *(Column(heading=_unit_link(unit, "../"), is_text=True) for unit in units))
    links = {name: Cell(words=load_link(name, short_title(name, loads), "../")) for name in loads}
    rows = tuple((link, *(_matrix_cell(unit, name, loads) for unit in units)) for name, link in links.items())
    table = Table(columns=headings, rows=rows, is_matrix=True, name=title)
    return Section(anchor=anchor, heading=escaped(title), short=escaped(title), tables=(table,))


def _matrix_cell(unit: DerivedUnit, name: str, loads: Mapping[str, Load]) -> Cell:
    """What was seen, else what is projected; projected hours below, unless it was run to the end."""
    answer = unit.result.loads.get(name)
    tests = load_tests(unit, name)
    hours = None if answer is None or any(isinstance(t, CapacityTest) for t in tests.values()) else hours_words(answer)
    below = sentence("<small>{}</small>", hours) if hours else Markup("")
    if tests:
        return Cell(words=seen_links(unit, name, loads, "../") + below, mark="seen")
    if answer is None or answer.start == "not known":
        return Cell(words=Markup("not known") + below, missing=True, mark="projected" if hours else "")
    return Cell(words=sentence("{}{}", outcome_words(unit, answer, "../"), below), mark="projected")


def load_page(name: str, derived: Derived) -> PlainPage:
    """One load: its figures, its caution, and each battery with it."""
    load, units = derived.catalogue.loads[name], _published(derived)
    known = [(unit, answer) for unit in units if (answer := unit.result.loads.get(name)) is not None]
    ordered = sorted(known, key=lambda one: _order(one, name))
    section = Section(
        anchor="batteries",
        heading="Each battery with it",
        short="Batteries",
        figure=_figure(name, load, ordered),
        tables=(_table(name, derived.catalogue.loads, ordered),) if ordered else (),
    )
    return PlainPage(
        title=load.title,
        description=f"{load.title}: which batteries ran it, which tripped, and for how long each would run it.",
        over=Markup('<a href="../">All loads</a>'),
        boxes=tuple(_boxes(load)),
        lead=Markup(" ").join([*_lead(name, ordered), _with_others(name)]),
        facts=tuple(_facts(load)),
        sections=(section,) if ordered else (),
    )


def _boxes(load: Load) -> Iterator[Box]:
    """Its own caution, and that of a current for which cables and fuses are not at hand."""
    if load.caution:
        yield Box(word="Caution", says=load.caution)
    most_a = max(load.running_w.best, load.start.peak_w.best if load.start else 0.0) / USUAL_V
    if most_a >= LARGE_A:
        at = sentence("At {}{}V it takes {}{}A or more.", f"{USUAL_V:g}", THIN, f"{most_a:.0f}", THIN)
        more = Markup('<a href="../../cautions/#large-currents">Large currents</a>.')
        yield Box(word="Caution", says=sentence("{} {} {}", at, LARGE_CURRENTS, more))


def _with_others(name: str) -> Markup:
    """The way to what this page does not know: other loads beside it, another inverter, several batteries."""
    words = "With others beside it, on your inverter, on several batteries"
    return sentence('<a href="../../runtime/?load={}">{}</a>.', Markup(name), words)  # noqa: S704  # a checked name


def _order(one: tuple[DerivedUnit, LoadAnswer], name: str) -> tuple[bool, float, str]:
    """Seen first, then the longest."""
    unit, answer = one
    hours = answer.hours.value if answer.hours is not None and answer.start != "will not" else 0.0
    return not load_tests(unit, name), -hours, name_of(unit.record)


def _lead(name: str, known: Sequence[tuple[DerivedUnit, LoadAnswer]]) -> Iterator[Markup]:
    """How many were seen to run it and who tripped; then what the others would do."""
    seen = [unit for unit, _ in known if load_tests(unit, name)]
    told = [(unit, seen_words(unit, test)) for unit in seen for test in load_tests(unit, name)]
    ran = [(unit, words.removeprefix("ran").strip()) for unit, words in told if words.startswith("ran")]
    stopped = [(unit, words) for unit, words in told if not words.startswith("ran")]
    if ran:
        count = counted(len({unit.id for unit, _ in ran}), "battery", "batteries")
        yield sentence("Ran on {}: {}.", count, _named(ran))
    if stopped:
        count = counted(len({unit.id for unit, _ in stopped}), "battery", "batteries")
        yield sentence("Stopped on {}: {}.", count, _named(stopped))
    if not seen:
        yield Markup("Nobody has run it on a battery here yet.")
    ids = {unit.id for unit in seen}
    others = [answer for unit, answer in known if unit.id not in ids]
    counts = Counter("cut off" if is_cut_off(answer) else answer.start for answer in others)
    parts = [
        words.format(_count(counts[start]), "is" if counts[start] == 1 else "are")
        for start, words in STARTED
        if counts[start]
    ]
    if parts:
        yield sentence("Of the {}, {}.", "others" if seen else "batteries", "; ".join(parts))


STARTED = (
    ("starts", "{} would start it"),
    ("borderline", "{} {} borderline"),
    ("cut off", "{} would cut off while it is on"),
    ("will not", "{} would not start it"),
    ("not known", "for {} it is not known"),
)


def _count(count: int) -> str:
    return COUNTS[count] if count < len(COUNTS) else str(count)


def _named(told: Sequence[tuple[DerivedUnit, str]]) -> Markup:
    """Batteries with what each did, as many as a sentence holds."""
    said = [
        sentence("{}{}", _unit_link(unit, "../../"), f" ({words})" if words else "")
        for unit, words in told[:MOST_NAMED]
    ]
    more = len(told) - MOST_NAMED
    return Markup(listed([*said, f"{_count(more)} more"] if more > 0 else said))  # noqa: S704  # sentences are markup


def _facts(load: Load) -> Iterator[Fact]:
    through = "through an inverter" if load.mains else "from the battery itself"
    yield Fact(name="Running", value=stated(load.running_w, "W"), below=through)
    if load.start:
        yield Fact(
            name="At its start",
            value=stated(load.start.peak_w, "W"),
            below=sentence("for {}", stated_duration(load.start.duration_s)),
        )
    if load.duty:
        yield Fact(name="On", value=stated(load.duty, "1"), below="of the time")
    if load.energy_per_use_wh and load.use:
        yield Fact(name="One use", value=stated(load.energy_per_use_wh, "Wh"), below=load.use)


def _figure(name: str, load: Load, known: Sequence[tuple[DerivedUnit, LoadAnswer]]) -> Figure | None:
    bars: list[charts.Hours] = []
    for unit, answer in known:
        tests = {n: test for n, test in load_tests(unit, name).items() if test.load == (name,)}
        title = name_of(unit.record)
        bars += seen_bars(unit, tests, dict.fromkeys(tests, title))
        if not any(isinstance(test, CapacityTest) for test in tests.values()):
            bars += [bar for bar in (projected_bar(title, answer),) if bar]
    bars = bars[:MAX_BARS]
    if not bars:
        return None
    rows = tuple((Cell(words=bar.name), Cell(words=bar.words)) for bar in bars)
    return Figure(
        id="hours",
        says=sentence("{}, hours on one charge. {}", load.title, charts.HOURS_MARKS),
        description="Hours that each battery ran or would run it; the numbers are in the table below.",
        chart=charts.hours(bars),
        table=Table(columns=columns("Battery", "On one charge", text={"On one charge"}), rows=rows),
    )


def _table(name: str, loads: Mapping[str, Load], known: Sequence[tuple[DerivedUnit, LoadAnswer]]) -> Table:
    words = ("Seen", "Would it start?", "Hours on one charge", "Uses")
    rows = tuple(_row(unit, answer, name, loads) for unit, answer in known)
    caption = sentence(
        "Hours and uses are projected, up to half of a battery's capacity per hour. {}", HOW.format("../../")
    )
    return Table(columns=columns("Battery", *words, text=set(words)), rows=rows, caption=caption)


def _row(unit: DerivedUnit, answer: LoadAnswer, name: str, loads: Mapping[str, Load]) -> tuple[Cell, ...]:
    seen = load_tests(unit, name)
    mark = "" if answer.start == "not known" else "seen" if answer.start_seen else "projected"
    hours = hours_words(answer)
    uses: Words = uses_words(loads[name], answer)
    return (
        Cell(words=_unit_link(unit, "../../")),
        Cell(words=seen_links(unit, name, loads, "../../"), mark="seen")
        if seen
        else Cell(words="nobody tried", missing=True),
        Cell(words=start_words(unit, loads[name], answer, "../../"), mark=mark),
        Cell(words=hours) if hours else Cell(words=why_no_hours(answer), missing=True),
        Cell(words=uses),
    )
