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
from site_builder.derive.readings import Setting, offset_limit, reading
from site_builder.measured import Measured, exact, through
from site_builder.moments import Moment
from site_builder.records import Label
from site_builder.series import Array, Log

Verdict = Literal["accepted", "refused", "not decided"]
REFUSED_BELOW_A = 0.5
SUSTAINED_S = 60.0
# A charger that a battery refuses stands at its set voltage; below this share of it, it is not connected or not on.
CHARGER_ON_SHARE = 0.97
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


def events(
    test: ColdChargeTest, log: Log | None, found: Phases | None, setting: Setting, label: Label
) -> list[ColdEvent]:
    """Everything seen, from readings and log, in that order; `found` are the log's phases."""
    verdicts = [_verdict(one, i, test, setting, label) for i, one in enumerate(test.readings)]
    seen = [
        _of_reading(verdict, i, test, setting, sustained=_sustained(i, verdicts, test))
        for i, verdict in enumerate(verdicts)
        if verdict is not None
    ]
    return seen if log is None or found is None else seen + _of_log(log, found, setting, label)


def _of_reading(verdict: Verdict, number: int, test: ColdChargeTest, setting: Setting, *, sustained: bool) -> ColdEvent:
    one = test.readings[number]
    on = setting.fitting(one.read_on or test.read_on, "temperature")
    field = f"readings.{number}.battery_c"
    at = one.battery_c
    temperature = None if at is None else reading(at, "°C", "temperature", setting, field=field, read_on=on)
    return ColdEvent(
        verdict=verdict,
        temperature=temperature,
        where=one.where,
        heater=one.heater,
        source=f"reading {number + 1}",
        sustained=sustained,
    )


def _sustained(number: int, verdicts: Sequence[Verdict | None], test: ColdChargeTest) -> bool:
    """Whether the next or the last reading, over a minute away, says the same of charge."""
    here = test.readings[number].at
    near = (other for other in (number - 1, number + 1) if 0 <= other < len(verdicts))
    same = [test.readings[other].at for other in near if verdicts[other] == verdicts[number]]
    return any(_apart_s(here, other) > SUSTAINED_S for other in same)


def _apart_s(one: Moment | None, other: Moment | None) -> float:
    """Seconds between two times of day; 0 where either is missing."""
    if one is None or other is None or one.earliest_s is None or other.earliest_s is None:
        return 0.0
    # Over midnight the clock goes the other way.
    apart = abs(one.earliest_s - other.earliest_s)
    return min(apart, 86_400 - apart)


def _verdict(one: ColdReading, number: int, test: ColdChargeTest, setting: Setting, label: Label) -> Verdict | None:
    """What one reading says of charge into the cells; None where it says nothing of charge."""
    if one.cell_current_a is not None:
        return "accepted" if one.cell_current_a.best >= REFUSED_BELOW_A else "refused"
    if one.charge == "refused":
        return "refused"
    # A tester's "accepted" while a heater may be drawing the current is no charge into the cells yet.
    if one.charge == "accepted" and (label.heater is None or one.heater is False):
        return "accepted"
    into_cells = _into_cells(one, number, test, setting, label)
    if into_cells is None:
        return "not decided" if one.charge == "accepted" else None
    if into_cells.value < own_current_a(label):
        return "refused"
    return "accepted" if into_cells.value > (into_cells.expanded or 0.0) else "not decided"


def _into_cells(one: ColdReading, number: int, test: ColdChargeTest, setting: Setting, label: Label) -> Measured | None:
    """Terminal current beyond what the heater takes; None where either is not known. [A]"""
    if one.current_a is None:
        return None
    on = setting.fitting(one.read_on or test.read_on, "current")
    current = reading(one.current_a, "A", "current", setting, field=f"readings.{number}.current_a", read_on=on)
    if label.heater is None or one.heater is False:
        return current
    if test.heater_w is None:
        return None
    power = reading(test.heater_w, "W", "power", setting, field="heater_w")
    volts = exact(((test.charger and test.charger.set_v) or label.nominal_v).best, "V")
    return through(lambda i, p, v: i - p / v, current, power, volts, unit="A")


def own_current_a(label: Label) -> float:
    """What goes into the terminals and is no charge yet: the battery's declared own consumption, else 0.5 A. [A]"""
    return REFUSED_BELOW_A if label.own_current_a is None else label.own_current_a.best


def _least_logged_a(label: Label, setting: Setting) -> float:
    """The same in a log; a declared one counts from what its instrument can tell from nothing on. [A]"""
    form = setting.bench.log if setting.bench else None
    on = setting.instrument(form.current.on if form and form.current else None, "current")
    if label.own_current_a is None or on is None:
        return REFUSED_BELOW_A
    return max(own_current_a(label), offset_limit(on[1]) + (on[1].step.best if on[1].step else 0.0))


def phases(log: Log, test: ColdChargeTest, setting: Setting, label: Label) -> Phases:
    """Heating, and the beginning of charge, from the steps of the charging current."""
    charge = -log.columns["current"]
    cells = log.columns.get("cell_current")
    least_a = _least_logged_a(label, setting)
    if cells is None and label.heater is not None:
        return _with_heater(log, charge, test, least_a)
    accepted = _first_sustained(log, charge > least_a if cells is None else -cells > REFUSED_BELOW_A)
    started = None if cells is None or label.heater is None else _first_sustained(log, charge > least_a)
    heated = started is not None and (accepted is None or started < accepted)
    heating = slice(started, len(charge) if accepted is None else accepted) if heated else None
    return Phases(heating=heating, accepted_at=accepted, refused_rows=_refused(log, test, accepted, least_a))


def _with_heater(log: Log, charge: Array, test: ColdChargeTest, least_a: float) -> Phases:
    """A heater takes a steady current first; a step well above it is charge. Without a step nothing is decided."""
    start = _first_sustained(log, charge > least_a)
    if start is None:
        return Phases(heating=None, accepted_at=None, refused_rows=_refused(log, test, None, least_a))
    first = slice(start, max(start + 3, int(np.searchsorted(log.time_s, log.time_s[start] + 5 * SUSTAINED_S))))
    plateau = float(np.median(charge[first]))
    most = test.charger.set_a.best if test.charger and test.charger.set_a else float(charge.max())
    if plateau > most * 0.9:
        return Phases(heating=None, accepted_at=None, refused_rows=np.empty(0))
    accepted = _first_sustained(log, charge > plateau + max(REFUSED_BELOW_A, STEP_SHARE * (most - plateau)))
    heating = slice(start, accepted if accepted is not None else len(charge))
    return Phases(heating=heating, accepted_at=accepted, refused_rows=_refused(log, test, accepted, least_a))


def _refused(log: Log, test: ColdChargeTest, accepted: int | None, least_a: float) -> Array:
    """The rows before charge began, as far as the charger was on."""
    rows = np.arange(0, len(log.time_s) if accepted is None else accepted, dtype=np.float64)
    volts = log.columns.get("voltage")
    if volts is None or test.charger is None or test.charger.set_v is None:
        return rows
    before = slice(0, len(rows))
    drawn = -log.columns["current"][before] > least_a
    return rows[drawn | (volts[before] >= CHARGER_ON_SHARE * test.charger.set_v.best)]


def _of_log(log: Log, found: Phases, setting: Setting, label: Label) -> list[ColdEvent]:
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
    """The row with the lowest temperature that lasted a minute, while charge went on without a break from `start`."""
    charge = -log.columns["current"]
    level = float(np.median(charge[start : start + 20])) / 2
    below = np.flatnonzero(charge[start:] < level)
    end = start + int(below[0]) if len(below) else len(charge)
    temperatures = log.columns.get("battery_c")
    if temperatures is None or not np.isfinite(temperatures[start:end]).any():
        return start
    time, seen = log.time_s[start:end], temperatures[start:end]
    minutes = np.unique(np.searchsorted(time, np.arange(time[0], time[-1] + SUSTAINED_S, SUSTAINED_S)[:-1]))
    if not len(minutes):  # one row
        return start
    warmest = np.fmax.reduceat(seen, minutes)
    coldest = int(np.nanargmin(warmest))
    if warmest[coldest] >= seen[0]:
        return start
    return start + int(minutes[coldest]) + int(np.flatnonzero(seen[minutes[coldest] :] == warmest[coldest])[0])


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


def _first_sustained(log: Log, holds: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> int | None:
    """The first row from which a condition holds for over a minute."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], holds, [False]]).astype(np.int8)))
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        if log.time_s[min(end, len(log.time_s) - 1)] - log.time_s[start] > SUSTAINED_S:
            return int(start)
    return None


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
