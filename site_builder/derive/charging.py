"""Charging, efficiency, standing idle and cell balance."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from site_builder.bench_tests import BalanceTest, Before, ChargeTest, StandbyTest
from site_builder.derive.discharge_log import logged
from site_builder.derive.durations import recorded_duration_s
from site_builder.derive.hand_readings import counted_ah, counted_wh
from site_builder.derive.load_runs import refusal
from site_builder.derive.log_direction import directed
from site_builder.derive.readings import Setting, reading, together
from site_builder.derive.results import Finding, OneResult
from site_builder.measured import Measured, through
from site_builder.series import Log

LEAST_STANDING_S = 3_600.0  # what a counter lost in less says nothing of a month
MONTH_S = 365.25 / 12 * 86_400
ABOVE_ONE = (
    "efficiency cannot be computed because more came out than this refill put in; it would take the refill right after "
    "a full discharge"
)
# Two charging voltages fill alike when they differ by no more than this share.
SAME_FULL = 0.005


def charge(
    test: ChargeTest,
    log: Log | None,
    setting: Setting,
    before: OneResult | None,
    filled: Before | None = None,
) -> OneResult:
    """What went in, how fast, and how much of it came out before.

    Args:
        test: The refill.
        log: Its log.
        setting: Unit, test, bench.
        before: The discharge that this refill follows, from full; efficiency needs it.
        filled: How the battery had been filled before that discharge.

    Returns:
        Metrics charged_ah, charged_wh, duration_s, max_current_a, tail_a, charge_efficiency, energy_efficiency.
    """
    from_log, odd = directed(log, test, setting, "charge")
    metrics: dict[str, Measured] = {}
    duration = from_log.duration_s if from_log else recorded_duration_s(test, setting)
    if duration is not None:
        metrics["duration_s"] = duration
    for name, logged_total, counter in (
        ("charged_ah", from_log.charge if from_log else None, counted_ah(test, duration, setting)),
        ("charged_wh", from_log.energy if from_log else None, counted_wh(test, duration, setting)),
    ):
        total = _turned(logged_total) if logged_total is not None else counter
        if total is not None:
            metrics[name] = total
    metrics |= _currents(test, log, setting)
    found, cannot, findings = _efficiencies(metrics, before, _states_differ(test, filled))
    return OneResult(
        test=setting.test,
        kind=test.kind,
        metrics=metrics | found,
        reasons=from_log.reasons if from_log else (),
        cannot=refusal(from_log) + cannot,
        findings=(*odd, *findings),
    )


def _states_differ(test: ChargeTest, filled: Before | None) -> str | None:
    """Why the battery was not as full after this refill as before the discharge, in words; None where it was."""
    stated = filled.charged_to_v if filled else None
    now = test.charger.set_v if test.charger else None
    if stated is None or now is None or abs(stated.best - now.best) <= SAME_FULL * stated.best:
        return None
    return f"it had been filled at {stated.best:g} V before, and was refilled at {now.best:g} V"


def _turned(one: Measured) -> Measured:
    """A log counts discharge as positive; what went in is its negative."""
    return replace(one, value=-one.value, components={name: part.scaled(-1.0) for name, part in one.components.items()})


def _currents(test: ChargeTest, log: Log | None, setting: Setting) -> dict[str, Measured]:
    found: dict[str, Measured] = {}
    parallel, _ = together(test)
    for name in ("max_current_a", "tail_a"):
        if (stated := getattr(test, name)) is not None:
            on = setting.fitting(test.read_on, "current")
            found[name] = reading(stated, "A", "current", setting, field=name, read_on=on).scaled(1 / parallel)
    if log is not None and len(log.columns.get("current", ())) > 1:
        current = -log.columns["current"]
        # The highest current that lasted, not one row's noise.
        highest = int(np.argsort(current)[int(len(current) * 0.995) - 1])
        # A last row after the charger has let go is no tail.
        last = len(current) - (1 if current[-1] > current[-2] / 2 else 2)
        for name, row in (("max_current_a", highest), ("tail_a", last)):
            cell = logged(log, "current", row, "A", "current", setting)
            if name not in found and cell is not None:
                found[name] = _turned(cell).scaled(1 / parallel)
    return found


def _efficiencies(
    metrics: Mapping[str, Measured], before: OneResult | None, differ: str | None
) -> tuple[dict[str, Measured], tuple[str, ...], tuple[Finding, ...]]:
    """Out over in, where the refill follows a discharge from full to the end; shared gains cancel."""
    if before is None:
        return {}, ("efficiency is not known; it would take a discharge from full before this refill (after: …)",), ()
    if differ is not None:
        why = f"efficiency cannot be computed because start and end differ: {differ}"
        return {}, (f"{why}; it would take the same charge before and after",), ()
    found: dict[str, Measured] = {}
    findings: list[Finding] = []
    cannot: list[str] = []
    for name, taken, put in EFFICIENCIES:
        out, into = before.metrics.get(taken), metrics.get(put)
        if out is None or into is None or into.value <= 0:
            continue
        words = name.replace("_", " ")
        ratio = through(lambda a, b: a / b, _this_run(out), into, unit="1")
        if open_end := _open_end(out, into):
            cannot.append(f"{words} cannot be computed because {open_end}; it would take a whole discharge and refill")
        elif ratio.value - (ratio.expanded or 0.0) > 1:
            findings.append(_above_one(words, ratio))
        else:
            found[name] = ratio
    if findings:  # a refill that does not belong to that discharge gives neither
        cannot.append(ABOVE_ONE)
        found = {}
    if not found and not cannot:
        cannot.append("efficiency is not known; it would take charge or energy of both, the discharge and the refill")
    return found, tuple(cannot), tuple(findings)


EFFICIENCIES = (
    ("charge_efficiency", "delivered_ah", "charged_ah"),
    ("energy_efficiency", "delivered_wh", "charged_wh"),
)


def _open_end(out: Measured, into: Measured) -> str | None:
    if out.bound != "exact":
        return "the discharge before has no exact end"
    return "what went in is open to one side" if into.bound != "exact" else None


def _above_one(words: str, ratio: Measured) -> Finding:
    message = f"{words} {ratio.value:.3f} is above 1 by more than its uncertainty"
    hint = "check that the refill follows that discharge, from the same full state to the same full state"
    return Finding(field="after", message=message, hint=hint, code="efficiency-above-one")


def _this_run(one: Measured) -> Measured:
    """Without repeatability: the refill puts back what this very run took out, whatever another run would take."""
    kept = {name: part for name, part in one.components.items() if not name.startswith("repeat:")}
    return replace(one, components=kept)


def standby(test: StandbyTest, setting: Setting) -> OneResult:
    """Loss of charge while standing: share a month. [1 per month]"""
    duration = recorded_duration_s(test, setting)
    metrics: dict[str, Measured] = {} if duration is None else {"duration_s": duration}
    if test.current_a is not None:
        on = setting.fitting(test.read_on, "current")
        metrics["own_current_a"] = reading(test.current_a, "A", "current", setting, field="current_a", read_on=on)
    found = _loss_per_month(test, duration, setting)
    if isinstance(found, str):
        return OneResult(test=setting.test, kind=test.kind, metrics=metrics, cannot=(found,))
    return OneResult(test=setting.test, kind=test.kind, metrics=metrics | {"loss_per_month": found})


def _loss_per_month(test: StandbyTest, duration: Measured | None, setting: Setting) -> Measured | str:
    """The loss, or in words why there is none; each end of a counter has an error of its own."""
    if test.soc is None or duration is None or duration.value < LEAST_STANDING_S:
        return "loss a month is not known; it would take the state of charge and the date at both ends"
    start, end = test.soc.start, test.soc.end
    if math.inf in (start.half_width, end.half_width):
        return "loss a month cannot be computed because one end is open; it would take a number at both ends"
    if end.best > start.best:
        return "loss a month cannot be computed because the state of charge rose; it would take one instrument"
    on = setting.fitting(test.read_on, "soc")
    ends = [
        reading(one, "1", "soc", replace(setting, test=f"{setting.test}.{name}"), field=f"soc.{name}", read_on=on)
        for name, one in (("start", start), ("end", end))
    ]
    return through(lambda a, b, t: (a - b) / t * MONTH_S, *ends, duration, unit="1")


def balance(test: BalanceTest, setting: Setting) -> OneResult:
    """Largest difference between cells; the meter's gain and offset are the same for all. [mV]"""
    if len(test.cell_v) < 2:
        why = "cell spread is not known; it would take the voltage of every cell"
        return OneResult(test=setting.test, kind=test.kind, cannot=(why,))
    # An app's cell voltages are not the meter's: an instrument for something else leaves them as read.
    on = test.read_on if setting.fitting(test.read_on, "voltage") == test.read_on else "nobody"
    cells = [
        reading(one, "V", "voltage", setting, field=f"cell_v.{i}", read_on=on) for i, one in enumerate(test.cell_v)
    ]
    if any(cell.bound != "exact" for cell in cells):
        why = "cell spread is not known; of some cells only a bound was written down"
        return OneResult(test=setting.test, kind=test.kind, cannot=(why,))
    low, high = min(cells, key=lambda one: one.value), max(cells, key=lambda one: one.value)
    spread = through(lambda a, b: (a - b) * 1000, high, low, unit="mV")
    return OneResult(test=setting.test, kind=test.kind, metrics={f"cell_spread_{test.at}_mv": spread})
