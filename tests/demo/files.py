"""Logs as files in the columns of each bench, the same bytes every time: no stamps or names in the compressed files."""

from __future__ import annotations

import datetime as dt
import gzip
import io
import lzma
from collections.abc import Callable
from pathlib import Path

import pandas as pd

from tests.demo.sessions import Done


def _boathouse(done: Done) -> pd.DataFrame:
    log = done.log
    assert log is not None
    return pd.DataFrame(
        {
            "elapsed s": log.elapsed_s.round().astype(int),
            "current A": log.current_a,
            "voltage V": log.voltage_v,
            "probe C": log.temperature_c,
        }
    )


def _hut(done: Done) -> pd.DataFrame:
    log = done.log
    assert log is not None
    start = dt.datetime.fromisoformat(done.started)
    stamps = [(start + dt.timedelta(seconds=float(after))).isoformat() for after in log.elapsed_s]
    return pd.DataFrame(
        {"time": stamps, "amps in": -log.current_a + 0.0, "volts": log.voltage_v, "case": log.temperature_c}
    )


def _jetty(done: Done) -> pd.DataFrame:
    log = done.log
    assert log is not None
    return pd.DataFrame(
        {
            "since start ms": (log.elapsed_s * 1000).round().astype(int),
            "I mA": (log.current_a * 1000).round().astype(int),
            "U mV": (log.voltage_v * 1000).round().astype(int),
        }
    )


def _pinder(done: Done) -> pd.DataFrame:
    log = done.log
    assert log is not None
    return pd.DataFrame(
        {
            "minutes": (log.elapsed_s / 60).round(3),
            "amps out": log.current_a,
            "volts": log.voltage_v,
            "case F": (log.temperature_c * 1.8 + 32).round(1),
        }
    )


_COLUMNS: dict[str, tuple[Callable[[Done], pd.DataFrame], str]] = {
    "boathouse-2026": (_boathouse, ","),
    "boathouse-autumn-2026": (_boathouse, ","),
    "hut-2026": (_hut, ","),
    "jetty-2026": (_jetty, ";"),
    "pinder-2026": (_pinder, ","),
}


def log_bytes(done: Done) -> bytes:
    """The file's content, compressed as its name says."""
    columns, separator = _COLUMNS[done.bench]
    frame = columns(done)
    if done.file.endswith(".parquet"):
        buffer = io.BytesIO()
        frame.to_parquet(buffer, index=False, compression="zstd")
        return buffer.getvalue()
    text = frame.to_csv(index=False, sep=separator, lineterminator="\n").encode()
    if done.file.endswith(".gz"):
        return gzip.compress(text, mtime=0)
    return lzma.compress(text) if done.file.endswith(".xz") else text


def write_log(done: Done, logs: Path) -> int:
    """Write one log below `logs`/<id>/ and return its size in bytes."""
    target = logs / done.unit / done.file
    target.parent.mkdir(parents=True, exist_ok=True)
    return target.write_bytes(log_bytes(done))
