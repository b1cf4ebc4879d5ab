"""How numbers and dates read on a page: the one place that rounds and adds units.

Nothing here knows records, tests or templates. What a function returns is safe to put into a page as it is: `Shown` and
`Markup` carry their own HTML.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Decimal
from functools import lru_cache
from typing import NamedTuple

from markupsafe import Markup
from markupsafe import escape as html_escape

from site_builder.measured import NOT_KEPT, Measured
from site_builder.pages.switched import SWITCHED, held, in_data
from site_builder.values import Stated

THIN = "\u202f"  # narrow no-break space: before a unit, between thousands
FIXED = "\u00a0"  # no-break space: a value and its ± stay on one line
MINUS = "−"
NOT_TESTED = "not tested"

# Where the unit of the data is not what a reader should see.
UNIT_WORDS = {"1": "%", "": "", "EUR": "€", "EUR/kWh": "€ per kWh", "mohm": "mΩ", "degC": "°C"}
COUNTS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
# A number without ± shows three digits, four if it starts with 1: never worse than half a percent.
DIGITS = 3
DAY_S = 86_400.0
HUNDREDTH = -2
ONE = Decimal(1)
LAST_DIGIT = 20  # behind the first of a number
MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Shown:
    """A number in words: `str()` gives plain text, templates take the HTML, in which the ± part is set lighter.

    `note` stands in brackets behind it: what a reader must know before believing it. `held` is the number behind the
    words, where readers may choose its unit.
    """

    value: str
    spread: str = ""
    unit: str = ""
    note: str = ""
    held: str = ""

    def __str__(self) -> str:
        spread = f"{FIXED}±{THIN}{self.spread}" if self.spread else ""
        return f"{self.value}{spread}{self._tail}"

    def __html__(self) -> str:
        # Markup by the protocol of markupsafe; every part was made here from digits and fixed words.
        spread = f'<span class="u">{FIXED}±{THIN}{self.spread}{self._tail}</span>' if self.spread else self._tail
        return in_data(self.held, f"{self.value}{spread}")

    @property
    def bare(self) -> Shown:
        """The same without its unit, for a column whose heading names it."""
        return replace(self, unit="")

    @property
    def unnoted(self) -> Shown:
        """The same without its note, where the words around it say so already."""
        return replace(self, note="")

    @property
    def _tail(self) -> str:
        unit = f"{THIN}{self.unit}" if self.unit else ""
        return f"{unit} ({self.note})" if self.note else unit


class _Reading(NamedTuple):
    """What a page says of a measured number: its limits and U in the unit shown."""

    bound: str
    value: float
    low: float
    high: float
    expanded: float | None

    def times(self, factor: float) -> _Reading:
        expanded = None if self.expanded is None else self.expanded * factor
        return _Reading(self.bound, self.value * factor, self.low * factor, self.high * factor, expanded)

    @property
    def leading(self) -> float:
        """The end that is known and finite; it sets the size of a duration's unit."""
        ends = {"at_least": self.low, "at_most": self.high, "between": self.high}
        return abs(ends.get(self.bound, self.value))


def quantity(measured: Measured) -> Shown:
    """A measured number: "91.3 ± 0.9 Ah", "at least 86 Ah", "between 2.8 and 4.3 V"; fractions in percent.

    U has one significant digit, two if it starts with 1, and the value ends at the same place. A bound includes U and
    is rounded outwards: what reads "at least" was never less. Without a ±, a number that its writer put as a range or
    as "about" stays "about". A figure whose evidence was not kept says so wherever it stands.

    Source:
        GUM (JCGM 100:2008) 7.2.6 for digits and for their agreement; the rule for 1 is this project's judgement.

    >>> str(quantity(Measured(value=13.126, unit="V"))) == "13.126\u202fV"
    True
    """
    reading = _reading(measured)
    shown = _in_words(
        reading.times(100.0 if measured.unit == "1" else 1.0), UNIT_WORDS.get(measured.unit, measured.unit)
    )
    if measured.written_limit and reading.bound == "exact":
        shown = replace(shown, value=f"about {shown.value}")
    number = _held(reading, shown.unit)
    return _noted(replace(shown, held=number) if number else shown, measured)


def duration(measured: Measured) -> Shown:
    """A measured time in seconds as seconds below 2 min, minutes below 2 h, hours below 4 days, else days.

    Its ± is never finer than a hundredth of that unit, and rounded up to it: a clock knows more than a reader wants.
    """
    reading = _reading(measured)
    unit, seconds = duration_unit(reading.leading)
    in_unit = reading.times(1 / seconds)
    if in_unit.expanded:
        in_unit = in_unit._replace(expanded=max(in_unit.expanded, 10.0**HUNDREDTH))
    return _noted(_in_words(in_unit, unit, HUNDREDTH), measured)


def _held(reading: _Reading, unit: str) -> str:
    if unit not in SWITCHED:  # nearly all
        return ""
    known = {"at_least": [reading.low], "at_most": [reading.high], "between": [reading.low, reading.high]}
    is_exact = reading.bound not in known
    return held(known.get(reading.bound, [reading.value]), unit, reading.expanded if is_exact else None)


def _noted(shown: Shown, measured: Measured) -> Shown:
    return replace(shown, note=NOT_KEPT) if measured.basis == "reported" else shown


def duration_unit(seconds: float) -> tuple[str, float]:
    """The unit that a time of this size is told in, and its length in seconds."""
    units = (("s", 1.0, 120), ("min", 60.0, 7200), ("h", 3600.0, 4 * DAY_S), ("days", DAY_S, math.inf))
    return next((unit, length) for unit, length, below in units if seconds < below)


def _reading(measured: Measured) -> _Reading:
    return _Reading(measured.bound, measured.value, measured.lowest, measured.highest, measured.expanded)


@lru_cache(maxsize=16_384)  # a number of a unit stands on its page, in tables, in the comparison, in lists
def _in_words(reading: _Reading, unit: str, finest: int | None = None) -> Shown:
    """`finest` is the power of ten that an exact number never goes below."""
    if reading.bound == "at_least":
        return Shown(f"at least {_outwards(reading.low, reading.expanded, ROUND_FLOOR)}", unit=unit)
    if reading.bound == "at_most":
        return Shown(f"at most {_outwards(reading.high, reading.expanded, ROUND_CEILING)}", unit=unit)
    if reading.bound == "between":
        low = _outwards(reading.low, reading.expanded, ROUND_FLOOR)
        return Shown(f"between {low} and {_outwards(reading.high, reading.expanded, ROUND_CEILING)}", unit=unit)
    if reading.expanded is None:
        return Shown(significant(reading.value), unit=unit)
    if reading.expanded == 0:
        return Shown(number(reading.value), unit=unit)
    place = place_of_uncertainty(reading.expanded)
    place = place if finest is None else max(place, finest)
    return Shown(_at_place(reading.value, place), _at_place(reading.expanded, place), unit)


def place_of_uncertainty(expanded: float) -> int:
    """The power of ten at which U ends: one significant digit, two if it starts with 1."""
    exact = _decimal(expanded)
    return exact.adjusted() - (1 if exact.as_tuple().digits[0] == 1 else 0)


def _place_of_significance(value: float, digits: int = DIGITS) -> int:
    if value == 0:
        return 0
    exact = _decimal(value)
    return exact.adjusted() + 1 - digits - (1 if exact.as_tuple().digits[0] == 1 else 0)


def _outwards(end: float, expanded: float | None, rounding: str) -> str:
    """A bound: no finer than its U, never more than the usual digits, and never rounded inwards."""
    place = _place_of_significance(end)
    return _at_place(end, max(place, place_of_uncertainty(expanded)) if expanded else place, rounding, padded=False)


def significant(value: float, digits: int = DIGITS) -> str:
    """A number whose uncertainty nobody can tell: three digits, four if it starts with 1, no empty zeros.

    >>> significant(88.44), significant(1169.4) == "1\u202f169"
    ('88.4', True)
    """
    return _at_place(value, _place_of_significance(value, digits), padded=False)


def number(value: float) -> str:
    """A number as it was given, such as a label's: thousands set apart, no digits that nobody wrote.

    >>> number(12.80), number(-20)
    ('12.8', '−20')
    """
    return _grouped(_decimal(value).normalize())


def _decimal(value: float) -> Decimal:
    # Twelve digits drop what binary arithmetic adds (87.2 - 0.9 is 86.30000000000001), which would round outwards.
    return Decimal(f"{value:.12g}")


def place_within(exact: Decimal, place: int) -> int:
    """The place to round at, or the last one that is of use: decimals end at 28 digits, a float at 17.

    >>> place_within(Decimal("1.5e3"), -2), place_within(Decimal("1.5e30"), -2)
    (-2, 10)
    """
    return max(place, exact.adjusted() - LAST_DIGIT)


def _at_place(value: float, place: int, rounding: str = ROUND_HALF_UP, *, padded: bool = True) -> str:
    exact = _decimal(value)
    # Half away from zero, so that −0.5 and 0.5 read alike; outward bounds keep their own direction.
    rounded = exact.quantize(ONE.scaleb(place_within(exact, place)), rounding=rounding)
    return _grouped(rounded if padded else rounded.normalize())


def _grouped(exact: Decimal) -> str:
    sign = MINUS if exact < 0 else ""
    return sign + f"{abs(exact):,f}".replace(",", THIN)


def stated(value: Stated, unit: str, *, difference: bool = False) -> Shown:
    """A number as its writer put it: "about 620 W", "3 to 5 s", "over 30 min" reads "at least 30 min".

    A `difference` of temperatures, such as a thermometer's limit, has no zero to move when its unit changes.

    >>> str(stated(Stated(4.0, 3.0, 5.0, "range", 2.0, "3 to 5"), "s")) == "3 to 5\u202fs"
    True
    """
    factor, words = (100.0, "%") if unit == "1" else (1.0, UNIT_WORDS.get(unit, unit))
    ends = [value.low, value.high] if value.form == "range" else [value.best]
    kept = held(ends, "K" if difference and words == "°C" else words)
    return Shown(_stated_number(value, factor), unit=words, held=kept)


def stated_duration(value: Stated) -> Shown:
    """A written time in seconds, told in the unit of its size."""
    unit, seconds = duration_unit(abs(value.high if math.isfinite(value.high) else value.low))
    return Shown(_stated_number(value, 1 / seconds), unit=unit)


def time_span(low_s: float, high_s: float) -> Shown:
    """A time that was seen: "4 s", "3 to 5 s", or "at least 30 min" where its end is open.

    >>> str(time_span(1800, math.inf)) == "at least 30\u202fmin"
    True
    """
    unit, seconds = duration_unit(high_s if math.isfinite(high_s) else low_s)
    if low_s <= 0 < high_s < math.inf:  # written as "under 60"
        return Shown(f"at most {significant(high_s / seconds)}", unit=unit)
    low, high = significant(low_s / seconds), significant(high_s / seconds) if math.isfinite(high_s) else ""
    return Shown(f"at least {low}" if not high else low if low == high else f"{low} to {high}", unit=unit)


def _stated_number(value: Stated, factor: float) -> str:
    if value.form == "range":
        return f"{significant(value.low * factor)} to {significant(value.high * factor)}"
    rounding = {"over": ROUND_FLOOR, "under": ROUND_CEILING}.get(value.form, ROUND_HALF_UP)
    words = {"over": "at least ", "under": "at most ", "about": "about "}
    return words.get(value.form, "") + _as_written(value.best * factor, value.step * factor, rounding)


def _as_written(value: float, step: float, rounding: str) -> str:
    """The digits that were written; after a conversion (22.9 lb, 20 min) the nearest place that keeps them."""
    # At most two steps coarse: 31.5 °F is −0.3 °C and not −0.28, 22.9 lb is 10.39 kg and not 10.4.
    place = min(math.floor(math.log10(2 * step) + 1e-9), 0) if step > 0 else _place_of_significance(value)
    return _at_place(value, place, rounding, padded=False)


def money(amount: float, currency: str) -> Shown:
    """An amount of money: whole amounts without decimals, the currency's letters unless it is the euro.

    >>> str(money(289, "EUR")) == "289\u202f€", str(money(249.5, "USD")) == "249.50\u202fUSD"
    (True, True)
    """
    whole = float(amount).is_integer()
    return Shown(_at_place(amount, 0 if whole else -2), unit=UNIT_WORDS.get(currency, str(html_escape(currency))))


def converted_money(amount: float, currency: str) -> Shown:
    """An amount brought from another currency by a dated rate: whole, and "about"."""
    return Shown(f"about {_at_place(amount, 0)}", unit=UNIT_WORDS.get(currency, str(html_escape(currency))))


@lru_cache(maxsize=4096)
def day(date: dt.date) -> Markup:
    """A date in words, machine-readable beside: 2 March 2026 in a <time> element."""
    words = f"{date.day} {MONTHS[date.month - 1]} {date.year}"
    return Markup('<time datetime="{}">{}</time>').format(date.isoformat(), words)


def month(year: int, number_of_month: int) -> str:
    """A month in words, such as "May 2026"."""
    return f"{MONTHS[number_of_month - 1]} {year}"


def listed(words: Sequence[str]) -> str:
    """Words in a row: "a", "a and b", "a, b and c"."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def counted(count: int, one: str, many: str = "") -> str:
    """A count with its noun, in words up to twelve: "one test", "14 tests".

    >>> counted(1, "battery", "batteries"), counted(3, "test")
    ('one battery', 'three tests')
    """
    said = COUNTS[count] if 0 <= count < len(COUNTS) else _grouped(Decimal(count))
    return f"{said} {one if count == 1 else many or one + 's'}"
