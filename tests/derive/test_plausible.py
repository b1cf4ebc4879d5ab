"""Odd figures, each with its exact words; what is merely unusual stays silent."""

from __future__ import annotations

from pathlib import Path

import pytest

from site_builder.build import derive_all
from site_builder.derive.plausible import CHEMISTRIES, cells_in_series
from site_builder.records import Label
from tests.small_project import Project, log_text, small_project


@pytest.fixture
def project(tmp_path: Path) -> Project:
    return small_project(tmp_path)


def found(project: Project) -> list[str]:
    """Every problem as it is printed."""
    return [str(problem) for problem in derive_all(project.results, project.catalogue).problems]


def test_an_ordinary_unit_is_not_odd(project: Project) -> None:
    project.change(
        "capacity_ah: 90}", "capacity_ah: 90, mass_kg: 10.4, size_mm: {length: 300, width: 170, height: 210}}"
    )
    assert found(project) == []


def test_more_energy_than_its_mass_can_hold(project: Project) -> None:
    """90 Ah at 13 V are 1170 Wh; 5.2 kg of LiFePO4 would hold 225 Wh/kg."""
    project.change("capacity_ah: 90}", "capacity_ah: 90, mass_kg: 5.2}")
    assert found(project) == [
        (
            "results/tarn-t90.yml:8:5: warning: tests.run: 225 Wh/kg is more than LiFePO4 can hold (200 Wh/kg); "
            "check the mass, the energy, the chemistry"
        )
    ]


def test_more_energy_than_its_size_can_hold(project: Project) -> None:
    """20 cm in a cube of 10 cm by 10 cm are 2 L: 585 Wh/L."""
    project.change("capacity_ah: 90}", "capacity_ah: 90, size_mm: {length: 200, width: 100, height: 100}}")
    assert found(project) == [
        (
            "results/tarn-t90.yml:8:5: warning: tests.run: 585 Wh/L is more than LiFePO4 can hold (450 Wh/L); "
            "check the size, the energy, the chemistry"
        )
    ]


def test_a_mean_voltage_that_its_cells_do_not_have(project: Project) -> None:
    """A column in the wrong place: 16 V from four cells."""
    rows = ["s,A,V", *(f"{10 * i},18,{16.1 - 0.0001 * i:.4f}" for i in range(1801)), ""]
    project.log("\n".join(rows))
    (line,) = found(project)
    assert line == (
        "results/tarn-t90.yml:8:5: warning: tests.run: 16.01 V on average is not what 4 cells of LiFePO4 deliver "
        "(11.6 to 13.6 V); check the voltage's column, the nominal voltage, the chemistry"
    )


def test_a_counter_that_shows_the_label(project: Project) -> None:
    project.change("log: run.csv", "counted_ah: 90")
    assert found(project) == [
        (
            "results/tarn-t90.yml:11:17: warning: tests.run.counted_ah: the counter showed exactly the rated "
            "capacity, as "
            "if it were copied from the label; write what it showed, with its decimals, or say why it is right"
        )
    ]


@pytest.mark.parametrize("counted", ["89.9", "about 90", "over 90"])
def test_a_counter_that_shows_anything_else(project: Project, counted: str) -> None:
    project.change("log: run.csv", f"counted_ah: {counted}")
    assert found(project) == []


def test_a_log_and_a_counter_that_disagree(project: Project) -> None:
    project.change("log: run.csv", "log: run.csv\n    counted_ah: 80")
    (line,) = found(project)
    assert "tests.run.counted_ah: the counter's 80 Ah and the log's 90 Ah differ by more than their limits" in line


def test_an_answer_silences_a_warning_and_is_kept(project: Project) -> None:
    project.change("log: run.csv", "counted_ah: 90")
    path = project.results / "tarn-t90.yml"
    answer = "acknowledged: [{code: counted-rated, tests: [run], reason: It showed 90.0 on the day.}]\n"
    path.write_text(path.read_text(encoding="utf-8") + answer, encoding="utf-8")
    assert found(project) == []


@pytest.mark.parametrize(
    ("chemistry", "nominal_v", "cells"),
    [
        ("LiFePO4", 12.8, 4),
        ("LiFePO4", 25.6, 8),
        ("LiFePO4", 51.2, 16),
        ("lead-acid AGM", 12, 6),
        ("lead-acid gel", 6, 3),
        ("NMC", 14.8, 4),
        ("NMC", 11.1, 3),
        ("LTO", 13.8, 6),
        ("sodium-ion", 12.4, 4),
        ("LiFePO4", 1.0, 1),
    ],
)
def test_cells_in_series(chemistry: str, nominal_v: float, cells: int) -> None:
    label = Label.model_validate({"chemistry": chemistry, "nominal_v": nominal_v, "capacity_ah": 100})
    assert cells_in_series(label) == cells


def test_every_chemistry_of_a_label_has_its_limits() -> None:
    known = Label.model_json_schema()["properties"]["chemistry"]["enum"]
    assert set(known) == set(CHEMISTRIES)


def test_two_tests_each_have_their_own_warning(project: Project) -> None:
    again = "  again: {kind: capacity, date: 2026-05-08, battery_c: 22, counted_ah: 90, ended_by: bms}\n"
    path = project.results / "tarn-t90.yml"
    path.write_text(path.read_text(encoding="utf-8") + again, encoding="utf-8")
    project.log(log_text())
    assert [line.partition(": the ")[0] for line in found(project)] == [
        "results/tarn-t90.yml:13:72: warning: tests.again.counted_ah"
    ]
