"""Everything derived of a unit with eight tests and three 72,000-row logs, against reading those logs alone."""

from __future__ import annotations

import datetime as dt
import tempfile
from pathlib import Path

import numpy as np

from site_builder.catalogue_records import Bench, Catalogue, Load
from site_builder.derive.results import UnitResult
from site_builder.derive.unit import unit_result
from site_builder.logs import read_log
from site_builder.records import ResultsFile
from site_builder.series import Array, Log
from tests.benchmarks.measure import Row, in_turn, table

ROWS = 72_000  # twenty hours, a row a second
BUDGET = 2.0
BENCH = Bench.model_validate(
    {
        "title": "Bench",
        "tester": "Ines Hallam",
        "since": "2026-03-02",
        "instruments": {
            "shunt": {"measures": "current", "of_reading": "0.4 %", "offset": 0.03, "step": 0.01},
            "meter": {"measures": "voltage", "of_reading": "0.1 %", "offset": 0.005, "step": 0.001},
            "probe": {"measures": "temperature", "offset": 0.5, "step": 0.1},
            "app": {"measures": "soc", "offset": 0.02, "step": 0.01, "dead_band_a": 0.5},
            "plug": {"measures": "power", "of_reading": "2 %"},
            "scale": {"measures": "mass", "offset": 0.03},
        },
        "log": {
            "time": {"column": "elapsed s"},
            "current": {"column": "current A", "on": "shunt"},
            "voltage": {"column": "voltage V", "on": "meter"},
            "battery_c": {"column": "probe C", "on": "probe"},
            "interval_s": 1,
        },
        "inverters": {"galley": {"idle_w": 11, "points": [{"ac_w": 1000, "dc_w": 1086}], "nominal_v": 12}},
    }
)
TRIPS = [
    {"current_a": amps, "duration_s": 20 / ((amps / 115) ** 1.4 - 1), "held": False} for amps in range(150, 325, 30)
]
FILE = ResultsFile.model_validate(
    {
        "unit": {"id": "quern-q100", "maker": "Quern", "model": "Q100"},
        "bench": "bench",
        "samples": {"a": {"obtained": "bought"}},
        "label": {
            "chemistry": "LiFePO4",
            "nominal_v": 12.8,
            "capacity_ah": 100,
            "continuous_discharge_a": 100,
            "discharge": {"end_v": 10},
            "heater": {"on_below_c": 2},
        },
        "tests": {
            "run": {"kind": "capacity", "date": "2026-05-06", "log": "run.csv", "ended_by": "bms"},
            "refill": {"kind": "charge", "after": "run", "log": "refill.csv"},
            "ice-bath": {
                "kind": "cold_charge",
                "ambient_c": -10,
                "charger": {"set_v": 14.4, "set_a": 20},
                "log": "ice-bath.csv",
            },
            "steps": {
                "kind": "overload",
                "points": [{"current_a": 110, "duration_s": "over 30 min", "held": True}, *TRIPS],
            },
            "pulses": {
                "kind": "resistance",
                "readings": [{"current_a": 20, "voltage_v": 13.1}, {"current_a": 100, "voltage_v": 12.9}],
            },
            "galley": {
                "kind": "load_run",
                "load": "hob",
                "inverter": "galley",
                "outcome": "ran",
                "power_w": 700,
                "duration_s": "20 min",
                "soc": {"start": "88 %", "end": "68 %"},
            },
            "shelf": {
                "kind": "standby",
                "started": "2026-05-20",
                "ended": "2026-06-20",
                "soc": {"start": 0.99, "end": 0.96},
            },
            "box": {"kind": "build", "mass_kg": 10.4},
        },
    }
)  # fmt: skip


def catalogue() -> Catalogue:
    """One bench, and a dozen loads that every unit is asked about."""
    watts = (24, 45, 60, 72, 90, 108, 140, 300, 325, 610, 700, 1450)
    loads = {f"load-{w}": Load.model_validate({"title": f"{w} W", "running_w": w}) for w in watts}
    return Catalogue(benches={"bench": BENCH}, loads=loads | {"hob": loads["load-700"]})


def columns(test: str) -> tuple[Array, Array, Array]:
    """Current, voltage and temperature of one of the logs, a row a second."""
    chance = np.random.default_rng(1)
    share = np.arange(ROWS) / ROWS
    noise = 0.02 * chance.standard_normal(ROWS)
    if test == "run":
        return 5 + noise, 13.4 - 1.4 * share - 2 * share**30, 21 + 3 * share
    if test == "refill":
        return -np.where(share < 0.9, 5.4, 54 * (1 - share)) + noise, 13.4 + share, 21 + share
    # An hour of heating, then charge.
    heating = np.arange(ROWS) < 3600
    return -np.where(heating, 6.0, 20.0) + noise, np.full(ROWS, 14.4), np.minimum(-12 + np.arange(ROWS) / 200, 15.0)


def write_logs(folder: Path) -> dict[str, Path]:
    """The three logs as a logger would round them."""
    paths = {}
    for test in ("run", "refill", "ice-bath"):
        rows = zip(*columns(test), strict=True)
        lines = (f"{t},{amps:.2f},{volts:.3f},{celsius:.1f}\n" for t, (amps, volts, celsius) in enumerate(rows))
        paths[test] = folder / f"{test}.csv"
        paths[test].write_text("elapsed s,current A,voltage V,probe C\n" + "".join(lines), encoding="ascii")
    return paths


def read(paths: dict[str, Path]) -> dict[str, Log]:
    """The logs, from their files to clean arrays."""
    found = {}
    for test, path in paths.items():
        log, faults = read_log(path, BENCH.log)  # type: ignore[arg-type]  # BENCH declares one
        if log is None or faults:
            raise ValueError(faults)
        found[test] = log
    return found


def derived(logs: dict[str, Log], held: Catalogue) -> UnitResult:
    """All that can be said of the unit, which has to be something of each of its tests."""
    result = unit_result(FILE, logs, held, [], dt.date(2026, 12, 31))
    wanted = {"delivered_wh", "charge_efficiency", "standard_warm_up_s", "dc_resistance_milliohm", "carries_10_s_a"}
    if missing := wanted - result.metrics.keys():
        raise ValueError(missing)
    if result.carrying[-1].curve is None:
        raise ValueError("no curve through the trips")
    return result


def rows(folder: Path, rounds: int = 31) -> list[Row]:
    """The ratio; imports (scipy takes a third of a second) are over before anything is measured."""
    paths, held = write_logs(folder), catalogue()
    logs = read(paths)
    reading, deriving = in_turn(lambda: read(paths), lambda: derived(logs, held), rounds=rounds)
    note = f"reading takes {reading * 1e3:.1f} ms, deriving {deriving * 1e3:.1f} ms"
    what = f"a unit with eight tests and three logs of {ROWS:,} rows, derived"
    return [Row(what=what, value=deriving / reading, unit="×", budget=BUDGET, note=note)]


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as folder:
        print(table(rows(Path(folder))))


if __name__ == "__main__":
    main()
