"""One run of a load: what it took from the battery, how long, and what the tester's own estimate was."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from site_builder.bench_tests import LoadRun
from site_builder.catalogue_records import Load
from site_builder.derive.battery_power import battery_power_w
from site_builder.derive.discharge_log import Discharge
from site_builder.derive.durations import over_time, recorded_duration_s
from site_builder.derive.duty import logged_duty
from site_builder.derive.hand_readings import counted_ah, counted_wh, current_a
from site_builder.derive.log_direction import directed
from site_builder.derive.readings import Setting, reading, together
from site_builder.derive.results import Finding, OneResult
from site_builder.measured import Measured, rectangular, through
from site_builder.records import Label
from site_builder.series import Log

# This project's judgement: what a state-of-charge counter may miss of the charge that passed, besides its display.
SOC_SHARE = 0.05
# Mean voltage of a run that nobody metered, as a share of nominal (rectangular half-width).
VOLTAGE_SHARE = 0.04


def load_run(test: LoadRun, log: Log | None, setting: Setting, label: Label, loads: Mapping[str, Load]) -> OneResult:
    """Energy and charge of a run, from log, counter, power times time, or a difference in state of charge.

    Returns:
        Metrics used_wh, used_ah, duration_s, battery_power_w, duty, peak_w, peak_a, soc_used_wh (never leads), guess_s.
    """
    from_log, odd = directed(log, test, setting, "discharge")
    duration = from_log.duration_s if from_log else recorded_duration_s(test, setting)
    power, unnamed = battery_power_w(test, setting, loads)
    power = None if power is None else power.scaled(1 / math.prod(together(test)))
    by_soc, no_soc, findings = _by_soc(test, duration, setting, label)
    peaks, no_peak = _peaks(test, setting)
    metrics: dict[str, Measured | None] = {
        "duration_s": duration,
        "battery_power_w": power,
        "used_ah": _first(
            from_log.charge if from_log else None,
            counted_ah(test, duration, setting),
            _charge(test, duration, setting),
        ),
        "used_wh": _first(
            from_log.energy if from_log else None,
            counted_wh(test, duration, setting),
            None if power is None or duration is None else over_time(power, duration, "Wh"),
        ),
        "duty": None if log is None else logged_duty(log),
        "soc_used_wh": by_soc,
        "guess_s": _guess(test),
    }
    return OneResult(
        test=setting.test,
        kind=test.kind,
        metrics={name: one for name, one in metrics.items() if one is not None} | peaks,
        reasons=from_log.reasons if from_log else (),
        cannot=(*refusal(from_log), *unnamed, *no_soc, *no_peak),
        findings=(*odd, *findings),
    )


def refusal(from_log: Discharge | None) -> tuple[str, ...]:
    """Why a log gives neither charge nor energy, in words; empty where it does."""
    if from_log is None or from_log.refused is None:
        return ()
    return (f"charge and energy cannot be computed because {from_log.refused}",)


def _first(*many: Measured | None) -> Measured | None:
    return next((one for one in many if one is not None), None)


def _charge(test: LoadRun, duration: Measured | None, setting: Setting) -> Measured | None:
    """Current times time, where that current lasted: not the one at a trip, nor that of a load in cycles. [Ah]"""
    if test.current_a is None or duration is None or test.outcome != "ran" or test.duty is not None:
        return None
    return over_time(current_a(test.current_a, test, setting), duration, "Ah")


def _peaks(test: LoadRun, setting: Setting) -> tuple[dict[str, Measured], tuple[str, ...]]:
    """The peaks as read; a display that is renewed now and then has missed the highest: "at least"."""
    metrics: dict[str, Measured] = {}
    cannot: list[str] = []
    for name, unit, measures in (("peak_w", "W", "power"), ("peak_a", "A", "current")):
        value = getattr(test, name)
        if value is None:
            continue
        on = setting.instrument(setting.fitting(test.read_on, measures), measures)
        read = reading(value, unit, measures, setting, field=name, read_on=on[0] if on else None)
        if on is None or on[1].refresh_s is None:
            metrics[name] = read
        elif read.bound == "at_most":
            renewed = f"its display is renewed every {on[1].refresh_s.best:g} s"
            cannot.append(f"the peak is not known because {renewed}; it would take an instrument that holds peaks")
        else:
            metrics[name] = read.as_bound("at_least")
    return metrics, tuple(cannot)


def _by_soc(
    test: LoadRun, duration: Measured | None, setting: Setting, label: Label
) -> tuple[Measured | None, tuple[str, ...], tuple[Finding, ...]]:
    """Energy from a difference in state of charge, with all that such a counter cannot tell; or why not."""
    if test.soc is None:
        return None, (), ()
    start, end = test.soc.start, test.soc.end
    if end.best >= start.best:
        why = "energy from the state of charge cannot be computed because it did not fall"
        return None, (f"{why}; it would take a log or a counter",), ()
    if math.inf in (start.half_width, end.half_width):
        why = "energy from the state of charge cannot be computed because one end is open"
        return None, (f"{why}; it would take a number at both ends",), ()
    if start.high >= 1.0 or end.low <= 0.0:
        why = "energy from the state of charge cannot be computed at 0 or 100 %, where the counter is set anew"
        return None, (f"{why}; it would take a log, a counter, or a run that starts below 100 %",), ()
    on = setting.instrument(setting.fitting(test.read_on, "soc"), "soc")
    if on is None:
        return None, ("energy from the state of charge has no instrument; it would take read_on",), ()
    used, setting_ah = _soc_difference(test, setting, on[0]), _counter_capacity(on[1].capacity_ah, label)
    band_a = on[1].dead_band_a.best if on[1].dead_band_a else 0.0
    energy = _soc_energy(used, setting_ah, _missed_h(duration) * band_a, setting, label)
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


def _missed_h(duration: Measured | None) -> float:
    """How long a current below the dead band may have gone uncounted, at most. [h]"""
    if duration is None:
        return 0.0
    return (duration.value if duration.high is None else duration.high) / 3600


def _soc_energy(used: Measured, counter_ah: float, missed_ah: float, setting: Setting, label: Label) -> Measured:
    nominal = label.nominal_v.best
    per_share = counter_ah * nominal
    components = {name: one.scaled(per_share) for name, one in used.components.items()}
    value = used.value * per_share
    components[setting.own("counter")] = rectangular(SOC_SHARE * value)
    components[setting.own("voltage")] = rectangular(VOLTAGE_SHARE * value)
    if missed_ah:
        components[setting.own("dead band")] = rectangular(missed_ah * nominal)
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


def longer_than_energy(run: OneResult, holds: Measured | None) -> Finding | None:
    """A run that used more than the unit can hold, by more than both uncertainties: one of the figures is wrong.

    Args:
        run: The run's result.
        holds: What one charge holds; None, or open upwards, where nobody knows. [Wh]
    """
    used = run.metrics.get("used_wh")
    if used is None or holds is None or used.bound == "at_most" or used.lowest <= holds.highest:
        return None
    message = f"the run took {used.value:.4g} Wh, more than the {holds.value:.4g} Wh that one charge holds"
    hint = "check power and duration, or give the share of the time it was on (duty:)"
    return Finding(field="duration_s", message=message, hint=hint, code="run-longer-than-energy")
