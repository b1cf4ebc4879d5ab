"""Prints the table; exits 1 where a budget is missed. Words after the command choose some of the benchmarks."""

from __future__ import annotations

import sys
import tempfile
from importlib import import_module
from pathlib import Path

from tests.benchmarks.measure import Row, table

# In this order: what one of them imports (pandas) makes the next a little slower than it is on its own.
BENCHMARKS = ("results_file", "logs", "derive_speed", "derive_speed", "ranking_speed", "site", "table_speed", "weight")


def main(chosen: list[str]) -> int:
    """Run the chosen benchmarks, or all."""
    rows: list[Row] = []
    for name in chosen or BENCHMARKS:
        with tempfile.TemporaryDirectory() as folder:
            rows += import_module(f"tests.benchmarks.{name}").rows(Path(folder))
    print(table(rows))
    return 0 if all(row.kept for row in rows) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
