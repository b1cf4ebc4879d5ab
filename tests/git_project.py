"""The small project under git, for tests that hold one state of it against another."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest

from site_builder.__main__ import main
from tests.small_project import Project, small_project

HISTORY = "history:\n  - {date: 2026-05-30, what: added, note: First results.}\n"
CHANGES = "- {date: 2026-05-20, what: load, note: The kettle was weighed.}\n"
# Nothing of the machine's own settings, so that a hook, a name or a signature of somebody's is no part of the test.
ALONE = {
    "GIT_CONFIG_GLOBAL": os.devnull,
    "GIT_CONFIG_SYSTEM": os.devnull,
    "GIT_AUTHOR_DATE": "2026-06-01T12:00:00Z",
    "GIT_COMMITTER_DATE": "2026-06-01T12:00:00Z",
}


def git(folder: Path, *arguments: str) -> str:
    """What git says."""
    command = [
        "git",
        "-C",
        str(folder),
        "-c",
        "user.name=Ines Hallam",
        "-c",
        "user.email=ines@hallam.example",
        *arguments,
    ]
    done = subprocess.run(command, env=os.environ | ALONE, check=True, capture_output=True, text=True)
    return done.stdout.strip()


def commit_all(folder: Path, says: str = "a state") -> str:
    """The commit of everything as it is."""
    git(folder, "add", "--all")
    git(folder, "commit", "--quiet", "--message", says)
    return git(folder, "rev-parse", "HEAD")


def against_main(project: Project, capsys: pytest.CaptureFixture[str], *more: str) -> tuple[int, list[str]]:
    """Exit code and lines of a check against the branch main."""
    code = main(["check", "--results", str(project.results), "--against", "main", *more])
    return code, capsys.readouterr().out.splitlines()


def git_project(root: Path) -> Project:
    """The small project with a history and changes, committed on the branch main."""
    project = small_project(root)
    path = project.results / "tarn-t90.yml"
    path.write_text(path.read_text(encoding="utf-8") + HISTORY, encoding="utf-8")
    (project.catalogue / "changes.yml").write_text(CHANGES, encoding="utf-8")
    (project.root / "mkdocs.yml").write_text("site_url: https://bench.example/\n", encoding="utf-8")
    pages = project.catalogue / "pages"
    pages.mkdir()
    (pages / "about.md").write_text("# About\n\nSee [the rule](https://law.example/rule).\n", encoding="utf-8")
    git(root, "init", "--quiet", "--initial-branch=main")
    commit_all(root)
    return project
