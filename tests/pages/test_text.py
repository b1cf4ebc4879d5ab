"""How numbers, dates and foreign text read. The spacing is part of it: ⎵ below stands for the narrow no-break space."""

from __future__ import annotations

import datetime as dt
import html
import string
from html.parser import HTMLParser

import markdown
import pytest
from hypothesis import given
from hypothesis import strategies as st

from site_builder.measured import Basis, Bound, Component, Measured
from site_builder.pages import safe_text, text
from site_builder.values import In, stated

NORMAL_95 = 1.959963984540054  # two-sided 95 % quantile of the normal distribution, GUM table G.2 rounds it to 1.960


def measured(
    value: float,
    expanded: float | None,
    unit: str = "Ah",
    bound: Bound = "exact",
    ends: tuple[float | None, float | None] = (None, None),
) -> Measured:
    """A number whose published U is `expanded`; None for an instrument that nobody named."""
    components = {"gain": Component(expanded / NORMAL_95)} if expanded else {}
    basis: Basis = "as_read" if expanded is None else "measured"
    low, high = ends
    return Measured(value=value, unit=unit, components=components, bound=bound, low=low, high=high, basis=basis)


def plain(shown: text.Shown) -> str:
    return str(shown).replace(text.THIN, "⎵").replace(text.FIXED, " ")


@pytest.mark.parametrize(
    ("value", "expanded", "unit", "reads"),
    [
        pytest.param(91.34, 0.94, "Ah", "91.3 ±⎵0.9⎵Ah", id="one digit of U"),
        pytest.param(1169.4, 13.2, "Wh", "1⎵169 ±⎵13⎵Wh", id="two digits where U starts with 1"),
        pytest.param(1.2, 0.095, "Ah", "1.20 ±⎵0.10⎵Ah", id="U rounds up into another digit and keeps its place"),
        pytest.param(123.4, 9.96, "Ah", "123 ±⎵10⎵Ah", id="U rounds up to ten"),
        pytest.param(0.25, 0.45, "V", "0.3 ±⎵0.5⎵V", id="halves away from zero"),
        pytest.param(-0.25, 0.45, "V", "−0.3 ±⎵0.5⎵V", id="on both sides of it"),
        pytest.param(-0.04, 0.3, "V", "0.0 ±⎵0.3⎵V", id="no minus before nothing"),
        pytest.param(1304.0, 124.0, "Wh", "1⎵300 ±⎵120⎵Wh", id="value ends where U ends"),
        pytest.param(12_345_678.0, 40.0, "Wh", "12⎵345⎵680 ±⎵40⎵Wh", id="thousands set apart"),
        pytest.param(0.9833, 0.0121, "1", "98.3 ±⎵1.2⎵%", id="fractions in percent"),
        pytest.param(247.2, 3.1, "EUR/kWh", "247 ±⎵3⎵€ per kWh", id="units in words"),
        pytest.param(-14.2, 0.5, "°C", "−14.2 ±⎵0.5⎵°C", id="a minus, not a hyphen"),
        pytest.param(90.0, 0.0, "Ah", "90⎵Ah", id="U of nothing: as given"),
        pytest.param(12.8, 0.0, "V", "12.8⎵V", id="a label's decimals"),
        pytest.param(88.44, None, "Ah", "88.4⎵Ah", id="no instrument named: no ±"),
        pytest.param(1169.44, None, "Wh", "1⎵169⎵Wh", id="four digits where it starts with 1"),
        pytest.param(0.0, None, "A", "0⎵A", id="nothing"),
    ],
)
def test_exact_number_reads(value: float, expanded: float | None, unit: str, reads: str) -> None:
    assert plain(text.quantity(measured(value, expanded, unit))) == reads


@pytest.mark.parametrize(
    ("value", "expanded", "bound", "ends", "reads"),
    [
        pytest.param(87.2, 0.9, "at_least", (None, None), "at least 86.3⎵Ah", id="U is inside, binary noise is not"),
        pytest.param(86.99, 0.0, "at_least", (None, None), "at least 86.9⎵Ah", id="never rounded up"),
        pytest.param(30.01, 0.0, "at_most", (None, None), "at most 30.1⎵Ah", id="never rounded down"),
        pytest.param(
            1187.9, 0.0, "at_least", (None, None), "at least 1⎵187⎵Ah", id="four digits where it starts with 1"
        ),
        pytest.param(-9.96, 0.0, "at_least", (None, None), "at least −9.96⎵Ah", id="below zero"),
        pytest.param(
            -1.2345, 0.0, "at_least", (None, None), "at least −1.235⎵Ah", id="outwards below zero is away from it"
        ),
        pytest.param(86.0, None, "at_least", (None, None), "at least 86⎵Ah", id="no instrument named"),
        pytest.param(1240.0, 60.0, "at_least", (None, None), "at least 1⎵180⎵Ah", id="no finer than U"),
        pytest.param(3.55, 0.0, "between", (2.799, 4.301), "between 2.79 and 4.31⎵Ah", id="both ends outwards"),
        pytest.param(3.55, 0.3, "between", (2.8, 4.3), "between 2.5 and 4.6⎵Ah", id="both ends with U"),
    ],
)
def test_bound_reads_the_same_words_and_rounds_outwards(
    value: float, expanded: float | None, bound: Bound, ends: tuple[float | None, float | None], reads: str
) -> None:
    assert plain(text.quantity(measured(value, expanded, "Ah", bound, ends))) == reads


@given(
    value=st.floats(min_value=-1e6, max_value=1e6).filter(lambda x: abs(x) > 1e-6),
    expanded=st.floats(min_value=0, max_value=1e5),
    bound=st.sampled_from(["at_least", "at_most"]),
)
def test_no_bound_is_ever_rounded_inwards(value: float, expanded: float, bound: Bound) -> None:
    number = measured(value, expanded, "V", bound)
    digits = plain(text.quantity(number)).removesuffix("⎵V").rpartition(" ")[2]
    shown = float(digits.replace("⎵", "").replace("−", "-"))
    slack = 1e-11 * max(abs(value), expanded)  # the twelve digits that count
    if bound == "at_least":
        assert shown <= number.lowest + slack
    else:
        assert shown >= number.highest - slack


@given(value=st.floats(-1e6, 1e6), expanded=st.floats(min_value=1e-4, max_value=1e5))
def test_a_value_is_shown_within_half_of_its_last_digit(value: float, expanded: float) -> None:
    shown = text.quantity(measured(value, expanded, "V"))
    digits = float(shown.value.replace(text.THIN, "").replace("−", "-"))
    spread = float(shown.spread.replace(text.THIN, ""))
    assert abs(digits - value) <= spread / 2 * (1 + 1e-9)


@pytest.mark.parametrize(
    ("seconds", "expanded", "bound", "ends", "reads"),
    [
        pytest.param(4.0, 0.0, "between", (3.0, 5.0), "between 3 and 5⎵s", id="seconds"),
        pytest.param(119.0, 0.0, "exact", (None, None), "119⎵s", id="below two minutes"),
        pytest.param(5700.0, 150.0, "exact", (None, None), "95 ±⎵3⎵min", id="minutes"),
        pytest.param(10_090.0, 0.0, "at_least", (None, None), "at least 2.8⎵h", id="hours, downwards"),
        pytest.param(137_160.0, 5200.0, "exact", (None, None), "38.1 ±⎵1.4⎵h", id="hours with U"),
        pytest.param(169_591.0, 4.0, "exact", (None, None), "47.11 ±⎵0.01⎵h", id="a ± finer than anyone reads"),
        pytest.param(2_678_400.0, 82_000.0, "exact", (None, None), "31.0 ±⎵0.9⎵days", id="days"),
        pytest.param(0.0, 0.0, "exact", (None, None), "0⎵s", id="nothing"),
    ],
)
def test_duration_reads_in_the_unit_of_its_size(
    seconds: float, expanded: float, bound: Bound, ends: tuple[float | None, float | None], reads: str
) -> None:
    assert plain(text.duration(measured(seconds, expanded, "s", bound, ends))) == reads


def test_spread_is_set_lighter_in_html_and_left_out_of_a_bare_column() -> None:
    shown = text.quantity(measured(91.34, 0.94))
    assert shown.__html__() == f'91.3<span class="u">{text.FIXED}±{text.THIN}0.9{text.THIN}Ah</span>'
    assert shown.bare.__html__() == f'91.3<span class="u">{text.FIXED}±{text.THIN}0.9</span>'
    assert text.quantity(measured(90, 0)).__html__() == f"90{text.THIN}Ah"


@pytest.mark.parametrize(
    ("raw", "field", "reads"),
    [
        pytest.param(620, In("W", 0, 9e3), "620⎵W", id="plain"),
        pytest.param("13.10", In("V", 0, 60), "13.1⎵V", id="plain in quotes"),
        pytest.param("about 620", In("W", 0, 9e3), "about 620⎵W", id="about"),
        pytest.param("3 to 5", In("A", 0, 9e3), "3 to 5⎵A", id="range"),
        pytest.param("over 95", In("A", 0, 9e3), "at least 95⎵A", id="over"),
        pytest.param("under 1450", In("W", 0, 9e3), "at most 1⎵450⎵W", id="under"),
        pytest.param("over 22.9 lb", In("kg", 0, 99), "at least 10.38⎵kg", id="a converted bound goes outwards"),
        pytest.param("under 22.9 lb", In("kg", 0, 99), "at most 10.39⎵kg", id="on its other side too"),
        pytest.param("88 %", In("1", 0, 1), "88⎵%", id="percent"),
        pytest.param("22.9 lb", In("kg", 0, 99), "10.39⎵kg", id="converted, no finer than written"),
        pytest.param("about -10", In("°C", -60, 99), "about −10⎵°C", id="below zero"),
    ],
)
def test_stated_number_reads_as_written(raw: object, field: In, reads: str) -> None:
    assert plain(text.stated(stated(raw, field), field.unit)) == reads


@pytest.mark.parametrize(
    ("raw", "reads"),
    [
        ("20 min", "20⎵min"),
        ("over 30 min", "at least 30⎵min"),
        ("3 to 5", "3 to 5⎵s"),
        ("1.4 h", "84⎵min"),
        (14400, "4⎵h"),
    ],
)
def test_stated_duration_reads_in_the_unit_of_its_size(raw: object, reads: str) -> None:
    assert plain(text.stated_duration(stated(raw, In("s", 0, 1e6)))) == reads


@pytest.mark.parametrize(
    ("amount", "currency", "reads"),
    [(289, "EUR", "289⎵€"), (1289.5, "EUR", "1⎵289.50⎵€"), (249, "USD", "249⎵USD")],
)
def test_money(amount: float, currency: str, reads: str) -> None:
    assert plain(text.money(amount, currency)) == reads


def test_dates_carry_their_machine_readable_form() -> None:
    assert text.day(dt.date(2026, 3, 2)) == '<time datetime="2026-03-02">2 March 2026</time>'


@pytest.mark.parametrize(
    ("words", "reads"), [([], ""), (["a"], "a"), (["a", "b"], "a and b"), (["a", "b", "c"], "a, b and c")]
)
def test_words_in_a_row(words: list[str], reads: str) -> None:
    assert text.listed(words) == reads


HOSTILE = [
    "<script>alert(1)</script>",
    "**bold** _it_ `code` [a](javascript:alert(1)) ![i](x)",
    "# heading\n\n* item\n\n    code",
    "{: onclick=alert(1) } {{ config }} {% include x %}",
    "a | b\n--|--",
    '" onmouseover="alert(1)',
    "&lt;b&gt; &amp;",
    "\u0002wzxhzdk:0\u0003",
    "<!-- --> <![CDATA[ x ]]> <?php ?>",
    "https://example.org/ <https://example.org>",
]


class Tags(HTMLParser):
    """The tags of a page with the names of their attributes, and its text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.seen: list[tuple[str, ...]] = []
        self.words = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append((tag, *(name for name, _ in attrs)))

    def handle_data(self, data: str) -> None:
        self.words += data


@pytest.mark.parametrize("hostile", HOSTILE)
@pytest.mark.parametrize("place", ["# {}", "{}", "<div>\n<p>{}</p>\n</div>", "- {}", "<p title='{}'>x</p>"])
def test_foreign_text_is_only_ever_text(hostile: str, place: str) -> None:
    """Markdown with the site's extensions makes the same tags of hostile text as of a harmless word."""
    extensions = ["attr_list", "tables", "toc", "fenced_code"]
    harmless = Tags(markdown.markdown(place.format("word"), extensions=extensions))
    page = Tags(markdown.markdown(place.format(safe_text.escaped(hostile)), extensions=extensions))
    visible = " ".join("".join(c for c in hostile if c.isprintable() or c.isspace()).split())
    assert page.seen == harmless.seen
    assert page.words == harmless.words.replace("word", visible)


@pytest.mark.parametrize("hostile", HOSTILE)
def test_foreign_text_in_block_html_is_only_ever_text(hostile: str) -> None:
    """There Markdown changes nothing, so HTML's own five characters are enough."""
    block = "<div>\n<p title='{0}'>{0}</p>\n\n<ul><li>{0}</li></ul>\n</div>\n\nafter *it*"
    extensions = ["attr_list", "md_in_html", "tables", "toc", "fenced_code"]
    harmless = Tags(markdown.markdown(block.format("word"), extensions=extensions))
    page = Tags(markdown.markdown(block.format(safe_text.safe(hostile)), extensions=extensions))
    visible = " ".join("".join(c for c in hostile if c.isprintable() or c.isspace()).split())
    assert page.seen == harmless.seen
    assert page.words == harmless.words.replace("word", visible)


@given(st.text())
def test_escaped_text_has_no_ascii_punctuation_but_its_references(foreign: str) -> None:
    encoded = str(safe_text.escaped(foreign))
    assert not set(encoded) & (set(string.punctuation) - set("&#;"))
    assert "\n" not in encoded
    assert html.unescape(encoded).split() == html.unescape(str(safe_text.escaped(html.unescape(encoded)))).split()


@pytest.mark.parametrize(
    "url",
    [
        "javascript:alert(1)",
        "http://example.org",
        "//example.org",
        "https:example.org",
        "https://",
        "https://shop.example@other.example/",
        "https://example.org/\nx",
        "https://example.org\\@other.example",
        "https://[broken",
        " https://example.org",
        "data:text/html,x",
    ],
)
def test_only_plain_https_becomes_a_link(url: str) -> None:
    assert safe_text.link(url, "the shop") == "the shop"


def test_link_keeps_an_address_whole_and_its_words_harmless() -> None:
    made = str(safe_text.link("https://example.org/a?b=1&c=%22", "a <shop>", rel="sponsored nofollow"))
    href, rel, words = made.split('"')[1], made.split('"')[3], made.rpartition('">')[2]
    assert html.unescape(href) == "https://example.org/a?b=1&c=%22"
    assert rel == "sponsored nofollow"
    assert words == "a &lt;shop&gt;</a>"


@pytest.mark.parametrize(("count", "reads"), [(0, "no tests"), (1, "one test"), (12, "twelve tests"), (14, "14 tests")])
def test_counts(count: int, reads: str) -> None:
    assert text.counted(count, "test") == reads


@pytest.mark.parametrize(
    ("bound", "reads"), [("exact", "about⎵90⎵Ah"), ("at_least", "at least 85⎵Ah"), ("at_most", "at most 95⎵Ah")]
)
def test_what_was_written_as_vague_stays_vague_without_a_named_instrument(bound: Bound, reads: str) -> None:
    component = {"stated:q/run/counted_ah": Component(5 / 3**0.5, limit=5.0)}
    one = Measured(value=90, unit="Ah", components=component, basis="as_read", bound=bound)
    assert str(text.quantity(one)) == reads.replace("about⎵", "about ").replace("⎵", text.THIN)


def test_an_uncertainty_beyond_all_digits_of_its_value_can_be_written() -> None:
    """Allowed by the fields' ranges, and found by extremes: 1e25 ± 1e-9 has more digits than decimals hold."""
    extreme = Measured(value=1e25, unit="Wh", components={"noise:a": Component(1e-9)})
    assert str(text.quantity(extreme)).replace("\u202f", "").startswith("10000000000000000000000000")
