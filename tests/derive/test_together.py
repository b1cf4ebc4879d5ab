"""Several loads at once, several batteries in parallel, and loads made for another voltage."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from site_builder.catalogue_records import Load
from site_builder.derive.answers import Known, not_for, peak_current_a, start_of
from site_builder.derive.inverter import Chain
from site_builder.derive.runtime import Supply, Use, hours_together, mean_power, mean_power_together, on_power_w
from site_builder.measured import Component, Measured
from tests.derive.test_answers import CAPACITY, STEPS, ran, tripped, unit

ENERGY = Measured(value=1280, unit="Wh", components={"gain": Component(5)})
SUPPLY = Supply(unit="a", chemistry="LiFePO4", energy=ENERGY, rate_it=0.2, rated_ah=100, mean_v=12.8, curve=None)
CHAIN = Chain(idle_w=10, slope=1.1, square=2e-5, relative_u=0.01, cut_off_v=None)


def load(title: str, running_w: Any, mains: bool = False, **more: Any) -> Load:
    return Load.model_validate({"title": title, "running_w": running_w, "mains": mains} | more)


def hours(*uses: Use, chain: Chain | None = CHAIN, batteries: int = 1, idle: float = 1.0) -> Measured:
    found = hours_together(uses, SUPPLY, chain, "galley", batteries=batteries, idle_of_day=idle)
    assert isinstance(found, Measured), found
    return found


FRIDGE, LIGHTS = load("Fridge", 100, duty="50 %"), load("Lights", 24)
KETTLE, LAPTOP = load("Kettle", 300, mains=True), load("Laptop", 60, mains=True)


def test_an_inverter_idles_once_however_many_loads_hang_on_it() -> None:
    line = Chain(idle_w=10, slope=1.1, square=0, relative_u=0.01, cut_off_v=None)
    both = mean_power_together([Use(load=KETTLE), Use(load=LAPTOP)], line, "galley").value
    assert both == pytest.approx(10 + 1.1 * 360)
    alone = [mean_power(one, line, "galley").value for one in (KETTLE, LAPTOP)]
    assert both == pytest.approx(sum(alone) - 10)


def test_losses_that_grow_with_the_square_are_those_of_all_together() -> None:
    uses = [Use(load=KETTLE), Use(load=LAPTOP), Use(load=LIGHTS)]
    assert mean_power_together(uses, CHAIN, "galley").value == pytest.approx(CHAIN.dc_w(360) + 24)
    assert on_power_w([KETTLE, LAPTOP, LIGHTS], CHAIN) == pytest.approx(CHAIN.dc_w(360) + 24)


@given(st.floats(1, 2000), st.floats(1, 2000), st.floats(0.01, 1), st.floats(0.01, 1))
def test_what_is_open_of_a_power_arrives_as_its_own_change_does(a: float, b: float, duty: float, of_day: float) -> None:
    """The derivative against a difference quotient of the value itself."""
    step = 1e-3 * a

    def value(watts: float) -> float:
        uses = [Use(load=load("A", watts, mains=True, duty=duty), of_day=of_day), Use(load=load("B", b, mains=True))]
        return mean_power_together(uses, CHAIN, "galley").value

    text = {"running_w": f"{a - step:.9f} to {a + step:.9f}"}
    wide = load("A", text["running_w"], mains=True, duty=duty)
    found = mean_power_together([Use(load=wide, of_day=of_day), Use(load=load("B", b, mains=True))], CHAIN, "galley")
    slope = (value(a + step) - value(a - step)) / (2 * step)
    assert found.components["load:A/power"].limit == pytest.approx(abs(slope) * step, rel=1e-4)


def test_one_load_is_a_case_of_several() -> None:
    assert mean_power_together([Use(load=FRIDGE)], None, "none") == mean_power(FRIDGE, None, "none")


def test_the_rate_is_that_with_everything_on_at_once() -> None:
    # 124 W on, 74 W on average: as long as the energy at 124 W lasts at 74 W.
    together = hours(Use(load=FRIDGE), Use(load=LIGHTS))
    at_once = hours(Use(load=load("As one", 124)))
    assert together.value == pytest.approx(at_once.value * 124 / 74)


def test_more_at_once_than_projections_reach_is_not_known() -> None:
    found = hours_together([Use(load=KETTLE), Use(load=load("Winch", 320))], SUPPLY, CHAIN)
    assert isinstance(found, str)
    assert "more than projections reach" in found


def test_half_of_the_day_takes_half_of_the_energy_a_day() -> None:
    assert hours(Use(load=FRIDGE, of_day=0.5)).value == pytest.approx(2 * hours(Use(load=FRIDGE)).value)
    always, half = (hours(Use(load=LAPTOP, of_day=0.25), idle=idle) for idle in (1.0, 0.5))
    # 60 W a quarter of the day is 16.518 W on average with the square, beside 10 W of idling or half of it.
    per_w = 1.1 + 2e-5 * 60
    assert half.value / always.value == pytest.approx((10 + 15 * per_w) / (5 + 15 * per_w))


def test_batteries_in_parallel_share_the_power_and_last_longer_than_their_number() -> None:
    one, two = hours(Use(load=load("Pump", 256))), hours(Use(load=load("Pump", 256)), batteries=2)
    # At half the rate each gives 2^0.03 more, the middle of the relation for energy (k - 1 from 0 to 0.06).
    assert two.value / one.value == pytest.approx(2 * 2**0.03)


def test_a_load_of_one_voltage_does_not_run_on_another() -> None:
    dual = load("Fridge", 60, nominal_v=[12, 24])
    assert [not_for(LIGHTS, volts) for volts in (12.0, 12.8, 14.4)] == [None] * 3
    assert (not_for(LIGHTS, 25.6) or "").startswith("not known: it is made for 12 V")
    assert not_for(dual, 25.6) is None
    assert (not_for(dual, 51.2) or "").startswith("not known: it is made for 12 and 24 V")
    assert not_for(load("Drill", 500, mains=True), 51.2) is None


def known(**tests: dict[str, Any]) -> Known:
    found = unit(**tests).known
    assert found is not None
    return found


def test_each_load_starts_while_the_others_run() -> None:
    winch, lamp = load("Winch", 500, start={"peak_w": 1200, "duration_s": 0.5}), load("Lamp", 128)
    held = known(steps=STEPS)
    assert peak_current_a([winch, lamp], 0, held, None) == pytest.approx((1200 + 128) / 12.8)
    assert peak_current_a([winch, lamp], 1, held, None) == pytest.approx((500 + 128) / 12.8)
    # 93.75 A alone is within what was carried (110 A), 114 A with two lamps more is not.
    more = load("More lamps", 256)
    assert start_of({"winch": winch}, held, None) == "starts"
    assert start_of({"winch": winch, "more": more}, held, None) == "borderline"
    assert start_of({"winch": winch, "more": more}, held, None, batteries=2) == "starts"


def test_what_did_not_start_alone_does_not_start_with_more() -> None:
    held = known(steps=STEPS, tried=ran("pump", outcome="did_not_start"))
    pump, lights = load("Pump", 256), load("Lights", 24)
    assert start_of({"pump": pump, "lights": lights}, held, None) == "will not"
    assert start_of({"pump": pump, "lights": lights}, held, None, batteries=2) == "starts"


def test_a_start_seen_together_outranks_the_sum() -> None:
    held = known(both=ran(["saw", "kettle"]), capacity=CAPACITY)
    loads = {"saw": load("Saw", 1000, mains=True), "kettle": KETTLE}
    assert start_of(loads, held, CHAIN) == "starts"
    assert start_of(loads | {"lights": LIGHTS}, held, CHAIN) == "not known"
    stopped = known(both=tripped("1 to 2", load=["saw", "kettle"]), again=ran(["saw", "kettle"]), steps=STEPS)
    assert start_of(loads, stopped, CHAIN) == "starts"  # it tripped after the start was over


def test_a_load_of_another_voltage_is_not_answered() -> None:
    held = known(steps=STEPS)
    assert start_of({"fan": load("Fan", 60, nominal_v=[24])}, held, None) == "not known"
    assert start_of({"fan": load("Fan", 60, nominal_v=[24]), "lights": LIGHTS}, held, None) == "not known"
