"""The section "What does it run, and for how long?": what was seen, what is projected from what it delivered."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping

from markupsafe import Markup

from site_builder import charts
from site_builder.bench_tests import CapacityTest, LoadRun
from site_builder.catalogue_records import Bench, Load
from site_builder.derive.results import LoadAnswer
from site_builder.derived import DerivedUnit
from site_builder.pages import unit_questions
from site_builder.pages.load_words import (
    hours_words,
    is_cut_off,
    lasted,
    load_link,
    load_links,
    load_tests,
    projected_bar,
    seen_bars,
    short_title,
    together,
    uses_words,
    why_no_hours,
)
from site_builder.pages.recorded import NOT_RECORDED, anchor, not_kept, run_outcome, the_loads, untested
from site_builder.pages.safe_text import safe, sentence
from site_builder.pages.samples import other_sample
from site_builder.pages.start_words import outcome_words, with_loads
from site_builder.pages.switched import with_measures
from site_builder.pages.text import listed, stated
from site_builder.pages.views import Cell, Figure, Fold, Section, Table, Words, columns
from site_builder.pages.working import Worked, unknowns, working

MAX_BARS = 9
UP = "../../"
ENDS = {"bms": " until the battery cut off", "end_voltage": " down to the end voltage"}


def runs_section(unit: DerivedUnit, loads: Mapping[str, Load], benches: Mapping[str, Bench]) -> Section:
    """What it ran, what it would run, and the cautions of those loads."""
    seen = tuple(_seen_row(unit, name, loads) for name in load_tests(unit))
    figure = _figure(unit, loads)
    headings = columns("Load", "What was seen", "For", text={"What was seen"})
    return Section(
        anchor=unit_questions.RUNS.anchor,
        heading=unit_questions.RUNS.heading,
        short=unit_questions.RUNS.short,
        says=tuple(_says(unit, loads)),
        figure=figure,
        tables=(Table(columns=headings, rows=seen),) if seen else (),
        lists=_cautions(unit, loads),
        folds=(_all_loads(unit, loads), *_working(unit, loads, benches)),
    )


def _says(unit: DerivedUnit, loads: Mapping[str, Load]) -> Iterator[Words]:
    """What it ran and what stopped it in one sentence; then which motors it starts."""
    tests = load_tests(unit)
    if not tests:
        yield untested("an appliance, a clock, and somebody who writes down what stopped it")
    else:
        yield sentence("{}.", _ran_words(unit, loads))
    yield from _motors(unit.result.loads, loads)
    for name in tests:
        what = with_loads(name, tests[name].load or (), loads)
        yield from (sentence("{}, {}.", what, with_measures(one)) for one in unit.result.tests[name].cannot)
    why = _no_hours(unit)
    if why:
        yield sentence("For how many hours on one charge it would run them is not known: {}.", why)


def _no_hours(unit: DerivedUnit) -> str:
    """The commonest reason, where no load has projected hours."""
    answers = unit.result.loads.values()
    if not answers or any(answer.hours is not None for answer in answers):
        return ""
    return Counter(why_no_hours(answer) for answer in answers).most_common(1)[0][0]


def _ran_words(unit: DerivedUnit, loads: Mapping[str, Load]) -> Markup:
    ran, stopped = [], []
    for name, test in load_tests(unit).items():
        time, told = lasted(unit, name), not_kept(test)
        time = time and time.unnoted
        what = the_loads(test.load or (), loads)
        if isinstance(test, LoadRun) and test.outcome == "did_not_start":
            stopped.append(sentence("did not start {}{}", what, told))
        elif isinstance(test, LoadRun) and test.outcome == "tripped":
            who = "tripped with" if test.by in {None, "bms"} else "was stopped by something else with"
            stopped.append(sentence("{} {}{}{}", who, what, sentence(" after {}", time) if time else "", told))
        else:
            why = unit.result.tests[name].reasons
            part = " (not to the end)" if isinstance(test, LoadRun) else f" ({listed(why)})" if why else ""
            ran.append(sentence("{}{}{}{}", what, sentence(" for {}", time) if time else "", part, told))
    said = [sentence("ran {}", Markup(listed(ran)))] if ran else []  # noqa: S704  # sentences are markup
    words = Markup("; ").join([*said, *stopped])
    return words[:1].upper() + words[1:]


def _motors(answers: Mapping[str, LoadAnswer], loads: Mapping[str, Load]) -> Iterator[Markup]:
    """Which of the loads with an inrush it starts: seen, by what it carried, or not known."""
    motors = [(name, answers[name]) for name, load in loads.items() if load.start and name in answers]
    alone = [
        n
        for n, answer in motors
        if any(run.together == (n,) and not run.reported for run in answer.seen) and answer.start == "starts"
    ]
    said = [("It started {}", alone)]
    said += [
        (words, [n for n, answer in motors if n not in alone and _kind(answer) == start])
        for start, words in (
            ("starts", "by what it carried it would start {}"),
            ("borderline", "borderline: {}"),
            ("cut off", "it would cut off while running {}"),
            ("will not", "it will not start {}"),
            ("not known", "not known: {}"),
        )
    ]
    parts = [sentence(words, the_loads(names, loads)) for words, names in said if names]
    if parts and any(answer.start != "not known" for _, answer in motors):
        text = Markup("; ").join(parts)
        method = '<a href="../../methods/loads/">how that is told</a>'
        yield sentence("{}{} ({}).", text[:1].upper(), text[1:], Markup(method))  # noqa: S704  # fixed words


def _kind(answer: LoadAnswer) -> str:
    return "cut off" if is_cut_off(answer) else answer.start


def _seen_row(unit: DerivedUnit, name: str, loads: Mapping[str, Load]) -> tuple[Cell, ...]:
    test, result = load_tests(unit)[name], unit.result.tests[name]
    time = lasted(unit, name)
    if isinstance(test, CapacityTest):
        power = sentence(" at {}", stated(test.power_w, "W")) if test.power_w else ""
        why = f" ({listed(result.reasons)})" if result.reasons else ""
        happened = sentence("ran{}{}{}", power, ENDS.get(test.ended_by, ""), why)
    else:
        happened = run_outcome(test)
    where = anchor(name, "where")
    of = other_sample(unit, name)
    words = sentence("{} ({}{})", happened, where, f", {of}" if of else "")
    return (
        Cell(words=load_links(test.load or (), loads, UP)),
        Cell(words=words),
        Cell(words=time) if time else NOT_RECORDED,
    )


def _cautions(unit: DerivedUnit, loads: Mapping[str, Load]) -> tuple[tuple[Words, ...], ...]:
    """The caution of each load that has one stands wherever that load does."""
    names = dict.fromkeys(name for test in load_tests(unit).values() for name in test.load or ())
    said = [sentence("{}: {}", loads[n].title, loads[n].caution) for n in names if n in loads and loads[n].caution]
    return (tuple(said),) if said else ()


def _figure(unit: DerivedUnit, loads: Mapping[str, Load]) -> Figure | None:
    """Hours: what was seen first, then projections for the loads of this catalogue, as many as fit."""
    tests = load_tests(unit)
    bars = list(seen_bars(unit, tests, {name: together(test.load or (), loads) for name, test in tests.items()}))
    answers = ((name, answer) for name, answer in unit.result.loads.items() if name in loads)
    projected = (projected_bar(short_title(name, loads), answer) for name, answer in answers)
    bars = [*bars, *(bar for bar in projected if bar)][:MAX_BARS]
    if not bars:
        return None
    return Figure(
        id="hours",
        says=f"Hours on one charge. {charts.HOURS_MARKS}",
        description="Hours that each load ran or would run; the numbers are in the tables below.",
        chart=charts.hours(bars),
        table=None,
    )


def _all_loads(unit: DerivedUnit, loads: Mapping[str, Load]) -> Fold:
    """Every load of the catalogue: whether it would start, how long it would run, how many uses a charge holds."""
    answers = {name: answer for name, answer in unit.result.loads.items() if name in loads}
    title = "Every load of this catalogue, projected"
    if _no_hours(unit):
        start = columns("Load", "Would it start?", text={"Would it start?"})
        words = tuple(
            (_load_cell(n, loads), Cell(words=outcome_words(unit, answer, UP))) for n, answer in answers.items()
        )
        return Fold(title=title, table=Table(columns=start, rows=words))
    rows = tuple(_load_row(unit, name, loads, answer) for name, answer in answers.items() if hours_words(answer))
    caption = (
        "Projected from what it delivered, with the inverter of this bench where a load needs one; not measured, and "
        "not projected above half of its capacity per hour."
    )
    headings = columns(
        "Load",
        "Would it start?",
        "Hours on one charge",
        "Adds to its ±",
        "Uses",
        text={"Would it start?", "Adds to its ±"},
    )
    table = Table(columns=headings, rows=rows, caption=caption)
    return Fold(title=title, says=tuple(_without_hours(unit, answers, loads)), table=table)


def _without_hours(unit: DerivedUnit, answers: Mapping[str, LoadAnswer], loads: Mapping[str, Load]) -> Iterator[Words]:
    """The loads that nothing is projected for: whether they start, why there are no hours, and which they are."""
    groups: dict[Markup, list[Markup]] = {}
    for name, answer in answers.items():
        if not hours_words(answer):
            start = outcome_words(unit, answer, UP)
            whys = (start,) if is_cut_off(answer) else (start.replace("will", "would"), safe(why_no_hours(answer)))
            groups.setdefault(Markup(", ").join(dict.fromkeys(whys)), []).append(
                load_link(name, short_title(name, loads), UP)
            )
    for words, links in groups.items():
        yield sentence("{}{}: {}.", words[:1].upper(), words[1:], Markup(listed(links)))  # noqa: S704  # links are markup


def _load_cell(name: str, loads: Mapping[str, Load]) -> Cell:
    return Cell(words=load_link(name, loads[name].title, UP))


def _load_row(unit: DerivedUnit, name: str, loads: Mapping[str, Load], answer: LoadAnswer) -> tuple[Cell, ...]:
    hours = hours_words(answer)
    shown = Cell(words=hours.bare if hours else "")
    adds = Cell(words=unknowns(answer.hours) if answer.hours else "")
    uses = Cell(words=uses_words(loads[name], answer))
    return _load_cell(name, loads), Cell(words=outcome_words(unit, answer, UP)), shown, adds, uses


def _working(unit: DerivedUnit, loads: Mapping[str, Load], benches: Mapping[str, Bench]) -> tuple[Fold, ...]:
    worked = [
        Worked(title=f"{together(test.load or (), loads)}: {title}", one=result.metrics[metric], test=name)
        for name, test in load_tests(unit).items()
        for result in [unit.result.tests[name]]
        for metric, title in (
            ("duration_s", "time"),
            ("used_wh", "energy"),
            ("soc_used_wh", "energy by its state of charge"),
        )
        if metric in result.metrics
    ]
    assumed = (
        "Projected hours are the energy of the leading discharge, brought to the load's rate, divided by the load's "
        "mean power and that of the inverter; a load's power and duty are taken as the catalogue gives them."
    )
    return working(unit, benches, worked, methods=("loads", "capacity"), assumed=assumed)
