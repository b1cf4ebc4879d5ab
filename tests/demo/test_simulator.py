"""The simulator against closed forms, an independent solver and the statistics that it claims for its instruments.

Other tests trust its truth, so a fault here would hide faults there.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from tests.demo.batteries import follow, full_as, open_circuit_v, warmth
from tests.demo.benches import BOATHOUSE, BOATHOUSE_SLOW, GALLEY, HUT, JETTY, PINDER
from tests.demo.charges import emptied_soc, simulate_charge
from tests.demo.colds import simulate_cold_charge, standard_warm_up_s, warm_up
from tests.demo.discharges import (
    simulate_capacity,
    simulate_gappy,
    simulate_hand_read,
    steady_run,
    varied,
    written_on_change,
)
from tests.demo.instruments import Counter
from tests.demo.protection import Heater, Memory, Protection, Step
from tests.demo.roster import UNITS
from tests.demo.strains import largest_held_a, simulate_load_run, simulate_overload, simulate_pulses

FERNGATE, LUDGILL = UNITS["ferngate-f90"], UNITS["ludgill-agm100"]


# --- the battery ------------------------------------------------------------------------------------------------------


def test_what_it_delivers_and_what_it_burns_is_what_left_the_cells() -> None:
    """Energy balance: ∫OCV·I dt = ∫V·I dt + ∫I²R dt + ∫I·V_slow dt, the last one from the solved RC element."""
    battery = replace(FERNGATE.battery, cold_kelvin=0.0)  # so that R stays what it is
    current = np.concatenate((np.full(3000, 18.0), np.zeros(600), np.full(2000, 60.0)))
    trace = follow(battery, current, 1.0)
    slow = np.zeros(current.size)
    for i in range(1, current.size):
        settled = current[i - 1] * battery.slow_ohm
        slow[i] = settled + (slow[i - 1] - settled) * math.exp(-1 / battery.slow_s)
    left_cells = float(open_circuit_v(battery, trace.soc) @ current)
    burnt = float((current**2).sum() * battery.resistance_ohm + slow @ current)
    assert float(trace.voltage_v @ current) + burnt == pytest.approx(left_cells, rel=1e-9)


def test_charge_left_is_the_charge_taken_at_the_reference_rate() -> None:
    battery = FERNGATE.battery
    trace = follow(battery, np.full(3600, battery.reference_a), 1.0, ambient_c=25.0)
    assert 1 - trace.soc[-1] == pytest.approx(3599 * battery.reference_a / full_as(battery, 25.0), rel=1e-12)


def test_peukert_s_relation_holds_between_rates() -> None:
    """C₁/C₂ = (I₂/I₁)^(k−1): Peukert 1897. Resistance is taken out, since it ends a fast discharge a little sooner."""
    battery = replace(LUDGILL.battery, resistance_ohm=1e-9, slow_ohm=1e-9, charge_per_kelvin=0.0)
    given = []
    for amps in (5.0, 20.0):
        run = steady_run(battery, Protection(end_v=10.5), amps, step_s=2.0, ambient_c=25.0, end_v=10.5)
        given.append(float(run.current_a.sum()))
    assert given[0] / given[1] == pytest.approx(4**battery.peukert_less_one, rel=2e-4)


def test_a_lead_acid_battery_loses_far_more_at_speed_than_a_lithium_one() -> None:
    """Direction only. Common practice, no source."""
    shares = []
    for unit, end_v in ((FERNGATE, 10.0), (LUDGILL, 10.5)):
        slow, fast = (
            simulate_capacity(unit, BOATHOUSE, current_a=share * unit.battery.rated_ah, end_v=end_v)[1].capacity_ah
            for share in (0.05, 0.5)
        )
        shares.append(fast / slow)
    assert shares[0] > 0.95
    assert shares[1] < 0.8


def test_lithium_iron_phosphate_rests_on_a_plateau_near_3_3_v_a_cell() -> None:
    """10 to 90 % within a tenth of a volt a cell, between 3.2 and 3.35 V. Common practice, from memory."""
    rested = open_circuit_v(FERNGATE.battery, np.linspace(0.1, 0.9, 81)) / 4
    assert 3.19 <= rested.min() < rested.max() <= 3.35
    assert np.all(np.diff(rested) >= 0)


def test_its_temperature_settles_where_heat_and_loss_are_equal() -> None:
    battery = replace(FERNGATE.battery, cold_kelvin=0.0, full_ah=1e6)
    trace = follow(battery, np.full(20_000, 50.0), 5.0, ambient_c=20.0)
    rise = 50**2 * (battery.resistance_ohm + battery.slow_ohm) / battery.loss_w_per_k
    assert trace.temperature_c[-1] == pytest.approx(20 + rise, abs=1e-3)
    time_constant = battery.heat_j_per_k / battery.loss_w_per_k
    at = trace.temperature_c[round(time_constant / 5)]
    assert at - 20 == pytest.approx(rise * (1 - math.exp(-1)), rel=2e-3)


def test_resistance_rises_in_the_cold_as_arrhenius_says() -> None:
    """R(−10 °C)/R(25 °C) = exp(1800·(1/263.15 − 1/298.15)) = 2.2322."""
    assert float(warmth(FERNGATE.battery, -10.0)) == pytest.approx(2.2322, rel=1e-4)
    assert float(warmth(FERNGATE.battery, 25.0)) == 1.0


# --- ends and cut-offs ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [name for name in UNITS if name != "ludgill-agm100"])
def test_it_cuts_off_at_its_own_voltage(name: str) -> None:
    unit = UNITS[name]
    amps = unit.battery.reference_a
    run = steady_run(unit.battery, unit.protection, amps, step_s=1.0, ambient_c=22.0, end_v=0.0)
    low = run.voltage_v < unit.protection.end_v
    assert not low[:-2].any()
    assert low[-1]
    assert run.voltage_v[-1] > unit.protection.end_v - 0.1


def test_a_dip_shorter_than_the_delay_does_not_cut_off() -> None:
    volts = np.full(100, 12.0)
    volts[20:22] = 9.0
    protection = Protection(end_v=10.0, end_delay_s=3.0)
    assert protection.end_index(volts, 1.0) == 100
    volts[50:54] = 9.0
    assert protection.end_index(volts, 1.0) == 52


def test_an_inverter_that_stops_first_leaves_something_behind() -> None:
    own, _ = simulate_capacity(FERNGATE, BOATHOUSE, current_a=28.0)
    log, truth = simulate_capacity(FERNGATE, BOATHOUSE, inverter=GALLEY, given_w=330.0)
    assert truth.ended_by == "inverter"
    assert log.voltage_v[log.current_a > 1].min() >= GALLEY.cut_off_v - 0.05
    assert float(log.current_a.sum()) < float(own.current_a.sum())
    drawn = (log.current_a * log.voltage_v)[log.current_a > 1]
    # Gains of shunt and meter together, and the noise of one sample.
    assert np.abs(drawn / (11 + 330 / 0.93) - 1).max() < 0.012


def test_a_thermal_memory_trips_when_its_equation_says() -> None:
    """τ·dx/dt = (I/I_s)² − x, solved by scipy instead of by hand; a warm start trips sooner."""
    memory = Memory(start_a=128.0, lag_s=60.0)

    def trips_at(amps: float, warm: float) -> float:
        def full(_t: float, x: np.ndarray) -> float:
            return float(x[0]) - 1.0

        full.terminal = True  # type: ignore[attr-defined]
        drive = (amps / 128.0) ** 2
        solved = solve_ivp(lambda _t, x: (drive - x) / 60.0, (0, 1e4), [warm], events=full, rtol=1e-9, atol=1e-12)
        assert solved.t_events is not None
        return float(solved.t_events[0][0])

    for amps, warm in ((150.0, 0.0), (270.0, 0.0), (270.0, 0.6)):
        assert memory.trip_s(amps, warm) == pytest.approx(trips_at(amps, warm), rel=1e-6)
    assert memory.trip_s(127.9) == math.inf
    after = memory.warmth_after(100.0, 60.0)
    assert memory.warmth_after(0.0, 1e4, after) == pytest.approx(0.0, abs=1e-12)


def test_the_largest_held_current_is_just_below_the_first_step() -> None:
    assert largest_held_a(FERNGATE, 10.0) == pytest.approx(118.0, rel=1e-5)
    assert largest_held_a(FERNGATE, 3.0) == pytest.approx(195.0, rel=1e-5)


def test_overload_points_hold_below_and_trip_above() -> None:
    unit = replace(FERNGATE, protection=Protection(end_v=10.0, steps=(Step(118, 4.0),)), repeat_trip=0.0)
    held, cut = simulate_overload(unit, BOATHOUSE, [(117.0, 60.0, 900.0), (119.0, 60.0, 900.0)])
    assert (held.tripped, cut.tripped) == (False, True)
    assert held.duration_s == pytest.approx(60, abs=0.4)
    assert cut.duration_s == pytest.approx(4, abs=0.4)


# --- cold -------------------------------------------------------------------------------------------------------------


def test_a_heated_lump_warms_as_the_closed_form_says() -> None:
    """C 12 000 J/K, UA 1.5 W/K, P 60 W, −10 to 8 °C in −10 °C air: 4782.70 s, with cells and case tied together."""
    battery = replace(FERNGATE.battery, mass_kg=12.0, heat_j_per_kg_k=1000.0, loss_w_per_k=1.5, idle_a=0.0)
    unit = replace(FERNGATE, battery=battery, protection=Protection(end_v=10.0, heater=Heater(60.0, 2.0, 8.0)))
    run = warm_up(unit, start_c=-10, ambient_c=-10, set_v=14.4, set_a=20, duration_s=6000, step_s=1.0)
    heated = float(run.heating.sum())
    # Two nodes: the case lags, so the cells get there a little sooner than a single lump would.
    assert 0.88 * 4782.7 < heated < 4782.7


def test_two_nodes_of_heat_agree_with_a_solver() -> None:
    heater = FERNGATE.protection.heater
    assert heater is not None
    total = FERNGATE.battery.heat_j_per_k

    def change(_t: float, y: np.ndarray) -> list[float]:
        bridge = 25.0 * (y[0] - y[1])
        return [(heater.power_w - bridge) / (0.85 * total), (bridge - 2.3 * (y[1] + 10)) / (0.15 * total)]

    solved = solve_ivp(change, (0, 2400), [-14.0, -14.0], rtol=1e-8, atol=1e-8)
    run = warm_up(FERNGATE, start_c=-14, ambient_c=-10, set_v=14.4, set_a=20, duration_s=2401, step_s=1.0)
    assert run.core_c[2400] == pytest.approx(solved.y[0, -1], abs=0.02)
    assert run.trace.temperature_c[2400] == pytest.approx(solved.y[1, -1], abs=0.02)


def test_cells_get_nothing_while_it_heats_and_nothing_below_the_limit() -> None:
    _, truth, run = simulate_cold_charge(FERNGATE, BOATHOUSE)
    assert not (run.cell_current_a[run.heating] > 0).any()
    assert truth.first_accepted_c == pytest.approx(8.0, abs=0.1)
    assert run.core_c[run.cell_current_a > 0].min() >= 0
    heating = -run.trace.current_a[run.heating] * 14.4
    assert heating == pytest.approx(np.full(heating.size, 86.0))


def test_one_charges_frozen_and_one_refuses() -> None:
    _, frozen, _ = simulate_cold_charge(UNITS["nettle-95"], BOATHOUSE)
    _, refuses, _ = simulate_cold_charge(UNITS["saltby-100"], HUT)
    assert frozen.refused_at_c is None
    assert frozen.first_accepted_c == pytest.approx(-14.0)
    assert refuses.accepted_from_c is None


def test_a_charger_too_small_for_the_heater_changes_nothing() -> None:
    run = warm_up(FERNGATE, start_c=-10, ambient_c=-10, set_v=14.4, set_a=3.0, duration_s=600)
    assert not run.heating.any()
    assert run.core_c[-1] == pytest.approx(-10.0, abs=1e-9)


def test_the_standard_warm_up_is_never_for_one_without_a_heater() -> None:
    assert standard_warm_up_s(UNITS["saltby-100"]) == math.inf
    assert 1000 < standard_warm_up_s(FERNGATE) < 4000


# --- charge and loads -------------------------------------------------------------------------------------------------


def test_a_refill_puts_back_what_a_discharge_took() -> None:
    _, taken = simulate_capacity(FERNGATE, BOATHOUSE, ambient_c=21.0)
    _, put = simulate_charge(FERNGATE, BOATHOUSE, ambient_c=21.0)
    assert taken.capacity_ah / put.charged_ah == pytest.approx(0.997, abs=0.004)
    assert 0.95 < taken.capacity_wh / put.charged_wh < 0.99
    assert 0 < emptied_soc(FERNGATE, 21.0) < 0.02


def test_a_pulse_pair_gives_the_resistance_that_is_in_the_battery() -> None:
    """Two long pulses: R is the ohmic and the slow part together, at the temperature of the resistances."""
    unit = replace(FERNGATE, repeat_ohm=0.0)
    _, milliohm = simulate_pulses(unit, BOATHOUSE, [(18.0, 1000.0), (90.0, 1000.0)], temperature_c=25.0)
    battery = unit.battery
    assert milliohm == pytest.approx(1000 * (battery.resistance_ohm + battery.slow_ohm), rel=1e-6)


def test_a_counter_misses_what_lies_in_its_dead_band() -> None:
    counter = Counter(setting_ah=100, of_reading=0.0, dead_band_a=0.5)
    assert counter.shows(0.9, np.full(3600, 0.4), 10.0, "a") == (0.9, 0.9)
    assert counter.shows(0.9, np.full(3600, 1.0), 10.0, "a") == (0.9, 0.8)


def test_a_load_run_uses_power_times_time() -> None:
    app = Counter(setting_ah=90, of_reading=0.0)
    seen, truth = simulate_load_run(FERNGATE, BOATHOUSE, app, given_w=600, duration_s=1800, soc=0.9, inverter=GALLEY)
    assert truth.used_wh == pytest.approx((11 + 600 / 0.93) / 2)
    assert seen.soc_start - seen.soc_end == pytest.approx(truth.used_ah / 90, abs=0.0101)


# --- instruments ------------------------------------------------------------------------------------------------------


def test_the_same_seed_gives_the_same_log_and_another_one_another() -> None:
    first, second = (simulate_capacity(FERNGATE, BOATHOUSE, seed=7)[0] for _ in range(2))
    assert all(np.array_equal(a, b) for a, b in zip(vars(first).values(), vars(second).values(), strict=True))
    other, _ = simulate_capacity(FERNGATE, BOATHOUSE, seed=8)
    assert not np.array_equal(first.current_a[:100], other.current_a[:100])


def test_gain_belongs_to_the_bench_and_offset_to_the_test() -> None:
    today, tomorrow = BOATHOUSE.errors("shunt", "a", 3), BOATHOUSE.errors("shunt", "b", 3)
    assert today.gain == tomorrow.gain
    assert today.offset != tomorrow.offset
    assert BOATHOUSE.errors("counter", "a", 3).gain == today.gain
    assert PINDER.errors("shunt", "a", 3) == PINDER.errors("shunt", "b", 3)


def test_gains_and_offsets_fill_their_limits_evenly() -> None:
    """Rectangular: standard deviation a/√3 (GUM 4.3.7), none outside."""
    errors = [BOATHOUSE.errors("shunt", "capacity", seed) for seed in range(2000)]
    for values, limit in (([e.gain for e in errors], 0.004), ([e.offset for e in errors], 0.03)):
        assert np.abs(values).max() <= limit
        # The standard error of a rectangular sample's deviation is about 1 %, that of its mean 1.3 % of the limit.
        assert np.std(values) == pytest.approx(limit / math.sqrt(3), rel=0.04)
        assert np.mean(values) == pytest.approx(0, abs=0.06 * limit)


def test_a_log_shows_gain_offset_noise_and_step() -> None:
    log, _ = simulate_capacity(FERNGATE, BOATHOUSE, seed=5)
    errors = BOATHOUSE.errors("shunt", "capacity", 5)
    steady = log.current_a[log.current_a > 9]
    assert steady.mean() == pytest.approx(18 * (1 + errors.gain) + errors.offset, abs=0.002)
    assert steady.std() == pytest.approx(math.hypot(0.02, 0.01 / math.sqrt(12)), rel=0.05)
    assert np.allclose(steady * 100, np.round(steady * 100), atol=1e-6)


def test_a_run_repeats_itself_only_so_well() -> None:
    given = [varied(FERNGATE, "capacity", seed).battery.full_ah for seed in range(2000)]
    assert np.std(given) / np.mean(given) == pytest.approx(0.003, rel=0.07)


def test_logged_charge_is_the_true_charge_but_for_gain_and_offset() -> None:
    for seed in range(5):
        log, truth = simulate_capacity(FERNGATE, BOATHOUSE, seed=seed)
        errors = BOATHOUSE.errors("shunt", "capacity", seed)
        counted = float(np.trapezoid(log.current_a, log.elapsed_s)) / 3600
        expected = (1 + errors.gain) * truth.delivered_ah + errors.offset * log.elapsed_s[-1] / 3600
        # Half an interval at either end, and what noise leaves.
        assert counted == pytest.approx(expected, abs=18 * 5 / 3600 + 0.005)


def test_hand_readings_drift_with_the_zero_of_the_shunt() -> None:
    read, truth = simulate_hand_read(FERNGATE, BOATHOUSE, seed=11)
    drift = BOATHOUSE.errors("shunt", "by-hand", 11).offset * truth.duration_s / 3600
    gain = BOATHOUSE.errors("shunt", "by-hand", 11).gain
    assert read["counted_ah"] == pytest.approx((1 + gain) * (truth.delivered_ah + drift), abs=0.101)
    assert read["duration_min"] == pytest.approx(truth.duration_s / 60, abs=1.01)


def test_gaps_are_a_quarter_to_a_whole_hour_and_few() -> None:
    log, truth = simulate_gappy(FERNGATE, BOATHOUSE_SLOW, seed=2, gap_share=0.04)
    steps = np.diff(log.elapsed_s)
    gaps = steps[steps > 61]
    assert gaps.min() >= 900
    assert 0.02 < gaps.sum() / truth.duration_s <= 0.042
    on = log.current_a > 2
    assert on.mean() == pytest.approx(0.3, abs=0.02)


def test_a_logger_that_writes_on_change_loses_next_to_nothing() -> None:
    log, truth = simulate_gappy(UNITS["otterfold-of200"], JETTY, seed=4, gap_share=0.0)
    thin = written_on_change(log, current_a=0.05, voltage_v=0.015, heartbeat_s=300)
    assert thin.elapsed_s.size < log.elapsed_s.size / 10
    assert np.diff(thin.elapsed_s).max() <= 310
    held = float(thin.current_a[:-1] @ np.diff(thin.elapsed_s)) / 3600
    errors = JETTY.errors("shunt", "cold-box", 4)
    expected = (1 + errors.gain) * truth.delivered_ah + errors.offset * thin.elapsed_s[-1] / 3600
    assert held == pytest.approx(expected, rel=0.004)
