"""What to set and to expect in each test, from the label alone: the numbers of a bench sheet. Pure.

Nothing here is a result; every figure follows from what the maker claims and from the methods.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from site_builder.catalogue_records import Bench, Load
from site_builder.derive.answers import chain_at, not_for
from site_builder.derive.capacity import reference_it
from site_builder.derive.wiring import cable_drop_v
from site_builder.records import Label

# Voltage of one cell at the end of discharge and at full charge, where the label names none. [V]
# Common practice, no source; the lead-acid end at a fifth of the capacity per hour from IEC 60896 (from memory).
CELLS = {"LiFePO4": (3.2, 2.5, 3.6), "lead-acid": (2.0, 1.75, 2.4)}
# Around the reference a discharge needs no correction (methods: capacity).
LEAST_IT, MOST_IT = 0.15, 0.25
HOLD_S, STEP_S, REST_S = 1800.0, 60.0, 300.0
STEPS = (1.0, 1.1, 1.25, 1.5)
AREAS_MM2 = (16, 25, 35, 50, 70)
CABLE_M = 1.0
MOST_DROP = 0.03  # of the nominal voltage: the share that boats allow for what matters (ISO 13297, from memory)
SOAK_C, SOAK_H = -10.0, 6.0
CHARGERS_A = (5.0, 10.0, 20.0)


@dataclass(frozen=True, kw_only=True, slots=True)
class NearLoad:
    """A load whose battery current comes near the reference, with how long a full battery should run it."""

    name: str
    battery_a: float
    hours: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Step:
    """A step of the overload test: a current, and how long to hold it unless the battery cuts off first."""

    current_a: float
    hold_s: float
    why: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Cable:
    """What a metre of cable, there and back, takes at a current. [mm², V]"""

    area_mm2: int
    drop_v: float
    is_enough: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Plan:
    """Numbers for one bench session with one battery; None where the label does not tell."""

    reference_a: float
    hours: float
    end_v: float | None
    charge_v: float | None
    tail_a: float
    near: tuple[NearLoad, ...]
    pulse_a: tuple[float, float]
    steps: tuple[Step, ...]
    cables: tuple[Cable, ...]
    highest_a: float
    most_charge_a: float
    chargers_a: tuple[float, ...]


def bench_plan(label: Label, bench: Bench | None, loads: Mapping[str, Load]) -> Plan:
    """The plan for a battery with this label on this bench."""
    rated = label.capacity_ah.best
    reference = reference_it(label) * rated
    steps = tuple(_steps(label))
    highest = max((step.current_a for step in steps), default=rated)
    full = _cells(label, 2)
    return Plan(
        reference_a=reference,
        hours=rated / reference,
        end_v=label.discharge.end_v.best if label.discharge and label.discharge.end_v else _cells(label, 1),
        charge_v=label.charge.voltage_v.best if label.charge and label.charge.voltage_v else full,
        tail_a=0.05 * rated,  # a full charge's end: IEC 61960-3 leaves it to the maker; 0.05 I_t is common practice
        near=tuple(_near(label, bench, loads)),
        pulse_a=(0.2 * rated, _most(label, rated)),
        steps=steps,
        cables=tuple(_cables(highest, label.nominal_v.best)),
        highest_a=highest,
        most_charge_a=_most_charge_a(label),
        chargers_a=_chargers(label),
    )


def _cells(label: Label, which: int) -> float | None:
    """A voltage per cell, times the cells that make up the nominal voltage."""
    known = next((cell for name, cell in CELLS.items() if label.chemistry.startswith(name)), None)
    return round(label.nominal_v.best / known[0]) * known[which] if known else None


def _most(label: Label, wanted_a: float) -> float:
    """The wanted current, or the label's continuous one where that is less."""
    return min(wanted_a, label.continuous_discharge_a.best) if label.continuous_discharge_a else wanted_a


def _near(label: Label, bench: Bench | None, loads: Mapping[str, Load]) -> Iterator[NearLoad]:
    """Loads without a duty that draw between 0.15 and 0.25 I_t, the nearest to the reference first."""
    rated, volts = label.capacity_ah.best, label.nominal_v.best
    _, chain = chain_at(bench, volts)
    found = []
    for name, load in loads.items():
        if not_for(load, volts) is not None or (load.mains and chain is None) or load.duty is not None:
            continue
        watts = chain.dc_w(load.running_w.best) if load.mains and chain is not None else load.running_w.best
        current = watts / volts
        if LEAST_IT * rated <= current <= MOST_IT * rated:
            found.append(NearLoad(name=name, battery_a=current, hours=rated / current))
    wanted = reference_it(label) * rated
    yield from sorted(found, key=lambda one: (abs(one.battery_a - wanted), one.name))


def _steps(label: Label) -> Iterator[Step]:
    """Rising currents: the label's continuous one for half an hour, then above it, then each surge that it claims."""
    if label.continuous_discharge_a is None:
        return
    rated = label.continuous_discharge_a.best
    steps = [
        Step(
            current_a=share * rated,
            hold_s=HOLD_S if share == 1.0 else STEP_S,
            why=f"{share:g} × the label's continuous",
        )
        for share in STEPS
    ]
    steps += [
        Step(current_a=surge.current_a.best, hold_s=surge.duration_s.best, why="a surge that the label claims")
        for surge in label.surge
    ]
    yield from sorted(steps, key=lambda step: step.current_a)


def _cables(current_a: float, nominal_v: float) -> Iterator[Cable]:
    for area in AREAS_MM2:
        drop = cable_drop_v(current_a, CABLE_M, area)
        yield Cable(area_mm2=area, drop_v=drop, is_enough=drop <= MOST_DROP * nominal_v)


def _most_charge_a(label: Label) -> float:
    """The label's largest charging current, else 0.2 I_t (common practice, no source). [A]"""
    return label.charge.max_a.best if label.charge and label.charge.max_a else 0.2 * label.capacity_ah.best


def _chargers(label: Label) -> tuple[float, ...]:
    """Chargers to try on a frozen battery, the smallest first; none above what it may be charged with at all."""
    least = label.heater.min_charge_a.best if label.heater and label.heater.min_charge_a else None
    most = _most_charge_a(label)
    return tuple(sorted({one for one in (*CHARGERS_A, least) if one is not None and one <= most}))
