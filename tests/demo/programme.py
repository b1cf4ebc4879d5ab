"""What was tested on which of the demo's batteries, in the order of the results files; computes and writes nothing."""

from __future__ import annotations

from collections.abc import Iterator

from tests.demo.benches import (
    BOATHOUSE,
    BOATHOUSE_AUTUMN,
    BOATHOUSE_SLOW,
    CABIN_24V,
    GALLEY,
    HUT,
    HUT_INVERTER,
    JETTY,
    PINDER,
    SPOKEN,
)
from tests.demo.discharges import written_on_change
from tests.demo.instruments import Counter
from tests.demo.sessions import (
    Done,
    balance,
    by_hand,
    capacity,
    changed_only,
    charge,
    cold,
    cut_short,
    cycling,
    load_run,
    overload,
    pulse_train,
    pulses,
    spoiled,
    standby,
    tripped,
    weighed,
)

APP = {"of_reading": 0.02, "dead_band_a": 0.5, "unsynchronised": 0.01}
REST_S, HALF_HOUR_S = 900.0, 1800.0


def ferngate() -> Iterator[Done]:
    """Fully tested, and the worked example."""
    unit, app = "ferngate-f90", Counter(setting_ah=90, **APP)
    yield capacity(unit, BOATHOUSE, "boathouse-capacity", "capacity.csv.gz", ambient_c=21)
    yield charge(unit, BOATHOUSE, "refill", "refill.csv.gz", set_a=20, ambient_c=21)
    yield by_hand(unit, BOATHOUSE, "bilge-pump-night", current_a=25.2, ambient_c=18)
    yield cycling(unit, BOATHOUSE_SLOW, "cold-box-days", "cold-box.csv.gz", on_a=4.7, duty=0.42, ambient_c=21)
    yield cold(unit, BOATHOUSE, "ice-bath", (0, 15, 40, 58), "ice-bath.csv.gz", start_c=-14, duration_s=5100)
    yield load_run(unit, BOATHOUSE, "galley", app, given_w=905, duration_s=1200, soc=0.885, inverter=GALLEY)
    yield tripped(unit, BOATHOUSE, "table-saw", 125.3)
    yield load_run(unit, BOATHOUSE, "press", given_w=621, duration_s=600, inverter=GALLEY)
    plan = ((108.6, HALF_HOUR_S, REST_S), (122.4, 60.0, REST_S), (148.0, 60.0, REST_S), (182.6, 3.5, REST_S))
    yield overload(unit, BOATHOUSE, "overload-steps", (*plan, (207.3, 60.0, REST_S)))
    yield pulses(unit, BOATHOUSE, "pulses", ((18.0, 10.0), (90.0, 1.0)), soc=0.8)
    train = {"currents_a": (18.0, 90.0), "seconds": (40, 10), "pulses": 3}
    yield pulse_train(unit, BOATHOUSE, "pulse-train", "pulses.csv.gz", **train)
    yield standby(unit, BOATHOUSE, "shelf", app, days=31, per_month=0.016)
    yield balance(unit, BOATHOUSE, "cells-full", soc=0.996, spread=0.0004)
    yield balance(unit, BOATHOUSE, "cells-empty", soc=0.012, spread=0.003)
    yield weighed(unit, BOATHOUSE, "unboxing")


def tolgate() -> Iterator[Done]:
    """Tested three times over: repeats on one bench, and a cut-off with a thermal memory."""
    unit, app = "tolgate-100l", Counter(setting_ah=100, **APP)
    for number, air in enumerate((22.0, 21.0, 23.0), start=1):
        yield capacity(unit, BOATHOUSE, f"capacity-{number}", f"capacity-{number}.csv.gz", ambient_c=air)
    yield charge(unit, BOATHOUSE, "refill", "refill.csv.gz", set_a=30, ambient_c=22)
    yield cold(unit, BOATHOUSE, "ice-bath", (), "ice-bath.csv.gz", start_c=-12.5, ambient_c=-12, duration_s=5400)
    plan = tuple((amps, HALF_HOUR_S, 1800.0) for amps in (122.0, 150.0, 180.0, 220.0, 270.0, 320.0))
    yield overload(unit, BOATHOUSE, "overload-steps", plan)
    yield pulses(unit, BOATHOUSE, "pulses", ((20.0, 10.0), (100.0, 1.0)), soc=0.8)
    yield load_run(unit, BOATHOUSE, "saw-bench", given_w=1460, duration_s=120, soc=0.7, inverter=GALLEY)
    yield load_run(unit, BOATHOUSE, "galley", app, given_w=905, duration_s=1500, soc=0.93, inverter=GALLEY)
    yield standby(unit, BOATHOUSE, "shelf", app, days=28, per_month=0.018)
    yield balance(unit, BOATHOUSE, "cells-full", soc=0.997, spread=0.0002)
    yield weighed(unit, BOATHOUSE, "unboxing")


def arnwick() -> Iterator[Done]:
    """Two testers, two benches, other units of measurement."""
    unit = "arnwick-polar"
    yield capacity(unit, HUT, "hut-capacity", "hut-capacity.csv.gz", "2026-04-11T09:02:00+02:00", ambient_c=17)
    yield by_hand(unit, PINDER, "pinder-capacity", ambient_c=23.5)
    yield cold(unit, PINDER, "freezer", (1, 12, 30, 58), on="shunt", start_c=-17.5, ambient_c=-18, duration_s=5400)
    plan = ((122.0, HALF_HOUR_S, REST_S), (162.0, 60.0, REST_S), (205.0, 60.0, REST_S), (260.0, 60.0, REST_S))
    yield overload(unit, PINDER, "overload", plan)
    yield pulses(unit, HUT, "pulses", ((20.0, 10.0), (100.0, 1.0)), soc=0.8, temperature_c=17)
    yield load_run(unit, PINDER, "microwave", given_w=1180, duration_s=420, soc=0.9, inverter=GALLEY)
    yield weighed(unit, PINDER, "box")


def saltby() -> Iterator[Done]:
    """The inverter stopped first."""
    unit = "saltby-100"
    drying_room = capacity(
        unit,
        HUT,
        "drying-room",
        "drying-room.csv.gz",
        "2026-06-06T08:30:00+02:00",
        ambient_c=19,
        inverter=HUT_INVERTER,
        given_w=302,
    )
    yield spoiled(drying_room, 176)
    yield cold(unit, HUT, "snow", (1, 30, 75), start_c=-8, ambient_c=14, set_a=15, duration_s=6600)
    plan = ((102.0, HALF_HOUR_S, REST_S), (131.0, 60.0, REST_S), (165.0, 60.0, REST_S), (178.0, 60.0, REST_S))
    yield overload(unit, HUT, "overload", plan)
    yield tripped(unit, HUT, "saw-at-the-hut", 126.5)
    yield load_run(unit, HUT, "circulation-pump", given_w=88, duration_s=7200, soc=1.0, inverter=HUT_INVERTER)
    yield weighed(unit, HUT, "scales")


def quern() -> Iterator[Done]:
    """Spoken readings alone."""
    yield by_hand("quern-12-100", SPOKEN, "run-down", current_a=19.5)
    yield tripped("quern-12-100", SPOKEN, "compressor", 141.0)
    yield load_run("quern-12-100", SPOKEN, "kettle", given_w=610, duration_s=360, inverter=GALLEY)


def nettle() -> Iterator[Done]:
    """Charges its cells when frozen, and cuts off below its label's current."""
    unit = "nettle-95"
    yield capacity(unit, BOATHOUSE, "boathouse-capacity", "capacity.csv.gz", ambient_c=20)
    yield cold(
        unit, BOATHOUSE, "ice-bath", (2, 20), "ice-bath.csv", start_c=-11.5, ambient_c=-10, set_a=10, duration_s=1800
    )
    plan = ((95.5, HALF_HOUR_S, REST_S), (104.0, HALF_HOUR_S, REST_S), (130.0, 60.0, REST_S))
    yield overload(unit, BOATHOUSE, "overload-steps", plan)
    yield tripped(unit, BOATHOUSE, "table-saw", 126.1)
    yield load_run(unit, BOATHOUSE, "press", given_w=618, duration_s=900, inverter=GALLEY)
    yield pulses(unit, BOATHOUSE, "pulses", ((19.0, 10.0), (95.0, 1.0)), soc=0.8)
    yield weighed(unit, BOATHOUSE, "unboxing")


def thrushby() -> Iterator[Done]:
    """Two samples, one of which died; a slow run off the reference rate."""
    unit = "thrushby-t100"
    first = capacity(unit, JETTY, "a-first-run", "a-first-run.csv.gz", ambient_c=20)
    yield _on_change(first)
    second = capacity(unit, JETTY, "a-second-run", "a-second-run.csv.gz", ambient_c=20)
    yield _on_change(cut_short(second, hours=3.1))
    slow = capacity(unit, JETTY, "b-slow-run", "b-slow-run.csv.gz", current_a=5.0, ambient_c=21)
    yield _on_change(slow)
    plan = ((101.0, HALF_HOUR_S, REST_S), (118.0, 60.0, REST_S), (164.0, 60.0, REST_S))
    yield overload(unit, JETTY, "b-overload", plan)
    yield pulses(unit, JETTY, "b-pulses", ((20.0, 30.0), (100.0, 5.0)), soc=0.8)


def _on_change(done: Done) -> Done:
    return changed_only(done, lambda log: written_on_change(log, current_a=0.05, voltage_v=0.015, heartbeat_s=300))


def wendlecote() -> Iterator[Done]:
    """Less than its label says; the maker objects; tested again."""
    unit = "wendlecote-w100"
    yield capacity(unit, BOATHOUSE, "boathouse-capacity", "capacity.csv.gz", ambient_c=23)
    yield capacity(unit, BOATHOUSE_AUTUMN, "as-the-maker-asked", "as-the-maker-asked.csv.gz", ambient_c=24)
    plan = ((99.0, HALF_HOUR_S, REST_S), (110.0, 60.0, REST_S), (140.0, 60.0, REST_S))
    yield overload(unit, BOATHOUSE, "overload-steps", plan)
    yield cold(unit, BOATHOUSE, "ice-bath", (2, 10), start_c=-9, set_a=15, duration_s=1200)
    yield load_run(unit, BOATHOUSE, "press", given_w=623, duration_s=3000, inverter=GALLEY)
    yield pulses(unit, BOATHOUSE, "pulses", ((20.0, 10.0), (100.0, 1.0)), soc=0.8)
    yield weighed(unit, BOATHOUSE, "unboxing")


def kelderby() -> Iterator[Done]:
    """A large one for the hut, with a heater."""
    unit, app = "kelderby-k280", Counter(setting_ah=280, **APP)
    yield capacity(
        unit, HUT, "hut-capacity", "capacity.csv.xz", "2026-07-04T07:15:00+02:00", current_a=55.0, ambient_c=20
    )
    yield charge(unit, HUT, "refill", "refill.csv.xz", "2026-07-04T14:00:00+02:00", set_a=60, tail_a=14, ambient_c=20)
    yield cold(
        unit,
        HUT,
        "cold-store",
        (5, 40, 90),
        "cold-store.csv.gz",
        "2026-03-21T10:00:00+01:00",
        start_c=-9,
        ambient_c=-8,
        set_a=60,
        duration_s=9000,
    )
    plan = ((206.0, HALF_HOUR_S, REST_S), (252.0, 60.0, REST_S), (330.0, 60.0, REST_S))
    yield overload(unit, HUT, "overload", plan)
    yield load_run(unit, HUT, "circulation-pump", app, given_w=91, duration_s=43_200, soc=0.96, inverter=HUT_INVERTER)
    yield weighed(unit, HUT, "scales")


def otterfold() -> Iterator[Done]:
    """Nothing cuts it off; a fridge empties it while the logger writes on change."""
    unit = "otterfold-of200"
    fridge = cycling(unit, JETTY, "fridge", "fridge.csv.gz", on_a=8.4, duty=0.55, gap_share=0.03, ambient_c=19)
    yield _on_change(fridge)
    yield by_hand(unit, JETTY, "by-hand", current_a=40.0, ambient_c=20)
    yield overload(unit, JETTY, "overload", ((105.0, HALF_HOUR_S, REST_S), (172.0, 95.0, REST_S)))
    yield pulses(unit, JETTY, "pulses", ((40.0, 10.0), (200.0, 1.0)), soc=0.8)


def mossgarth() -> Iterator[Done]:
    """24 V, tested across the water."""
    unit = "mossgarth-m24"
    yield capacity(unit, PINDER, "pinder-capacity", "capacity.parquet", ambient_c=24)
    yield cold(
        unit, PINDER, "freezer", (1, 60, 130), on="shunt", start_c=-12, ambient_c=22, set_v=28.8, duration_s=9000
    )
    plan = ((103.0, HALF_HOUR_S, REST_S), (137.0, 60.0, REST_S), (190.0, 60.0, REST_S), (221.0, 60.0, REST_S))
    yield overload(unit, PINDER, "overload", plan)
    yield pulses(unit, PINDER, "pulses", ((20.0, 10.0), (100.0, 1.0)), soc=0.8, temperature_c=24)
    yield load_run(unit, PINDER, "microwave", given_w=1195, duration_s=540, soc=0.9, inverter=CABIN_24V)
    yield weighed(unit, PINDER, "box")


def gannetholm() -> Iterator[Done]:
    """Withdrawn: it had not been new."""
    yield from ()


def ludgill() -> Iterator[Done]:
    """Lead-acid, for contrast."""
    unit = "ludgill-agm100"
    yield capacity(unit, BOATHOUSE, "twenty-hours", "twenty-hours.csv.gz", current_a=5.0, ambient_c=22, end_v=10.5)
    yield capacity(unit, BOATHOUSE, "five-hours", "five-hours.csv.gz", current_a=20.0, ambient_c=22, end_v=10.5)
    yield pulses(unit, BOATHOUSE, "pulses", ((20.0, 10.0), (100.0, 1.0)), soc=0.8)
    yield load_run(unit, BOATHOUSE, "press", given_w=617, duration_s=2400, soc=1.0, inverter=GALLEY)
    yield weighed(unit, BOATHOUSE, "unboxing")


def programme() -> Iterator[Done]:
    """Every test of the demo."""
    for tests in (ferngate, tolgate, arnwick, saltby, quern, nettle, thrushby, wendlecote, kelderby, otterfold):
        yield from tests()
    for tests in (mossgarth, gannetholm, ludgill):
        yield from tests()
