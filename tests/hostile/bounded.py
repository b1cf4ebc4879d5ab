"""One command within limits: its CPU seconds, its memory at most, its words.

Memory is bounded by what was really held (the largest resident set), since pyarrow and numpy reserve addresses that
they never use: RLIMIT_AS would have to be so wide that it says nothing. A limit on data stands behind it, only so that
a test that fails does not take the machine along.

Run as a program this is the child in between: Linux hands the largest resident set of whoever forks on to what it
starts, so that pytest's own hundreds of megabytes would count as the command's.
"""

from __future__ import annotations

import json
import math
import os
import resource
import signal
import subprocess
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

ROOT = Path(__file__).parents[2]
CPU_S = 2  # on a machine as fast as the one that budgets were set on
MEMORY_MB = 500
DATA_BYTES = 3_000_000_000
CLOCK_S = 30  # for what waits without working, such as a pipe that nobody writes to


@dataclass(frozen=True, kw_only=True, slots=True)
class Done:
    """How a command ended: its exit code (negative where a signal ended it), and what it took."""

    code: int
    cpu_s: float
    memory_mb: float
    out: str
    err: str


def site_builder(*arguments: str | Path, folder: Path, environment: Mapping[str, str] | None = None) -> Done:
    """`site-builder …` in a folder, within the limits; it ends when they are passed."""
    return within_limits([sys.executable, "-m", "site_builder", *map(str, arguments)], folder, environment)


@lru_cache(maxsize=1)
def cpu_limit_s() -> int:
    """Two seconds, and longer on a machine slower than the one that budgets were set on, by what a floor takes. [s]"""
    from tests.benchmarks.measure import SET_AT_MS, loader_s  # noqa: PLC0415  # the program in between needs neither

    return math.ceil(CPU_S * max(1.0, loader_s() * 1e3 / SET_AT_MS))


def within_limits(command: Sequence[str], folder: Path, environment: Mapping[str, str] | None = None) -> Done:
    """The command, with nothing to read on its standard input."""
    inherited = os.environ | {"PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"} | dict(environment or {})
    done = subprocess.run(
        [sys.executable, __file__, str(cpu_limit_s()), *command],
        cwd=folder,
        env=inherited,
        check=False,
        capture_output=True,
        stdin=subprocess.DEVNULL,
        text=True,
        errors="replace",
    )
    assert done.returncode == 0, done.stderr
    *err, taken = done.stderr.splitlines(keepends=True)
    return Done(**json.loads(taken), out=done.stdout, err="".join(err))


def _measure(limit_s: int, command: Sequence[str]) -> None:
    """Run it, and write what it took as the last line of standard error."""
    resource.setrlimit(resource.RLIMIT_CPU, (limit_s, limit_s + 1))
    resource.setrlimit(resource.RLIMIT_DATA, (DATA_BYTES, DATA_BYTES))
    child = subprocess.Popen(command)
    signal.signal(signal.SIGALRM, lambda *_: child.kill())
    signal.alarm(CLOCK_S)
    _, status, used = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    taken = {
        "code": child.returncode,
        "cpu_s": round(used.ru_utime + used.ru_stime, 3),
        "memory_mb": round(used.ru_maxrss / 1000, 1),
    }
    sys.stderr.write(f"\n{json.dumps(taken)}\n")


if __name__ == "__main__":
    _measure(int(sys.argv[1]), sys.argv[2:])
