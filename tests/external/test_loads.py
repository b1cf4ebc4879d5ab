"""What stands between a battery and a load: the inverter's efficiency curve, weighted as two published tests weight it.

The weights are those of W. Bower et al., Performance Test Protocol for Evaluating Inverters Used in Grid-Connected
Photovoltaic Systems (2004), for the California Energy Commission, and the "European efficiency" of the Joint Research
Centre, Ispra; EN 50530 has both (from memory).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest

from site_builder.bench_tests import LoadRun
from site_builder.catalogue_records import Inverter, Load
from site_builder.derive.inverter import Chain, chain_of, duty_power_w
from site_builder.derive.load_runs import load_run
from site_builder.derive.runtime import Supply, Use, hours_together, mean_power, share_above
from site_builder.measured import Measured, exact
from site_builder.records import Label
from tests.logs_by_hand import bench, setting

IDLE_W, EFFICIENCY, RATED_W = 12.0, 0.93, 1000.0
# Share of the rated power → efficiency: P/(P_idle + P/η), arithmetic.
EFFICIENCIES = {0.05: 0.7603, 0.10: 0.8366, 0.20: 0.8808, 0.30: 0.8966, 0.50: 0.9097, 0.75: 0.9164, 1.00: 0.9197}
CEC = {0.10: 0.04, 0.20: 0.05, 0.30: 0.12, 0.50: 0.21, 0.75: 0.53, 1.00: 0.05}
EUROPEAN = {0.05: 0.03, 0.10: 0.06, 0.20: 0.13, 0.30: 0.10, 0.50: 0.48, 1.00: 0.20}

POINTS = [{"ac_w": watts, "dc_w": IDLE_W + watts / EFFICIENCY} for watts in (100, 500, 1000)]
INVERTER = Inverter.model_validate({"idle_w": IDLE_W, "points": POINTS, "nominal_v": 12})
CHAIN = chain_of(INVERTER)


@pytest.mark.parametrize("share", EFFICIENCIES)
def test_efficiency_at_part_load(share: float) -> None:
    watts = share * RATED_W
    assert watts / CHAIN.dc_w(watts) == pytest.approx(EFFICIENCIES[share], abs=5e-5)


@pytest.mark.parametrize(("weights", "weighted"), [(CEC, 0.90780), (EUROPEAN, 0.89778)], ids=["CEC", "European"])
def test_weighted_efficiency(weights: Mapping[float, float], weighted: float) -> None:
    assert sum(weights.values()) == pytest.approx(1)
    total = sum(weight * share * RATED_W / CHAIN.dc_w(share * RATED_W) for share, weight in weights.items())
    assert total == pytest.approx(weighted, abs=5e-6)


def test_a_fridge_behind_an_inverter_pays_for_its_idle_power_all_the_time() -> None:
    """45 W at 35 % duty, idle 12 W, η 0.93: 12 + 0.35·45/0.93 = 28.9 W. Arithmetic."""
    assert duty_power_w(45 / EFFICIENCY, 0.35, IDLE_W) == pytest.approx(28.9, abs=0.05)
    load = Load.model_validate({"title": "Fridge", "running_w": 45, "duty": "35 %"})
    assert mean_power(load, CHAIN, "galley").value == pytest.approx(28.9, abs=0.05)


def test_a_metered_run_through_the_same_inverter() -> None:
    on = bench(
        instruments={"plug": {"measures": "power", "of_reading": "2 %"}},
        inverters={"galley": {"idle_w": IDLE_W, "points": POINTS, "nominal_v": 12}},
    )
    run = {"kind": "load_run", "load": "fridge", "inverter": "galley", "outcome": "ran", "power_w": 45, "duty": "35 %"}
    test = LoadRun.model_validate(run | {"duration_s": "2 h"})
    label = Label.model_validate({"chemistry": "LiFePO4", "nominal_v": 12.8, "capacity_ah": 100})
    metrics = load_run(test, None, setting(on), label, {}).metrics
    assert metrics["battery_power_w"].value == pytest.approx(28.9, abs=0.05)
    assert metrics["used_wh"].value == pytest.approx(2 * 28.935, rel=1e-4)


def test_a_square_term_is_found_where_the_points_ask_for_it() -> None:
    """Losses a + bP + cP², the usual model of a converter's loss (Schmidt and Sauer 1996, from memory)."""
    true = Chain(idle_w=12, slope=1.03, square=9e-5, relative_u=0, cut_off_v=None)
    points = [{"ac_w": watts, "dc_w": true.dc_w(watts)} for watts in (50, 200, 500, 1000, 2000)]
    found = chain_of(Inverter.model_validate({"idle_w": 12, "points": points}))
    assert found.slope == pytest.approx(true.slope, rel=1e-6)
    assert found.square == pytest.approx(true.square, rel=1e-6)


# --- hours -----------------------------------------------------------------------------------------------------------
def supply(energy_wh: float, rate_it: float = 0.2) -> Supply:
    return Supply(
        unit="checked",
        chemistry="LiFePO4",
        energy=exact(energy_wh, "Wh"),
        rate_it=rate_it,
        rated_ah=100,
        mean_v=12.8,
        curve=None,
    )


def hours(running_w: float, energy_wh: float = 1280.0) -> Measured:
    load = Load.model_validate({"title": "Load", "running_w": running_w, "mains": False})
    found = hours_together((Use(load=load),), supply(energy_wh), None)
    assert isinstance(found, Measured)
    return found


def test_hours_at_the_rate_of_the_test_are_energy_over_power() -> None:
    """1 280 Wh at 0.2 I_t, 256 W: 5 h. Capacity is stated at 0.2 I_t: common practice (also IEC 61434, IEC 61960-3)."""
    found = hours(256)
    assert found.value == pytest.approx(5.0)
    assert found.u == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize(("running_w", "ratio"), [(64.0, 4.0), (512.0, 0.5), (51.2, 5.0)])
def test_hours_at_another_rate_lie_within_peukert_s_relation(running_w: float, ratio: float) -> None:
    """E₂/E₁ = (I₁/I₂)^(k−1) with k − 1 from 0 to 0.06: both ends inside value ± U, its middle the value.

    W. Peukert, Elektrotechnische Zeitschrift 20 (1897) 287; the range is this project's judgement for LiFePO4.
    """
    found = hours(running_w)
    plain = 1280 / running_w
    ends = sorted((plain, plain * ratio**0.06))
    assert found.value == pytest.approx(plain * ratio**0.03, rel=1e-9)
    assert found.lowest <= ends[0] + 0.06 * plain * 0.05
    assert found.highest >= ends[1] - 0.06 * plain * 0.05


def test_below_a_twenty_fifth_of_its_capacity_an_hour_nothing_more_is_gained() -> None:
    assert hours(10).value * 10 == pytest.approx(hours(51.2).value * 51.2)


def test_the_part_above_a_cut_off_is_the_area_under_the_curve() -> None:
    """A straight line from 13.6 to 12.0 V over 100 Ah, cut off at 12.4 V: 975 of 1 280 Wh. Arithmetic."""
    charge = np.linspace(0, 100, 401)
    voltage = 13.6 - 0.016 * charge
    whole = float(np.trapezoid(voltage, charge))
    part = float(np.trapezoid(voltage[voltage >= 12.4], charge[voltage >= 12.4]))
    assert (whole, part) == pytest.approx((1280.0, 975.0))
    assert share_above((charge, voltage), 12.4) == pytest.approx(part / whole, rel=1e-9)
