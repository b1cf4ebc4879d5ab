"""One run of a load: what it took from the battery, how long, and what the tester's own estimate was."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from site_builder.bench_tests import LoadRun
from site_builder.catalogue_records import Load
from site_builder.derive.discharge_log import discharge
from site_builder.derive.durations import recorded_duration_s
from site_builder.derive.inverter import Chain, chain_of
from site_builder.derive.readings import Setting, reading, repeatability
from site_builder.derive.results import Finding, OneResult
from site_builder.measured import Component, Measured, rectangular, through
from site_builder.records import Label
from site_builder.series import Log

# This project's judgement: what a state-of-charge counter may miss of the charge that passed, besides its display.
SOC_SHARE = 0.05
# Mean voltage of a run that nobody metered, as a share of nominal (rectangular half-width).
VOLTAGE_SHARE = 0.04


def load_run(test: LoadRun, log: Log | None, setting: Setting, label: Label, loads: Mapping[str, Load]) -> OneResult:
    """Energy and charge of a run, from log, counter, power times time, or a difference in state of charge.

    Returns:
        Metrics used_wh, used_ah, duration_s, mean_power_w (at the battery), soc_used_wh (never leads), guess_s.
    """
    from_log = discharge(log, test, setting) if log is not None and "current" in log.columns else None
    duration = from_log.duration_s if from_log else recorded_duration_s(test, setting)
    metrics: dict[str, Measured | None] = {"duration_s": duration}
    metrics["used_ah"] = _first(from_log.charge if from_log else None, _counted(test, "Ah", setting))
    metrics["battery_power_w"] = battery_power_w(test, setting, loads)
    power_time = _over_time(metrics["battery_power_w"], duration)
    metrics["used_wh"] = _first(from_log.energy if from_log else None, _counted(test, "Wh", setting), power_time)
    by_soc, cannot, findings = _by_soc(test, setting, label)
    metrics["soc_used_wh"] = by_soc
    if test.guess:
        metrics["guess_s"] = _guess(test)
    return OneResult(
        test=setting.test,
        kind=test.kind,
        metrics={name: one for name, one in metrics.items() if one is not None},
        cannot=cannot,
        findings=findings,
    )


def _first(*many: Measured | None) -> Measured | None:
    return next((one for one in many if one is not None), None)


def _counted(test: LoadRun, unit: str, setting: Setting) -> Measured | None:
    value, measures, field = (
        (test.counted_ah, "charge", "counted_ah") if unit == "Ah" else (test.counted_wh, "energy", "counted_wh")
    )
    if value is None:
        return None
    return reading(value, unit, measures, setting, field=field, read_on=setting.fitting(test.read_on, measures))


def chain_for(test: LoadRun, setting: Setting) -> Chain | None:
    """The inverter's chain, where the run names one of its bench's."""
    if test.inverter is None or setting.bench is None or test.inverter not in setting.bench.inverters:
        return None
    return chain_of(setting.bench.inverters[test.inverter])


def battery_power_w(test: LoadRun, setting: Setting, loads: Mapping[str, Load]) -> Measured | None:
    """Mean power at the battery: as metered at the load, through the inverter, for the share of time it was on. [W]"""
    if test.power_w is None:
        return None
    ac = reading(test.power_w, "W", "power", setting, field="power_w", read_on=setting.fitting(test.read_on, "power"))
    duty = test.duty.best if test.duty else 1.0
    chain = chain_for(test, setting)
    if chain is None:
        mains = any(loads[name].mains for name in test.load if name in loads)
        return None if mains and test.inverter is None else _scaled(ac, duty)
    return through_chain(ac, chain, duty, setting)


def through_chain(ac: Measured, chain: Chain, duty: float, setting: Setting, inverter: str = "inverter") -> Measured:
    """AC power through an inverter that idles all the time, the load on for `duty` of it. [W]"""
    on = chain.dc_w(ac.value) - chain.idle_w
    value = chain.idle_w + duty * on
    slope = duty * (chain.slope + 2 * chain.square * ac.value)
    components = {name: one.scaled(slope) for name, one in ac.components.items()}
    components[f"chain:{setting.bench_id}/{inverter}"] = Component(chain.relative_u * value)
    return Measured(value=value, unit="W", components=components, bound=ac.bound, basis=ac.basis)


def _scaled(one: Measured, factor: float) -> Measured:
    components = {name: component.scaled(factor) for name, component in one.components.items()}
    return replace(one, value=one.value * factor, components=components)


def _over_time(power: Measured | None, duration: Measured | None) -> Measured | None:
    if power is None or duration is None:
        return None
    energy = through(lambda p, t: p * t / 3600, power, duration, unit="Wh")
    if duration.bound == "between" and duration.low is not None and duration.high is not None:
        return replace(
            energy, bound="between", low=power.value * duration.low / 3600, high=power.value * duration.high / 3600
        )
    opened = {power.bound, duration.bound} - {"exact"}
    return energy.as_bound(opened.pop()) if len(opened) == 1 else energy


def _by_soc(
    test: LoadRun, setting: Setting, label: Label
) -> tuple[Measured | None, tuple[str, ...], tuple[Finding, ...]]:
    """Energy from a difference in state of charge, with all that such a counter cannot tell; or why not."""
    if test.soc is None:
        return None, (), ()
    start, end = test.soc.start, test.soc.end
    if end.best >= start.best:
        why = "energy from the state of charge cannot be computed because it did not fall"
        return None, (f"{why}; it would take a log or a counter",), ()
    if start.best >= 1.0 or end.best <= 0.0:
        why = "energy from the state of charge cannot be computed at 0 or 100 %, where the counter is set anew"
        return None, (f"{why}; it would take a log, a counter, or a run that starts below 100 %",), ()
    on = setting.instrument(test.read_on, "soc")
    if on is None:
        return None, ("energy from the state of charge has no instrument; it would take read_on",), ()
    used, setting_ah = _soc_difference(test, setting, on[0]), _counter_capacity(on[1].capacity_ah, label)
    energy = _soc_energy(used, setting_ah, test, setting, label, on[1].dead_band_a)
    return energy, (), _rated_counter(on[1].capacity_ah, label)


def _soc_difference(test: LoadRun, setting: Setting, name: str) -> Measured:
    """Fall of the state of charge; the offset at each end is its own, since such counters jump. [1]"""
    ends = test.soc
    if ends is None:  # the caller has looked
        return Measured(value=0.0, unit="1")
    readings = [
        reading(one, "1", "soc", replace(setting, test=f"{setting.test}.{end}"), field=f"soc.{end}", read_on=name)
        for end, one in (("start", ends.start), ("end", ends.end))
    ]
    return through(lambda a, b: a - b, *readings, unit="1")


def _counter_capacity(declared: object, label: Label) -> float:
    best = getattr(declared, "best", None)
    return label.capacity_ah.best if best is None else float(best)


def _soc_energy(
    used: Measured, counter_ah: float, test: LoadRun, setting: Setting, label: Label, dead_band: object
) -> Measured:
    nominal = label.nominal_v.best
    per_share = counter_ah * nominal
    components = {name: one.scaled(per_share) for name, one in used.components.items()}
    value = used.value * per_share
    components[setting.own("counter")] = rectangular(SOC_SHARE * value)
    components[setting.own("voltage")] = rectangular(VOLTAGE_SHARE * value)
    hours = (test.duration_s.best if test.duration_s and math.isfinite(test.duration_s.best) else 0.0) / 3600
    band = float(getattr(dead_band, "best", 0.0) or 0.0)
    if band and hours:
        components[setting.own("dead band")] = rectangular(band * hours * nominal)
    return Measured(value=value, unit="Wh", components=components)


def _rated_counter(declared: object, label: Label) -> tuple[Finding, ...]:
    best = getattr(declared, "best", None)
    if best is None or best != label.capacity_ah.best:
        return ()
    message = "the counter is set to exactly the rated capacity, as if nobody had set it"
    return (
        Finding(
            field="soc", message=message, hint="set it to what the battery delivered, or say so", code="counter-rated"
        ),
    )


def _guess(test: LoadRun) -> Measured | None:
    if test.guess is None:
        return None
    stated = test.guess.duration_s
    half = stated.half_width if 0 < stated.half_width < math.inf else 0.0
    return Measured(value=stated.best, unit="s", components={"stated:guess": rectangular(half)}, basis="estimate")


def repeated(one: Measured, setting: Setting) -> Measured:
    """With the repeatability of charge and energy."""
    return replace(one, components=dict(one.components) | repeatability(one.value, "charge", setting))
