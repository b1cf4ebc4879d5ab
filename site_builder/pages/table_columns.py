"""The columns of the table of all units: their headings, the sets they belong to, and how a unit fills them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

from markupsafe import Markup

from site_builder.derived import Derived, DerivedUnit
from site_builder.grade import Ends
from site_builder.measured import NOT_KEPT, Measured
from site_builder.pages.absent import NO_PLACE, NO_PRICE, TOO_LITTLE, no_heater, no_life_price, no_price, only_reported
from site_builder.pages.carrying_section import carries
from site_builder.pages.cold_section import cold_in_short
from site_builder.pages.grade_words import place_span, points, score_span, scored
from site_builder.pages.safe_text import sentence
from site_builder.pages.switched import heading
from site_builder.pages.table_views import Bar, SortCell, SortColumn
from site_builder.pages.text import NOT_TESTED, day, duration, quantity
from site_builder.pages.views import Words
from site_builder.pages.words import own_money

TRACK = 1.15  # the full length of the bar of what was delivered, as a multiple of the label
PER_KWH = "price_per_kwh"
Fill = Callable[[DerivedUnit], SortCell]


@dataclass(frozen=True, kw_only=True, slots=True)
class Column:
    """A column of the table and how a unit fills it."""

    view: SortColumn
    cell: Fill


def columns_of(derived: Derived, currency: str) -> tuple[Column, ...]:
    """All columns, in the order in which they stand; score and place only where the catalogue grades."""
    scores = () if derived.catalogue.grading is None else _scores(derived)
    return (*scores, *_main(derived, currency, graded=bool(scores)), *_others(currency))


def _column(
    key: str, title: str, sets: str, cell: Fill | None = None, *, unit: str = "", flags: str = "", lacks: str = ""
) -> Column:
    """Without a `cell` it shows the metric of that key; "down" sorts from the top, the rest are columns' properties."""
    return Column(
        view=SortColumn(
            key=key,
            heading=heading(title, unit) if unit else title,
            sets=sets,
            lacks=lacks,
            down="down" in flags,
            on_phone="phone" in flags,
            is_text="text" in flags,
            in_words="words" in flags,
            unit=unit,
        ),
        cell=cell or _metric(key),
    )


def _scores(derived: Derived) -> tuple[Column, ...]:
    return (
        _column(
            "score", "Score of 100", "main", lambda unit: _score(unit, derived), flags="down phone", lacks="no score"
        ),
        _column("place", "Place in class", "main", lambda unit: _place(unit, derived), flags="words", lacks="no place"),
    )


def _main(derived: Derived, currency: str, *, graded: bool) -> tuple[Column, ...]:
    share = "down" if graded else "down phone"  # beside a score the phone keeps score, delivered, prices
    return (
        _column("delivered_wh", "Delivered, Wh", "main capacity", _delivered, flags="down phone"),
        _column("share_of_rated", "Of its label, %", "main capacity", flags=share),
        _column("price", f"Price, {currency}", "main cost", _price, flags="phone"),
        _column(
            PER_KWH, f"{currency} per kWh it holds", "main cost", _unless(no_price, _per_kwh(derived)), flags="phone"
        ),
        _column("charging_cold", "Charging in the cold", "main cold", _cold, flags="text words"),
        _column("carries_30_min_a", "Carries 30 min, A", "main overload", _carries, flags="down"),
        _column("mass_kg", "Mass", "main build", unit="kg"),
    )


def _others(currency: str) -> tuple[Column, ...]:
    return (
        _column("delivered_ah", "Charge, Ah", "capacity", flags="down"),
        _column("comparable_ah", "At the reference rate, Ah", "capacity", flags="down"),
        _column("mean_voltage_v", "Mean voltage, V", "capacity", flags="down"),
        _column("temperature_c", "Battery", "capacity", unit="°C"),
        _column("cut_off_a", "Cut off sooner at, A", "overload", _cut_off, flags="down"),
        _column("carries_10_s_a", "Carries 10 s, A", "overload", flags="down"),
        _column("carries_3_s_a", "Carries 3 s, A", "overload", flags="down"),
        _column("dc_resistance_milliohm", "Resistance, mΩ", "overload"),
        _column("heater_w", "Heater, W", "cold", _unless(no_heater, _metric("heater_w"))),
        _column("heater_wh", "Heater energy, Wh", "cold", _unless(no_heater, _metric("heater_wh"))),
        _column("standard_warm_up_s", "Standard warm-up", "cold", _unless(no_heater, _warm_up), flags="words"),
        _column(
            "life_price_per_kwh",
            f"{currency} per kWh over its life, if the claim holds",
            "cost",
            _unless(no_life_price, _metric("life_price_per_kwh")),
        ),
        _column("price_date", "Priced on", "cost", _price_date, flags="words"),
        _column("wh_per_kg", "Energy for its mass", "build", unit="Wh/kg", flags="down"),
        _column("wh_per_l", "Energy for its volume, Wh/L", "build", flags="down"),
        _column("volume_l", "Volume, litres", "build"),
    )


def missing(words: str = NOT_TESTED) -> SortCell:
    """A cell without a number; it sorts last whichever way."""
    return SortCell(words=Markup('<span class="missing">{}</span>').format(words))


def _metric(name: str) -> Fill:
    def cell(unit: DerivedUnit) -> SortCell:
        one = unit.result.metrics.get(name)
        return missing() if one is None else _measured(one)

    return cell


def _unless(absent: Callable[[DerivedUnit], str], cell: Fill) -> Fill:
    """Where it has nothing, why it could not have."""

    def fill(unit: DerivedUnit) -> SortCell:
        known = cell(unit)
        return missing(why) if known.is_missing and (why := absent(unit)) else known

    return fill


def _measured(one: Measured, bar: Bar | None = None) -> SortCell:
    """Sorted by its value, or, where it is known in part, by an end that is sure."""
    words: Words = quantity(one).bare.unnoted
    note = {"claimed": "label", "as_read": "as read", "reported": NOT_KEPT}.get(one.basis)
    if note:
        words = sentence('{} <span class="u">{}</span>', words, note)
    factor = 100.0 if one.unit == "1" else 1.0  # as shown: fractions in percent
    if one.bound != "exact" or one.basis == "reported":
        sure = {"exact": one.value, "at_most": one.highest}.get(one.bound, one.lowest)
        return SortCell(words=words, bound=_digits(sure * factor, 5), is_kept=one.basis != "reported", bar=bar)
    return SortCell(
        words=words, value=_digits(one.value * factor, 9), spread=(one.expanded or 0.0) * factor or None, bar=bar
    )


def _digits(value: float, count: int) -> float:
    return float(f"{value:.{count}g}")


def _score(unit: DerivedUnit, derived: Derived) -> SortCell:
    if not_kept := only_reported(unit):
        return missing(not_kept)
    grade = derived.standings.grades.get(unit.id)
    if grade is None or grade.score is None:
        return missing(TOO_LITTLE)
    value = round(grade.score, 2)
    bar = Bar(end=round(value, 1), low=round(grade.ends.low, 1), high=round(grade.ends.high, 1))
    return SortCell(words=_capped(grade.ends) if grade.cap else scored(grade.ends), value=value, bar=bar)


def _capped(ends: Ends) -> Markup:
    """A score that a finding caps, and its interval where it is one: "55, 47 to 60, capped"."""
    span = "" if ends.low == ends.high else f"{score_span(ends)}, "
    return sentence('{} <span class="u">{}capped</span>', points(ends.value or 0.0), span)


def _place(unit: DerivedUnit, derived: Derived) -> SortCell:
    one = derived.standings.places.get(unit.id)
    if one is None:
        return missing(NO_PLACE)
    of = sentence('{} <span class="u">of {}</span>', place_span(one), one.of)
    return SortCell(words=of, value=float(one.low + one.high))


def _delivered(unit: DerivedUnit) -> SortCell:
    """The bar is the share of the label, since batteries of all sizes stand above one another."""
    one, share = unit.result.metrics.get("delivered_wh"), unit.result.metrics.get("share_of_rated")
    if one is None:
        return missing()
    return _measured(one, _bar(share, TRACK, mark=1.0) if share else None)


def _bar(one: Measured, full: float, mark: float | None = None) -> Bar:
    """A number on a track of which `full` is the end."""

    def place(at: float) -> float:
        return round(100 * min(max(at, 0.0), full) / full, 1)

    marked = None if mark is None else place(mark)
    is_open = one.bound == "at_least"
    return Bar(end=place(one.value), low=place(one.lowest), high=place(one.highest), mark=marked, is_open=is_open)


def _per_kwh(derived: Derived) -> Fill:
    known = [one for unit in derived.units if (one := unit.result.metrics.get(PER_KWH)) is not None]
    dearest = max((one.value + (one.expanded or 0.0) for one in known), default=0.0)

    def cell(unit: DerivedUnit) -> SortCell:
        one = unit.result.metrics.get(PER_KWH)
        return missing() if one is None else _measured(one, _bar(one, dearest) if dearest > 0 else None)

    return cell


def _price(unit: DerivedUnit) -> SortCell:
    price = unit.result.price
    if price is None:
        return missing(NO_PRICE)
    stale = Markup('<span class="u"> old</span>') if price.stale else ""
    return SortCell(words=sentence("{}{}", own_money(price).bare, stale), value=round(price.amount, 2))


def _price_date(unit: DerivedUnit) -> SortCell:
    price = unit.result.price
    if price is None:
        return missing(NO_PRICE)
    date = dt.date.fromisoformat(price.date)
    return SortCell(words=day(date), value=float(date.toordinal()))


def _carries(unit: DerivedUnit) -> SortCell:
    known = carries(unit)
    return missing() if known is None else _measured(known[0])


def _cut_off(unit: DerivedUnit) -> SortCell:
    known = carries(unit)
    if known is None:
        return missing()
    return missing("none seen") if known[1] is None else _measured(known[1])


def _warm_up(unit: DerivedUnit) -> SortCell:
    one = unit.result.metrics.get("standard_warm_up_s")
    return missing() if one is None else SortCell(words=duration(one), value=round(one.value))


def _cold(unit: DerivedUnit) -> SortCell:
    """Sorted by the coldest temperature at which it took charge; one that was only seen to refuse is known in part."""
    words, metrics = cold_in_short(unit.result.metrics), unit.result.metrics
    accepted, refused = metrics.get("accepted_from_c"), metrics.get("refused_up_to_c")
    one = accepted or refused
    if words is None or one is None:
        return missing()
    value, is_kept = _digits(one.value, 4), one.basis != "reported"
    if accepted and is_kept:
        return SortCell(words=words, value=value)
    return SortCell(words=words, bound=value, is_kept=is_kept)
