"""What a load at mains voltage takes from the battery: P_dc = P_idle + P_ac/η, from the bench's measured points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from site_builder.catalogue_records import Inverter

# This project's judgement: however well the points fit, the chain is not known better than this share (1 u).
LEAST_U = 0.01
# A straight line that misses a point by more than this share asks for a square term.
LINE_MISSES = 0.01
# The same for a chain that nobody measured (1 u).
UNMEASURED_U = 0.05


@dataclass(frozen=True, kw_only=True, slots=True)
class Chain:
    """P_dc = idle + slope·P_ac + square·P_ac². [W]; `relative_u` is its standard uncertainty as a share of P_dc.

    `standby_w` is what it takes instead of its idle power while no load is on, where it has such a mode.
    """

    idle_w: float
    slope: float
    square: float
    relative_u: float
    cut_off_v: float | None
    standby_w: float | None = None

    @property
    def off_w(self) -> float:
        """Power at the battery while no load is on. [W]"""
        return self.idle_w if self.standby_w is None else self.standby_w

    def resting_w(self, busy: float, of_day: float = 1.0) -> float:
        """Mean of what it takes for itself: idle while a load is on, standby for the rest of the time. [W]

        Args:
            busy: Share of the time with a load on; no more than `of_day` counts.
            of_day: Share of the time for which the inverter is switched on.

        >>> Chain(idle_w=12, slope=1, square=0, relative_u=0, cut_off_v=None, standby_w=2).resting_w(0.25)
        4.5
        """
        awake = min(busy, of_day)
        return self.idle_w * awake + self.off_w * (of_day - awake)

    def dc_w(self, ac_w: float) -> float:
        """Power at the battery while the load takes `ac_w`. [W]

        >>> round(1000 / Chain(idle_w=12, slope=1 / 0.93, square=0, relative_u=0, cut_off_v=None).dc_w(1000), 4)
        0.9197
        """
        return self.idle_w + self.slope * ac_w + self.square * ac_w**2


def chain_of(inverter: Inverter) -> Chain:
    """The chain through the bench's points: idle power fixed, a straight line, a square term only if it is needed.

    Without points the efficiency above idle is taken as 0.9, the chain known to 5 % (1 u; this project's judgement).
    """
    idle = inverter.idle_w.best
    standby = inverter.standby_w.best if inverter.standby_w else None
    cut_off = inverter.cut_off_v.best if inverter.cut_off_v else None
    points = [(point.ac_w.best, point.dc_w.best) for point in inverter.points if point.ac_w.best > 0]
    if not points:
        slope, square, relative_u = 1 / 0.9, 0.0, UNMEASURED_U
        return Chain(
            idle_w=idle, slope=slope, square=square, relative_u=relative_u, cut_off_v=cut_off, standby_w=standby
        )
    ac, dc = (np.array(column, dtype=np.float64) for column in zip(*points, strict=True))
    slope, square, miss = _fit(ac, dc - idle, dc, 1)
    if miss > LINE_MISSES and len(points) >= 3:
        slope, square, miss = _fit(ac, dc - idle, dc, 2)
    relative_u = max(miss, LEAST_U)
    return Chain(idle_w=idle, slope=slope, square=square, relative_u=relative_u, cut_off_v=cut_off, standby_w=standby)


def _fit(
    ac: np.ndarray[tuple[int], np.dtype[np.float64]],
    above_idle: np.ndarray[tuple[int], np.dtype[np.float64]],
    dc: np.ndarray[tuple[int], np.dtype[np.float64]],
    terms: int,
) -> tuple[float, float, float]:
    """Least squares of the share of P_dc, and the root mean square miss as a share."""
    columns = np.stack([ac ** (power + 1) / dc for power in range(terms)], axis=1)
    found = np.linalg.lstsq(columns, above_idle / dc, rcond=None)[0]
    miss = float(np.sqrt(np.mean((columns @ found - above_idle / dc) ** 2)))
    return float(found[0]), float(found[1]) if terms > 1 else 0.0, miss


def duty_power_w(on_w: float, duty: float, idle_w: float) -> float:
    """Mean power of a load that is on for a share of the time behind an inverter that idles all the time. [W]

    `on_w` is the power at the battery above idle while the load is on.

    >>> round(duty_power_w(45 / 0.93, 0.35, 12), 1)
    28.9
    """
    return idle_w + duty * on_w
