"""Times in an impossible order; what is refused stands word for word in tests/data/invalid, here what is not."""

from __future__ import annotations

from pathlib import Path

import pytest

from site_builder.build import derive_all
from tests.small_project import UNIT, Project, small_project


@pytest.fixture
def project(tmp_path: Path) -> Project:
    return small_project(tmp_path)


def found(project: Project, test: str) -> list[tuple[str, str]]:
    """Field and code of every problem with one more test in the file."""
    project.unit(f"{UNIT}  more: {{{test}}}\n")
    return [(problem.field, problem.code) for problem in derive_all(project.results, project.catalogue).problems]


RUN = "kind: standby"
ICE = "kind: cold_charge"


def seen(at: str) -> str:
    """A cold reading of that time."""
    return f'{{at: "{at}", charge: refused}}'


@pytest.mark.parametrize(
    "test",
    [
        pytest.param(f'{RUN}, date: 2026-05-06, started: "19:25", ended: "6:10"', id="over night"),
        pytest.param(f'{RUN}, date: 2026-05-06, ended: "2026-05-07 6:10"', id="ended the next day"),
        pytest.param(f"{RUN}, date: 2026-05-06, started: 2026-05-06, ended: 2026-06-06", id="a month"),
        pytest.param(
            f'{RUN}, date: 2026-05-06, started: "2026-05-06 10:00", ended: 2026-05-06', id="no time of its end"
        ),
        pytest.param(f'{RUN}, started: "10:00", ended: "11:00", duration_s: 61 min', id="to the minute"),
        pytest.param(f'{RUN}, started: "10:00", ended: "11:00", duration_s: 1.0 h', id="to the last digit"),
        pytest.param(f'{RUN}, started: "10:00", ended: "11:00", duration_s: over 50 min', id="over"),
        pytest.param(f'{RUN}, started: "10:00", duration_s: 5 h', id="no end"),
        pytest.param(f'{RUN}, started: "23:50 to 0:10", ended: "0:30", duration_s: 30 min', id="a start past midnight"),
        pytest.param(f"{RUN}, started: 2026-05-06, ended: 2026-05-08, duration_s: 40 h", id="days"),
        pytest.param(f"{ICE}, readings: [{seen('13:40')}, {{charge: refused}}, {seen('13:40')}]", id="at once"),
        pytest.param(f"{ICE}, readings: [{seen('22:10 to 23:40')}, {seen('23:00')}]", id="within a range"),
        pytest.param(f"{ICE}, readings: [{seen('23:50')}, {seen('0:10')}, {seen('0:20')}]", id="past midnight once"),
        pytest.param(f"{ICE}, readings: [{seen('2026-05-06')}, {seen('8:00')}, {seen('2026-05-06 9:00')}]", id="a day"),
        pytest.param("kind: charge, after: run, date: 2026-05-06", id="a refill on the same day"),
        pytest.param("kind: charge, after: run", id="a refill without a date"),
        pytest.param('kind: charge, after: run, started: "8:00"', id="a refill with a time of day"),
    ],
)
def test_what_is_possible(project: Project, test: str) -> None:
    assert found(project, test) == []


@pytest.mark.parametrize(
    ("test", "field"),
    [
        (f'{RUN}, date: 2026-05-06, started: 2026-05-05, ended: "2026-05-04 10:00"', "started ended"),
        (f'{RUN}, started: "10:00", ended: "11:00", duration_s: 62 min', "duration_s"),
        (f'{RUN}, started: "10:00", ended: "11:00", duration_s: under 50 min', "duration_s"),
        (f'{ICE}, started: "2026-05-06 22:00", readings: [{seen("1:00")}, {seen("0:30")}]', "readings[1].at"),
        ("kind: charge, after: run, started: 2026-05-05", "started"),
    ],
)
def test_what_is_not(project: Project, test: str, field: str) -> None:
    assert found(project, test) == [(f"tests.more.{one}", "time-order") for one in field.split()]
