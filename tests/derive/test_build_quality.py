"""Mass, volume and what they hold."""

from __future__ import annotations

from typing import Any

import pytest

from site_builder.bench_tests import BuildTest
from site_builder.derive.build_quality import build, claimed_mass_kg, claimed_volume_l, energy_per
from site_builder.measured import Bound, Component, Measured
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


@pytest.mark.parametrize(
    ("mass", "energy", "bound", "each"),
    [
        ("over 12", "exact", "at_most", 1250 / 12),
        ("under 12", "exact", "at_least", 1250 / 12),
        ("over 12", "at_least", None, None),
        ("under 12", "at_least", "at_least", 1250 / 12),
        ("10 to 12.5", "at_least", "at_least", 1250 / 11.25),
    ],
)
def test_bounds_of_mass_and_energy_meet(mass: str, energy: Bound, bound: str | None, each: float | None) -> None:
    weighed = build(BuildTest.model_validate({"kind": "build", "mass_kg": mass}), setting(None)).metrics["mass_kg"]
    found = energy_per(Measured(value=1250, unit="Wh", bound=energy), weighed, "Wh/kg")
    assert (found and found.bound) == bound
    assert (found and found.value) == (each and pytest.approx(each))


def test_an_open_side_leaves_the_volume_open() -> None:
    """310 × 170 × 210 mm at most: 11.067 L at most."""
    size = {"length": "under 310", "width": 170, "height": 210}
    volume = build(BuildTest.model_validate({"kind": "build", "size_mm": size}), setting(None)).metrics["volume_l"]
    assert volume.bound == "at_most"
    assert volume.value == pytest.approx(11.067)


def test_a_reading_without_an_instrument_has_no_limits_beside_a_claim_either() -> None:
    read = Measured(value=1250, unit="Wh", basis="as_read", components={"stated:a": Component(30.0, limit=50)})
    found = energy_per(read, Measured(value=10, unit="kg", basis="claimed"), "Wh/kg")
    assert found is not None
    assert found.expanded is None
