"""What the switch of units of measurement is given: the numbers behind the words, only where there is a choice."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from site_builder.measured import Bound, Component, Measured
from site_builder.pages import text
from site_builder.pages.switched import SWITCHED, heading, held, with_measures
from site_builder.values import In, stated

HELD = re.compile(r"<data value=([^ >]+)>(.*?)</data>")


def shown(value: float, unit: str, bound: Bound = "exact", low: float | None = None, high: float | None = None) -> str:
    components = {"probe": Component(0.25)}
    one = Measured(value=value, unit=unit, components=components, bound=bound, low=low, high=high)
    return text.quantity(one).__html__()


@pytest.mark.parametrize(
    ("html", "value"),
    [
        (shown(6.1324, "°C"), "6.132±0.49°C"),
        (shown(10.384, "kg"), "10.384±0.49kg"),
        (shown(-14.0, "°C", "at_least"), "-14.49°C"),
        (shown(20, "kg", "between", low=19, high=21), "18.51~21.49kg"),
        (text.stated(stated("3 to 5", In("mm", 0, 99)), "mm").__html__(), "3~5mm"),
        (text.stated(stated("about -10", In("°C", -60, 99)), "°C").__html__(), "-10°C"),
        (text.stated(stated(0.5, In("°C", 0, 99)), "°C", difference=True).__html__(), "0.5K"),
    ],
)
def test_a_quantity_with_a_choice_of_unit_holds_its_numbers(html: str, value: str) -> None:
    found = HELD.fullmatch(html)
    assert found
    assert found[1] == value


@pytest.mark.parametrize("unit", ["Ah", "Wh", "V", "A", "1", "mΩ", "L", "Wh/L"])
def test_a_quantity_without_a_choice_is_as_short_as_before(unit: str) -> None:
    assert unit not in SWITCHED
    assert "<data" not in shown(12.5, unit)


def test_plain_text_knows_nothing_of_it() -> None:
    one = Measured(value=6.1, unit="°C", components={"probe": Component(0.25)})
    assert "data" not in str(text.quantity(one))


@pytest.mark.parametrize(
    ("words", "html"),
    [
        ("at 22 °C", "at <data value=22°C>22 °C</data>"),
        ("at 5 °C instead of 15 to 30 °C",
         "at <data value=5°C>5 °C</data> instead of <data value=15~30°C>15 to 30 °C</data>"),
        ("from -10 °C", "from <data value=-10°C>-10 °C</data>"),
        ("70 to 90 % charge & 3 kgf", "70 to 90 % charge &amp; 3 kgf"),
        ("<b>4 kg</b>", "&lt;b&gt;<data value=4kg>4 kg</data>&lt;/b&gt;"),
        ("firmware 1.2.8 mm", "firmware 1.2.8 mm"),
    ],
)  # fmt: skip
def test_fixed_words_hold_their_temperatures_masses_and_lengths(words: str, html: str) -> None:
    assert str(with_measures(words)) == html


@given(st.text())
def test_no_words_become_markup(words: str) -> None:
    left = HELD.sub("", str(with_measures(words)))
    assert "<" not in left
    assert ">" not in left


@given(st.lists(st.floats(-1e4, 1e4), min_size=1, max_size=3), st.sampled_from(sorted(SWITCHED)))
def test_what_is_held_needs_no_quotes_in_html(values: list[float], unit: str) -> None:
    """WHATWG HTML, "Unquoted attribute value syntax": no space, quote, equals sign, angle bracket or backtick."""
    assert not re.search(r"[\s\"'=<>`]", held(values, unit, 0.5))


def test_a_heading_names_a_unit_that_may_change() -> None:
    assert str(heading("Mass", "kg")) == "Mass, <data value=kg>kg</data>"
    assert str(heading("Charge", "Ah")) == "Charge, Ah"
