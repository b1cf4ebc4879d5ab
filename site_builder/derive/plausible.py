"""Figures that are possible and yet odd: warnings that a file can answer with a reason. No number is changed here."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from site_builder.bench_tests import CapacityTest
from site_builder.derive.results import Finding, OneResult
from site_builder.measured import Measured
from site_builder.records import Label, ResultsFile


@dataclass(frozen=True, kw_only=True, slots=True)
class Chemistry:
    """What a chemistry can do at most, and at what voltage one of its cells delivers.

    `cell_v` is the nominal voltage of a cell, `mean_v` what it can deliver on average over a whole discharge at rates
    up to 1 I_t [V]; `wh_per_kg` and `wh_per_l` are more than any whole battery of it was seen to hold.
    """

    cell_v: float
    mean_v: tuple[float, float]
    wh_per_kg: float
    wh_per_l: float


# Judgement of this project: above the best cells on offer in 2026, below what the reaction allows at all.
CHEMISTRIES: Mapping[str, Chemistry] = {
    "LiFePO4": Chemistry(cell_v=3.2, mean_v=(2.9, 3.4), wh_per_kg=200, wh_per_l=450),
    "NMC": Chemistry(cell_v=3.65, mean_v=(3.2, 3.9), wh_per_kg=300, wh_per_l=800),
    "LTO": Chemistry(cell_v=2.3, mean_v=(2.0, 2.5), wh_per_kg=120, wh_per_l=250),
    "sodium-ion": Chemistry(cell_v=3.1, mean_v=(2.5, 3.4), wh_per_kg=180, wh_per_l=400),
    "lead-acid AGM": Chemistry(cell_v=2.0, mean_v=(1.8, 2.15), wh_per_kg=60, wh_per_l=140),
    "lead-acid gel": Chemistry(cell_v=2.0, mean_v=(1.8, 2.15), wh_per_kg=60, wh_per_l=140),
    "lead-acid flooded": Chemistry(cell_v=2.0, mean_v=(1.8, 2.15), wh_per_kg=60, wh_per_l=140),
}


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
        (name, finding)
        for name, test in file.tests.items()
        if isinstance(test, CapacityTest)
        for finding in (*_off_voltage(file.label, tests[name]), *_copied(file.label, test))
    ]
    return (*of_unit, *of_tests)


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
    hint = "write what it showed, with its decimals, or say why it is right"
    yield Finding(field="counted_ah", message=message, hint=hint, code="counted-rated")
