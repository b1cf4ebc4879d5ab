"""What the demo's simulator shows, in the builder's own types: simulated logs, benches as the catalogue has them."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from site_builder.catalogue_records import Bench, Repeatability
from site_builder.derive.readings import REPEATABILITY, Setting
from site_builder.load import read_all
from site_builder.measured import Measured
from site_builder.records import Label
from site_builder.series import Log
from site_builder.values import Stated
from tests.demo.bench import Log as ShownLog

ROOT = Path(__file__).parents[2]
LABEL = Label.model_validate({"chemistry": "LiFePO4", "nominal_v": 12.8, "capacity_ah": 90})


@cache
def benches() -> dict[str, Bench]:
    """The benches of the catalogue."""
    loaded = read_all(ROOT / "results", ROOT / "catalogue", only=frozenset())
    assert loaded.catalogue.benches, loaded.problems
    return dict(loaded.catalogue.benches)


def share(value: float) -> Stated:
    """A plain fraction."""
    return Stated(value, value, value, "plain", 0.0, "")


def repeat_share(bench: Bench) -> float:
    """Standard deviation of repeats that the bench declares, else the project's judgement."""
    declared = bench.repeatability.charge if bench.repeatability else None
    return declared.best if declared else REPEATABILITY["charge"]


def with_repeatability(bench: Bench, charge: float, repeats: int | None) -> Bench:
    """The same bench, its repeatability from so many repeats (None: known)."""
    return bench.model_copy(update={"repeatability": Repeatability(charge=share(charge), repeats=repeats)})


def every(bench: Bench, interval_s: float) -> Bench:
    """The same bench, its logger set to another interval."""
    assert bench.log is not None
    interval = replace(bench.log.interval_s, best=interval_s)
    return bench.model_copy(update={"log": bench.log.model_copy(update={"interval_s": interval})})


def setting(bench_id: str, bench: Bench) -> Setting:
    """The test "run" of the unit "simulated" on this bench."""
    return Setting(unit="simulated", test="run", bench_id=bench_id, bench=bench)


def as_log(shown: ShownLog, bench: Bench) -> Log:
    """A simulated log as `read_log` would give it."""
    form = bench.log
    assert form is not None
    rows = len(shown.elapsed_s)
    return Log(
        time_s=shown.elapsed_s - shown.elapsed_s[0],
        columns={"current": shown.current_a, "voltage": shown.voltage_v, "battery_c": shown.temperature_c},
        line=np.arange(2, rows + 2),
        hold=form.hold,
        interval_s=form.interval_s.best,
        heartbeat_s=form.heartbeat_s.best if form.heartbeat_s else None,
        started=None,
        rows=rows,
        sha256="",
    )


def holds(interval: Measured, truth: float) -> bool:
    """Whether the published interval contains the truth."""
    return interval.lowest <= truth <= interval.highest
