"""The tables: a row per unit and per test, each number with its ±, bound and limits beside it."""

from __future__ import annotations

import math
from pathlib import Path

import pandas as pd
import pytest

from site_builder.build import derive_all
from site_builder.frames import Frames, frames_of, metric_parts, rated_wh
from site_builder.measured import Bound, Component, Measured
from site_builder.nomenclature import PARTS
from tests.small_project import UNIT, Project, log_text, small_project

NORMAL_95 = 1.959963984540054  # GUM table G.2


@pytest.fixture
def project(tmp_path: Path) -> Project:
    return small_project(tmp_path)


def frames(project: Project) -> Frames:
    return frames_of(derive_all(project.results, project.catalogue).derived)


def test_one_row_for_a_unit(project: Project) -> None:
    units = frames(project).units
    assert len(units) == 1
    row = units.iloc[0]
    assert (row["id"], row["maker"], row["class"], row["headline_test"]) == ("tarn-t90", "Tarn", "12v-100ah", "run")
    assert (row["rated_ah"], row["rated_wh"], row["claims_heater"]) == (90, pytest.approx(1152), False)
    assert row["delivered_ah"] == pytest.approx(90, abs=0.1)
    assert row["delivered_ah_bound"] == "exact"
    assert row["delivered_ah_low"] < 90 < row["delivered_ah_high"]
    assert row["delivered_ah_u"] == pytest.approx((row["delivered_ah_high"] - row["delivered_ah_low"]) / 2, rel=0.02)
    assert (row["price"], row["price_currency"], row["price_kind"]) == (500, "EUR", "paid")


def test_one_row_for_a_test(project: Project) -> None:
    project.unit(f"{UNIT}  box: {{kind: build, date: 2026-05-02, mass_kg: 10.4}}\n")
    tests = frames(project).tests
    assert tests["test"].tolist() == ["run", "box"]
    assert tests["kind"].tolist() == ["capacity", "build"]
    assert tests["date"].tolist() == ["2026-05-06", "2026-05-02"]
    assert tests["sample"].tolist() == ["a", "a"]
    assert tests["bench"].tolist() == ["quay", "quay"]
    assert len(tests["log_sha256"].iloc[0]) == 64
    assert pd.isna(tests["log_sha256"].iloc[1])
    assert pd.isna(tests["delivered_ah"].iloc[1])
    assert tests["mass_kg"].iloc[1] == 10.4


def test_units_are_sorted_by_id(project: Project) -> None:
    project.unit(UNIT.replace("tarn-t90", "alder"), "alder.yml")
    project.log(log_text(), unit="alder")
    assert frames(project).units["id"].tolist() == ["alder", "tarn-t90"]


def test_a_label_that_states_its_energy(project: Project) -> None:
    project.change("capacity_ah: 90", "capacity_ah: 90, energy_wh: 1150")
    (unit,) = derive_all(project.results, project.catalogue).derived.units
    assert rated_wh(unit) == 1150


def test_every_metric_has_all_its_parts(project: Project) -> None:
    columns = set(frames(project).units.columns)
    for metric in ("delivered_ah", "comparable_wh", "price_per_kwh"):
        assert {f"{metric}{part}" for part in PARTS} <= columns


def test_nothing_recorded_gives_empty_frames(tmp_path: Path) -> None:
    (tmp_path / "results").mkdir()
    empty = frames_of(derive_all(tmp_path / "results", tmp_path / "catalogue").derived)
    assert (len(empty.units), len(empty.tests)) == (0, 0)


@pytest.mark.parametrize(
    ("bound", "low", "high"), [("exact", 90.4, 92.3), ("at_least", 90.4, None), ("at_most", None, 92.3)]
)
def test_parts_as_published(bound: Bound, low: float | None, high: float | None) -> None:
    one = Measured(value=91.3456, unit="Ah", components={"gain": Component(0.94 / NORMAL_95)}, bound=bound)
    value, expanded, word, lowest, highest, basis = metric_parts(one)
    assert (value, expanded, word, basis) == (91.35, 0.94, bound, "measured")
    assert lowest == (None if low is None else pytest.approx(low, abs=0.011))
    assert highest == (None if high is None else pytest.approx(high, abs=0.011))


def test_parts_of_what_is_not_known() -> None:
    assert metric_parts(None) == (None,) * len(PARTS)
    value, expanded, *_ = metric_parts(Measured(value=91.3456, unit="Ah", basis="as_read"))
    assert (value, expanded) == (91.3456, None)
    assert not any(isinstance(part, float) and math.isinf(part) for part in metric_parts(None))
