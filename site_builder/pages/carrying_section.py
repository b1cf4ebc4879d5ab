"""The section "How much does it carry, and does it come back?": brackets, every step, the picture."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from markupsafe import Markup

from site_builder import charts
from site_builder.bench_tests import LoadRun, OverloadTest
from site_builder.catalogue_records import Bench
from site_builder.derive.headline import sample_rank
from site_builder.derive.overload import BRACKET_TIMES_S, Bracket, Point
from site_builder.derive.reported import is_reported
from site_builder.derive.results import Carrying
from site_builder.derived import DerivedUnit
from site_builder.measured import NOT_KEPT, Measured
from site_builder.pages import unit_questions
from site_builder.pages.recorded import STOPPED_BY, anchor, came_back, step_circumstances, tests_of, untested
from site_builder.pages.safe_text import sentence
from site_builder.pages.samples import other_sample
from site_builder.pages.text import Shown, listed, quantity, stated, stated_duration, time_span
from site_builder.pages.views import Cell, Figure, Fold, Section, Table, Words, columns
from site_builder.pages.working import Worked, working

NOBODY_WROTE = "whether it came back by itself nobody wrote down"
HALF_HOUR, TEN_SECONDS = "30_min", "10_s"


def carrying_section(unit: DerivedUnit, benches: Mapping[str, Bench]) -> Section:
    """What it carried, where it cut off, and whether it came back."""
    carrying = unit.result.carrying[-1] if unit.result.carrying else None
    said = list(carried_words(carrying)) if carrying else []
    says: list[Words] = [sentence("{}.", words) for words in said]
    back = _came_back(unit)
    if said and any(point.tripped for point in (carrying.points if carrying else ())):
        says[0] = sentence("{}; {}.", said[0], sentence("after cutting off it {}", back) if back else NOBODY_WROTE)
    if said and carrying and (of := other_sample(unit, *(point.test for point in carrying.points))):
        says.append(sentence("All of that was {}.", of))
    if not said:
        told = carrying is not None and any(point.current.basis == "reported" for point in carrying.points)
        only = [sentence("What is known of it was {}.", NOT_KEPT)] if told else []
        says = [*only, untested("a load bank, a clamp meter and a stopwatch")]
    says += _not_used(unit)
    return Section(
        anchor=unit_questions.CARRIES.anchor,
        heading=unit_questions.CARRIES.heading,
        short=unit_questions.CARRIES.short,
        says=(*says, *_claimed(unit)),
        figure=_figure(unit, carrying) if carrying and len(carrying.points) > 1 else None,
        tables=_tables(carrying) if carrying else (),
        folds=_working(unit, carrying, benches) if carrying else (),
    )


def _not_used(unit: DerivedUnit) -> Iterator[Words]:
    """Why an overload test gives no steps, or why its log is not where they come from."""
    for name, test in tests_of(unit, OverloadTest).items():
        yield from (sentence("{}: {}.", anchor(name), why) for why in unit.result.tests[name].cannot)
        if test.points and name in unit.logs:
            yield sentence("{}: its steps were written down; its log was not read for them.", anchor(name))


def carried_words(carrying: Carrying) -> Iterator[Markup]:
    """The brackets for half an hour and for ten seconds: "carried 110 A for 30 min; cut off at 124 A after 4 s"."""
    told: set[tuple[Words, ...]] = set()
    for name, time in ((HALF_HOUR, "30\u202fmin"), (TEN_SECONDS, "10\u202fs")):
        held, tripped = _ends(carrying.brackets[name])
        crossed = carrying.brackets[name].crossed
        if (held, tripped) in told or (held is None and tripped is None):
            continue
        told.add((held or "", tripped or ""))
        trip = carrying.brackets[name].tripped
        after = time_span(*trip.seen_s) if trip else ""
        if held and tripped:
            yield sentence("Carried {} for {}; cut off at {} after {}", held, time, tripped, after)
        elif crossed:
            once = quantity(crossed.current)
            yield sentence("Cut off at {} after {}; another time it carried {} for {}", tripped, after, once, time)
        elif held:
            yield sentence("Carried {} for {}; nothing higher that long was tried", held, time)
        else:
            yield sentence("Cut off at {} after {}; what it carries for {} was not tried", tripped, after, time)


def _ends(bracket: Bracket) -> tuple[Shown | None, Shown | None]:
    held = quantity(bracket.held.current) if bracket.held else None
    return held, quantity(bracket.tripped.current) if bracket.tripped else None


def _came_back(unit: DerivedUnit) -> Markup | None:
    tests = tests_of(unit, OverloadTest) | tests_of(unit, LoadRun)
    told = [
        test.came_back
        for name, test in tests.items()
        if test.came_back and not is_reported(test) and _same_sample(unit, name)
    ]
    ways: dict[str, Markup] = {}
    for how in sorted(told, key=lambda one: one.after_s is None):  # a time tells more than none
        ways.setdefault(how.how, came_back(how).removeprefix(" and "))
    return Markup(", in another test ").join(ways.values()) if ways else None


def _same_sample(unit: DerivedUnit, test: str) -> bool:
    """Whether a test was on the sample that the currents speak of."""
    points = unit.result.carrying[-1].points if unit.result.carrying else ()
    return not points or sample_rank(points[0].test, unit.record) == sample_rank(test, unit.record)


def _claimed(unit: DerivedUnit) -> Iterator[Markup]:
    label = unit.record.label
    if label.continuous_discharge_a is None:
        return
    surges = [sentence("{} for {}", stated(s.current_a, "A"), stated_duration(s.duration_s)) for s in label.surge]
    more = sentence(", and {}", Markup(listed(surges))) if surges else ""  # noqa: S704  # sentences are markup
    yield sentence("Its label says {} for as long as it lasts{}.", stated(label.continuous_discharge_a, "A"), more)


def _brackets(carrying: Carrying) -> Table:
    rows = []
    for name, bracket in carrying.brackets.items():
        held, tripped = _ends(bracket)
        once = sentence("{}, another time", quantity(bracket.crossed.current)) if bracket.crossed else "not tried"
        cells = (held or once, tripped or "not seen")
        rows.append(
            (
                Cell(words=time_span(BRACKET_TIMES_S[name], BRACKET_TIMES_S[name])),
                *(Cell(words=c, missing=c in {"not tried", "not seen"}) for c in cells),
            )
        )
    crossed = any(bracket.crossed for bracket in carrying.brackets.values())
    caption = (
        "It did not do the same every time: a current it carried once made it cut off another time." if crossed else ""
    )
    return Table(columns=columns("For", "Carried", "Cut off sooner at"), rows=tuple(rows), caption=caption)


def _step_row(point: Point) -> tuple[Cell, ...]:
    stopped = STOPPED_BY.get(point.stopped_by or "", "")
    words = f"{stopped} cut it off" if point.tripped else f"carried; {stopped} stopped it" if stopped else "carried"
    notes = [sentence("{}: shown, not used", point.left_out)] if point.left_out else []
    notes += step_circumstances(point.recorded) if point.recorded else []
    notes += [sentence("{}", point.note)] if point.note else []
    happened = Markup("; ").join([sentence("{} ({})", words, anchor(point.test)), *notes])
    return Cell(words=quantity(point.current)), Cell(words=time_span(*point.seen_s)), Cell(words=happened)


def _in_order(carrying: Carrying) -> list[Point]:
    return sorted(carrying.points, key=lambda point: point.current.value)


def _tables(carrying: Carrying) -> tuple[Table, ...]:
    """What it carries for each time; and a single step, of which a picture would show next to nothing."""
    return (*([_steps(carrying)] if len(carrying.points) == 1 else []), _brackets(carrying))


def _steps(carrying: Carrying) -> Table:
    firmware = sentence("Firmware {}", carrying.firmware) if carrying.firmware else ""
    return Table(
        columns=columns("Current", "For", "What happened", text={"What happened"}),
        rows=tuple(_step_row(point) for point in _in_order(carrying)),
        caption=firmware,
    )


def _figure(unit: DerivedUnit, carrying: Carrying) -> Figure:
    points = _in_order(carrying)
    claim = unit.record.label.continuous_discharge_a
    chart = charts.carrying(
        [_drawn(point) for point in points],
        label=(claim.best, f"label {stated(claim, 'A')}") if claim else None,
        brackets=tuple(_drawn_brackets(carrying)),
        curve=_curve(carrying, max(point.current.value for point in points)),
    )
    return Figure(
        id="carried",
        says=Markup("; ").join(_caption(points, carrying)),
        description="Current against the time it was carried; the numbers are in the table below.",
        chart=chart,
        table=_steps(carrying),
    )


def _caption(points: Sequence[Point], carrying: Carrying) -> Iterator[Markup]:
    """What the marks mean, of those that are there."""
    used = [point for point in points if point.left_out is None]
    marks = []
    if any(point.tripped for point in used):
        marks.append("crosses, it cut off after that long")
    if any(not point.tripped for point in used):
        marks.append("open triangles, it carried that long and had not cut off")
    if len(used) < len(points):
        marks.append("open circles, shown and not used")
    yield Markup("Every step: ") + Markup(listed(marks))  # noqa: S704  # fixed words
    if any(bracket.held and bracket.tripped for bracket in carrying.brackets.values()):
        yield Markup("shaded, between what it carried for that long and what cut it off sooner")
    if carrying.curve:
        yield Markup("dashed, a smooth curve through the trips, though many BMS trip in steps")


def _drawn_brackets(carrying: Carrying) -> Iterator[charts.Band]:
    for name, bracket in carrying.brackets.items():
        if bracket.held and bracket.tripped:
            low, high = bracket.held.current.value, bracket.tripped.current.value
            yield charts.Band(time_s=BRACKET_TIMES_S[name], low_a=low, high_a=high)


def _working(unit: DerivedUnit, carrying: Carrying, benches: Mapping[str, Bench]) -> tuple[Fold, ...]:
    worked = [
        Worked(title=f"{quantity(point.current)}, {time_span(*point.seen_s)}", one=point.current, test=point.test)
        for point in sorted(carrying.points, key=lambda point: point.current.value)
    ]
    assumed = (
        "Only a stop by its own BMS counts as cutting off; a trip after some time also carried every shorter one. "
        "A repeat of a trip may differ by a tenth of its time."
    )
    return working(unit, benches, worked, methods=("overload",), assumed=assumed)


def _drawn(point: Point) -> charts.Step:
    low, high = point.seen_s
    used = point.left_out is None
    return charts.Step(current_a=point.current.value, low_s=low, high_s=high, tripped=point.tripped, used=used)


def _curve(carrying: Carrying, highest_a: float) -> Iterator[tuple[float, float]]:
    """The fitted curve as points (s, A), where it runs inside the picture."""
    if carrying.curve is None:
        return
    steps = 40
    for i in range(1, steps + 1):
        current = carrying.curve.pickup_a + (highest_a * 1.05 - carrying.curve.pickup_a) * i / steps
        time = carrying.curve.time_s(current)
        if math.isfinite(time) and 0.1 <= time <= 3600:
            yield time, current


def carries(unit: DerivedUnit) -> tuple[Measured, Measured | None] | None:
    """What it carried for half an hour, and the smallest current that cut it off sooner."""
    bracket = unit.result.carrying[-1].brackets[HALF_HOUR] if unit.result.carrying else None
    if bracket is None or bracket.held is None:
        return None
    return bracket.held.current, bracket.tripped.current if bracket.tripped else None
