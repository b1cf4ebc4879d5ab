"""Logs that unpack to ten gigabytes, hold ten million rows, ten thousand columns or nonsense: each refused in time.

Limits are those of `bounded`. A log just inside the limits may take longer than a refused one: it is read whole.
"""

from __future__ import annotations

import gzip
import io
import lzma
from collections.abc import Callable
from pathlib import Path

import pyarrow as pa
import pytest
from pyarrow import parquet

from tests.hostile.bounded import MEMORY_MB, cpu_limit_s, site_builder
from tests.small_project import Project, small_project

FULL = pytest.mark.full
HEAD = b"s,A,V\n0,18,13\n1,18,13\n"
TEN_GIGABYTES = 10_000_000_000
GZIP_MEMBER = 10_000_000


def gzip_of(row: bytes) -> bytes:
    """Ten gigabytes of a row, packed into a few megabytes: a member of ten megabytes, a thousand times."""
    member = gzip.compress(row * (GZIP_MEMBER // len(row)), compresslevel=6)
    return gzip.compress(HEAD) + member * (TEN_GIGABYTES // GZIP_MEMBER)


def rows(count: int) -> bytes:
    """As a bench writes them."""
    return b"s,A,V\n" + b"".join(b"%d,18,13\n" % i for i in range(count))


def columns(count: int, name: bytes = b"c") -> bytes:
    """The bench's columns and many more."""
    line = b"0,18,13" + b",1" * count + b"\n"
    return b"s,A,V" + (b"," + name) * count + b"\n" + line * 100


def stored(columns_: dict[str, pa.Array]) -> bytes:
    """A Parquet file."""
    whole = io.BytesIO()
    parquet.write_table(pa.table(columns_), whole, compression="zstd")
    return whole.getvalue()


def one_text(rows_: int, letters: int) -> bytes:
    """A Parquet file that holds one long text once, and says of each row that it has it."""
    text = pa.DictionaryArray.from_arrays(pa.array([0] * rows_, pa.int32()), pa.array(["9" * letters]))
    return stored({"s": pa.array(range(rows_), pa.float64()), "A": text, "V": pa.array([13.0] * rows_)})


LONG_ROW = b"5,18,13" + b" " * 992 + b"\n"
LOGS: dict[str, tuple[str, Callable[[], bytes], str]] = {
    "10 GB of zeros": ("run.csv.gz", lambda: gzip_of(b"\0"), "a line is over 1 MB long"),
    "10 GB of rows": ("run.csv.gz", lambda: gzip_of(b"5,18,13\n"), "over 5000000 rows"),
    "10 GB of long rows": ("run.csv.gz", lambda: gzip_of(LONG_ROW), "over 500 MB unpacked"),
    "10 GB of empty lines": ("run.csv.gz", lambda: gzip_of(b"\n"), "over 5000000 rows"),
    "two million members": ("run.csv.gz", lambda: gzip.compress(HEAD) + gzip.compress(b"") * 2_000_000, "cannot be unpacked"),
    "600 MB of rows in xz": ("run.csv.xz", lambda: lzma.compress(LONG_ROW * 600_000, preset=0), "over 500 MB unpacked"),
    "10 million rows": ("run.csv", lambda: rows(10_000_000), "over 5000000 rows"),
    "10 thousand columns": ("run.csv", lambda: columns(10_000), "over 1000 columns"),
    "10 thousand long columns": ("run.csv", lambda: columns(10_000, b"c" * 200), "a line is over 1 MB long"),
    "10 thousand cells": ("run.csv", lambda: HEAD + (b"0,18,13" + b",1" * 10_000 + b"\n") * 1000, "lines have more or fewer"),
    "a line of 100 MB": ("run.csv", lambda: HEAD + b"2,18,1" + b"3" * 100_000_000 + b"\n", "a line is over 1 MB long"),
    "a heading of 100 MB": ("run.csv", lambda: b"s,A,V" + b"3" * 100_000_000 + b"\n0,1,2\n", "a line is over 1 MB long"),
    "a quotation mark": ("run.csv", lambda: HEAD + b'"' + b"1,2,3\n" * 1_000_000, "lines have more or fewer"),
    "NUL bytes": ("run.csv", lambda: HEAD + b"\0\0\0,\0,\0\n" * 1000, "rows cannot be used"),
    "a million rows of nonsense": ("run.csv", lambda: HEAD + b"x,y,z\n" * 1_000_000, "rows cannot be used"),
    "numbers that are none": (
        "run.csv",
        lambda: HEAD + b"".join(b"2,%s,13\n" % cell for cell in (b"1e400", b"nan", b"0x1F", b"1" * 100_000, b"-inf", b"1_0")),
        "rows cannot be used",
    ),
    "Parquet: 10 million rows": ("run.parquet", lambda: stored(dict.fromkeys("sAV", pa.array([0.0] * 10_000_000))), "over 5000000"),
    "Parquet: a terabyte of text": ("run.parquet", lambda: one_text(100_000, 10_000_000), "a cell holds over 100 letters"),
    "Parquet: a gigabyte of text": ("run.parquet", lambda: one_text(1_000_000, 1000), "a cell holds over 100 letters"),
    "Parquet: 20 thousand columns": (
        "run.parquet",
        lambda: stored({f"c{i}": pa.array([0.0, 1.0]) for i in range(20_000)}),
        "this is no Parquet file",
    ),
}  # fmt: skip
# The others are of the same kind as one that runs every time.
SELDOM = {
    "10 GB of empty lines", "600 MB of rows in xz", "10 thousand long columns", "a heading of 100 MB", "a quotation mark",
    "Parquet: a terabyte of text", "Parquet: 20 thousand columns",
}  # fmt: skip


@pytest.fixture
def project(tmp_path: Path) -> Project:
    return small_project(tmp_path / "project")


def told(project: Project, name: str) -> str:
    """What `check` says of the project whose log has that name."""
    if name != "run.csv":
        project.change("run.csv", name)
    done = site_builder("check", "--results", project.results, folder=project.root)
    assert done.code == 1, (done.code, done.cpu_s, done.err)
    assert "Traceback" not in done.err
    assert done.cpu_s <= cpu_limit_s()
    assert done.memory_mb <= MEMORY_MB
    assert len(done.out) < 5_000
    return done.out


@pytest.mark.parametrize("case", [pytest.param(case, marks=FULL if case in SELDOM else ()) for case in LOGS])
def test_a_log_is_refused_in_time(case: str, project: Project) -> None:
    name, make, words = LOGS[case]
    (project.results / "logs" / "tarn-t90" / name).write_bytes(make())
    out = told(project, name)
    assert out.startswith(f"results/logs/tarn-t90/{name}:")
    assert words in out


def test_a_sparse_file_of_ten_gigabytes(project: Project) -> None:
    """It takes no room on the disk, and a version of it in git hardly any."""
    with (project.results / "logs" / "tarn-t90" / "run.csv").open("wb") as stream:
        stream.write(HEAD)
        stream.truncate(TEN_GIGABYTES)
    assert "over 500 MB unpacked" in told(project, "run.csv")


@pytest.mark.full
def test_a_log_just_inside_the_limits_is_read(project: Project) -> None:
    """So that none is refused by mistake: five million rows, and nearly a megabyte in one line."""
    log = project.results / "logs" / "tarn-t90" / "run.csv"
    text = rows(4_999_000).replace(b"\n7,18,13\n", b"\n7,18,13" + b" " * 900_000 + b"\n")
    log.write_bytes(text)
    from site_builder.build import derive_all  # noqa: PLC0415

    found = derive_all(project.results, project.catalogue)
    assert [problem.code for problem in found.problems if problem.severity == "error"] == []
    assert found.derived.units[0].logs["run"].rows == 4_999_000
