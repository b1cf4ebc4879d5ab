"""The battery's own protection and heater as truth: when it cuts off, refuses charge, heats and comes back. Pure."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tests.demo.batteries import Floats


@dataclass(frozen=True)
class Step:
    """Cuts off once the current has stayed above `above_a` for `after_s`."""

    above_a: float
    after_s: float


@dataclass(frozen=True)
class Memory:
    """Warms with (I/I_s)² and cuts off at 1, as a bimetal or a thermal model in firmware does."""

    start_a: float
    lag_s: float

    def trip_s(self, current_a: float, warm: float = 0.0) -> float:
        """Time to the cut-off from warmth `warm` (0 to 1), or infinity [s]."""
        drive = (current_a / self.start_a) ** 2
        return self.lag_s * math.log((drive - warm) / (drive - 1)) if drive > 1 else math.inf

    def warmth_after(self, current_a: float, duration_s: float, warm: float = 0.0) -> float:
        """Warmth after a current has flowed; zero current is the rest between two points."""
        drive = (current_a / self.start_a) ** 2
        return drive + (warm - drive) * math.exp(-duration_s / self.lag_s)


@dataclass(frozen=True)
class Heater:
    """Heats from the charger when the cells are colder than `on_below_c`, until `off_above_c`."""

    power_w: float
    on_below_c: float
    off_above_c: float
    needs_a: float = 0.0  # a charger that gives less does not start it


@dataclass(frozen=True, kw_only=True)
class Protection:
    """What the battery does to save itself."""

    end_v: float
    end_delay_s: float = 2.0
    steps: tuple[Step, ...] = ()
    memory: Memory | None = None
    charge_min_c: float | None = 0.0  # None: charges its cells at any temperature
    charge_resume_c: float = 3.0
    heater: Heater | None = None
    comes_back: str = "by itself"
    comes_back_s: float = 30.0

    def trip_s(self, current_a: float, warm: float = 0.0) -> float:
        """Time to the cut-off at a constant current, or infinity [s]."""
        times = [step.after_s for step in self.steps if current_a > step.above_a]
        if self.memory is not None:
            times.append(self.memory.trip_s(current_a, warm))
        return min(times, default=math.inf)

    def end_index(self, voltage_v: Floats, step_s: float) -> int:
        """Index of the first sample after the low-voltage cut-off, or the length if it never comes.

        The voltage must stay low for the delay; a start's short dip does not count.
        """
        low = voltage_v < self.end_v
        need = max(round(self.end_delay_s / step_s), 1)
        if need > 1:
            low = np.convolve(low, np.ones(need), mode="full")[: low.size] > need - 0.5
        return int(np.argmax(low)) if low.any() else voltage_v.size
