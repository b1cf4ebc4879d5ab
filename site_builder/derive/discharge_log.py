"""A discharge log → charge, energy, duration and mean figures, each with its components. Closed forms of the GUM."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from site_builder.bench_tests import AnyTest
from site_builder.catalogue_records import Instrument
from site_builder.derive.integrate import Steps, Total, edges_u, integral, noise, product_sum, step_u, steps_of, thinned
from site_builder.derive.readings import (
    Setting,
    gain_components,
    instrument_components,
    offset_limit,
    together,
    zero_a,
    zero_limit_a,
)
from site_builder.measured import Component, Measured, rectangular
from site_builder.series import Array, Log

SECONDS_PER_HOUR = 3600.0
CURVE_POINTS = 160
# Less than this share of the largest current is no load any more, for the curve.
UNDER_LOAD = 0.2
# More of the run than this in gaps: nobody knows what happened there, so nothing across them is counted.
MAX_GAP_SHARE = 0.05
REVERSES = "over 5 % of the log is missing and the current reverses; it would take a log without gaps"


@dataclass(frozen=True, kw_only=True, slots=True)
class Discharge:
    """What a log says of one discharge, per battery. `energy` is None without a voltage; `curve` is Ah, V.

    `reasons` names, in words, what opens a bound; `refused` says why nothing can be computed, and what it would take.
    """

    charge: Measured | None
    energy: Measured | None
    duration_s: Measured
    temperature_c: Measured | None
    curve: tuple[Array, Array] | None
    reasons: tuple[str, ...] = ()
    refused: str | None = None


def discharge(log: Log, test: AnyTest, setting: Setting) -> Discharge:
    """Charge and energy delivered, by integration of the log.

    Q = Σ ½(I_i + I_{i+1})Δt and E the same on V·I. Limits: one gain error and one zero offset for the whole log
    (they do not average out), independent noise, the display's step, gaps, and the intervals in which the load was
    switched. Rows before the load came on and after it went off are left out, however long the logger ran.

    Returns:
        The results; repeatability of the test is not in them.
    """
    log = _while_loaded(log, test, setting)
    current = log.columns["current"] - zero_a(test, setting)
    steps = steps_of(log)
    if steps.gap_share > MAX_GAP_SHARE and min(current.max(), -current.min()) > _reversal(current):
        return _refused(log, steps, setting, REVERSES)
    parallel, series = together(test)
    charge, reasons = _charge(log, current, steps, test, setting)
    energy = _energy(log, current, steps, test, setting)
    curve = _curve(log, current, steps, parallel, series)
    return Discharge(
        charge=charge.scaled(1 / parallel),
        energy=None if energy is None else energy.scaled(1 / (parallel * series)),
        duration_s=_duration(steps, setting),
        temperature_c=_temperature(log, setting),
        curve=curve,
        reasons=reasons,
    )


def _while_loaded(log: Log, test: AnyTest, setting: Setting) -> Log:
    """The log from the last idle row before the load to the first one after it.

    Idle is what the instrument cannot tell from nothing; without an instrument, less than 1 % of the largest current.
    """
    size = np.abs(log.columns["current"] - zero_a(test, setting))
    on = setting.instrument(_on(setting, "current"), "current")
    step = on[1].step.best if on and on[1].step else 0.0
    idle = 2 * offset_limit(on[1]) + step if on else 0.01 * float(size.max())
    loaded = np.flatnonzero(size > idle)
    if not len(loaded):
        return log
    rows = slice(max(int(loaded[0]) - 1, 0), int(loaded[-1]) + 2)
    kept = {role: values[rows] for role, values in log.columns.items()}
    return replace(log, time_s=log.time_s[rows], columns=kept, line=log.line[rows])


def _charge(
    log: Log, current: Array, steps: Steps, test: AnyTest, setting: Setting
) -> tuple[Measured, tuple[str, ...]]:
    total = integral(log, current, steps)
    on = setting.instrument(_on(setting, "current"), "current")
    components = _gap_components(total, steps, setting, "charge")
    components[setting.own("edge")] = Component(edges_u(log, current, steps))
    if on:
        to = _Sensitivity(per_gain=total.value, per_offset=steps.duration_s)
        components |= _along(on, current, steps, to, zero_limit_a(test, on[1]), setting)
    counted, bound = _counted(total, steps)
    result = Measured(value=counted, unit="A·s", components=components, basis="measured" if on else "as_read")
    reasons = ("over 5 % of the log is missing; nothing is counted for it",) if bound else ()
    result = result.as_bound("at_least") if bound else result
    return _in_hours(result, "Ah"), reasons


def _energy(log: Log, current: Array, steps: Steps, test: AnyTest, setting: Setting) -> Measured | None:
    voltage = log.columns.get("voltage")
    if voltage is None:
        return None
    total = integral(log, voltage * current, steps)
    components = _gap_components(total, steps, setting, "energy")
    components[setting.own("edge")] = Component(edges_u(log, voltage * current, steps))
    amps = setting.instrument(_on(setting, "current"), "current")
    volts = setting.instrument(_on(setting, "voltage"), "voltage")
    if amps:
        per_a = integral(log, voltage, steps).value
        to = _Sensitivity(per_gain=total.value, per_offset=per_a, weight=_root_mean_square(voltage))
        components |= _along(amps, current, steps, to, zero_limit_a(test, amps[1]), setting)
    if volts:
        per_v = integral(log, current, steps).value
        to = _Sensitivity(per_gain=total.value, per_offset=per_v, weight=_root_mean_square(current))
        components |= _along(volts, voltage, steps, to, offset_limit(volts[1]), setting)
    counted, bound = _counted(total, steps)
    result = Measured(value=counted, unit="J", components=components, basis="measured" if amps and volts else "as_read")
    result = _with_lead(result, log, current, steps, test, setting)
    return _in_hours(result.as_bound("at_least") if bound else result, "Wh")


@dataclass(frozen=True, kw_only=True, slots=True)
class _Sensitivity:
    """What ∫ weight·signal dt changes by, for a gain and an offset of one; and the weight's root mean square."""

    per_gain: float
    per_offset: float
    weight: float = 1.0


def _along(
    on: tuple[str, Instrument], signal: Array, steps: Steps, to: _Sensitivity, zero_limit: float, setting: Setting
) -> dict[str, Component]:
    """Components of an integral from the instrument that logged `signal`."""
    name, one = on
    row_noise = noise(signal)
    components = gain_components(to.per_gain, name, one, setting)
    if zero_limit:
        components[setting.offset(name)] = rectangular(zero_limit).scaled(to.per_offset)
    components[setting.own("noise", name)] = Component(row_noise * to.weight * steps.root_sum_square_s)
    if one.step:
        components[setting.own("step", name)] = Component(step_u(one.step.best, row_noise, steps) * to.weight)
    return components


def _root_mean_square(values: Array) -> float:
    return math.sqrt(product_sum(values, values) / len(values))


def _gap_components(total: Total, steps: Steps, setting: Setting, what: str) -> dict[str, Component]:
    """The gaps as one source: each is triangular and independent of the others.

    A load that goes on as it did on either side seldom runs, or rests, through a whole gap: values near the mean are
    likelier than those at the ends of the range.

    Source:
        GUM (JCGM 100:2008) 4.3.9, triangular distribution: u = a/√6.
    """
    if not total.gap_half_widths or steps.gap_share > MAX_GAP_SHARE:  # then nothing is counted for them
        return {}
    u = math.sqrt(sum(half**2 for half in total.gap_half_widths) / 6)
    return {setting.own("gaps", what): Component(u, limit=sum(total.gap_half_widths))}


def _counted(total: Total, steps: Steps) -> tuple[float, bool]:
    """The value to publish, and whether it is only "at least"."""
    at_least = steps.gap_share > MAX_GAP_SHARE
    return (total.outside_gaps if at_least else total.value), at_least


def _with_lead(energy: Measured, log: Log, current: Array, steps: Steps, test: AnyTest, setting: Setting) -> Measured:
    """Voltage sensed away from the terminals misses what the lead takes: R·∫I²dt, added with R's own limit."""
    sense = test.sense
    if sense is None or sense.at == "terminals":
        return energy
    if sense.resistance_milliohm is None:
        return energy.as_bound("at_least")
    square = integral(log, current**2, steps).value / 1000
    resistance = sense.resistance_milliohm
    half = resistance.half_width if 0 < resistance.half_width < math.inf else resistance.step / 2
    lost = Measured(
        value=energy.value + resistance.best * square,
        unit=energy.unit,
        components=energy.components,
        basis=energy.basis,
    )
    return lost.with_component(setting.own("lead"), rectangular(half * square))


def _curve(log: Log, current: Array, steps: Steps, parallel: int, series: int) -> tuple[Array, Array] | None:
    voltage = log.columns.get("voltage")
    if voltage is None:
        return None
    # After the load has gone the voltage jumps back: that is no part of the discharge.
    end = (
        int(np.flatnonzero(current > UNDER_LOAD * float(current.max()))[-1]) + 1 if current.max() > 0 else len(current)
    )
    # Thinned by voltage first: the running charge is then needed at a few rows only.
    rows, volts = thinned(np.arange(end, dtype=np.float64), voltage[:end], CURVE_POINTS)
    means = (current[:-1] + current[1:]) / 2 if log.hold == "linear" else current[:-1]
    charge = np.concatenate([[0.0], np.cumsum(means * steps.width_s)]) / SECONDS_PER_HOUR / parallel
    return charge[rows.astype(np.int64)], volts / series


def _duration(steps: Steps, setting: Setting) -> Measured:
    edge = rectangular(steps.usual_s)
    return Measured(value=steps.duration_s, unit="s", components={setting.own("edge", "time"): edge})


def _refused(log: Log, steps: Steps, setting: Setting, why: str) -> Discharge:
    empty = Measured(value=steps.duration_s, unit="s")
    return Discharge(
        charge=None,
        energy=None,
        duration_s=empty,
        temperature_c=_temperature(log, setting),
        curve=None,
        refused=why,
    )


def _reversal(current: Array) -> float:
    """A current below zero by more than this is charging, not noise. [A]"""
    return max(0.1, 0.01 * float(np.abs(current).max()))


def _on(setting: Setting, role: str) -> str | None:
    """The instrument that fills the log's column."""
    form = setting.bench.log if setting.bench else None
    column = getattr(form, role) if form else None
    return column.on if column else None


def _temperature(log: Log, setting: Setting) -> Measured | None:
    """The battery's mean temperature, with the probe's limits: they do not average out. [°C]"""
    values = log.columns.get("battery_c")
    known = values[np.isfinite(values)] if values is not None else np.empty(0)
    if not len(known):
        return None
    mean = float(known.mean())
    on = setting.instrument(_on(setting, "battery_c"), "temperature")
    components = {} if on is None else instrument_components(mean, *on, setting, field="temperature_c")
    return Measured(value=mean, unit="°C", components=components, basis="measured" if on else "as_read")


def _in_hours(seconds: Measured, unit: str) -> Measured:
    return seconds.scaled(1 / SECONDS_PER_HOUR, unit)


def logged(log: Log, role: str, row: int, unit: str, measures: str, setting: Setting) -> Measured | None:
    """One cell of a log as its instrument allows; None where the column or the cell is missing."""
    values = log.columns.get(role)
    if values is None or not math.isfinite(float(values[row])):
        return None
    return logged_value(float(values[row]), role, measures, unit, setting, f"{role}.{int(log.line[row])}")


def logged_value(value: float, role: str, measures: str, unit: str, setting: Setting, field: str) -> Measured:
    """A value from a log's column as the instrument that fills it allows."""
    on = setting.instrument(_on(setting, role), measures)
    components = {} if on is None else instrument_components(value, *on, setting, field=field)
    return Measured(value=value, unit=unit, components=components, basis="measured" if on else "as_read")


def logged_mean(log: Log, rows: slice, unit: str, setting: Setting) -> Measured:
    """Mean of |V·I| over some rows, with the limits of both instruments, which do not average out. [W]"""
    time = log.time_s[rows]
    power = np.abs(log.columns["current"][rows] * log.columns["voltage"][rows])
    mean = float(np.trapezoid(power, time) / (time[-1] - time[0]))
    components: dict[str, Component] = {}
    for role, other, measures in (("current", "voltage", "current"), ("voltage", "current", "voltage")):
        on = setting.instrument(_on(setting, role), measures)
        if on is None:
            return Measured(value=mean, unit=unit, basis="as_read")
        weight = float(np.mean(np.abs(log.columns[other][rows])))
        sign = float(np.sign(np.mean(log.columns[role][rows])))
        one = instrument_components(float(np.mean(log.columns[role][rows])), *on, setting, field=f"{role}.mean")
        components |= {name: component.scaled(weight * sign) for name, component in one.items()}
    return Measured(value=mean, unit=unit, components=components)
