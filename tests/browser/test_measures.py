"""The switch between °C and °F, kg and lb, mm and in: on pages, in tables and charts, remembered, by keyboard."""

from __future__ import annotations

import json
import math
import random
import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from site_builder.measured import Component, Measured
from site_builder.pages.text import quantity, significant, stated
from site_builder.values import In
from site_builder.values import stated as as_stated

NORMAL_95 = 1.959963984540054
# NIST Special Publication 811 (2008), appendix B.8: degree Celsius to Fahrenheit t = 1.8 t + 32; pound (avoirdupois)
# 0.453 592 37 kg, inch 2.54 cm, both exactly; a difference of 1 K is 1.8 degrees Fahrenheit (appendix B.9).
TO_US: dict[str, tuple[str, Callable[[float], float], float]] = {
    "°C": ("°F", lambda x: 1.8 * x + 32, 1.8),
    "kg": ("lb", lambda x: x / 0.45359237, 1 / 0.45359237),
    "mm": ("in", lambda x: x / 25.4, 1 / 25.4),
    "Wh/kg": ("Wh/lb", lambda x: x * 0.45359237, 0.45359237),
}


def switch(page: Page) -> None:
    page.get_by_role("button", name="Fahrenheit, pounds and inches").click()


def changed(page: Page, html: str) -> str:
    """The words of a piece of a page once °F, lb and in are chosen."""
    text: str = page.evaluate(
        """html => {
            const place = document.createElement("p");
            place.innerHTML = html;
            window.quantities.within(place);
            return place.textContent;
        }""",
        html,
    )
    return text.replace("\u202f", " ").replace("\u00a0", " ")


@pytest.fixture
def us_page(desk_page: Page) -> Page:
    desk_page.goto("/about/")
    switch(desk_page)
    return desk_page


@pytest.mark.parametrize(
    ("html", "words"),
    [
        # Fixed points of the scales: ice, steam, and where both are alike (common knowledge, no source).
        ("<data value=0°C>0 °C</data>", "32 °F"),
        ("<data value=100°C>100 °C</data>", "212 °F"),
        ("<data value=-40°C>−40 °C</data>", "−40 °F"),
        # NIST SP 811, B.7: 36 ft is 10.97 m, and never finer than it was: here the other way, by the step shown.
        ("<data value=307~169~214mm>307 × 169 × 214 mm</data>", "12.09 × 6.65 × 8.43 in"),
        ("<data value=10.4kg>10.4 kg</data>", "22.9 lb"),
        ("<data value=2°C>2 °C</data>", "36 °F"),
        # A difference has no zero to move: 5 K are 9 °F, and ±0.5 °C is ±0.9 °F.
        ("<data value=5K>5 K</data>", "9 °F"),
        ("± <data value=0.5K>0.5 °C</data>", "± 0.9 °F"),
        ('<data value=6.132±0.471°C>6.1<span class="u"> ± 0.5 °C</span></data>', "43.0 ± 0.8 °F"),
        ('<data value=10.38±0.033kg>10.38<span class="u"> ± 0.03</span></data>', "22.88 ± 0.07"),
        ("<data value=-14~8°C>−14 to 8 °C</data>", "7 to 46 °F"),
        ("<data value=-14.49°C>at least −14.5 °C</data>", "at least 5.9 °F"),
        ("<data value=-14.49°C>at most −14.4 °C</data>", "at most 6 °F"),
        ("<data value=18.51~21.49kg>between 18.5 and 21.5 kg</data>", "between 40.8 and 47.4 lb"),
        ("<data value=-10°C>about −10 °C</data>", "about 14 °F"),
        ("Mass, <data value=kg>kg</data>", "Mass, lb"),
        ("<data value=1300kg>1\u202f300\u202fkg</data>", "2 866 lb"),
        ('<data value="20,5">20,5</data>', "20,5"),
    ],
)
def test_a_quantity_reads_in_the_other_unit(us_page: Page, html: str, words: str) -> None:
    assert changed(us_page, html) == words


def test_any_quantity_with_its_spread_is_rounded_as_pages_round(us_page: Page) -> None:
    """Converted here and rounded by the builder's own words, against what the browser makes of the page's HTML."""
    chance = random.Random(3)
    html, expected = [], []
    for _ in range(400):
        unit = chance.choice(list(TO_US))
        value, spread = chance.uniform(-40, 400), 10 ** chance.uniform(-2, 1)
        us_unit, convert, by = TO_US[unit]
        one = Measured(value=value, unit=unit, components={"a": Component(spread / NORMAL_95)})
        other = Measured(value=convert(value), unit=us_unit, components={"a": Component(spread * by / NORMAL_95)})
        html.append(quantity(one).__html__())
        expected.append(str(quantity(other)).replace("\u202f", " ").replace("\u00a0", " "))
    told = [changed(us_page, one) for one in html]
    # What is held has five digits, so that one in some hundred halves falls to the other side.
    differ = [(a, b) for a, b in zip(told, expected, strict=True) if a != b]
    assert len(differ) <= 8, differ


def test_a_written_range_keeps_its_words(us_page: Page) -> None:
    html = stated(as_stated("12 to 15", In("°C", -60, 99)), "°C").__html__()
    assert changed(us_page, html) == "54 to 59 °F"


@pytest.mark.parametrize("us", [False, True])
def test_other_scripts_are_told_the_same(desk_page: Page, us: bool) -> None:
    desk_page.goto("/about/")
    if us:
        switch(desk_page)
    told = desk_page.evaluate(
        """() => [quantities.us, quantities.unit("°C"), quantities.unit("Ah"), quantities.show(20, "°C"),
                  quantities.show(6.132, "°C", 0.471), quantities.show(91.34, "Ah", 0.94), quantities.chosen(20, "°C"),
                  quantities.metric(quantities.chosen(-14, "°C"), "°C"), quantities.metric(5, "kg")]"""
    )
    plain = [part.replace("\u202f", " ").replace("\u00a0", " ") if isinstance(part, str) else part for part in told]
    if us:
        assert plain[:7] == [True, "°F", "Ah", "68 °F", "43.0 ± 0.8 °F", "91.3 ± 0.9 Ah", 68]
        assert told[7] == pytest.approx(-14)
        assert told[8] == pytest.approx(2.26796185)
    else:
        assert plain[:7] == [False, "°C", "Ah", "20 °C", "6.1 ± 0.5 °C", "91.3 ± 0.9 Ah", 20]
        assert told[7:] == [-14, 5]


def test_numbers_without_a_spread_are_rounded_as_pages_round(desk_page: Page) -> None:
    chance = random.Random(5)
    values = [chance.choice([-1, 1]) * 10 ** chance.uniform(-3, 5) for _ in range(300)] + [0, 0.5, 1999.5, 99950]
    desk_page.goto("/about/")
    told = desk_page.evaluate("values => values.map((one) => quantities.show(one, ''))", values)
    assert told == [significant(value) for value in values]


def test_a_units_page_follows_by_keyboard_is_remembered_and_comes_back(page: Page) -> None:
    page.goto("/units/ferngate-f90/")
    lead = page.locator(".lead")
    before = lead.inner_text()
    button = page.get_by_role("button", name="Fahrenheit, pounds and inches")
    expect(button).to_have_text("°C")
    expect(button).to_have_attribute("aria-pressed", "false")
    button.focus()
    page.keyboard.press("Enter")
    expect(button).to_have_text("°F")
    expect(button).to_have_attribute("aria-pressed", "true")
    expect(button).to_be_focused()
    expect(lead).to_contain_text("°F")
    assert "°C" not in lead.inner_text()
    page.goto("/units/nettle-95/")
    expect(page.locator("article")).to_contain_text("°F")
    page.goto("/units/ferngate-f90/")
    page.get_by_role("button", name="Fahrenheit").press("Space")
    assert lead.inner_text() == before


def test_answers_of_the_search_follow_while_it_is_open_and_afterwards(desk_page: Page) -> None:
    desk_page.goto("/units/ferngate-f90/")
    desk_page.get_by_role("button", name="Search").click()
    desk_page.keyboard.type("ferngate")
    answer = desk_page.locator(".search__found p").first
    expect(answer).to_contain_text("Refused charge up to 6.1 ± 0.5 °C; once it accepted, it still did at 2.6 ± 0.5 °C.")
    metric = answer.inner_text()
    desk_page.get_by_role("button", name="Close").click()
    switch(desk_page)
    said = re.search(r"Refused charge up to ([^;]+)", desk_page.locator(".lead").inner_text())
    assert said
    assert "°F" in said[1]
    expect(answer).to_contain_text(" ".join(said[0].split()))
    desk_page.get_by_role("button", name="Search").click()
    desk_page.keyboard.type("ferngate f")
    expect(answer).to_contain_text(" ".join(said[0].split()))
    assert "°C" not in answer.inner_text()
    desk_page.get_by_role("button", name="Close").click()
    switch(desk_page)
    assert answer.text_content() == metric


def test_on_a_units_page_nothing_generated_stays_behind(desk_page: Page) -> None:
    """Only what names the bench or the arithmetic keeps its unit: the working, the limits per kelvin."""
    desk_page.goto("/units/ferngate-f90/")
    switch(desk_page)
    left = desk_page.evaluate(
        r"""() => [...document.querySelectorAll("article .says, article td, article th, article .facts, .lead")]
            .filter((one) => /\d[\s\u202f]?(°C|kg|mm)\b/.test(one.textContent)).map((one) => one.textContent)"""
    )
    assert [words for words in left if "per kelvin" not in words and "zero" not in words] == []


def test_a_bench_sheets_instructions_follow(desk_page: Page) -> None:
    desk_page.goto("/sheets/larkstile-l200/")
    expect(desk_page.locator("article")).to_contain_text("20 to 25 °C")
    switch(desk_page)
    article = desk_page.locator("article")
    for words in ("below 32 °F", "68 to 86 °F", "68 to 77 °F", "about 14 °F"):
        expect(article).to_contain_text(words)
    left = desk_page.locator("article p, article .says li").filter(has_text=re.compile(r"\d[\s\u202f]?°C"))
    expect(left).to_have_count(0)


def test_the_table_follows_also_where_a_script_drew_it(desk_page: Page) -> None:
    desk_page.goto("/")
    ferngate = desk_page.locator("#units tr", has_text="Ferngate F90")
    switch(desk_page)
    expect(ferngate).to_contain_text("22.88")
    expect(desk_page.locator("#units thead")).to_contain_text("Mass, lb")
    desk_page.get_by_role("button", name="Mass").click()
    expect(desk_page.locator("#table-note")).to_contain_text("Sorted by Mass, lb, ascending")
    expect(ferngate).to_contain_text("22.88")
    desk_page.get_by_text("build", exact=True).click()
    expect(desk_page.locator("#units thead")).to_contain_text("Wh/lb")
    switch(desk_page)
    expect(ferngate).to_contain_text("10.38")
    expect(desk_page.locator("#units thead")).to_contain_text("Wh/kg")


# (a column's key, the row of the comparison that has the same number)
@pytest.mark.parametrize(
    ("column", "row"), [("mass_kg", "Mass"), ("wh_per_kg", "Energy for its mass"), ("temperature_c", "Discharged at")]
)
def test_a_number_reads_alike_in_the_table_and_beside_others(desk_page: Page, column: str, row: str) -> None:
    desk_page.goto(f"/?columns={column}")
    switch(desk_page)
    expect(desk_page.locator("#units thead")).to_contain_text("°F" if column == "temperature_c" else "lb")
    told = desk_page.locator("#units tbody tr").evaluate_all(
        """rows => rows.map((row) => [row.querySelector("a").pathname.split("/").at(-2), row.cells[1].textContent])"""
    )
    exact = {name: found[0] for name, words in told if (found := re.match(r"[\d.]+\s±\s[\d.]+", words))}
    assert "ferngate-f90" in exact
    ids = list(exact)
    for four in (ids[first : first + 4] for first in range(0, len(ids), 4)):
        desk_page.goto(f"/compare/?units={','.join(four)}")
        title = desk_page.get_by_role("rowheader", name=row, exact=True)
        cells = desk_page.locator("table.sides-by tr").filter(has=title).get_by_role("cell")
        expect(cells).to_contain_text([exact[name] for name in four])


def test_a_chart_of_temperatures_follows(desk_page: Page) -> None:
    desk_page.goto("/units/ferngate-f90/")
    figure = desk_page.locator("figure.chart", has=desk_page.locator("#warming-says"))
    figure.scroll_into_view_if_needed()
    labels = figure.locator(".role-axis-label text")
    expect(labels.first).to_be_attached(timeout=15_000)
    celsius = [degrees(text) for text in labels.all_text_contents() if text.endswith("°C")]
    assert celsius
    assert all(number % 5 == 0 for number in celsius)
    switch(desk_page)
    expect(figure.locator(".role-axis-label text", has_text="°F").first).to_be_attached(timeout=15_000)
    fahrenheit = [degrees(text) for text in labels.all_text_contents() if text.endswith("°F")]
    assert all(number % 10 == 0 for number in fahrenheit)
    assert len(fahrenheit) >= 3
    low, high = min(celsius) * 1.8 + 32, max(celsius) * 1.8 + 32
    assert all(math.floor(low) - 1 <= number <= math.ceil(high) + 1 for number in fahrenheit)
    assert not [text for text in labels.all_text_contents() if "°C" in text]


def degrees(text: str) -> float:
    return float(re.sub(r"[^\d.−-]", "", text).replace("−", "-"))


def test_another_open_page_follows(desk_page: Page) -> None:
    desk_page.goto("/units/ferngate-f90/")
    other = desk_page.context.new_page()
    other.goto("/")
    switch(other)
    expect(desk_page.locator(".lead")).to_contain_text("°F")


def test_a_browser_that_keeps_nothing_still_switches(new_page: Callable[..., Page]) -> None:
    desk_page = new_page(width=1280, height=800)
    closed = (
        "Object.defineProperty(window, 'localStorage', { get() { throw new DOMException('no', 'SecurityError'); } })"
    )
    desk_page.add_init_script(closed)
    desk_page.goto("/units/ferngate-f90/")
    switch(desk_page)
    expect(desk_page.locator(".lead")).to_contain_text("°F")


def test_without_scripts_the_words_stand_as_they_are(new_page: Callable[..., Page]) -> None:
    plain = new_page(java_script_enabled=False)
    plain.goto("/units/ferngate-f90/")
    expect(plain.locator(".lead")).to_contain_text("6.1 ± 0.5 °C")
    expect(plain.locator(".measures")).to_have_count(0)


def test_the_event_names_nothing_but_the_change(desk_page: Page) -> None:
    desk_page.goto("/about/")
    desk_page.evaluate("document.addEventListener('quantities', () => (window.heard = (window.heard ?? 0) + 1))")
    switch(desk_page)
    switch(desk_page)
    assert desk_page.evaluate("window.heard") == 2
    assert json.loads(desk_page.evaluate("JSON.stringify(localStorage.getItem('measures'))")) == "metric"
