"""Two builds of the same evidence give the same bytes, whatever the machine says of itself."""

import hashlib
import os
import shutil
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from tests.conftest import ROOT

# Where, when and in which language it runs must not show: folder, zone, locale, order of hashes.
ENVIRONMENTS = (
    {"TZ": "Pacific/Kiritimati", "LC_ALL": "C", "PYTHONHASHSEED": "1"},
    {"TZ": "America/St_Johns", "LC_ALL": "C.UTF-8", "PYTHONHASHSEED": "2", "LANG": "de_DE.UTF-8"},
)
WANTED = ("catalogue", "results", "mkdocs.yml")


def build(folder: Path, environment: dict[str, str]) -> dict[str, str]:
    """The hash of each file of a site built from a copy of the catalogue, by address."""
    folder.mkdir()
    for name in WANTED:
        source = ROOT / name
        (shutil.copytree if source.is_dir() else shutil.copy)(source, folder / name)
    command = [sys.executable, "-m", "site_builder", "build", "--site", str(folder / "site")]
    known = {name: value for name, value in os.environ.items() if name not in {"LANG", "LC_ALL", "TZ"}}
    done = subprocess.run(
        command, cwd=folder, env=known | environment | {"PYTHONPATH": str(ROOT)}, check=False, capture_output=True
    )
    assert done.returncode == 0, done.stderr.decode()
    site = folder / "site"
    return {
        path.relative_to(site).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in site.rglob("*")
        if path.is_file()
    }


def test_two_builds_give_the_same_bytes(tmp_path: Path) -> None:
    with ThreadPoolExecutor(2) as two:
        one, other = two.map(build, (tmp_path / "a", tmp_path / "another-folder"), ENVIRONMENTS)
    assert len(one) > 150
    assert one == other
