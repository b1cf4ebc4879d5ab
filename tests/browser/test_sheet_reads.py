"""The form of a bench sheet refuses what the builder refuses, and takes what it takes."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from typing import get_args

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from playwright.sync_api import Page

from site_builder import fields
from site_builder.commands.ids import id_of
from site_builder.moments import parsed_moment
from site_builder.values import GrammarError, In, stated
from site_builder.ways_out import MEANT, USUAL_UNITS
from site_builder.yaml_text import hidden_in

WRONG = """([text, kind, takes]) => {
  const field = Object.assign(document.createElement("input"), { value: text });
  Object.assign(field.dataset, { is: kind, ...takes });
  return sheetReads.wrong(field);
}"""


@pytest.fixture
def says(new_page: Callable[..., Page]) -> Callable[..., str]:
    page = new_page()
    page.goto("/sheets/blank/")

    def wrong(text: str, kind: str = "number", number: object = None) -> str:
        found = next((one for one in get_args(number) if isinstance(one, In)), None)
        takes = {"unit": found.unit, "low": found.low, "high": found.high, "outside": found.outside} if found else {}
        return str(page.evaluate(WRONG, [text, kind, takes]))

    return wrong


@pytest.mark.parametrize(
    ("text", "number", "way_out"),
    [
        ("1,259", fields.WattHours, "Write 1259 if that is what it says, or 1.259: a point"),
        ("about 1,259 Wh", fields.WattHours, "Write about 1259 Wh if that is what it says, or about 1.259 Wh: a point"),
        ("12,590,000", fields.WattHours, "Write 12590000: a point"),
        ("0,259", fields.WattHours, "Write 0.259: a point"),
        ("98,4", fields.AmpereHours, "Write 98.4: a point"),
        ("1.259,5", fields.WattHours, "Write 1259.5: a point"),
        ("68 F", fields.Celsius, "Write 68 °F."),
        ("21 C", fields.Celsius, "Write 21 °C."),
        ("20 amps", fields.Amps, "Write 20 A."),
        ("20amps to 22 amps", fields.Amps, "Write 20 A to 22 A."),
        ("1.2 KWH", fields.WattHours, "Write 1.2 kWh."),
        ("3 stone", fields.Kilograms, "“stone” is not read here: mass is in kg"),
        ("80", fields.Fraction, "Write 80 %."),
        ("95 %", fields.Fraction, ""),
        ("1:30 h", fields.Seconds, "Write 90 min."),
        ("1:30", fields.Seconds, "Write 90 min or 90 s."),
        ("1:02:03", fields.Seconds, "Write 3723 s."),
        ("20 min", fields.Seconds, ""),
        ("-20", fields.Amps, "Only 0 to 3000 A can be: currents are in A"),
        ("640 to 600", fields.Watts, "Write the smaller number first."),
        ("1e-300 s", fields.Seconds, "That is less than any instrument shows."),
        ("about 0", fields.Celsius, "“about 0” does not say"),
        ("20\u202fA", fields.Amps, ""),
    ],
)
def test_the_way_out_of_a_number(says: Callable[..., str], text: str, number: object, way_out: str) -> None:
    said = says(text, number=number)
    assert said.startswith(way_out) if way_out else said == ""


@pytest.mark.parametrize(
    ("text", "way_out"),
    [
        ("18:10", ""),
        ("22:10 to 01:40", ""),
        ("2026-05-20 18:40", ""),
        ("18.10", "Write 18:10."),
        ("1810", "Write 18:10."),
        ("6:10 pm", "Write 18:10."),
        ("12 am", "Write 00:00."),
        ("18.10 to 6.40 pm", "Write 18:10 to 18:40."),
        ("25:10", "Not read as a time."),
        ("half past six", "Not read as a time. Write 18:40, or 22:10 to 23:40 where nobody saw it."),
        ("2026-02-30", "There is no such day."),
    ],
)
def test_the_way_out_of_a_time(says: Callable[..., str], text: str, way_out: str) -> None:
    said = says(text, "time")
    assert said.startswith(way_out) if way_out else said == ""
    assert bool(said) == is_refused(parsed_moment, text)


def test_cells_are_numbers_too(says: Callable[..., str]) -> None:
    assert says("3.449, 3.451", "list", fields.Volts) == ""
    assert says("3.449, 3.4 x 1", "list", fields.Volts).startswith("Not read as a number")
    assert says("3,449", "list", fields.Volts).startswith("A point before the decimals")


def is_refused(read: Callable[..., object], *args: object) -> bool:
    try:
        read(*args)
    except GrammarError:
        return True
    return False


NUMBERS = (fields.Amps, fields.Volts, fields.Watts, fields.AmpereHours, fields.WattHours, fields.Celsius,
           fields.Seconds, fields.Hours, fields.Kilograms, fields.Millimetres, fields.Fraction)  # fmt: skip
UNITS = sorted({one for units in USUAL_UNITS.values() for one in units} | set(MEANT) | {"F", "zorps"})
PIECES = ["about", "over", "under", "to", " ", "-", "−", "0", "00", "1", "20", "259", ".", ",", "e3", "'", ":", *UNITS]


def test_form_and_builder_agree_on_every_number(says: Callable[..., str]) -> None:
    """Units that the form does not know are told to be written in the field's own, though the grammar may read them."""

    @settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
    @given(st.lists(st.sampled_from(PIECES), min_size=1, max_size=7).map("".join), st.sampled_from(NUMBERS))
    @example("20 amps", fields.Amps)
    @example("over 95 %", fields.Fraction)
    @example("1e999", fields.Watts)
    @example("259 to 20°F", fields.Celsius)
    def agree(text: str, number: object) -> None:
        field = next(one for one in get_args(number) if isinstance(one, In))
        said = says(text, number=number)
        if text.strip() and not said.startswith("“"):
            assert bool(said) == is_refused(stated, text, field), said

    agree()


def test_each_way_out_is_taken(says: Callable[..., str]) -> None:
    for text, number in (("1,259", fields.WattHours), ("68 F", fields.Celsius), ("over 20 AMPS", fields.Amps)):
        said = says(text, number=number).removeprefix("Write ").split(": a point")[0].removesuffix(".")
        for way in said.split(" if that is what it says, or "):
            assert says(way, number=number) == ""


@pytest.mark.parametrize(
    ("text", "kind", "number"),
    [
        ("soft\u00adhyphen", "text", None),
        ("\u202ereversed", "text", None),
        ("zero\u200bwidth, manual", "list", None),
        ("18:\u200b40", "time", None),
        ("20\u00ad", "number", fields.Amps),
        ("a tag \U000e0041", "text", None),
    ],
)
def test_what_does_not_show_is_told_by_its_number(
    says: Callable[..., str], text: str, kind: str, number: object
) -> None:
    assert says(text, kind, number) == f"A character here does not show: U+{ord(hidden_in(text) or ''):04X}; delete it."


FLAGGED = """codes => codes.filter(code => {
  const field = Object.assign(document.createElement("textarea"), { value: `a${String.fromCodePoint(code)}b` });
  field.dataset.is = "text";
  return sheetReads.wrong(field);
})"""


def test_form_and_builder_agree_on_what_does_not_show(new_page: Callable[..., Page]) -> None:
    page = new_page()
    page.goto("/sheets/blank/")
    codes = [code for code in (*range(0x20000), *range(0xE0000, 0xE1100)) if code not in {0x0A, 0x0D}]
    assert page.evaluate(FLAGGED, codes) == [code for code in codes if hidden_in(chr(code))]


NAMES = (
    "Böhm 100", "Å & Söhne 100+", "GROẞE Straße", "Skarvøy Tern", "ØRE", "Łódź L1", "Æsir", "İstanbul", "ﬁve ½ K",
    "Ferngate F 90/S", "  --x--  ", "電池 一", "é e\u0301 a\u20ddb", "", "Ω 5 µ",
)  # fmt: skip


def test_form_and_builder_make_the_same_id(new_page: Callable[..., Page]) -> None:
    page = new_page()
    page.goto("/sheets/blank/")
    letters = [chr(code) for code in range(0x10000) if unicodedata.category(chr(code)) not in {"Cn", "Cs", "Co"}]
    names = [*NAMES, *(f"a{letter}b {letter}" for letter in letters)]
    made = page.evaluate("names => names.map(sheetYaml.idOf)", names)
    other = [
        (name, ours, theirs)
        for name, ours, theirs in zip(names, map(whole_id, names), made, strict=True)
        if ours != theirs
    ]
    assert not other


def whole_id(name: str) -> str:
    maker, _, model = name.partition(" ")
    return id_of(maker, model)
