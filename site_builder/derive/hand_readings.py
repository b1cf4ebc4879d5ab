"""What was read by hand of a test, for one battery of those that were tested together: counters, currents, voltages."""

from __future__ import annotations

import math
from dataclasses import replace

from site_builder.bench_tests import AnyTest
from site_builder.derive.readings import Setting, offset_limit, reading, together, zero_a, zero_limit_a
from site_builder.measured import Measured, bounded, rectangular
from site_builder.values import Stated


def counted_ah(test: AnyTest, duration: Measured | None, setting: Setting) -> Measured | None:
    """Charge that a counter showed. [Ah]"""
    if test.counted_ah is None:
        return None
    parallel, _ = together(test)
    read = _counted(test.counted_ah, "Ah", "charge", test, setting)
    return _with_its_zero(read, "charge", 1.0, test, duration, setting).scaled(1 / parallel)


def counted_wh(test: AnyTest, duration: Measured | None, setting: Setting) -> Measured | None:
    """Energy that a counter showed. [Wh]"""
    if test.counted_wh is None:
        return None
    parallel, series = together(test)
    read = _counted(test.counted_wh, "Wh", "energy", test, setting)
    volts = None if setting.nominal_v is None else setting.nominal_v * series
    return _with_its_zero(read, "energy", volts, test, duration, setting).scaled(1 / (parallel * series))


def _counted(value: Stated, unit: str, measures: str, test: AnyTest, setting: Setting) -> Measured:
    on = setting.fitting(test.read_on, measures)
    return reading(value, unit, measures, setting, field=f"counted_{unit.lower()}", read_on=on)


def _with_its_zero(
    read: Measured, measures: str, volts: float | None, test: AnyTest, duration: Measured | None, setting: Setting
) -> Measured:
    """A counter on a shunt adds up the shunt's zero: over a long test that is more than the counter's own limit."""
    on = setting.instrument(setting.fitting(test.read_on, measures), measures)
    shunt = setting.instrument(on[1].same_gain_as, "current") if on and on[1].same_gain_as else None
    if on is None or shunt is None or duration is None or volts is None:
        return read
    longest_s = duration.value if duration.high is None else duration.high
    added_up = offset_limit(shunt[1]) * volts * longest_s / 3600
    if added_up <= offset_limit(on[1]):
        return read
    components = {name: one for name, one in read.components.items() if name != setting.offset(on[0])}
    return replace(read, components=components | {setting.offset(shunt[0]): rectangular(added_up)})


def current_a(value: Stated, test: AnyTest, setting: Setting) -> Measured:
    """A discharge current, corrected by the zero readings where there are any. [A]"""
    named = setting.fitting(test.read_on, "current")
    read = reading(value, "A", "current", setting, field="current_a", read_on=named)
    parallel, _ = together(test)
    if test.zero is None:
        return read.scaled(1 / parallel)
    components = dict(read.components)
    if on := setting.instrument(named, "current"):
        components[setting.offset(on[0])] = rectangular(zero_limit_a(test, on[1]))
    return replace(read, value=read.value - zero_a(test, setting), components=components).scaled(1 / parallel)


def terminal_voltage_v(value: Stated, current: Measured | None, test: AnyTest, setting: Setting) -> Measured | None:
    """Voltage while discharging: one sensed away from the terminals lacks what the lead takes. [V]

    Args:
        value: What was read.
        current: Current of one battery; None where nobody knows it.
        test: The test.
        setting: Unit, test, bench.

    Returns:
        The voltage; "at least" where nobody knows the lead; None where nothing is known.
    """
    read = reading(value, "V", "voltage", setting, field="voltage_v", read_on=setting.fitting(test.read_on, "voltage"))
    parallel, series = together(test)
    sense = test.sense
    if sense is None or sense.at == "terminals":
        return read.scaled(1 / series)
    if sense.resistance_milliohm is None or current is None:
        return None if read.bound == "at_most" else read.scaled(1 / series).as_bound("at_least")
    lead = sense.resistance_milliohm
    half = lead.half_width if 0 < lead.half_width < math.inf else lead.step / 2
    through_lead_a = current.value * parallel
    total = bounded(lambda v, i: v + i * parallel * lead.best / 1000, read, current, unit="V", rises=(True, True))
    if total is None:
        return None
    return total.with_component(setting.own("lead"), rectangular(half * through_lead_a / 1000)).scaled(1 / series)
