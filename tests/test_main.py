"""The command line as its users meet it: exit codes, the three formats, and what is written where."""

import json
import math
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from site_builder.__main__ import main

ROOT = Path(__file__).parent.parent
INVALID = Path(__file__).parent / "data" / "invalid"
FOUND_KEYS = ["file", "line", "column", "field", "message", "hint", "severity", "code"]

INSTRUMENTS = """\
shed-2026:
  title: Shed bench
  tester: Ines Hallam
  since: 2026-03-01
  instruments:
    shunt: {measures: current, of_reading: "0.5 %", offset: 0.02, step: 0.01}
    meter: {measures: voltage, of_reading: "0.1 %", step: 0.001}
  log: {time: {column: t}, current: {column: amps, on: shunt}, voltage: {column: volts, on: meter}, interval_s: 10}
"""
GOOD = """\
unit: {id: quern-q100, maker: Quern, model: Q100}
label: {chemistry: LiFePO4, nominal_v: 12.8, capacity_ah: 100}
bench: shed-2026
tests:
  run: {kind: capacity, date: 2026-05-06, ended_by: bms, ambient_c: 21, log: run.csv}
"""
BAD = """\
unit: {id: quern-q100, maker: Quern, model: "Q100,\\n100 %: new"}
label: {chemistry: LiFePO4, nominal_v: 12.8, capacity_ah: "50 % of 100"}
"""
# Five hours at 20 A: the charge is 20 A · 5 h = 100 Ah, in one's head.
LOG = "t,amps,volts\n" + "".join(f"{10 * row},20,13\n" for row in range(1801))


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """A project of one unit in which all is well."""
    for name, text in {
        "catalogue/instruments.yml": INSTRUMENTS,
        "results/quern-q100.yml": GOOD,
        "results/logs/quern-q100/run.csv": LOG,
    }.items():
        (tmp_path / "project" / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / "project" / name).write_text(text, encoding="utf-8")
    return tmp_path / "project"


def files_in(folder: Path) -> dict[str, bytes]:
    """Every file by its name, with what it holds."""
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def as_json(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> Any:
    """What check prints as JSON; NaN and Infinity, which JSON does not have, are refused."""

    def refuse(word: str) -> None:
        raise AssertionError(word)

    main(["check", *arguments, "--format", "json"])
    return json.loads(capsys.readouterr().out, parse_constant=refuse)


# --- exit codes -------------------------------------------------------------------------------------------------------


def test_a_project_without_faults_exits_0_and_prints_no_problem(
    project: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["check", "--results", str(project / "results")]) == 0
    printed = capsys.readouterr()
    assert (printed.out, printed.err) == ("", "1 unit, 0 errors, 0 warnings\n")


def test_warnings_alone_exit_0(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log = project / "results/logs/quern-q100/run.csv"
    log.write_text(LOG.replace("\n500,20,", "\n500,,"), encoding="utf-8")
    assert main(["check", "--results", str(project / "results")]) == 0
    printed = capsys.readouterr()
    assert printed.out.startswith("results/logs/quern-q100/run.csv:52:1: warning: ")
    assert printed.err == "1 unit, 0 errors, 1 warning\n"


def test_an_error_exits_1_and_changes_nothing(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (project / "results/quern-q100.yml").write_text(BAD, encoding="utf-8")
    before = files_in(project)
    assert main(["check", "--results", str(project / "results")]) == 1
    assert capsys.readouterr().out.startswith("results/quern-q100.yml:2:59: label.capacity_ah: ")
    assert files_in(project) == before


@pytest.mark.parametrize("arguments", [[], ["chekc"], ["check", "--format", "xml"], ["build", "--pages"]])
def test_wrong_usage_exits_2(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main(arguments)
    assert left.value.code == 2
    assert capsys.readouterr().err.startswith("usage: site-builder")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["check"], "site-builder: there is no folder results; go to the project's folder, or give --results DIR\n"),
        (["check", "nowhere/a.yml"], "site-builder: there is no folder nowhere; "),
        (["check", "quern-q100"], "site-builder: there is no file quern-q100; name one with its folder, such as "),
        (
            ["check", "quern-q100", "--results", "project/results"],
            "site-builder: there is no file quern-q100; name project/results/quern-q100.yml\n",
        ),
        (
            ["check", "quern-q100.yml", "--results", "project/results"],
            "site-builder: there is no file quern-q100.yml; name project/results/quern-q100.yml\n",
        ),
        (
            ["check", "project/catalogue/instruments.yml"],
            (
                "site-builder: project/catalogue is the catalogue, read with every check; name a results file in "
                "project/results, or none\n"
            ),
        ),
        (["check", "project"], "site-builder: project is a folder; to check all files in it, give --results project\n"),
        (["check", "--results", "project/results", "--catalogue", "no"], "site-builder: there is no folder no; "),
        (["build"], "site-builder: there is no mkdocs.yml; go to the project's folder, or give --config FILE\n"),
        (["build", "--results", "project/results"], "site-builder: --results and --catalogue go with --pages; "),
        (["build", "--pages", "out", "--results", "none"], "site-builder: there is no folder none; "),
        (["serve"], "site-builder: there is no mkdocs.yml; go to the project's folder, or give --config FILE\n"),
    ],
)
def test_the_wrong_folder_exits_2_and_says_which_is_right(
    arguments: list[str],
    words: str,
    project: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(project.parent)
    assert main(arguments) == 2
    assert capsys.readouterr().err.startswith(words)
    assert [path.name for path in project.parent.iterdir()] == ["project"]


# --- which files ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("where", [".", "project", "project/results", "project/catalogue"])
def test_a_file_is_checked_from_any_folder_by_its_path(
    where: str, project: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The catalogue beside its results folder is found, and the messages are the same everywhere."""
    (project / "results/quern-q100.yml").write_text(GOOD.replace("bms", "boat"), encoding="utf-8")
    (project / "results/other.yml").write_text("unit: [\n", encoding="utf-8")
    monkeypatch.chdir(project.parent / where)
    path = os.path.relpath(project / "results/quern-q100.yml")
    assert main(["check", path]) == 1
    printed = capsys.readouterr()
    assert printed.out == (
        "results/quern-q100.yml:5:53: tests.run.ended_by: 'boat' is not one of the words known here; "
        "write 'bms', 'end_voltage', 'inverter', 'tester', 'died' or 'unknown'\n"
    )


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("results/missing.yml", "there is no such file"),
        ("results/prices.csv", "this is no results file"),
        ("elsewhere/quern-q100.yml", "this is no results file"),
    ],
)
def test_a_file_that_is_none_of_the_results_exits_1_and_the_others_are_checked(
    name: str, words: str, project: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (project / "elsewhere").mkdir()
    for path in ("results/prices.csv", "elsewhere/quern-q100.yml"):
        (project / path).write_text("date,unit,amount,currency,kind,seller\n", encoding="utf-8")
    monkeypatch.chdir(project)
    assert main(["check", "results/quern-q100.yml", name]) == 1
    printed = capsys.readouterr()
    assert printed.out == f"{name}:0:0: {words}; name a .yml file in results, or none to check them all\n"
    assert printed.err.startswith("1 unit, 1 error,")


# --- formats ----------------------------------------------------------------------------------------------------------


def test_json_holds_every_problem_with_all_its_parts(capsys: pytest.CaptureFixture[str]) -> None:
    printed = as_json([str(INVALID / "results" / "unknown-bench.yml")], capsys)
    assert list(printed) == ["problems", "units", "class_effects", "missing"]
    assert [list(problem) for problem in printed["problems"]] == [FOUND_KEYS] * len(printed["problems"])
    assert printed["problems"][0] == {
        "file": "results/unknown-bench.yml",
        "line": 3,
        "column": 8,
        "field": "bench",
        "message": "there is no bench 'shed-2025'",
        "hint": "did you mean 'shed-2026'?",
        "severity": "error",
        "code": "unknown-bench",
    }


def test_json_holds_every_unit_with_its_numbers(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    printed = as_json(["--results", str(project / "results")], capsys)
    assert printed["problems"] == []
    (unit,) = printed["units"]
    assert unit["id"] == "quern-q100"
    charge = unit["metrics"]["delivered_ah"]
    assert charge["unit"] == "Ah"
    assert charge["value"] == pytest.approx(100, abs=0.05)
    # The shunt's 0.5 % and its 0.02 A over 5 h, rectangular (GUM 4.3.7), and 0.5 % from run to run; 95 %, two digits.
    assert charge["u"] == pytest.approx(1.96 * math.hypot(0.5 / 3**0.5, 0.02 * 5 / 3**0.5, 0.5), abs=0.05)


def test_json_of_the_demo_holds_plain_numbers(capsys: pytest.CaptureFixture[str]) -> None:
    printed = as_json(["--results", str(ROOT / "results")], capsys)
    results = {path.stem for path in (ROOT / "results").glob("*.yml")}
    assert {unit["id"] for unit in printed["units"]} <= results
    assert len(printed["units"]) >= len(results) - 2  # an embargoed unit shows nothing


def test_github_gets_one_command_a_problem_and_the_text_after_it(
    project: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (project / "results/quern-q100.yml").write_text(BAD, encoding="utf-8")
    assert main(["check", "--results", str(project / "results"), "--format", "github"]) == 1
    command, text = capsys.readouterr().out.splitlines()
    assert command == (
        "::error file=results/quern-q100.yml,line=2,col=59,title=value-form::"
        "label.capacity_ah: '50 %25 of 100' cannot be read as a number; write 98 (in Ah), about 98, 96 to 100, "
        'over 96 or under 100, or another unit in quotes ("52000 mAh")'
    )
    assert text.startswith("results/quern-q100.yml:2:59: label.capacity_ah: '50 % of 100' cannot be read")


def test_github_escapes_what_its_commands_are_made_of(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file's name stands among properties, where % : , and line breaks have to be escaped (workflow commands)."""
    (project / "results" / "a, b: 50 %.yml").write_text("unit: [\n", encoding="utf-8")
    main(["check", "--results", str(project / "results"), "--format", "github"])
    command = capsys.readouterr().out.splitlines()[0]
    assert command.startswith("::error file=results/a%2C b%3A 50 %25.yml,line=2,col=1,title=yaml-syntax::this is not")


def test_a_line_break_in_a_key_makes_no_second_command(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    key = '"a\\n::stop-commands::x\\r": 1\n'
    (project / "results/quern-q100.yml").write_text(GOOD + key, encoding="utf-8")
    main(["check", "--results", str(project / "results"), "--format", "github"])
    printed = capsys.readouterr().out
    assert [line for line in printed.splitlines() if line.startswith("::")] == [printed.splitlines()[0]]
    assert printed.splitlines()[0].startswith("::error file=results/quern-q100.yml,line=6,")
    assert len(printed.splitlines()) == 2


def test_a_problem_without_a_place_is_shown_at_the_first_line(
    project: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (project / "results/quern-q100.yml").write_text("", encoding="utf-8")
    main(["check", "--results", str(project / "results"), "--format", "github"])
    assert capsys.readouterr().out.startswith("::error file=results/quern-q100.yml,line=1,col=1,title=yaml-empty::")


# --- as a program -----------------------------------------------------------------------------------------------------


def run(*arguments: str | Path, cwd: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """The command as a program of its own."""
    command = [sys.executable, "-m", "site_builder", *map(str, arguments)]
    settings = os.environ | {"PYTHONPATH": str(ROOT)} | environment
    return subprocess.run(command, cwd=cwd, env=settings, check=False, capture_output=True, text=True)


@pytest.mark.parametrize("epoch", ["", "soon", "-1", "1e9", "9" * 30, "9" * 5000])
def test_a_catalogue_date_that_is_none_is_an_error_and_no_traceback(epoch: str, project: Path) -> None:
    for command in (("check",), ("build", "--pages", "pages")):
        done = run(*command, cwd=project, SOURCE_DATE_EPOCH=epoch)
        assert done.returncode == 1
        assert done.stdout.startswith("SOURCE_DATE_EPOCH:0:0: ")
        assert "Traceback" not in done.stderr
    assert not (project / "pages").exists()


def test_a_site_is_not_built_for_a_date_that_is_none(tmp_path: Path) -> None:
    done = run("build", "--site", tmp_path / "site", cwd=ROOT, SOURCE_DATE_EPOCH="soon")
    assert done.returncode == 1
    assert "'soon' is no number of seconds since 1970" in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "site").exists()


def test_a_reader_that_leaves_early_is_no_traceback() -> None:
    command = f"{sys.executable} -m site_builder check --results tests/data/invalid/results | head -n 1"
    done = subprocess.run(command, shell=True, cwd=ROOT, check=False, capture_output=True, text=True)  # noqa: S602
    assert done.stdout.count("\n") == 1
    assert "Traceback" not in done.stderr
    assert "BrokenPipe" not in done.stderr


# --- build ------------------------------------------------------------------------------------------------------------


def test_build_pages_writes_the_pages_and_nothing_else(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = files_in(project)
    out = project.parent / "out"
    assert main(["build", "--pages", str(out), "--results", str(project / "results")]) == 0
    written = files_in(out)
    assert "units/quern-q100.md" in written
    assert "Q100" in written["units/quern-q100.md"].decode("utf-8")
    assert {Path(name).suffix for name in written} == {".md"}
    assert capsys.readouterr().err == f"{len(written)} pages written to {out}\n"
    assert files_in(project) == before
    assert {path.name for path in project.parent.iterdir()} == {"project", "out"}


def test_build_pages_writes_those_by_hand_too_as_they_are(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shutil.copytree(ROOT / "catalogue/pages", project / "catalogue/pages")
    (project / "secret.md").write_text("secret", encoding="utf-8")
    (project / "catalogue/pages/more.md").symlink_to(project / "secret.md")
    out = project.parent / "out"
    assert main(["build", "--pages", str(out), "--results", str(project / "results")]) == 0
    written = files_in(out)
    by_hand = {path.relative_to(ROOT / "catalogue/pages") for path in (ROOT / "catalogue/pages").rglob("*.md")}
    assert {"about.md", "cautions.md", "contribute.md", "methods/index.md"} <= {path.as_posix() for path in by_hand}
    for path in by_hand:
        assert written[path.as_posix()] == (ROOT / "catalogue/pages" / path).read_bytes()
    assert "units/quern-q100.md" in written
    assert {Path(name).suffix for name in written} == {".md"}
    assert "more.md" not in written
    assert capsys.readouterr().err == f"{len(written)} pages written to {out}\n"


def test_build_pages_writes_nothing_outside_its_folder(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (project / "catalogue/pages/methods").mkdir(parents=True)
    (project / "catalogue/pages/methods/index.md").write_text("# Methods", encoding="utf-8")
    out, elsewhere = project.parent / "out", project.parent / "elsewhere"
    out.mkdir()
    elsewhere.mkdir()
    (out / "methods").symlink_to(elsewhere)
    assert main(["build", "--pages", str(out), "--results", str(project / "results")]) == 2
    assert f"methods/index.md leads out of {out}; delete that link" in capsys.readouterr().err
    assert files_in(elsewhere) == {}
    assert [path.name for path in out.iterdir()] == ["methods"]


def test_the_help_says_that_pages_are_markdown_instead_of_a_site(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["build", "--help"])
    assert "write Markdown instead of a site" in " ".join(capsys.readouterr().out.split())


def test_build_pages_with_an_error_writes_nothing(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (project / "results/quern-q100.yml").write_text(BAD, encoding="utf-8")
    out = project.parent / "out"
    assert main(["build", "--pages", str(out), "--results", str(project / "results")]) == 1
    printed = capsys.readouterr()
    assert printed.out.startswith("results/quern-q100.yml:2:59: label.capacity_ah: ")
    assert printed.err == "nothing was written\n"
    assert not out.exists()


@pytest.fixture
def whole_project(project: Path) -> Path:
    """The project with this repository's mkdocs.yml, hand-written pages and theme."""
    shutil.copy(ROOT / "mkdocs.yml", project)
    for folder in ("pages", "theme"):
        shutil.copytree(ROOT / "catalogue" / folder, project / "catalogue" / folder)
    return project


def test_build_with_an_error_exits_1_and_leaves_the_site_as_it_was(whole_project: Path) -> None:
    site = whole_project / "site"
    site.mkdir()
    (site / "index.html").write_text("yesterday's site", encoding="utf-8")
    (whole_project / "results/quern-q100.yml").write_text(BAD, encoding="utf-8")
    before = files_in(whole_project)
    done = run("build", cwd=whole_project)
    assert done.returncode == 1
    assert "results/quern-q100.yml:2:59: label.capacity_ah: '50 % of 100' cannot be read as a number" in done.stderr
    assert "Traceback" not in done.stderr
    assert files_in(whole_project) == before


def test_build_makes_a_site_with_a_page_for_each_unit(whole_project: Path) -> None:
    done = run("build", cwd=whole_project)
    assert (done.returncode, "Traceback" in done.stderr) == (0, False), done.stderr
    written = files_in(whole_project / "site")
    assert "Q100" in written["units/quern-q100/index.html"].decode("utf-8")
    assert written["data/logs/quern-q100/run.csv"] == LOG.encode()
