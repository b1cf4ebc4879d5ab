"""Regenerates the demo's logs and the truth behind them: `python -m tests.demo.write_demo`. The YAML is kept by hand.

truth.json holds for each test what was true and what was read; the tests compare, the builder never looks.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import numpy as np

from tests.demo.files import write_log
from tests.demo.programme import programme

ROOT = Path(__file__).resolve().parents[2]
TRUTH = Path(__file__).with_name("truth.json")


def rounded(value: Any) -> Any:
    """Seven digits: enough to compare with, and the same on every machine."""
    if isinstance(value, dict):
        return {key: rounded(inner) for key, inner in value.items()}
    if isinstance(value, bool | np.bool_):
        return bool(value)
    if isinstance(value, float | int):
        return float(f"{value:.7g}") if np.isfinite(value) else None
    return value


def write_demo(logs: Path, truth: Path) -> int:
    """Write all logs and the truth; returns the logs' bytes."""
    size = 0
    known: dict[str, dict[str, Any]] = {}
    for done in programme():
        if done.log is not None:
            size += write_log(done, logs)
        entry = {"bench": done.bench, "read": rounded(done.read), "truth": rounded(done.truth)}
        known.setdefault(done.unit, {})[done.test] = entry
    truth.write_text(json.dumps(known, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    return size


if __name__ == "__main__":
    sys.stdout.write(f"{write_demo(ROOT / 'results' / 'logs', TRUTH)} bytes of logs\n")
