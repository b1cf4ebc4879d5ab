"""The demo's benches as they truly are: the limits of catalogue/instruments.yml, which a test compares, and noise.

Limits "of range" and "digits" are part of the zero offset here.
"""

from tests.demo.bench import Bench
from tests.demo.instruments import Channel
from tests.demo.inverters import Inverter

_BOATHOUSE = {
    "meter": Channel(of_reading=0.001, zero=0.006, noise=0.001, step=0.001),
    "probe": Channel(zero=0.5, noise=0.05, step=0.1, lag_s=20),
    "clamp": Channel(of_reading=0.02, zero=0.5, noise=0.1, step=0.1),
    "plug": Channel(of_reading=0.02, zero=1, noise=0.5, step=1),
    "scale": Channel(zero=0.03, noise=0.005, step=0.01),
    "tape": Channel(zero=1, step=1),
    "watch": Channel(zero=0.5, step=1),
    "stopwatch": Channel(zero=0.3, step=0.1),
}

BOATHOUSE = Bench(
    id="boathouse-2026",
    instruments=_BOATHOUSE
    | {
        "shunt": Channel(of_reading=0.004, zero=0.03, noise=0.02, step=0.01),
        "counter": Channel(of_reading=0.004, zero=0.05, step=0.1),
    },
    same_gain={"counter": "shunt"},
)

BOATHOUSE_SLOW = Bench(
    id="boathouse-2026",
    instruments=BOATHOUSE.instruments,
    same_gain=BOATHOUSE.same_gain,
    interval_s=30.0,
)

BOATHOUSE_AUTUMN = Bench(
    id="boathouse-autumn-2026",
    instruments=_BOATHOUSE
    | {
        "shunt": Channel(of_reading=0.0025, zero=0.02, noise=0.02, step=0.01),
        "counter": Channel(of_reading=0.0025, zero=0.05, step=0.1),
    },
    same_gain={"counter": "shunt"},
)

HUT = Bench(
    id="hut-2026",
    instruments={
        "clamp": Channel(of_reading=0.015, zero=0.15, noise=0.08, step=0.1),
        "meter": Channel(of_reading=0.005, zero=0.02, noise=0.005, step=0.01),
        "probe": Channel(zero=1.0, noise=0.1, step=0.5, lag_s=60),
        "counter": Channel(of_reading=0.015, zero=0.5, step=1),
        "plug": Channel(of_reading=0.03, zero=2, noise=1, step=1),
        "scale": Channel(zero=0.1, step=0.1),
        "watch": Channel(zero=0.5, step=1),
        "stopwatch": Channel(zero=0.5, step=1),
    },
    same_gain={"counter": "clamp"},
    current="clamp",
    interval_s=30.0,
)

JETTY = Bench(
    id="jetty-2026",
    instruments={
        "shunt": Channel(of_reading=0.005, zero=0.02, noise=0.01, step=0.02),
        "meter": Channel(of_reading=0.002, zero=0.01, noise=0.003, step=0.01),
        "probe": Channel(zero=1.0, noise=0.05, step=1, lag_s=60),
        "counter": Channel(of_reading=0.005, zero=0.1, step=0.1),
        "clamp": Channel(of_reading=0.025, zero=0.8, noise=0.1, step=0.1),
        "stopwatch": Channel(zero=0.5, step=1),
        "watch": Channel(zero=0.5, step=1),
    },
    same_gain={"counter": "shunt"},
    interval_s=10.0,
)

PINDER = Bench(
    id="pinder-2026",
    instruments={
        "shunt": Channel(of_reading=0.005, zero=0.06, noise=0.03, step=0.01),
        "meter": Channel(of_reading=0.002, zero=0.02, noise=0.002, step=0.01),
        "probe": Channel(zero=0.8, noise=0.1, step=0.1, lag_s=30),
        "counter": Channel(of_reading=0.005, zero=0.05, step=0.1),
        "clamp": Channel(of_reading=0.02, zero=0.5, noise=0.2, step=0.1),
        "plug": Channel(of_reading=0.02, zero=1, noise=0.5, step=1),
        "scale": Channel(zero=0.05, step=0.05),
        "watch": Channel(zero=0.5, step=1),
        "stopwatch": Channel(zero=0.5, step=0.1),
    },
    same_gain={"counter": "shunt"},
    interval_s=15.0,
    zeroed=False,
)

# Readings spoken in a video, by somebody who never says what they were read on.
SPOKEN = Bench(
    id="spoken",
    instruments={
        "shunt": Channel(of_reading=0.01, zero=0.1, step=0.1),
        "meter": Channel(of_reading=0.01, zero=0.05, step=0.1),
        "probe": Channel(zero=1, step=1),
        "counter": Channel(of_reading=0.01, step=0.1),
        "clamp": Channel(of_reading=0.03, zero=1, step=1),
        "plug": Channel(of_reading=0.03, zero=2, step=1),
        "scale": Channel(zero=0.1, step=0.1),
        "stopwatch": Channel(zero=1, step=1),
        "watch": Channel(zero=5, step=1),
    },
)

BENCHES = (BOATHOUSE, BOATHOUSE_AUTUMN, HUT, JETTY, PINDER)

GALLEY = Inverter(idle_w=11.0, efficiency=0.93, cut_off_v=10.8)
HUT_INVERTER = Inverter(idle_w=14.0, efficiency=0.92, cut_off_v=11.8)
CABIN_24V = Inverter(idle_w=18.0, efficiency=0.94, cut_off_v=21.0)
