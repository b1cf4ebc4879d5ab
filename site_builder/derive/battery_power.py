"""What a load took from the battery, from the power read at the load: through the inverter, where there was one."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from site_builder.bench_tests import CapacityTest, LoadRun
from site_builder.catalogue_records import Load
from site_builder.derive.inverter import Chain, chain_of
from site_builder.derive.readings import Setting, reading
from site_builder.measured import Component, Measured, rectangular
from site_builder.values import Stated


def chain_for(test: LoadRun | CapacityTest, setting: Setting) -> Chain | None:
    """The inverter's chain, where the test names one of its bench's."""
    if test.inverter is None or setting.bench is None or test.inverter not in setting.bench.inverters:
        return None
    return chain_of(setting.bench.inverters[test.inverter])


def battery_power_w(
    test: LoadRun | CapacityTest, setting: Setting, loads: Mapping[str, Load]
) -> tuple[Measured | None, tuple[str, ...]]:
    """Mean power at the battery: as metered at the load, through the inverter, for the share of time it was on. [W]

    Returns:
        The power, or None; and why there is none though it was metered.
    """
    if test.power_w is None:
        return None, ()
    ac = reading(test.power_w, "W", "power", setting, field="power_w", read_on=setting.fitting(test.read_on, "power"))
    chain = chain_for(test, setting)
    mains = any(loads[name].mains for name in test.load or () if name in loads)
    if chain is None and (mains or test.inverter is not None):
        return None, ("its power at the battery is not known: which inverter it went through was not recorded",)
    on = ac if chain is None else through_chain(ac, chain, 1.0, setting, test.inverter or "")
    off_w = 0.0 if chain is None else chain.off_w
    duty = test.duty if isinstance(test, LoadRun) else None
    return (on if duty is None else _for_share(on, off_w, duty, setting)), ()


def _for_share(on: Measured, off_w: float, duty: Stated, setting: Setting) -> Measured:
    """Mean of the power while on and what the inverter takes while it is not: idle, or standby where it has it. [W]"""
    share = duty.best
    components = {name: one.scaled(share) for name, one in on.components.items()}
    mean = replace(on, value=off_w + share * (on.value - off_w), components=components)
    half = duty.half_width
    if not 0 < half < math.inf:
        return mean
    return mean.with_component(setting.own("stated", "duty"), rectangular(half * (on.value - off_w)))


def through_chain(ac: Measured, chain: Chain, duty: float, setting: Setting, inverter: str) -> Measured:
    """AC power through an inverter, the load on for `duty` of the time. [W]"""
    value = chain.resting_w(duty) + duty * (chain.dc_w(ac.value) - chain.idle_w)
    slope = duty * (chain.slope + 2 * chain.square * ac.value)
    components = {name: one.scaled(slope) for name, one in ac.components.items()}
    components[f"chain:{setting.bench_id}/{inverter}"] = Component(chain.relative_u * value)
    return Measured(value=value, unit="W", components=components, bound=ac.bound, basis=ac.basis)
