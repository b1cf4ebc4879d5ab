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


# --- steps, run -------------------------------------------------------------------------------------------------------
# What a runner starts for `shell: bash`, and where nothing is said ("Workflow syntax", jobs.<job_id>.steps[*].shell).
SHELLS = {"bash": ["bash", "--noprofile", "--norc", "-eo", "pipefail"], None: ["bash", "-e"]}
GONE = "## Addresses, offers and discount codes that are gone or replaced: look at each"
OFFERS = "## New offers and discount codes: look at each"
IN_RESULTS = "## New addresses in results: look at each"
ELSEWHERE = "## New addresses elsewhere: look at each"


def run_step(name: str, folder: Path, temp: Path, path: Path = GITHUB / "workflows/check.yml") -> tuple[int, list[str]]:
    """Run a step's script by the shell that it gets on a runner; its exit code and the lines of the summary."""
    held = read(path)
    (job, step) = next(
        (job, one) for job in held["jobs"].values() for one in job["steps"] if one.get("name", "").startswith(name)
    )
    places: list[dict[str, Any]] = [step, *(one.get("defaults", {}).get("run", {}) for one in (job, held))]
    shell = SHELLS[next((one["shell"] for one in places if "shell" in one), None)]
    script, summary = temp / "step.sh", temp / "summary"
    script.write_text(step["run"], encoding="utf-8")
    summary.write_text("", encoding="utf-8")
    settings = {"GITHUB_BASE_REF": "main", "GITHUB_STEP_SUMMARY": str(summary), "RUNNER_TEMP": str(temp)}
    path_of_programs = {"PATH": f"{temp / 'bin'}{os.pathsep}{os.environ['PATH']}"}
    done = subprocess.run([*shell, str(script)], cwd=folder, env=os.environ | settings | path_of_programs, check=False)
    return done.returncode, summary.read_text(encoding="utf-8").splitlines()


def below(heading: str, lines: list[str]) -> list[str]:
    """What stands below a heading, without empty lines."""
    after = lines[lines.index(heading) + 1 :]
    end = next((at for at, line in enumerate(after) if line.startswith("## ")), len(after))
    return [line for line in after[:end] if line]


@pytest.fixture
def clone(tmp_path: Path) -> Path:
    """The small project as a branch of it that somebody is at work on."""
    project = git_project(tmp_path / "project")
    git(tmp_path, "clone", "--quiet", str(project.root), "clone")
    return tmp_path / "clone"


@pytest.mark.parametrize("path", WORKFLOWS, ids=lambda path: path.stem)
def test_every_script_fails_where_any_part_of_a_pipe_does(path: Path) -> None:
    assert read(path)["defaults"]["run"]["shell"] == "bash"


def test_what_git_says_of_a_change_cannot_pose_as_anything_else(tmp_path: Path, clone: Path) -> None:
    """The step itself, run: every line of the change is shown as code, and one that looks like a heading stays one."""
    page = clone / "catalogue/pages/about.md"
    page.write_text(
        "[a rule](https://law.example/other)\r# Looked over and fine, see https://x.example\n", encoding="utf-8"
    )
    commit_all(clone)
    code, lines = run_step("What it changes", clone, tmp_path)
    assert code == 0
    assert "    +[a rule](https://law.example/other)# Looked over and fine, see https://x.example" in lines
    assert any(line.startswith("     catalogue/pages/about.md | ") for line in lines)
    assert [line for line in lines if line and not line.startswith("    ")] == [
        "## Files that this changes",
        *(GONE, OFFERS, IN_RESULTS, ELSEWHERE),
    ]
    assert below(GONE, lines) == ["    -See [the rule](https://law.example/rule)."]
    assert below(OFFERS, lines) == below(IN_RESULTS, lines) == ["    none"]


def test_a_change_cannot_call_itself_binary_to_hide_an_offer(tmp_path: Path, clone: Path) -> None:
    offer = '  - {url: "https://shop.example/t90", pays: tester}\n'
    path = clone / "results/tarn-t90.yml"
    path.write_text(f"{path.read_text(encoding='utf-8')}offers:\n{offer}", encoding="utf-8")
    (clone / ".gitattributes").write_text("results/*.yml binary\n", encoding="utf-8")
    commit_all(clone)
    code, lines = run_step("What it changes", clone, tmp_path)
    assert code == 0
    assert below(OFFERS, lines) == [f"    +{offer.rstrip()}"]
    assert any(line.startswith("     results/tarn-t90.yml | ") for line in lines)


def test_many_new_addresses_push_no_changed_one_out_and_what_is_left_out_is_counted(
    tmp_path: Path, clone: Path
) -> None:
    path = clone / "results/tarn-t90.yml"
    held = path.read_text(encoding="utf-8")
    offers = 'offers:\n  - {url: "https://shop.example/t90", pays: club}\n'
    path.write_text(held + offers, encoding="utf-8")
    git(clone, "push", "--quiet", "origin", f"{commit_all(clone)}:refs/heads/base")
    git(clone, "fetch", "--quiet", "origin", "base:refs/remotes/origin/main")
    path.write_text(held + offers.replace("club", "tester"), encoding="utf-8")
    padding = "".join(f"https://law.example/{i}\n" for i in range(321))
    (clone / "catalogue/pages/about.md").write_text(padding, encoding="utf-8")
    (clone / "results/a.txt").write_text(padding, encoding="utf-8")
    commit_all(clone)
    code, lines = run_step("What it changes", clone, tmp_path)
    assert code == 0
    assert '    -  - {url: "https://shop.example/t90", pays: club}' in below(GONE, lines)
    assert below(OFFERS, lines) == ['    +  - {url: "https://shop.example/t90", pays: tester}']
    left_out = "**21 more lines are left out here: read them in the files.**"
    assert below(ELSEWHERE, lines)[-1] == left_out
    assert len(below(ELSEWHERE, lines)) == 301
    assert below(IN_RESULTS, lines)[-1] == "**22 more lines are left out here: read them in the files.**"


def test_a_line_that_is_cut_says_so(tmp_path: Path, clone: Path) -> None:
    (clone / "catalogue/pages/more.md").write_text("HTTPS://law.example/" + "x" * 2000 + "\n", encoding="utf-8")
    commit_all(clone)
    assert [(line[-11:], len(line)) for line in below(ELSEWHERE, run_step("What it", clone, tmp_path)[1])] == [
        (" … and more", 4 + 400 + 11)
    ]


def test_an_error_that_check_finds_makes_its_step_fail_and_is_summed_up(tmp_path: Path, clone: Path) -> None:
    program = tmp_path / "bin/site-builder"
    program.parent.mkdir()
    program.write_text("#!/bin/sh\necho '::error file=a::wrong'\necho 'a: wrong'\nexit 1\n", encoding="utf-8")
    program.chmod(0o755)
    assert run_step("Check, and what it moves", clone, tmp_path)[0] == 1
    code, lines = run_step("The same as a summary", clone, tmp_path)
    assert (code, lines[2:]) == (0, ["    a: wrong"])


@pytest.mark.parametrize(("said", "words"), [("", "nothing"), (None, "it did not run")])
def test_a_summary_of_nothing_says_why(tmp_path: Path, clone: Path, said: str | None, words: str) -> None:
    if said is not None:
        (tmp_path / "check.txt").write_text(said, encoding="utf-8")
    code, lines = run_step("The same as a summary", clone, tmp_path)
    assert (code, lines[2:]) == (0, [f"    {words}"])


def test_a_base_that_git_does_not_have_is_no_empty_change(tmp_path: Path, clone: Path) -> None:
    git(clone, "update-ref", "-d", "refs/remotes/origin/main")
    assert run_step("What it changes", clone, tmp_path)[0] != 0


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
