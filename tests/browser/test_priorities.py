"""Own weights: the page's scores and places are the builder's, and the order is said to be the viewer's own."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from site_builder.build import derive_all
from site_builder.derived import Derived, DerivedUnit
from site_builder.grade import Graded, graded
from site_builder.grading_records import Grading
from site_builder.pages.grade_words import place_span, points, score_span
from site_builder.rank import Place, places
from tests.browser.site_pages import violations

ROOT = Path(__file__).parent.parent.parent
RANDOM_WEIGHTINGS = 200
EQUAL = 1e-9
CLASS = "12v-100ah"

RANKINGS = """
async ([id, weightings]) => {
  await window.site.script(`data/weights/${id}.js`);
  const data = window[`weights_${id.replaceAll("-", "_")}`];
  return weightings.map((weights) => window.weightsSums.ranking(data, weights).map(({ unit, score, place }) => {
    const { value, low, high, lowEnd, highEnd, tested } = score;
    return { id: unit.id, value, low, high, lowEnd, highEnd, tested, place: place && Object.values(place) };
  }));
}
"""


@pytest.fixture(scope="module")
def demo() -> Derived:
    return derive_all(ROOT / "results", ROOT / "catalogue").derived


@pytest.fixture(scope="module")
def grading(demo: Derived) -> Grading:
    assert demo.catalogue.grading is not None
    return demo.catalogue.grading


def by_the_builder(
    units: tuple[DerivedUnit, ...], grading: Grading, weights: dict[str, float]
) -> dict[str, tuple[Graded, Place | None]]:
    """The whole grading anew, with other weights in its file."""
    criteria = {name: one.model_copy(update={"weight": weights[name]}) for name, one in grading.criteria.items()}
    other = grading.model_copy(update={"criteria": criteria})
    grades = {unit.id: graded(unit.result, unit.record, other) for unit in units}
    found = places(grades.values())
    return {name: (grade, found.get(name)) for name, grade in grades.items()}


def random_weights(seed: random.Random, names: list[str]) -> dict[str, float]:
    """Some questions not asked at all, others by whole numbers or by broken ones."""
    weights = {name: seed.choice([0.0, float(seed.randint(0, 100)), round(seed.uniform(0, 60), 1)]) for name in names}
    return weights if any(weights.values()) else weights | {names[0]: 1.0}


def test_random_weightings_have_the_builders_scores_and_places(page: Page, demo: Derived, grading: Grading) -> None:
    seed = random.Random(9)
    names, told, ungraded = list(grading.criteria), 0, 0
    page.goto("/priorities/")
    for class_id in demo.standings.classes:
        units = demo.of_class(class_id)
        weightings = [random_weights(seed, names) for _ in range(RANDOM_WEIGHTINGS)]
        answers: list[list[dict[str, Any]]] = page.evaluate(RANKINGS, [class_id, weightings])
        for weights, answer in zip(weightings, answers, strict=True):
            expected = by_the_builder(units, grading, weights)
            assert {one["id"] for one in answer} == set(expected)
            for one in answer:
                grade, place = expected[one["id"]]
                assert_same(one, grade, place, weights)
                told += place is not None and place.low == place.high
                ungraded += place is None
    # Had nobody a place of his own, or everybody a grade, the comparison would say little.
    assert told > 200
    assert ungraded > 200


def assert_same(one: dict[str, Any], grade: Graded, place: Place | None, weights: dict[str, float]) -> None:
    case = (one["id"], weights)
    assert one["place"] == (None if place is None else [place.low, place.high, place.of]), case
    assert one["tested"] == pytest.approx(grade.tested, abs=EQUAL), case
    ends = grade.ends
    assert (one["value"] is None) == (ends.value is None), case
    if ends.value is not None:
        assert one["value"] == pytest.approx(ends.value, abs=EQUAL), case
    for name, end in (("low", ends.low), ("high", ends.high), ("lowEnd", ends.low_end), ("highEnd", ends.high_end)):
        assert one[name] == pytest.approx(end, abs=EQUAL), (name, case)


def shown(page: Page) -> list[str]:
    expect(page.locator("#places li").first).to_be_visible()
    return [" ".join(words.split()) for words in page.locator("#places li").all_inner_texts()]


def test_with_the_sites_weights_the_order_is_the_sites_own_and_says_so(page: Page, demo: Derived) -> None:
    page.goto(f"/priorities/#class={CLASS}")
    lines = shown(page)
    expect(page.locator("#whose")).to_contain_text("still the site’s weights")
    expect(page.get_by_role("button", name="Back to the site’s weights")).to_be_disabled()
    held = [(demo.standings.grades[unit.id], unit) for unit in demo.of_class(CLASS)]
    known = sorted((one for one in held if one[0].score is not None), key=lambda one: (-(one[0].score or 0), one[1].id))
    assert len(lines) == len(known)
    for line, (grade, unit) in zip(lines, known, strict=True):
        place = demo.standings.places[unit.id]
        assert unit.record.unit.model in line
        assert points(grade.score or 0) in line
        assert " ".join(score_span(grade.ends).split()) in line
        assert f"{place_span(place)} of {place.of}" in line


def test_own_weights_are_said_to_be_the_viewers_and_the_address_keeps_them(page: Page) -> None:
    page.goto("/priorities/")
    before = shown(page)
    page.get_by_label("Weight: Costs little for what it holds").fill("60,5")
    expect(page.locator("#whose")).to_contain_text("By your own weights. This is your order, not the site’s grade.")
    expect(page.locator("#places li").first).to_contain_text("By the site’s weights:")
    after = shown(page)
    assert after != before
    address = page.url
    assert "w-price=60.5" in address
    page.goto("about:blank")
    page.goto(address)
    assert shown(page) == after
    assert page.get_by_label("Costs little for what it holds", exact=True).input_value() in {"60", "61"}
    page.get_by_role("button", name="Back to the site’s weights").click()
    expect(page.locator("#whose")).to_contain_text("still the site’s weights")
    assert shown(page) == before


def test_caps_are_named_and_what_was_too_little_tested_has_no_score(page: Page) -> None:
    page.goto(f"/priorities/#class={CLASS}&w-mass=100&w-label=1")
    expect(page.locator("#places")).to_contain_text("Capped at 40: It charges its cells below its own limit")
    expect(page.locator("#ungraded")).to_contain_text("Quern 12-100: no score,")
    expect(page.locator("#ungraded")).to_contain_text("of the weight tested of 60")
    expect(page.get_by_text("Findings that cap a score do so here as well")).to_be_visible()


@pytest.mark.parametrize(
    ("typed", "says"),
    [("", "Write a weight"), ("a lot", "Write a weight"), ("-1", "No less than 0"), ("1001", "No more than 1000")],
)
def test_what_is_no_weight_is_said_beside_its_field(page: Page, typed: str, says: str) -> None:
    page.goto("/priorities/")
    shown(page)
    field = page.get_by_label("Weight: Behaves in the cold")
    field.fill(typed)
    expect(field).to_have_attribute("aria-invalid", "true")
    described = field.get_attribute("aria-describedby")
    expect(page.locator(f"#{described}")).to_contain_text(says)
    expect(page.locator("#places li")).to_have_count(0)
    field.fill("15")
    expect(field).not_to_have_attribute("aria-invalid", "true")
    assert shown(page)


def test_without_any_weight_there_is_no_order(page: Page) -> None:
    page.goto("/priorities/")
    shown(page)
    for field in page.get_by_label(re.compile("^Weight: ")).all():
        field.fill("0")
    expect(page.locator("#summary")).to_have_text("Give at least one question a weight.")
    expect(page.locator("#places li")).to_have_count(0)


def test_the_keyboard_alone_weighs(page: Page) -> None:
    page.goto("/priorities/")
    shown(page)
    page.get_by_label("Batteries that are compared").focus()
    page.keyboard.press("Tab")
    slider = page.locator("#slide-label")
    expect(slider).to_be_focused()
    page.keyboard.press("ArrowRight")
    expect(page.locator("#weight-label")).to_have_value("26")
    page.keyboard.press("Tab")
    page.keyboard.press("ControlOrMeta+a")
    page.keyboard.type("80")
    expect(slider).to_have_value("80")
    expect(page.locator("#whose")).to_contain_text("your order")
    page.get_by_role("button", name="Back to the site’s weights").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#whose")).to_contain_text("still the site’s weights")
    expect(slider).to_be_focused()


def test_a_class_page_leads_to_its_own_weights(desk_page: Page) -> None:
    desk_page.goto("/classes/12v-200ah/")
    desk_page.get_by_role("link", name="Weigh them yourself").click()
    expect(desk_page.get_by_label("Batteries that are compared")).to_have_value("12v-200ah")
    expect(desk_page.locator("#places")).to_contain_text("Kelderby")


def test_without_scripts_the_page_says_what_it_would_do_and_where_to_look(new_page: Callable[..., Page]) -> None:
    view = new_page(java_script_enabled=False)
    view.goto("/priorities/")
    expect(view.locator("#weights")).to_be_hidden()
    expect(view.get_by_text("reckons in the browser")).to_be_visible()
    view.get_by_role("link", name="12 V (12.8 V nominal), 100 Ah class").first.click()
    assert view.url.endswith("/classes/12v-100ah/")


@pytest.mark.parametrize("width", [320, 390, 1280])
def test_no_violations_and_nothing_wider_than_the_screen(new_page: Callable[..., Page], width: int) -> None:
    view = new_page(width=width)
    view.goto("/priorities/#w-price=30&w-cold=-2")
    expect(view.locator(".wrong")).to_be_visible()
    assert violations(view) == []
    view.get_by_label("Weight: Behaves in the cold").fill("3")
    shown(view)
    assert view.evaluate("document.documentElement.scrollWidth") <= width
    assert violations(view) == []


def test_another_address_in_an_open_tab_is_followed(page: Page) -> None:
    page.goto("/priorities/#class=12v-100ah&w-cold=70")
    expect(page.locator("#places")).to_contain_text("Ferngate")
    page.goto("/priorities/#class=12v-200ah")
    expect(page.get_by_label("Batteries that are compared")).to_have_value("12v-200ah")
    expect(page.locator("#places")).to_contain_text("Kelderby")
    expect(page.locator("#whose")).to_contain_text("still the site’s weights")
    page.evaluate("location.hash = 'class=12v-100ah&w-price=80'")
    expect(page.get_by_label("Weight: Costs little for what it holds")).to_have_value("80")
    expect(page.locator("#places")).to_contain_text("Ferngate")
    page.go_back()
    expect(page.get_by_label("Batteries that are compared")).to_have_value("12v-200ah")


def test_the_skip_link_leaves_weights_in_the_address(page: Page) -> None:
    page.goto("/priorities/#class=12v-200ah&w-cold=70")
    before = shown(page)
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert "#" in page.url
    page.reload()
    assert shown(page) == before
    expect(page.get_by_label("Weight: Behaves in the cold")).to_have_value("70")
