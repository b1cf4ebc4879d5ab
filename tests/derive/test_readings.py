"""A hand-read figure on its instrument: limits by source, bounds by what was written."""

from __future__ import annotations

from typing import Any

import pytest

from site_builder.catalogue_records import Instrument
from site_builder.derive.readings import Setting, gain_components, instrument_components, offset_limit, reading
from site_builder.measured import Bound, Component, Measured
from site_builder.values import In, stated
from tests.logs_by_hand import bench, setting

INSTRUMENTS: dict[str, dict[str, Any]] = {
    "shunt": {"measures": "current", "of_reading": "0.5 %", "offset": 0.05, "step": 0.01},
    "clamp": {"measures": "current", "of_reading": "2 %", "digits": 5, "step": 0.1},
    "counter": {"measures": "charge", "of_reading": "0.5 %", "same_gain_as": "shunt"},
    "probe": {"measures": "temperature", "offset": 0.5, "step": 0.1},
}
BENCH = bench(instruments=INSTRUMENTS)
HERE = setting(BENCH)


def amps(raw: Any, where: Setting = HERE, read_on: str | None = "shunt") -> Measured:
    return reading(stated(raw, In("A", -3000, 3000)), "A", "current", where, field="current_a", read_on=read_on)


def test_a_reading_has_gain_offset_and_step() -> None:
    one = amps(20)
    assert {name: part.limit for name, part in one.components.items()} == {
        "gain:by-hand/shunt": pytest.approx(0.1),
        "offset:checked/run/shunt": pytest.approx(0.05),
        "step:checked/run/current_a": pytest.approx(0.005),
    }
    assert (one.value, one.unit, one.bound, one.basis) == (20, "A", "exact", "measured")


def test_the_gain_of_a_negative_reading_is_turned() -> None:
    assert amps(-20).components["gain:by-hand/shunt"].u == -amps(20).components["gain:by-hand/shunt"].u


@pytest.mark.parametrize(
    ("raw", "bound", "best", "limit"),
    [
        ("about 20", "exact", 20, 5),
        ("18 to 22", "exact", 20, 2),
        ("over 20", "at_least", 20, None),
        ("under 20", "at_most", 20, None),
        ("20", "exact", 20, None),
    ],
)
def test_what_the_tester_wrote_is_a_source_of_its_own(raw: str, bound: Bound, best: float, limit: float | None) -> None:
    one = amps(raw)
    assert (one.bound, one.value) == (bound, best)
    written = one.components.get("stated:checked/run/current_a")
    assert (written.limit if written else None) == limit


def test_of_two_instruments_the_named_one_speaks() -> None:
    assert "gain:by-hand/clamp" in amps(20, read_on="clamp").components


def test_of_two_instruments_none_speaks_unnamed() -> None:
    one = amps(20, read_on=None)
    assert (one.basis, one.expanded, dict(one.components)) == ("as_read", None, {})


def test_the_only_instrument_of_its_kind_speaks_unnamed() -> None:
    one = reading(stated(21, In("°C", -60, 150)), "°C", "temperature", HERE, field="battery_c")
    assert one.basis == "measured"


@pytest.mark.parametrize("where", [setting(None), HERE])
def test_an_instrument_nobody_knows_says_nothing(where: Setting) -> None:
    assert amps(20, where, read_on="galvanometer").basis == "as_read"


def test_a_shared_sensor_has_one_gain() -> None:
    one = reading(stated(90, In("Ah", 0, 2000)), "Ah", "charge", HERE, field="counted_ah")
    assert one.components.keys() == {"gain:by-hand/shunt"}


def test_names_tell_tests_apart_except_for_the_gain() -> None:
    first, second = amps(20, setting(BENCH, "one")), amps(20, setting(BENCH, "two"))
    assert first.components.keys() & second.components.keys() == {"gain:by-hand/shunt"}


def test_a_bench_that_is_never_zeroed_has_one_offset_for_all_tests() -> None:
    never = bench(instruments=INSTRUMENTS, zeroed="never")
    first, second = amps(20, setting(never, "one")), amps(20, setting(never, "two"))
    assert first.components.keys() & second.components.keys() == {"gain:by-hand/shunt", "offset:by-hand/shunt"}


def test_which_instrument_a_name_fits() -> None:
    assert HERE.fitting("shunt", "current") == "shunt"
    assert HERE.fitting("shunt", "voltage") is None
    assert HERE.fitting("galvanometer", "voltage") == "galvanometer"
    assert HERE.fitting(None, "voltage") is None
    assert setting(None).fitting("shunt", "voltage") == "shunt"


def instrument(**limits: Any) -> Instrument:
    return Instrument.model_validate({"measures": "current"} | limits)


@pytest.mark.parametrize(
    ("limits", "limit"),
    [
        ({}, 0),
        ({"offset": 0.03}, 0.03),
        ({"of_range": "0.1 %", "range": 100}, 0.1),
        ({"of_range": "0.1 %"}, 0),
        ({"digits": 5, "step": 0.1}, 0.5),
        ({"digits": 5}, 0),
        ({"offset": 0.03, "of_range": "0.1 %", "range": 100, "digits": 5, "step": 0.1}, 0.63),
    ],
)
def test_what_does_not_depend_on_the_reading(limits: dict[str, Any], limit: float) -> None:
    assert offset_limit(instrument(**limits)) == pytest.approx(limit)


@pytest.mark.parametrize(("ambient_c", "limit"), [(None, None), (23.0, None), (3.0, 0.4), (33.0, 0.2)])
def test_drift_counts_from_23_c(ambient_c: float | None, limit: float | None) -> None:
    drifting = instrument(per_k="0.1 %")
    found = gain_components(20.0, "shunt", drifting, setting(BENCH, ambient_c=ambient_c))
    drift = found.get("drift:by-hand/shunt")
    assert (drift.limit if drift else None) == (None if limit is None else pytest.approx(limit))


def test_a_perfect_instrument_adds_nothing() -> None:
    assert instrument_components(20.0, "shunt", instrument(), HERE, field="current_a") == {}
    assert amps("18 to 22").components["stated:checked/run/current_a"] == Component(2 / 3**0.5, limit=2)
