"""The heater in a cold-charging log: its power and energy, and from them the standard warm-up.

Where the log does not allow a number, this says in words what it would take; nothing is guessed.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from site_builder.bench_tests import ColdChargeTest
from site_builder.derive.cold_events import Phases
from site_builder.derive.discharge_log import logged, logged_mean
from site_builder.derive.readings import Setting, offset_limit, reading
from site_builder.derive.thermal import (
    FIT_ROWS,
    STANDARD_FROM_C,
    Lump,
    Warming,
    evenly,
    fitted,
    from_lump,
    lump_model_c,
    sensor_model_c,
    thinned_to,
    warm_up_s,
)
from site_builder.measured import Bound, Component, Measured, rectangular, through
from site_builder.records import Label
from site_builder.series import Array, Log

Metrics = dict[str, Measured]
Cannot = tuple[str, ...]
Model = tuple[Array, Array] | None
DRAWN = 16  # points of the model for the picture
LEAST_ROWS = 6
TOO_WIDE = 1 / 3
# Where nobody named the thermometer, what a kitchen one may be off by (1 u).
UNKNOWN_SENSOR_K = 1.0
# This project's judgement: cells that are heated from inside are warmer than the case by no more than this share of
# what the case is warmer than the air.
MOST_LAG = 0.2
STRETCH = "the standard warm-up cannot be told closely enough; it would take a stretch with the heater off"
NO_PHASE = "the heater's phase is not in the log; it would take a start below its switch-on temperature"
NO_MODEL = "the warm-up cannot be modelled; it would take the temperatures of battery and air, and the battery's mass"
NOTHING_TO_WARM = "the standard warm-up is nothing: it resumes below −10 °C"
NOT_REACHED = "the temperature at which it resumes was not reached; it would take a longer test"


def warming(
    test: ColdChargeTest, log: Log | None, found: Phases | None, setting: Setting, label: Label, mass_kg: float | None
) -> tuple[Metrics, Cannot, Model]:
    """Heater figures, from the log's heating phase, else from what somebody metered; and what they cannot tell.

    Returns:
        Metrics heater_w, heater_wh, heating_s, heat_capacity_j_per_k, loss_w_per_k, room_share, standard_warm_up_s;
        what they cannot tell; and what the fitted lump's sensor would have shown [s of the log, °C], if it was fitted.
    """
    if label.heater is None:
        return {}, (), None
    metered = (
        {} if test.heater_w is None else {"heater_w": reading(test.heater_w, "W", "power", setting, field="heater_w")}
    )
    if log is None or found is None or "voltage" not in log.columns:
        return metered, (), None
    if found.heating is None or found.heating.stop - found.heating.start < LEAST_ROWS:
        return metered, (NO_PHASE,), None
    metrics = _heater(log, found.heating, setting, ended=found.accepted_at is not None)
    warming = _warming_of(log, found.heating, metrics["heater_w"], test, setting, mass_kg)
    if warming is None:
        return metrics, (NO_MODEL,), None
    lump, seen = fitted(warming), thinned_to(warming, FIT_ROWS)
    shown = evenly(len(seen.time_s), DRAWN)
    model = (float(log.time_s[found.heating.start]) + seen.time_s[shown], sensor_model_c(seen, lump)[shown])
    return *_modelled(metrics, lump, warming, found, log, setting), model


def _heater(log: Log, heating: slice, setting: Setting, *, ended: bool) -> Metrics:
    """Power while heating, how long, and the energy it took; "at least" where it was still heating at the end."""
    power = logged_mean(log, heating, "W", setting)
    duration = _heating_s(log, heating, setting)
    bound: Bound = "exact" if ended else "at_least"
    energy = through(lambda p, t: p * t / 3600, power, duration, unit="Wh")
    return {"heater_w": power, "heating_s": duration.as_bound(bound), "heater_wh": energy.as_bound(bound)}


def _heating_s(log: Log, heating: slice, setting: Setting) -> Measured:
    """How long: it came on and went off between two rows each, at any moment; what is outside the log is not in it."""
    time = log.time_s
    before = float(time[max(heating.start - 1, 0)])
    after = float(time[min(heating.stop, len(time) - 1)])
    first, last = float(time[heating.start]), float(time[heating.stop - 1])
    components = {
        setting.own("edge", "heating began"): rectangular((first - before) / 2),
        setting.own("edge", "heating ended"): rectangular((after - last) / 2),
    }
    return Measured(value=(last + after - before - first) / 2, unit="s", components=components)


def _warming_of(
    log: Log, heating: slice, power: Measured, test: ColdChargeTest, setting: Setting, mass_kg: float | None
) -> Warming | None:
    """What the lump is fitted to: rows of the heating phase in which the battery's temperature was read."""
    temperatures = log.columns.get("battery_c")
    air = _air(log, test, setting)
    if temperatures is None or mass_kg is None or air is None:
        return None
    rows = np.flatnonzero(np.isfinite(temperatures) & np.isfinite(air[0]))
    rows = rows[(rows >= heating.start) & (rows < heating.stop)]
    if len(rows) < LEAST_ROWS:
        return None
    return Warming(
        time_s=log.time_s[rows] - log.time_s[rows[0]],
        sensor_c=temperatures[rows],
        air_c=air[0][rows],
        heater_w=power,
        sensor_u_k=_column_u_k("battery_c", setting),
        air_u_k=air[1],
        mass_kg=mass_kg,
    )


def _air(log: Log, test: ColdChargeTest, setting: Setting) -> tuple[Array, float] | None:
    """The air at every row, logged or as stated, and how far that may be off (1 u). [°C, K]"""
    column = log.columns.get("ambient_c")
    if column is not None and np.isfinite(column).any():
        return column, _column_u_k("ambient_c", setting)
    if test.ambient_c is None or test.ambient_c.form in {"over", "under"}:
        return None
    stated = reading(test.ambient_c, "°C", "temperature", setting, field="ambient_c")
    unknown = UNKNOWN_SENSOR_K if stated.basis == "as_read" else 0.0
    return np.full(len(log.time_s), stated.value), math.hypot(stated.u, unknown)


def _column_u_k(role: str, setting: Setting) -> float:
    """Standard uncertainty of a logged temperature, one error for all rows. [K]"""
    form = setting.bench.log if setting.bench else None
    column = getattr(form, role) if form else None
    on = setting.instrument(column.on if column else None, "temperature")
    return rectangular(offset_limit(on[1])).u if on else UNKNOWN_SENSOR_K


def _modelled(
    metrics: Metrics, lump: Lump, warming: Warming, found: Phases, log: Log, setting: Setting
) -> tuple[Metrics, Cannot]:
    power, name = warming.heater_w, setting.own("fit")
    metrics["heat_capacity_j_per_k"] = from_lump(lump, power, lambda one, _: one.capacity_j_per_k, "J/K", name)
    metrics["loss_w_per_k"] = from_lump(lump, power, lambda one, _: one.loss_w_per_k, "W/K", name)
    metrics["room_share"] = _room_share(lump, warming, name)
    resumes = (
        None if found.accepted_at is None else logged(log, "battery_c", found.accepted_at, "°C", "temperature", setting)
    )
    if resumes is None:
        return metrics, (NOT_REACHED,)
    standard, cannot = standard_warm_up(lump, power, _target(resumes, float(warming.air_c[-1]), setting), name)
    return (metrics if standard is None else {**metrics, "standard_warm_up_s": standard}), cannot


def _target(resumes: Measured, air_c: float, setting: Setting) -> Measured:
    """What the sensor would show at the standard's end: the cells as warm as when this test resumed. [°C]

    Cells that are heated from inside are warmer than the case by some share of what that is warmer than the air; in
    other air than the standard's, the same cells show another temperature on the case. The sensor's error is in the
    fit.
    """
    warmer_air_k = STANDARD_FROM_C - air_c
    components = {key: one for key, one in resumes.components.items() if key.startswith("step:")}
    components[setting.own("lag")] = rectangular(MOST_LAG / 2 * abs(warmer_air_k))
    return replace(resumes, value=resumes.value + MOST_LAG / 2 * warmer_air_k, components=components)


def standard_warm_up(lump: Lump, power: Measured, target: Measured, name: str) -> tuple[Measured | None, Cannot]:
    """Time from -10 °C, in air at -10 °C, until the sensor shows the target; or in words why there is none. [s]

    "Never" only where U leaves no doubt; no time where U exceeds a third of it.

    Args:
        lump: The fitted lump.
        power: The heater's. [W]
        target: What the sensor shows when the battery resumes; the sensor's own error is in the fit. [°C]
        name: Name of the fit's own errors.
    """
    standard = from_lump(
        lump,
        power,
        lambda one, watt: warm_up_s(
            STANDARD_FROM_C, target.value - one.sensor_k, STANDARD_FROM_C, watt, one.capacity_j_per_k, one.loss_w_per_k
        ),
        "s",
        name,
    )
    if math.isinf(standard.value):
        return None, (_never(lump, power, target, name),)
    if standard.value == 0:
        return None, (NOTHING_TO_WARM,)
    rate = (power.value - lump.loss_w_per_k * (target.value - STANDARD_FROM_C)) / lump.capacity_j_per_k
    for key, one in target.components.items():
        standard = standard.with_component(key, one.scaled(1 / rate))
    if (standard.expanded or 0.0) > TOO_WIDE * standard.value:
        return None, (STRETCH,)
    return standard, ()


def _never(lump: Lump, power: Measured, target: Measured, name: str) -> str:
    """What the heater cannot do, or that this is not known either."""
    spare = from_lump(
        lump,
        power,
        lambda one, watt: watt / one.loss_w_per_k - (target.value - one.sensor_k - STANDARD_FROM_C),
        "K",
        name,
    )
    for key, one in target.components.items():
        spare = spare.with_component(key, one)
    if spare.value + (spare.expanded or 0.0) >= 0:
        return STRETCH
    return f"never: its heater's {power.value:.0f} W do not reach {target.value:.0f} °C in air at −10 °C"


def _room_share(lump: Lump, warming: Warming, name: str) -> Measured:
    """Share of the heat in C·ΔT that the air gave (negative: took)."""

    def share(one: Lump, watt: float) -> float:
        model = lump_model_c(_with_power(warming, watt), one)
        given = one.loss_w_per_k * float(np.trapezoid(warming.air_c + one.air_k - model, warming.time_s))
        return given / (one.capacity_j_per_k * float(model[-1] - model[0]))

    return from_lump(lump, warming.heater_w, share, "1", name)


def _with_power(warming: Warming, power_w: float) -> Warming:
    return replace(warming, heater_w=replace(warming.heater_w, value=power_w, components={"fixed": Component(0.0)}))
