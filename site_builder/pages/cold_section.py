"""The section "What does it do in the cold?": two bounds, the heater, the picture of the test."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from markupsafe import Markup

from site_builder import charts
from site_builder.bench_tests import ColdChargeTest
from site_builder.catalogue_records import Bench
from site_builder.derive.cold_charge import NOT_DECIDED
from site_builder.derive.cold_picture import BATTERY
from site_builder.derive.results import ColdPicture, OneResult
from site_builder.derived import DerivedUnit
from site_builder.measured import Measured
from site_builder.pages import unit_questions
from site_builder.pages.metric_rows import metric_rows, worked_in
from site_builder.pages.recorded import anchor, cold_readings, tests_of, untested
from site_builder.pages.safe_text import sentence
from site_builder.pages.samples import of_metrics
from site_builder.pages.switched import held, with_measures
from site_builder.pages.text import THIN, Shown, duration, listed, quantity, significant, stated
from site_builder.pages.views import Cell, Figure, Fold, Section, Table, Words, columns
from site_builder.pages.working import working
from site_builder.series import Array

BOUNDS = ("refused_up_to_c", "accepted_from_c")
COLD = ("heater_w", "heating_s", "heater_wh", "room_share", "standard_warm_up_s")
TABLE_STEPS = 7
COLD_ASSUMED = (
    "Charge counts where it goes into the cells, not into a heater. The model is one lump of 1000 J a kilogram "
    "and kelvin, ± 20 %, that loses heat in proportion to its warmth; the core may lag the probe."
)
_PROJECTED = Markup('projected by <a href="../../methods/cold/#standard">the standard warm-up</a>')


class _ColdForms(NamedTuple):
    """The same findings at one length: two bounds, two that overlap, or one alone."""

    apart: str
    overlapping: str
    accepted: str
    refused: str


_SENTENCE = _ColdForms(
    apart="Refused charge at {}, accepted it from {}",
    overlapping="Refused charge up to {}; once it accepted, it still did at {}",
    accepted="Accepted charge at {}",
    refused="Refused charge at {}",
)
_CELL = _ColdForms(
    apart="refused at {}, accepted from {}",
    overlapping="refused up to {}, then accepted down to {}",
    accepted="accepted at {}",
    refused="refused at {}",
)


def cold_words(metrics: Mapping[str, Measured]) -> Markup | None:
    """The warmest refusal and the coldest acceptance: two bounds, not a threshold. Without a full stop."""
    return _in_form(metrics, _SENTENCE)


def cold_in_short(metrics: Mapping[str, Measured]) -> Markup | None:
    """The same for a table's cell."""
    return _in_form(metrics, _CELL)


def _in_form(metrics: Mapping[str, Measured], form: _ColdForms) -> Markup | None:
    refused, accepted = metrics.get("refused_up_to_c"), metrics.get("accepted_from_c")
    if refused and accepted:
        words = form.apart if accepted.value > refused.value else form.overlapping
        return sentence(words, quantity(refused), quantity(accepted))
    if accepted:
        return sentence(form.accepted, quantity(accepted))
    return sentence(form.refused, quantity(refused)) if refused else None


def cold_section(unit: DerivedUnit, benches: Mapping[str, Bench]) -> Section:
    """What charging did below freezing, and what a heater took."""
    tests = tests_of(unit, ColdChargeTest)
    words = cold_words(unit.result.metrics)
    says: list[Words] = [sentence("{}{}.", words, of_metrics(unit, *BOUNDS))] if words else []
    if not tests:
        says.append(untested("a cold night, a charger and a thermometer on the case"))
    for name, test in tests.items():
        says += _cold_sentences(test, unit.result.tests[name])
    if heater := unit.record.label.heater:
        limits = [("on below", heater.on_below_c), ("off above", heater.off_above_c)]
        said = [sentence("{} {}", words, stated(value, "°C")) for words, value in limits if value is not None]
        said += [sentence("of {}", stated(heater.power_w, "W"))] if heater.power_w else []
        says.append(sentence("Its label claims a heater{}{}.", ": " if said else "", Markup(" and ").join(said)))
    rows = tuple(row for name in tests for row in metric_rows(unit, name, COLD))
    return Section(
        anchor=unit_questions.COLD.anchor,
        heading=unit_questions.COLD.heading,
        short=unit_questions.COLD.short,
        says=tuple(says),
        figure=next((figure for name in tests if (figure := _cold_figure(unit.result.tests[name]))), None),
        tables=(Table(columns=columns("Quantity", "Measured", "Of note", text={"Of note"}), rows=rows),)
        if rows
        else (),
        folds=(
            *(_readings(name, test) for name, test in tests.items() if test.readings),
            *working(
                unit,
                benches,
                worked_in(unit, tests, (*BOUNDS, *COLD)),
                methods=("cold",),
                assumed=COLD_ASSUMED,
            ),
        ),
    )


def _cold_sentences(test: ColdChargeTest, result: OneResult) -> Iterator[Words]:
    if heating := result.metrics.get("heating_s"):
        before = " before it took charge" if heating.bound == "exact" else ""
        yield sentence("Its heater ran for {}{}.", duration(heating), before)
    if warm_up := result.metrics.get("standard_warm_up_s"):
        yield sentence(
            "From {}, in air as cold, it would charge again after {}, {}.", _degrees(-10), duration(warm_up), _PROJECTED
        )
    if NOT_DECIDED in result.conditions:
        yield "Whether charge went into its cells is not decided: the heater may have taken the current."
    yield from _in_cold_air(test)
    yield from (sentence("{}.", with_measures(reason[:1].upper() + reason[1:])) for reason in result.cannot)
    if test.charger:
        said = [str(stated(v, u)) for v, u in ((test.charger.set_v, "V"), (test.charger.set_a, "A")) if v is not None]
        if said:
            yield sentence("The charger was set to {}.", listed(said))


def _in_cold_air(test: ColdChargeTest) -> Iterator[Words]:
    """What it did where only the air's temperature was noted: seen, and no bound of its own."""
    seen = dict.fromkeys(one.charge for one in test.readings if one.charge)
    if seen and test.ambient_c is not None and all(one.battery_c is None for one in test.readings):
        air = stated(test.ambient_c, "°C")
        yield sentence("In air of {} it {} charge; how cold the battery was is not known.", air, listed([*seen]))


def _readings(name: str, test: ColdChargeTest) -> Fold:
    return Fold(title=f"What was read by hand: {name.replace('-', ' ')}", table=cold_readings(test.readings))


def _cold_figure(result: OneResult) -> Figure | None:
    picture = result.picture
    if picture is None:
        return None
    minutes, temperature = picture.temperatures[0] / 60, picture.temperatures[1]
    model = picture.model
    chart = charts.warming(
        (minutes, temperature),
        [(time_s / 60, amps) for time_s, amps in picture.currents.values()],
        [(time_s / 60, words) for time_s, words in picture.moments],
        (model[0] / 60, model[1]) if model else None,
        by_hand=picture.by_hand,
    )
    return Figure(
        id="warming",
        says=sentence("{}{}", warmed_words(picture), _marks(picture)),
        description="Temperature and charging current against time; the numbers are in the table below.",
        chart=chart,
        table=_curve_table(picture, result.test),
    )


def warmed_words(picture: ColdPicture) -> Markup:
    """What is seen: from where to where, in how long."""
    first, warmest, lasted = picture.warmed
    if lasted.value == 0:
        whole = replace(lasted, value=float(picture.temperatures[0][-1]))
        return sentence("{} and colder for {}", quantity(first), duration(whole))
    return sentence("From {} to {} in {}", quantity(first), quantity(warmest), duration(lasted))


def _degrees(celsius: float, digits: int = 2) -> Shown:
    return Shown(significant(celsius, digits), unit="°C", held=held([celsius], "°C"))


def _marks(picture: ColdPicture) -> str:
    """What stands in the two panels."""
    below = listed([f"the current {words}{'' if i == 0 else ' (grey)'}" for i, words in enumerate(picture.currents)])
    said = [f"below, {below}" if below else "", "dashed, the fitted model" if picture.model else ""]
    return "".join(f"; {words}" for words in said if words)


def _curve_table(picture: ColdPicture, test: str) -> Table:
    """Temperatures and the currents at those times, and what happened."""
    time_s, _ = picture.temperatures
    times = {float(time_s[round(step * (len(time_s) - 1) / (TABLE_STEPS - 1))]) for step in range(TABLE_STEPS)}
    if picture.by_hand:
        times |= {float(at) for read, _ in picture.currents.values() for at in read}
    told = [at for at, _ in picture.moments]
    apart = 0.0 if picture.by_hand else float(time_s[-1]) / (3 * TABLE_STEPS)
    rows = [(at, "") for at in times if not any(abs(at - moment) <= apart for moment in told)]
    cells = tuple(
        (
            Cell(words=f"{significant(at / 60)}{THIN}min"),
            _seen_at(at, picture.temperatures, picture, _degrees),
            *(_seen_at(at, series, picture, _amps) for series in picture.currents.values()),
            Cell(words=words),
        )
        for at, words in sorted([*rows, *picture.moments])
    )
    names = [f"Current {words}" for words in picture.currents]
    headings = columns("After", "Battery", *names, "What happened", text={"What happened"})
    return Table(columns=headings, rows=cells, caption=sentence("{}{}", anchor(test), _limits(picture)))


def _limits(picture: ColdPicture) -> Markup:
    """How far the table's numbers may be off."""
    known = picture.limits
    warm = known.get(BATTERY)
    amps = max((known[words] for words in picture.currents if words in known), default=None)
    degrees = (
        sentence("each temperature ± {}", Shown(significant(warm, 2), unit="K", held=held([warm], "K"))) if warm else ""
    )
    current = sentence("each current ± {} at most", Shown(significant(amps, 2), unit="A")) if amps else ""
    words = [word for word in (degrees, current) if word]
    return sentence("; {}", Markup(listed(words))) if words else Markup("")  # noqa: S704  # sentences are markup


def _seen_at(at: float, series: tuple[Array, Array], picture: ColdPicture, shown: Callable[[float], Shown]) -> Cell:
    """What the series shows then; between readings by hand nobody saw anything."""
    times, values = series
    if not picture.by_hand:
        return Cell(words=shown(float(np.interp(at, times, values))))
    read = np.flatnonzero(times == at)
    return Cell(words=shown(float(values[read[0]]))) if len(read) else Cell()


def _amps(current: float) -> Shown:
    return Shown(significant(current, digits=2), unit="A")
