"""Folders → records: order, positions, tables; exact wordings are kept in tests/data/invalid."""

from __future__ import annotations

from pathlib import Path

import pytest

from site_builder.load import Loaded, read_all, read_document, read_unit, shown_name, unit_paths
from tests.small_project import UNIT, Project, small_project


@pytest.fixture
def project(tmp_path: Path) -> Project:
    return small_project(tmp_path)


def read(project: Project, only: frozenset[Path] | None = None) -> Loaded:
    return read_all(project.results, project.catalogue, only)


def codes(loaded: Loaded) -> list[tuple[str, int, str]]:
    return [(problem.file, problem.line, problem.code) for problem in loaded.problems]


def test_a_whole_project(project: Project) -> None:
    loaded = read(project)
    assert loaded.problems == ()
    assert [unit.record.unit.id for unit in loaded.units] == ["tarn-t90"]
    catalogue = loaded.catalogue
    assert list(catalogue.benches) == ["quay"]
    assert list(catalogue.loads) == ["bilge-pump", "kettle"]
    assert list(catalogue.classes) == ["12v-100ah"]
    assert catalogue.rates.currency == "EUR"
    assert [(price.unit, price.amount.best) for price in catalogue.prices] == [("tarn-t90", 500)]
    assert loaded.price_lines == (2,)


def test_units_come_in_the_order_of_their_names(project: Project) -> None:
    for name in ("zither", "alder", "Birch"):
        project.unit(UNIT.replace("tarn-t90", name.lower()), f"{name}.yml")
    (project.results / "notes.txt").write_text("not a result")
    (project.results / "old.yaml").write_text(UNIT.replace("tarn-t90", "old"))
    names = [path.name for path in unit_paths(project.results)]
    assert names == ["Birch.yml", "alder.yml", "old.yaml", "tarn-t90.yml", "zither.yml"]


def test_one_file_alone(project: Project) -> None:
    other = project.unit(UNIT.replace("tarn-t90", "alder"), "alder.yml")
    loaded = read(project, frozenset({other.resolve()}))
    assert [unit.record.unit.id for unit in loaded.units] == ["alder"]
    assert loaded.catalogue.benches


def test_a_file_with_a_problem_is_left_out_and_the_others_are_read(project: Project) -> None:
    project.unit(UNIT.replace("tarn-t90", "alder").replace("12.8", "12.8 A"), "alder.yml")
    loaded = read(project)
    assert [unit.record.unit.id for unit in loaded.units] == ["tarn-t90"]
    assert codes(loaded) == [("results/alder.yml", 5, "value-dimension")]


@pytest.mark.parametrize("name", ["instruments.yml", "loads.yml", "classes.yml", "rates.yml"])
def test_catalogue_files_may_be_missing(project: Project, name: str) -> None:
    (project.catalogue / name).unlink()
    loaded = read(project)
    assert loaded.problems == ()
    assert name not in loaded.documents


def test_a_problem_of_the_catalogue_has_its_place(project: Project) -> None:
    path = project.catalogue / "loads.yml"
    path.write_text(path.read_text() + "lamp: {title: Lamp, running_w: 5 A}\n")
    loaded = read(project)
    assert codes(loaded) == [("catalogue/loads.yml", 3, "value-dimension")]
    assert not loaded.catalogue.loads


@pytest.mark.parametrize(
    ("lines", "found", "kept"),
    [
        pytest.param(["2026-05-02,tarn-t90,free,EUR,paid,shop"], [(3, "value-form")], 1, id="no number"),
        pytest.param(["2026-05-02,tarn-t90,5,EUR,paid"], [(3, "prices-form")], 1, id="a cell too few"),
        pytest.param(["2026-05-02,tarn-t90,5,EUR,paid,shop,x"], [(3, "prices-form")], 1, id="a cell too many"),
        pytest.param(["2026-05-02,tarn-t90,450.50,USD,sale,shop"], [], 2, id="another price"),
        pytest.param(['2026-05-02,tarn-t90,5,EUR,paid,"a, b"'], [], 2, id="a comma in quotes"),
        pytest.param(["2026-05-02, tarn-t90 , 5 ,EUR,paid, shop"], [], 2, id="blanks"),
        pytest.param(["x,tarn-t90,5,EUR,paid,s", "2026-05-02,tarn-t90,6,EUR,paid,s"], [(3, "date-form")], 2, id="both"),
    ],
)
def test_prices(project: Project, lines: list[str], found: list[tuple[int, str]], kept: int) -> None:
    path = project.results / "prices.csv"
    path.write_text(path.read_text() + "".join(f"{line}\n" for line in lines))
    loaded = read(project)
    assert codes(loaded) == [("results/prices.csv", line, code) for line, code in found]
    assert len(loaded.catalogue.prices) == len(loaded.price_lines) == kept


def test_prices_under_another_heading(project: Project) -> None:
    (project.results / "prices.csv").write_text("when,what,how much\n")
    loaded = read(project)
    assert codes(loaded) == [("results/prices.csv", 1, "prices-form")]
    assert loaded.catalogue.prices == ()


def test_no_prices_at_all(project: Project) -> None:
    (project.results / "prices.csv").unlink()
    loaded = read(project)
    assert (loaded.problems, loaded.catalogue.prices) == ((), ())


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    made, document, problems = read_unit(tmp_path / "none.yml", tmp_path)
    assert made is None
    assert document.root is None
    assert [(problem.file, problem.code) for problem in problems] == [("none.yml", "file-missing")]
    assert read_document(tmp_path, tmp_path).problems[0].code == "file-missing"


def test_names_are_shown_from_the_project(tmp_path: Path) -> None:
    assert shown_name(tmp_path / "results" / "a.yml", tmp_path) == "results/a.yml"
    assert shown_name(tmp_path / "results" / ".." / "a.yml", tmp_path) == "a.yml"
    assert shown_name(tmp_path.parent / "a.yml", tmp_path) == (tmp_path.parent / "a.yml").as_posix()
