"""Logs and benches written out for one check each."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike

from site_builder.bench_tests import CapacityTest
from site_builder.catalogue_records import Bench
from site_builder.derive.readings import Setting
from site_builder.series import Log


def log(
    time_s: ArrayLike,
    current_a: ArrayLike,
    voltage_v: ArrayLike | None = None,
    *,
    hold: Literal["linear", "previous"] = "linear",
    interval_s: float = 10.0,
    heartbeat_s: float | None = None,
) -> Log:
    """A clean log of these rows."""
    time = np.asarray(time_s, dtype=np.float64)
    columns = {"current": np.broadcast_to(np.asarray(current_a, dtype=np.float64), time.shape)}
    if voltage_v is not None:
        columns["voltage"] = np.broadcast_to(np.asarray(voltage_v, dtype=np.float64), time.shape)
    line = np.arange(2, len(time) + 2)
    return Log(time, columns, line, hold, interval_s, heartbeat_s, None, len(time), "")


def bench(shunt: dict[str, Any] | None = None, meter: dict[str, Any] | None = None, **more: Any) -> Bench:
    """A bench with a shunt and a voltmeter that log, and what else is given."""
    instruments = {
        "shunt": {"measures": "current", **(shunt or {})},
        "meter": {"measures": "voltage", **(meter or {})},
    }
    form = {
        "time": {"column": "s"},
        "current": {"column": "A", "on": "shunt"},
        "voltage": {"column": "V", "on": "meter"},
        "interval_s": 10,
    }
    plain = {
        "title": "By hand",
        "tester": "Ines Hallam",
        "since": "2026-01-01",
        "instruments": instruments,
        "log": form,
    }
    return Bench.model_validate(plain | more)


def setting(on: Bench | None, test: str = "run", ambient_c: float | None = None) -> Setting:
    """The test of the unit "checked" on this bench."""
    return Setting(unit="checked", test=test, bench_id="by-hand" if on else None, bench=on, ambient_c=ambient_c)


def capacity_test(**more: Any) -> CapacityTest:
    """A capacity test that the battery itself ended."""
    return CapacityTest.model_validate({"kind": "capacity", "ended_by": "bms"} | more)
