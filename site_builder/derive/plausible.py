"""Figures that are possible and yet odd: warnings that a file can answer with a reason. No number is changed here."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from site_builder.bench_tests import AnyTest, BuildTest, CapacityTest, ColdChargeTest
from site_builder.derive.cold_events import own_current_a
from site_builder.derive.results import Finding, OneResult
from site_builder.measured import Measured
from site_builder.records import Label, ResultsFile


@dataclass(frozen=True, kw_only=True, slots=True)
class Chemistry:
    """What a chemistry can do at most, and at what voltage one of its cells delivers.

    `cell_v` is the nominal voltage of a cell, `mean_v` what it can deliver on average over a whole discharge at rates
    up to 1 I_t [V]; `wh_per_kg` and `wh_per_l` are more than any whole battery of it was seen to hold, and
    `least_wh_per_kg` less than any battery claims.
    """

    cell_v: float
    mean_v: tuple[float, float]
    wh_per_kg: float
    wh_per_l: float
    least_wh_per_kg: float


# Judgement of this project: above the best cells on offer in 2026, below what the reaction allows at all.
CHEMISTRIES: Mapping[str, Chemistry] = {
    "LiFePO4": Chemistry(cell_v=3.2, mean_v=(2.9, 3.4), wh_per_kg=200, wh_per_l=450, least_wh_per_kg=50),
    "NMC": Chemistry(cell_v=3.65, mean_v=(3.2, 3.9), wh_per_kg=300, wh_per_l=800, least_wh_per_kg=70),
    "LTO": Chemistry(cell_v=2.3, mean_v=(2.0, 2.5), wh_per_kg=120, wh_per_l=250, least_wh_per_kg=25),
    "sodium-ion": Chemistry(cell_v=3.1, mean_v=(2.5, 3.4), wh_per_kg=180, wh_per_l=400, least_wh_per_kg=40),
    "lead-acid AGM": Chemistry(cell_v=2.0, mean_v=(1.8, 2.15), wh_per_kg=60, wh_per_l=140, least_wh_per_kg=15),
    "lead-acid gel": Chemistry(cell_v=2.0, mean_v=(1.8, 2.15), wh_per_kg=60, wh_per_l=140, least_wh_per_kg=15),
    "lead-acid flooded": Chemistry(cell_v=2.0, mean_v=(1.8, 2.15), wh_per_kg=60, wh_per_l=140, least_wh_per_kg=15),
}

# Judgement of this project: a current that is about right, and stops at a low battery, stays well within a fifth.
OFF_BY = 0.2


def cells_in_series(label: Label) -> int:
    """How many cells make the nominal voltage, to the nearest whole one; at least one."""
    return max(round(label.nominal_v.best / CHEMISTRIES[label.chemistry].cell_v), 1)


def implausible(
    file: ResultsFile, tests: Mapping[str, OneResult], metrics: Mapping[str, Measured], headline: str | None
) -> tuple[tuple[str, Finding], ...]:
    """What is odd about a unit, each with the test that it is shown at.

    Args:
        file: The recorded evidence, for the label and what was written down.
        tests: Each test's numbers, by name.
        metrics: The unit's own numbers.
        headline: The capacity test that they come from.
    """
    of_unit = [(headline, finding) for finding in _too_dense(file.label, metrics)] if headline else []
    of_tests = [
        (name, finding) for name, test in file.tests.items() for finding in _of_test(file.label, test, tests[name])
    ]
    heavy = [(name, finding) for name, test in file.tests.items() for finding in _too_heavy(file.label, test)]
    return (*of_unit, *of_tests, *heavy)


def _of_test(label: Label, test: AnyTest, result: OneResult) -> Iterator[Finding]:
    if isinstance(test, CapacityTest):
        yield from (*_off_voltage(label, result), *_end_voltage(label, test), *_copied(label, test))
        yield from _too_long(test, result)
    if isinstance(test, ColdChargeTest):
        yield from _refused_a_current(label, test)


def _too_dense(label: Label, metrics: Mapping[str, Measured]) -> Iterator[Finding]:
    """More energy for its mass or volume than the chemistry can hold, by more than U."""
    most = CHEMISTRIES[label.chemistry]
    for name, limit, what in (("wh_per_kg", most.wh_per_kg, "mass"), ("wh_per_l", most.wh_per_l, "size")):
        one = metrics.get(name)
        if one is None or one.bound == "at_most" or one.lowest <= limit:
            continue
        message = f"{one.value:.3g} {one.unit} is more than {label.chemistry} can hold ({limit:g} {one.unit})"
        yield Finding(field="", message=message, hint=f"check the {what}, the energy, the chemistry", code="density")


def _off_voltage(label: Label, result: OneResult) -> Iterator[Finding]:
    """A mean voltage that the cells which make the label's voltage do not have, by more than U."""
    mean, cells = result.metrics.get("mean_voltage_v"), cells_in_series(label)
    if result.findings:  # such as a log and a counter that disagree: their quotient is off for that reason
        return
    low, high = CHEMISTRIES[label.chemistry].mean_v
    if mean is None or mean.bound != "exact" or (mean.highest >= cells * low and mean.lowest <= cells * high):
        return
    made = f"{cells} cell{'' if cells == 1 else 's'} of {label.chemistry}"
    message = f"{mean.value:.4g} V on average is not what {made} deliver ({cells * low:.3g} to {cells * high:.3g} V)"
    hint = "check the voltage's column, the nominal voltage, the chemistry"
    yield Finding(field="", message=message, hint=hint, code="voltage-cells")


def _copied(label: Label, test: CapacityTest) -> Iterator[Finding]:
    """A counter that shows the rated capacity to the last digit."""
    rated, counted = label.capacity_ah, test.counted_ah
    if counted is None or counted.form != "plain" or counted.best != rated.best:
        return
    message = "the counter showed exactly the rated capacity, as if it were copied from the label"
    hint = "write what it showed, with its decimals"
    yield Finding(field="counted_ah", message=message, hint=hint, code="counted-rated")


def _end_voltage(label: Label, test: CapacityTest) -> Iterator[Finding]:
    """An empty battery that shows more than a full one does on average."""
    cells = cells_in_series(label)
    most = cells * CHEMISTRIES[label.chemistry].mean_v[1]
    if test.end_v is None or test.end_v.best <= most:
        return
    message = f"{test.end_v.best:.4g} V just before the end is more than {label.chemistry} delivers ({most:.3g} V)"
    yield Finding(field="end_v", message=message, hint="check the decimal point", code="voltage-cells")


def _too_heavy(label: Label, test: AnyTest) -> Iterator[Finding]:
    """A weighed mass at which even the label's energy would be too little for the chemistry."""
    mass = test.mass_kg if isinstance(test, BuildTest) else None
    least = CHEMISTRIES[label.chemistry].least_wh_per_kg
    claimed = label.nominal_v.best * label.capacity_ah.best
    if mass is None or claimed / mass.best >= least:
        return
    message = f"{mass.best:.4g} kg for {claimed:.4g} Wh is more than any {label.chemistry} battery weighs"
    yield Finding(
        field="mass_kg", message=message, hint="check the decimal point, and whether it was kg", code="density"
    )


def _too_long(test: CapacityTest, result: OneResult) -> Iterator[Finding]:
    """Current and time that give another charge than the counter showed, by far."""
    lasted = result.metrics.get("duration_s")
    if test.log or test.counted_ah is None or test.current_a is None or lasted is None or lasted.bound != "exact":
        return
    hours, counted = lasted.value / 3600, test.counted_ah.best
    charge = test.current_a.best * hours
    if abs(charge - counted) <= OFF_BY * counted:
        return
    message = f"{test.current_a.best:.3g} A for {hours:.3g} h are {charge:.3g} Ah, and the counter showed {counted:.4g}"
    hint = "check the times (an end before the start is taken for the next day), the current, the counter"
    yield Finding(field="counted_ah", message=message, hint=hint, code="time-counter-disagree")


def _refused_a_current(label: Label, test: ColdChargeTest) -> Iterator[Finding]:
    """Charge said to be refused while a current flowed that no heater took."""
    for number, one in enumerate(test.readings):
        heated = one.heater is not False if label.heater else one.heater is True
        if one.charge != "refused" or one.current_a is None or heated or one.current_a.low <= own_current_a(label):
            continue
        message = f"charge is said to be refused while {one.current_a.best:.3g} A went in and no heater was on"
        hint = 'write "accepted", or heater: true where the heater took it'
        yield Finding(field=f"readings.{number}.charge", message=message, hint=hint, code="refused-current")
