"""A measured discharge with its instrument's own count: tests/data/reference/README.md says where it comes from."""

from __future__ import annotations

import html
from pathlib import Path

import numpy as np
import pytest

from site_builder.build import derive_all, render_site
from site_builder.derive.discharge_log import discharge
from site_builder.logs import read_log
from site_builder.series import Log
from tests.logs_by_hand import capacity_test, setting

FOLDER = Path(__file__).parent.parent / "data" / "reference"
# The last value of the log's own Ah column.
COUNTED_AH = 0.02205572007770698
ENERGY_WH = 0.081058  # trapezoids of V·I over the same rows, by scipy.integrate


@pytest.fixture(scope="module")
def log() -> Log:
    checked = derive_all(FOLDER / "results", FOLDER / "catalogue")
    form = checked.derived.catalogue.benches["example-cycler"].log
    assert form is not None
    read, faults = read_log(FOLDER / "results" / "logs" / "measured-cell" / "c-over-10.csv", form)
    assert faults == []
    assert read is not None
    return read


def test_every_row_is_read_and_discharge_is_positive(log: Log) -> None:
    assert len(log.time_s) == log.rows == 4217
    assert log.columns["current"].min() > 0
    assert log.time_s[-1] - log.time_s[-2] == pytest.approx(9.014, abs=0.0005)


def test_the_integral_is_the_instruments_own_count(log: Log) -> None:
    seen = discharge(log, capacity_test(), setting(None))
    assert seen.charge is not None
    assert seen.energy is not None
    assert seen.charge.value == pytest.approx(COUNTED_AH, rel=1e-12)
    assert seen.energy.value == pytest.approx(ENERGY_WH, abs=5e-7)


def test_so_is_every_value_on_the_way(log: Log) -> None:
    """The running sum beside the Ah column, row by row."""
    counter = np.loadtxt(FOLDER / "results/logs/measured-cell/c-over-10.csv", delimiter=",", skiprows=1, usecols=3)
    steps = np.diff(log.time_s) * (log.columns["current"][1:] + log.columns["current"][:-1]) / 2
    np.testing.assert_allclose(np.cumsum(steps) / 3600, counter[1:], rtol=1e-9)


def test_the_catalogue_builds_without_a_finding() -> None:
    checked = derive_all(FOLDER / "results", FOLDER / "catalogue")
    assert checked.problems == ()
    (unit,) = checked.derived.units
    metrics = unit.result.metrics
    assert metrics["delivered_ah"].value == pytest.approx(COUNTED_AH, rel=1e-12)
    assert metrics["delivered_ah"].expanded is None  # its instrument's limits are not published
    assert metrics["rate_it"].value == pytest.approx(0.1, abs=0.001)
    assert unit.result.class_id == "small-cells"


def test_its_page_is_rendered() -> None:
    site = render_site(FOLDER / "results", FOLDER / "catalogue")
    assert site.problems == ()
    page = html.unescape(site.pages["units/measured-cell.md"])
    assert "0.0221\N{NARROW NO-BREAK SPACE}Ah" in page  # without a ±, three digits are shown
    assert site.copies.keys() == {"data/logs/measured-cell/c-over-10.csv"}
