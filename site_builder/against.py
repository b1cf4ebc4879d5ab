"""The present state held against another revision: which published numbers move, and what has to be said about it.

The other state is unpacked into a temporary folder and read there; its numbers come from its own program where that
differs, since they are what it published. Nothing of the present state is written to.
"""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import site_builder
from site_builder.build import derive_all
from site_builder.catalogue_records import Catalogue
from site_builder.check import log_path
from site_builder.evidence_changes import evidence_of
from site_builder.history_asked import (
    Shared,
    UnitState,
    ask_catalogue,
    ask_changes_kept,
    ask_gone,
    ask_units,
    before,
    changes_since,
)
from site_builder.link_changes import page_links, unit_links
from site_builder.load import Loaded, UnitFile, read_all, unit_paths
from site_builder.problems import Problem, has_errors, in_order
from site_builder.published_numbers import Entry, Moved, moved_numbers
from site_builder.revision import Revision, find_revision, unpack

PROGRAM = "site_builder"


@dataclass(frozen=True, kw_only=True, slots=True)
class Compared:
    """What differs since a revision: the numbers that move, and problems; `notes` say what could not be compared."""

    since: str
    commit: str
    moved: tuple[Moved, ...]
    problems: tuple[Problem, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class _State:
    """One state: where it lies, what was read, its units, and its published numbers by unit."""

    top: Path
    results: Path
    loaded: Loaded
    units: Mapping[str, UnitState]
    numbers: Mapping[str, Entry]


def compare(results: Path, catalogue: Path, name: str) -> Compared:
    """Everything that a reviewer of a change wants to know, beside the problems of the files themselves.

    Args:
        results: The present results folder, inside a git work tree.
        catalogue: The present catalogue; one outside that work tree holds for both states.
        name: A revision.

    Raises:
        RevisionError: The revision cannot be had.
    """
    revision = find_revision(results, name)
    with TemporaryDirectory(prefix="site-builder-") as folder:
        unpack(revision, Path(folder))
        old, notes = _old_state(results, catalogue, revision, Path(folder).resolve())
        new = _state(revision.top, results, catalogue, numbers_here(results, catalogue))
        return _compared(old, new, revision, catalogue, notes)


def _compared(old: _State, new: _State, revision: Revision, catalogue: Path, notes: tuple[str, ...]) -> Compared:
    moved = tuple(_moved(old, new))
    told = changes_since(old.loaded.catalogue.changes, new.loaded.catalogue.changes, new.units)
    shared = Shared(
        fresh=told.fresh,
        causes=_causes(old, new),
        rates_differ=old.loaded.catalogue.rates != new.loaded.catalogue.rates,
        file=_changes_file(new.loaded),
    )
    problems = [
        *ask_units(old.units, new.units, moved, revision.name),
        *ask_gone(old.units, new.units, [path.stem for path in unit_paths(new.results)]),
        *ask_catalogue(old.units, new.units, moved, shared),
        *(ask_changes_kept(told, revision.name, shared.file) if _can_be_read(shared.file, new.loaded) else ()),
        *(page_links(old.top, new.top, catalogue.relative_to(new.top)) if catalogue.is_relative_to(new.top) else ()),
    ]
    for unit in new.units.values():
        was = before(unit, old.units)
        problems += unit_links(was.file if was else None, unit.file)
    return Compared(
        since=revision.name, commit=revision.commit, moved=moved, problems=tuple(in_order(problems)), notes=notes
    )


def _changes_file(loaded: Loaded) -> str:
    document = loaded.documents.get("changes.yml")
    return document.file if document else "catalogue/changes.yml"


def _can_be_read(file: str, loaded: Loaded) -> bool:
    """Whether a file's entries are all there: one with an error counts as empty, and that has been said."""
    return not has_errors(problem for problem in loaded.problems if problem.file == file)


def _moved(old: _State, new: _State) -> Iterator[Moved]:
    """Numbers of units that were published in both states."""
    for name, unit in new.units.items():
        was = before(unit, old.units)
        if was is None or not (was.is_published and unit.is_published):
            continue
        former = old.numbers.get(was.file.record.unit.id)
        if former is not None and name in new.numbers:
            yield from moved_numbers(name, former, new.numbers[name])


def _state(top: Path, results: Path, catalogue: Path, numbers: Mapping[str, Entry]) -> _State:
    loaded = read_all(results, catalogue)
    units = {file.record.unit.id: _unit_state(file, results, loaded.catalogue) for file in loaded.units}
    return _State(top=top, results=results, loaded=loaded, units=units, numbers=numbers)


def _unit_state(file: UnitFile, results: Path, held: Catalogue) -> UnitState:
    unit_id = file.record.unit.id
    logs = {name: log_path(results, unit_id, test.log) for name, test in file.record.tests.items() if test.log}
    hashes = {name: hashlib.sha256(path.read_bytes()).hexdigest() for name, path in logs.items() if path.is_file()}
    prices = tuple(price for price in held.prices if price.unit == unit_id)
    return UnitState(file=file, evidence=evidence_of(file.record, hashes), prices=prices)


def numbers_here(results: Path, catalogue: Path) -> dict[str, Entry]:
    """The published numbers of a state, by this program."""
    from site_builder.publish.data import standing_entry, tests_entry, unit_entry  # noqa: PLC0415  # tables behind it

    derived = derive_all(results, catalogue).derived
    return {unit.id: unit_entry(unit) | tests_entry(unit) | standing_entry(unit, derived) for unit in derived.units}


def _old_state(results: Path, catalogue: Path, revision: Revision, folder: Path) -> tuple[_State, tuple[str, ...]]:
    """The other state with its own numbers; or with this program's on its files, and a note that they are."""
    theirs = folder / results.relative_to(revision.top)
    inside = catalogue.is_relative_to(revision.top)
    held = folder / catalogue.relative_to(revision.top) if inside else catalogue
    if not theirs.is_dir() or not held.is_dir():
        return _state(folder, theirs, held, {}), (f"there are no results in {revision.name}: everything is new",)
    numbers: dict[str, Entry] | None = None
    notes: tuple[str, ...] = ()
    if _has_other_program(revision.top, folder):
        numbers = _numbers_by_their_program(theirs, held, folder)
        if numbers is None:
            notes = (f"the program of {revision.name} did not run: what a change of the code moves is not seen",)
    known = numbers_here(theirs, held) if numbers is None else numbers
    return _state(folder, theirs, held, known), notes


def _has_other_program(top: Path, folder: Path) -> bool:
    """Whether this program belongs to the repository, and its code differs there."""
    own = Path(site_builder.__file__).resolve().parent
    return own == top / PROGRAM and (folder / PROGRAM).is_dir() and _code(own) != _code(folder / PROGRAM)


def _code(package: Path) -> dict[str, bytes]:
    return {path.relative_to(package).as_posix(): path.read_bytes() for path in sorted(package.rglob("*.py"))}


def _numbers_by_their_program(results: Path, catalogue: Path, folder: Path) -> dict[str, Entry] | None:
    """What `check --format json` of the other state says; None where it says nothing that can be read."""
    where = ["--results", str(results), "--catalogue", str(catalogue), "--format", "json"]
    command = [sys.executable, "-m", PROGRAM, "check", *where]
    environment = os.environ | {"PYTHONPATH": str(folder), "PYTHONDONTWRITEBYTECODE": "1"}
    done = subprocess.run(command, cwd=folder, env=environment, check=False, capture_output=True)  # noqa: S603
    try:
        said: Any = json.loads(done.stdout)
        return {str(unit["id"]): unit for unit in said["units"] if isinstance(unit["metrics"], dict)}
    except (ValueError, KeyError, TypeError):
        return None


def _causes(old: _State, new: _State) -> tuple[str, ...]:
    """What differs of all that units share, in words."""
    was, now = old.loaded.catalogue, new.loaded.catalogue
    parts = {
        "instruments.yml": (was.benches, now.benches),
        "loads.yml": (was.loads, now.loads),
        "classes.yml": (was.classes, now.classes),
        "rates.yml": (was.rates, now.rates),
        "grading.yml": (was.grading, now.grading),
    }
    causes = [name for name, (one, other) in parts.items() if one != other]
    return (*causes, "the code") if _has_other_program(new.top, old.top) else tuple(causes)
