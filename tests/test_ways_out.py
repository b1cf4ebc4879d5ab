"""What somebody meant by text that is no number of the grammar."""

from __future__ import annotations

import pytest

from site_builder import fields
from site_builder.values import GrammarError, In, conversion, stated
from site_builder.ways_out import MEANT, USUAL_UNITS, clock_durations, forms_of, meant_unit, without_separators

NUMBERS = {
    name: part
    for name, kind in vars(fields).items()
    for part in getattr(kind, "__metadata__", ())
    if isinstance(part, In) and part.unit not in {"", "1"}
}


@pytest.mark.parametrize("name", NUMBERS)
def test_every_form_that_is_offered_is_one_that_the_field_takes(name: str) -> None:
    field = NUMBERS[name]
    plain, about, span, ends, others = forms_of(field.unit).split(", ", 4)
    over, _, under = ends.partition(" or ")
    quoted = others.split('"')[1::2]
    assert quoted
    for text in (plain.partition(" ")[0], about, span, over, under, *quoted):
        assert stated(text, field).best > 0 or "°F" in text


@pytest.mark.parametrize("into", USUAL_UNITS)
def test_usual_units_are_as_the_grammar_converts_them(into: str) -> None:
    for unit, (factor, offset) in USUAL_UNITS[into].items():
        if unit != into:
            convert = conversion(unit, into)
            assert (convert.scale, convert.offset) == pytest.approx((factor, offset), rel=1e-9, abs=1e-9), unit


def test_a_spelling_is_no_unit_of_the_field_itself() -> None:
    """Else the grammar takes it, and nobody has to be told."""
    for spelling in MEANT:
        for into in USUAL_UNITS:
            if meant_unit(spelling, into) and spelling not in USUAL_UNITS[into]:
                with pytest.raises(GrammarError):
                    conversion(spelling, into)


@pytest.mark.parametrize(
    ("unit", "into", "meant"),
    [
        ("F", "°C", "°F"),
        ("C", "°C", "°C"),
        ("Amps", "A", "A"),
        ("v", "V", "V"),
        ("KWH", "Wh", "kWh"),
        ("m", "s", "min"),
        ("F", "V", None),
        ("l", "kg", None),
    ],
)
def test_spellings(unit: str, into: str, meant: str | None) -> None:
    assert meant_unit(unit, into) == meant
    with pytest.raises(GrammarError) as refused:
        stated(f"20 {unit}", In(into, -1000, 1000))
    assert refused.value.hint == (f"did you mean {meant}?" if meant else f"write it in {into}")


@pytest.mark.parametrize(
    ("text", "ways"),
    [
        pytest.param("1,259", ("1259", "1.259"), id="either"),
        pytest.param("1,500 to 2,250", ("1500 to 2250", "1.500 to 2.250"), id="either, twice"),
        pytest.param("98,4", ("98.4",), id="decimals"),
        pytest.param("0,259", ("0.259",), id="no thousands begin with nothing"),
        pytest.param("1259,123", ("1259.123",), id="nor with four digits"),
        pytest.param("1,259,000", ("1259000",), id="thousands, twice"),
        pytest.param("1,280.5", ("1280.5",), id="both signs"),
        pytest.param("1.280,5", ("1280.5",), id="both signs, the other way"),
        pytest.param("1 301", ("1301",), id="a blank"),
        pytest.param("20'000", ("20000",), id="an apostrophe"),
        pytest.param("12.5", ("12.5",), id="nothing to do"),
        pytest.param("12 5", (), id="two numbers"),
        pytest.param("1,2,3", (), id="a list"),
        pytest.param("620", (), id="no sign"),
    ],
)
def test_separators(text: str, ways: tuple[str, ...]) -> None:
    assert without_separators(text) == ways


def test_both_ways_are_told() -> None:
    with pytest.raises(GrammarError) as refused:
        stated("1,259", In("Wh", 0, 100_000))
    assert refused.value.hint.startswith("write 1259 if that is what it says, or 1.259: ")


@pytest.mark.parametrize(
    ("text", "spans"),
    [
        ("1:30 h", ("90 min",)),
        ("1:30 min", ("90 s",)),
        ("1:30", ("90 min", "90 s")),
        ("1:02:03", ("3723 s",)),
        ("1:75", ()),
        ("20 min", ()),
    ],
)
def test_durations_of_a_clock(text: str, spans: tuple[str, ...]) -> None:
    assert clock_durations(text) == spans


def test_a_duration_of_a_clock_is_told_in_one_unit() -> None:
    with pytest.raises(GrammarError) as refused:
        stated("1:30", In("s", 0, 100_000))
    assert refused.value.hint == 'write "90 min" or "90 s"'
