"""A simulated log in the form in which the builder's derivations take it, without a file in between."""

import numpy as np

from site_builder.series import Log as SeriesLog
from tests.demo.bench import Log


def series_log(log: Log, *, interval_s: float, hold: str = "linear", heartbeat_s: float | None = None) -> SeriesLog:
    """The same rows; `interval_s` is what the bench declares [s]."""
    rows = log.elapsed_s.size
    return SeriesLog(
        time_s=log.elapsed_s - log.elapsed_s[0],
        columns={"current": log.current_a, "voltage": log.voltage_v, "battery_c": log.temperature_c},
        line=np.arange(2, rows + 2),
        hold=hold,
        interval_s=interval_s,
        heartbeat_s=heartbeat_s,
        started=None,
        rows=rows,
        sha256="",
    )
