"""One unit's page: the answer on the first screen, then one section per subject."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from markupsafe import Markup

from site_builder.bench_tests import CapacityTest, LoadRun
from site_builder.derived import Derived, DerivedUnit
from site_builder.frames import rated_wh
from site_builder.measured import NOT_KEPT, exact
from site_builder.pages import recorded
from site_builder.pages.build_cost_sections import build_section, cost_section
from site_builder.pages.capacity_section import Companions, capacity_section
from site_builder.pages.carrying_section import carries, carrying_section
from site_builder.pages.cold_section import BOUNDS, cold_section, cold_words
from site_builder.pages.disclosure import provenance
from site_builder.pages.evidence_section import boxes, evidence_section
from site_builder.pages.grading_section import grade_facts, grading_section
from site_builder.pages.idle_section import idle_section
from site_builder.pages.recorded import tests_of
from site_builder.pages.runs_section import runs_section
from site_builder.pages.safe_text import sentence
from site_builder.pages.samples import behind, of_metrics
from site_builder.pages.share_section import share_section
from site_builder.pages.sheet_page import WAITING
from site_builder.pages.text import THIN, day, duration, listed, quantity
from site_builder.pages.views import Fact, Section, UnitPage, Words
from site_builder.pages.words import NO_INSTRUMENT, against_label, name_of, plain, price_words, with_reasons


def unit_page(unit: DerivedUnit, derived: Derived, companions: Companions) -> UnitPage:
    """The page of one unit, whatever is known of it."""
    said = _lead(unit, derived)
    lead = Markup(" ").join(said)
    name = name_of(unit.record)
    facts = _all_facts(unit, derived) if unit.record.unit.status == "published" else ()
    return UnitPage(
        title=name,
        description=f"{name}: {plain(lead)}",
        over=_over(unit, derived),
        boxes=boxes(unit),
        lead=lead,
        facts=facts,
        provenance=provenance(unit, derived.catalogue.benches),
        acts=_acts(unit),
        sections=(*_sections(unit, derived, companions), share_section(unit, derived, said, facts)),
    )


def answer(unit: DerivedUnit, derived: Derived) -> str:
    """What it did, as plain text: the line that lists and searches show."""
    return plain(answer_marked_up(unit, derived))


def answer_marked_up(unit: DerivedUnit, derived: Derived) -> Markup:
    """The same with the numbers behind what the switch of units changes."""
    return Markup(" ").join(_lead(unit, derived))


def _acts(unit: DerivedUnit) -> tuple[Markup, ...]:
    """What a visitor can do with it elsewhere; its tester, where it waits for its tests."""
    if unit.record.unit.status in WAITING:
        return (sentence('<a href="../../sheets/{}/">Bench sheet</a>', Markup(unit.id)),)  # noqa: S704  # a checked name
    if unit.record.unit.status != "published":
        return ()
    asked = (("compare/?units", "Compare"), ("runtime/?unit", "How long would it run mine?"))
    return tuple(sentence('<a href="../../{}={}">{}</a>', Markup(to), Markup(unit.id), words) for to, words in asked)  # noqa: S704  # fixed, and a checked name


def _over(unit: DerivedUnit, derived: Derived) -> Markup:
    class_id = unit.result.class_id
    if class_id is None:
        label = unit.record.label
        volts, charge = quantity(exact(label.nominal_v.best, "V")), quantity(exact(label.capacity_ah.best, "Ah"))
        return sentence("{}, {} {}; no others like it yet", volts, charge, label.chemistry)
    title = derived.catalogue.classes[class_id].title
    return sentence('<a href="../../classes/{}/">{}</a>', Markup(class_id), title)  # noqa: S704  # a checked name


def _lead(unit: DerivedUnit, derived: Derived) -> list[Markup]:
    """What it did, in at most four sentences, evidence first."""
    status = unit.record.unit.status
    if status == "withdrawn":
        return [Markup("Its results were withdrawn.")]
    said = (*_lead_runs(unit, derived), *_lead_delivered(unit), *_lead_cold(unit))
    if said:
        return [sentence("{}.", words) for words in said]
    waiting = {"planned": "Planned; not tested yet.", "testing": "On the bench now; no results yet."}
    return [sentence("{}", waiting.get(status, "Nothing was tested yet."))]


def _lead_runs(unit: DerivedUnit, derived: Derived) -> Iterator[Markup]:
    """The first long run with a load, and the first run that was cut off; else one that ran."""
    loads = derived.catalogue.loads
    long = [
        (n, t)
        for n, t in tests_of(unit, CapacityTest).items()
        if t.load and "duration_s" in unit.result.tests[n].metrics
    ]
    for name, test in long[:1]:
        result = unit.result.tests[name]
        lasted = duration(result.metrics["duration_s"])
        why = sentence(" ({})", listed(result.reasons)) if result.reasons else ""
        yield sentence("Ran {} for {}{}{}", recorded.the_loads(test.load or (), loads), lasted, why, behind(unit, name))
    runs = list(tests_of(unit, LoadRun).items())
    told = [(name, run) for name, run in runs if run.outcome != "ran"][:1] or ([] if long else runs[:1])
    for name, run in told:
        yield sentence("{}{}", recorded.load_run(run, loads), behind(unit, name))


def _lead_delivered(unit: DerivedUnit) -> Iterator[Markup]:
    if unit.result.headline is None:
        return
    result = unit.result.tests[unit.result.headline]
    lead = result.metrics.get("delivered_ah") or result.metrics["delivered_wh"]
    words = sentence("Delivered {}", with_reasons(lead, result))
    if share := result.metrics.get("share_of_rated"):
        words += sentence(", {}", against_label(share))
    yield sentence("{}{}", words, behind(unit, unit.result.headline))


def _lead_cold(unit: DerivedUnit) -> Iterator[Markup]:
    words = cold_words(unit.result.metrics)
    if words is not None:
        yield sentence("{}{}", words, of_metrics(unit, *BOUNDS))


def _all_facts(unit: DerivedUnit, derived: Derived) -> tuple[Fact, ...]:
    """Four facts: evidence, and the grade beside it where there is one."""
    evidence, graded = tuple(_facts(unit)), grade_facts(unit, derived)
    return (*evidence[:2], *graded) if graded else evidence


def _facts(unit: DerivedUnit) -> Iterator[Fact]:
    metrics, price, label = unit.result.metrics, unit.result.price, unit.record.label
    missing: Words = "not tested"
    energy = metrics.get("delivered_wh") or metrics.get("delivered_ah")
    if "delivered_wh" in metrics or energy is None:
        claim = quantity(exact(rated_wh(unit), "Wh"))
    else:
        claim = quantity(exact(label.capacity_ah.best, "Ah"))
    notes = {"as_read": f"; {NO_INSTRUMENT}", "reported": f"; {NOT_KEPT}"}
    note = notes.get(energy.basis, "") if energy else ""
    delivered = quantity(energy).unnoted if energy else missing
    sample = behind(unit, unit.result.headline)
    yield Fact(name="Delivered", value=delivered, below=sentence("label {}{}{}", claim, note, sample))
    per_kwh = metrics.get("price_per_kwh")
    paid = (
        sentence(
            "{}, {}{}",
            price_words(price),
            day(dt.date.fromisoformat(price.date)),
            ", older than 12 months" if price.stale else "",
        )
        if price
        else ""
    )
    yield Fact(name="Price for what it holds", value=quantity(per_kwh) if per_kwh else "not known", below=paid)
    share = metrics.get("share_of_rated")
    charge = metrics.get("delivered_ah")
    of = sentence("{} of {}", quantity(charge).value, quantity(exact(label.capacity_ah.best, "Ah"))) if charge else ""
    yield Fact(name="Share of label", value=quantity(share) if share else missing, below=of)
    yield _carries_or_mass(unit)


def _carries_or_mass(unit: DerivedUnit) -> Fact:
    """What it carries, where somebody tried; else its mass."""
    if known := carries(unit):
        held, tripped = known
        cut = sentence("for 30{}min; cut off at {}", THIN, quantity(tripped)) if tripped else f"for 30{THIN}min"
        cut = sentence("{}{}", cut, of_metrics(unit, "carries_30_min_a"))
        return Fact(name="Carries", value=quantity(held), below=cut)
    mass, for_mass = unit.result.metrics.get("mass_kg"), unit.result.metrics.get("wh_per_kg")
    weighed = "by its label" if mass and mass.basis == "claimed" else ""
    holds = sentence("{}{}{}", weighed, ", " if weighed and for_mass else "", quantity(for_mass) if for_mass else "")
    return Fact(name="Mass", value=quantity(mass) if mass else "not weighed", below=holds)


def _sections(unit: DerivedUnit, derived: Derived, companions: Companions) -> Iterator[Section]:
    catalogue = derived.catalogue
    if unit.record.unit.status == "published":
        yield runs_section(unit, catalogue.loads, catalogue.benches)
        yield capacity_section(unit, companions, catalogue.benches)
        yield carrying_section(unit, catalogue.benches)
        yield cold_section(unit, catalogue.benches)
        yield idle_section(unit, catalogue.benches)
    if unit.record.unit.status != "withdrawn":
        yield build_section(unit, catalogue.benches)
        yield cost_section(unit, catalogue.benches)
    yield from grading_section(unit, derived)
    yield evidence_section(unit, derived)
