"""CPU seconds of a call or a program, and what a row of the table says of them."""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

import yaml

Call = Callable[[], object]
T = TypeVar("T")

# Budgets in milliseconds were set on a machine whose PyYAML, with its C loader, takes so long for a results file of so
# many lines. They are kept as multiples of it, since another machine's milliseconds would judge that machine.
LINES = 177
SET_AT_MS = 0.70
FULLEST = Path(__file__).parents[2] / "results" / "ferngate-f90.yml"


@dataclass(frozen=True, kw_only=True, slots=True)
class Row:
    """One line of the table: what was measured, in which unit, and the budget it has to keep."""

    what: str
    value: float
    unit: str
    budget: float
    note: str = ""

    @property
    def kept(self) -> bool:
        """Whether the budget was kept."""
        return self.value <= self.budget


def cpu_s(call: Call) -> float:
    """CPU time that one call took, of all threads. [s]"""
    return timed(call)[0]


def timed(call: Callable[[], T]) -> tuple[float, T]:
    """CPU time that one call took [s], and what it gave."""
    start = time.process_time()
    given = call()
    return time.process_time() - start, given


def in_turn(*calls: Call, rounds: int) -> tuple[float, ...]:
    """Median CPU time of each call; they take turns, so that a busy machine slows all of them alike. [s]"""
    for call in calls:  # imports and caches
        call()
    times = [[cpu_s(call) for call in calls] for _ in range(rounds)]
    return tuple(statistics.median(column) for column in zip(*times, strict=True))


def loader_s(rounds: int = 41) -> float:
    """Least CPU time that PyYAML's C loader alone takes here for 177 lines of a results file. [s]"""
    raw = FULLEST.read_bytes()
    times = [cpu_s(lambda: yaml.load(raw, Loader=yaml.CSafeLoader)) for _ in range(rounds)]
    return min(times) * LINES / len(raw.splitlines())


def program_cpu_s(command: Sequence[str], folder: Path, environment: Mapping[str, str]) -> float:
    """User and system time of a program with its children. [s]

    Raises:
        RuntimeError: It failed; with what it said.
    """
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(
        command, cwd=folder, env=os.environ | environment, check=False, capture_output=True, text=True
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    if done.returncode:
        raise RuntimeError(done.stdout + done.stderr)
    return after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime


def table(rows: Sequence[Row]) -> str:
    """The rows as text."""
    lines = [f"{'':66}{'measured':>12}{'budget':>12}"]
    for row in rows:
        number, limit = f"{row.value:.3g} {row.unit}", f"{row.budget:.3g} {row.unit}"
        lines.append(f"{row.what:66}{number:>12}{limit:>12}  {'kept' if row.kept else 'MISSED'}")
        lines += [f"    {row.note}"] if row.note else []
    return "\n".join(lines)
