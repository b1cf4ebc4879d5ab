"""A load that starts and that the battery is known to cut off: said with its evidence, without hours, on every page."""

from __future__ import annotations

import re
import shutil
from html import unescape
from pathlib import Path

import pytest

from site_builder.build import derive_all
from site_builder.derived import Derived, DerivedUnit
from site_builder.pages.compared import questions_of
from site_builder.pages.compared_cells import Cell
from site_builder.pages.loads_pages import load_page, loads_page
from site_builder.pages.runs_section import runs_section

ROOT = Path(__file__).parents[2]
STEPS = """    points:
      - {current_a: 60, duration_s: over 30 min, held: true}
      - {current_a: %s, duration_s: 20 to 21, held: false}
      - {current_a: 190, duration_s: 5 to 6, held: false}
    came_back"""
CUT_OFF = "cut off at 90.0 ± 1.3 A after 20 to 21 s"


def with_trip_at(tmp_path: Path, current_a: int) -> Derived:
    """The demo, its Kelderby tripping at this current; a microwave oven takes 98 A of it, 160 A at its start."""
    shutil.copytree(ROOT / "results", tmp_path / "results")
    file = tmp_path / "results" / "kelderby-k280.yml"
    text = re.sub(r"(?s)    points:.*?came_back", STEPS % current_a, file.read_text(encoding="utf-8"), count=1)
    file.write_text(text, encoding="utf-8")
    return derive_all(tmp_path / "results", ROOT / "catalogue").derived


def kelderby(derived: Derived) -> DerivedUnit:
    return next(unit for unit in derived.units if unit.id == "kelderby-k280")


def compared(derived: Derived) -> Cell:
    """What the comparison says of it with a microwave oven."""
    rows = (row for question in questions_of(derived) for row in question.rows)
    (cell,) = (row.cell(kelderby(derived)) for row in rows if row.key == "load-microwave")
    assert cell is not None
    return cell


def plain(words: object) -> str:
    spaced = re.sub(r"<br>|<small>", " ", str(words))
    return " ".join(unescape(re.sub(r"<[^>]*>", "", spaced)).split())


@pytest.fixture(scope="module")
def tripping(tmp_path_factory: pytest.TempPathFactory) -> Derived:
    return with_trip_at(tmp_path_factory.mktemp("tripping"), 90)


def test_the_page_of_the_load_says_it_starts_and_is_cut_off(tripping: Derived) -> None:
    (section,) = load_page("microwave", tripping).sections
    (row,) = (row for row in section.tables[0].rows if "Kelderby" in plain(row[0].words))
    assert plain(row[2].words).startswith(f"starts, then {CUT_OFF}: carried 190 ± 3 A that long")
    assert "units/kelderby-k280/#test-overload" in str(row[2].words)
    assert plain(row[3].words) == "cut off while it is on"
    assert "one would cut off while it is on" in plain(load_page("microwave", tripping).lead)


def test_so_does_the_table_of_all_loads(tripping: Derived) -> None:
    tables = [section.tables[0] for section in loads_page(tripping).sections]
    (found,) = (
        plain(row[place].words)
        for table in tables
        for place, column in enumerate(table.columns)
        if "Kelderby" in plain(column.heading)
        for row in table.rows
        if plain(row[0].words) == "Microwave oven"
    )
    assert found == f"starts, then {CUT_OFF}"


def test_so_do_the_page_of_the_battery_and_the_comparison(tripping: Derived) -> None:
    unit = kelderby(tripping)
    section = runs_section(unit, tripping.catalogue.loads, tripping.catalogue.benches)
    says = [plain(words) for fold in section.folds for words in fold.says]
    assert any(one.startswith(f"Starts, then {CUT_OFF}: ") and "Microwave oven" in one for one in says)
    cell = compared(tripping)
    assert plain(cell.words).startswith(f"starts, then {CUT_OFF}")
    assert cell.number is None


def test_between_what_was_held_and_what_was_cut_off_the_hours_say_that_it_may_be(tmp_path: Path) -> None:
    derived = with_trip_at(tmp_path, 150)
    cell = compared(derived)
    assert "h (projected)" in plain(cell.words)
    assert "may be cut off before" in str(cell.note)
    (section,) = load_page("microwave", derived).sections
    (of_load,) = (row for row in section.tables[0].rows if "Kelderby" in plain(row[0].words))
    assert "may be cut off before" in plain(of_load[2].words)
    assert plain(of_load[3].words).endswith(" h")
