"""The sections on build and on cost: what it weighs and holds for its mass, and what it costs for what it holds."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence

from markupsafe import Markup

from site_builder.bench_tests import BuildTest
from site_builder.catalogue_records import Bench
from site_builder.derive.reported import is_reported
from site_builder.derive.results import Priced
from site_builder.derived import DerivedUnit
from site_builder.measured import NOT_KEPT, Measured
from site_builder.nomenclature import METRICS
from site_builder.pages import unit_questions
from site_builder.pages.capacity_section import measured_cell
from site_builder.pages.recorded import tests_of, untested
from site_builder.pages.safe_text import sentence
from site_builder.pages.samples import of_metrics
from site_builder.pages.switched import held
from site_builder.pages.text import Shown, day, listed, quantity, stated
from site_builder.pages.views import Cell, Fold, Section, Table, Words, columns
from site_builder.pages.words import price_words
from site_builder.pages.working import Worked, working
from site_builder.records import Label, LabelCharge, LabelDischarge
from site_builder.values import Stated

NOT_MEASURED = "not measured"
BUILD = ("mass_kg", "volume_l", "wh_per_kg", "wh_per_l")
COST = ("price_per_kwh", "life_price_per_kwh")
BUILD_ASSUMED = (
    "The energy is that of the leading discharge, whose working stands above; volume is that of the box around it, "
    "terminals included."
)
COST_ASSUMED = (
    "The newest price of the last twelve months, divided by the energy of the leading discharge; the price itself "
    "counts as exact."
)


def build_section(unit: DerivedUnit, benches: Mapping[str, Bench]) -> Section:
    """Mass, size, and the energy held for each; what else came out of the box."""
    label, metrics = unit.record.label, unit.result.metrics
    claim = stated(label.mass_kg, "kg") if label.mass_kg else ""
    rows = (
        (Cell(words=_of(unit, "Mass", "mass_kg")), Cell(words=claim), _weighed(metrics.get("mass_kg"))),
        (Cell(words=_of(unit, "Volume", "volume_l")), Cell(), _weighed(metrics.get("volume_l"))),
        (Cell(words="Energy for its mass"), Cell(), measured_cell(metrics.get("wh_per_kg"))),
        (Cell(words="Energy for its volume"), Cell(), measured_cell(metrics.get("wh_per_l"))),
    )
    contents, claims = tuple(_contents(tests_of(unit, BuildTest))), tuple(_claims(unit))
    return Section(
        anchor=unit_questions.BUILD.anchor,
        heading=unit_questions.BUILD.heading,
        short=unit_questions.BUILD.short,
        says=(Markup(" ").join(contents) if contents else untested("a scale, a tape measure and a look into the box"),),
        tables=(Table(columns=columns("Quantity", "Label", "Measured"), rows=rows, caption=_by_claim(metrics)),),
        folds=(
            *((Fold(title="What the label allows and claims beyond that", says=claims),) if claims else ()),
            *working(unit, benches, _worked(unit, BUILD), methods=("cost-and-build",), assumed=BUILD_ASSUMED),
        ),
    )


def _of(unit: DerivedUnit, title: str, metric: str) -> Words:
    return sentence("{}{}", title, of_metrics(unit, metric))


def _weighed(one: Measured | None) -> Cell:
    """Only what somebody measured belongs in the measured column."""
    return measured_cell(None if one is None or one.basis == "claimed" else one, NOT_MEASURED)


def _by_claim(metrics: Mapping[str, Measured]) -> str:
    names = {"mass_kg": "mass", "volume_l": "size"}
    claimed = [word for name, word in names.items() if name in metrics and metrics[name].basis == "claimed"]
    return f"With the label's {listed(claimed)}, where nobody measured." if claimed and "wh_per_kg" in metrics else ""


def _contents(tests: Mapping[str, BuildTest]) -> Iterator[Words]:
    for test in tests.values():
        if is_reported(test):
            yield sentence("{}{}:", NOT_KEPT[:1].upper(), NOT_KEPT[1:])
        if test.size_mm:
            sides = (test.size_mm.length, test.size_mm.width, test.size_mm.height)
            words = " × ".join(stated(side, "").value for side in sides)
            size = Shown(words, unit="mm", held=held([side.best for side in sides], "mm"))
            yield sentence("Measured {}, terminals included.", size)
        if test.terminals:
            yield sentence("Terminals: {}.", test.terminals)
        yield sentence("Documents that came with it: {}.", listed(test.documents) or "none")
        if test.certificates_seen:
            yield sentence("Certificates whose document was seen: {}.", listed(test.certificates_seen))
        if test.accessories:
            yield sentence("In the box: {}.", listed(test.accessories))
        if test.app_works is not None:
            works = "connected and showed plausible figures" if test.app_works else "did not work"
            yield sentence("The app {}.", works)


def _claims(unit: DerivedUnit) -> Iterator[Words]:
    label = unit.record.label
    yield from _limits(label)
    if label.ingress:
        yield sentence("{} by IEC 60529; not tested.", label.ingress)
    if label.certificates:
        transport = " UN 38.3 is a transport test." if "UN 38.3" in label.certificates else ""
        yield sentence("Certificates: {}.{}", listed(label.certificates), transport)
    if label.cycles:
        depth = sentence(" at {} depth", stated(label.cycles.depth, "1")) if label.cycles.depth else ""
        left = sentence(", down to {} of its capacity", stated(label.cycles.to, "1")) if label.cycles.to else ""
        yield sentence("{} cycles{}{}; not tested.", stated(label.cycles.count, ""), depth, left)
    if label.warranty_years:
        yield sentence("Warranty: {} years.", stated(label.warranty_years, "").value)


def _limits(label: Label) -> Iterator[Words]:
    """Within what the maker allows it to be used: temperatures, voltages, the charger, batteries together."""
    discharge, charge = label.discharge or LabelDischarge(), label.charge or LabelCharge()
    allows = {
        "Discharging": (
            _span(discharge.min_c, discharge.max_c),
            discharge.end_v and sentence("down to {}", stated(discharge.end_v, "V")),
        ),
        "Charging": (
            _span(charge.min_c, charge.max_c),
            charge.voltage_v and sentence("at {}", stated(charge.voltage_v, "V")),
            charge.max_a and sentence("up to {}", stated(charge.max_a, "A")),
        ),
        "Together": (_together(label.in_series, "series"), _together(label.in_parallel, "parallel")),
    }
    for what, facts in allows.items():
        if said := [one for one in facts if one]:
            yield sentence("{}: {}.", what, Markup(", ").join(said))


def _span(low: Stated | None, high: Stated | None) -> Markup | None:
    """Temperatures between which it may be used, as far as the label names them."""
    if low and high:
        return sentence("{} to {}", stated(low, "°C"), stated(high, "°C"))
    if low:
        return sentence("from {} on", stated(low, "°C"))
    return sentence("up to {}", stated(high, "°C")) if high else None


def _together(count: int | None, how: str) -> Markup | None:
    if count is None:
        return None
    return sentence("up to {} in {}", count, how) if count > 1 else sentence("none in {}", how)


def cost_section(unit: DerivedUnit, benches: Mapping[str, Bench]) -> Section:
    """The newest price, and what it is for each kWh that the battery holds."""
    price, metrics = unit.result.price, unit.result.metrics
    says: list[Words] = [_price_sentence(price) if price else untested("a dated price with its seller")]
    if per_kwh := metrics.get("price_per_kwh"):
        says.append(sentence("For what it holds, {}: {}.", quantity(metrics["delivered_wh"]), quantity(per_kwh)))
    if over_life := metrics.get("life_price_per_kwh"):
        claim = "if the maker's claim of cycles holds, at 100 cycles a year and 5 % interest"
        says.append(
            sentence("Over its life {} that went through it, {}: the claim is not tested.", quantity(over_life), claim)
        )
    return Section(
        anchor=unit_questions.COST.anchor,
        heading=unit_questions.COST.heading,
        short=unit_questions.COST.short,
        says=tuple(says),
        folds=working(unit, benches, _worked(unit, COST), methods=("cost-and-build",), assumed=COST_ASSUMED),
    )


def _worked(unit: DerivedUnit, names: Sequence[str]) -> list[Worked]:
    """Those of the unit's own numbers that somebody measured, with the test that they come from."""
    scales = next((name for name, test in unit.record.tests.items() if isinstance(test, BuildTest)), "")
    metrics = {name: unit.result.metrics[name] for name in names if name in unit.result.metrics}
    return [
        Worked(title=METRICS[name].title, one=one, test=scales if name in BUILD[:2] else "")
        for name, one in metrics.items()
        if one.basis != "claimed" or name not in BUILD[:2]
    ]


def _price_sentence(price: Priced) -> Markup:
    words = {"paid": "Paid {} at {}", "listed": "Listed at {} by {}", "sale": "In a sale at {} by {}"}[price.kind]
    when = day(dt.date.fromisoformat(price.date))
    stale = " (older than 12 months)" if price.stale else ""
    rate = sentence(", at the rate of {}", day(dt.date.fromisoformat(price.rate_date))) if price.rate_date else ""
    return sentence(
        "{} on {}{}{}.", sentence(words, price_words(price), _with_article(price.seller)), when, stale, rate
    )


def _with_article(seller: str) -> str:
    """A kind of seller as it stands in a sentence: "a chandlery", "an online shop", "the maker's web shop"."""
    first = seller.lower()
    if first.startswith(("a ", "an ", "the ")):
        return seller
    if first.startswith("maker"):
        return f"the {seller}"
    return f"{'an' if first[:1] in 'aeiou' else 'a'} {seller}"
