"""What a bench says of its own instruments: that they are there, and which of them fills a column of its logs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from site_builder.catalogue_records import MEASURED_IN, Bench
from site_builder.load import Loaded
from site_builder.problems import Problem
from site_builder.yaml_text import Path as FieldPath


def check_benches(loaded: Loaded) -> Iterable[Problem]:
    """Columns and shared sensors of a bench name instruments that it has."""
    document = loaded.documents.get("instruments.yml")
    if document is None:
        return
    for bench_id, bench in loaded.catalogue.benches.items():
        for path, name in _bench_references(bench):
            if name is not None and name not in bench.instruments:
                some = ", ".join(list(bench.instruments)[:12])
                hint = f"known: {some}" if some else "declare it first"
                yield document.problem(
                    (bench_id, *path), f"there is no instrument {name!r} on this bench", hint, "unknown-instrument"
                )
        for role, fitting in _without_instrument(bench):
            message, hint = f"this column may be from {' or '.join(fitting)}", f"add on: {fitting[0]}, or another"
            path = (bench_id, "log", role)
            yield document.problem(path, message, hint, "log-instrument", severity="warning")


def _without_instrument(bench: Bench) -> Iterator[tuple[str, list[str]]]:
    """Columns of the bench's logs that could be of several instruments: their readings would have no limits."""
    for role, measured in MEASURED_IN.items():
        column = getattr(bench.log, role) if bench.log else None
        fitting = [name for name, one in bench.instruments.items() if one.measures == measured]
        if column is not None and column.on is None and len(fitting) > 1:
            yield role, fitting


def _bench_references(bench: Bench) -> Iterator[tuple[FieldPath, str | None]]:
    for name, one in bench.instruments.items():
        yield ("instruments", name, "same_gain_as"), one.same_gain_as
    for i, calibration in enumerate(bench.calibrations):
        yield ("calibrations", i, "instrument"), calibration.instrument
    if bench.log:
        for role in ("current", "voltage", "battery_c", "ambient_c", "cell_current"):
            column = getattr(bench.log, role)
            yield ("log", role, "on"), column.on if column else None
