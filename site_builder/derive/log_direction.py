"""Whether a log runs the way its test does: one turned round, or without any current, is an error at the test's log.

Nothing is turned by itself: only the tester knows which column or sign was meant.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from site_builder.bench_tests import AnyTest
from site_builder.catalogue_records import LogFormat
from site_builder.derive.discharge_log import Discharge, discharge
from site_builder.derive.readings import Setting
from site_builder.derive.results import Finding
from site_builder.measured import Measured
from site_builder.series import Log

Way = Literal["discharge", "charge"]
# Less is not written by hand either: the least charge, and the least voltage of a battery, that a results file takes.
LEAST_AH = 0.001
LEAST_V = 0.1
WORDS = {"discharge": ("charges", "discharging"), "charge": ("discharges", "charging")}


def directed(
    log: Log | None, test: AnyTest, setting: Setting, way: Way, *, idle: bool = True
) -> tuple[Discharge | None, tuple[Finding, ...]]:
    """What a log says of a test that goes this way, and what is wrong with it.

    Args:
        log: The test's log; discharge is positive.
        test: The recorded test.
        setting: Unit, test, bench.
        way: Which way the test goes.
        idle: Whether the log may hold no current, as that of a load which never started.

    Returns:
        Its integrals (None without a current), no charge where it runs the other way or nowhere, and no energy where
        its voltage is none of a battery.
    """
    if log is None or "current" not in log.columns:
        return None, ()
    from_log = discharge(log, test, setting)
    charge = from_log.charge
    if charge is None:
        return from_log, ()
    went = charge.value if way == "discharge" else -charge.value
    unsure = max(LEAST_AH, charge.expanded or 0.0)
    if went < -unsure:
        does, instead = WORDS[way]
        why = f"its log {does} instead of {instead}"
        return _without(from_log, why, way), (_error(f"this log {does} instead of {instead}", _turn(setting)),)
    if went <= unsure and not idle:
        hint = "check the current's column and its unit in the log of its bench, and whose log this is"
        return _without(from_log, "its log delivers nothing", way), (_error("this log delivers nothing", hint),)
    return _with_voltage(from_log, charge)


def _error(message: str, hint: str) -> Finding:
    return Finding(field="log", message=message, hint=hint, code="log-direction", severity="error")


def _turn(setting: Setting) -> str:
    """The way out, by what the bench says now of its log."""
    form: LogFormat | None = setting.bench.log if setting.bench else None
    now, other = ("charge", "discharge") if form and form.positive == "charge" else ("discharge", "charge")
    return f"write positive: {other} in the log of its bench (it reads {now} as positive), or name the test's own log"


def _without(from_log: Discharge, why: str, way: Way) -> Discharge:
    refused = f"{why}; it would take a log of the {way}"
    return replace(from_log, charge=None, energy=None, curve=None, refused=refused)


def _with_voltage(from_log: Discharge, charge: Measured) -> tuple[Discharge, tuple[Finding, ...]]:
    """Without energy and curve where the log's mean voltage is no battery's, such as 0 V throughout."""
    energy = from_log.energy
    if energy is None or charge.value == 0 or energy.value / charge.value >= LEAST_V:
        return from_log, ()
    message = f"{energy.value / charge.value:.2g} V on average is no battery's voltage"
    hint = "check the voltage's column and its unit in the log of its bench"
    finding = Finding(field="log", message=message, hint=hint, code="voltage-cells")
    return replace(from_log, energy=None, curve=None), (finding,)
