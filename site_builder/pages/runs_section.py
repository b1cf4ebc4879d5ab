"""The section "What does it run, and for how long?": what was seen, what is projected from what it delivered."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from markupsafe import Markup

from site_builder import charts
from site_builder.bench_tests import CapacityTest, LoadRun
from site_builder.catalogue_records import Load
from site_builder.derive.results import LoadAnswer, OneResult
from site_builder.derived import DerivedUnit
from site_builder.measured import Measured
from site_builder.pages.recorded import NOT_RECORDED, anchor, run_outcome, tests_of, untested
from site_builder.pages.text import duration, listed, quantity, sentence, stated
from site_builder.pages.views import Cell, Figure, Fold, Section, Table, Words, columns

MAX_BARS = 9
ENDS = {"bms": " until the battery cut off", "end_voltage": " down to the end voltage"}
STARTS = {
    "starts": "starts",
    "will not": "trips at its start",
    "borderline": "too close to tell",
    "not known": "not known",
}


def runs_section(unit: DerivedUnit, loads: Mapping[str, Load]) -> Section:
    """What it ran, what it would run, and the cautions of those loads."""
    seen = (*_long_runs(unit, loads), *_short_runs(unit, loads))
    missing = untested("an appliance, a clock, and somebody who writes down what stopped it")
    figure = _figure(unit, loads)
    return Section(
        anchor="runs",
        heading=Markup("What does it run, and for how long?"),
        short="What does it run?",
        says=() if seen else (missing,),
        figure=figure,
        tables=(Table(columns=columns("Load", "What was seen", "For", text={"What was seen"}), rows=seen),)
        if seen
        else (),
        lists=_cautions(unit, loads),
        folds=(_all_loads(unit, loads),),
    )


def _title(names: tuple[str, ...], loads: Mapping[str, Load]) -> str:
    return listed([loads[name].title if name in loads else name for name in names])


def _long_runs(unit: DerivedUnit, loads: Mapping[str, Load]) -> Iterator[tuple[Cell, ...]]:
    """Discharges to the end with a load."""
    for name, test, result in _discharges_with_load(unit):
        power = sentence(" at {}", stated(test.power_w, "W")) if test.power_w else ""
        why = f" ({listed(result.reasons)})" if result.reasons else ""
        happened = sentence("ran{}{}{}", power, ENDS.get(test.ended_by, ""), why)
        lasted = result.metrics.get("duration_s")
        time = Cell(words=duration(lasted)) if lasted else NOT_RECORDED
        yield Cell(words=anchor(name, _title(test.load or (), loads))), Cell(words=happened), time


def _discharges_with_load(unit: DerivedUnit) -> Iterator[tuple[str, CapacityTest, OneResult]]:
    for name, test in tests_of(unit, CapacityTest).items():
        if test.load is not None:
            yield name, test, unit.result.tests[name]


def _short_runs(unit: DerivedUnit, loads: Mapping[str, Load]) -> Iterator[tuple[Cell, ...]]:
    for name, run in tests_of(unit, LoadRun).items():
        lasted = unit.result.tests[name].metrics.get("duration_s")
        time = Cell(words=duration(lasted)) if lasted else NOT_RECORDED
        yield Cell(words=anchor(name, _title(run.load, loads))), Cell(words=run_outcome(run)), time


def _cautions(unit: DerivedUnit, loads: Mapping[str, Load]) -> tuple[tuple[Words, ...], ...]:
    """The caution of each load that has one stands wherever that load does."""
    seen = [*(test.load or () for test in tests_of(unit, CapacityTest).values())]
    seen += [run.load for run in tests_of(unit, LoadRun).values()]
    names = dict.fromkeys(name for run in seen for name in run)
    said = [sentence("{}: {}", loads[n].title, loads[n].caution) for n in names if n in loads and loads[n].caution]
    return (tuple(said),) if said else ()


def _figure(unit: DerivedUnit, loads: Mapping[str, Load]) -> Figure | None:
    """Hours: measured ones first, then projections for the loads of this catalogue, as many as fit."""
    bars = [*_measured_bars(unit, loads), *_projected_bars(unit, loads)][:MAX_BARS]
    if not bars:
        return None
    rows = tuple((Cell(words=bar.name), Cell(words=bar.words)) for bar in bars)
    return Figure(
        id="hours",
        says="Hours on one charge: filled bars were measured, outlined ones are projected from what it delivered",
        description="Hours that each load ran or would run; the numbers are in the table below.",
        chart=charts.hours(bars),
        table=Table(columns=columns("Load", "On one charge", text={"On one charge"}), rows=rows),
    )


def _measured_bars(unit: DerivedUnit, loads: Mapping[str, Load]) -> Iterator[charts.Hours]:
    for _, test, result in _discharges_with_load(unit):
        lasted = result.metrics.get("duration_s")
        if lasted is None:
            continue
        own_end = test.ended_by in {"bms", "end_voltage", "unknown"}
        ended = lasted if own_end else lasted.as_bound("at_least")
        yield _bar(_title(test.load or (), loads), ended, 1 / 3600, str(duration(ended)), measured=True)


def _projected_bars(unit: DerivedUnit, loads: Mapping[str, Load]) -> Iterator[charts.Hours]:
    for name, answer in unit.result.loads.items():
        if answer.hours is not None and answer.start != "will not" and name in loads:
            words = f"{quantity(answer.hours)}, projected"
            yield _bar(loads[name].title, answer.hours, 1.0, words, measured=False)


def _bar(name: str, one: Measured, scale: float, words: str, *, measured: bool) -> charts.Hours:
    ends = {"value": one.value * scale, "low": one.lowest * scale, "high": one.highest * scale}
    return charts.Hours(name=name, bound=one.bound, measured=measured, words=words, **ends)


def _all_loads(unit: DerivedUnit, loads: Mapping[str, Load]) -> Fold:
    """Every load of the catalogue: whether it would start, how long it would run, how many uses a charge holds."""
    rows = tuple(_load_row(loads[name], answer) for name, answer in unit.result.loads.items() if name in loads)
    caption = "Projected from what it delivered, with the inverter of this bench where a load needs one; not measured."
    headings = columns("Load", "Would it start?", "Hours on one charge", "Uses", text={"Would it start?"})
    return Fold(
        title="Every load of this catalogue, projected", table=Table(columns=headings, rows=rows, caption=caption)
    )


def _load_row(load: Load, answer: LoadAnswer) -> tuple[Cell, ...]:
    hours = Cell(words=quantity(answer.hours).bare) if answer.hours else Cell(words=_why_not(answer), missing=True)
    uses = (
        Cell(words=sentence("{}, {} each", quantity(answer.uses).bare, load.use))
        if answer.uses and load.use
        else Cell()
    )
    return Cell(words=load.title), Cell(words=STARTS[answer.start]), hours, uses


def _why_not(answer: LoadAnswer) -> str:
    return (answer.why_not or "not known").removeprefix("not known: ")
