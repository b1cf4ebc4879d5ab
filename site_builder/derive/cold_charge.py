"""Cold charging: two bounds, what ran the heater, and whether charge goes into cells that are too cold for it.

Accepting charge into the cells below the label's limit is a safety finding; where the evidence cannot tell heater
current from charge, or the case from the cells, it says "not decided".
"""

from __future__ import annotations

import math

from site_builder.bench_tests import ColdChargeTest
from site_builder.derive.cold_events import ColdEvent, Phases, bounds, events, phases
from site_builder.derive.cold_picture import cold_picture
from site_builder.derive.readings import Setting
from site_builder.derive.results import OneResult
from site_builder.derive.warm_up import warming
from site_builder.measured import Measured, exact
from site_builder.records import Label
from site_builder.series import Log

# Charging these below 0 °C plates lithium, whatever a label leaves unsaid (common practice).
LEAST_CHARGE_C = {"LiFePO4": 0.0, "NMC": 0.0}
# This project's judgement: a case that is warmed from inside is colder than the cells by no more than this.
CASE_LAG_K = 5.0
# … and after as long at the test's temperature, it is no colder than they are.
SOAKED_H = 6.0
SAFETY = "charges its cells below the limit"
NOT_DECIDED = "not decided"
NOTHING_SEEN = "nothing was seen of charge; it would take a temperature and whether charge went in"
BELOW = "whether it charges its cells below the limit is not decided: it took charge at a temperature below it"


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
        Metrics refused_up_to_c, accepted_from_c, heater_charger_a and those of `warm_up`; `conditions` hold "charges
        its cells below the limit" or "not decided".
    """
    found = None if log is None or "current" not in log.columns else phases(log, test, setting, label)
    seen = events(test, log, found, setting, label)
    warmed, cannot, model = warming(test, log, found, setting, label, mass_kg)
    decision, undecided = _decision(seen, test, label)
    return OneResult(
        test=setting.test,
        kind=test.kind,
        metrics=_bounds(seen) | _charger(test, found, label) | warmed,
        cannot=cannot + undecided,
        conditions=decision,
        picture=cold_picture(test, log, found, model, setting),
    )


def _bounds(seen: list[ColdEvent]) -> dict[str, Measured]:
    refused, accepted = bounds(seen)
    metrics: dict[str, Measured] = {}
    if refused and refused.temperature:
        metrics["refused_up_to_c"] = refused.temperature
    if accepted and accepted.temperature:
        metrics["accepted_from_c"] = accepted.temperature
    return metrics


def _charger(test: ColdChargeTest, found: Phases | None, label: Label) -> dict[str, Measured]:
    """The charger that ran the heater, by its current setting; the smallest of several tests is the unit's. [A]"""
    if label.heater is None or test.charger is None or test.charger.set_a is None:
        return {}
    ran = (found is not None and found.heating is not None) or any(one.heater for one in test.readings)
    return {"heater_charger_a": exact(test.charger.set_a.best, "A")} if ran else {}


def charge_limit_c(label: Label) -> float:
    """The temperature below which the label, or else common practice, forbids charging; -inf without either. [°C]"""
    stated = label.charge.min_c if label.charge else None
    return LEAST_CHARGE_C.get(label.chemistry, -math.inf) if stated is None else stated.best


def charges_below_limit(event: ColdEvent, test: ColdChargeTest, label: Label) -> bool:
    """Whether an event shows charge into the cells below the limit, by more than U, for over a minute.

    The limit is one for the cells. A probe on the case speaks for them only where both had hours to become equally
    cold, and less closely where a heater warms them from inside.
    """
    if not event.sustained or event.temperature is None or event.temperature.expanded is None:
        return False
    margin = event.temperature.expanded
    if event.where not in {"cell", "bms"}:
        if not _soaked(test):
            return False
        margin += CASE_LAG_K if label.heater is not None else 0.0
    return _below_limit(event, label, margin)


def _below_limit(event: ColdEvent, label: Label, margin_k: float = 0.0) -> bool:
    """Whether charge went in while something other than the air was colder than the limit by more than the margin."""
    if event.verdict != "accepted" or event.temperature is None or event.where == "air":
        return False
    return event.temperature.value + margin_k < charge_limit_c(label)


def _soaked(test: ColdChargeTest) -> bool:
    soak = test.before.soak_h if test.before else None
    return soak is not None and soak.best >= SOAKED_H


def _decision(seen: list[ColdEvent], test: ColdChargeTest, label: Label) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The safety finding, or that nothing is decided; and what a decision would take."""
    if not seen:
        return (), (NOTHING_SEEN,)
    if any(charges_below_limit(event, test, label) for event in seen):
        return (SAFETY,), ()
    below = [event for event in seen if _below_limit(event, label)]
    if below:
        return (NOT_DECIDED,), (f"{BELOW}; it would take {_missing(below, test)}",)
    decided = any(event.verdict in {"accepted", "refused"} for event in seen)
    return () if decided else (NOT_DECIDED,), ()


def _missing(below: list[ColdEvent], test: ColdChargeTest) -> str:
    """What the best of the events below the limit lacks to be a finding."""
    if not any(event.sustained for event in below):
        return "two readings over a minute apart, with their times, or a log"
    if all(event.temperature is None or event.temperature.expanded is None for event in below):
        return "the thermometer's name"
    if not _soaked(test) and not any(event.where in {"cell", "bms"} for event in below):
        return f"the cells' own temperature, or {SOAKED_H:.0f} hours of soak before (before: soak_h)"
    return "a lower temperature or a better thermometer"
