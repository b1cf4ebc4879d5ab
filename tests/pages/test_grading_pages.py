"""Grades on pages: which number, anchor and weight made them, what would change them, and nothing where none is."""

from __future__ import annotations

import re
from pathlib import Path

import html5lib
import pytest

from site_builder.build import derive_all
from site_builder.derived import Derived
from site_builder.frames import frames_of
from site_builder.grade import Ends
from site_builder.pages import render_pages
from site_builder.pages.grade_words import ordinal, place_words, points, score_span, scored
from site_builder.pages.home_page import units_table
from site_builder.rank import Place
from tests.pages.test_pages import html_of, text_of
from tests.small_project import UNIT, Project, log_text, small_project
from tests.test_standing import GRADING

ROOT = Path(__file__).parents[2]
HOSTILE = "<img src=x onerror=alert(1)> {: onclick=alert(2) } </script>"


@pytest.fixture(scope="module")
def demo() -> Derived:
    return derive_all(ROOT / "results", ROOT / "catalogue").derived


@pytest.fixture(scope="module")
def pages(demo: Derived) -> dict[str, str]:
    return render_pages(demo, frames_of(demo))


@pytest.fixture
def project(tmp_path: Path) -> Project:
    made = small_project(tmp_path)
    (made.catalogue / "grading.yml").write_text(GRADING, encoding="utf-8")
    made.unit(UNIT.replace("tarn-t90", "alder-a90").replace("Tarn", "Alder"), "alder-a90.yml")
    made.log(log_text(hours=4.5), unit="alder-a90")
    return made


def rendered(project: Project) -> dict[str, str]:
    derived = derive_all(project.results, project.catalogue).derived
    return render_pages(derived, frames_of(derived))


def part_of(page: str, anchor: str) -> str:
    """What a reader reads in one section."""
    if (start := page.find(f'<h2 id="{anchor}">')) >= 0:  # a unit's sections are one block
        return text_of("---\n---\n" + re.split("<h2|<!-- /block -->", page[start + 1 :])[0])
    start = page.index(f"{{#{anchor}")
    return text_of("---\n---\n" + page[page.index("<!-- block -->", start) : page.index("<!-- /block -->", start)])


def row_of(page: str, name: str) -> dict[str, str]:
    """One row of the table of all units, by heading."""
    tree = html5lib.parseFragment(html_of(page), treebuilder="etree", namespaceHTMLElements=False)
    rows = [[" ".join("".join(cell.itertext()).split()) for cell in row] for row in tree.iter("tr")]
    return dict(zip(rows[0], next(row for row in rows if row[0] == name), strict=True))


@pytest.mark.parametrize(
    ("place", "words"),
    [
        (Place(3, 5, 9), "3rd to 5th of 9, too close to tell apart"),
        (Place(1, 2, 9), "1st or 2nd of 9, too close to tell apart"),
        (Place(11, 11, 40), "11th of 40"),
        (Place(1, 1, 1), "the only one graded"),
    ],
)
def test_a_place_reads(place: Place, words: str) -> None:
    assert place_words(place) == words


def test_ordinals_of_a_hundred_end_as_english_does() -> None:
    ends = {"1": "st", "2": "nd", "3": "rd"}
    for n in range(1, 131):
        teen = n % 100 in {11, 12, 13}
        assert ordinal(n) == f"{n}{'th' if teen else ends.get(str(n)[-1], 'th')}"


def test_an_interval_is_rounded_outwards_and_a_certain_score_has_none() -> None:
    wide = Ends(value=70.5, low_end=66, high_end=77, low=65.9, high=77.1)
    assert (points(70.5), " ".join(score_span(wide).split())) == ("71", "65 to 78")
    certain = Ends(value=200 / 3, low_end=200 / 3, high_end=200 / 3, low=200 / 3, high=200 / 3)
    assert str(scored(certain)) == "67"


def test_the_number_and_the_anchors_that_made_a_score_stand_on_the_units_page(project: Project) -> None:
    """81 Ah of 90 Ah are 90 %, half way between the anchors at 80 % and 100 %: 50 points (by hand)."""
    said = part_of(rendered(project)["units/alder-a90.md"], "grade")
    assert re.search(r"Score 50 of 100, 3\d to 6\d, .* 1 of 2 questions tested\.", said)
    assert re.search(r"Share of the label: 90\.\d ± \d\.\d %, 50 points \(0 at 80 %, 100 at 100 %\)", said)
    assert re.search(r"Has an app ?not tested ?20 %", said)
    assert "Has an app: whether its app works (it would take whether its app connects" in said
    assert "Known, the score would be 40 at worst, 60 at best." in said
    assert "(4 × 50.0) / 4 = 50.0" in said
    assert "version 3 of the grading, in force since 1 January 2026" in said


def test_the_working_of_the_demo_gives_each_score_back(demo: Derived, pages: dict[str, str]) -> None:
    """The sum that a viewer sees, done again from its own shown numbers, is the shown score."""
    checked = 0
    for name, grade in demo.standings.grades.items():
        shown = re.search(r"\(([\d.× +]+)\) / ([\d.]+) = (\d+\.\d)", part_of(pages[f"units/{name}.md"], "grade"))
        if grade.score is None:
            assert shown is None
            continue
        assert shown
        terms = [[float(number) for number in term.split("×")] for term in shown[1].split("+")]
        mean = sum(weight * value for weight, value in terms) / float(shown[2])
        assert mean == pytest.approx(float(shown[3]), abs=0.3)
        assert grade.score == pytest.approx(min(float(shown[3]), grade.cap or 100), abs=0.051)
        checked += 1
    assert checked >= 7


@pytest.mark.parametrize(
    ("uri", "anchor", "says"),
    [
        ("units/nettle-95.md", "grade", r"charges its cells below its own limit: no score above 40\. Seen: −11.4"),
        ("units/nettle-95.md", "grade", r"Without that its score would be 60"),
        ("units/thrushby-t100.md", "grade", r"No grade: 51 % of the weight was tested, and a grade takes 60 %"),
        ("units/thrushby-t100.md", "grade", r"With it there would be a grade: \d\d at worst, \d\d at best"),
        (
            "units/saltby-100.md",
            "grade",
            r"at least 92 % \(95 % less its ±\); 50 points for 95 % \(50 at 95 %, 90 at 100 %\)",
        ),
        ("units/ferngate-f90.md", "grade", r"starts, then cuts off, 30 points: table saw"),
        ("classes/12v-100ah.md", "standing", r"Tolgate 100L leads, by more than the evidence can be off"),
        ("classes/12v-100ah.md", "standing", r"Quern 12-100: no grade, 11 % of the weight tested of 60 %"),
        ("classes/12v-100ah.md", "changes", r"“Carries overload and recovers” has 20 % of the weight: above 50 %"),
        ("classes/12v-100ah.md", "value", r"Price is no part of the score"),
        ("classes/12v-lead-acid.md", "standing", r"None of them is graded yet"),
        ("methods/grading.md", "places", r"Mogstad.*Romano.*Shaikh.*Wilhelm 2023.*Holm 1979"),
        ("methods/grading.md", "cold", r"30 min ?100 ?Half an hour costs a winter's day nothing"),
        ("methods/grading.md", "caps", r"It does not cut off on overload ?40"),
    ],
)
def test_a_page_says(pages: dict[str, str], uri: str, anchor: str, says: str) -> None:
    assert re.search(says, part_of(pages[uri], anchor))


def test_the_first_screen_has_score_and_place(pages: dict[str, str]) -> None:
    page = pages["units/ferngate-f90.md"]
    facts = text_of("---\n---\n" + page[page.index("<dl") : page.index("</dl>")])
    assert re.search(r"Score of 100 ?9\d \d\d to 9\d ?what these instruments allow; 7 of 7 questions tested", facts)
    assert re.search(r"Place in its class ?2nd to 4th of 6 ?too close to tell apart", facts)


def test_every_criterion_anchor_and_reason_stands_on_the_page_of_the_grading(
    demo: Derived, pages: dict[str, str]
) -> None:
    text, grading = text_of(pages["methods/grading.md"]), demo.catalogue.grading
    assert grading is not None
    for name, one in grading.criteria.items():
        assert f"{{#{name}}}" in pages["methods/grading.md"]
        reasons = [one.because, *(part.because for part in one.parts)]
        reasons += [corner.because for part in one.parts for corner in part.anchors]
        reasons += [level.because for part in one.parts for level in part.levels.values()]
        for reason in [one.title, *reasons]:
            assert " ".join(reason.split()) in text
    figures = pages["methods/grading.md"].count("<figure")
    assert figures == sum(len(one.parts) for one in grading.criteria.values())


def test_a_class_is_ordered_by_score(demo: Derived, pages: dict[str, str]) -> None:
    drawn = re.search(r'"scores":"(.*?)"\}', pages["classes/12v-100ah.md"].replace('\\"', "'"))
    assert drawn
    rows = [line.split(",") for line in drawn[1].split("\\n")[1:-1]]
    values = [float(row[2]) for row in rows]
    assert values == sorted(values, reverse=True)
    assert len(values) == len([1 for unit in demo.of_class("12v-100ah") if unit.id in demo.standings.places])


def test_the_value_order_is_by_price_alone(pages: dict[str, str]) -> None:
    said = part_of(pages["classes/12v-100ah.md"], "value")
    names = ("Wendlecote W100", "Nettle 95", "Saltby 100", "Thrushby T100", "Tolgate 100L", "Ferngate F90")
    found = [said.index(name) for name in names]
    assert found == sorted(found)


def test_a_stale_price_says_so_beside_its_place(project: Project) -> None:
    prices = project.results / "prices.csv"
    prices.write_text(prices.read_text("utf-8").replace("2026-05-01", "2024-03-02"), encoding="utf-8")
    assert "500 € 2 March 2024 (older than 12 months)" in part_of(rendered(project)["classes/12v-100ah.md"], "value")


def test_the_table_of_all_units_has_score_and_place_and_sorts_capped_ones_by_their_value(
    demo: Derived, pages: dict[str, str]
) -> None:
    home = pages["index.md"]
    assert row_of(home, "Nettle 95")["Score of 100"] == "40 capped"
    assert row_of(home, "Quern 12-100")["Score of 100"] == "too little tested"
    assert row_of(home, "Ferngate F90")["Place in class"] == "2nd to 4th of 6"
    row = next(row for row in units_table(demo, frames_of(demo)).rows if row.name == "Nettle 95")
    assert (row.cells[0].value, row.cells[0].bound) == (40.0, None)


def test_without_a_grading_no_page_speaks_of_one(project: Project) -> None:
    (project.catalogue / "grading.yml").unlink()
    found = rendered(project)
    assert "methods/grading.md" not in found
    for page in found.values():
        assert not re.search(r"[Ss]core|[Gg]rad(e|ing)|too close", text_of(page))


def test_no_text_of_the_grading_becomes_markup(project: Project) -> None:
    text = GRADING.replace("Has an app", f"'{HOSTILE}'").replace("because: a test", f"because: '{HOSTILE}'")
    (project.catalogue / "grading.yml").write_text(text, encoding="utf-8")
    for page in rendered(project).values():
        tree = html5lib.parseFragment(html_of(page), treebuilder="etree", namespaceHTMLElements=False)
        assert not list(tree.iter("img"))
        assert not [element for element in tree.iter() if "onclick" in element.attrib]


def test_pages_have_no_letters_or_medals_for_grades(pages: dict[str, str]) -> None:
    words = re.compile(r"\b(gold|silver|bronze|stars?|medals?|badges?|winners?|best buy)\b", re.IGNORECASE)
    for uri in ("classes/12v-100ah.md", "methods/grading.md", "index.md"):
        assert not words.search(text_of(pages[uri])), uri
