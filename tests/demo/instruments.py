"""Instruments as they really are on the day: a true quantity goes in, what the display or the log shows comes out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.demo.batteries import Floats, lagged
from tests.demo.randomness import generator


@dataclass(frozen=True)
class Channel:
    """Limits of one quantity of an instrument.

    `of_reading` bounds the gain error, which stays the same for the whole calibration period; `zero` bounds the
    offset, which is new in every test; `noise` is the standard deviation of a sample; `step` is the display's.
    """

    of_reading: float = 0.0
    zero: float = 0.0
    noise: float = 0.0
    step: float = 0.0
    lag_s: float = 0.0


@dataclass(frozen=True)
class Errors:
    """The draw of one channel on one day."""

    gain: float
    offset: float


def drawn_errors(channel: Channel, bench: str, quantity: str, test: str, seed: int) -> Errors:
    """Errors of a channel: its gain belongs to the bench's calibration, its offset to the test."""
    gain = generator(bench, quantity, "gain", seed).uniform(-channel.of_reading, channel.of_reading)
    offset = generator(bench, quantity, test, "zero", seed).uniform(-channel.zero, channel.zero)
    return Errors(float(gain), float(offset))


def shown(channel: Channel, errors: Errors, true: Floats, step_s: float, chance: np.random.Generator) -> Floats:
    """What the channel shows for true values on an even grid of `step_s`."""
    values = lagged(true, step_s, channel.lag_s, float(true[0])) if channel.lag_s else true
    values = (1 + errors.gain) * values + errors.offset
    if channel.noise:
        values = values + chance.normal(0.0, channel.noise, values.shape)
    return stepped(values, channel.step)


def stepped(values: Floats, step: float) -> Floats:
    """Rounded to the display's step; a step of 0 leaves the values alone."""
    return np.round(np.round(values / step) * step, 9) + 0.0 if step else values  # no minus zero


@dataclass(frozen=True)
class Counter:
    """A state-of-charge counter: an app's or a shunt display's percentage.

    It trusts its own setting for the capacity, misses currents inside its dead band and may be out of step.
    """

    setting_ah: float
    of_reading: float = 0.01
    dead_band_a: float = 0.0
    unsynchronised: float = 0.0  # bound of its error at the start, as a share
    step: float = 0.01

    def shows(self, soc_start: float, current_a: Floats, step_s: float, *key: str | int) -> tuple[float, float]:
        """The percentage before and after a current has flowed, as shares of one."""
        chance = generator("counter", *key)
        start = min(soc_start + chance.uniform(-self.unsynchronised, self.unsynchronised), 1.0)
        gain = 1 + chance.uniform(-self.of_reading, self.of_reading)
        seen = np.where(np.abs(current_a) > self.dead_band_a, current_a, 0.0)
        end = start - gain * float(seen.sum()) * step_s / 3600 / self.setting_ah
        first, last = stepped(np.array([start, max(end, 0.0)]), self.step)
        return float(first), float(last)
