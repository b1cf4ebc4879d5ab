"""Internal resistance from pulses, and what follows from it: sag, and the power left at the end voltage.

R = (U₁ - U₂)/(I₂ - I₁). Pulse times, state of charge and temperature belong to the result (IEC 61960-3: 10 s at
0.2 I_t, then 1 s at 1 I_t; IEC 62620: 30 s, then 5 s).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from site_builder.bench_tests import PulseReading, ResistanceTest
from site_builder.derive.integrate import noise
from site_builder.derive.pulse_picture import pulse_picture
from site_builder.derive.readings import Setting, reading, repeatability
from site_builder.derive.results import OneResult, PulsePicture
from site_builder.measured import Component, Measured, rectangular, through
from site_builder.records import Label
from site_builder.series import Array, Log
from site_builder.values import Stated

Pair = tuple[PulseReading, PulseReading]
LEAST_STEP_IT = 0.15
SETTLED_S = 5.0
WHY = "resistance cannot be computed because"
NO_STEP = f"{WHY} the current never steps; it would take voltages under two currents"
OPEN_ENDED = f"{WHY} a reading is open to one side; it would take a number for it"
ROSE = f"{WHY} the voltage does not fall under more current; it would take a larger step or a finer voltmeter"
SENSED_AWAY = "sensed away from the terminals over a lead of unknown resistance, which is in it"


@dataclass(frozen=True, kw_only=True, slots=True)
class Pulse:
    """One step of the current: just before, and `after_s` into it. Indexes are rows of the log."""

    before: int
    under: int
    after_s: float


@dataclass(frozen=True, kw_only=True, slots=True)
class _Seen:
    """Pairs of current and voltage, the noise of their rows where they come from a log, and their pulses in words."""

    pairs: list[Pair]
    row_noise: Component | None = None
    conditions: tuple[str, ...] = ()
    picture: PulsePicture | None = None


def resistance(test: ResistanceTest, log: Log | None, setting: Setting, label: Label) -> OneResult:
    """R from pulses in the log, else from hand-read pairs, with sag at the rated current.

    Returns:
        Metrics dc_resistance_milliohm, open_circuit_v (extrapolated to no current), sag_v (from none to the label's
        continuous current), ac_resistance_milliohm (a 1 kHz meter's); conditions name pulse times, charge and
        temperature.
    """
    pairs = _read_pairs(test.readings)
    seen = _seen_in(log, setting, label) or _Seen(pairs=pairs, conditions=_pair_conditions(pairs))
    metered = _metered(test, setting)
    found, reasons = _from_pairs(seen, test, setting, label)
    if isinstance(found, str):
        return OneResult(test=setting.test, kind=test.kind, metrics=metered, cannot=() if metered else (found,))
    return OneResult(
        test=setting.test,
        kind=test.kind,
        metrics=found | metered,
        reasons=reasons,
        conditions=seen.conditions + _state(test),
        pulses=seen.picture,
    )


def _seen_in(log: Log | None, setting: Setting, label: Label) -> _Seen | None:
    """The pulses of a log; None where it has none."""
    if log is None or not {"current", "voltage"} <= set(log.columns):
        return None
    found = pulses_in(log, label.capacity_ah.best)
    if not found:
        return None
    return _Seen(
        pairs=[_logged_pair(log, pulse) for pulse in found],
        row_noise=_row_noise(log, found, setting),
        conditions=_log_conditions(log, found),
        picture=pulse_picture(log, [(pulse.before, pulse.under) for pulse in found], setting),
    )


def _metered(test: ResistanceTest, setting: Setting) -> dict[str, Measured]:
    """What a 1 kHz meter showed: the ohmic part alone, never beside a pulse's."""
    if test.meter_milliohm is None:
        return {}
    on = setting.fitting(test.read_on, "resistance")
    metered = reading(test.meter_milliohm, "mΩ", "resistance", setting, field="meter_milliohm", read_on=on)
    return {"ac_resistance_milliohm": metered}


def _from_pairs(
    seen: _Seen, test: ResistanceTest, setting: Setting, label: Label
) -> tuple[dict[str, Measured] | str, tuple[str, ...]]:
    """R, open-circuit voltage and sag of one battery (or why there is none), and what opens a bound."""
    if not seen.pairs:
        return NO_STEP, ()
    stated = [value for pair in seen.pairs for one in pair for value in (one.current_a, one.voltage_v)]
    if not all(math.isfinite(value.half_width) for value in stated):
        return OPEN_ENDED, ()
    results = [_of_pair(low, high, test.read_on, setting, i) for i, (low, high) in enumerate(seen.pairs)]
    value = _at_terminals(_mean_of([r for r, _ in results]), test, setting)
    if value.value <= 0:
        return ROSE, ()
    if seen.row_noise is not None:
        value = value.with_component(setting.own("noise", "pulses"), seen.row_noise)
    value = replace(value, components=dict(value.components) | repeatability(value.value, "resistance", setting))
    value, open_v = _of_one_battery(value, results[0][1], test)
    metrics = {"dc_resistance_milliohm": value, "open_circuit_v": open_v}
    if label.continuous_discharge_a:
        metrics["sag_v"] = sag_v(value, label.continuous_discharge_a.best).as_bound(value.bound)
    return metrics, (SENSED_AWAY,) if value.bound == "at_most" else ()


def _at_terminals(measured: Measured, test: ResistanceTest, setting: Setting) -> Measured:
    """Without the lead between terminals and sense point; "at most" where nobody knows the lead. [mΩ]"""
    sense = test.sense
    if sense is None or sense.at == "terminals":
        return measured
    if sense.resistance_milliohm is None:
        return measured.as_bound("at_most")
    lead = sense.resistance_milliohm
    half = lead.half_width if 0 < lead.half_width < math.inf else lead.step / 2
    shorter = replace(measured, value=measured.value - lead.best)
    return shorter.with_component(setting.own("lead"), rectangular(half))


def _of_one_battery(value: Measured, open_v: Measured, test: ResistanceTest) -> tuple[Measured, Measured]:
    """R and open-circuit voltage of one battery of several tested together."""
    if test.arrangement is None:
        return value, open_v
    series, parallel = test.arrangement.series, test.arrangement.parallel
    one = through(lambda r: r * parallel / series, value, unit="mΩ").as_bound(value.bound)
    return one, through(lambda u: u / series, open_v, unit="V")


def sag_v(resistance_milliohm: Measured, current_a: float) -> Measured:
    """Fall of the voltage from no current to `current_a`, ΔU = I·R. [V]"""
    return through(lambda r: r * current_a / 1000, resistance_milliohm, unit="V")


def power_at_end_voltage_w(open_circuit_v: Measured, resistance_milliohm: Measured, end_v: float) -> Measured:
    """Largest power that keeps the terminals at the end voltage, P = U_min(U_oc - U_min)/R. [W]"""
    return through(lambda u, r: end_v * (u - end_v) / r * 1000, open_circuit_v, resistance_milliohm, unit="W")


def current_at_power_a(power_w: float, open_circuit_v: float, resistance_milliohm: float) -> float:
    """Current that draws `power_w` from the terminals while they sag, P = I(U_oc - I·R); infinite beyond the peak. [A]

    >>> round(current_at_power_a(1200, 13.2, 0.0), 2)
    90.91
    """
    if resistance_milliohm <= 0:
        return power_w / open_circuit_v
    ohm = resistance_milliohm / 1000
    inside = open_circuit_v**2 - 4 * ohm * power_w
    return math.inf if inside < 0 else (open_circuit_v - math.sqrt(inside)) / (2 * ohm)


def pulses_in(log: Log, capacity_ah: float) -> list[Pulse]:
    """Steps up of the discharge current by 0.15 I_t or more, after at least 5 s of a steady one."""
    current, time = log.columns["current"], log.time_s
    least = LEAST_STEP_IT * capacity_ah
    found: list[Pulse] = []
    for at in np.flatnonzero(np.diff(current) > least / 2):
        before = int(at)
        under = int(np.searchsorted(time, time[before] + _wanted_after(log)))
        if (
            under >= len(time)
            or not _steady_before(time, current, before, least)
            or current[under] - current[before] < least
        ):
            continue
        if found and time[before] - time[found[-1].under] < SETTLED_S:
            continue
        found.append(Pulse(before=before, under=under, after_s=float(time[under] - time[before])))
    return found


def _wanted_after(log: Log) -> float:
    """One second after the step, or the first row that a slower log has."""
    return max(1.0, log.interval_s)


def _steady_before(time: Array, current: Array, at: int, least: float) -> bool:
    first = int(np.searchsorted(time, time[at] - SETTLED_S))
    window = current[first : at + 1]
    return time[at] - time[first] >= SETTLED_S * 0.8 and float(window.max() - window.min()) < least / 4


def _logged_pair(log: Log, pulse: Pulse) -> Pair:
    first = int(np.searchsorted(log.time_s, log.time_s[pulse.before] - SETTLED_S))
    settled = slice(first, pulse.before + 1)
    return (
        _as_reading(
            float(np.mean(log.columns["current"][settled])), float(np.mean(log.columns["voltage"][settled])), None
        ),
        _as_reading(
            float(log.columns["current"][pulse.under]), float(log.columns["voltage"][pulse.under]), pulse.after_s
        ),
    )


def _as_reading(current_a: float, voltage_v: float, after_s: float | None) -> PulseReading:
    plain = [Stated(x, x, x, "plain", 0.0, "") for x in (current_a, voltage_v)]
    after = None if after_s is None else Stated(after_s, after_s, after_s, "plain", 0.0, "")
    return PulseReading(current_a=plain[0], voltage_v=plain[1], after_s=after)


def _read_pairs(readings: tuple[PulseReading, ...]) -> list[Pair]:
    """Each reading with the next where the current rises by a tenth or more; else the smallest with the largest."""
    rising = [(a, b) for a, b in pairwise(readings) if b.current_a.best > a.current_a.best * 1.1 + 0.1]
    if rising or len(readings) < 2:
        return rising
    low = min(readings, key=lambda one: one.current_a.best)
    high = max(readings, key=lambda one: one.current_a.best)
    return [(low, high)] if high.current_a.best > low.current_a.best * 1.1 + 0.1 else []


def _of_pair(
    low: PulseReading, high: PulseReading, read_on: str | None, setting: Setting, number: int
) -> tuple[Measured, Measured]:
    """R [mΩ] and open-circuit voltage [V] of one pair; gain and offset are the same error at both ends."""
    i1, i2 = (_ampere(one, read_on, setting, f"{number}.{end}") for end, one in enumerate((low, high)))
    u1, u2 = (_volt(one, read_on, setting, f"{number}.{end}") for end, one in enumerate((low, high)))
    r = through(lambda a, b, c, d: (a - b) / (d - c) * 1000, u1, u2, i1, i2, unit="mΩ")
    open_v = through(lambda a, b, c, d: a + c * (a - b) / (d - c), u1, u2, i1, i2, unit="V")
    return r, open_v


def _ampere(one: PulseReading, read_on: str | None, setting: Setting, field: str) -> Measured:
    on = setting.fitting(read_on, "current")
    return reading(
        one.current_a,
        "A",
        "current",
        setting,
        field=f"readings.{field}.current_a",
        read_on=on or _logger(setting, "current"),
    )


def _volt(one: PulseReading, read_on: str | None, setting: Setting, field: str) -> Measured:
    on = setting.fitting(read_on, "voltage")
    return reading(
        one.voltage_v,
        "V",
        "voltage",
        setting,
        field=f"readings.{field}.voltage_v",
        read_on=on or _logger(setting, "voltage"),
    )


def _logger(setting: Setting, role: str) -> str | None:
    """The logger's instrument, where several of the bench measure the same."""
    form = setting.bench.log if setting.bench else None
    column = getattr(form, role) if form else None
    return column.on if column else None


def _mean_of(many: list[Measured]) -> Measured:
    share = 1 / len(many)
    if len(many) == 1:
        return many[0]
    return through(lambda *rs: sum(rs) * share, *many, unit=many[0].unit)


def _pair_conditions(pairs: list[Pair]) -> tuple[str, ...]:
    """The pulses in words; several that differ are all named, since R belongs to its pulse."""
    return tuple(dict.fromkeys(", then ".join(_pulse_words(one) for one in pair) for pair in pairs))


def _pulse_words(one: PulseReading) -> str:
    after = "" if one.after_s is None else f"{one.after_s.best:g} s at "
    return f"{after}{one.current_a.best:.3g} A"


def _row_noise(log: Log, found: list[Pulse], setting: Setting) -> Component | None:
    """Standard uncertainty of the mean R from the noise of single rows; as-read logs have no ±. [mΩ]"""
    if setting.instrument(_logger(setting, "voltage"), "voltage") is None:
        return None
    volts, amps = noise(log.columns["voltage"]), noise(log.columns["current"])
    each = []
    for pulse in found:
        step_a = float(log.columns["current"][pulse.under] - log.columns["current"][pulse.before])
        fall_v = float(log.columns["voltage"][pulse.before] - log.columns["voltage"][pulse.under])
        each.append(1000 * math.hypot(volts / step_a, fall_v * amps / step_a**2))
    return Component(math.sqrt(sum(u**2 for u in each)) / len(each))


def _log_conditions(log: Log, found: list[Pulse]) -> tuple[str, ...]:
    current = log.columns["current"]
    first = found[0]
    count = f"{len(found)} pulses, each " if len(found) > 1 else ""
    return (
        f"{count}{first.after_s:g} s after a step from {current[first.before]:.3g} to {current[first.under]:.3g} A",
    )


def _state(test: ResistanceTest) -> tuple[str, ...]:
    words = []
    if test.soc:
        words.append(f"at {test.soc.best * 100:.3g} % charge")
    if test.battery_c:
        words.append(f"at {test.battery_c.best:.3g} °C")
    return tuple(words)
