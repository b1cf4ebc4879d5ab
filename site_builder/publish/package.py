"""The published data as one package: what each file and column is, and the hash of every file.

Written last, when all other files of the site stand.

Source:
    Frictionless Data, Data Package (v1): `datapackage.json`, tabular data resources, table schemas.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from site_builder.derived import Derived
from site_builder.frames import COUNTS, Frames
from site_builder.nomenclature import (
    LOG_COLUMNS,
    METRICS,
    PARTS,
    SHAPE_VERSION,
    TEST_COLUMNS,
    UNIT_COLUMNS,
    Meaning,
)
from site_builder.publish.cleaned_logs import RecordedLog, cleaned_csv

_LICENCE = {"name": "CC-BY-4.0", "path": "https://creativecommons.org/licenses/by/4.0/", "title": "CC BY 4.0"}
_TYPES = {"": "string", "yes": "boolean", "date": "date"}


def write_package(folder: Path, derived: Derived, frames: Frames, logs: Iterable[RecordedLog]) -> None:
    """Cleaned logs, datapackage.json and SHA256SUMS into the site's `data` folder."""
    resources = [
        _table(folder, "units", frames, "One row per unit."),
        _table(folder, "tests", frames, "One row per test."),
    ]
    for log in logs:
        content, columns = cleaned_csv(log)
        path = folder / log.cleaned_address
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
        resources.append(_log(log, content, columns))
    (folder / "data" / "datapackage.json").write_text(_package(derived, resources), encoding="utf-8")
    (folder / "data" / "SHA256SUMS").write_text(_sums(folder / "data"), encoding="utf-8")


def _package(derived: Derived, resources: list[dict[str, Any]]) -> str:
    document = {
        "profile": "tabular-data-package",
        "name": "bench-tests",
        "title": derived.published.name,
        "description": "Bench tests of batteries: what each test gave, with its uncertainty or bound.",
        "homepage": derived.published.address,
        "version": SHAPE_VERSION,
        "created": f"{derived.as_of.isoformat()}T00:00:00Z",
        "licenses": [_LICENCE],
        "resources": resources,
    }
    return json.dumps(document, ensure_ascii=False, indent=1) + "\n"


def _table(folder: Path, name: str, frames: Frames, says: str) -> dict[str, Any]:
    content = (folder / "data" / f"{name}.csv").read_bytes()
    fields = [_field(column) for column in getattr(frames, name).columns]
    keys: dict[str, Any] = {"primaryKey": "id"} if name == "units" else {"primaryKey": ["unit", "test"]}
    if name == "tests":
        keys["foreignKeys"] = [{"fields": "unit", "reference": {"resource": "units", "fields": "id"}}]
    return _resource(name, f"{name}.csv", content, {"fields": fields, **keys, "missingValues": [""]}) | {
        "description": says
    }


def _log(log: RecordedLog, content: bytes, columns: Iterable[str]) -> dict[str, Any]:
    address = log.cleaned_address.removeprefix("data/")
    fields = [_entry(name, LOG_COLUMNS[name], "number") for name in columns]
    says = f"The rows of the test {log.test} of {log.unit} that were used."
    return _resource(f"log-{log.unit}-{log.test}", address, content, {"fields": fields}) | {"description": says}


def _resource(name: str, path: str, content: bytes, schema: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "profile": "tabular-data-resource",
        "name": name,
        "path": path,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": len(content),
        "hash": f"sha256:{hashlib.sha256(content).hexdigest()}",
        "schema": schema,
    }


def _field(column: str) -> dict[str, Any]:
    """A column of the tables: a number or what stands beside one, else one of the others."""
    for ending, says in PARTS.items():
        name = column.removesuffix(ending)
        if column.endswith(ending) and name in METRICS:
            meaning = METRICS[name]
            is_word = ending in {"_bound", "_basis"}
            title = meaning.title if not ending else f"{meaning.title}: {ending[1:]}"
            unit = "" if is_word else meaning.unit
            return _entry(column, Meaning(unit, title, says or meaning.description), "string" if is_word else "number")
    meaning = {**UNIT_COLUMNS, **TEST_COLUMNS}[column]
    return _entry(column, meaning, "integer" if column in COUNTS else _TYPES.get(meaning.unit, "number"))


def _entry(name: str, meaning: Meaning, kind: str) -> dict[str, Any]:
    unit = {"unit": meaning.unit} if meaning.unit and kind in {"number", "integer"} else {}
    return {"name": name, "title": meaning.title, "description": meaning.description, "type": kind, **unit}


def _sums(folder: Path) -> str:
    """A line for each file, as `sha256sum --check` reads it."""
    return "".join(f"{digest}  {name}\n" for name, digest in sorted(_digests(folder)))


def _digests(folder: Path) -> Iterator[tuple[str, str]]:
    for path in folder.rglob("*"):
        name = path.relative_to(folder).as_posix()
        if path.is_file() and name != "SHA256SUMS" and path.suffix != ".html":
            yield name, hashlib.sha256(path.read_bytes()).hexdigest()
