"""`new`, `import-table` and `preview-log` with hostile words and files: no traceback, nothing written outside results/."""

from __future__ import annotations

import gzip
import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from site_builder.__main__ import main
from site_builder.yaml_text import parsed
from tests.hostile.bounded import MEMORY_MB, Done, cpu_limit_s, site_builder
from tests.hostile.every_text import Field
from tests.hostile.test_log_files import HEAD, LOGS
from tests.hostile.words import HARMFUL
from tests.small_project import Project, small_project

FULL = pytest.mark.full
OF: Field = ("Unit", "model")
NAMES = [
    "../../escape", "/etc/cron.d/x", "a/../../b", "..", ".", "-", "--write", "$(touch x)", "`touch x`", "x; touch y", "%00",
    "a\0b", "a\nunit: {id: other}", "a # b", "a: b", "{a: b}", "[a", "'", '"', "&a", "*a", "!!python/object:os.system",
    "<<", "\u202ex", "x\u200b", "CON", "index", "k" * 10_000, "",
]  # fmt: skip


@pytest.fixture
def project(tmp_path: Path) -> Iterator[Project]:
    """A project beside files that nobody may touch; those of the project itself may not change either."""
    made = small_project(tmp_path / "around" / "project")
    (tmp_path / "around" / "sentinel").write_text("stays", encoding="utf-8")
    before = states(tmp_path)
    yield made
    after = states(tmp_path)
    assert {path: after.get(path) for path in before} == before
    assert all(path.parent == made.results and path.suffix == ".yml" for path in after.keys() - before.keys())


def states(folder: Path) -> dict[Path, tuple[int, int]]:
    """Size and time of the last change of everything that is no folder; what a test itself adds is called hostile."""
    found = {path: path.lstat() for path in folder.rglob("*") if not path.is_dir() and "hostile" not in path.name}
    return {path: (state.st_size, state.st_mtime_ns) for path, state in found.items()}


def run(project: Project, *arguments: str | Path) -> int:
    """A command in the project; wrong usage may end it as argparse does."""
    try:
        return main([*map(str, arguments), "--results", str(project.results)])
    except SystemExit as ended:
        return int(ended.code or 0)


@pytest.mark.parametrize(
    "name", [*NAMES, *(write(OF) for write in HARMFUL.values())], ids=range(len(NAMES) + len(HARMFUL))
)
@pytest.mark.parametrize("place", ["maker", "model", "--id", "--volts", "--chemistry", "--bench", "--tests"])
def test_new_with_hostile_words(
    place: str, name: str, project: Project, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(project.root)
    named = {"maker": name if place == "maker" else "Tarn", "model": name if place == "model" else "T91"}
    more = [f"{place}={name}"] if place.startswith("--") else []
    code = run(project, "new", *more, "--", named["maker"], named["model"])
    assert code in {0, 2}
    shown = capsys.readouterr()
    assert all(line.isprintable() for line in (shown.out + shown.err).splitlines())
    for path in project.results.glob("*.yml"):
        document = parsed(path.read_bytes(), path.name)
        assert not document.problems
        assert document.data["unit"]["id"] == path.stem
        if code == 0 and path.name != "tarn-t90.yml":
            assert (document.data["unit"]["maker"], document.data["unit"]["model"]) == (named["maker"], named["model"])


def test_new_never_follows_a_link(project: Project, tmp_path: Path) -> None:
    (project.results / "tarn-t91.yml").symlink_to(tmp_path / "hostile")
    assert run(project, "new", "Tarn", "T91") == 2
    assert not (tmp_path / "hostile").exists()
    (project.results / "tarn-t91.yml").unlink()


MAPPING = ("--column", "Maker=unit.maker", "--column", "Model=unit.model", "--column", "Ah=label.capacity_ah")
SET = ("--set", "label.chemistry=LiFePO4", "--set", "label.nominal_v=12.8")


@pytest.mark.parametrize(
    "name", [*NAMES, *(write(OF) for write in HARMFUL.values())], ids=range(len(NAMES) + len(HARMFUL))
)
def test_a_table_with_hostile_words(
    name: str, project: Project, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    cell = '"' + name.replace('"', '""') + '"'
    table = tmp_path / "hostile.csv"
    table.write_text(f"Maker,Model,Ah,{cell}\n{cell},T1,90,x\nTarn,{cell},90,x\nTarn,T3,{cell},x\n", encoding="utf-8")
    assert run(project, "import-table", table, *MAPPING, *SET, "--write") in {0, 1, 2}
    shown = capsys.readouterr()
    assert all(line.isprintable() for line in (shown.out + shown.err).splitlines())
    for path in project.results.glob("*.yml"):
        document = parsed(path.read_bytes(), path.name)
        assert not document.problems
        assert document.data["unit"]["id"] == path.stem


def bounded(done: Done) -> str:
    """What was said, within the limits."""
    assert done.code in {0, 1, 2}, (done.code, done.cpu_s, done.err)
    assert "Traceback" not in done.err
    assert done.cpu_s <= cpu_limit_s()
    assert done.memory_mb <= MEMORY_MB
    assert len(done.out + done.err) < 100_000
    return done.out + done.err


TABLES = {
    "fifty megabytes": (b"Maker,Model,Ah\n" + b"Tarn,T1,90\n" * 5_000_000, "over 1 MB"),
    "rows": (b"Maker,Model,Ah\n" + b"".join(b"T%d,M,9\n" % i for i in range(70_000)), "rows"),
    "the same row": (b"Maker,Model,Ah\n" + b"Tarn,T1,90\n" * 80_000, "rows"),
    "columns": (b",".join(b"c%d" % i for i in range(100_000)) + b"\n", "over 300 columns"),
    "a quotation mark": (b'Maker,Model,Ah\n"' + b"Tarn,T1,90\n" * 80_000, "CSV"),
    "NUL bytes": (b"Maker,Model,Ah\n" + b"\0" * 900_000, "no CSV text"),
    "a heading": (b"M" * 900_000 + b",Model\n", ""),
    "a cell": (b"Maker,Model,Ah\n" + b"T" * 900_000 + b",M,9\n", ""),
    "not a row": (b"\n" * 900_000, "empty"),
}


@pytest.mark.parametrize(
    "name",
    [pytest.param(name, marks=() if name in {"fifty megabytes", "rows", "the same row"} else FULL) for name in TABLES],
)
def test_a_table_that_would_take_too_long(name: str, project: Project, tmp_path: Path) -> None:
    content, words = TABLES[name]
    table = tmp_path / "hostile.csv"
    table.write_bytes(content)
    arguments = ("import-table", table, *MAPPING, *SET, "--write", "--results", project.results)
    assert words in bounded(site_builder(*arguments, folder=project.root))


@pytest.mark.parametrize("command", ["import-table", "preview-log"])
@pytest.mark.parametrize("kind", ["pipe", "folder", "nothing", "zeros"])
def test_what_is_no_file(command: str, kind: str, project: Project, tmp_path: Path) -> None:
    path = tmp_path / "hostile.csv"
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "folder":
        path.mkdir()
    given = "/dev/zero" if kind == "zeros" else path
    bounded(site_builder(command, given, "--results", project.results, folder=project.root))


def test_a_mapping_that_is_none(project: Project, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    table, mapping = tmp_path / "hostile.csv", tmp_path / "hostile.yml"
    table.write_text("Maker,Model\nTarn,T1\n", encoding="utf-8")
    for text in (
        "columns: &a {b: *a}",
        "columns: {Maker: '../../x'}",
        "!!python/name:os.system",
        "set: {unit.id: ../x}",
        "{" * 1000,
    ):
        mapping.write_text(text, encoding="utf-8")
        assert run(project, "import-table", table, "--mapping", mapping, "--write") in {1, 2}
        assert "Traceback" not in capsys.readouterr().err


PREVIEWED = [
    "10 GB of zeros",
    "10 GB of rows",
    "10 million rows",
    "a line of 100 MB",
    "NUL bytes",
    "Parquet: a gigabyte of text",
]


@pytest.mark.parametrize(
    "case",
    [
        pytest.param(case, marks=() if case in {"10 GB of rows", "Parquet: a gigabyte of text"} else FULL)
        for case in LOGS
    ],
)
def test_a_preview_of_a_hostile_log(case: str, project: Project, tmp_path: Path) -> None:
    name, make, _ = LOGS[case]
    path = tmp_path / f"hostile-{name}"
    path.write_bytes(make())
    bounded(site_builder("preview-log", path, "--bench", "quay", "--results", project.results, folder=project.root))


def test_a_preview_of_hostile_headings(project: Project, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "hostile.csv.gz"
    for name in NAMES:
        cell = '"' + name.replace('"', '""') + '"'
        path.write_bytes(gzip.compress(HEAD.replace(b"A,", cell.encode() + b",", 1) + b"2,18,13\n" * 20))
        assert run(project, "preview-log", path) in {0, 1}
        shown = capsys.readouterr()
        assert all(line.isprintable() for line in (shown.out + shown.err).splitlines())
