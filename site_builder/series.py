"""A cleaned log as arrays, the form in which it reaches the derivations. Nothing here reads a file."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Log:
    """Cleaned columns of one log, all of the same length; discharge is positive.

    `time_s` is elapsed time, increasing; `line` the line of each row in the file;
    `columns` holds current [A], voltage [V], temperatures [°C] as far as the file has them; `started` is the first
    stamp where stamps carry a date; `rows` counts those in the file, `sha256` names its bytes.
    """

    time_s: Array
    columns: dict[str, Array]
    line: NDArray[np.int64]
    hold: str
    interval_s: float
    heartbeat_s: float | None
    started: dt.datetime | None
    rows: int
    sha256: str
