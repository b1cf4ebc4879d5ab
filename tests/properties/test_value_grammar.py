"""The value grammar on any text."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from decimal import Decimal
from typing import TypeVar

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from site_builder.moments import parsed_date, parsed_moment, parsed_video_second
from site_builder.values import GrammarError, In, Stated, stated

T = TypeVar("T")
FIELDS = st.sampled_from(
    [
        In("W", 0, 50_000),
        In("A", -3000, 3000),
        In("°C", -60, 150),
        In("s", 0, 40_000_000),
        In("1", 0, 1),
        In("", 0, 1e9),
        In("mΩ", 0, 100_000),
        In("year", 0, 100),
    ]
)
# Text that looks like the grammar's, so that not everything fails at the first letter.
WORDS = [
    "about",
    "over",
    "under",
    "to",
    "-",
    "−",
    "+",
    ".",
    ",",
    "e",
    "E",
    " ",
    "%",
    "°F",
    "kWh",
    "min",
    "h",
    "d",
    "/",
    "µ",
]
PIECES = st.one_of(st.sampled_from(WORDS), st.text("0123456789", max_size=15), st.text(max_size=3))
TEXTS = st.one_of(
    st.text(max_size=100), st.lists(PIECES, max_size=8).map("".join), st.lists(PIECES, max_size=8).map(" ".join)
)
NUMBERS = st.decimals(min_value=-999_999, max_value=999_999, places=3)


def read(parse: Callable[[object], T], raw: object) -> T | GrammarError:
    """What it reads as, or why it cannot be read; any other exception is a fault."""
    try:
        return parse(raw)
    except GrammarError as refused:
        return refused


@given(TEXTS, FIELDS)
@example("9e307 kW", In("W", 0, 50_000))
@example("about 1e-400", In("W", 0, 50_000))
@example("1e999 to 1e999", In("W", 0, 50_000))
def test_any_text_is_a_possible_number_or_refused_in_words(text: str, field: In) -> None:
    value = read(lambda raw: stated(raw, field), text)
    if isinstance(value, GrammarError):
        assert value.message
        assert value.hint
        assert value.code
        return
    assert field.low <= value.best <= field.high
    assert value.low <= value.best <= value.high
    assert math.isfinite(value.step)
    assert value.step >= 0


@given(st.one_of(st.floats(), st.integers(-(10**18), 10**18), st.booleans(), st.none()), FIELDS)
def test_so_is_anything_else_that_yaml_can_hold(raw: float | None, field: In) -> None:
    value = read(lambda one: stated(one, field), raw)
    if isinstance(value, GrammarError):
        return
    assert field.low <= value.best == value.low == value.high <= field.high


@given(TEXTS, st.sampled_from([parsed_moment, parsed_date, parsed_video_second]))
def test_no_text_breaks_times_dates_and_places(text: str, parse: Callable[[object], object]) -> None:
    """A refusal is in words; anything else that is raised fails the test."""
    found = read(parse, text)
    assert not isinstance(found, GrammarError) or found.hint


@given(st.times(), st.times())
def test_every_time_of_day_is_read(start: dt.time, end: dt.time) -> None:
    moment = parsed_moment(f"{start:%H:%M} to {end:%H:%M}")
    assert moment.earliest_s is not None
    assert moment.latest_s is not None
    assert 0 <= moment.latest_s - moment.earliest_s < 86_400
    assert moment.latest_s % 86_400 == end.hour * 3600 + end.minute * 60


@given(st.dates())
def test_every_date_is_read(date: dt.date) -> None:
    assert parsed_date(date.isoformat()) == date


@given(NUMBERS)
def test_about_reaches_half_of_the_last_digits_place(number: Decimal) -> None:
    wide = In("", -1e9, 1e9)
    text = f"about {number}"
    if number == 0:
        with pytest.raises(GrammarError):
            stated(text, wide)
        return
    value = stated(text, wide)
    place = Decimal(10) ** Decimal(number.normalize().as_tuple().exponent)
    assert value.best == float(number)
    assert value.half_width == pytest.approx(float(place) / 2, rel=1e-6)


@given(NUMBERS, NUMBERS)
def test_a_range_is_read_in_one_order_only(first: Decimal, second: Decimal) -> None:
    wide = In("", -1e9, 1e9)
    low, high = sorted((first, second))
    value = stated(f"{low} to {high}", wide)
    assert (value.low, value.high) == (float(low), float(high))
    if low != high:
        with pytest.raises(GrammarError):
            stated(f"{high} to {low}", wide)


@given(st.floats(-59, 149).map(lambda number: round(number, 2)), st.sampled_from(["", "about ", "over ", "under "]))
def test_a_unit_written_out_changes_nothing(number: float, word: str) -> None:
    field = In("°C", -1e9, 1e9)
    if number == 0:
        return
    plain, with_unit = stated(f"{word}{number:.2f}", field), stated(f"{word}{number:.2f} °C", field)
    assert parts(plain) == parts(with_unit)


@given(st.decimals(min_value=-50, max_value=140, places=2), st.sampled_from([" °F", " K"]))
def test_there_and_back_again(celsius: Decimal, unit: str) -> None:
    """By hand: °F = 1.8·°C + 32, K = °C + 273.15."""
    there = Decimal("1.8") * celsius + 32 if unit == " °F" else celsius + Decimal("273.15")
    assert stated(f"{there}{unit}", In("°C", -60, 150)).best == pytest.approx(float(celsius), abs=1e-9)


@given(NUMBERS.filter(bool), st.sampled_from(["about", "over", "under"]))
def test_what_was_read_reads_the_same_again(number: Decimal, word: str) -> None:
    wide = In("", -1e9, 1e9)
    value = stated(f"{word} {number}", wide)
    assert stated(value.text, wide) == value


def parts(value: Stated) -> tuple[float, float, float, float, str]:
    return value.best, value.low, value.high, value.step, value.form
