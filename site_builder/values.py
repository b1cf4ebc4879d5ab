"""The value grammar: what a tester writes down ("about 620", "12.5 °F", "3 to 5 s") as a number with its limits.

One grammar for every number field. Text that it does not know is refused with the forms that it does know; nothing is
guessed.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from site_builder.ways_out import clock_durations, forms_of, meant_unit, without_separators, without_zeros

Form = Literal["plain", "about", "range", "over", "under"]

# No zeros in front: some readers of YAML take 0123 for the octal 83, and nobody writes it of a reading.
_NUMBER = r"[-+−]?(?:(?:0|[1-9][0-9]{0,11})(?:\.[0-9]{0,12})?|\.[0-9]{1,12})(?:[eE][-+]?[0-9]{1,3})?"
_UNIT = r"[A-Za-zµμΩΩ°%/·²³⋅\"]{1,16}"
ONE = re.compile(rf"(?:(about|over|under)\s+)?({_NUMBER})\s*({_UNIT})?", re.ASCII)
RANGE = re.compile(rf"({_NUMBER})\s*({_UNIT})?\s+to\s+({_NUMBER})\s*({_UNIT})?", re.ASCII)
MAX_TEXT = 80
_NUMBERS = (int, float)
_READABLE = (*_NUMBERS, str)


@dataclass(frozen=True, slots=True)
class Stated:
    """A number as somebody wrote it, in the field's unit: `low` and `high` are hard limits (infinite where open).

    `best` is the number itself, or the middle of a range; `step` is the place of the last digit written.
    """

    best: float
    low: float
    high: float
    form: Form
    step: float
    text: str

    @property
    def half_width(self) -> float:
        """Half the distance between the limits; 0 for a plain number, infinite where one side is open."""
        return (self.high - self.low) / 2


class GrammarError(ValueError):
    """Text outside the grammar: what is wrong, a way out, and a stable code."""

    def __init__(self, message: str, hint: str, code: str) -> None:
        super().__init__(message)
        self.message, self.hint, self.code = message, hint, code


@dataclass(frozen=True, slots=True)
class In:
    """Marks a number field: its unit, the range that is possible at all, and what to say outside it.

    Used as `Annotated[Stated, In("A", 0, 5000)]`. A fraction has the unit "1" and may be written in percent.
    """

    unit: str
    low: float
    high: float
    outside: str = ""

    def __get_pydantic_core_schema__(self, _source: Any, _handler: GetCoreSchemaHandler) -> CoreSchema:
        """Plain validation by the grammar, so that every problem comes with its own words."""
        return core_schema.no_info_plain_validator_function(self._validated)

    def __get_pydantic_json_schema__(self, _schema: CoreSchema, _handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        """A number, or text in one of the grammar's forms."""
        unit = "fraction, or percent in quotes" if self.unit == "1" else self.unit or "number"
        title = f"{unit}; or about 620, 600 to 640, over 95, under 1450, or another unit in quotes"
        text = r"^(about |over |under )?[-+−]?[0-9.].*$"
        return {"anyOf": [{"type": "number"}, {"type": "string", "pattern": text}], "title": title}

    def _validated(self, raw: object) -> Stated:
        if isinstance(raw, Stated):
            return raw
        try:
            return stated(raw, self)
        except GrammarError as error:
            raise PydanticCustomError(
                error.code,
                "{message}",
                {"message": error.message, "hint": error.hint},
            ) from None


def stated(raw: object, field: In) -> Stated:
    """The number that `raw` states, in the field's unit.

    Raises:
        GrammarError: The text is in no known form, its unit has another dimension, or the number is not possible.

    >>> stated("about 620", In("W", 0, 10_000))
    Stated(best=620.0, low=615.0, high=625.0, form='about', step=1.0, text='about 620')
    >>> stated("88 %", In("1", 0, 1)).best
    0.88
    """
    # bool is a subclass of int in Python, but a yes is no number.
    if isinstance(raw, bool) or not isinstance(raw, _READABLE):
        raise GrammarError(f"{shown(raw)} is not a number", _forms(field), "value-type")
    if isinstance(raw, _NUMBERS):
        number, text = _as_float(raw), repr(raw)
        step = 1.0 if isinstance(raw, int) else _step(text)
        return _checked(Stated(number, number, number, "plain", step, text), field)
    text = raw.strip()
    if len(text) <= MAX_TEXT and (match := ONE.fullmatch(text)):
        return _checked(_one(text, match, field), field)
    if len(text) <= MAX_TEXT and (match := RANGE.fullmatch(text)):
        return _checked(_range(text, match, field), field)
    raise GrammarError(f"{shown(raw)} cannot be read as a number", _forms(field, text), "value-form")


def _as_float(raw: float) -> float:
    try:
        return float(raw)
    except OverflowError:  # a whole number of more than 308 digits
        raise GrammarError(f"{shown(raw)} is too large to be a number", "check its digits", "value-size") from None


def _one(text: str, match: re.Match[str], field: In) -> Stated:
    word, digits, unit = match.group(1), match.group(2), match.group(3)
    number, scale_of = _number(digits), _converter(unit, field)
    best = scale_of(number)
    step = abs(scale_of(_step(digits)) - scale_of(0.0))
    if word == "over":
        return Stated(best, best, math.inf, "over", step, text)
    if word == "under":
        return Stated(best, -math.inf, best, "under", step, text)
    if word is None:
        return Stated(best, best, best, "plain", step, text)
    if number == 0:
        raise GrammarError(
            '"about 0" does not say how far off it may be', 'write a range, such as "-2 to 2"', "value-about-zero"
        )
    half = abs(scale_of(_last_digit_place(digits)) - scale_of(0.0)) / 2
    # "about 100 %" reaches no further than 100 %.
    low, high = max(best - half, field.low), min(best + half, field.high)
    return Stated(best, min(low, best), max(high, best), "about", step, text)


def _range(text: str, match: re.Match[str], field: In) -> Stated:
    first, first_unit, second, second_unit = match.groups()
    low = _converter(first_unit or second_unit, field)(_number(first))
    high = _converter(second_unit or first_unit, field)(_number(second))
    if low > high:
        raise GrammarError(f"{shown(text)} runs backwards", "write the smaller number first", "value-range-order")
    return Stated((low + high) / 2, low, high, "range", abs(high - low), text)


def _number(digits: str) -> float:
    number = float(digits.replace("−", "-"))
    if not math.isfinite(number):
        raise GrammarError(f"{digits} is too large to be a number", "check the exponent", "value-size")
    return number


@lru_cache(maxsize=4096)  # most numbers are written more than once
def _step(digits: str) -> float:
    """The place of the last digit written: 0.01 for 13.12, 1 for 620."""
    mantissa, _, exponent = digits.lower().partition("e")
    decimals = len(mantissa.partition(".")[2])
    return float(f"1e{int(exponent or 0) - decimals}")


def _last_digit_place(digits: str) -> float:
    """The place of the last non-zero digit: 10 for 620, 100 for 100, 0.1 for 1.4."""
    mantissa, _, exponent = digits.lower().partition("e")
    whole, _, decimals = mantissa.lstrip("-+−").partition(".")
    power = int(exponent or 0)
    if decimals.strip("0"):
        return float(f"1e{power - len(decimals.rstrip('0'))}")
    return float(f"1e{power + len(whole) - len(whole.rstrip('0'))}")


# Less than any instrument shows, in any unit of a record, and than a conversion leaves of nothing (32 °F): powers of
# it would be nothing at all, and divide by that.
LEAST = 1e-50
CHECK = "check the number and its unit"


def _checked(value: Stated, field: In) -> Stated:
    if 0 < abs(value.best) < LEAST:
        message = f"{value.best:.3g} is less than any instrument shows"
        raise GrammarError(message, field.outside or CHECK, "value-outside")
    if field.low <= value.low <= value.high <= field.high:  # the usual, found quickly
        return value
    # An open end may be infinite; the number itself may not, though a conversion can make it so ("9e307 kW").
    ends = [value.best, *(end for end in (value.low, value.high) if math.isfinite(end))]
    if not all(field.low <= end <= field.high for end in ends):
        unit = "" if field.unit in {"", "1"} else f" {field.unit}"
        wrong = next(end for end in ends if not field.low <= end <= field.high)
        message = f"{wrong:.12g}{unit} is outside {field.low:.12g} to {field.high:.12g}{unit}"
        raise GrammarError(message, field.outside or CHECK, "value-outside")
    return value


class _Linear:
    """A conversion y = scale·x + offset between two units."""

    __slots__ = ("offset", "scale")

    def __init__(self, scale: float, offset: float) -> None:
        self.scale, self.offset = scale, offset

    def __call__(self, number: float) -> float:
        return self.scale * number + self.offset


_SAME = _Linear(1.0, 0.0)


def _converter(unit: str | None, field: In) -> _Linear:
    if unit is None or unit == field.unit:
        return _SAME
    return conversion(unit, field.unit)


@lru_cache(maxsize=256)
def conversion(unit: str, into: str) -> _Linear:
    """How a number in `unit` becomes one in `into`; pint is asked once for each pair.

    Raises:
        GrammarError: `unit` is unknown or measures something else.

    >>> round(conversion("°F", "°C")(12.5), 2)
    -10.83
    """
    if unit == "%":
        if into != "1":
            raise GrammarError(f"percent is no unit of a field in {into}", f"write it in {into}", "value-dimension")
        return _Linear(0.01, 0.0)
    if into in {"1", ""}:
        alone = 'write a fraction ("88 %" or 0.88)' if into else "write the number alone"
        raise GrammarError(f"no unit such as {unit!r} belongs here", alone, "value-dimension")
    meant = meant_unit(unit, into)
    way_out = f"did you mean {meant}?" if meant else f"write it in {into}"
    registry, known = _registry()
    try:
        source, target = registry.Unit(unit), registry.Unit(into)
        compatible = source.is_compatible_with(target)
        zero, one, two = (known(x, source).to(target).magnitude for x in (0.0, 1.0, 2.0)) if compatible else (0, 0, 0)
    except Exception:  # noqa: BLE001  # pint raises a dozen types for text that is no unit
        raise GrammarError(f"{unit!r} is no unit that is known here", way_out, "value-unit") from None
    if not compatible:
        raise GrammarError(f"{unit!r} does not measure the same as {into}", way_out, "value-dimension")
    if not math.isclose(two - one, one - zero, rel_tol=1e-9):  # decibels
        raise GrammarError(f"{unit!r} is no linear unit", f"write it in {into}", "value-unit")
    return _Linear(float(one - zero), float(zero))


@lru_cache(maxsize=1)
def _registry() -> tuple[Any, Any]:
    # A third of a second to import: only files that use another unit pay for it.
    import pint  # noqa: PLC0415

    registry: Any = pint.UnitRegistry()
    return registry, registry.Quantity


def shown(raw: object) -> str:
    """The raw input as a message may quote it: in the file's words, not Python's, and never longer than a line."""
    if raw is None or isinstance(raw, bool):
        return "nothing" if raw is None else str(raw).lower()
    if isinstance(raw, Mapping | list):
        return "a list" if isinstance(raw, list) else "a group of keys"
    text = repr(raw)
    return text if len(text) <= MAX_TEXT else f"{text[:MAX_TEXT]}…"


def _is_read(text: str) -> bool:
    return bool(ONE.fullmatch(text) or RANGE.fullmatch(text))


def _forms(field: In, text: str = "") -> str:
    """The way out, by what it looks as if somebody had meant."""
    if len(text) <= MAX_TEXT and (ways := [one for one in without_separators(text) if _is_read(one)]):
        said = " if that is what it says, or ".join(ways)
        return f"write {said}: a point before decimals and nothing between thousands"
    if re.search(r"[0-9][ ,'_\u00a0][0-9]", text):
        return "write a point before decimals and nothing between thousands, such as 12.5 and 1280"
    if field.unit in {"s", "h"} and (spans := clock_durations(text)):
        return "write " + " or ".join(f'"{span}"' for span in spans)
    if len(text) <= MAX_TEXT and (plain := without_zeros(text)) != text and _is_read(plain):
        return f"write {plain}, without a zero in front"
    if field.unit == "1":
        return 'write 0.88, "88 %", about 0.9, 0.8 to 0.9, over 0.8 or under 0.9'
    if not field.unit:
        return "write the number alone, such as 620 or 0.5"
    return f"write {forms_of(field.unit)}"
