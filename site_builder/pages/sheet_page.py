"""The bench sheet of a battery that waits for its tests: what to set, to expect and to write down, cautions first."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from markupsafe import Markup

from site_builder.catalogue_records import Bench, Load
from site_builder.derive.bench_plan import CABLE_M, CHARGERS_A, MOST_DROP, REST_S, SOAK_C, SOAK_H, Plan
from site_builder.derived import Derived, DerivedUnit
from site_builder.measured import exact
from site_builder.pages.disclosure import after_the, lower
from site_builder.pages.safe_text import sentence
from site_builder.pages.sheet_fields import grammar
from site_builder.pages.sheet_form import Entry, SheetTest, label_entries, sheet_tests
from site_builder.pages.switched import with_measures
from site_builder.pages.text import duration, listed, quantity, significant
from site_builder.pages.views import Cell, Table, Words, columns
from site_builder.pages.words import name_of

BLANK = "blank"
WAITING = frozenset({"planned", "testing"})
SHORT_CIRCUIT = (
    "A short-circuited battery gives kiloamperes: a fuse rated for direct current at its terminal before anything "
    "else, rings and watches off, and the maker's limits kept."
)
FROZEN = with_measures(
    "Charging lithium cells below 0 °C spoils them for good. The cold test asks whether the battery refuses; "
    "the first sign that it does not ends it."
)
ATTENDED = (
    "Overload and cold tests outdoors or in moving air, attended from start to end, with a disconnect in reach. "
    "Stop at smoke, smell, swelling or heat that you did not expect."
)
BUILDINGS = (
    "A load that is wired into a building only through a listed transfer switch or interlock, installed to local code "
    "by a licensed electrician. Local codes and licensed practice come before this sheet."
)
CAUTIONS = (SHORT_CIRCUIT, FROZEN, ATTENDED, BUILDINGS)
BEFORE = (
    "Before the first amperes: cable, fuse and disconnect. How much a short circuit gives is not known before its "
    "resistance is measured; take a fuse that breaks far more than you expect."
)


@dataclass(frozen=True, kw_only=True, slots=True)
class SheetStep:
    """One part of the sheet: its heading, what to do, what to expect, what to write down."""

    heading: str
    says: tuple[Words, ...]
    table: Table | None = None
    write: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class SheetPage:
    """A bench sheet, and the form that writes the results file."""

    id: str
    title: str
    description: str
    lead: Words
    cautions: tuple[str, ...]
    steps: tuple[SheetStep, ...]
    forms: tuple[SheetTest, ...]
    label: tuple[Entry, ...]
    benches: tuple[tuple[str, str], ...]
    given: Markup
    grammar: str
    new_file: str
    others: tuple[str, ...] = ()


def sheet_pages(derived: Derived) -> Iterator[SheetPage]:
    """A sheet for each battery that waits for its tests, and a blank one."""
    for unit in _waiting(derived):
        yield _sheet(unit, derived)
    yield _blank(derived)


def _waiting(derived: Derived) -> Iterator[DerivedUnit]:
    return (unit for unit in derived.units if unit.record.unit.status in WAITING)


def _sheet(unit: DerivedUnit, derived: Derived) -> SheetPage:
    bench = derived.catalogue.benches.get(unit.record.bench or "")
    loads = derived.catalogue.loads
    plan = unit.plan
    name = name_of(unit.record)
    return SheetPage(
        id=unit.id,
        title=f"Bench sheet: {name}",
        description=f"What to set, to expect and to write down when the {name} is tested.",
        lead=sentence(
            "From its label and the {}. Nothing here is a result.", after_the(bench.title) if bench else "methods"
        ),
        cautions=CAUTIONS,
        steps=tuple(_steps(plan, unit, bench, loads)),
        forms=sheet_tests(plan, loads, derived.catalogue.benches, unit.record.bench or ""),
        label=(),
        benches=(),
        given=_given({"id": unit.id, "text": unit.written}),
        grammar=grammar(),
        new_file="",
    )


def _blank(derived: Derived) -> SheetPage:
    return SheetPage(
        id=BLANK,
        title="Bench sheet, blank",
        description="What to write down when a battery is tested, and a form that makes the results file.",
        lead="For a battery that this catalogue does not know yet. The form makes a whole results file.",
        cautions=CAUTIONS,
        steps=tuple(_steps(None, None, None, derived.catalogue.loads)),
        forms=sheet_tests(None, derived.catalogue.loads, derived.catalogue.benches),
        label=label_entries(),
        benches=tuple((name, bench.title) for name, bench in derived.catalogue.benches.items()),
        given=_given({"id": "", "text": ""}),
        grammar=grammar(),
        new_file=derived.published.new_file,
        others=tuple(unit.id for unit in _waiting(derived)),
    )


def _given(data: dict[str, str]) -> Markup:
    """For a <script> element; no text in it can end the element."""
    text = json.dumps(data, ensure_ascii=False)
    return Markup(text.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e"))  # noqa: S704


def _steps(
    plan: Plan | None, unit: DerivedUnit | None, bench: Bench | None, loads: Mapping[str, Load]
) -> Iterator[SheetStep]:
    yield SheetStep(
        heading="1. Unboxing",
        says=("Weigh and measure it with its terminals. Photograph label, terminals and papers.",),
        write="mass; length, width, height; terminals; documents; whether the app connects and shows plausible figures",
    )
    yield _cable(plan, bench)
    yield _discharge(plan, loads)
    yield SheetStep(
        heading="4. Refill",
        says=(_charge_words(plan),),
        write="start and end; largest current; current at the end; counted Ah and Wh",
    )
    yield _pulses(plan)
    yield SheetStep(
        heading="6. Appliances",
        says=("One at a time from a charged battery, then those that run together. Film the meter.",),
        write="what ran; for how long, or when and by what it was stopped; power; how it came back",
    )
    yield _overload(plan)
    yield _cold(plan, unit)
    yield SheetStep(
        heading="9. Standing idle, and its cells",
        says=("A month on the shelf with nothing connected; cell voltages when full and when empty.",),
        write="date and charge at both ends; each cell's voltage",
    )


def _cable(plan: Plan | None, bench: Bench | None) -> SheetStep:
    says: list[Words] = [BEFORE]
    if bench is not None:
        says.append(
            sentence("Instruments: {}.", listed([lower(one.title or name) for name, one in bench.instruments.items()]))
        )
    if plan is None:
        return SheetStep(heading="2. Cable and fuse", says=tuple(says))
    says.append(
        sentence(
            "At {}, the highest current below, {} of cable takes (copper at {}, there and back; enough is {} of its "
            "nominal voltage):",
            _amperes(plan.highest_a),
            quantity(exact(CABLE_M, "m")),
            with_measures("20 °C"),
            quantity(exact(MOST_DROP, "1")),
        )
    )
    rows = tuple(
        (
            Cell(words=quantity(exact(cable.area_mm2, "mm²"))),
            Cell(words=f"{significant(cable.drop_v, 2)} V"),
            Cell(words="enough" if cable.is_enough else "too thin"),
        )
        for cable in plan.cables
    )
    table = Table(columns=columns("Copper", "Drop", "For this", text={"For this"}), rows=rows)
    return SheetStep(heading="2. Cable and fuse", says=tuple(says), table=table)


def _discharge(plan: Plan | None, loads: Mapping[str, Load]) -> SheetStep:
    write = "start and end; what ended it; current; counted Ah and Wh; air and battery temperature; the log's name"
    if plan is None:
        says: list[Words] = ["From full after an hour's rest, at a fifth of its capacity per hour, until it cuts off."]
        return SheetStep(heading="3. Full discharge", says=tuple(says), write=write)
    says = [
        sentence(
            "From full after an hour's rest, at {} and {}, until it cuts off{}: about {}.",
            _amperes(plan.reference_a),
            with_measures("20 to 30 °C"),
            f" or falls to {significant(plan.end_v)} V" if plan.end_v else "",
            quantity(exact(plan.hours, "h")),
        )
    ]
    if plan.near:
        near = [
            f"{loads[one.name].title.lower()} ({significant(one.battery_a)} A, {significant(one.hours, 2)} h)"
            for one in plan.near[:3]
        ]
        says.append(sentence("Loads that come near it through this bench: {}.", listed(near)))
    else:
        says.append("No load of the catalogue comes near that current on this bench; use a load bank.")
    return SheetStep(heading="3. Full discharge", says=tuple(says), write=write)


def _charge_words(plan: Plan | None) -> Words:
    if plan is None or plan.charge_v is None:
        return "With the charger set as its label says, until the current has fallen to a twentieth of its capacity."
    return sentence(
        "Charger at {}, until the current has fallen to {}.", f"{significant(plan.charge_v)} V", _amperes(plan.tail_a)
    )


def _pulses(plan: Plan | None) -> SheetStep:
    small, large = (_amperes(one) for one in plan.pulse_a) if plan else ("a fifth of its capacity", "its capacity")
    says = sentence(
        "At 80 % charge and {}: {} for 10 s, then {} for 1 s. Read the voltage at the terminals.",
        with_measures("20 to 25 °C"),
        small,
        large,
    )
    return SheetStep(
        heading="5. Voltage under two currents",
        says=(says,),
        write="both currents and voltages, after how many seconds",
    )


def _overload(plan: Plan | None) -> SheetStep:
    says: tuple[Words, ...] = (
        sentence(
            "Above half charge, {} of rest before each step. Stop when it cuts off, and wait for it to come back.",
            duration(exact(REST_S, "s")),
        ),
    )
    write = "current; seconds; carried or cut off; how it came back and after how long"
    if plan is not None and not plan.steps:
        says += ("Its label names no continuous current, so there are no steps to hold.",)
    if plan is None or not plan.steps:
        return SheetStep(heading="7. Currents above its label", says=says, write=write)
    rows = tuple(
        (
            Cell(words=_amperes(step.current_a)),
            Cell(words=duration(exact(step.hold_s, "s"))),
            Cell(words=step.why),
            Cell(),
        )
        for step in plan.steps
    )
    headings = columns("Current", "Hold for", "Why", "What it did", text={"Why", "What it did"})
    return SheetStep(
        heading="7. Currents above its label", says=says, table=Table(columns=headings, rows=rows), write=write
    )


def _cold(plan: Plan | None, unit: DerivedUnit | None) -> SheetStep:
    says: list[Words] = [
        sentence(
            "{} in air at {}, probe on the case. Then the smallest charger first{}; five minutes each.",
            quantity(exact(SOAK_H, "h")),
            with_measures(f"about {significant(SOAK_C)} °C"),
            f": {listed([_amperes(one) for one in plan.chargers_a])}" if plan and plan.chargers_a else "",
        )
    ]
    charge = unit.record.label.charge if unit else None
    if plan and not plan.chargers_a:
        named = charge is not None and charge.max_a is not None
        fifth = "a fifth of its capacity per hour, since its label names no limit"
        why = "the largest charging current that its label names" if named else fifth
        usual, most = listed([_amperes(one) for one in CHARGERS_A]), _amperes(plan.most_charge_a)
        says.append(sentence("Of the usual ones ({}) none is small enough: take at most {}, {}.", usual, most, why))
    limit = charge.min_c if charge else None
    if limit is not None:
        says.append(sentence("Its label allows charging from {}.", with_measures(f"{significant(limit.best)} °C")))
    write = "at each change: time, battery and air temperature, current, accepted or refused, heater on or off"
    return SheetStep(heading="8. Charging it frozen", says=tuple(says), write=write)


def _amperes(current_a: float) -> str:
    return f"{significant(current_a)}\u202fA"
