"""The numbers of a bench sheet, from labels."""

import pytest

from site_builder.catalogue_records import Bench, Load
from site_builder.derive.bench_plan import Plan, bench_plan
from site_builder.records import Label

LABEL = {
    "chemistry": "LiFePO4",
    "nominal_v": 12.8,
    "capacity_ah": 100,
    "continuous_discharge_a": 100,
    "surge": [{"current_a": 200, "duration_s": 3}],
    "charge": {"max_a": 50},
    "heater": {"min_charge_a": 7},
}
BENCH = Bench.model_validate(
    {
        "title": "Quay",
        "tester": "Ines Hallam",
        "since": "2026-01-01",
        "instruments": {},
        "inverters": {"galley": {"idle_w": 12, "points": [{"ac_w": 200, "dc_w": 227}, {"ac_w": 400, "dc_w": 442}]}},
    }
)
LOADS = {
    "press": Load.model_validate({"title": "Press", "running_w": 230}),
    "lamp": Load.model_validate({"title": "Lamp", "running_w": 20}),
    "pump": Load.model_validate({"title": "Pump", "running_w": 256, "mains": False}),
    "fridge": Load.model_validate({"title": "Fridge", "running_w": 256, "mains": False, "duty": 0.5}),
}


def plan(**changes: object) -> Plan:
    return bench_plan(Label.model_validate(LABEL | changes), BENCH, LOADS)


def test_reference_is_a_fifth_of_the_capacity_for_five_hours() -> None:
    """IEC 61960-3 and IEC 62620: 0.2 I_t."""
    assert (plan().reference_a, plan().hours) == pytest.approx((20, 5))
    assert (plan(rated_over_h=20).reference_a, plan(rated_over_h=20).hours) == pytest.approx((5, 20))


@pytest.mark.parametrize(
    ("changes", "end_v", "charge_v"),
    [
        # 2.5 and 3.6 V a cell; 1.75 and 2.4 V a cell: common practice, no source
        ({}, 10.0, 14.4),
        ({"nominal_v": 25.6}, 20.0, 28.8),
        ({"chemistry": "lead-acid AGM", "nominal_v": 12}, 10.5, 14.4),
        ({"discharge": {"end_v": 11}, "charge": {"voltage_v": 14.2}}, 11.0, 14.2),
        ({"chemistry": "NMC"}, None, None),
    ],
)
def test_voltages_are_the_labels_else_those_of_the_chemistry(
    changes: dict[str, object], end_v: float | None, charge_v: float | None
) -> None:
    found = plan(**changes)
    assert found.end_v == (end_v if end_v is None else pytest.approx(end_v))
    assert found.charge_v == (charge_v if charge_v is None else pytest.approx(charge_v))


def test_loads_near_the_reference_come_nearest_first_and_never_with_a_duty() -> None:
    """256 W at 12.8 V is 20 A; 230 W through the inverter is about 12 + 230 × 1.075 = 259 W, 20.3 A."""
    near = plan().near
    assert [one.name for one in near] == ["pump", "press"]
    assert near[0].battery_a == pytest.approx(20)
    assert near[0].hours == pytest.approx(5)
    assert near[1].battery_a == pytest.approx(20.3, abs=0.1)


def test_steps_rise_from_the_label_to_its_surge() -> None:
    steps = plan().steps
    assert [step.current_a for step in steps] == pytest.approx([100, 110, 125, 150, 200])
    assert [step.hold_s for step in steps] == pytest.approx([1800, 60, 60, 60, 3])
    assert plan(continuous_discharge_a=None).steps == ()


def test_cable_that_is_enough_drops_three_hundredths_at_most() -> None:
    """At 200 A a metre of 35 mm² takes 2 × 200 × 0.01724/35 = 0.197 V: 1.5 % of 12.8 V; 16 mm² 0.431 V, 3.4 %."""
    cables = {cable.area_mm2: cable for cable in plan().cables}
    assert cables[35].drop_v == pytest.approx(0.197, abs=0.001)
    assert (cables[16].is_enough, cables[35].is_enough) == (False, True)


def test_chargers_begin_with_the_smallest_and_end_at_the_labels_limit() -> None:
    assert plan().chargers_a == pytest.approx((5, 7, 10, 20))
    assert plan(charge={"max_a": 8}).chargers_a == pytest.approx((5, 7))


@pytest.mark.parametrize(
    ("capacity_ah", "most_a", "chargers_a"), [(0.5, 0.1, ()), (6, 1.2, ()), (30, 6, (5,)), (200, 40, (5, 7, 10, 20))]
)
def test_chargers_without_a_limit_on_the_label_follow_its_capacity(
    capacity_ah: float, most_a: float, chargers_a: tuple[float, ...]
) -> None:
    """0.2 I_t: common practice, no source."""
    found = plan(charge=None, capacity_ah=capacity_ah)
    assert found.most_charge_a == pytest.approx(most_a)
    assert found.chargers_a == pytest.approx(chargers_a)
    assert plan(charge={"max_a": 3}, capacity_ah=capacity_ah).chargers_a == ()


def test_pulses_never_go_above_the_labels_continuous_current() -> None:
    assert plan().pulse_a == pytest.approx((20, 100))
    assert plan(continuous_discharge_a=60).pulse_a == pytest.approx((20, 60))
