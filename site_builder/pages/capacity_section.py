"""The section "Does it hold what its label says?": delivered against label, the curve, every discharge, the working."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace

from markupsafe import Markup

from site_builder import charts
from site_builder.bench_tests import CapacityTest
from site_builder.catalogue_records import Bench
from site_builder.derive.headline import date_of
from site_builder.derive.results import OneResult, Retention
from site_builder.derived import DerivedUnit
from site_builder.frames import rated_wh
from site_builder.measured import Measured, exact
from site_builder.nomenclature import METRICS
from site_builder.pages import unit_questions
from site_builder.pages.recorded import NOT_RECORDED, anchor, spoken, untested
from site_builder.pages.safe_text import sentence
from site_builder.pages.switched import with_measures
from site_builder.pages.text import NOT_TESTED, THIN, counted, day, quantity, significant
from site_builder.pages.views import Cell, Figure, Fold, Section, Table, Words, columns
from site_builder.pages.words import NO_INSTRUMENT, against_label, delivered, projected, rough
from site_builder.pages.working import Worked, working
from site_builder.series import Array

TABLE_STEPS = 8
WORKED = ("delivered_ah", "delivered_wh", "share_of_rated", "mean_voltage_v", "temperature_c")


@dataclass(frozen=True, kw_only=True, slots=True)
class Companions:
    """The curves of the other batteries of a class, ready for the chart."""

    curves: str
    count: int


def capacity_section(unit: DerivedUnit, companions: Companions, benches: Mapping[str, Bench]) -> Section:
    """Label against measured, where there is a discharge at all."""
    tests = {name: test for name, test in unit.record.tests.items() if isinstance(test, CapacityTest)}
    section = Section(
        anchor=unit_questions.LABEL.anchor, heading=unit_questions.LABEL.heading, short=unit_questions.LABEL.short
    )
    headline = unit.result.headline
    if headline is None:
        missing = untested("a discharge from full to the end with a counter or a log")
        return replace(section, says=(missing, *_reasons_of(unit, tests)))
    test, result = tests[headline], unit.result.tests[headline]
    return replace(
        section,
        says=_says(test, result, unit.result.retentions),
        figure=_figure(unit, result, companions),
        tables=(_label_table(unit), *([_discharges(unit, tests)] if len(tests) > 1 else [])),
        folds=_working(unit, tests, benches),
    )


def _reasons_of(unit: DerivedUnit, tests: dict[str, CapacityTest]) -> list[Words]:
    return [
        sentence("{}: {}.", name, with_measures(reason)) for name in tests for reason in unit.result.tests[name].cannot
    ]


def _says(test: CapacityTest, result: OneResult, retentions: tuple[Retention, ...]) -> tuple[Words, ...]:
    said: list[Words] = [sentence("{}.", delivered(test, result))]
    if share := result.metrics.get("share_of_rated"):
        said[0] = sentence("{} That is {}.", said[0], against_label(share))
    if result.off_reference:
        said.append(
            sentence("Off the reference: {}. Shown as measured.", with_measures("; ".join(result.off_reference)))
        )
    if at := projected(result):
        said.append(at)
    said += [
        sentence("{} gave {} of what {} had given.", anchor(again.later), quantity(again.share), anchor(again.first))
        for again in retentions
    ]
    said += [sentence("{}.", with_measures(reason[:1].upper() + reason[1:])) for reason in result.cannot]
    return tuple(said)


def _label_table(unit: DerivedUnit) -> Table:
    label, metrics = unit.record.label, unit.result.metrics
    claims = {
        "delivered_ah": quantity(exact(label.capacity_ah.best, "Ah")),
        "delivered_wh": quantity(exact(rated_wh(unit), "Wh")),
        "mean_voltage_v": quantity(exact(label.nominal_v.best, "V")),
    }
    names = ("delivered_ah", "delivered_wh", "share_of_rated", "mean_voltage_v", "temperature_c")
    rows = tuple(
        (Cell(words=METRICS[name].title), Cell(words=claims.get(name, "")), measured_cell(metrics.get(name)))
        for name in names
    )
    caption = "" if label.energy_wh else "The label's energy is its nominal voltage times its capacity."
    return Table(columns=columns("Quantity", "Label", "Measured"), rows=rows, caption=caption)


def measured_cell(one: Measured | None, absent: str = NOT_TESTED) -> Cell:
    """A derived number as a table cell; one without ± says why."""
    if one is None:
        return Cell(words=absent, missing=True)
    if one.basis == "as_read":
        return Cell(words=sentence('{} <span class="u">{}</span>', quantity(one), NO_INSTRUMENT))
    return Cell(words=quantity(one))


def _discharges(unit: DerivedUnit, tests: dict[str, CapacityTest]) -> Table:
    headings = columns("Test", "Date", "Delivered", "Energy", "Current", "Battery", "Of note", text={"Date", "Of note"})
    rows = tuple(_discharge_row(unit, name, test) for name, test in tests.items())
    caption = "Every discharge to the end. One leads the page; the others stand beside it, never averaged."
    return Table(columns=headings, rows=rows, caption=caption)


def _discharge_row(unit: DerivedUnit, name: str, test: CapacityTest) -> tuple[Cell, ...]:
    result = unit.result.tests[name]
    metrics = result.metrics
    current, warmth = metrics.get("mean_current_a"), metrics.get("temperature_c")
    notes = [*result.reasons, *(f"off the reference: {reason}" for reason in result.off_reference), *result.cannot]
    if name in unit.result.superseded:
        notes.insert(0, f"replaced by {spoken(unit.result.superseded[name])}")
    if name == unit.result.headline:
        notes.insert(0, "leads")
    if test.sample and len(unit.record.samples) > 1:
        notes.insert(0, f"sample {test.sample}")
    date = date_of(test, unit.record)
    return (
        Cell(words=anchor(name)),
        date_cell(date),
        measured_cell(metrics.get("delivered_ah")),
        measured_cell(metrics.get("delivered_wh")),
        Cell(words=rough(current)) if current else NOT_RECORDED,
        Cell(words=rough(warmth)) if warmth else NOT_RECORDED,
        Cell(words=with_measures("; ".join(notes))),
    )


def date_cell(date: dt.date | None) -> Cell:
    """A date as a table cell."""
    return Cell(words=day(date)) if date else Cell(words="no date", missing=True)


def _figure(unit: DerivedUnit, result: OneResult, companions: Companions) -> Figure | None:
    charge, rated = result.metrics.get("delivered_ah"), unit.record.label.capacity_ah.best
    if charge is None:
        return None
    if result.curve is None:
        return _share_figure(unit, result)
    others = f"; in grey {counted(companions.count, 'other')} of its class" if companions.count else ""
    chart = charts.discharge(
        result.curve,
        companions.curves,
        nominal_v=unit.record.label.nominal_v.best,
        label=(rated, f"label {quantity(exact(rated, 'Ah'))}"),
        delivered=(charge.value, f"delivered {quantity(charge)}"),
    )
    return Figure(
        id="curve",
        says=sentence("{}{}", _shape(result), others),
        description="Voltage against charge delivered; the numbers are in the table below.",
        chart=chart,
        table=replace(_curve_table(*result.curve), caption=_limits(result, charge)),
    )


def _share_figure(unit: DerivedUnit, result: OneResult) -> Figure | None:
    """Without a log there is no curve; what came out still stands against the label."""
    share, charge = result.metrics.get("share_of_rated"), result.metrics.get("delivered_ah")
    if share is None or charge is None:
        return None
    words = f"{quantity(share)}{' as read' if share.basis == 'as_read' else ''}"
    rated = quantity(exact(unit.record.label.capacity_ah.best, "Ah"))
    return Figure(
        id="share",
        says=sentence("{} of the {} on its label", quantity(charge), rated),
        description="Share of the label; the numbers are in the table below.",
        chart=charts.shares_of_label([charts.Share(name="Delivered", measured=share, words=words)]),
        table=Table(columns=columns("Delivered", "Label"), rows=((Cell(words=quantity(charge)), Cell(words=rated)),)),
    )


def _shape(result: OneResult) -> Markup:
    """What is seen: the voltage after a tenth and after nine tenths of what came out."""
    if result.curve_v is None:  # with a curve there always are
        return Markup("")
    return sentence(
        "{} after a tenth of what it delivered, {} after nine tenths", *(quantity(one) for one in result.curve_v)
    )


def _limits(result: OneResult, charge: Measured) -> str:
    """How far the table's numbers may be off."""
    late = result.curve_v[1].expanded if result.curve_v else None
    volts = f"each voltage ± {significant(late, 1)}{THIN}V" if late else "the voltmeter was not named"
    of = f"the charge ± {significant(100 * charge.expanded / charge.value, 1)}{THIN}%" if charge.expanded else ""
    words = ", ".join(word for word in (volts, of) if word)
    return f"{words[:1].upper()}{words[1:]}."


def _curve_table(charge: Array, voltage: Array) -> Table:
    chosen = sorted({round(step * (len(charge) - 1) / (TABLE_STEPS - 1)) for step in range(TABLE_STEPS)})
    rows = tuple(
        (Cell(words=f"{significant(float(charge[i]))}{THIN}Ah"), Cell(words=f"{significant(float(voltage[i]))}{THIN}V"))
        for i in chosen
    )
    return Table(columns=columns("Delivered", "Voltage"), rows=rows)


def _working(unit: DerivedUnit, tests: Mapping[str, CapacityTest], benches: Mapping[str, Bench]) -> tuple[Fold, ...]:
    """The leading discharge in full; of the others what they delivered."""
    headline = unit.result.headline or ""
    worked = [
        Worked(title=METRICS[name].title, one=unit.result.tests[headline].metrics[name], test=headline)
        for name in (*WORKED, *(["comparable_ah"] if unit.result.tests[headline].off_reference else []))
        if name in unit.result.tests[headline].metrics
    ]
    worked += [
        Worked(title=sentence("{}: {}", spoken(test), METRICS[name].title.lower()), one=result.metrics[name], test=test)
        for test in tests
        if test != headline
        for result in [unit.result.tests[test]]
        for name in ("delivered_ah", "delivered_wh")
        if name in result.metrics
    ]
    worked += [
        Worked(
            title=sentence("{} against {}", spoken(again.later), spoken(again.first)), one=again.share, test=again.later
        )
        for again in unit.result.retentions
    ]
    assumed = (
        "From a log, charge is the sum of mean current times time, and energy the same of current times voltage; "
        "without one, the counter's reading."
    )
    return working(unit, benches, worked, methods=("logs", "capacity", "evidence"), assumed=assumed)
