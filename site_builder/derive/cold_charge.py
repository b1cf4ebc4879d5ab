"""Cold charging and self-heating: two bounds, the heater's power and energy, and the standard warm-up.

Accepting charge into the cells below the label's limit is a safety finding; where the evidence cannot tell heater
current from charge, it says "not decided".
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from site_builder.bench_tests import ColdChargeTest
from site_builder.derive.cold_events import ColdEvent, Phases, bounds, events, phases
from site_builder.derive.discharge_log import logged_mean
from site_builder.derive.integrate import thinned
from site_builder.derive.readings import Setting, offset_limit, reading
from site_builder.derive.results import OneResult
from site_builder.derive.thermal import (
    FIT_ROWS,
    STANDARD_FROM_C,
    Lump,
    Warming,
    fitted,
    from_lump,
    simulated_c,
    thinned_to,
    warm_up_s,
)
from site_builder.measured import Bound, Component, Measured, rectangular, through
from site_builder.records import Label
from site_builder.series import Array, Log

# Charging lithium cells below this plates lithium, whatever a label leaves unsaid (common practice).
LEAST_CHARGE_C = 0.0
LEAST_ROWS = 6
TOO_WIDE = 1 / 3
STRETCH = "the standard warm-up cannot be told closely enough; it would take a stretch with the heater off"


def cold_charge(
    test: ColdChargeTest, log: Log | None, setting: Setting, label: Label, mass_kg: float | None
) -> OneResult:
    """What the battery does when it is charged frozen.

    Args:
        test: The recorded test.
        log: Its log, if it has one.
        setting: Unit, test, bench.
        label: The label: heater, limits.
        mass_kg: The battery's mass, for its heat capacity.

    Returns:
        Metrics refused_up_to_c, accepted_from_c, heater_w, heater_wh, heating_s, room_share, standard_warm_up_s;
        `conditions` hold "charges its cells below the limit" or "not decided".
    """
    seen = events(test, log, setting, label)
    refused, accepted = bounds(seen)
    metrics: dict[str, Measured] = {}
    if refused and refused.temperature:
        metrics["refused_up_to_c"] = refused.temperature
    if accepted and accepted.temperature:
        metrics["accepted_from_c"] = accepted.temperature
    warmed, cannot = _warming(test, log, setting, label, mass_kg)
    metrics |= warmed
    if not seen:
        cannot = (*cannot, "nothing was seen of charge; it would take a temperature and whether charge went in")
    return OneResult(
        test=setting.test,
        kind=test.kind,
        metrics=metrics,
        cannot=cannot,
        conditions=_decision(seen, label),
        curve=_curve(log),
    )


def charge_limit_c(label: Label) -> float:
    """The temperature below which the label, or else common practice, forbids charging. [°C]"""
    return label.charge.min_c.best if label.charge and label.charge.min_c else LEAST_CHARGE_C


def charges_below_limit(event: ColdEvent, label: Label) -> bool:
    """Whether an event shows charge into the cells below the limit, by more than U, for over a minute."""
    if event.verdict != "accepted" or event.temperature is None or not event.sustained or event.where == "air":
        return False
    return event.temperature.value + (event.temperature.expanded or 0.0) < charge_limit_c(label)


SAFETY = "charges its cells below the limit"
NOT_DECIDED = "not decided"


def _decision(seen: list[ColdEvent], label: Label) -> tuple[str, ...]:
    if any(charges_below_limit(event, label) for event in seen):
        return (SAFETY,)
    decided = any(event.verdict in {"accepted", "refused"} for event in seen)
    return () if decided or not seen else (NOT_DECIDED,)


def _warming(
    test: ColdChargeTest, log: Log | None, setting: Setting, label: Label, mass_kg: float | None
) -> tuple[dict[str, Measured], tuple[str, ...]]:
    """Heater figures, from the log's heating phase, else from what somebody metered."""
    if label.heater is None:
        return {}, ()
    metered = (
        {} if test.heater_w is None else {"heater_w": reading(test.heater_w, "W", "power", setting, field="heater_w")}
    )
    if log is None or not {"current", "voltage"} <= set(log.columns):
        return metered, ()
    found = phases(log, test, label)
    if found.heating is None or found.heating.stop - found.heating.start < LEAST_ROWS:
        return metered, ("the heater's phase is not in the log; it would take a start below its switch-on temperature",)
    metrics = _heater(log, found, setting)
    temperatures = log.columns.get("battery_c")
    if temperatures is None or mass_kg is None or not np.isfinite(temperatures[found.heating]).all():
        return metrics, ("the warm-up cannot be modelled; it would take the battery's temperature and mass",)
    warming = thinned_to(_warming_of(log, found.heating, metrics["heater_w"], test, setting, mass_kg), FIT_ROWS)
    return _modelled(metrics, warming, found, log, setting)


def _heater(log: Log, found: Phases, setting: Setting) -> dict[str, Measured]:
    """Power while heating, how long, and the energy it took. [W, s, Wh]"""
    heating = found.heating or slice(0, 0)
    power = logged_mean(log, heating, "W", setting)
    seconds = float(log.time_s[heating.stop - 1] - log.time_s[heating.start])
    step = float(np.median(np.diff(log.time_s[heating])))
    duration = Measured(value=seconds, unit="s", components={setting.own("edge", "heating"): rectangular(step)})
    bound: Bound = "exact" if found.accepted_at is not None else "at_least"
    energy = through(lambda p, t: p * t / 3600, power, duration, unit="Wh")
    return {"heater_w": power, "heating_s": duration.as_bound(bound), "heater_wh": energy.as_bound(bound)}


def _warming_of(
    log: Log, heating: slice, power: Measured, test: ColdChargeTest, setting: Setting, mass_kg: float
) -> Warming:
    time = log.time_s[heating] - log.time_s[heating.start]
    sensor = log.columns["battery_c"][heating]
    logged_air = log.columns.get("ambient_c")
    stated = test.ambient_c.best if test.ambient_c else float(sensor[0])
    air = logged_air[heating] if logged_air is not None else np.full(len(time), stated)
    on = setting.bench.log.battery_c.on if setting.bench and setting.bench.log and setting.bench.log.battery_c else None
    probe = setting.instrument(on, "temperature")
    sensor_u = rectangular(offset_limit(probe[1])).u if probe else 1.0
    return Warming(time_s=time, sensor_c=sensor, air_c=air, heater_w=power, sensor_u_k=sensor_u, mass_kg=mass_kg)


def _modelled(
    metrics: dict[str, Measured], warming: Warming, found: Phases, log: Log, setting: Setting
) -> tuple[dict[str, Measured], tuple[str, ...]]:
    lump = fitted(warming)
    metrics["heat_capacity_j_per_k"] = from_lump(lump, warming, lambda c, *_: c, "J/K", setting.own("fit"))
    metrics["loss_w_per_k"] = from_lump(lump, warming, lambda _, ua, *__: ua, "W/K", setting.own("fit"))
    metrics["room_share"] = _room_share(lump, warming, setting)
    if found.accepted_at is None:
        return metrics, ("the temperature at which it resumes was not reached; it would take a longer test",)
    resumes = float(log.columns["battery_c"][found.accepted_at])
    standard = from_lump(
        lump,
        warming,
        lambda c, ua, p, offset: warm_up_s(STANDARD_FROM_C, resumes - offset, STANDARD_FROM_C, p, c, ua),
        "s",
        setting.own("fit"),
    )
    if math.isinf(standard.value):
        return metrics, (
            f"never: its heater's {warming.heater_w.value:.0f} W do not reach {resumes:.0f} °C in air at -10 °C",
        )
    if (standard.expanded or 0.0) > TOO_WIDE * standard.value:
        return metrics, (STRETCH,)
    return {**metrics, "standard_warm_up_s": standard}, ()


def _room_share(lump: Lump, warming: Warming, setting: Setting) -> Measured:
    """Share of the heat in C·ΔT that the air gave (negative: took)."""

    def share(c: float, ua: float, p: float, offset: float) -> float:
        model = simulated_c(_with_power(warming, p), c, ua, lump.start_c - offset)
        given = ua * float(np.trapezoid(warming.air_c - model, warming.time_s))
        return given / (c * float(model[-1] - model[0]))

    return from_lump(lump, warming, share, "1", setting.own("fit"))


def _with_power(warming: Warming, power_w: float) -> Warming:
    return replace(warming, heater_w=replace(warming.heater_w, value=power_w, components={"fixed": Component(0.0)}))


def _curve(log: Log | None) -> tuple[Array, Array] | None:
    """Temperature over time, thinned, for the picture. [s, °C]"""
    if log is None or "battery_c" not in log.columns:
        return None
    fine = np.isfinite(log.columns["battery_c"])
    return thinned(log.time_s[fine], log.columns["battery_c"][fine], 160)
