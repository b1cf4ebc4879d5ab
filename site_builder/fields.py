"""The kinds of field that a record can have: numbers with their unit and possible range, text, names, dates, times."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from typing import Annotated, Any, Literal
from urllib.parse import urlsplit

from pydantic import BaseModel, ConfigDict, Field, PlainValidator, StringConstraints, WithJsonSchema
from pydantic_core import PydanticCustomError

from site_builder.moments import Moment, parsed_date, parsed_moment, parsed_video_second
from site_builder.values import GrammarError, In, Stated, shown

# --- numbers: the suffix of a field's name is its unit ---------------------------------------------------------------
Amps = Annotated[
    Stated, In("A", 0, 3000, 'currents are in A and without a sign, whichever way; one in mA is written "800 mA"')
]
PositiveAmps = Annotated[
    Stated, In("A", 0.001, 3000, 'currents are in A and without a sign, whichever way; one in mA is written "800 mA"')
]
# Where nothing should flow, or into the battery: a heater may take more than the charger gives.
SignedAmps = Annotated[Stated, In("A", -3000, 3000, 'currents are in A; one in mA is written "800 mA"')]
Volts = Annotated[Stated, In("V", 0, 1000, 'voltages are in V; one in mV is written "3449 mV"')]
Watts = Annotated[Stated, In("W", 0, 50_000, 'power is in W; one in kW is written "1.2 kW"')]
PositiveVolts = Annotated[Stated, In("V", 0.1, 1000, 'voltages are in V; one in mV is written "3449 mV"')]
AmpereHours = Annotated[Stated, In("Ah", 0.001, 2000, 'a capacity in mAh is written "52000 mAh"')]
WattHours = Annotated[Stated, In("Wh", 0.001, 100_000, 'energy is in Wh; one in kWh is written "1.2 kWh"')]
Celsius = Annotated[Stated, In("°C", -60, 150, 'temperatures are in °C; one in °F is written "12.5 °F"')]
Seconds = Annotated[Stated, In("s", 0, 40_000_000, 'durations are in s; others are written "20 min" or "2.8 h"')]
Hours = Annotated[Stated, In("h", 0, 10_000, 'this duration is in h; others are written "20 min"')]
PositiveHours = Annotated[Stated, In("h", 0.01, 10_000, 'this duration is in h; others are written "20 min"')]
Kilograms = Annotated[Stated, In("kg", 0.001, 1000, 'mass is in kg; pounds are written "22.9 lb"')]
Millimetres = Annotated[Stated, In("mm", 1, 3000, 'lengths are in mm; inches are written "12.1 in"')]
PositiveWatts = Annotated[Stated, In("W", 0.001, 50_000, 'power is in W; one in kW is written "1.2 kW"')]
PositiveSeconds = Annotated[Stated, In("s", 0.001, 40_000_000, 'durations are in s; others are written "20 min"')]
Milliohms = Annotated[Stated, In("mΩ", 0, 100_000)]
Years = Annotated[Stated, In("year", 0, 100)]
Fraction = Annotated[Stated, In("1", 0, 1, 'a fraction is written "88 %" or 0.88')]
PositiveFraction = Annotated[Stated, In("1", 0.001, 1, 'a fraction is written "88 %" or 0.88')]
SignedFraction = Annotated[Stated, In("1", -1, 1, 'a fraction is written "0.5 %" or 0.005')]
Multiple = Annotated[Stated, In("", 0, 1_000_000_000)]
Count = Annotated[int, Field(strict=True, ge=0, le=1_000_000)]
Cycles = Annotated[Stated, In("", 0, 1_000_000)]
PositiveCycles = Annotated[Stated, In("", 1, 1_000_000)]
PositiveMultiple = Annotated[Stated, In("", 1e-9, 1_000_000_000)]
PositiveCount = Annotated[int, Field(strict=True, ge=1, le=1_000_000)]
YesNo = Annotated[bool, Field(strict=True)]

# --- text ------------------------------------------------------------------------------------------------------------
Text = Annotated[str, StringConstraints(strict=True, min_length=1, max_length=600)]
LongText = Annotated[str, StringConstraints(strict=True, min_length=1, max_length=4000)]
NAME_PATTERN = r"^[a-z0-9]+(-[a-z0-9]+)*$"
Name = Annotated[str, StringConstraints(strict=True, pattern=NAME_PATTERN, max_length=60)]
MAX_NAMES = 300  # tests of a file; no list of names is longer
FilePath = Annotated[str, StringConstraints(strict=True, min_length=1, max_length=200)]


def _said(parse: Callable[[Any], Any]) -> Callable[[Any], Any]:
    """A parser of ours as a pydantic validator: its words and code arrive in the problem."""

    def validated(raw: Any) -> Any:
        try:
            return parse(raw)
        except GrammarError as error:
            raise PydanticCustomError(
                error.code,
                "{message}",
                {"message": error.message, "hint": error.hint},
            ) from None

    return validated


def _https(raw: object) -> str:
    if not isinstance(raw, str) or len(raw) > 500 or re.search(r"[\s<>\"'`\\{}|^]", raw):
        raise GrammarError("this is no web address", "write the whole address, https://…", "link-form")
    try:
        parts = urlsplit(raw)
        host, user = parts.hostname, parts.username
    except ValueError:
        host, user, parts = None, None, None
    if user is not None:
        raise GrammarError("the address holds somebody's login", "leave out what stands before the @", "link-login")
    if parts is None or parts.scheme != "https" or not host:
        raise GrammarError("only https addresses are linked", "write the whole address, https://…", "link-form")
    return raw


def _names(raw: object) -> tuple[str, ...]:
    many = raw if isinstance(raw, list) else [raw]
    wrong = [one for one in many if not (isinstance(one, str) and re.fullmatch(NAME_PATTERN, one) and len(one) <= 60)]
    if wrong or not 0 < len(many) <= MAX_NAMES:
        message = f"{shown(wrong[0])} is no name" if wrong else "the list is too long" if many else "the list is empty"
        raise GrammarError(message, _as_names(many), "name-form")
    return tuple(many)


def _as_names(many: list[object]) -> str:
    """The nearest that would be names."""
    near = [re.sub(r"[^a-z0-9]+", "-", one.lower()[:60]).strip("-") for one in many[:4] if isinstance(one, str)]
    near = [one for one in near if one] or ["bilge-pump"]
    form = near[0] if len(near) == 1 else f"[{', '.join(near)}]"
    return f"names are small letters, digits and hyphens, as loads.yml has them: write {form}"


Link = Annotated[str, PlainValidator(_said(_https)), WithJsonSchema({"type": "string", "pattern": "^https://"})]
Date = Annotated[
    dt.date,
    PlainValidator(_said(parsed_date)),
    WithJsonSchema({"type": "string", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"}),
]
When = Annotated[Moment, PlainValidator(_said(parsed_moment)), WithJsonSchema({"type": "string"})]
VideoSecond = Annotated[
    int, PlainValidator(_said(parsed_video_second)), WithJsonSchema({"type": ["string", "integer"]})
]
Names = Annotated[
    tuple[str, ...],
    PlainValidator(_said(_names)),
    WithJsonSchema({"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}]}),
]
StoppedBy = Literal["bms", "inverter", "fuse", "tester"]


class Record(BaseModel):
    """Base of every noun in a file: frozen, and a key that it does not know is refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True, use_attribute_docstrings=True)


def said(description: str, default: Any = None, **more: Any) -> Any:
    """A field with the description that an editor shows; optional unless the default is `...`."""
    return Field(default, description=description, **more)
