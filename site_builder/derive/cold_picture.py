"""What a cold test's picture shows, from its log or from readings with times of day. Nothing is worked out here."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import partial

import numpy as np

from site_builder.bench_tests import ColdChargeTest, ColdReading
from site_builder.derive.cold_events import Phases
from site_builder.derive.discharge_log import logged_value
from site_builder.derive.integrate import thinned
from site_builder.derive.readings import Setting, reading
from site_builder.derive.results import ColdPicture
from site_builder.measured import Measured, rectangular
from site_builder.series import Array, Log
from site_builder.values import Stated

POINTS = 40
DAY_S = 86_400.0
BATTERY, TERMINALS, CELLS = "battery", "into its terminals", "into its cells, as it reports"
ROLES = {TERMINALS: "current", CELLS: "cell_current"}
MINUTE_S = 60.0  # times of day are written to the minute
Series = tuple[Array, Array]
Warmed = tuple[Measured, Measured, Measured]


def cold_picture(
    test: ColdChargeTest, log: Log | None, found: Phases | None, model: Series | None, setting: Setting
) -> ColdPicture | None:
    """Temperatures, currents, moments; None where fewer than two temperatures have a time."""
    if log is not None and _seen(log, "battery_c") > 1:
        temperatures, currents = _column(log, log.columns["battery_c"]), _logged_currents(log)
        return ColdPicture(
            warmed=_warmed(temperatures, partial(_logged_c, setting=setting), log.interval_s),
            limits=_limits_of_log(currents, setting),
            temperatures=temperatures,
            currents=currents,
            moments=tuple(_logged_moments(log, found)) if found else (),
            model=model,
            by_hand=False,
        )
    return _by_hand(test, setting)


def _warmed(temperatures: Series, read: Callable[[int, float], Measured], clock_s: float) -> Warmed:
    """The first temperature, the highest one and the time between them; `clock_s` is what each time may be off by."""
    time_s, celsius = temperatures
    peak = int(celsius.argmax())
    first, warmest = (read(row, float(celsius[row])) for row in (0, peak))
    lasted = Measured(value=float(time_s[peak] - time_s[0]), unit="s", components={"clock": rectangular(clock_s)})
    return first, warmest, lasted


def _logged_c(row: int, celsius: float, setting: Setting) -> Measured:
    return logged_value(celsius, "battery_c", "temperature", "°C", setting, f"picture.{row}")


def _limits_of_log(currents: Mapping[str, Series], setting: Setting) -> dict[str, float]:
    """The ± of temperature and of each current at its largest, where their instruments are named."""
    known = {BATTERY: logged_value(0.0, "battery_c", "temperature", "°C", setting, BATTERY)}
    for words, (_, amps) in currents.items():
        largest = float(np.abs(amps).max(initial=0.0))
        known[words] = logged_value(largest, ROLES[words], "current", "A", setting, words)
    return {words: one.expanded for words, one in known.items() if one.expanded}


def _seen(log: Log, name: str) -> int:
    """How many rows of the column were read: a probe may have been off throughout."""
    return int(np.isfinite(log.columns[name]).sum()) if name in log.columns else 0


def _column(log: Log, values: Array) -> Series:
    fine = np.isfinite(values)
    return thinned(log.time_s[fine], values[fine], POINTS)


def _logged_currents(log: Log) -> dict[str, Series]:
    """Charging currents, positive into the battery. [s, A]"""
    return {words: _column(log, -log.columns[name]) for words, name in ROLES.items() if _seen(log, name)}


def _logged_moments(log: Log, found: Phases) -> Iterator[tuple[float, str]]:
    if found.heating is not None:
        yield float(log.time_s[found.heating.start]), "heater on"
    elif len(found.refused_rows):
        yield float(log.time_s[int(found.refused_rows[0])]), "refused"
    if found.accepted_at is not None:
        yield float(log.time_s[found.accepted_at]), "accepted"


def _by_hand(test: ColdChargeTest, setting: Setting) -> ColdPicture | None:
    timed = [(seconds, one) for one in test.readings if (seconds := _seconds(one)) is not None]
    if not timed:
        return None
    first = timed[0][0]
    # Over midnight the clock starts again.
    seen = [((seconds - first) % DAY_S, one) for seconds, one in timed]
    read = [(seconds, one, one.battery_c) for seconds, one in seen if one.battery_c is not None]
    warmth = [(seconds, celsius.best) for seconds, _, celsius in read]
    if len(warmth) < 2:
        return None
    taken = [(seconds, one.current_a.best) for seconds, one in seen if one.current_a is not None]
    warm = [_read(one, one.battery_c, "°C", "temperature", test, setting) for _, one, _ in read]
    drawn = [_read(one, one.current_a, "A", "current", test, setting) for _, one in seen]
    limits = {BATTERY: warm, TERMINALS: drawn}
    return ColdPicture(
        warmed=_warmed(_series(warmth), lambda row, _: warm[row], MINUTE_S),
        limits={
            words: max(us) for words, many in limits.items() if (us := [one.expanded for one in many if one.expanded])
        },
        temperatures=_series(warmth),
        currents={TERMINALS: _series(taken)} if taken else {},
        moments=tuple(_changes(seen)),
        model=None,
        by_hand=True,
    )


def _read(
    one: ColdReading, value: Stated | None, unit: str, measures: str, test: ColdChargeTest, setting: Setting
) -> Measured:
    on = setting.fitting(one.read_on or test.read_on, measures)
    if value is None:
        return Measured(value=0.0, unit=unit)
    return reading(value, unit, measures, setting, field=f"picture.{measures}", read_on=on)


def _seconds(one: ColdReading) -> float | None:
    return None if one.at is None or one.at.earliest_s is None else float(one.at.earliest_s)


def _series(pairs: list[tuple[float, float]]) -> Series:
    return np.array([x for x, _ in pairs]), np.array([y for _, y in pairs])


def _changes(seen: list[tuple[float, ColdReading]]) -> Iterator[tuple[float, str]]:
    """Each time at which another thing was said of charge than before."""
    last: str | None = None
    for seconds, one in seen:
        if one.charge is not None and one.charge != last:
            yield seconds, one.charge
            last = one.charge
