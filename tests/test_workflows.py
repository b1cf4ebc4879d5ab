"""Workflows and forms: they can be read, are pinned, may do little, and let no stranger's words into a shell.

Sources:
    GitHub Docs, "Secure use reference": pin actions to a full-length commit SHA; give the token the least permissions;
    keep untrusted input out of inline scripts.
    GitHub Docs, "Workflow commands for GitHub Actions" and "Syntax for GitHub's form schema".
"""

from __future__ import annotations

import os
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml

from tests.git_project import commit_all, git, git_project

GITHUB = Path(__file__).parent.parent / ".github"
WORKFLOWS = sorted((GITHUB / "workflows").glob("*.y*ml"))
PINNED = re.compile(r"[\w.-]+/[\w./-]+@[0-9a-f]{40}")


def read(path: Path) -> dict[Any, Any]:
    held = yaml.safe_load(path.read_text(encoding="utf-8"))
    assert isinstance(held, dict)
    return held


def steps(path: Path) -> Iterator[dict[str, Any]]:
    for job in read(path)["jobs"].values():
        yield from job["steps"]


def events(path: Path) -> set[str]:
    """What starts it; YAML 1.1 reads the key `on` as true."""
    held = read(path)
    return set(held.get("on") or held[True])


def test_there_is_a_check_and_a_publication() -> None:
    assert {path.stem for path in WORKFLOWS} == {"check", "publish"}


@pytest.mark.parametrize("path", WORKFLOWS, ids=lambda path: path.stem)
def test_every_action_is_pinned_by_its_commit(path: Path) -> None:
    used = [step["uses"] for step in steps(path) if "uses" in step]
    assert used
    assert [one for one in used if not PINNED.fullmatch(one)] == []


@pytest.mark.parametrize("path", WORKFLOWS, ids=lambda path: path.stem)
def test_every_pin_says_its_version(path: Path) -> None:
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if "uses:" in line]
    assert [line for line in lines if not re.search(r"# v[0-9]+\.[0-9]+\.[0-9]+$", line)] == []


@pytest.mark.parametrize("path", WORKFLOWS, ids=lambda path: path.stem)
def test_the_token_may_only_read(path: Path) -> None:
    assert read(path)["permissions"] == {"contents": "read"}
    own = {name: job["permissions"] for name, job in read(path)["jobs"].items() if "permissions" in job}
    assert own == ({"deploy": {"pages": "write", "id-token": "write"}} if path.stem == "publish" else {})


@pytest.mark.parametrize("path", WORKFLOWS, ids=lambda path: path.stem)
def test_no_event_gives_a_strangers_code_more_than_that(path: Path) -> None:
    assert not events(path) & {"pull_request_target", "workflow_run", "issue_comment", "issues", "pull_request_review"}
    assert ("pull_request" in events(path)) == (path.stem == "check")


@pytest.mark.parametrize("path", WORKFLOWS, ids=lambda path: path.stem)
def test_no_secret_is_named_and_no_credential_kept(path: Path) -> None:
    text = path.read_text(encoding="utf-8").lower()
    for word in ("secrets", "github.token", "github_token"):
        assert word not in text
    checkouts = [step for step in steps(path) if step.get("uses", "").startswith("actions/checkout@")]
    assert checkouts
    assert all(step["with"]["persist-credentials"] is False for step in checkouts)


@pytest.mark.parametrize("path", WORKFLOWS, ids=lambda path: path.stem)
def test_no_expression_becomes_part_of_a_script(path: Path) -> None:
    """A branch or a title can hold quotes and commands; the shell gets them as variables alone, in quotes."""
    for step in steps(path):
        assert "${{" not in step.get("run", "")
        for value in (step.get("env") or {}).values():
            assert "github.event" not in str(value)
        assert not re.search(r'(?<!")(?<!origin/)\$GITHUB_BASE_REF', step.get("run", ""))


def test_the_job_that_may_publish_runs_no_script_and_no_checkout() -> None:
    deploy = read(GITHUB / "workflows/publish.yml")["jobs"]["deploy"]
    assert [step["uses"].partition("@")[0] for step in deploy["steps"]] == ["actions/deploy-pages"]


def test_a_pull_request_is_looked_at_by_git_before_its_own_code_runs() -> None:
    order = [
        step.get("name") or step.get("uses", "")
        for step in read(GITHUB / "workflows/check.yml")["jobs"]["results"]["steps"]
    ]
    assert order[1] == "What it changes, by git alone"
    assert order.index("Install") > 1


def test_what_git_says_of_a_change_cannot_pose_as_anything_else(tmp_path: Path) -> None:
    """The step itself, run: every line of the change is shown as code, and one that looks like a heading stays one."""
    project = git_project(tmp_path / "project")
    git(tmp_path, "clone", "--quiet", str(project.root), "clone")
    page = tmp_path / "clone/catalogue/pages/about.md"
    page.write_text(
        "[a rule](https://law.example/other)\r# Looked over and fine, see https://x.example\n", encoding="utf-8"
    )
    commit_all(tmp_path / "clone")
    (step,) = [
        one for one in steps(GITHUB / "workflows/check.yml") if one.get("name", "").startswith("What it changes")
    ]
    settings = {"GITHUB_BASE_REF": "main", "GITHUB_STEP_SUMMARY": str(tmp_path / "summary")}
    shell = ["bash", "--noprofile", "--norc", "-eo", "pipefail", "-c", step["run"]]
    subprocess.run(shell, cwd=tmp_path / "clone", env=os.environ | settings, check=True)
    lines = (tmp_path / "summary").read_text(encoding="utf-8").splitlines()
    assert "    +[a rule](https://law.example/other)# Looked over and fine, see https://x.example" in lines
    assert any(line.startswith("     catalogue/pages/about.md | ") for line in lines)
    assert [line for line in lines if line and not line.startswith("    ")] == [
        "## Files that this changes",
        "## Lines with an address, an offer or a discount code: look at each",
    ]


def test_a_pull_request_is_checked_annotated_summed_up_and_previewed() -> None:
    held = list(steps(GITHUB / "workflows/check.yml"))
    scripts = "\n".join(step.get("run", "") for step in held)
    assert 'site-builder check --format github --against "origin/$GITHUB_BASE_REF"' in scripts
    assert scripts.count('>> "$GITHUB_STEP_SUMMARY"') == 2
    assert "site-builder build --offline" in scripts
    (upload,) = [step for step in held if step.get("uses", "").startswith("actions/upload-artifact@")]
    assert upload["with"]["name"] == "preview"
    (first, *_) = held
    assert first["with"]["fetch-depth"] == 0


def test_the_form_asks_for_page_number_fault_and_source() -> None:
    form = read(GITHUB / "ISSUE_TEMPLATE/error.yml")
    fields = {one["id"]: one for one in form["body"]}
    assert list(fields) == ["address", "number", "wrong", "source", "name"]
    required = [name for name, one in fields.items() if one.get("validations", {}).get("required")]
    assert required == ["address", "number", "wrong", "source"]
    assert all(one["type"] in {"input", "textarea"} and one["attributes"]["label"] for one in fields.values())
