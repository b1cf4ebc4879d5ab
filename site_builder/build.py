"""The flow: load → check → derive → grade, rank → frames → render → write.

Reads top to bottom; every step lives elsewhere.
"""

from __future__ import annotations

import datetime as dt
import gc
import hashlib
import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from site_builder.answered import after_answers
from site_builder.asking import asked
from site_builder.check import check_all, log_folder, log_path
from site_builder.check_dates import newest_date
from site_builder.derive.bench_plan import bench_plan
from site_builder.derive.results import UnitResult
from site_builder.derive.unit import class_of, unit_result
from site_builder.derived import Derived, DerivedUnit, LogNote, Published
from site_builder.load import Loaded, UnitFile, read_all
from site_builder.logs import read_log
from site_builder.odd_prices import odd_prices
from site_builder.problems import Problem, has_errors, in_order
from site_builder.scene import bench_of
from site_builder.series import Log
from site_builder.standing import ClassEffect, class_effects, standings

if TYPE_CHECKING:
    from site_builder.publish.cleaned_logs import RecordedLog

GRADING_FILE = "grading.yml"
UNPUBLISHED = Published()


@dataclass(frozen=True, kw_only=True, slots=True)
class Checked:
    """What check and build share: everything derived that could be, and every problem."""

    derived: Derived
    problems: tuple[Problem, ...]


@contextmanager
def without_collector() -> Iterator[None]:
    """Puts off the search for unreachable cycles: what is made here is kept, and looking through it takes a fifth.

    Python looks again whenever so many objects are new; here hundreds of thousands are, and none is to be freed.
    """
    collects = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collects:
            gc.enable()


@without_collector()
def derive_all(
    results: Path, catalogue: Path, only: Iterable[Path] | None = None, *, embargoed: bool = False
) -> Checked:
    """Everything from the files of `results` and `catalogue` (or from some results files only), in one pass.

    What is `embargoed` is left out of everything, unless its own tester asks.
    """
    chosen = None if only is None else frozenset(path.parent.resolve() / path.name for path in only)
    loaded = read_all(results, catalogue, chosen)
    set_date, undated = source_date()
    problems = [*undated, *loaded.problems, *check_all(loaded, results, set_date)]
    problems += odd_prices(loaded.units, loaded if chosen is None else read_all(results, catalogue))
    as_of = set_date or newest_date(loaded)
    if undated:  # numpy reads it too, and ends with an exception where it is no number
        empty = Derived(as_of=as_of, catalogue=loaded.catalogue, units=(), source_hash="")
        return Checked(derived=empty, problems=tuple(in_order(problems)))
    held = [file for file in loaded.units if embargoed or file.record.unit.status != "embargoed"]
    units = [_derived(file, loaded, results, as_of, problems) for file in held]
    for file in loaded.faulty:
        _logs(file, loaded, results, problems)
    unseen = [file for file in loaded.units if not embargoed and file.record.unit.status == "embargoed"]
    problems = after_answers(problems, held, [*loaded.faulty, *unseen])
    derived = Derived(
        as_of=as_of,
        catalogue=loaded.catalogue,
        units=tuple(units),
        source_hash=_source_hash(loaded, units),
        # A grading file with a fault of its own grades nobody: its problems say what to mend.
        standings=standings(units, None if _faulty(problems, GRADING_FILE) else loaded.catalogue.grading),
        asked=asked(units, loaded.catalogue),
    )
    return Checked(derived=derived, problems=tuple(in_order(problems)))


def effects_in_class(results: Path, catalogue: Path, files: Iterable[Path]) -> tuple[ClassEffect, ...]:
    """What each of these results files does to its class, were it published as it stands.

    Only the classes that they belong to are derived.
    """
    loaded = read_all(results, catalogue)
    if loaded.catalogue.grading is None:
        return ()
    chosen = {path.parent.resolve() / path.name for path in files}
    classes = loaded.catalogue.classes
    class_of_file = {file.path: class_of(file.record.label, classes) for file in loaded.units}
    asked = {file.path: file.record.unit.id for file in loaded.units if file.path in chosen}
    met = {class_of_file[path] for path in asked} - {None}
    wanted = [path for path, class_id in class_of_file.items() if class_id in met or path in asked]
    units = derive_all(results, catalogue, wanted, embargoed=True).derived.units
    return class_effects(units, frozenset(asked.values()), loaded.catalogue.grading)


@dataclass(frozen=True, kw_only=True, slots=True)
class Site:
    """What goes into the site: Markdown pages, what stands in their heads, files, and files copied as they are.

    When all of it is in the site's folder, `finish` adds what is made from it.

    With any error there are problems only.
    """

    problems: tuple[Problem, ...]
    as_of: str = ""
    pages: Mapping[str, str] = field(default_factory=dict)
    heads: Mapping[str, str] = field(default_factory=dict)
    files: Mapping[str, str | bytes] = field(default_factory=dict)
    copies: Mapping[str, Path] = field(default_factory=dict)
    finish: Callable[[Path], None] = lambda folder: None  # noqa: ARG005  # nothing to finish


def render_pages_only(results: Path, catalogue: Path) -> Site:
    """The flow as far as the Markdown pages; writes nothing."""
    checked = derive_all(results, catalogue)
    if has_errors(checked.problems):
        return Site(problems=checked.problems)
    # Pages, charts and frames pull in slow libraries that `check` does not need.
    from site_builder.frames import frames_of  # noqa: PLC0415
    from site_builder.pages import render_pages  # noqa: PLC0415

    return Site(problems=checked.problems, pages=render_pages(checked.derived, frames_of(checked.derived)))


@without_collector()
def render_site(results: Path, catalogue: Path, published: Published = UNPUBLISHED, cache: Path | None = None) -> Site:
    """The whole flow, from files to pages and files; writes nothing but into `cache`, where slow files are kept."""
    checked = derive_all(results, catalogue)
    if has_errors(checked.problems):
        return Site(problems=checked.problems)
    from site_builder.frames import frames_of  # noqa: PLC0415
    from site_builder.pages import render_pages  # noqa: PLC0415
    from site_builder.publish.files import render_files  # noqa: PLC0415
    from site_builder.publish.heads import unit_head  # noqa: PLC0415
    from site_builder.publish.package import write_package  # noqa: PLC0415

    derived = replace(checked.derived, published=published)
    frames = frames_of(derived)
    pages = render_pages(derived, frames)
    return Site(
        problems=checked.problems,
        as_of=derived.as_of.isoformat(),
        pages=pages,
        heads={f"units/{unit.id}.md": unit_head(unit, derived) for unit in derived.units},
        files=render_files(derived, frames, pages, catalogue / "pages", cache),
        copies=_log_files(derived, results),
        finish=partial(write_package, derived=derived, frames=frames, logs=_recorded_logs(derived, results)),
    )


def _log_files(derived: Derived, results: Path) -> dict[str, Path]:
    """Address below the site → the log as it was recorded."""
    return {
        f"data/logs/{unit.id}/{note.file}": log_path(results, unit.id, note.file)
        for unit in derived.units
        for note in unit.logs.values()
    }


def _recorded_logs(derived: Derived, results: Path) -> list[RecordedLog]:
    """Every log that was used, to be published as it was used."""
    from site_builder.publish.cleaned_logs import RecordedLog  # noqa: PLC0415

    logs = []
    for unit in derived.units:
        for test, note in unit.logs.items():
            bench = derived.catalogue.benches[unit.record.tests[test].bench or unit.record.bench or ""]
            if bench.log is not None:
                path = log_path(results, unit.id, note.file)
                logs.append(RecordedLog(unit=unit.id, test=test, path=path, form=bench.log))
    return logs


def _faulty(problems: Iterable[Problem], name: str) -> bool:
    return any(problem.severity == "error" and problem.file.endswith(name) for problem in problems)


def source_date() -> tuple[dt.date | None, tuple[Problem, ...]]:
    """The date of SOURCE_DATE_EPOCH, where it is set, the only clock there is; or why it is none.

    Source:
        Reproducible Builds, SOURCE_DATE_EPOCH specification: seconds since 1970 in ASCII digits; a build with a
        malformed one should fail.
    """
    epoch = os.environ.get("SOURCE_DATE_EPOCH")
    if epoch is None:
        return None, ()
    # Eleven digits reach the year 5138; dates end in the year 9999.
    if epoch.isascii() and epoch.isdigit() and len(epoch) <= 11:
        return dt.datetime.fromtimestamp(int(epoch), dt.UTC).date(), ()
    message = f"{epoch[:40]!r} is no number of seconds since 1970" if epoch else "it is set to nothing"
    hint = "set it to whole seconds, such as 1767225600 for 1 January 2026, or unset it"
    return None, (
        Problem(
            file="SOURCE_DATE_EPOCH", line=0, column=0, field="", message=message, hint=hint, code="source-date-epoch"
        ),
    )


def _derived(file: UnitFile, loaded: Loaded, results: Path, as_of: dt.date, problems: list[Problem]) -> DerivedUnit:
    logs, notes = _logs(file, loaded, results, problems)
    held = loaded.catalogue
    prices = [price for price in held.prices if price.unit == file.record.unit.id]
    result = unit_result(file.record, logs, held, prices, as_of)
    problems += _findings(file, result)
    plan = bench_plan(file.record.label, held.benches.get(file.record.bench or ""), held.loads)
    return DerivedUnit(record=file.record, result=result, logs=notes, written=file.document.text or "", plan=plan)


def _logs(
    file: UnitFile, loaded: Loaded, results: Path, problems: list[Problem]
) -> tuple[dict[str, Log], dict[str, LogNote]]:
    """The logs that can be read, by test; what is wrong with the others becomes problems of their file."""
    logs: dict[str, Log] = {}
    notes: dict[str, LogNote] = {}
    broken = {problem.field for problem in problems if problem.file == file.document.file}
    folder = log_folder(results, file)
    for name, test in file.record.tests.items():
        bench = bench_of(file, name, loaded.catalogue)
        if test.log is None or bench is None or bench.log is None or f"tests.{name}.log" in broken:
            continue
        log, faults = read_log(log_path(results, folder, test.log), bench.log)
        shown = f"{results.name}/logs/{folder}/{test.log}"
        problems += [fault.problem(shown) for fault in faults]
        if log is not None:
            logs[name] = log
            words = tuple(f"line {fault.line}: {fault.message}; {fault.hint}" for fault in faults)
            lines = (int(log.line[0]), int(log.line[-1])) if len(log.line) else (0, 0)
            notes[name] = LogNote(
                file=test.log, sha256=log.sha256, rows=log.rows, used_rows=len(log.time_s), lines=lines, faults=words
            )
    return logs, notes


def _findings(file: UnitFile, result: UnitResult) -> list[Problem]:
    """What the derivations noticed, each at its test."""
    found = [(name, finding) for name, one in result.tests.items() for finding in one.findings]
    problems = []
    for name, finding in (*found, *result.findings):
        inside = [int(step) if step.isdigit() else step for step in finding.field.split(".") if step]
        path = ("tests", name, *inside)
        words = (finding.message, finding.hint, finding.code)
        problems.append(file.document.problem(path, *words, severity=finding.severity))
    return problems


def _source_hash(loaded: Loaded, units: Iterable[DerivedUnit]) -> str:
    """A hash of everything recorded, so that published data says what it was made from."""
    digest = hashlib.sha256()
    documents = [unit.document for unit in loaded.units] + list(loaded.documents.values())
    for document in sorted(documents, key=lambda one: one.file):
        digest.update(f"{document.file} {document.sha256}\n".encode())
    for price in loaded.catalogue.prices:
        digest.update(f"{price!r}\n".encode())
    for unit in units:
        for name, note in unit.logs.items():
            digest.update(f"{unit.id} {name} {note.sha256}\n".encode())
    return digest.hexdigest()
