"""Files that are slow to make and depend on a text and its maker alone: made once, and kept beside the project."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path


def kept(folder: Path | None, made_from: str, made_by: str, make: Callable[[str], bytes]) -> bytes:
    """What `make` gives for the text; from `folder` where it was made before, and put there where it was not.

    The name is a hash of the text and of what makes it, with its version, so that nothing stale is ever taken. With no
    folder it is always made.
    """
    if folder is None:
        return make(made_from)
    path = folder / hashlib.sha256(f"{made_by}\n{made_from}".encode()).hexdigest()
    if path.is_file():
        return path.read_bytes()
    content = make(made_from)
    folder.mkdir(parents=True, exist_ok=True)
    # Another build may read it at the same moment: it appears whole or not at all.
    partial = path.with_suffix(".part")
    partial.write_bytes(content)
    partial.replace(path)
    return content
