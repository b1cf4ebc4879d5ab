"""A results file of 177 lines, from disk to a checked record."""

from __future__ import annotations

import shutil
from pathlib import Path

from site_builder.load import read_unit
from tests.benchmarks.measure import Row, in_turn

LINES = 177
BUDGET_MS = 1.5
FULLEST = Path(__file__).parents[2] / "results" / "ferngate-f90.yml"


def rows(folder: Path, rounds: int = 201) -> list[Row]:
    """The time that the demo's fullest file takes, in proportion to its lines."""
    path = Path(shutil.copy(FULLEST, folder))
    made, _, problems = read_unit(path, folder)
    if made is None or problems:
        raise ValueError(problems)
    (seconds,) = in_turn(lambda: read_unit(path, folder), rounds=rounds)
    lines = len(path.read_text("utf-8").splitlines())
    what, note = f"a results file, read and checked, per {LINES} lines", f"{path.name} has {lines}"
    return [Row(what=what, value=seconds * 1e3 * LINES / lines, unit="ms", budget=BUDGET_MS, note=note)]
