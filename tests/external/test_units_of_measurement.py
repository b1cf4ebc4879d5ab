"""Conversions of the value grammar against published factors, and against pint asked directly."""

from __future__ import annotations

from functools import cache
from typing import Any

import pint
import pytest

from site_builder.values import In, stated

WIDE = 1e12


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        # NIST Special Publication 811 (2008), appendix B.8, factors in bold there are exact; SI brochure for the rest.
        ("1 lb", "kg", 0.45359237),
        ("1 oz", "kg", 0.028349523125),  # avoirdupois: lb/16
        ("1 in", "mm", 25.4),
        ("1 ft", "mm", 304.8),
        ("1 cm", "mm", 10),
        ("1 g", "kg", 0.001),
        ("32 °F", "°C", 0),
        ("212 °F", "°C", 100),
        ("-40 °F", "°C", -40),
        ("0 °F", "°C", -160 / 9),
        ("273.15 K", "°C", 0),
        ("1 kWh", "Wh", 1000),
        ("3600 J", "Wh", 1),
        ("3.6 MJ", "Wh", 1000),
        ("1 mAh", "Ah", 0.001),
        ("3600 C", "Ah", 1),
        ("1 mA", "A", 0.001),
        ("1 kA", "A", 1000),
        ("1 mV", "V", 0.001),
        ("1 kW", "W", 1000),
        ("1 Ω", "mΩ", 1000),
        ("1 ohm", "mΩ", 1000),
        ("1 mohm", "mΩ", 1),
        ("1 min", "s", 60),
        ("1 h", "s", 3600),
        ("1 d", "s", 86_400),
        ("90 min", "h", 1.5),
        ("1 ms", "s", 0.001),
        ("12 month", "year", 1),
        ("50 %", "1", 0.5),
    ],
)
def test_published_factors(text: str, unit: str, value: float) -> None:
    assert stated(text, In(unit, -WIDE, WIDE)).best == pytest.approx(value, rel=1e-12, abs=1e-12)


def test_a_btu_is_rounded() -> None:
    """SP 811 has 1055.05585262 J for the International Table Btu; pint takes 1055.056 J, one in seven million more."""
    assert stated("1 Btu", In("Wh", -WIDE, WIDE)).best == pytest.approx(1055.05585262 / 3600, rel=2e-7)


PAIRS = [
    ("lb", "kg"),
    ("oz", "kg"),
    ("in", "mm"),
    ("degF", "degC"),
    ("kWh", "Wh"),
    ("Btu", "Wh"),
    ("mA*h", "A*h"),
    ("hour", "second"),
    ("mohm", "ohm"),
]
SPELLED = {"degF": "°F", "degC": "°C", "mA*h": "mAh", "A*h": "Ah", "hour": "h", "second": "s"}


@cache
def registry() -> Any:
    """A registry of the test's own."""
    return pint.UnitRegistry()


@pytest.mark.parametrize(("unit", "into"), PAIRS)
@pytest.mark.parametrize("number", [-3.25, 0.0, 1.0, 12.5, 1e6])
def test_as_pint_has_it(unit: str, into: str, number: float) -> None:
    theirs = registry().Quantity(number, unit).to(into).magnitude
    ours = stated(f"{number} {SPELLED.get(unit, unit)}", In(SPELLED.get(into, into), -WIDE, WIDE)).best
    assert ours == pytest.approx(theirs, rel=1e-12, abs=1e-9)


def test_a_range_and_limits_are_converted_too() -> None:
    """By hand: 10 to 20 °F is -12.22 to -6.67 °C; "about 50 °F" is 45 to 55 °F, ± 2.78 K."""
    span = stated("10 to 20 °F", In("°C", -60, 150))
    assert (span.low, span.high) == pytest.approx((-110 / 9, -60 / 9))
    about = stated("about 50 °F", In("°C", -60, 150))
    # The last digit that is not zero is the 5: tens of °F.
    assert about.best == pytest.approx(10)
    assert about.half_width == pytest.approx(5 / 1.8)
