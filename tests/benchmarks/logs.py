"""A 72,000-row log from file to numbers, against reading it alone with `pandas.read_csv`."""

from __future__ import annotations

import gzip
from pathlib import Path

import numpy as np
import pandas as pd

from site_builder.bench_tests import CapacityTest
from site_builder.catalogue_records import Bench
from site_builder.derive.discharge_log import discharge
from site_builder.derive.integrate import integral, steps_of, thinned
from site_builder.derive.readings import Setting
from site_builder.logs import read_log
from tests.benchmarks.measure import Row, in_turn

ROWS = 72_000  # twenty hours, a row a second
BUDGET = 1.5
BENCH = Bench.model_validate(
    {
        "title": "Bench",
        "tester": "Ines Hallam",
        "since": "2026-03-02",
        "instruments": {
            "shunt": {"measures": "current", "of_reading": "0.4 %", "offset": 0.03, "step": 0.01},
            "meter": {"measures": "voltage", "of_reading": "0.1 %", "offset": 0.005, "step": 0.001},
            "probe": {"measures": "temperature", "offset": 0.5, "step": 0.1},
        },
        "log": {
            "time": {"column": "elapsed s"},
            "current": {"column": "current A", "on": "shunt"},
            "voltage": {"column": "voltage V", "on": "meter"},
            "battery_c": {"column": "probe C", "on": "probe"},
            "interval_s": 1,
        },
    }
)
TEST = CapacityTest(kind="capacity", ended_by="bms")
SETTING = Setting(unit="quern-q100", test="run", bench_id="bench", bench=BENCH, ambient_c=21.0)


def write_log(path: Path) -> None:
    """A steady discharge with noise, as a logger would round it."""
    chance = np.random.default_rng(1)
    share = np.arange(ROWS) / ROWS
    columns = (
        5 + 0.05 * chance.standard_normal(ROWS),
        13.4 - 1.4 * share - 2 * share**30 + 0.002 * chance.standard_normal(ROWS),
        21 + 3 * share + 0.05 * chance.standard_normal(ROWS),
    )
    rows = (f"{t},{a:.2f},{v:.3f},{c:.1f}\n" for t, (a, v, c) in enumerate(zip(*columns, strict=True)))
    path.write_text("elapsed s,current A,voltage V,probe C\n" + "".join(rows), encoding="ascii")


def in_numbers(path: Path) -> object:
    """Read, checked, charge and energy integrated, curve thinned for a chart."""
    log, faults = read_log(path, BENCH.log)  # type: ignore[arg-type]  # BENCH declares one
    if log is None or faults:
        raise ValueError(faults)
    steps, current, voltage = steps_of(log), log.columns["current"], log.columns["voltage"]
    return integral(log, current, steps), integral(log, voltage * current, steps), thinned(log.time_s, voltage, 500)


def with_uncertainty(path: Path) -> object:
    """The same as the site does it: with every component of the uncertainty."""
    log, _ = read_log(path, BENCH.log)  # type: ignore[arg-type]  # BENCH declares one
    if log is None:
        raise ValueError(path)
    return discharge(log, TEST, SETTING)


def rows(folder: Path, rounds: int = 31) -> list[Row]:
    """The ratios for plain and for packed text."""
    plain = folder / "run.csv"
    write_log(plain)
    packed = folder / "run.csv.gz"
    packed.write_bytes(gzip.compress(plain.read_bytes()))
    found = []
    for path in (plain, packed):
        floor, ours, whole = in_turn(
            lambda path=path: pd.read_csv(path),  # type: ignore[misc]  # mypy cannot see the default's type
            lambda path=path: in_numbers(path),  # type: ignore[misc]
            lambda path=path: with_uncertainty(path),  # type: ignore[misc]
            rounds=rounds,
        )
        what = f"{ROWS:,}-row {''.join(path.suffixes)}: read, checked, integrated, thinned"
        note = f"pandas.read_csv alone takes {floor * 1e3:.1f} ms, this {ours * 1e3:.1f} ms"
        found.append(Row(what=what, value=ours / floor, unit="×", budget=BUDGET, note=note))
        what = f"{ROWS:,}-row {''.join(path.suffixes)}: the same with every component of ±"
        found.append(Row(what=what, value=whole / floor, unit="×", budget=BUDGET, note=f"{whole * 1e3:.1f} ms"))
    return found
