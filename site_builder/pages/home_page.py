"""The home page: the table of all units, what is new, and the classes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

from markupsafe import Markup

from site_builder.derive.headline import date_of
from site_builder.derived import Derived, DerivedUnit
from site_builder.frames import Frames
from site_builder.measured import Measured
from site_builder.pages.carrying_section import carries
from site_builder.pages.cold_section import cold_in_short
from site_builder.pages.evidence_section import HISTORY
from site_builder.pages.grade_words import place_span, points, scored
from site_builder.pages.text import (
    NOT_TESTED,
    UNIT_WORDS,
    converted_money,
    counted,
    day,
    duration,
    money,
    quantity,
    sentence,
)
from site_builder.pages.views import Bar, HomePage, SortCell, SortColumn, SortRow, Words
from site_builder.pages.words import name_of
from site_builder.records import History

TRACK = 1.15  # the bar's full length, as a multiple of the label
MISSING = SortCell(words=Markup('<span class="missing">{}</span>').format(NOT_TESTED))


@dataclass(frozen=True, kw_only=True, slots=True)
class _Column:
    """A column of the table: its heading and how a unit fills it."""

    view: SortColumn
    cell: Callable[[DerivedUnit], SortCell]


def home_page(derived: Derived, frames: Frames) -> HomePage:
    """All units on one page, in the order of their names; the reader sorts."""
    shown = _by_name(derived, frames)
    currency = UNIT_WORDS.get(derived.catalogue.rates.currency, derived.catalogue.rates.currency)
    scores = _scores(derived)
    table = (*scores, *_columns(currency, graded=bool(scores)))
    classes = {name: one for name, one in derived.catalogue.classes.items() if derived.of_class(name)}
    lead = sentence(
        "{}, each run through the same tests, with what the instruments can and cannot tell. As of {}.",
        counted(len(shown), "battery", "batteries").capitalize(),
        day(derived.as_of),
    )
    return HomePage(
        title="What boathouse batteries really do",
        description="Batteries run through the same tests, with what the instruments can and cannot tell.",
        lead=lead,
        news=_news(derived),
        columns=tuple(column.view for column in table),
        rows=tuple(_row(unit, derived, table) for unit in shown),
        class_titles=tuple(one.title for one in classes.values()),
        currency=currency,
        classes=tuple(_class_line(name, one.title, len(derived.of_class(name))) for name, one in classes.items()),
        waiting=tuple(_link(u) for u in derived.units if u.record.unit.status in {"planned", "testing"}),
        withdrawn=tuple(_link(u) for u in derived.units if u.record.unit.status == "withdrawn"),
    )


def _by_name(derived: Derived, frames: Frames) -> list[DerivedUnit]:
    by_id = {unit.id: unit for unit in derived.units}
    if not by_id:
        return []
    published = frames.units[frames.units["status"] == "published"]
    return [by_id[id_] for id_ in published.sort_values(["maker", "model"])["id"]]


def _class_line(class_id: str, title: str, count: int) -> Markup:
    words = counted(count, "battery", "batteries")
    return sentence('<a href="classes/{}/">{}</a>: {}', Markup(class_id), title, words)  # noqa: S704  # a checked name


def _link(unit: DerivedUnit) -> Markup:
    return sentence('<a href="units/{}/">{}</a>', Markup(unit.id), name_of(unit.record))  # noqa: S704  # a checked name


def _news(derived: Derived) -> Markup:
    """The newest thing that happened: an entry of some unit's history, or else its newest test."""
    events: list[tuple[dt.date, str, Markup]] = []
    for unit in derived.units:
        record = unit.record
        events += [(entry.date, unit.id, _told(unit, entry)) for entry in record.history]
        tested = [date for test in record.tests.values() if (date := date_of(test, record))]
        events += [(date, unit.id, sentence("{}: {}, tested.", day(date), _link(unit))) for date in tested]
    return max(events, key=lambda event: event[:2], default=(None, "", Markup("")))[2]


def _told(unit: DerivedUnit, entry: History) -> Markup:
    return sentence("{}: {}, {}. {}", day(entry.date), _link(unit), HISTORY[entry.what].lower(), entry.note)


def _row(unit: DerivedUnit, derived: Derived, table: tuple[_Column, ...]) -> SortRow:
    price, class_id = unit.result.price, unit.result.class_id
    filters = {
        "words": name_of(unit.record),
        "class": derived.catalogue.classes[class_id].title if class_id else "",
        "heater": "yes" if unit.record.label.heater else "no",
        **({"price": f"{price.amount:.0f}"} if price else {}),
    }
    cells = tuple(column.cell(unit) for column in table)
    return SortRow(name=name_of(unit.record), href=Markup(f"units/{unit.id}/"), filters=filters, cells=cells)  # noqa: S704


def _scores(derived: Derived) -> tuple[_Column, ...]:
    """Score and place; no columns where the catalogue grades nothing."""
    if derived.catalogue.grading is None:
        return ()

    def score(unit: DerivedUnit) -> SortCell:
        grade = derived.standings.grades.get(unit.id)
        if grade is None or grade.score is None:
            return SortCell(words=Markup('<span class="missing">too little tested</span>'))
        value = round(grade.score, 2)
        if grade.cap is None:
            return SortCell(words=scored(grade.ends), value=value)
        return SortCell(words=sentence('{} <span class="u">capped</span>', points(grade.score)), bound=value)

    def place(unit: DerivedUnit) -> SortCell:
        one = derived.standings.places.get(unit.id)
        if one is None:
            return SortCell(words=Markup('<span class="missing">none</span>'))
        of = sentence('{} <span class="u">of {}</span>', place_span(one), one.of)
        return SortCell(words=of, value=float(one.low + one.high))

    return (
        _column("Score of 100", "main", score, down=True, phone=True),
        _column("Place in class", "main", place),
    )


def _columns(currency: str, *, graded: bool) -> tuple[_Column, ...]:
    return (
        _column("Delivered, Wh", "main capacity", _delivered, down=True, phone=True),
        # Beside a score the phone keeps score, delivered and price.
        _column("Of its label, %", "main capacity", _metric("share_of_rated"), down=True, phone=not graded),
        _column("Price", "main cost", _price, phone=True),
        _column(f"{currency} per kWh it holds", "main cost", _metric("price_per_kwh")),
        _column("Charging in the cold", "main cold", _cold, text=True),
        _column("Carries 30 min, A", "main overload", _carries, down=True),
        _column("Mass, kg", "main build", _metric("mass_kg")),
        _column("Charge, Ah", "capacity", _metric("delivered_ah"), down=True),
        _column("At the reference rate, Ah", "capacity", _metric("comparable_ah"), down=True),
        _column("Mean voltage, V", "capacity", _metric("mean_voltage_v"), down=True),
        _column("Battery, °C", "capacity", _metric("temperature_c")),
        _column("Cut off sooner at, A", "overload", _cut_off, down=True),
        _column("Carries 10 s, A", "overload", _metric("carries_10_s_a"), down=True),
        _column("Carries 3 s, A", "overload", _metric("carries_3_s_a"), down=True),
        _column("Resistance, mΩ", "overload", _metric("dc_resistance_milliohm")),
        _column("Heater, W", "cold", _metric("heater_w")),
        _column("Heater energy, Wh", "cold", _metric("heater_wh")),
        _column("Standard warm-up", "cold", _warm_up),
        _column("Price of", "cost", _price_date),
        _column("Per kWh over its life, if the claim holds", "cost", _metric("life_price_per_kwh")),
        _column("Wh per kg", "build", _metric("wh_per_kg"), down=True),
        _column("Wh per litre", "build", _metric("wh_per_l"), down=True),
        _column("Volume, litres", "build", _metric("volume_l")),
    )


def _column(
    heading: str,
    sets: str,
    cell: Callable[[DerivedUnit], SortCell],
    *,
    down: bool = False,
    phone: bool = False,
    text: bool = False,
) -> _Column:
    first = "descending" if down else "ascending"
    return _Column(view=SortColumn(heading=heading, sets=sets, first=first, on_phone=phone, is_text=text), cell=cell)


def _metric(name: str) -> Callable[[DerivedUnit], SortCell]:
    def cell(unit: DerivedUnit) -> SortCell:
        one = unit.result.metrics.get(name)
        return MISSING if one is None else _measured(one)

    return cell


def _measured(one: Measured, bar: Bar | None = None) -> SortCell:
    """Sorted by its value; one that is known from one side only, or only as a claim or a reading, sorts as a bound."""
    words: Words = quantity(one).bare
    note = {"reported": "label", "as_read": "as read"}.get(one.basis)
    if note:
        words = sentence('{} <span class="u">{}</span>', words, note)
    exact = one.bound == "exact"
    value = float(f"{one.value:.6g}")
    return SortCell(words=words, value=value if exact else None, bound=None if exact else value, bar=bar)


def _delivered(unit: DerivedUnit) -> SortCell:
    one, share = unit.result.metrics.get("delivered_wh"), unit.result.metrics.get("share_of_rated")
    if one is None:
        return MISSING
    return _measured(one, _bar(share) if share else None)


def _bar(share: Measured) -> Bar:
    low, high = (min(max(end, 0.0), TRACK) for end in (share.lowest, share.highest))
    end, low, high, label = (round(100 * at / TRACK, 1) for at in (min(share.value, TRACK), low, high, 1.0))
    return Bar(end=end, low=low, high=high, label=label, is_open=share.bound == "at_least")


def _price(unit: DerivedUnit) -> SortCell:
    price = unit.result.price
    if price is None:
        return SortCell(words=Markup('<span class="missing">not known</span>'))
    stale = Markup('<span class="u"> old</span>') if price.stale else ""
    own = price.currency == price.original_currency
    words = money(price.amount, price.currency) if own else converted_money(price.amount, price.currency)
    return SortCell(words=sentence("{}{}", words, stale), value=round(price.amount, 2))


def _price_date(unit: DerivedUnit) -> SortCell:
    price = unit.result.price
    if price is None:
        return SortCell(words="")
    date = dt.date.fromisoformat(price.date)
    return SortCell(words=day(date), value=float(date.toordinal()))


def _carries(unit: DerivedUnit) -> SortCell:
    known = carries(unit)
    return MISSING if known is None else _measured(known[0])


def _cut_off(unit: DerivedUnit) -> SortCell:
    known = carries(unit)
    return MISSING if known is None or known[1] is None else _measured(known[1])


def _warm_up(unit: DerivedUnit) -> SortCell:
    one = unit.result.metrics.get("standard_warm_up_s")
    return MISSING if one is None else SortCell(words=duration(one), value=round(one.value))


def _cold(unit: DerivedUnit) -> SortCell:
    words = cold_in_short(unit.result.metrics)
    return MISSING if words is None else SortCell(words=words)
