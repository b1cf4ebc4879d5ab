"""Mass, volume and what they hold."""

from __future__ import annotations

from typing import Any

import pytest

from site_builder.bench_tests import BuildTest
from site_builder.derive.build_quality import build, claimed_mass_kg, claimed_volume_l, energy_per
from site_builder.measured import Component, Measured
from site_builder.records import Label
from tests.logs_by_hand import bench, setting

SHED = bench(instruments={"scale": {"measures": "mass", "offset": 0.05}, "tape": {"measures": "length", "offset": 1}})
SIZE = {"length": 300, "width": 170, "height": 200}


def built(on: Any = SHED, **test: Any) -> dict[str, Measured]:
    return dict(build(BuildTest.model_validate({"kind": "build"} | test), setting(on)).metrics)


def label(**more: Any) -> Label:
    return Label.model_validate({"chemistry": "LiFePO4", "nominal_v": 12.8, "capacity_ah": 90} | more)


def test_a_weighed_mass() -> None:
    mass = built(mass_kg="22.9 lb")["mass_kg"]
    assert mass.value == pytest.approx(10.387, abs=0.001)
    assert [part.limit for part in mass.components.values()] == [0.05]


def test_a_volume_from_its_sides() -> None:
    """300·170·200 mm³ are 10.2 L; one tape is off by the same millimetre on all sides, so their shares add up."""
    volume = built(size_mm=SIZE)["volume_l"]
    assert volume.value == pytest.approx(10.2)
    assert volume.unit == "L"
    assert volume.components["offset:checked/run/tape"].limit == pytest.approx(10.2 * (1 / 300 + 1 / 170 + 1 / 200))


def test_nothing_measured() -> None:
    assert built() == {}


def test_without_a_bench_it_is_as_read() -> None:
    assert built(None, mass_kg=10.4, size_mm=SIZE)["volume_l"].basis == "as_read"


def test_claims_have_no_uncertainty() -> None:
    claimed = label(mass_kg=10.4, size_mm=SIZE)
    for one, value in ((claimed_mass_kg(claimed), 10.4), (claimed_volume_l(claimed), 10.2)):
        assert one is not None
        assert one.value == pytest.approx(value)
        assert (one.basis, one.expanded) == ("claimed", None)
    assert claimed_mass_kg(label()) is None
    assert claimed_volume_l(label()) is None


def test_energy_per_mass() -> None:
    energy = Measured(value=1250, unit="Wh", components={"gain": Component(12.5)}, bound="at_least")
    each = energy_per(energy, Measured(value=10, unit="kg", components={"scale": Component(0.1)}), "Wh/kg")
    assert each is not None
    assert (each.value, each.unit, each.bound) == (125, "Wh/kg", "at_least")
    assert each.u == pytest.approx(125 * (0.01**2 + 0.01**2) ** 0.5)
