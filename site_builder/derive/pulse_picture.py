"""What the picture of a log of pulses shows: its rows, thinned, with the pulses found in it. No metric is made here."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from site_builder.derive.discharge_log import logged_value
from site_builder.derive.integrate import thinned
from site_builder.derive.readings import Setting
from site_builder.derive.results import PulsePicture
from site_builder.series import Log

POINTS = 90


def pulse_picture(log: Log, found: Sequence[tuple[int, int]], setting: Setting) -> PulsePicture:
    """At most some hundred rows: the extremes of the voltage, and the rows around each step.

    Args:
        log: Current and voltage.
        found: Each pulse's last row before the step, and the row it was read at.
        setting: Unit, test, bench.
    """
    volts, amps = log.columns["voltage"], log.columns["current"]
    rows, _ = thinned(np.arange(len(volts), dtype=np.float64), volts, POINTS)
    steps = [row for before, under in found for row in (before, before + 1, under)]
    kept = np.unique(np.concatenate([rows.astype(np.int64), np.array(steps, dtype=np.int64)]))
    ends = np.searchsorted(kept, np.array(found, dtype=np.int64))
    most = float(np.abs(amps).max())
    return PulsePicture(
        time_s=log.time_s[kept],
        voltage_v=volts[kept],
        current_a=amps[kept],
        found=tuple((int(before), int(under)) for before, under in ends),
        limits_v=logged_value(float(volts.max()), "voltage", "voltage", "V", setting, "picture").expanded or None,
        limits_a=logged_value(most, "current", "current", "A", setting, "picture").expanded or None,
    )
