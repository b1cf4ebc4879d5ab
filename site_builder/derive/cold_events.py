"""What happened in a cold-charging test: charge refused or accepted at which temperature, from log and readings.

Charge INTO THE CELLS counts: the current that the battery itself reports, or terminal current beyond what the heater
takes, or any current where there is no heater.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from site_builder.bench_tests import ColdChargeTest, ColdReading
from site_builder.derive.discharge_log import logged
from site_builder.derive.readings import Setting, reading
from site_builder.measured import Measured
from site_builder.records import Label
from site_builder.series import Array, Log

Verdict = Literal["accepted", "refused", "not decided"]
REFUSED_BELOW_A = 0.5
SUSTAINED_S = 60.0
# A step of the terminal current by this share of what the charger could still add is charge going into the cells.
STEP_SHARE = 0.3


@dataclass(frozen=True, kw_only=True, slots=True)
class ColdEvent:
    """One thing seen: verdict on charge into the cells, at a battery temperature if one was read."""

    verdict: Verdict
    temperature: Measured | None
    where: str | None
    heater: bool | None
    source: str
    sustained: bool = True


@dataclass(frozen=True, kw_only=True, slots=True)
class Phases:
    """A warm-up in a log: rows of the heating phase, and the row where charge begins to go into the cells."""

    heating: slice | None
    accepted_at: int | None
    refused_rows: Array


def events(test: ColdChargeTest, log: Log | None, setting: Setting, label: Label) -> list[ColdEvent]:
    """Everything seen, from readings and log, in that order."""
    seen = [
        event for i, one in enumerate(test.readings) if (event := _of_reading(one, i, test, setting, label)) is not None
    ]
    return seen + (_of_log(log, test, setting, label) if log is not None else [])


def _of_reading(
    one: ColdReading, number: int, test: ColdChargeTest, setting: Setting, label: Label
) -> ColdEvent | None:
    verdict = _verdict(one, label)
    if verdict is None:
        return None
    at = one.battery_c
    on = setting.fitting(one.read_on or test.read_on, "temperature")
    temperature = (
        None
        if at is None
        else reading(at, "°C", "temperature", setting, field=f"readings.{number}.battery_c", read_on=on)
    )
    return ColdEvent(
        verdict=verdict, temperature=temperature, where=one.where, heater=one.heater, source=f"reading {number + 1}"
    )


def _verdict(one: ColdReading, label: Label) -> Verdict | None:
    """What one reading says of charge into the cells; None where it says nothing of charge."""
    if one.cell_current_a is not None:
        return "accepted" if one.cell_current_a.best >= REFUSED_BELOW_A else "refused"
    if one.charge is not None:
        # A tester's "accepted" while a heater may be drawing the current is no charge into the cells yet.
        heater_possible = label.heater is not None and one.heater is not False
        return "not decided" if one.charge == "accepted" and heater_possible else one.charge
    if one.current_a is None or label.heater is not None:
        return None
    return "accepted" if one.current_a.best >= REFUSED_BELOW_A else "refused"


def phases(log: Log, test: ColdChargeTest, label: Label) -> Phases:
    """Heating, and the beginning of charge, from the steps of the charging current."""
    charge = _into_terminals(log)
    cells = log.columns.get("cell_current")
    if cells is not None:
        accepted = _first_sustained(log, -cells > REFUSED_BELOW_A)
        heating = slice(0, accepted) if accepted and float(np.median(charge[:accepted])) > REFUSED_BELOW_A else None
        return Phases(heating=heating, accepted_at=accepted, refused_rows=_until(accepted, len(charge)))
    if label.heater is None:
        accepted = _first_sustained(log, charge > REFUSED_BELOW_A)
        return Phases(heating=None, accepted_at=accepted, refused_rows=_until(accepted, len(charge)))
    return _with_heater(log, charge, test)


def _with_heater(log: Log, charge: Array, test: ColdChargeTest) -> Phases:
    """A heater takes a steady current first; a step well above it is charge. Without a step nothing is decided."""
    start = _first_sustained(log, charge > REFUSED_BELOW_A)
    if start is None:
        return Phases(heating=None, accepted_at=None, refused_rows=_until(None, len(charge)))
    first = slice(start, max(start + 3, int(np.searchsorted(log.time_s, log.time_s[start] + 5 * SUSTAINED_S))))
    plateau = float(np.median(charge[first]))
    most = test.charger.set_a.best if test.charger and test.charger.set_a else float(charge.max())
    if plateau > most * 0.9:
        return Phases(heating=None, accepted_at=None, refused_rows=np.empty(0))
    accepted = _first_sustained(log, charge > plateau + max(REFUSED_BELOW_A, STEP_SHARE * (most - plateau)))
    heating = slice(start, accepted if accepted is not None else len(charge))
    return Phases(heating=heating, accepted_at=accepted, refused_rows=_until(accepted, len(charge)))


def _of_log(log: Log, test: ColdChargeTest, setting: Setting, label: Label) -> list[ColdEvent]:
    if "current" not in log.columns:
        return []
    found = phases(log, test, label)
    heater = None if label.heater is None else found.heating is not None
    events_seen = []
    if len(found.refused_rows):
        last = int(found.refused_rows[-1])
        events_seen.append(_event("refused", last, log, setting, heater=heater))
    if found.accepted_at is not None:
        events_seen.append(_event("accepted", found.accepted_at, log, setting, heater=False))
        coldest = _coldest_accepted(log, found.accepted_at)
        if coldest != found.accepted_at:
            events_seen.append(_event("accepted", coldest, log, setting, heater=False))
    elif not len(found.refused_rows):
        events_seen.append(_event("not decided", 0, log, setting, heater=heater))
    return events_seen


def _coldest_accepted(log: Log, start: int) -> int:
    """The row with the lowest battery temperature while charge went on without a break from `start`."""
    charge = _into_terminals(log)
    level = float(np.median(charge[start : start + 20])) / 2
    below = np.flatnonzero(charge[start:] < level)
    end = start + int(below[0]) if len(below) else len(charge)
    temperatures = log.columns.get("battery_c")
    if temperatures is None or not np.isfinite(temperatures[start:end]).any():
        return start
    return start + int(np.nanargmin(temperatures[start:end]))


def _event(verdict: Verdict, row: int, log: Log, setting: Setting, *, heater: bool | None) -> ColdEvent:
    return ColdEvent(
        verdict=verdict,
        temperature=temperature_at(log, row, setting),
        where="case",
        heater=heater,
        source=f"the log, line {int(log.line[row])}",
    )


def temperature_at(log: Log, row: int, setting: Setting) -> Measured | None:
    """The battery's temperature at a row, with the probe's limits. [°C]"""
    return logged(log, "battery_c", row, "°C", "temperature", setting)


def _into_terminals(log: Log) -> Array:
    """Current into the terminals, positive while charging; a battery on a charger never discharges. [A]"""
    return -log.columns["current"]


def _first_sustained(log: Log, holds: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> int | None:
    """The first row from which a condition holds for over a minute."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], holds, [False]]).astype(np.int8)))
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        if log.time_s[min(end, len(log.time_s) - 1)] - log.time_s[start] > SUSTAINED_S:
            return int(start)
    return None


def _until(row: int | None, length: int) -> Array:
    return np.arange(0, length if row is None else row, dtype=np.float64)


def bounds(seen: Sequence[ColdEvent]) -> tuple[ColdEvent | None, ColdEvent | None]:
    """The highest temperature at which charge was refused, and the lowest at which it was accepted.

    They are two bounds, not a threshold: a battery that stops charging at 0 °C and begins at 5 °C shows both.
    """
    refused = [event for event in seen if event.verdict == "refused" and event.temperature]
    accepted = [event for event in seen if event.verdict == "accepted" and event.temperature]
    return (
        max(refused, key=lambda event: event.temperature.value if event.temperature else 0.0, default=None),
        min(accepted, key=lambda event: event.temperature.value if event.temperature else 0.0, default=None),
    )
