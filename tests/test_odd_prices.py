"""A price ten times its class, either way."""

from __future__ import annotations

from pathlib import Path

import pytest

from site_builder.build import derive_all
from site_builder.problems import Problem
from tests.small_project import UNIT, Project, log_text, small_project

HEADING = "date,unit,amount,currency,kind,seller\n"


@pytest.fixture
def project(tmp_path: Path) -> Project:
    made = small_project(tmp_path)
    for name in ("alder-a90", "birch-b90"):
        made.unit(UNIT.replace("tarn-t90", name), f"{name}.yml")
        made.log(log_text(), unit=name)
    return made


def found(project: Project, *prices: tuple[str, float, str], only: str | None = None) -> list[Problem]:
    rows = "".join(f"2026-05-01,{unit},{amount},{currency},paid,a chandlery\n" for unit, amount, currency in prices)
    (project.results / "prices.csv").write_text(HEADING + rows, encoding="utf-8")
    files = [project.results / only] if only else None
    return list(derive_all(project.results, project.catalogue, files).problems)


def test_one_with_a_digit_too_many(project: Project) -> None:
    (problem,) = found(project, ("alder-a90", 300, "EUR"), ("birch-b90", 320, "EUR"), ("tarn-t90", 3200, "EUR"))
    assert str(problem) == (
        "results/tarn-t90.yml:1:7: warning: unit: line 4 of prices.csv says 3200 EUR, which is 10.3 times what its "
        "class costs for a rated kWh; check amount and currency, or answer price-odd under acknowledged"
    )


def test_one_with_a_digit_lost(project: Project) -> None:
    (problem,) = found(project, ("alder-a90", 300, "EUR"), ("birch-b90", 320, "EUR"), ("tarn-t90", 30, "EUR"))
    assert (
        problem.message == "line 4 of prices.csv says 30 EUR, which is a 10.3th of what its class costs for a rated kWh"
    )


@pytest.mark.parametrize("amount", [32, 3000])
def test_a_bargain_and_a_dear_one_are_not_odd(project: Project, amount: float) -> None:
    assert found(project, ("alder-a90", 300, "EUR"), ("birch-b90", 320, "EUR"), ("tarn-t90", amount, "EUR")) == []


def test_currencies_are_compared_by_their_rate(project: Project) -> None:
    """A dollar is 0.9 € here: 3400 of them are 3060 €, not ten times 310 €; 3500 are."""
    others = (("alder-a90", 300, "EUR"), ("birch-b90", 320, "EUR"))
    assert found(project, *others, ("tarn-t90", 3400, "USD")) == []
    assert [problem.code for problem in found(project, *others, ("tarn-t90", 3500, "USD"))] == ["price-odd"]


def test_with_a_single_other_nobody_can_tell_which_is_odd(project: Project) -> None:
    assert found(project, ("alder-a90", 300, "EUR"), ("tarn-t90", 30_000, "EUR")) == []


def test_a_file_checked_alone_is_compared_with_its_whole_class(project: Project) -> None:
    rows = (("alder-a90", 300, "EUR"), ("birch-b90", 320, "EUR"), ("tarn-t90", 3200, "EUR"))
    assert [problem.code for problem in found(project, *rows, only="tarn-t90.yml")] == ["price-odd"]
    assert found(project, *rows, only="alder-a90.yml") == []


def test_another_class_is_no_measure(project: Project) -> None:
    project.change("capacity_ah: 90", "capacity_ah: 200")
    problems = found(project, ("alder-a90", 300, "EUR"), ("birch-b90", 320, "EUR"), ("tarn-t90", 30_000, "EUR"))
    assert [problem.code for problem in problems] == ["class-none"]


def test_it_can_be_answered(project: Project) -> None:
    path = project.results / "tarn-t90.yml"
    answer = "acknowledged: [{code: price-odd, reason: A prototype.}]\n"
    path.write_text(path.read_text(encoding="utf-8") + answer, encoding="utf-8")
    rows = (("alder-a90", 300, "EUR"), ("birch-b90", 320, "EUR"), ("tarn-t90", 3200, "EUR"))
    assert found(project, *rows) == []
    assert found(project, *rows, only="tarn-t90.yml") == []
