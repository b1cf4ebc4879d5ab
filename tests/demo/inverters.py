"""Inverters as truth: what they draw from the battery for what they give, and when they stop."""

from dataclasses import dataclass

from tests.demo.batteries import Floats


@dataclass(frozen=True)
class Inverter:
    """Idle power at all times and a constant efficiency on top."""

    idle_w: float
    efficiency: float
    cut_off_v: float

    def drawn_w(self, given_w: Floats | float) -> Floats | float:
        """Power from the battery [W]."""
        return self.idle_w + given_w / self.efficiency
