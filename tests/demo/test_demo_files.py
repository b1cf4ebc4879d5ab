"""The demo's files against the simulator: logs as regenerated, hand-read values as simulated, limits as declared."""

from __future__ import annotations

import gzip
import io
import json
import lzma
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from site_builder.bench_tests import AnyTest
from site_builder.load import Loaded, read_all
from site_builder.values import Stated
from tests.demo.benches import BENCHES, CABIN_24V, GALLEY, HUT_INVERTER
from tests.demo.files import log_bytes
from tests.demo.inverters import Inverter
from tests.demo.programme import programme
from tests.demo.sessions import Done
from tests.demo.write_demo import ROOT, TRUTH, rounded, write_demo

LOGS = ROOT / "results" / "logs"
COUNTED_FOR_H = 6  # a counter's declared offset holds for a run of this length


@pytest.fixture(scope="module")
def done() -> list[Done]:
    return list(programme())


@pytest.fixture(scope="module")
def loaded() -> Loaded:
    return read_all(ROOT / "results", ROOT / "catalogue")


def frame(raw: bytes, name: str, separator: str) -> pd.DataFrame:
    """The rows of a log file, whatever its packing."""
    if name.endswith(".parquet"):
        return pd.read_parquet(io.BytesIO(raw))
    text = gzip.decompress(raw) if name.endswith(".gz") else lzma.decompress(raw) if name.endswith(".xz") else raw
    return pd.read_csv(io.BytesIO(text), sep=separator)


def test_committed_logs_are_those_of_the_simulator(done: list[Done]) -> None:
    """Values, not bytes: another version of zlib packs the same rows into other bytes."""
    logged = [one for one in done if one.log is not None]
    assert {LOGS / one.unit / one.file for one in logged} == {path for path in LOGS.rglob("*") if path.is_file()}
    for one in logged:
        separator = ";" if one.bench == "jetty-2026" else ","
        made = frame(log_bytes(one), one.file, separator)
        kept = frame((LOGS / one.unit / one.file).read_bytes(), one.file, separator)
        pd.testing.assert_frame_equal(made, kept)


def test_the_same_bytes_come_out_twice(done: list[Done], tmp_path: Path) -> None:
    size = write_demo(tmp_path / "logs", tmp_path / "truth.json")
    assert size == sum(path.stat().st_size for path in (tmp_path / "logs").rglob("*") if path.is_file())
    for one in done:
        if one.log is not None:
            assert (tmp_path / "logs" / one.unit / one.file).read_bytes() == log_bytes(one)


def test_the_logs_stay_small() -> None:
    assert sum(path.stat().st_size for path in LOGS.rglob("*") if path.is_file()) < 4_000_000


def test_every_way_of_packing_a_log_is_there() -> None:
    endings = {path.name.partition(".")[2] for path in LOGS.rglob("*.*")}
    assert endings == {"csv", "csv.gz", "csv.xz", "parquet"}


def test_the_truth_on_file_is_the_simulator_s(done: list[Done]) -> None:
    kept = json.loads(TRUTH.read_text(encoding="utf-8"))
    assert {unit: sorted(tests) for unit, tests in kept.items()} == {
        unit: sorted(one.test for one in done if one.unit == unit) for unit in {one.unit for one in done}
    }
    for one in done:
        made = json.loads(json.dumps({"bench": one.bench, "read": rounded(one.read), "truth": rounded(one.truth)}))
        assert kept[one.unit][one.test] == made


def at(record: Any, path: str) -> Any:
    """The value at "points.2.current_a", or None where the file does not say."""
    for step in path.split("."):
        if record is None:
            return None
        if step.isdigit():
            record = record[int(step)] if int(step) < len(record) else None
        else:
            record = getattr(record, step, None)
    return record


def stated_in(test: AnyTest, one: Done) -> Iterator[tuple[str, Any, Any]]:
    """Every hand-read value that the file repeats: place, as written, as simulated."""
    for path, read in one.read.items():
        written = at(test, path)
        if written is not None:
            yield path, written, read


def agrees(written: Any, read: Any) -> bool:
    """Whether what was written down allows what the instrument showed, to half of the last digit written."""
    if not isinstance(written, Stated):
        return bool(written == read)
    slack = 0.51 * written.step if written.form == "plain" else 0.01 * abs(read)
    return bool(written.low - slack <= read <= written.high + slack)


def test_hand_read_values_are_what_the_instruments_showed(done: list[Done], loaded: Loaded) -> None:
    files = {unit.record.unit.id: unit.record for unit in loaded.units}
    checked, wrong = 0, []
    for one in done:
        test = files[one.unit].tests[one.test]
        for path, written, read in stated_in(test, one):
            checked += 1
            if not agrees(written, read):
                wrong.append(f"{one.unit} {one.test} {path}: written {written}, shown {read}")
    assert not wrong
    assert checked > 150


def test_every_log_in_a_results_file_is_there_and_the_other_way_round(done: list[Done], loaded: Loaded) -> None:
    named = {
        (unit.record.unit.id, name, test.log)
        for unit in loaded.units
        for name, test in unit.record.tests.items()
        if test.log
    }
    assert named == {(one.unit, one.test, one.file) for one in done if one.log is not None}


def test_ends_are_told_as_they_were(done: list[Done], loaded: Loaded) -> None:
    files = {unit.record.unit.id: unit.record for unit in loaded.units}
    for one in done:
        test = files[one.unit].tests[one.test]
        if test.kind == "capacity" and test.ended_by != "unknown":
            assert test.ended_by == one.truth["ended_by"], f"{one.unit} {one.test}"


def test_the_files_load_without_a_problem(loaded: Loaded) -> None:
    assert not loaded.problems
    assert len(loaded.units) == 14


@pytest.mark.parametrize("bench", BENCHES, ids=lambda bench: bench.id)
def test_instruments_are_no_worse_than_declared(bench: Any, loaded: Loaded) -> None:
    declared = loaded.catalogue.benches[bench.id]
    drift = COUNTED_FOR_H * bench.instruments[bench.current].zero
    for name, channel in bench.instruments.items():
        one = declared.instruments[name]
        assert channel.of_reading <= (one.of_reading.best if one.of_reading else 0.0) + 1e-12
        assert channel.step * (60 if name == "watch" else 1) == pytest.approx(one.step.best if one.step else 0.0)
        limit = (one.offset.best if one.offset else 0.0) + (one.digits.best if one.digits else 0.0) * channel.step
        zero = channel.zero * (60 if name == "watch" else 1) + (drift if name == "counter" else 0.0)
        assert zero <= limit + 1e-9, name
    assert bench.zeroed == (declared.zeroed == "each test")
    assert {
        name: one.same_gain_as for name, one in declared.instruments.items() if name in bench.same_gain
    } == bench.same_gain


@pytest.mark.parametrize(
    ("bench", "name", "true"),
    [
        ("boathouse-2026", "galley", GALLEY),
        ("hut-2026", "hut", HUT_INVERTER),
        ("pinder-2026", "cabin", GALLEY),
        ("pinder-2026", "cabin-24", CABIN_24V),
    ],
)
def test_inverters_draw_what_is_declared(bench: str, name: str, true: Inverter, loaded: Loaded) -> None:
    declared = loaded.catalogue.benches[bench].inverters[name]
    assert declared.idle_w.best == true.idle_w
    assert declared.cut_off_v is not None
    assert declared.cut_off_v.best == true.cut_off_v
    drawn = [float(true.drawn_w(point.ac_w.best)) for point in declared.points]
    assert np.allclose(drawn, [point.dc_w.best for point in declared.points], atol=0.6)
