"""A log of pulses as a chart: its rows, the bands and the points that were read."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

from site_builder.bench_tests import ResistanceTest
from site_builder.build import derive_all
from site_builder.derive.pulse_picture import POINTS, pulse_picture
from site_builder.derive.resistance import resistance
from site_builder.pulse_charts import pulses
from site_builder.records import Label
from tests.demo.bench import Log as DemoLog
from tests.demo.benches import BOATHOUSE
from tests.demo.handover import series_log
from tests.demo.pulse_trains import simulate_pulse_train
from tests.demo.roster import UNITS
from tests.logs_by_hand import bench, setting

ROOT = Path(__file__).parents[1]
LABEL = Label.model_validate({"chemistry": "LiFePO4", "nominal_v": 12.8, "capacity_ah": 90})
BENCH = bench(shunt={"of_reading": "0.4 %"}, meter={"of_reading": "0.1 %", "offset": 0.005})


def train(many: int = 3, low_s: int = 40) -> tuple[DemoLog, float]:
    return simulate_pulse_train(
        UNITS["ferngate-f90"], BOATHOUSE, currents_a=(18.0, 90.0), seconds=(low_s, 10), pulses=many
    )


def test_the_chart_marks_each_pulse_from_the_row_before_it_to_the_row_that_was_read() -> None:
    log = series_log(train()[0], interval_s=5.0)
    found = resistance(ResistanceTest(kind="resistance"), log, setting(BENCH), LABEL)
    assert found.pulses is not None
    chart = pulses(found.pulses)
    bands = [(float(row["from"]), float(row["to"])) for row in csv.DictReader(io.StringIO(chart.datasets["found"]))]
    assert bands == [(40, 45), (90, 95), (140, 145)]  # each step comes a second after a row
    read = list(csv.DictReader(io.StringIO(chart.datasets["read"])))
    assert [float(row["s"]) for row in read] == [40, 45, 90, 95, 140, 145]
    assert len(chart.datasets["rows"].splitlines()) == 1 + len(log.time_s)
    assert found.pulses.limits_v == pytest.approx(0.005 + 0.001 * 13.27, rel=0.5)


def test_a_long_log_is_thinned_and_keeps_the_rows_around_each_step() -> None:
    log = series_log(train(many=30, low_s=200)[0], interval_s=5.0)
    picture = pulse_picture(log, [(40, 41)], setting(BENCH))
    assert len(picture.time_s) <= POINTS + 3 < len(log.time_s)
    ((before, under),) = picture.found
    assert (picture.time_s[before], picture.time_s[under]) == (200, 205)


def test_the_demos_logged_pulses_hold_the_simulated_resistance() -> None:
    """On the bench and with the limits that the catalogue declares, as every visitor of the page sees it."""
    checked = derive_all(ROOT / "results", ROOT / "catalogue", [ROOT / "results" / "ferngate-f90.yml"])
    (unit,) = checked.derived.units
    shown = unit.result.tests["pulse-train"].metrics["dc_resistance_milliohm"]
    true = simulate_pulse_train(
        UNITS["ferngate-f90"],
        BOATHOUSE,
        currents_a=(18.0, 90.0),
        seconds=(40, 10),
        pulses=3,
        test="pulse-train",
    )[1]
    assert abs(shown.value - true) <= (shown.expanded or 0.0)
    assert unit.result.tests["pulse-train"].pulses is not None
