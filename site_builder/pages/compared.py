"""What batteries are compared by: the questions of a unit's page and their numbers, as data for the browser.

Words are made here, rounded as on every page; the browser works out differences only, so each number brings its
components. Nothing here computes a metric.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

from markupsafe import Markup

from site_builder.derived import Derived, DerivedUnit
from site_builder.measured import Measured, exact
from site_builder.nomenclature import METRICS
from site_builder.pages import unit_questions
from site_builder.pages.absent import (
    NO_PLACE,
    NO_PRICE,
    NOT_SAID,
    TOO_LITTLE,
    no_heater,
    no_life_price,
    no_price,
    only_reported,
)
from site_builder.pages.cold_section import cold_words
from site_builder.pages.compared_cells import Cell, Question, Row, entry, measured_cell
from site_builder.pages.compared_loads import load_row
from site_builder.pages.grade_words import place_words, questions, score_words
from site_builder.pages.safe_text import safe, sentence
from site_builder.pages.switched import with_measures
from site_builder.pages.text import NOT_TESTED, Shown, day, quantity, stated
from site_builder.pages.words import price_words

# Numbers that rest on the leading discharge, and stand beside others only where that was made at the reference.
OF_DISCHARGE = frozenset({
    "delivered_ah", "delivered_wh", "share_of_rated", "mean_voltage_v", "wh_per_kg", "wh_per_l", "price_per_kwh",
    "life_price_per_kwh",
})  # fmt: skip
OFF_REFERENCE = "off the reference"
# Figures that rest on a label's number: whatever their ± says, nobody can say how far that claim is off.
BY_CLAIM = {"wh_per_kg": "with its label's mass, no ±", "wh_per_l": "with its label's size, no ±"}


def questions_of(derived: Derived) -> tuple[Question, ...]:
    """The questions of a unit's page, in its order."""
    loads = derived.catalogue.loads
    return (
        Question(of=unit_questions.RUNS, rows=tuple(load_row(name, loads) for name in loads)),
        Question(of=unit_questions.LABEL, rows=_LABEL, picture="discharge"),
        Question(of=unit_questions.CARRIES, rows=_CARRIES, picture="carrying"),
        Question(of=unit_questions.COLD, rows=_COLD, picture="warming"),
        Question(of=unit_questions.IDLE, rows=_idle(derived)),
        Question(of=unit_questions.BUILD, rows=_BUILD),
        Question(of=unit_questions.COST, rows=_COST),
        *([_graded(derived)] if derived.catalogue.grading is not None else []),
    )


def compared_rows(unit: DerivedUnit, asked: Sequence[Question]) -> dict[str, Any]:
    """Row key → [words, number or null, note, seen]; words and note are HTML, and what has nothing is left out."""
    cells = ((row.key, row.cell(unit)) for question in asked for row in question.rows)
    return {key: entry(cell) for key, cell in cells if cell is not None}


def absent_words(unit: DerivedUnit, asked: Sequence[Question]) -> dict[str, str]:
    """Row key → why this unit has nothing there, where it is not what the row says of others."""
    rows = (row for question in asked for row in question.rows)
    return {row.key: words for row in rows if (words := row.absent(unit)) and row.cell(unit) is None}


def _metric(name: str, title: str = "", absent: Callable[[DerivedUnit], str] | None = None) -> Row:
    def cell(unit: DerivedUnit) -> Cell | None:
        one, off = unit.result.metrics.get(name), name in OF_DISCHARGE and _off_reference(unit)
        cell = measured_cell(one, comparable=not off, notes=[OFF_REFERENCE] if off else [])
        if cell is None or one is None or one.basis != "claimed" or name not in BY_CLAIM:
            return cell
        return replace(cell, note=Markup(", ").join([BY_CLAIM[name], *([OFF_REFERENCE] if off else [])]))

    row = Row(key=name, title=title or METRICS[name].title, cell=cell)
    return replace(row, absent=absent) if absent else row


def _off_reference(unit: DerivedUnit) -> bool:
    headline = unit.result.headline
    return headline is not None and bool(unit.result.tests[headline].off_reference)


def _told(key: str, title: str, words: Callable[[DerivedUnit], object | None], missing: str = NOT_TESTED) -> Row:
    """A row of words alone."""

    def cell(unit: DerivedUnit) -> Cell | None:
        said = words(unit)
        return Cell(words=safe(said)) if said else None

    return Row(key=key, title=title, cell=cell, missing=missing)


def _label_charge(unit: DerivedUnit) -> Shown:
    return quantity(exact(unit.record.label.capacity_ah.best, "Ah"))


def _circumstances(unit: DerivedUnit) -> Markup | None:
    """At what current and temperature the leading discharge was made."""
    if unit.result.headline is None:
        return None
    metrics = unit.result.tests[unit.result.headline].metrics
    said = [sentence("{}", quantity(metrics[name])) for name in ("mean_current_a", "temperature_c") if name in metrics]
    return Markup(", ").join(said)


def _label_current(unit: DerivedUnit) -> Shown | None:
    claim = unit.record.label.continuous_discharge_a
    return stated(claim, "A") if claim else None


def _charging_in_the_cold(unit: DerivedUnit) -> Cell | None:
    """Refusals and acceptances as an interval: somewhere in it lies where it begins to take charge."""
    refused, accepted = (unit.result.metrics.get(name) for name in ("refused_up_to_c", "accepted_from_c"))
    words = cold_words(unit.result.metrics)
    if words is None:
        return None
    number = None
    if refused and accepted and refused.value < accepted.value:
        wider = max(refused, accepted, key=lambda one: one.u)
        number = replace(wider, value=accepted.value, bound="between", low=refused.value, high=accepted.value)
    elif refused is None and accepted:
        number = accepted.as_bound("at_most")
    elif accepted is None and refused:
        number = refused.as_bound("at_least")
    return Cell(words=words, number=number)


def _resistance(unit: DerivedUnit) -> Cell | None:
    """Resistance is told with its pulses and never compared as it is: the row below brings it to one pulse."""
    name = "dc_resistance_milliohm"
    test = unit.result.sources.get(name)
    pulses = unit.result.tests[test].conditions if test else ()
    return measured_cell(unit.result.metrics.get(name), comparable=False, notes=[with_measures(one) for one in pulses])


def _sag(derived: Derived, unit: DerivedUnit) -> Cell | None:
    """The sag that is graded: from comparable pulses alone."""
    grade = derived.standings.grades.get(unit.id)
    parts = [part for one in grade.criteria for part in one.parts] if grade else []
    given = next((part.given for part in parts if part.part.fact == "sag_share"), None)
    return measured_cell(given) if isinstance(given, Measured) else None


def _shown_metric(unit: DerivedUnit, name: str) -> Shown | None:
    one = unit.result.metrics.get(name)
    return quantity(one) if one else None


def _price(unit: DerivedUnit) -> Markup | None:
    price = unit.result.price
    if price is None:
        return None
    old = ", older than 12 months" if price.stale else ""
    return sentence("{}, {}{}", price_words(price), day(dt.date.fromisoformat(price.date)), old)


def _warranty(unit: DerivedUnit) -> Shown | None:
    years = unit.record.label.warranty_years
    return stated(years, "years") if years else None


def _idle(derived: Derived) -> tuple[Row, ...]:
    sag = Row(key="sag", title="Sag at its capacity per hour, of its voltage", cell=partial(_sag, derived))
    names = ("charge_efficiency", "energy_efficiency", "loss_per_month", "cell_spread_full_mv", "cell_spread_empty_mv")
    return (
        Row(key="resistance", title=METRICS["dc_resistance_milliohm"].title, cell=_resistance),
        *([sag] if derived.catalogue.grading is not None else []),
        _told("max_current", "Largest charging current seen", lambda unit: _shown_metric(unit, "max_current_a")),
        *(_metric(name) for name in names),
    )


def _graded(derived: Derived) -> Question:
    def score(unit: DerivedUnit) -> Markup | None:
        grade = derived.standings.grades.get(unit.id)
        if grade is None or grade.score is None:
            return None
        capped = f", capped: {'; '.join(hit.gate.title.lower() for hit in grade.gates)}" if grade.gates else ""
        return sentence("{}{}; {}", score_words(grade.ends), capped, questions(grade))

    def place(unit: DerivedUnit) -> str | None:
        one = derived.standings.places.get(unit.id)
        return place_words(one) if one else None

    of_score = _told("score", "Score of 100, and from where to where", score, missing=TOO_LITTLE)
    of_place = _told("place", "Place in its class", place, missing=NO_PLACE)
    rows = (replace(of_score, absent=only_reported), of_place)
    return Question(of=replace(unit_questions.GRADE, heading="How was it graded?"), rows=rows)


_LABEL = (
    _told("label_ah", "Its label says", _label_charge),
    _metric("delivered_ah"),
    _metric("delivered_wh"),
    _metric("share_of_rated"),
    _metric("comparable_ah"),
    _metric("comparable_wh"),
    _metric("mean_voltage_v"),
    _told("circumstances", "Discharged at", _circumstances),
)
_CARRIES = (
    _told("label_a", "Its label says", _label_current, missing=NOT_SAID),
    *(_metric(f"carries_{time}_a") for time in ("30_min", "30_s", "10_s", "3_s", "1_s")),
)
_COLD = (
    Row(key="cold", title="Charging in the cold", cell=_charging_in_the_cold),
    *(_metric(name, absent=no_heater) for name in ("standard_warm_up_s", "heater_w", "heater_wh")),
)
_BUILD = (
    _metric("mass_kg"),
    _metric("volume_l"),
    _metric("wh_per_kg"),
    _metric("wh_per_l"),
    _told("ingress", "Against dust and water, by its label", lambda unit: unit.record.label.ingress, missing=NOT_SAID),
    _told("warranty", "Warranty, by its label", _warranty, missing=NOT_SAID),
)
_COST = (
    _told("price", "Price", _price, missing=NO_PRICE),
    _metric("price_per_kwh", absent=no_price),
    _metric("life_price_per_kwh", "Price per kWh over its life, if the claim holds", absent=no_life_price),
)


def classes_of(derived: Derived) -> Iterator[tuple[str, list[tuple[str, str]]]]:
    """Each class's title with its published units (id, name), then those without a class."""
    shown = [unit for unit in derived.units if unit.record.unit.status == "published"]
    groups = {name: one.title for name, one in derived.catalogue.classes.items()} | {None: "No class yet"}
    for class_id, title in groups.items():
        units = [(unit.id, f"{unit.record.unit.maker} {unit.record.unit.model}") for unit in shown]
        members = [pair for pair, unit in zip(units, shown, strict=True) if unit.result.class_id == class_id]
        if members:
            yield title, sorted(members, key=lambda pair: pair[1])
