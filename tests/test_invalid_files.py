"""Bad input, and exactly what is said about it: one pair of files for each behaviour.

tests/data/invalid/results/<case>.yml is checked alone against the catalogue beside that folder; its <case>.expected.txt
is what `site-builder check` prints. tests/data/invalid/projects/<case>/ is checked as a whole, for what takes several
files or a catalogue of its own. A new case is a new pair; the second file is the command's own output, once it has been
read as by somebody who has never seen this code:

    cd tests/data/invalid
    SOURCE_DATE_EPOCH=1798675200 site-builder check results/<case>.yml > results/<case>.expected.txt
"""

import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pyarrow as pa
import pytest
from pyarrow import parquet

from site_builder.__main__ import main
from site_builder.yaml_text import MAX_BYTES

ROOT = Path(__file__).parent.parent
INVALID = Path(__file__).parent / "data" / "invalid"
FILES = sorted((INVALID / "results").glob("*.yml"))
PROJECTS = sorted((INVALID / "projects").iterdir())
UNIT = """\
unit: {id: quern-q100, maker: Quern, model: Q100}
label: {chemistry: LiFePO4, nominal_v: 12.8, capacity_ah: 100}
"""


@pytest.fixture(autouse=True)
def last_day_of_2026(monkeypatch: pytest.MonkeyPatch) -> None:
    """The catalogue's date, so that a case can lie after it."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1798675200")


@pytest.fixture(autouse=True)
def nothing_is_written() -> Iterator[None]:
    """Whatever a check finds, no file appears, goes away or changes."""
    before = states(INVALID)
    yield
    assert states(INVALID) == before


def states(folder: Path) -> dict[Path, tuple[int, int]]:
    """Size and time of the last change of every file."""
    found = {path: path.lstat() for path in folder.rglob("*")}
    return {path: (state.st_size, state.st_mtime_ns) for path, state in found.items()}


def check(*arguments: str | Path) -> list[str]:
    """The command's words."""
    return ["check", *map(str, arguments)]


def in_folder(project: Path) -> list[str]:
    """The command for a project, with the shared catalogue where it has none of its own."""
    own = project / "catalogue"
    return check("--results", project / "results", "--catalogue", own if own.is_dir() else INVALID / "catalogue")


COMMANDS = [
    *(pytest.param(check(path), path.with_suffix(".expected.txt"), id=path.stem) for path in FILES),
    *(pytest.param(in_folder(path), path / "expected.txt", id=path.name) for path in PROJECTS),
]


@pytest.mark.parametrize(("command", "expected"), COMMANDS)
def test_a_bad_file_is_answered_with_exactly_these_problems(
    command: list[str], expected: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(command) == exit_code(expected.read_text("utf-8"))
    assert problems_in(capsys.readouterr().out, expected.name.partition(".")[0]) == expected.read_text("utf-8")


def problems_in(printed: str, unit: str) -> str:
    """What was printed without the unit's own numbers, which a file with nothing but warnings has."""
    return "".join(line for line in printed.splitlines(keepends=True) if not line.startswith(f"{unit}: "))


def exit_code(expected: str) -> int:
    """0 where there are warnings alone."""
    assert expected, "a bad file is not accepted in silence"
    return 0 if all(": warning: " in line for line in expected.splitlines()) else 1


def test_every_bad_file_has_its_answer_and_every_answer_its_file() -> None:
    files = {path.name for path in (INVALID / "results").iterdir() if path.is_file()}
    assert files == {f"{path.stem}{end}" for path in FILES for end in (".yml", ".expected.txt")}
    assert len(FILES) + len(PROJECTS) >= 60


def expected_lines() -> list[str]:
    """All answers."""
    return [line for path in INVALID.rglob("*expected.txt") for line in path.read_text("utf-8").splitlines()]


@pytest.mark.parametrize("line", sorted(set(expected_lines())))
def test_an_answer_is_one_line_that_names_place_fault_and_way_out(line: str) -> None:
    place, _, words = line.partition(": ")
    file, number, column = place.rsplit(":", 2)
    assert file.endswith((".yml", ".yaml", ".csv", ".gz", ".xz", ".parquet"))
    assert (number == "0") == (column == "0")
    message, _, way_out = words.partition("; ")
    assert message
    assert way_out
    # Words of the program, where words for a tester belong.
    for inside in ("None", "True", "False", "dict", "str_", "pydantic", "Traceback", "Error", "NoneType", "tuple"):
        assert not re.search(rf"\b{inside}(\b|(?<=_))", line.replace("'NoneType'", ""))


@pytest.mark.parametrize("path", FILES[::20], ids=lambda path: path.stem)
def test_the_command_itself_says_the_same_and_never_shows_its_inside(path: Path) -> None:
    command = [sys.executable, "-m", "site_builder", *check(path)]
    # The poorest terminal there is: nothing but ASCII.
    environment = os.environ | {"PYTHONIOENCODING": "ascii", "PYTHONPATH": str(ROOT)}
    done = subprocess.run(command, cwd=INVALID, env=environment, check=False, capture_output=True)
    expected = path.with_suffix(".expected.txt").read_text("utf-8")
    assert problems_in(done.stdout.decode("ascii"), path.stem) == expected.encode("ascii", "backslashreplace").decode(
        "ascii"
    )
    assert done.returncode == exit_code(expected)
    assert b"Traceback" not in done.stderr


def test_problems_stand_in_the_order_of_files_lines_and_columns(capsys: pytest.CaptureFixture[str]) -> None:
    main([*in_folder(INVALID / "projects" / "many-files"), "--format", "json"])
    found = json.loads(capsys.readouterr().out)["problems"]
    places = [(problem["file"], problem["line"], problem["column"]) for problem in found]
    assert len({file for file, _, _ in places}) > 2
    assert places == sorted(places)


# --- what cannot lie in a repository ----------------------------------------------------------------------------------


def project(folder: Path, results: str = "", prices: str = "") -> Path:
    """A project with the shared catalogue and one results file, quern-q100.yml."""
    (folder / "results" / "logs" / "quern-q100").mkdir(parents=True)
    (folder / "catalogue").symlink_to(INVALID / "catalogue")
    (folder / "results" / "quern-q100.yml").write_text(UNIT + results, encoding="utf-8")
    if prices:
        (folder / "results" / "prices.csv").write_text(prices, encoding="utf-8")
    return folder / "results"


def said(results: Path, capsys: pytest.CaptureFixture[str]) -> str:
    """What check prints for a folder in which something is wrong."""
    assert main(check("--results", results)) == 1
    return capsys.readouterr().out


RUN = "bench: shed-2026\ntests:\n  run: {kind: capacity, ended_by: bms, log: run.csv}\n"


def test_a_results_file_over_one_megabyte(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    results = project(tmp_path, "# " + "word " * (MAX_BYTES // 5))
    assert said(results, capsys) == ("results/quern-q100.yml:0:0: the file is over 1 MB; put long tables into a log\n")


def test_prices_over_one_megabyte(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    row = "2026-05-04,quern-q100,289,EUR,paid,chandlery\n"
    results = project(tmp_path, prices="date,unit,amount,currency,kind,seller\n" + row * (MAX_BYTES // len(row) + 1))
    assert said(results, capsys) == "results/prices.csv:0:0: the file is over 1 MB; drop the oldest prices\n"


def test_a_log_that_is_a_link_to_somewhere_else(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    results = project(tmp_path, RUN)
    (tmp_path / "secret.csv").write_text("t,amps,volts\n0,20,13.2\n10,20,13.1\n", encoding="utf-8")
    (results / "logs" / "quern-q100" / "run.csv").symlink_to(tmp_path / "secret.csv")
    assert said(results, capsys) == (
        "results/quern-q100.yml:5:45: tests.run.log: 'run.csv' leads out of the results folder; "
        "put it into results/logs/quern-q100/\n"
    )


def test_a_log_that_is_a_link_to_itself(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    results = project(tmp_path, RUN)
    (results / "logs" / "quern-q100" / "run.csv").symlink_to("run.csv")
    assert said(results, capsys).startswith("results/quern-q100.yml:5:45: tests.run.log: 'run.csv' is no path; ")


def test_a_log_that_is_a_pipe_is_not_waited_for(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    results = project(tmp_path, RUN)
    os.mkfifo(results / "logs" / "quern-q100" / "run.csv")
    assert said(results, capsys) == (
        "results/quern-q100.yml:5:45: tests.run.log: 'run.csv' is no plain file; name the log file itself\n"
    )


@pytest.mark.parametrize("make", [Path.mkdir, os.mkfifo, lambda path: path.symlink_to(path.name)])
@pytest.mark.parametrize("name", ["results/larkstile.yml", "results/prices.csv", "catalogue/changes.yml"])
def test_a_file_that_is_no_file(name: str, make: object, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    results = project(tmp_path)
    (tmp_path / "catalogue").unlink()
    (tmp_path / "catalogue").mkdir()
    make(tmp_path / name)  # type: ignore[operator]  # each makes something that is no file
    assert said(results, capsys).endswith(f"{name}:0:0: this is no file; check its name\n")


@pytest.mark.parametrize("name", ["results/larkstile.yml", "results/prices.csv", "catalogue/changes.yml"])
def test_a_file_that_is_a_link_out_of_its_folder(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Whatever it leads to, be it a file that could be read; a link to a file beside it is one."""
    results = project(tmp_path / "project")
    (tmp_path / "project/catalogue").unlink()
    (tmp_path / "project/catalogue").mkdir()
    (tmp_path / "secret").write_text("unit: {id: larkstile}\n", encoding="utf-8")
    (tmp_path / "project" / name).symlink_to(tmp_path / "secret")
    assert said(results, capsys) == f"{name}:0:0: this is a link out of its folder; put the file itself here\n"
    (tmp_path / "project" / name).unlink()
    beside = (tmp_path / "project" / name).with_suffix(".txt")
    beside.write_text("", encoding="utf-8")
    (tmp_path / "project" / name).symlink_to(beside.name)
    assert "link" not in said(results, capsys)


def test_names_that_would_fake_a_line_are_shown_escaped(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    results = project(tmp_path)
    (results / "a\n::error::b\x1b[31m.yml").write_text("unit: [\n", encoding="utf-8")
    out = said(results, capsys)
    assert out.startswith("results/a\\n::error::b\\x1b[31m.yml:2:1: this is not YAML")
    assert out.count("\n") == 1


def test_a_parquet_log_with_a_column_of_lists(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    results = project(tmp_path, RUN.replace("csv", "parquet"))
    table = pa.table({"t": [0.0, 10.0], "amps": [[20.0], [20.0]], "volts": [13.2, 13.1]})
    parquet.write_table(table, results / "logs" / "quern-q100" / "run.parquet")
    assert said(results, capsys) == (
        "results/logs/quern-q100/run.parquet:0:0: a column holds neither numbers nor text; export the log again\n"
    )


def test_a_log_in_another_encoding_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    results = project(tmp_path, RUN)
    (results / "logs" / "quern-q100" / "run.csv").write_bytes(
        "t,amps,volts\n0,20,13.2\n10,20,13.1\n".encode("utf-16-le")
    )
    assert said(results, capsys) == (
        "results/logs/quern-q100/run.csv:1:1: the log looks like UTF-16 text; "
        "export it as UTF-8, or say encoding: utf-16 in the log format of its bench\n"
    )
