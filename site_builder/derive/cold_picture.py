"""What a cold test's picture shows, from its log or from readings with times of day. Nothing is worked out here."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from site_builder.bench_tests import ColdChargeTest, ColdReading
from site_builder.derive.cold_events import Phases
from site_builder.derive.integrate import thinned
from site_builder.derive.results import ColdPicture
from site_builder.series import Array, Log

POINTS = 40
DAY_S = 86_400.0
TERMINALS, CELLS = "into its terminals", "into its cells, as it reports"
Series = tuple[Array, Array]


def cold_picture(
    test: ColdChargeTest, log: Log | None, found: Phases | None, model: Series | None
) -> ColdPicture | None:
    """Temperatures, currents, moments; None where fewer than two temperatures have a time."""
    if log is not None and "battery_c" in log.columns:
        return ColdPicture(
            temperatures=_column(log, log.columns["battery_c"]),
            currents=_logged_currents(log),
            moments=tuple(_logged_moments(log, found)) if found else (),
            model=model,
            by_hand=False,
        )
    return _by_hand(test)


def _column(log: Log, values: Array) -> Series:
    fine = np.isfinite(values)
    return thinned(log.time_s[fine], values[fine], POINTS)


def _logged_currents(log: Log) -> dict[str, Series]:
    """Charging currents, positive into the battery. [s, A]"""
    named = {TERMINALS: "current", CELLS: "cell_current"}
    return {words: _column(log, -log.columns[name]) for words, name in named.items() if name in log.columns}


def _logged_moments(log: Log, found: Phases) -> Iterator[tuple[float, str]]:
    if found.heating is not None:
        yield float(log.time_s[found.heating.start]), "heater on"
    elif len(found.refused_rows):
        yield float(log.time_s[int(found.refused_rows[0])]), "refused"
    if found.accepted_at is not None:
        yield float(log.time_s[found.accepted_at]), "accepted"


def _by_hand(test: ColdChargeTest) -> ColdPicture | None:
    timed = [(seconds, one) for one in test.readings if (seconds := _seconds(one)) is not None]
    if not timed:
        return None
    first = timed[0][0]
    # Over midnight the clock starts again.
    seen = [((seconds - first) % DAY_S, one) for seconds, one in timed]
    warmth = [(seconds, one.battery_c.best) for seconds, one in seen if one.battery_c is not None]
    if len(warmth) < 2:
        return None
    taken = [(seconds, one.current_a.best) for seconds, one in seen if one.current_a is not None]
    return ColdPicture(
        temperatures=_series(warmth),
        currents={TERMINALS: _series(taken)} if taken else {},
        moments=tuple(_changes(seen)),
        model=None,
        by_hand=True,
    )


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
