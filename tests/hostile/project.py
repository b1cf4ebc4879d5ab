"""A whole project whose every text is given: some of the demo's results, its catalogue, and what both leave out."""

from __future__ import annotations

import csv
import io
import shutil
from pathlib import Path
from typing import Any

from filelock import FileLock

from site_builder import load
from site_builder.__main__ import main
from site_builder.catalogue_records import Rates
from site_builder.grading_records import Grading
from site_builder.records import ResultsFile
from site_builder.yaml_text import parsed
from site_builder.yaml_text import written as yaml_line
from tests.conftest import ROOT
from tests.hostile.every_text import Write, written

# Between them they have every kind of record; the test of the walk says so.
UNITS = ("ferngate-f90", "nettle-95", "thrushby-t100", "gannetholm-g24", "larkstile-l200", "wendlecote-w100")
CATALOGUE = {
    "instruments.yml": load.Benches,
    "loads.yml": load.Loads,
    "classes.yml": load.Classes,
    "changes.yml": load.Changes,
    "rates.yml": Rates,
    "grading.yml": Grading,
}
LOG_NAME = "run <img src=x onerror=hit()> [a](javascript:hit()) {: #b } \"c' {{ d }}.csv"


def make_project(folder: Path, write: Write, log_name: str = LOG_NAME) -> Path:
    """Files with `write` in every text field; the folder is laid out as this project's own."""
    folder.mkdir(parents=True)
    shutil.copy(ROOT / "mkdocs.yml", folder)
    shutil.copytree(ROOT / "catalogue", folder / "catalogue")
    for name, model in CATALOGUE.items():
        path = folder / "catalogue" / name
        path.write_text(yaml_line(written(model, _read(path), write)), encoding="utf-8")
    for unit in UNITS:
        data = _read(ROOT / "results" / f"{unit}.yml") | _more(unit)
        target = folder / "results" / f"{unit}.yml"
        target.parent.mkdir(exist_ok=True)
        text = yaml_line(written(ResultsFile, data, write))
        logs = ROOT / "results" / "logs" / unit
        if logs.is_dir():
            shutil.copytree(logs, folder / "results" / "logs" / unit)
        if unit == "nettle-95":
            text = _renamed_log(text, folder / "results" / "logs" / unit, log_name)
        target.write_text(text, encoding="utf-8")
    _write_prices(folder, write(("Price", "seller")))
    return folder


def _read(path: Path) -> Any:
    document = parsed(path.read_bytes(), path.name)
    assert not document.problems
    return document.data


def _more(unit: str) -> dict[str, Any]:
    """What the demo's files do not say: a disputed entry, an offer that still holds."""
    if unit != "ferngate-f90":
        return {}
    entry = {"date": "2026-08-01", "what": "disputed", "note": "x", "found_by": "x", "kept_because": "x"}
    return {
        "history": [entry],
        "offers": [{"url": "https://example.org/shop/ferngate-f90", "pays": "club"}],
        "acknowledged": [{"code": "density", "reason": "x"}],
    }


def _renamed_log(text: str, logs: Path, name: str) -> str:
    """The unit's first log under another name."""
    old = next(path for path in sorted(logs.iterdir()) if f"log: {path.name}" in text)
    new = name.replace(".csv", "".join(old.suffixes))
    old.rename(old.with_name(new))
    return text.replace(f"log: {old.name}", f"log: {yaml_line(new)}")


def _write_prices(folder: Path, seller: str) -> None:
    source = (ROOT / "results" / "prices.csv").read_text("utf-8")
    rows = [row for row in csv.DictReader(io.StringIO(source)) if row["unit"] in UNITS]
    with (folder / "results" / "prices.csv").open("w", encoding="utf-8", newline="") as stream:
        table = csv.DictWriter(stream, list(rows[0]), lineterminator="\n")
        table.writeheader()
        table.writerows(row | {"seller": seller} for row in rows)


def built(around: Path, write: Write, log_name: str) -> Path:
    """The site's folder; whichever worker comes first builds it for all, and notes what changed around it."""
    project, site, changed = around / "project", around / "out" / "site", around / "changed.txt"
    with FileLock(around.with_suffix(".lock")):
        if not changed.exists():
            make_project(project, write, log_name)
            for sentinel in (around / "sentinel", project / "sentinel", around / "out" / "sentinel"):
                sentinel.parent.mkdir(exist_ok=True)
                sentinel.write_text("stays", encoding="utf-8")
            for path in (project / "results", *(project / "results").rglob("*")):
                path.chmod(0o555 if path.is_dir() else 0o444)
            before = states(around, site)
            assert main(["build", "--config", str(project / "mkdocs.yml"), "--site", str(site)]) == 0
            after = states(around, site)
            differing = {path for path in before.keys() | after.keys() if before.get(path) != after.get(path)}
            changed.write_text("\n".join(sorted(differing)), encoding="utf-8")
    return site


def states(folder: Path, site: Path) -> dict[str, tuple[int, int]]:
    """Size and time of the last change of everything but the site, by its place in the folder."""
    found = {path: path.lstat() for path in folder.rglob("*") if not path.is_relative_to(site)}
    files = {path: state for path, state in found.items() if not path.is_dir()}
    return {str(path.relative_to(folder)): (state.st_size, state.st_mtime_ns) for path, state in files.items()}
