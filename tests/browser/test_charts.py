"""Charts as they are drawn: when, how large, in which colours, and no label on a line that it does not name."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.site_pages import draw_all

UNITS = [
    "ferngate-f90", "wendlecote-w100", "thrushby-t100", "saltby-100", "tolgate-100l", "mossgarth-m24", "quern-12-100",
]  # fmt: skip


def test_the_library_is_fetched_only_when_a_chart_comes_into_view(new_page: Callable[..., Page]) -> None:
    page = new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto("/methods/capacity/")
    page.goto("/")
    page.wait_for_load_state("networkidle")
    assert not [url for url in asked if "charts-library" in url]
    page.goto("/units/ferngate-f90/")
    draw_all(page)
    assert len([url for url in asked if "charts-library" in url]) == 1


@pytest.mark.parametrize("width", [390, 1280])
def test_charts_fill_the_place_that_was_kept_for_them(new_page: Callable[..., Page], width: int) -> None:
    view = new_page(width=width)
    view.goto("/units/ferngate-f90/")
    view.wait_for_load_state("networkidle")
    before = view.evaluate("document.documentElement.scrollHeight")
    draw_all(view)
    assert view.evaluate("document.documentElement.scrollHeight") == before
    for picture in view.locator(".picture").all():
        place, drawn = picture.bounding_box(), picture.locator("svg").bounding_box()
        assert place
        assert drawn
        assert drawn["width"] == pytest.approx(place["width"], abs=1)
        assert drawn["width"] > 300
        assert drawn["height"] == pytest.approx(place["height"], abs=1)


OVERLAPS = """() => [...document.querySelectorAll('.picture svg')].flatMap(svg => {
  const frame = svg.getBoundingClientRect();
  const texts = [...svg.querySelectorAll('.role-mark text')].filter(t => t.textContent);
  const boxes = texts.map(t => [t.textContent, t.getBoundingClientRect()]);
  const rules = svg.querySelectorAll('.mark-rule line, .role-axis-grid line');
  const lines = [...rules].map(line => line.getBoundingClientRect());
  const beside = (a, b) => a.right <= b.left + 1 || a.left >= b.right - 1;
  const above = (a, b) => a.bottom <= b.top + 1 || a.top >= b.bottom - 1;
  const crosses = (a, b) => !beside(a, b) && !above(a, b);
  const meets = boxes.flatMap(([words, box], i) => [
    ...lines.filter(line => crosses(box, line)).map(() => words + ' on a line'),
    ...boxes.slice(i + 1).filter(([, other]) => crosses(box, other)).map(([other]) => words + ' on ' + other)]);
  const inside = box => box.left > frame.left - 1 && box.right < frame.right + 1 && box.top > frame.top - 1;
  const outside = boxes.filter(([, box]) => !inside(box));
  return [...meets, ...outside.map(([words]) => words + ' outside')];
})"""


@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize(
    "address", [*(f"/units/{unit}/" for unit in UNITS), "/classes/12v-100ah/", "/loads/table-saw/"]
)
def test_no_label_sits_on_a_line_or_on_another_label(new_page: Callable[..., Page], address: str, width: int) -> None:
    view = new_page(width=width)
    view.goto(address)
    draw_all(view)
    assert view.evaluate(OVERLAPS) == []


def test_what_is_drawn_can_be_taken_along_as_csv(desk_page: Page) -> None:
    desk_page.goto("/units/ferngate-f90/")
    figures = desk_page.locator("figure.chart")
    for figure in figures.all():
        figure.locator("summary").click()
        expect(figure.locator(".numbers a[download]").first).to_be_visible()
    with desk_page.expect_download() as download:
        desk_page.locator("#curve-says ~ details .numbers").get_by_role("link", name="curves").click()
    assert download.value.suggested_filename == "ferngate-f90-curve-curves.csv"
    heading, *rows = Path(download.value.path()).read_text("utf-8").splitlines()
    assert heading == "curve,charge_ah,voltage_v"
    ours = [row.split(",") for row in rows if row.startswith("-1,")]
    assert len(ours) > 10
    assert float(ours[-1][1]) == pytest.approx(91.3, abs=0.1)


def colour_of_this(view: Page) -> Any:
    curve = view.locator("#curve-says ~ .picture svg .mark-line path").last
    return curve.evaluate("path => getComputedStyle(path).stroke")


def test_charts_follow_the_colours_of_the_page_without_being_drawn_again(new_page: Callable[..., Page]) -> None:
    view = new_page(width=1280, color_scheme="light")
    view.goto("/units/ferngate-f90/")
    draw_all(view)
    assert colour_of_this(view) == "rgb(0, 114, 178)"  # Okabe and Ito 2008, blue
    view.emulate_media(color_scheme="dark")
    view.locator("#scheme-button").wait_for()
    view.wait_for_function("document.body.dataset.mdColorScheme === 'slate'")
    assert colour_of_this(view) == "rgb(86, 180, 233)"  # Okabe and Ito 2008, sky blue


def test_a_chart_that_cannot_be_drawn_says_so_and_its_table_is_there(new_page: Callable[..., Page]) -> None:
    view = new_page(width=390, java_script_enabled=False)
    view.goto("/units/ferngate-f90/")
    curve = view.locator("figure.chart", has=view.locator("#curve-says"))
    curve.locator("summary").click()
    expect(curve.locator("table")).to_be_visible()
    expect(curve.locator(".picture")).to_be_hidden()


def test_a_turned_phone_gets_the_other_layout(new_page: Callable[..., Page]) -> None:
    view = new_page(width=390)
    view.goto("/classes/12v-100ah/")
    draw_all(view)
    expect(view.locator("figure.chart").last).to_have_attribute("data-drawn", "narrow")
    view.set_viewport_size({"width": 844, "height": 390})
    expect(view.locator("figure.chart").last).to_have_attribute("data-drawn", "wide")
