"""Other states from git: found, refused with a way out, unpacked without touching anything."""

from __future__ import annotations

from pathlib import Path

import pytest

from site_builder import revision as under_test
from site_builder.revision import RevisionError, find_revision, unpack
from tests.git_project import commit_all, git, git_project
from tests.small_project import Project


@pytest.fixture
def project(tmp_path: Path) -> Project:
    return git_project(tmp_path / "project")


def refusal(folder: Path, name: str) -> str:
    with pytest.raises(RevisionError) as refused:
        find_revision(folder, name)
    return str(refused.value)


def test_a_revision_is_where_both_have_parted(project: Project) -> None:
    """What happened on main since a branch was made is not that branch's doing."""
    first = git(project.root, "rev-parse", "HEAD")
    git(project.root, "switch", "--quiet", "--create", "mine")
    project.change("date: 2026-05-06", "date: 2026-05-07")
    commit_all(project.root)
    git(project.root, "switch", "--quiet", "main")
    (project.root / "other").write_text("x", encoding="utf-8")
    commit_all(project.root)
    git(project.root, "switch", "--quiet", "mine")
    found = find_revision(project.results, "main")
    assert (found.commit, found.top, found.name) == (first, project.root.resolve(), "main")


def test_the_files_of_a_revision_as_they_were(project: Project, tmp_path: Path) -> None:
    before = (project.results / "tarn-t90.yml").read_bytes()
    project.change("date: 2026-05-06", "date: 2026-05-07")
    unpack(find_revision(project.results, "HEAD"), tmp_path / "out")
    assert (tmp_path / "out/results/tarn-t90.yml").read_bytes() == before
    assert (tmp_path / "out/results/logs/tarn-t90/run.csv").is_file()


def test_work_tree_index_and_branches_stay_as_they_are(project: Project, tmp_path: Path) -> None:
    project.change("date: 2026-05-06", "date: 2026-05-07")
    (project.root / "untracked").write_text("x", encoding="utf-8")

    def state() -> tuple[str, ...]:
        held = (
            "status --porcelain",
            "for-each-ref",
            "worktree list",
            "stash list",
            "rev-parse HEAD",
            "ls-files --stage",
        )
        return tuple(git(project.root, *words.split()) for words in held)

    before = state()
    unpack(find_revision(project.results, "main"), tmp_path / "out")
    assert state() == before


def test_a_link_is_left_out(project: Project, tmp_path: Path) -> None:
    """One that leads out of the folder would let a later file be written there."""
    (project.results / "out").symlink_to(tmp_path / "elsewhere")
    commit_all(project.root)
    unpack(find_revision(project.results, "HEAD"), tmp_path / "out")
    assert not (tmp_path / "out/results/out").is_symlink()
    assert (tmp_path / "out/results/tarn-t90.yml").is_file()


def test_no_repository(tmp_path: Path) -> None:
    said = refusal(tmp_path, "main")
    assert said.startswith(f"git cannot help in {tmp_path} (fatal: not a git repository")
    assert said.endswith("; go to a clone of the catalogue, or leave --against out")


@pytest.mark.parametrize("name", ["mian", "0123456789", "", "--all", "HEAD:results", "a b"])
def test_an_unknown_revision(project: Project, name: str) -> None:
    assert refusal(project.results, name) == (
        f"git knows no revision {name!r}; see `git branch --all` for names, or get it with `git fetch`"
    )


def test_a_repository_without_a_commit(tmp_path: Path) -> None:
    git(tmp_path, "init", "--quiet")
    assert refusal(tmp_path, "HEAD").startswith("git knows no revision 'HEAD'; ")


@pytest.fixture
def shallow(project: Project, tmp_path: Path) -> Path:
    """A clone of the newest commit alone."""
    project.change("date: 2026-05-06", "date: 2026-05-07")
    commit_all(project.root)
    git(tmp_path, "clone", "--quiet", "--depth=1", f"file://{project.root}", "clone")
    return tmp_path / "clone"


@pytest.mark.parametrize("name", ["HEAD~1", "v1"])
def test_a_shallow_clone_says_how_to_get_the_rest(shallow: Path, name: str) -> None:
    assert refusal(shallow, name) == (
        f"git knows no revision {name!r}; this clone has only a part of its history; get the rest with "
        "`git fetch --unshallow`"
    )


def test_a_shallow_clone_in_which_the_common_commit_is_missing(shallow: Path, project: Project) -> None:
    git(project.root, "switch", "--quiet", "--create", "side", "HEAD~1")
    (project.root / "other").write_text("x", encoding="utf-8")
    commit_all(project.root)
    git(shallow, "fetch", "--quiet", "--depth=1", "origin", "side:side")
    assert refusal(shallow, "side") == (
        "'side' and the present state have no commit in common; this clone has only a part of its history; "
        "get the rest "
        "with `git fetch --unshallow`"
    )


def test_histories_that_never_met(project: Project) -> None:
    git(project.root, "switch", "--quiet", "--orphan", "other")
    (project.root / "other").write_text("x", encoding="utf-8")
    commit_all(project.root)
    assert refusal(project.root, "main").endswith(
        "have no commit in common; name a revision that this branch grew from"
    )


def test_without_git(project: Project, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", str(project.root))
    assert refusal(project.results, "main") == "git is not installed; install it, or leave --against out"


def test_a_hook_of_another_repository_does_not_matter(
    project: Project, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    git(tmp_path, "init", "--quiet", "another")
    for name in under_test._OF_A_HOOK:
        monkeypatch.setenv(name, str(tmp_path / "another/.git"))
    assert find_revision(project.results, "main").top == project.root.resolve()
