"""The value grammar, form by form."""

from __future__ import annotations

import math
from typing import Any

import pytest
from pydantic import BaseModel, ValidationError

from site_builder.fields import Fraction, SignedFraction, Watts
from site_builder.values import MAX_TEXT, Form, GrammarError, In, Stated, conversion, shown, stated

WATTS = In("W", 0, 50_000, "power is in W")
CELSIUS = In("°C", -60, 150)
SHARE = In("1", 0, 1)
SECONDS = In("s", 0, 40_000_000)
COUNT = In("", 0, 1_000_000_000)
INF = math.inf


@pytest.mark.parametrize(
    ("raw", "field", "best", "low", "high", "form", "step"),
    [
        pytest.param(620, WATTS, 620, 620, 620, "plain", 1, id="a whole number"),
        pytest.param(13.12, WATTS, 13.12, 13.12, 13.12, "plain", 0.01, id="decimals tell the step"),
        pytest.param("620", WATTS, 620, 620, 620, "plain", 1, id="the same in quotes"),
        pytest.param("13.120", WATTS, 13.12, 13.12, 13.12, "plain", 0.001, id="a last zero in quotes counts"),
        pytest.param(" 620 ", WATTS, 620, 620, 620, "plain", 1, id="blanks around it"),
        pytest.param("620W", WATTS, 620, 620, 620, "plain", 1, id="its own unit"),
        pytest.param("1.2 kW", WATTS, 1200, 1200, 1200, "plain", 100, id="another unit scales the step too"),
        pytest.param(".5", WATTS, 0.5, 0.5, 0.5, "plain", 0.1, id="no digit before the point"),
        pytest.param("5.", WATTS, 5, 5, 5, "plain", 1, id="no digit after it"),
        pytest.param("1.2e3", WATTS, 1200, 1200, 1200, "plain", 100, id="an exponent"),
        pytest.param("-14", CELSIUS, -14, -14, -14, "plain", 1, id="a hyphen as minus"),
        pytest.param("−14", CELSIUS, -14, -14, -14, "plain", 1, id="a true minus"),
        pytest.param("+14", CELSIUS, 14, 14, 14, "plain", 1, id="a plus"),
        pytest.param(0, WATTS, 0, 0, 0, "plain", 1, id="nothing"),
        pytest.param("about 620", WATTS, 620, 615, 625, "about", 1, id="about: half of the last digit's place"),
        pytest.param("about 100", WATTS, 100, 50, 150, "about", 1, id="about: zeros at the end are not digits"),
        pytest.param("about 105", WATTS, 105, 104.5, 105.5, "about", 1, id="about: zeros inside are"),
        pytest.param("about 1.4", WATTS, 1.4, 1.35, 1.45, "about", 0.1, id="about: decimals"),
        pytest.param("about 1.40", WATTS, 1.4, 1.35, 1.45, "about", 0.01, id="about: zeros behind the point neither"),
        pytest.param("about 10.0", WATTS, 10, 5, 15, "about", 0.1, id="about: nothing but zeros behind the point"),
        pytest.param("about 0.05", WATTS, 0.05, 0.045, 0.055, "about", 0.01, id="about: below one"),
        pytest.param("about 2e3", WATTS, 2000, 1500, 2500, "about", 1000, id="about: an exponent"),
        pytest.param("about -10", CELSIUS, -10, -15, -5, "about", 1, id="about: below nothing"),
        pytest.param("about 20 min", SECONDS, 1200, 900, 1500, "about", 60, id="about: half of ten minutes"),
        pytest.param("600 to 640", WATTS, 620, 600, 640, "range", 40, id="a range"),
        pytest.param("5 to 5", WATTS, 5, 5, 5, "range", 0, id="a range of one number"),
        pytest.param("-20 to -10", CELSIUS, -15, -20, -10, "range", 10, id="a range below nothing"),
        pytest.param("3 to 5 min", SECONDS, 240, 180, 300, "range", 120, id="a range: the unit holds for both"),
        pytest.param("3 min to 5", SECONDS, 240, 180, 300, "range", 120, id="a range: also the first one's"),
        pytest.param("50 s to 1.5 min", SECONDS, 70, 50, 90, "range", 40, id="a range of two units"),
        pytest.param("over 95", WATTS, 95, 95, INF, "over", 1, id="over"),
        pytest.param("over 30 min", SECONDS, 1800, 1800, INF, "over", 60, id="over, another unit"),
        pytest.param("under 1450", WATTS, 1450, -INF, 1450, "under", 1, id="under"),
        pytest.param("88 %", SHARE, 0.88, 0.88, 0.88, "plain", 0.01, id="percent"),
        pytest.param("about 88%", SHARE, 0.88, 0.875, 0.885, "about", 0.01, id="about, percent"),
        pytest.param("80 to 90 %", SHARE, 0.85, 0.8, 0.9, "range", 0.1, id="a range in percent"),
        pytest.param(0.88, SHARE, 0.88, 0.88, 0.88, "plain", 0.01, id="a fraction"),
        pytest.param("12.5 °F", CELSIUS, -10.8333, -10.8333, -10.8333, "plain", 0.1 / 1.8, id="degrees, not kelvin"),
        pytest.param(3, COUNT, 3, 3, 3, "plain", 1, id="a number without a unit"),
    ],
)
def test_forms(raw: Any, field: In, best: float, low: float, high: float, form: Form, step: float) -> None:
    value = stated(raw, field)
    assert (value.best, value.low, value.high) == pytest.approx((best, low, high), abs=5e-5)
    assert value.form == form
    assert value.step == pytest.approx(step, rel=1e-9)
    assert value.text == str(raw).strip()


@pytest.mark.parametrize(
    ("raw", "field", "code"),
    [
        pytest.param("", WATTS, "value-form", id="empty"),
        pytest.param("plenty", WATTS, "value-form", id="a word"),
        pytest.param("ca. 620", WATTS, "value-form", id="another word for about"),
        pytest.param("~620", WATTS, "value-form", id="a sign for about"),
        pytest.param("600-640", WATTS, "value-form", id="a hyphen for to"),
        pytest.param("600 – 640", WATTS, "value-form", id="a dash for to"),
        pytest.param("620,5", WATTS, "value-form", id="a decimal comma"),
        pytest.param("1,200", WATTS, "value-form", id="a thousands comma"),
        pytest.param("about 600 to 640", WATTS, "value-form", id="about a range"),
        pytest.param("over over 5", WATTS, "value-form", id="twice over"),
        pytest.param("5 %%", SHARE, "value-dimension", id="two percent signs"),
        pytest.param("0x1F", WATTS, "value-form", id="hexadecimal"),
        pytest.param("1_000", WATTS, "value-form", id="an underscore"),
        pytest.param("١٢", WATTS, "value-form", id="digits of another script"),
        pytest.param("nan", WATTS, "value-form", id="not a number"),
        pytest.param("inf", WATTS, "value-form", id="infinite"),
        pytest.param("1" * 13, WATTS, "value-form", id="thirteen digits"),
        pytest.param("about 5 " + " " * MAX_TEXT + "W", WATTS, "value-form", id="endless"),
        pytest.param("about 0", WATTS, "value-about-zero", id="about nothing"),
        pytest.param("about 0.00", WATTS, "value-about-zero", id="about nothing, at length"),
        pytest.param("640 to 600", WATTS, "value-range-order", id="backwards"),
        pytest.param("2 h to 3 min", SECONDS, "value-range-order", id="backwards once converted"),
        pytest.param(True, WATTS, "value-type", id="yes"),
        pytest.param(None, WATTS, "value-type", id="nothing"),
        pytest.param([620], WATTS, "value-type", id="a list"),
        pytest.param("5 Ah", WATTS, "value-dimension", id="another dimension"),
        pytest.param("5 F", CELSIUS, "value-dimension", id="farad is no temperature"),
        pytest.param("5 %", WATTS, "value-dimension", id="percent of what"),
        pytest.param("5 W", SHARE, "value-dimension", id="a unit on a fraction"),
        pytest.param("5 W", COUNT, "value-dimension", id="a unit on a count"),
        pytest.param("5 zorps", WATTS, "value-unit", id="no unit at all"),
        pytest.param("1e999", WATTS, "value-size", id="too large to be a number"),
        pytest.param(-1, WATTS, "value-outside", id="below"),
        pytest.param(50_001, WATTS, "value-outside", id="above"),
        pytest.param(88, SHARE, "value-outside", id="percent without the sign"),
        pytest.param("49 to 51 kW", WATTS, "value-outside", id="one end outside"),
        pytest.param("over 51 kW", WATTS, "value-outside", id="over what is possible"),
        pytest.param("under -1", WATTS, "value-outside", id="under what is possible"),
        pytest.param(math.nan, WATTS, "value-outside", id="a number that is none"),
        pytest.param(math.inf, WATTS, "value-outside", id="an infinite number"),
        pytest.param("9e307 kW", WATTS, "value-outside", id="infinite once converted"),
    ],
)
def test_what_is_refused(raw: Any, field: In, code: str) -> None:
    with pytest.raises(GrammarError) as refused:
        stated(raw, field)
    assert refused.value.code == code
    assert refused.value.hint
    assert len(str(refused.value)) < 300


def test_a_hint_of_the_field_itself_comes_first() -> None:
    with pytest.raises(GrammarError) as refused:
        stated(60_000, WATTS)
    assert refused.value.hint == "power is in W"


def test_a_number_outside_is_named_in_the_fields_unit() -> None:
    with pytest.raises(GrammarError, match=r"^60000 W is outside 0 to 50000 W$"):
        stated("60 kW", WATTS)


@pytest.mark.parametrize(
    ("raw", "plain"), [("0123", "123"), ("00", "0"), ("about 01200", "about 1200"), ("-05 to 05.5 W", "-5 to 5.5 W")]
)
def test_no_number_begins_with_a_zero_too_many(raw: str, plain: str) -> None:
    """Some readers of YAML take 0123 for 83."""
    with pytest.raises(GrammarError) as refused:
        stated(raw, In("W", -100, 50_000))
    assert (refused.value.code, refused.value.hint) == ("value-form", f"write {plain}, without a zero in front")
    assert stated(plain, In("W", -100, 50_000)).text == plain


def test_zeros_that_count_are_read() -> None:
    assert [stated(raw, WATTS).best for raw in ("0", "0.05", "100", "1.0e03", "0.0")] == [0, 0.05, 100, 1000, 0]


def test_half_width() -> None:
    assert stated("600 to 640", WATTS).half_width == 20
    assert stated(620, WATTS).half_width == 0
    assert stated("over 95", WATTS).half_width == INF


class Reading(BaseModel):
    """Some fields as records have them."""

    power_w: Watts
    share: Fraction = Stated(0, 0, 0, "plain", 1, "0")
    change: SignedFraction = Stated(0, 0, 0, "plain", 1, "0")


def test_a_field_speaks_in_the_grammars_own_words() -> None:
    with pytest.raises(ValidationError) as refused:
        Reading.model_validate({"power_w": "5 Ah"})
    (error,) = refused.value.errors()
    assert error["type"] == "value-dimension"
    assert error["ctx"]["hint"] == "write it in W"


def test_a_field_takes_what_was_stated_already() -> None:
    value = stated("about 620", WATTS)
    assert Reading(power_w=value).power_w is value


def test_signs_of_fractions() -> None:
    assert Reading.model_validate({"power_w": 1, "change": "-0.5 %"}).change.best == pytest.approx(-0.005)
    with pytest.raises(ValidationError):
        Reading.model_validate({"power_w": 1, "share": "-0.5 %"})


def test_the_schema_takes_numbers_and_text() -> None:
    schema = Reading.model_json_schema()["properties"]["power_w"]
    assert {one["type"] for one in schema["anyOf"]} == {"number", "string"}


def test_a_conversion_is_asked_for_once() -> None:
    assert conversion("lb", "kg") is conversion("lb", "kg")


def test_long_input_is_quoted_in_part() -> None:
    assert len(shown("x" * 10_000)) <= MAX_TEXT + 1


@pytest.mark.parametrize("text", [1e-300, "1e-300 A", "under 1e-300", "0 to 1e-300"])
def test_next_to_nothing_is_refused_before_anything_is_divided_by_its_square(text: object) -> None:
    with pytest.raises(GrammarError, match="less than any instrument shows"):
        stated(text, In("A", 0, 3000))


def test_what_a_conversion_leaves_of_nothing_is_none_of_it() -> None:
    assert stated("32 °F", In("°C", -60, 150)).best == pytest.approx(0, abs=1e-9)
