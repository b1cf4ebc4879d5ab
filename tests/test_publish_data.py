"""The data files: what others compute with has to be complete, finite and harmless."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from site_builder.build import derive_all
from site_builder.frames import frames_of
from site_builder.measured import Component, Measured
from site_builder.publish.data import csv_text, metric_entry, render_data_files
from tests.small_project import UNIT, Project, small_project


@pytest.fixture
def project(tmp_path: Path) -> Project:
    return small_project(tmp_path)


def files(project: Project) -> dict[str, str]:
    derived = derive_all(project.results, project.catalogue).derived
    return render_data_files(derived, frames_of(derived))


def units(project: Project) -> Any:
    return json.loads(files(project)["data/units.json"])


def test_units_as_json(project: Project) -> None:
    document = units(project)
    assert document["as_of"] == "2026-05-06"
    assert len(document["generated_from"]) == 64
    (unit,) = document["units"]
    assert (unit["id"], unit["class"], unit["status"], unit["headline_test"]) == (
        "tarn-t90",
        "12v-100ah",
        "published",
        "run",
    )
    assert unit["label"]["capacity_ah"] == 90
    assert unit["price"]["amount"] == 500


def test_a_metric_carries_its_components(project: Project) -> None:
    metric = units(project)["units"][0]["metrics"]["delivered_ah"]
    assert metric["unit"] == "Ah"
    assert metric["low"] <= metric["value"] - 0.9 * metric["u"]
    assert metric["components"]["gain:quay/shunt"] == pytest.approx(90 * 0.005 / 3**0.5, rel=1e-3)
    assert all(isinstance(u, float) for u in metric["components"].values())


def test_an_open_side_is_null_and_no_infinity() -> None:
    one = Measured(value=90, unit="Ah", components={"gain": Component(0.5)}, bound="at_least")
    entry = metric_entry(one)
    assert (entry["bound"], entry["high"]) == ("at_least", None)
    assert json.dumps(entry, allow_nan=False)


def test_a_reading_without_an_instrument_has_no_uncertainty() -> None:
    entry = metric_entry(Measured(value=88.4, unit="Ah", basis="as_read"))
    assert (entry["value"], entry["u"], entry["basis"]) == (88.4, None, "as_read")


def test_the_same_evidence_gives_the_same_bytes(project: Project) -> None:
    assert files(project) == files(project)


def test_a_price_in_another_currency_is_shown_as_recorded_too(project: Project) -> None:
    path = project.results / "prices.csv"
    path.write_text(path.read_text() + "2026-05-05,tarn-t90,600,USD,listed,a shop\n")
    price = units(project)["units"][0]["price"]
    assert (price["amount"], price["currency"]) == (540.0, "EUR")
    assert price["recorded"] == {"amount": 600.0, "currency": "USD", "rate_date": "2026-01-01"}


def test_tables_as_csv(project: Project) -> None:
    for name, column in (("data/units.csv", "id"), ("data/tests.csv", "unit")):
        rows = list(csv.DictReader(io.StringIO(files(project)[name])))
        assert [row[column] for row in rows] == ["tarn-t90"]
        assert float(rows[0]["delivered_ah"]) == pytest.approx(90, abs=0.1)


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_no_cell_is_run_as_a_formula(start: str) -> None:
    """As OWASP's page on CSV injection has it: an apostrophe in front of each of these."""
    text = csv_text(pd.DataFrame([{"maker": f"{start}1+1", "amount": -5.0, "model": "x=1"}]))
    row = next(csv.DictReader(io.StringIO(text, newline="")))
    assert row == {"maker": f"'{start}1+1".replace("\r", " "), "amount": "-5.0", "model": "x=1"}


def test_a_formula_for_a_maker_is_text_in_the_table(project: Project) -> None:
    project.unit(UNIT.replace("maker: Tarn", 'maker: "=cmd()"'))
    (row,) = csv.DictReader(io.StringIO(files(project)["data/units.csv"]))
    assert row["maker"] == "'=cmd()"
    assert units(project)["units"][0]["maker"] == "=cmd()"
