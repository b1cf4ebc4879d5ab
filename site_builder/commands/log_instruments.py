"""Which of a bench's instruments fills each column of a guessed `log:` entry. Reads nothing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from site_builder.catalogue_records import MEASURED_IN, Bench, Column

WORDS = {
    "current": "current",
    "voltage": "voltage",
    "battery_c": "battery's temperature",
    "ambient_c": "air's temperature",
}


def with_instruments(entry: Mapping[str, Any], bench: Bench | None) -> tuple[dict[str, Any], list[str]]:
    """The entry with the instruments that the bench's log names already, or that are alone; and what nobody can tell.

    Args:
        entry: The guessed entry, as plain data.
        bench: The bench that the log was written on, where it is known.
    """
    whole, notes = dict(entry), []
    for role in (*MEASURED_IN, "cell_current"):
        if bench is None or role not in whole:
            continue
        declared: Column | None = getattr(bench.log, role) if bench.log else None
        fitting = [name for name, one in bench.instruments.items() if one.measures == MEASURED_IN.get(role)]
        on = declared.on if declared and declared.on else fitting[0] if len(fitting) == 1 else None
        if on is not None:
            whole[role] = {"column": whole[role]["column"], "on": on, **whole[role]}
        elif fitting:
            notes.append(f"the {WORDS[role]} may be from {' or '.join(fitting)}: add on: to its column")
    return whole, notes
