"""What stands on a bench and what is tested on it, as truth; the catalogue says the same in the tester's words."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from tests.demo.batteries import Battery, Floats, Trace
from tests.demo.instruments import Channel, Errors, drawn_errors, shown, stepped
from tests.demo.protection import Protection
from tests.demo.randomness import generator


@dataclass(frozen=True, kw_only=True)
class Unit:
    """A battery with its protection, and how well it repeats itself from run to run."""

    id: str
    battery: Battery
    protection: Protection
    repeat_charge: float = 0.003  # standard deviation of the charge it gives, as a share
    repeat_ohm: float = 0.02
    repeat_trip: float = 0.05  # standard deviation of ln(trip time)


@dataclass(frozen=True, kw_only=True)
class Bench:
    """Instruments by name, and which of them fill the log.

    Instruments in `same_gain` use another one's sensor. A bench that is never zeroed has the same offsets in all tests.
    """

    id: str
    instruments: dict[str, Channel] = field(hash=False)
    same_gain: dict[str, str] = field(default_factory=dict, hash=False)
    current: str = "shunt"
    voltage: str = "meter"
    temperature: str = "probe"
    interval_s: float = 5.0
    zeroed: bool = True

    def errors(self, instrument: str, test: str, seed: int) -> Errors:
        """What this instrument is wrong by in this test."""
        own = drawn_errors(self.instruments[instrument], self.id, instrument, test if self.zeroed else "", seed)
        if instrument not in self.same_gain:
            return own
        return Errors(self.errors(self.same_gain[instrument], test, seed).gain, own.offset)

    def reading(self, instrument: str, true: float, test: str, seed: int, *which: str | int) -> float:
        """One hand-read value of a true quantity; `which` tells several readings of one test apart."""
        chance = generator(self.id, instrument, test, seed, "reading", *which)
        errors = self.errors(instrument, test, seed)
        return float(shown(self.instruments[instrument], errors, np.array([true]), 1.0, chance)[0])

    def zero_reading_a(self, test: str, seed: int) -> float:
        """What the current instrument shows at no current, watched long enough for the noise to average out [A]."""
        offset = np.array([self.errors(self.current, test, seed).offset])
        return float(stepped(offset, self.instruments[self.current].step)[0])


@dataclass(frozen=True)
class Log:
    """A log as the instruments show it. Discharge positive."""

    elapsed_s: Floats
    current_a: Floats
    voltage_v: Floats
    temperature_c: Floats

    def only(self, keep: npt.NDArray[np.bool_] | npt.NDArray[np.int_]) -> Log:
        """The rows that `keep` selects."""
        return Log(*(values[keep] for values in vars(self).values()))


def logged(bench: Bench, trace: Trace, step_s: float, test: str, seed: int) -> Log:
    """Every sample of a trace that the bench's interval catches, as the bench shows it."""
    every = max(round(bench.interval_s / step_s), 1)
    chance = generator(bench.id, test, seed, "samples")

    def column(instrument: str, true: Floats) -> Floats:
        errors = bench.errors(instrument, test, seed)
        return shown(bench.instruments[instrument], errors, true[::every], every * step_s, chance)

    return Log(
        trace.elapsed_s[::every],
        column(bench.current, trace.current_a),
        column(bench.voltage, trace.voltage_v),
        column(bench.temperature, trace.temperature_c),
    )
