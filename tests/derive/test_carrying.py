"""A unit's points together: overload tests and load runs, samples, firmware, and evidence that contradicts itself."""

from __future__ import annotations

from typing import Any

import pytest

from site_builder.derive.carrying import carrying_of
from site_builder.derive.readings import Setting
from site_builder.derive.results import Carrying, Finding
from site_builder.records import ResultsFile
from tests.logs_by_hand import bench

BENCH = bench(instruments={"clamp": {"measures": "current", "of_reading": "2 %"}})


Findings = tuple[tuple[str, Finding], ...]


def of(samples: dict[str, Any] | None = None, **tests: dict[str, Any]) -> tuple[tuple[Carrying, ...], Findings]:
    file = ResultsFile.model_validate(
        {
            "unit": {"id": "tarn-t100", "maker": "Tarn", "model": "T100"},
            "samples": samples if samples is not None else {"a": {"obtained": "bought"}},
            "label": {"chemistry": "LiFePO4", "nominal_v": 12.8, "capacity_ah": 100},
            "tests": tests,
        }
    )
    settings = {name: Setting(unit="tarn-t100", test=name, bench_id="by-hand", bench=BENCH) for name in tests}
    return carrying_of(file, settings, {})


def steps(*points: tuple[Any, Any, bool], **more: Any) -> dict[str, Any]:
    rows = [{"current_a": amps, "duration_s": seconds, "held": held} for amps, seconds, held in points]
    return {"kind": "overload", "points": rows} | more


def saw(**more: Any) -> dict[str, Any]:
    return {"kind": "load_run", "load": "saw", "outcome": "tripped", "current_a": 127, "duration_s": 4} | more


def names_of(one: Carrying) -> list[str]:
    return [point.test for point in one.points]


def test_steps_and_runs_are_one_body_of_evidence() -> None:
    (one,), findings = of(a=steps((110, "over 30 min", True)), b=saw(), c={"kind": "build"})
    assert names_of(one) == ["a", "b"]
    bracket = one.brackets["10_s"]
    assert bracket.held is not None
    assert bracket.tripped is not None
    assert (bracket.held.test, bracket.tripped.test) == ("a", "b")
    assert findings == ()


def test_without_points_there_is_nothing() -> None:
    assert of(a={"kind": "overload"}, b=saw(current_a=None)) == ((), ())


# --- samples ---------------------------------------------------------------------------------------------------------
TWO = {"a": {"obtained": "bought"}, "b": {"obtained": "given"}}


def test_the_first_sample_that_has_points_speaks_for_itself() -> None:
    (one,), _ = of(TWO, x=saw(sample="b"), y=steps((110, 60, True), sample="a"))
    assert names_of(one) == ["y"]


def test_where_the_first_one_has_none_the_next_one_counts() -> None:
    """The first sample died before anybody overloaded it."""
    (one,), _ = of(TWO, x=saw(sample="b"), y={"kind": "build", "sample": "a"})
    assert names_of(one) == ["x"]


def test_a_file_without_samples_is_one_battery() -> None:
    (one,), _ = of({}, x=saw())
    assert names_of(one) == ["x"]


# --- firmware --------------------------------------------------------------------------------------------------------
def test_new_firmware_splits_the_evidence_newest_last() -> None:
    """Whatever the order in the file: the older test comes first."""
    new = steps((140, "over 30 min", True), date="2026-07-01", firmware="2.3")
    old = steps((110, "over 30 min", True), (120, 4, False), date="2026-03-01")
    samples = {"a": {"obtained": "bought", "firmware": "2.1"}}
    found, findings = of(samples, new=new, old=old)
    assert [(one.firmware, names_of(one)) for one in found] == [("2.1", ["old", "old"]), ("2.3", ["new"])]
    # 140 A carried by the one is no contradiction to a trip at 120 A by the other.
    assert findings == ()
    assert found[-1].brackets["10_s"].tripped is None


def test_the_same_firmware_said_by_sample_and_test_is_one() -> None:
    samples = {"a": {"obtained": "bought", "firmware": "2.1"}}
    found, _ = of(samples, a=steps((110, 60, True)), b=saw(firmware="2.1"))
    assert [one.firmware for one in found] == ["2.1"]


# --- contradictions --------------------------------------------------------------------------------------------------
def test_trips_that_contradict_are_a_finding_with_a_way_out() -> None:
    _, findings = of(a=steps((150, 60, True), (110, 30, True)), b=steps((120, 4, False)))
    assert [(test, one.code) for test, one in findings] == [("a", "trips-contradict")]
    assert "150 A here, and tripped at 120 A in b" in findings[0][1].message
    assert "rest, charge, temperature" in findings[0][1].hint


def test_a_crossing_within_both_uncertainties_is_none() -> None:
    """121 A and 120 A on a clamp of 2 %: U 2.3 A each."""
    (one,), findings = of(a=steps((121, 60, True)), b=steps((120, 4, False)))
    assert one.brackets["10_s"].crossed is not None
    assert findings == ()


@pytest.mark.parametrize("more", [{"rest_before_s": 60}, {"soc": "30 %"}])
def test_a_point_that_is_left_out_contradicts_nothing(more: dict[str, Any]) -> None:
    points = [{"current_a": 120, "duration_s": 4, "held": False} | more]
    (one,), findings = of(a=steps((150, 60, True)), b={"kind": "overload", "points": points})
    assert findings == ()
    assert [point.left_out is not None for point in one.points] == [False, True]


def test_a_curve_where_there_are_trips_enough() -> None:
    trips = [(amps, 20 / ((amps / 115) ** 1.4 - 1), False) for amps in (150, 180, 220, 270, 320)]
    (one,), _ = of(a=steps(*trips))
    assert one.curve is not None
    assert one.curve.alpha == pytest.approx(1.4, rel=0.01)
    (few,), _ = of(a=steps(*trips[:4]))
    assert few.curve is None
