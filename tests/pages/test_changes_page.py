"""The page of changes and the history on a unit's page, word for word."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import pytest

from site_builder.build import derive_all
from site_builder.pages.changes_page import changes_page
from site_builder.pages.history_words import corrected_since
from site_builder.pages.rendering import render_page
from tests.small_project import UNIT, Project, log_text, small_project

MORE = """\
    video: {in: first, from: 1:00}
videos:
  first: {url: "https://example.org/v/1", title: Ninety?, date: 2026-05-30}
  later: {url: "https://example.org/v/2", title: Again, date: 2026-08-30}
history:
  - {date: 2026-05-30, what: added, note: First results.}
  - {date: 2026-06-02, what: corrected, tests: [run], note: The shunt was scaled wrongly., found_by: a viewer}
  - {date: 2026-06-20, what: disputed, tests: [run], note: It asks for more., kept_because: It delivered less.}
  - {date: 2026-07-01, what: firmware, note: The app brought 1.5.}
  - {date: 2026-07-02, what: maker_says, note: The next ones hold more.}
  - {date: 2026-07-03, what: retested, tests: [run], note: With the new firmware.}
  - {date: 2026-07-04, what: died, sample: a, note: After a month.}
  - {date: 2026-07-05, what: replaced, note: By the shop.}
  - {date: 2026-07-06, what: discontinued, note: Sold out.}
"""


@pytest.fixture
def project(tmp_path: Path) -> Project:
    made = small_project(tmp_path)
    made.unit(UNIT + MORE)
    return made


def lines(project: Project) -> list[str]:
    """The page's entries as a reader reads them, headings with a mark."""
    derived = derive_all(project.results, project.catalogue).derived
    page = render_page(changes_page(derived))
    found = re.findall(r"^## [^{\n]+|^<li>.*", page, re.MULTILINE)
    return [re.sub(r"<[^>]+>", "", one).strip() for one in found]


def test_every_kind_newest_first(project: Project) -> None:
    assert lines(project) == [
        "## July 2026",
        "6 July 2026: Tarn T90. Discontinued. Sold out.",
        "5 July 2026: Tarn T90. Replaced. By the shop.",
        "4 July 2026: Tarn T90. Died. After a month.",
        "3 July 2026: Tarn T90. Tested again (run). With the new firmware.",
        "2 July 2026: Tarn T90. The maker says. The next ones hold more.",
        "1 July 2026: Tarn T90. New firmware. The app brought 1.5.",
        "## June 2026",
        "20 June 2026: Tarn T90. The maker disputes this (run). It asks for more. Kept because: It delivered less.",
        (
            "2 June 2026: Tarn T90. Corrected (run). The shunt was scaled wrongly. Found by a viewer. Corrected "
            "since this "
            "video: “Ninety?”."
        ),
        "## May 2026",
        "30 May 2026: Tarn T90. Added. First results.",
    ]


def test_corrections_of_many_name_bench_and_units(project: Project) -> None:
    changes = """\
- {date: 2026-08-01, what: bench, bench: quay, note: The shunt was checked.}
- {date: 2026-08-02, what: load, units: [tarn-t90, alder-a90], note: The kettle was weighed.}
- {date: 2026-08-03, what: grading, note: One anchor more.}
- {date: 2026-08-04, what: method, note: Gaps count.}
- {date: 2026-08-05, what: code, note: A sign.}
"""
    (project.catalogue / "changes.yml").write_text(changes, encoding="utf-8")
    project.unit(UNIT.replace("tarn-t90", "alder-a90").replace("T90", "T90, status: embargoed"), "alder-a90.yml")
    project.log(log_text(), unit="alder-a90")
    assert lines(project)[:6] == [
        "## August 2026",
        "5 August 2026: The program that works the numbers out. A sign.",
        "4 August 2026: A method. Gaps count.",
        "3 August 2026: The grading. One anchor more.",
        "2 August 2026: A load. The kettle was weighed. Touches Tarn T90.",
        "1 August 2026: A bench (Quay bench). The shunt was checked.",
    ]


def test_an_embargoed_unit_is_not_on_it(project: Project) -> None:
    project.change("model: T90", "model: T90, status: embargoed")
    assert lines(project) == []


def test_a_page_of_no_changes_says_so(tmp_path: Path) -> None:
    project = small_project(tmp_path)
    page = render_page(changes_page(derive_all(project.results, project.catalogue).derived))
    assert "Nothing has changed since the first results." in page


def test_recorded_text_stays_text(project: Project) -> None:
    project.change("note: Sold out.", "note: '<b>Sold</b> [out](https://x.example) {#id}'")
    page = render_page(changes_page(derive_all(project.results, project.catalogue).derived))
    assert "&lt;b&gt;Sold&lt;/b&gt;" in page
    assert "<b>" not in page


@pytest.mark.parametrize(
    ("old", "new", "when"),
    [
        ("", "", dt.date(2026, 6, 2)),
        ("video: {in: first", "video: {in: later", None),
        ("what: corrected, tests: [run]", "what: corrected", dt.date(2026, 6, 2)),
        ("what: corrected", "what: retested", None),
        ("date: 2026-06-02", "date: 2026-05-30", None),
    ],
)
def test_a_video_is_marked_where_the_test_was_corrected_after_it(
    project: Project, old: str, new: str, when: dt.date | None
) -> None:
    if old:
        project.change(old, new)
    (unit,) = derive_all(project.results, project.catalogue).derived.units
    assert corrected_since("run", unit.record) == when
