"""Another state of the project from git, unpacked into a folder of its own. Never touches the work tree or its index.

The only file that calls git. Which numbers that state gives is not known here.
"""

from __future__ import annotations

import io
import os
import subprocess
import tarfile
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

# Set inside a git hook: they would point every call at that hook's repository and index.
_OF_A_HOOK = ("GIT_DIR", "GIT_WORK_TREE", "GIT_INDEX_FILE", "GIT_PREFIX")


class RevisionError(Exception):
    """A state that cannot be had: what is wrong, and a way out."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Revision:
    """A commit, and the top folder of the repository that it is in."""

    name: str
    commit: str
    top: Path


def find_revision(folder: Path, name: str) -> Revision:
    """The last state that a revision and the present one have in common, so that only one's own changes show.

    Args:
        folder: A folder of the work tree.
        name: What git calls the revision: a branch, a tag, a commit.

    Raises:
        RevisionError: No git, no repository, no such revision, or too short a history.
    """
    top = Path(_git(folder, "rev-parse", "--show-toplevel").decode("utf-8", "surrogateescape").rstrip("\n"))
    is_shallow = _git(folder, "rev-parse", "--is-shallow-repository").strip() == b"true"
    deepen = "this clone has only a part of its history; get the rest with `git fetch --unshallow`"
    try:
        named = _git(folder, "rev-parse", "--verify", "--quiet", "--end-of-options", f"{name}^{{commit}}")
    except RevisionError:
        way_out = deepen if is_shallow else "see `git branch --all` for names, or get it with `git fetch`"
        raise RevisionError(f"git knows no revision {name!r}; {way_out}") from None
    try:
        shared = _git(folder, "merge-base", "HEAD", named.decode().strip())
    except RevisionError:
        way_out = deepen if is_shallow else "name a revision that this branch grew from"
        raise RevisionError(f"{name!r} and the present state have no commit in common; {way_out}") from None
    return Revision(name=name, commit=shared.decode().strip(), top=top.resolve())


def unpack(revision: Revision, into: Path) -> None:
    """Write the revision's plain files below a folder; links are left out, since nothing may lead out of it.

    Raises:
        RevisionError: git cannot read them, as where a partial clone is offline.
    """
    packed = _git(revision.top, "archive", "--format=tar", revision.commit)
    with tarfile.open(fileobj=io.BytesIO(packed)) as archive:
        for member in archive:
            parts = PurePosixPath(member.name).parts
            held = archive.extractfile(member) if member.isreg() else None
            if held is not None and parts and not member.name.startswith("/") and ".." not in parts:
                target = into.joinpath(*parts)
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_bytes(held.read())


def _git(folder: Path, *arguments: str) -> bytes:
    environment = {name: value for name, value in os.environ.items() if name not in _OF_A_HOOK}
    command = ["git", "-C", str(folder), *arguments]
    try:
        done = subprocess.run(command, env=environment, check=False, capture_output=True)  # noqa: S603  # our own words
    except FileNotFoundError:
        raise RevisionError("git is not installed; install it, or leave --against out") from None
    if done.returncode:
        said = " ".join(done.stderr.decode("utf-8", "replace").split()) or "no reason given"
        hint = "go to a clone of the catalogue, or leave --against out"
        raise RevisionError(f"git cannot help in {folder} ({said}); {hint}")
    return done.stdout
