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
            "if it were copied from the label; write what it showed, with its decimals"
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


COUNTED = 'counted_ah: 89.2\n    current_a: 18\n    started: "{}"\n    ended: "{}"'


def test_times_and_a_current_that_cannot_have_made_the_charge(project: Project) -> None:
    """18 A from 18:10 to 17:05, which is the next day's, are 18 x 22.92 = 412 Ah."""
    project.change("log: run.csv", COUNTED.format("18:10", "17:05"))
    assert found(project) == [
        (
            "results/tarn-t90.yml:11:17: warning: tests.run.counted_ah: 18 A for 22.9 h are 412 Ah, and the counter "
            "showed 89.2; check the times (an end before the start is taken for the next day), the current, the counter"
        )
    ]


def test_times_and_a_current_that_fit_are_not_odd(project: Project) -> None:
    project.change("log: run.csv", COUNTED.format("18:10", "23:05"))
    assert found(project) == []


def test_an_end_voltage_without_its_decimal_point(project: Project) -> None:
    """Four cells of LiFePO4 deliver 4 x 3.4 = 13.6 V at most; 106 was 10.6."""
    project.change("log: run.csv", "counted_ah: 89.2\n    end_v: 106")
    (line,) = found(project)
    assert "tests.run.end_v: 106 V just before the end is more than LiFePO4 delivers (13.6 V)" in line


@pytest.mark.parametrize(("mass", "odd"), [("10.9", False), ("22", False), ("109", True)])
def test_a_mass_without_its_decimal_point(project: Project, mass: str, odd: bool) -> None:
    """90 Ah at 12.8 V are 1152 Wh; 22 kg would be 52 Wh/kg, 109 kg 10.6."""
    project.change("tests:\n", f"tests:\n  box: {{kind: build, date: 2026-05-04, mass_kg: {mass}}}\n")
    lines = found(project)
    assert len(lines) == odd
    assert all("tests.box.mass_kg: 109 kg for 1152 Wh is more than any LiFePO4 battery weighs" in one for one in lines)


@pytest.mark.parametrize(
    ("reading", "odd"),
    [
        ("current_a: 9.4, charge: refused", True),
        ("current_a: 9.4, charge: refused, heater: false", True),
        ("current_a: 9.4, charge: refused, heater: true", False),
        ("current_a: 0.4, charge: refused", False),
        ("current_a: 9.4, charge: accepted", False),
    ],
)
def test_charge_refused_while_a_current_flowed(project: Project, reading: str, odd: bool) -> None:
    """Below 0.5 A is refused: what a battery takes for itself."""
    frost = f"frost: {{kind: cold_charge, date: 2026-05-08, readings: [{{battery_c: -6, {reading}}}]}}"
    project.change("tests:\n", f"tests:\n  {frost}\n")
    lines = [line for line in found(project) if "refused" in line]
    assert len(lines) == odd
    words = "tests.frost.readings[0].charge: charge is said to be refused while 9.4 A went in and no heater was on"
    assert all(words in line for line in lines)
