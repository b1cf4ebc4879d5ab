"""The methods pages: each names its source, its links lead somewhere, and its worked numbers are what the code returns.

A page says `28.9 W <!-- check: mean_w(45, 0.35) -->`: what stands before the comment must be what the expression gives,
to the digits shown. Expressions see the project's functions and the examples below, which hold what the page describes.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from site_builder.bench_tests import (
    BalanceTest,
    CapacityTest,
    ChargeTest,
    ColdChargeTest,
    LoadRun,
    OverloadTest,
    ResistanceTest,
    StandbyTest,
)
from site_builder.catalogue_records import Bench, Load
from site_builder.derive.capacity import capacity
from site_builder.derive.charging import balance, charge, standby
from site_builder.derive.cold_charge import cold_charge
from site_builder.derive.cold_events import STEP_SHARE, events, phases
from site_builder.derive.inverter import Chain
from site_builder.derive.load_runs import load_run
from site_builder.derive.overload import bracket, points_of_test, starts
from site_builder.derive.readings import Setting
from site_builder.derive.resistance import current_at_power_a, power_at_end_voltage_w, resistance, sag_v
from site_builder.derive.results import OneResult
from site_builder.derive.retention import share_left
from site_builder.derive.runtime import Supply, Use, at_rate, hours_together, mean_power
from site_builder.derive.thermal import warm_up_s
from site_builder.derive.trip_curve import TripCurve
from site_builder.derive.unit import _power_at_end
from site_builder.derive.wiring import fault_current_a
from site_builder.measured import Measured, exact
from site_builder.pages.text import quantity
from site_builder.records import Label
from site_builder.series import Log

PAGES = Path(__file__).parents[2] / "catalogue" / "pages"
METHODS = sorted(path for path in (PAGES / "methods").glob("*.md") if path.stem != "index")
WITH_EXAMPLES = ("loads", "overload", "cold", "resistance", "charging", "tested-again")
DANGEROUS = ("loads", "overload", "cold")

CHECK = re.compile(r"<!-- check: (.+?) -->")
NUMBER = re.compile(r"−?\d+(?:\.\d+)?")
LINK = re.compile(r"\]\((?!https?:)([^)#\s]*)(?:#([^)\s]+))?\)")
SOURCE = re.compile(r"\b(IEC|IEEE|GUM|ASTM|CFR|NREL)\b|J\. Power Sources|Çengel|this project's judgement")
SPACES = re.compile("[\u00a0\u202f]")  # the no-break spaces that pages set before units and between thousands

# --- the examples of the pages: one bench, one battery of 90 Ah, and the readings that the page describes ------------
BENCH = Bench.model_validate({
    "title": "Example", "tester": "Nobody", "since": "2026-01-01",
    "instruments": {
        "shunt": {"measures": "current", "of_reading": "0.4 %", "offset": 0.03, "step": 0.01},
        "clamp": {"measures": "current", "of_reading": "2 %", "digits": 5, "step": 0.1},
        "meter": {"measures": "voltage", "of_reading": "0.1 %", "offset": 0.006, "step": 0.001},
        "counter": {"measures": "charge", "of_reading": "0.4 %", "offset": 0.3, "step": 0.1},
        "app": {"measures": "soc", "offset": 0.02, "step": 0.01, "dead_band_a": 0.5, "capacity_ah": 90},
        "stopwatch": {"measures": "time", "offset": 0.3, "step": 0.1},
        "probe": {"measures": "temperature", "offset": 0.5, "step": 0.1},
    },
})  # fmt: skip
PLAIN: dict[str, Any] = {"chemistry": "LiFePO4", "nominal_v": 12.8, "capacity_ah": 90, "continuous_discharge_a": 100}
LABEL = Label.model_validate(PLAIN)
INVERTER = Chain(idle_w=12, slope=1 / 0.93, square=0, relative_u=0.01, cut_off_v=None)


def at(test: str = "example", bench: str = "example") -> Setting:
    return Setting(unit="example", test=test, bench_id=bench, bench=BENCH)


def label(*, heater: bool) -> Label:
    claims = {"charge": {"min_c": 0}} | ({"heater": {"on_below_c": 2}} if heater else {})
    return Label.model_validate(PLAIN | claims)


def mean_w(running_w: float, duty: float, standby_w: float | None = None) -> float:
    load = Load.model_validate({"title": "Load", "running_w": running_w, "duty": duty})
    return mean_power(load, replace(INVERTER, standby_w=standby_w), "inverter").value


SUPPLY = Supply(
    unit="example", chemistry="LiFePO4", energy=exact(1169, "Wh"), rate_it=0.2, rated_ah=90, mean_v=12.8, curve=None
)


def energy_at(rate_it: float) -> Measured:
    return at_rate(SUPPLY, rate_it)


def hours(running_w: float, duty: float = 1.0) -> Measured:
    load = Load.model_validate({"title": "Load", "running_w": running_w, "duty": duty, "mains": False})
    projected = hours_together((Use(load=load),), SUPPLY, None)
    assert isinstance(projected, Measured)
    return projected


def by_soc(start: float, end: float) -> Measured:
    run = {"kind": "load_run", "load": "kettle", "outcome": "ran", "soc": {"start": start, "end": end},
           "read_on": "app", "duration_s": "20 min"}  # fmt: skip
    return load_run(LoadRun.model_validate(run), None, at(), LABEL, {}).metrics["soc_used_wh"]


STEPS = points_of_test(
    OverloadTest.model_validate(
        {
            "kind": "overload",
            "read_on": "clamp",
            "points": [
                {"current_a": 110.0, "duration_s": "over 30 min", "held": True},
                {"current_a": 124.0, "duration_s": 5.0, "held": False},
                {"current_a": 150.0, "duration_s": 2.0, "held": False},
            ],
        }
    ),
    at(),
)


def carries(duration_s: float) -> Measured | None:
    return bracket(STEPS, duration_s).as_measured()


def trip_s(k_s: float, alpha: float, times_pickup: float) -> float:
    return TripCurve(k_s=k_s, alpha=alpha, pickup_a=100, sigma=0.1).time_s(100 * times_pickup)


def cold_words(battery_c: float, soak_h: float, *, heater: bool = False) -> str:
    readings = [
        {"at": at, "battery_c": battery_c, "where": "case", "charge": "accepted", "heater": False, "read_on": "probe"}
        for at in ("10:00", "10:02")
    ]
    test = {"kind": "cold_charge", "readings": readings, "before": {"soak_h": soak_h}}
    return ", ".join(
        cold_charge(ColdChargeTest.model_validate(test), None, at(), label(heater=heater), 10.4).conditions
    )


def cold_reading(current_a: float, heater_w: float) -> str:
    reading = {"battery_c": -4.0, "where": "case", "current_a": current_a, "heater": True, "read_on": "clamp"}
    test = ColdChargeTest.model_validate(
        {"kind": "cold_charge", "charger": {"set_v": 14.4}, "heater_w": heater_w, "readings": [reading]}
    )
    return events(test, None, None, at(), label(heater=True))[0].verdict


def cold_log(heater_a: float, then_a: float, set_a: float) -> str:
    time = np.arange(0, 3600, 5.0)
    log = Log(
        time_s=time, columns={"current": -np.where(time < 1800, heater_a, then_a)}, line=np.arange(len(time)) + 2,
        hold="linear", interval_s=5.0, heartbeat_s=None, started=None, rows=len(time), sha256="",
    )  # fmt: skip
    test = ColdChargeTest.model_validate({"kind": "cold_charge", "charger": {"set_a": set_a}})
    return "not yet" if phases(log, test, at(), label(heater=True)).accepted_at is None else "accepted"


def pulses(*readings: tuple[float, float]) -> dict[str, Measured]:
    pairs = [{"current_a": current, "voltage_v": voltage} for current, voltage in readings]
    test = ResistanceTest.model_validate({"kind": "resistance", "read_on": "shunt", "readings": pairs})
    return dict(resistance(test, None, at(), LABEL).metrics)


PULSES = pulses((20, 13.10), (100, 12.94))


def power_left(carried_a: float, end_v: float) -> Measured:
    ends = Label.model_validate(PLAIN | {"discharge": {"end_v": end_v}})
    return _power_at_end(PULSES | {"carries_10_s_a": exact(carried_a, "A")}, ends)["end_voltage_power_w"]


def short_circuit() -> Measured:
    return fault_current_a(PULSES["open_circuit_v"], PULSES["dc_resistance_milliohm"], ohmic=False)


def full_discharge(charge_ah: float, test: str, bench: str = "example") -> OneResult:
    counted = {"kind": "capacity", "counted_ah": charge_ah, "current_a": 18, "ended_by": "bms"}
    return capacity(CapacityTest.model_validate(counted), None, at(test, bench), LABEL)


def counted_ah(charge_ah: float) -> Measured:
    return full_discharge(charge_ah, "first").metrics["delivered_ah"]


def left(first_ah: float, later_ah: float, bench: str = "example") -> Measured:
    return share_left(full_discharge(first_ah, "first"), full_discharge(later_ah, "later", bench))


def charge_efficiency(out_ah: float, in_ah: float) -> Measured | str:
    refill = ChargeTest.model_validate({"kind": "charge", "after": "first", "counted_ah": in_ah})
    found = charge(refill, None, at("refill"), full_discharge(out_ah, "first"))
    refused = any(finding.code == "efficiency-above-one" for finding in found.findings)
    return "refused" if refused else found.metrics["charge_efficiency"]


def energy_efficiency(out_wh: float, in_wh: float) -> Measured:
    before = OneResult(test="first", kind="capacity", metrics={"delivered_wh": exact(out_wh, "Wh")})
    refill = ChargeTest.model_validate({"kind": "charge", "after": "first", "counted_wh": in_wh})
    return charge(refill, None, at("refill"), before).metrics["energy_efficiency"]


def idle_loss(start: float, end: float) -> Measured:
    shelf = {"kind": "standby", "started": "2026-05-20", "ended": "2026-06-20", "read_on": "app",
             "soc": {"start": start, "end": end}}  # fmt: skip
    return standby(StandbyTest.model_validate(shelf), at()).metrics["loss_per_month"]


def spread(*cell_v: float) -> Measured:
    test = {"kind": "balance", "at": "full", "read_on": "meter", "cell_v": list(cell_v)}
    return balance(BalanceTest.model_validate(test), at()).metrics["cell_spread_full_mv"]


# What a page's expressions may use.
NAMES: Mapping[str, Any] = {
    one.__name__: one
    for one in (
        mean_w, energy_at, hours, by_soc, carries, starts, trip_s, cold_words, cold_reading, cold_log, pulses,
        power_left, short_circuit, sag_v, power_at_end_voltage_w, current_at_power_a, warm_up_s, counted_ah, left,
        charge_efficiency, energy_efficiency, idle_loss, spread,
    )
} | {"INVERTER": INVERTER, "STEPS": STEPS, "PULSES": PULSES, "STEP_SHARE": STEP_SHARE, "math": math}  # fmt: skip


# --- reading the pages -----------------------------------------------------------------------------------------------
def text_of(page: Path) -> str:
    return page.read_text("utf-8")


def checks() -> list[Any]:
    """Every check of every page: what the reader sees on that line before it, and the expression."""
    found = []
    for page in METHODS:
        for number, line in enumerate(text_of(page).splitlines(), 1):
            for check in CHECK.finditer(line):
                seen = CHECK.sub("", line[: check.start()]).rstrip()
                found.append(pytest.param(seen, check[1], id=f"{page.name}:{number}: {check[1]}"))
    return found


def assert_shows(seen: str, computed: object) -> None:
    """A text, or a number as unit pages write it, fills its cell; a plain number agrees to the digits shown."""
    if isinstance(computed, Measured | str):
        words = computed if isinstance(computed, str) else str(quantity(computed))
        assert SPACES.sub(" ", words) == SPACES.sub(" ", seen.rpartition("|")[2].strip())
        return
    assert isinstance(computed, float)
    shown = NUMBER.findall(SPACES.sub("", seen))[-1].replace("−", "-")
    digits = len(shown.partition(".")[2])
    assert float(shown) == pytest.approx(computed, abs=0.5000001 * 10**-digits, rel=0)


@pytest.mark.parametrize(("seen", "expression"), checks())
def test_a_worked_number_is_what_the_code_returns(seen: str, expression: str) -> None:
    assert_shows(seen, eval(expression, dict(NAMES)))  # noqa: S307  # from this project's own pages


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_every_result_in_a_table_of_worked_examples_is_checked(name: str) -> None:
    examples = text_of(PAGES / "methods" / f"{name}.md").partition("## Worked examples")[2]
    rows = [line for line in examples.splitlines() if line.startswith("|") and "---" not in line]
    results = [row for row in rows if not row.rstrip("| ").endswith("Result")]
    assert results
    for row in results:
        assert row.endswith("--> |"), row
        assert all(CHECK.search(step) for step in re.findall(r"= [−\d][^;|]*", row)), row


@pytest.mark.parametrize(
    ("seen", "computed", "right"),
    [
        ("| 12 + 0.35 · 45 / 0.93 | 28.9 W", 28.94, True),
        ("| 12 + 0.35 · 45 / 0.93 | 28.9 W", 28.96, False),
        ("| at −2.5 °C", -2.5, True),
        ("| at 2.5 °C", -2.5, False),
        ("| start | will not", "will not", True),
        ("| start | will not", "not", False),
        ("| 0.29 · 90 · 12.8 | 330 ± 50 Wh", "330 ± 40 Wh", False),
        ("| −8000 · ln(2) | 4\u202f782.7 s", 4782.696, True),
    ],
)
def test_the_comparison_itself_can_fail(seen: str, computed: object, *, right: bool) -> None:
    if right:
        assert_shows(seen, computed)
    else:
        with pytest.raises(AssertionError):
            assert_shows(seen, computed)


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_a_method_has_its_page(name: str) -> None:
    assert text_of(PAGES / "methods" / f"{name}.md").startswith("# ")


@pytest.mark.parametrize("page", METHODS, ids=lambda page: page.name)
def test_a_page_names_a_source_or_says_whose_judgement_it_is(page: Path) -> None:
    assert SOURCE.search(text_of(page))


@pytest.mark.parametrize("page", METHODS, ids=lambda page: page.name)
def test_links_lead_to_a_page_and_a_heading_that_exist(page: Path) -> None:
    for target, anchor in LINK.findall(text_of(page)):
        file = (page.parent / target).resolve() if target else page
        assert file.is_file(), f"{page.name}: {target}"
        assert not anchor or f"{{#{anchor}}}" in text_of(file), f"{page.name}: {target}#{anchor}"


@pytest.mark.parametrize("name", DANGEROUS)
def test_a_dangerous_method_opens_with_its_cautions(name: str) -> None:
    opening = text_of(PAGES / "methods" / f"{name}.md").partition("</div>")[0]
    assert '<div class="caution" markdown>' in opening
    assert opening.count("\n") < 5
    for word in ("kiloamperes", "DC-rated fuses", "ocal codes", "licensed", "maker", "cautions.md"):
        assert word in opening, word


def test_each_danger_is_named_where_it_arises() -> None:
    openings = {name: text_of(PAGES / "methods" / f"{name}.md").partition("</div>")[0] for name in DANGEROUS}
    assert "below 0 °C plates metallic lithium" in openings["cold"]
    assert "listed transfer switch or interlock, installed to local code by a licensed electrician" in openings["loads"]
    for name in ("overload", "cold"):
        assert "attended" in openings[name]
        assert "outdoors or" in openings[name]
        assert "a disconnect in reach" in openings[name]
