"""Capacity: what a discharge from full to the end delivered, and what that is at the reference rate.

I_t[A] = C_rated[Ah]/1 h (IEC 61434). Reference: the rate that the label is rated for (0.2 I_t unless it says other), at
15 to 30 °C, from full to the battery's own end of discharge (IEC 61960-3, IEC 62620).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from site_builder.bench_tests import CapacityTest
from site_builder.catalogue_records import Load
from site_builder.derive.battery_power import battery_power_w
from site_builder.derive.discharge_log import Discharge, logged_value
from site_builder.derive.durations import over_time, recorded_duration_s
from site_builder.derive.hand_readings import counted_ah, counted_wh, current_a, terminal_voltage_v
from site_builder.derive.log_direction import directed
from site_builder.derive.peukert import (
    COMPARABLE_TEMPERATURE_C,
    at_reference_rate,
    lead_acid_at_25_c,
    lfp_temperature_component,
)
from site_builder.derive.readings import Setting, reading, repeatability, together
from site_builder.derive.results import Finding, OneResult
from site_builder.measured import Measured, bounded, through, weakest_basis
from site_builder.records import Label
from site_builder.series import Array, Log

REFERENCE_BAND = (0.75, 1.25)
REFERENCE_TEMPERATURE_C = (15.0, 30.0)
COMPARABLE_RATE_IT = (0.04, 0.5)
OWN_END = {"bms", "end_voltage"}
NOT_FULL = "it did not start full"
NO_LOADS: Mapping[str, Load] = {}
ENDED_BY_WORDS = {
    "inverter": "the inverter stopped first",
    "tester": "the tester stopped it",
    "died": "it died before the end",
    "unknown": "nobody saw it stop",
}


@dataclass(frozen=True, kw_only=True, slots=True)
class _Delivered:
    """The two headline figures of one test; `reasons` for a bound, and why something is `unknown`."""

    charge: Measured | None
    energy: Measured | None
    findings: tuple[Finding, ...] = ()
    reasons: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()


def capacity(
    test: CapacityTest, log: Log | None, setting: Setting, label: Label, loads: Mapping[str, Load] = NO_LOADS
) -> OneResult:
    """What was delivered, its share of the label, and rate, temperature and end that belong to it.

    Args:
        test: The recorded test.
        log: Its cleaned log, if it has one.
        setting: Unit, test, bench.
        label: The label, for I_t and the reference rate.
        loads: All loads, for whether one that was named runs on mains.

    Returns:
        Metrics delivered_ah, delivered_wh, share_of_rated, mean_current_a, rate_it, mean_voltage_v, temperature_c,
        duration_s, and for comparison comparable_ah, comparable_wh.
    """
    from_log, odd = directed(log, test, setting, "discharge", idle=False)
    duration = from_log.duration_s if from_log else recorded_duration_s(test, setting)
    delivered = _opened(_delivered(test, from_log, duration, setting, loads), test)
    metrics = _metrics(test, from_log, delivered, duration, setting, label)
    off = (*([] if test.started_full else [NOT_FULL]), *_off_reference(metrics, label))
    metrics |= _comparable(metrics, setting, label)
    return OneResult(
        test=setting.test,
        kind=test.kind,
        metrics=metrics,
        reasons=delivered.reasons,
        off_reference=off,
        cannot=_cannot(delivered, from_log),
        curve=from_log.curve if from_log else None,
        curve_v=_curve_v(from_log.curve, setting) if from_log and from_log.curve else None,
        findings=(*odd, *delivered.findings),
    )


def _curve_v(curve: tuple[Array, Array], setting: Setting) -> tuple[Measured, Measured]:
    """The voltage after a tenth and after nine tenths of the charge, as its instrument allows. [V]"""
    charge, voltage = curve
    rows = [min(int((charge < share * charge[-1]).sum()), len(voltage) - 1) for share in (0.1, 0.9)]
    early, late = (logged_value(float(voltage[row]), "voltage", "voltage", "V", setting, "curve") for row in rows)
    return early, late


def _delivered(
    test: CapacityTest,
    from_log: Discharge | None,
    duration: Measured | None,
    setting: Setting,
    loads: Mapping[str, Load],
) -> _Delivered:
    """The figure with the smaller u where log and counter both exist; current times time where neither does."""
    counter_ah = _repeated(counted_ah(test, duration, setting), setting)
    counter_wh = _repeated(counted_wh(test, duration, setting), setting)
    logged_ah, logged_wh = (_repeated(one, setting) for one in _totals(from_log))
    charge = _better(logged_ah, counter_ah) or _current_times_time(test, duration, setting)
    by_power, unnamed = _power_times_time(test, duration, setting, loads)
    energy = _better(logged_wh, counter_wh) or _charge_times_voltage(test, charge, duration, setting) or by_power
    findings = _disagreements(logged_ah, counter_ah, "counted_ah") + _disagreements(logged_wh, counter_wh, "counted_wh")
    opened = any(one is not None and one.bound != "exact" for one in (charge, energy))
    return _Delivered(
        charge=charge,
        energy=energy,
        findings=findings,
        reasons=from_log.reasons if from_log and opened else (),
        unknown=unnamed if energy is None else (),
    )


def _totals(from_log: Discharge | None) -> tuple[Measured | None, Measured | None]:
    return (from_log.charge, from_log.energy) if from_log else (None, None)


def _repeated(one: Measured | None, setting: Setting) -> Measured | None:
    """With the test's repeatability: one variable for charge and energy, since it is the battery that varies."""
    if one is None or one.basis == "as_read":
        return one
    components = dict(one.components) | repeatability(one.value, "charge", setting)
    return replace(one, components=components)


def _better(logged: Measured | None, counted: Measured | None) -> Measured | None:
    both = [one for one in (logged, counted) if one is not None]
    # A log with holes says "at least"; the counter ran on.
    return min(both, key=lambda one: (one.basis == "as_read", one.bound != "exact", one.u), default=None)


def _current_times_time(test: CapacityTest, duration: Measured | None, setting: Setting) -> Measured | None:
    if test.current_a is None or duration is None or duration.value <= 0:
        return None
    return _repeated(over_time(current_a(test.current_a, test, setting), duration, "Ah"), setting)


def _power_times_time(
    test: CapacityTest, duration: Measured | None, setting: Setting, loads: Mapping[str, Load]
) -> tuple[Measured | None, tuple[str, ...]]:
    """Energy of one battery, through the inverter where there was one; and why there is none."""
    power, unnamed = battery_power_w(test, setting, loads)
    if power is None or duration is None or duration.value <= 0:
        return None, unnamed
    total = _repeated(over_time(power, duration, "Wh"), setting)
    return None if total is None else total.scaled(1 / math.prod(together(test))), ()


def _charge_times_voltage(
    test: CapacityTest, charge: Measured | None, duration: Measured | None, setting: Setting
) -> Measured | None:
    if test.voltage_v is None or charge is None:
        return None
    current = None if duration is None or duration.value <= 0 else _mean_current(charge, duration)
    if test.current_a is not None:
        current = current_a(test.current_a, test, setting)
    voltage = terminal_voltage_v(test.voltage_v, current, test, setting)
    return None if voltage is None else bounded(lambda q, v: q * v, charge, voltage, unit="Wh", rises=(True, True))


def _disagreements(logged: Measured | None, counted: Measured | None, field: str) -> tuple[Finding, ...]:
    if logged is None or counted is None or "as_read" in (logged.basis, counted.basis):
        return ()
    difference = through(lambda a, b: a - b, logged, counted, unit=logged.unit)
    allowed = difference.expanded or 0.0
    less = logged.bound == "at_least" and difference.value < 0
    if less or abs(difference.value) <= allowed:
        return ()
    both = f"the counter's {counted.value:.4g} {counted.unit} and the log's {logged.value:.4g} {logged.unit}"
    message = f"{both} differ by more than their limits allow"
    hint = "check the log's scaling and which test the counter belongs to"
    return (Finding(field=field, message=message, hint=hint, code="log-counter-disagree"),)


def _opened(delivered: _Delivered, test: CapacityTest) -> _Delivered:
    """Not from full, or ended by anything but the battery itself, it could have delivered more."""
    why = [] if test.started_full else [NOT_FULL]
    why += [] if test.ended_by in OWN_END else [ENDED_BY_WORDS[test.ended_by]]
    if not why:
        return delivered
    charge, energy = (one.opened_up() if one else None for one in (delivered.charge, delivered.energy))
    lost = charge is None and energy is None and (delivered.charge or delivered.energy) is not None
    return replace(
        delivered,
        charge=charge,
        energy=energy,
        reasons=(*delivered.reasons, *why),
        unknown=(f"what it delivered is not known: only an upper end was read, and {why[0]}",)
        if lost
        else delivered.unknown,
    )


def _metrics(
    test: CapacityTest,
    from_log: Discharge | None,
    delivered: _Delivered,
    duration: Measured | None,
    setting: Setting,
    label: Label,
) -> dict[str, Measured]:
    charge, energy = delivered.charge, delivered.energy
    rated = label.capacity_ah.best
    metrics: dict[str, Measured | None] = {"delivered_ah": charge, "delivered_wh": energy, "duration_s": duration}
    if charge is not None:
        metrics["share_of_rated"] = charge.scaled(1 / rated, "1")
    if charge is not None and duration is not None and duration.value > 0 and (from_log or test.current_a is None):
        metrics["mean_current_a"] = _mean_current(charge, duration)
    elif test.current_a is not None and (read := current_a(test.current_a, test, setting)).value > 0:
        metrics["mean_current_a"] = read
    if (mean := metrics.get("mean_current_a")) is not None:
        metrics["rate_it"] = mean.scaled(1 / rated, "It")
    if charge is not None and energy is not None and charge.value > 0 and energy.value > 0:
        metrics["mean_voltage_v"] = _mean_voltage(energy, charge)
    metrics["temperature_c"] = _temperature(test, from_log, setting)
    return {name: value for name, value in metrics.items() if value is not None}


def _mean_voltage(energy: Measured, charge: Measured) -> Measured | None:
    """Of what is known to have passed; what opens both at once, such as an end that nobody saw, opens no voltage."""
    if energy.bound == charge.bound:
        return through(lambda e, q: e / q, energy, charge, unit="V")
    return bounded(lambda e, q: e / q, energy, charge, unit="V", rises=(True, False))


def _mean_current(charge: Measured, duration: Measured) -> Measured:
    if duration.bound == "between" and duration.low and duration.high:
        low, high = charge.value * 3600 / duration.high, charge.value * 3600 / duration.low
        return Measured(value=(low + high) / 2, unit="A", bound="between", low=low, high=high, basis=charge.basis)
    return through(lambda q, t: q * 3600 / t, replace(charge, bound="exact"), duration, unit="A")


def _temperature(test: CapacityTest, from_log: Discharge | None, setting: Setting) -> Measured | None:
    """The battery's, from log or reading; the air's where nobody measured the battery. [°C]"""
    if from_log and from_log.temperature_c is not None:
        return from_log.temperature_c
    value = test.battery_c or test.ambient_c
    return None if value is None else reading(value, "°C", "temperature", setting, field="temperature_c")


def reference_it(label: Label) -> float:
    """The rate that the label is rated for: 0.2 I_t unless it names another discharge time. [I_t]"""
    return 1 / label.rated_over_h.best if label.rated_over_h else 0.2


def _off_reference(metrics: dict[str, Measured], label: Label) -> tuple[str, ...]:
    """Why the test is off the reference, in words; empty where it is on it."""
    reasons: list[str] = []
    reference = reference_it(label)
    rate = metrics.get("rate_it")
    if rate is None:
        reasons.append("its current is not known")
    elif not REFERENCE_BAND[0] * reference <= rate.value <= REFERENCE_BAND[1] * reference:
        reasons.append(f"at {rate.value:.2g} of its capacity per hour instead of {reference:.2g}")
    temperature = metrics.get("temperature_c")
    if temperature is None:
        reasons.append("its temperature was not recorded")
    elif not REFERENCE_TEMPERATURE_C[0] <= temperature.value <= REFERENCE_TEMPERATURE_C[1]:
        reasons.append(f"at {temperature.value:.0f} °C instead of 15 to 30 °C")
    return tuple(reasons)


def _comparable(metrics: dict[str, Measured], setting: Setting, label: Label) -> dict[str, Measured]:
    """Charge and energy at the reference rate, where this project knows how to get there."""
    rate, temperature = metrics.get("rate_it"), metrics.get("temperature_c")
    if rate is None or rate.bound != "exact" or not COMPARABLE_RATE_IT[0] <= rate.value <= COMPARABLE_RATE_IT[1]:
        return {}
    if label.chemistry != "LiFePO4":
        return _comparable_lead_acid(metrics, temperature, label)
    result: dict[str, Measured] = {}
    for name, comparable, energy in (("delivered_ah", "comparable_ah", False), ("delivered_wh", "comparable_wh", True)):
        if (delivered := metrics.get(name)) is not None:
            at = at_reference_rate(delivered, rate.value, reference_it(label), unit=setting.unit, energy=energy)
            if (known := _at_room_temperature(at, temperature, setting)) is not None:
                result[comparable] = known
    return result


def _at_room_temperature(at: Measured, temperature: Measured | None, setting: Setting) -> Measured | None:
    if temperature is None:
        return at.opened_up()
    if COMPARABLE_TEMPERATURE_C[0] <= temperature.value <= COMPARABLE_TEMPERATURE_C[1]:
        return at.with_component(setting.own("temperature"), lfp_temperature_component(at.value, temperature.value))
    # Colder than that it delivered less than it would have at 25 °C; hotter, nothing is known.
    return at.opened_up()


def _comparable_lead_acid(
    metrics: dict[str, Measured], temperature: Measured | None, label: Label
) -> dict[str, Measured]:
    """Corrected for temperature only, and only at the reference rate: k differs too much from battery to battery."""
    delivered, rate = metrics.get("delivered_ah"), metrics["rate_it"]
    at_rate = REFERENCE_BAND[0] <= rate.value / reference_it(label) <= REFERENCE_BAND[1]
    if not label.chemistry.startswith("lead-acid") or delivered is None or temperature is None or not at_rate:
        return {}
    factor = lead_acid_at_25_c(1.0, temperature.value)
    return {"comparable_ah": replace(delivered.scaled(factor), basis=weakest_basis(delivered.basis, "projected"))}


def _cannot(delivered: _Delivered, from_log: Discharge | None) -> tuple[str, ...]:
    cannot: list[str] = []
    if from_log and from_log.refused:
        cannot.append(f"charge and energy cannot be computed because {from_log.refused}")
    elif delivered.unknown:
        cannot += delivered.unknown
    elif delivered.charge is None and delivered.energy is None:
        cannot.append("what it delivered is not known; it would take a log, a counter, or current and duration")
    elif delivered.energy is None:
        cannot.append("its energy is not known; it would take a voltage beside the current")
    return tuple(cannot)


def is_finite(one: Measured) -> bool:
    """Whether the number can be published at all."""
    return math.isfinite(one.value)
