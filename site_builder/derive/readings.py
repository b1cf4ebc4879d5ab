"""What one instrument showed → a measured number: limits become components by source, zero readings correct.

Component names are built here and nowhere else. Their first word says what kind of error it is: gain, drift, offset,
step, digits, noise, gaps, edge, lead, repeat, stated.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from site_builder.bench_tests import AnyTest
from site_builder.catalogue_records import Bench, Instrument
from site_builder.measured import Basis, Bound, Component, Measured, display_step, rectangular
from site_builder.values import Stated

REFERENCE_TEMPERATURE_C = 23.0  # where instrument makers state their limits; `per_k` counts from here
# This project's judgement, where a bench has not measured its own: 1 standard deviation as a share of the value.
REPEATABILITY = {"charge": 0.005, "resistance": 0.03, "trip_time": 0.10}


@dataclass(frozen=True, kw_only=True, slots=True)
class Setting:
    """Where and on what a test was done: what every derivation needs besides the reading itself."""

    unit: str
    test: str
    bench_id: str | None
    bench: Bench | None
    ambient_c: float | None = None
    nominal_v: float | None = None

    def instrument(self, named: str | None, measures: str) -> tuple[str, Instrument] | None:
        """The named instrument, or the only one of the bench that measures this; None where neither is there."""
        if self.bench is None:
            return None
        if named:
            return (named, self.bench.instruments[named]) if named in self.bench.instruments else None
        fitting = [(name, one) for name, one in self.bench.instruments.items() if one.measures == measures]
        return fitting[0] if len(fitting) == 1 else None

    def fitting(self, read_on: str | None, measures: str) -> str | None:
        """`read_on`, unless it names an instrument for another quantity: it speaks for its own only."""
        if read_on is None or self.bench is None or read_on not in self.bench.instruments:
            return read_on
        return read_on if self.bench.instruments[read_on].measures == measures else None

    def own(self, word: str, what: str = "") -> str:
        """The name of an error that belongs to this test alone."""
        return f"{word}:{self.unit}/{self.test}" + (f"/{what}" if what else "")

    def gain(self, name: str) -> str:
        """The name of an instrument's gain error: one for all tests of its bench entry."""
        shared = self.bench.instruments[name].same_gain_as if self.bench else None
        return f"gain:{self.bench_id}/{shared or name}"

    def offset(self, name: str) -> str:
        """The name of an instrument's zero offset: new in each test, unless the bench never zeroes."""
        never = self.bench is not None and self.bench.zeroed == "never"
        return f"offset:{self.bench_id}/{name}" if never else self.own("offset", name)


def reading(
    value: Stated, unit: str, measures: str, setting: Setting, *, field: str, read_on: str | None = None
) -> Measured:
    """A hand-read figure as its instrument allows, with the limits that the tester gave it.

    Args:
        value: What was written down, in `unit`.
        unit: Unit of the value.
        measures: What the instrument measures ("charge", "current", …).
        setting: Unit, test and bench.
        field: Name of the field, for the names of its own errors.
        read_on: Instrument; where None, the only one of the bench that measures this.

    Returns:
        The number; with basis "as_read" and without any ± where no instrument is named.
    """
    on = setting.instrument(read_on, measures)
    components = {} if on is None else instrument_components(value.best, *on, setting, field=field)
    basis: Basis = "as_read" if on is None else "measured"
    if 0 < value.half_width < math.inf:
        components[setting.own("stated", field)] = rectangular(value.half_width)
    return Measured(value=value.best, unit=unit, components=components, bound=bound_of(value), basis=basis)


def bound_of(value: Stated) -> Bound:
    """Which side its writer left open; "about" and ranges have limits and are no bounds."""
    return {"over": "at_least", "under": "at_most"}.get(value.form, "exact")  # type: ignore[return-value]


def instrument_components(
    value: float, name: str, one: Instrument, setting: Setting, *, field: str
) -> dict[str, Component]:
    """The components of one reading of `value` on one instrument.

    Source:
        Limits as rectangular distributions: GUM (JCGM 100:2008) 4.3.7.
    """
    components = gain_components(value, name, one, setting)
    if limit := offset_limit(one):
        components[setting.offset(name)] = rectangular(limit)
    if one.step:
        components[setting.own("step", field)] = display_step(one.step.best)
    return components


def gain_components(sensitivity: float, name: str, one: Instrument, setting: Setting) -> dict[str, Component]:
    """Errors in proportion to the reading; `sensitivity` is what the result changes for a gain of one."""
    components: dict[str, Component] = {}
    if one.of_reading and one.of_reading.best:
        components[setting.gain(name)] = rectangular(one.of_reading.best).scaled(sensitivity)
    if one.per_k and setting.ambient_c is not None and setting.ambient_c != REFERENCE_TEMPERATURE_C:
        away = setting.ambient_c - REFERENCE_TEMPERATURE_C
        components[f"drift:{setting.bench_id}/{name}"] = rectangular(one.per_k.best).scaled(away * sensitivity)
    return components


def offset_limit(one: Instrument) -> float:
    """Half-width of what does not depend on the reading, in the instrument's unit: offset, share of range, digits."""
    limit = one.offset.best if one.offset else 0.0
    if one.of_range and one.range:
        limit += one.of_range.best * one.range.best
    if one.digits and one.step:
        limit += one.digits.best * one.step.best
    return limit


def zero_a(test: AnyTest, setting: Setting) -> float:
    """The current shown at no current: the mean of the readings before and after, discharge positive. [A]"""
    if test.zero is None:
        return 0.0
    after = test.zero.after_a.best if test.zero.after_a else test.zero.before_a.best
    shown = (test.zero.before_a.best + after) / 2
    # A reading has the instrument's own sign; the log's was turned when it was read.
    form = setting.bench.log if setting.bench else None
    return -shown if form is not None and form.positive == "charge" else shown


def zero_limit_a(test: AnyTest, one: Instrument) -> float:
    """Half the difference of the zero readings where both were taken, else the instrument's own limit. [A]

    A reading of zero is itself no finer than half a step.
    """
    if test.zero is None or test.zero.after_a is None:
        return offset_limit(one)
    half_step = one.step.best / 2 if one.step else 0.0
    return max(abs(test.zero.before_a.best - test.zero.after_a.best) / 2, half_step)


def together(test: AnyTest) -> tuple[int, int]:
    """How many batteries were tested side by side, and how many in a row."""
    return (test.arrangement.parallel, test.arrangement.series) if test.arrangement else (1, 1)


def repeatability(value: float, quantity: str, setting: Setting) -> dict[str, Component]:
    """What a repeat of the same test on the same battery would differ by: the bench's own figure, else a judgement.

    With a declared number of repeats n it has n - 1 degrees of freedom.
    """
    declared = setting.bench.repeatability if setting.bench else None
    share = getattr(declared, quantity, None) if declared else None
    dof = float(declared.repeats - 1) if declared and share and declared.repeats and declared.repeats > 1 else math.inf
    relative = share.best if share else REPEATABILITY[quantity]
    return {setting.own("repeat", quantity): Component(relative * value, dof)}
