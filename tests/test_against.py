"""`check --against REV`: its formats, wrong usage, what it leaves behind, and the other state's own program."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from site_builder.__main__ import main
from tests.git_project import CHANGES, against_main, commit_all, git, git_project
from tests.small_project import Project, log_text


@pytest.fixture
def project(tmp_path: Path) -> Project:
    return git_project(tmp_path / "project")


def test_github_annotates_the_line_of_the_history(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    project.log(log_text(current_a=17))
    _, lines = against_main(project, capsys, "--format", "github")
    assert lines[0].startswith(
        "::error file=results/tarn-t90.yml,line=14,col=3,title=history-missing::history: tests.run.log "
        "changed since main"
    )


def test_json_holds_old_and_new(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    project.log(log_text(current_a=17))
    _, lines = against_main(project, capsys, "--format", "json")
    held: Any = json.loads("\n".join(lines))
    assert [problem["code"] for problem in held["problems"]] == ["history-missing"]
    assert held["against"]["commit"] == git(project.root, "rev-parse", "main")
    assert (held["against"]["revision"], held["against"]["notes"]) == ("main", [])
    assert held["against"]["moved"][0] == {
        "unit": "tarn-t90", "name": "delivered_ah", "old": "90 ± 1.1 Ah", "new": "85 ± 1 Ah",
    }  # fmt: skip


def test_an_unknown_revision_is_wrong_usage(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "--results", str(project.results), "--against", "mian"]) == 2
    assert capsys.readouterr().err == (
        "site-builder: git knows no revision 'mian'; see `git branch --all` for names, or get it with `git fetch`\n"
    )


def test_no_repository_is_wrong_usage(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    shutil.rmtree(project.root / ".git")
    assert main(["check", "--results", str(project.results), "--against", "main"]) == 2
    assert "go to a clone of the catalogue, or leave --against out" in capsys.readouterr().err


def test_a_revision_without_results(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    git(project.root, "rm", "-r", "--quiet", "--cached", "results", "catalogue")
    git(project.root, "commit", "--quiet", "--message", "nothing yet")
    main(["check", "--results", str(project.results), "--against", "main"])
    assert "note: there are no results in main: everything is new" in capsys.readouterr().err


def test_nothing_is_left_behind(
    project: Project, capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "scratch").mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "scratch"))
    project.log(log_text(current_a=17))
    before = git(project.root, "status", "--porcelain")
    against_main(project, capsys)
    assert list((tmp_path / "scratch").iterdir()) == []
    assert git(project.root, "status", "--porcelain") == before


# --- another program --------------------------------------------------------------------------------------------------

PROGRAM = '''\
"""Another version of the program, which gives one number."""
import json, sys
assert "--format" in sys.argv and "json" in sys.argv
metrics = {"delivered_ah": %s}
print(json.dumps({"units": [{"id": "tarn-t90", "metrics": metrics}]}))
'''
NUMBER = '{"value": 89.0, "u": 2.0, "unit": "Ah", "bound": "exact", "low": 87.0, "high": 91.0, "basis": "measured"}'


def with_program(project: Project, monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    """The other state has a program of its own; the present one is in the work tree, and differs."""
    package = project.root / "site_builder"
    package.mkdir()
    (package / "__init__.py").write_text("", encoding="utf-8")
    (package / "__main__.py").write_text(text, encoding="utf-8")
    commit_all(project.root)
    (package / "__main__.py").write_text(text + "# newer\n", encoding="utf-8")
    monkeypatch.setattr("site_builder.against.site_builder.__file__", str(package / "__init__.py"))


def test_the_other_states_numbers_come_from_its_own_program(
    project: Project, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Only what both programs give is compared; the code asks for one entry in all."""
    with_program(project, monkeypatch, PROGRAM % NUMBER)
    code, lines = against_main(project, capsys)
    assert code == 1
    assert "did not (the code): tarn-t90 delivered_ah 89 ± 2 Ah → 90 ± 1.1 Ah" in lines[0]
    changes = f"{CHANGES}- {{date: 2026-06-02, what: code, note: Charge across gaps.}}\n"
    (project.catalogue / "changes.yml").write_text(changes, encoding="utf-8")
    assert against_main(project, capsys)[0] == 0


def test_a_program_that_does_not_run_is_said(
    project: Project, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with_program(project, monkeypatch, "raise SystemExit(2)\n")
    assert main(["check", "--results", str(project.results), "--against", "main"]) == 0
    assert (
        "note: the program of main did not run: what a change of the code moves is not seen" in capsys.readouterr().err
    )


def test_the_other_program_leaves_no_compiled_files_in_the_work_tree(
    project: Project, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with_program(project, monkeypatch, PROGRAM % NUMBER)
    against_main(project, capsys)
    assert not list(project.root.rglob("__pycache__"))
