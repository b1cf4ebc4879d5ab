"""A results file of 177 lines, from disk to a checked record."""

from __future__ import annotations

from pathlib import Path

import yaml

from site_builder.load import read_unit
from tests.benchmarks.measure import FULLEST, LINES, SET_AT_MS, Row, in_turn

BUDGET_MS = 1.5


def copies(folder: Path, count: int) -> list[Path]:
    """Files that differ, so that nothing kept from one helps the next."""
    text = FULLEST.read_text("utf-8")
    paths = [folder / f"copy-{n}.yml" for n in range(count)]
    for n, path in enumerate(paths):
        path.write_text(f"{text}# copy {n}\n", encoding="utf-8")
    return paths


def rows(folder: Path, rounds: int = 201) -> list[Row]:
    """The time that the demo's fullest file takes, in proportion to its lines."""
    paths = copies(folder, rounds + 1)
    made, _, problems = read_unit(paths[0], folder)
    if made is None or problems:
        raise ValueError(problems)
    raw = FULLEST.read_bytes()
    ours, floor = in_turn(
        lambda: read_unit(paths.pop(), folder), lambda: yaml.load(raw, Loader=yaml.CSafeLoader), rounds=rounds
    )
    lines = len(raw.splitlines())
    what = "a results file read and checked, over yaml.load with its C loader"
    note = f"per {LINES} lines {ours * 1e3 * LINES / lines:.2f} ms against {floor * 1e3 * LINES / lines:.2f} ms"
    return [Row(what=what, value=ours / floor, unit="×", budget=BUDGET_MS / SET_AT_MS, note=note)]
