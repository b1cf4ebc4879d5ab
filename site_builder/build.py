"""The flow: load → check → derive → grade, rank → frames → render → write.

Reads top to bottom; every step lives elsewhere.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from site_builder.check import check_all, log_path
from site_builder.derive.results import UnitResult
from site_builder.derive.unit import class_of, unit_result
from site_builder.derived import Derived, DerivedUnit, LogNote
from site_builder.load import Loaded, UnitFile, read_all
from site_builder.logs import read_log
from site_builder.problems import Problem, has_errors, in_order
from site_builder.series import Log
from site_builder.standing import ClassEffect, class_effects, standings

GRADING_FILE = "grading.yml"


@dataclass(frozen=True, kw_only=True, slots=True)
class Checked:
    """What check and build share: everything derived that could be, and every problem."""

    derived: Derived
    problems: tuple[Problem, ...]


def derive_all(
    results: Path, catalogue: Path, only: Iterable[Path] | None = None, *, embargoed: bool = False
) -> Checked:
    """Everything from the files of `results` and `catalogue` (or from some results files only), in one pass.

    What is `embargoed` is left out of everything, unless its own tester asks.
    """
    chosen = None if only is None else frozenset(path.parent.resolve() / path.name for path in only)
    loaded = read_all(results, catalogue, chosen)
    set_date = source_date()
    problems = [*loaded.problems, *check_all(loaded, results, set_date)]
    as_of = set_date or newest_date(loaded)
    held = [file for file in loaded.units if embargoed or file.record.unit.status != "embargoed"]
    units = [_derived(file, loaded, results, as_of, problems) for file in held]
    derived = Derived(
        as_of=as_of,
        catalogue=loaded.catalogue,
        units=tuple(units),
        source_hash=_source_hash(loaded, units),
        # A grading file with a fault of its own grades nobody: its problems say what to mend.
        standings=standings(units, None if _faulty(problems, GRADING_FILE) else loaded.catalogue.grading),
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
    """What goes into the site: Markdown pages and text files by address, and files that are copied as they are.

    With any error there are problems only.
    """

    problems: tuple[Problem, ...]
    pages: Mapping[str, str] = field(default_factory=dict)
    files: Mapping[str, str] = field(default_factory=dict)
    copies: Mapping[str, Path] = field(default_factory=dict)


def render_site(results: Path, catalogue: Path) -> Site:
    """The whole flow, from files to pages; writes nothing."""
    checked = derive_all(results, catalogue)
    if has_errors(checked.problems):
        return Site(problems=checked.problems)
    # Pages, charts and frames pull in slow libraries that `check` does not need.
    from site_builder.charts import chart_script  # noqa: PLC0415
    from site_builder.frames import frames_of  # noqa: PLC0415
    from site_builder.pages import render_pages  # noqa: PLC0415
    from site_builder.publish.data import render_data_files  # noqa: PLC0415

    derived = checked.derived
    frames = frames_of(derived)
    pages = render_pages(derived, frames)
    files = {**render_data_files(derived, frames), "assets/charts-library.js": chart_script()}
    return Site(problems=checked.problems, pages=pages, files=files, copies=_log_files(derived, results))


def _log_files(derived: Derived, results: Path) -> dict[str, Path]:
    """Address below the site → the log as it was recorded."""
    return {
        f"data/logs/{unit.id}/{note.file}": log_path(results, unit.id, note.file)
        for unit in derived.units
        for note in unit.logs.values()
    }


def _faulty(problems: Iterable[Problem], name: str) -> bool:
    return any(problem.severity == "error" and problem.file.endswith(name) for problem in problems)


def source_date() -> dt.date | None:
    """The date of SOURCE_DATE_EPOCH, where it is set; the only clock there is."""
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    # Eleven digits reach the year 5138; dates end in the year 9999.
    known = epoch.isascii() and epoch.isdigit() and len(epoch) <= 11
    return dt.datetime.fromtimestamp(int(epoch), dt.UTC).date() if known else None


def newest_date(loaded: Loaded) -> dt.date:
    """The newest test, history, price or video date; an offer's last day does not count."""
    dates = [price.date for price in loaded.catalogue.prices] + [change.date for change in loaded.catalogue.changes]
    for unit in loaded.units:
        record = unit.record
        dates += [test.date for test in record.tests.values() if test.date]
        dates += [entry.date for entry in record.history] + [video.date for video in record.videos.values()]
        dates += [sample.date for sample in record.samples.values() if sample.date]
    return max(dates, default=dt.date(1970, 1, 1))


def _derived(file: UnitFile, loaded: Loaded, results: Path, as_of: dt.date, problems: list[Problem]) -> DerivedUnit:
    logs, notes = _logs(file, loaded, results, problems)
    held = loaded.catalogue
    prices = [price for price in held.prices if price.unit == file.record.unit.id]
    result = unit_result(file.record, logs, held, prices, as_of)
    problems += _findings(file, result)
    return DerivedUnit(record=file.record, result=result, logs=notes)


def _logs(
    file: UnitFile, loaded: Loaded, results: Path, problems: list[Problem]
) -> tuple[dict[str, Log], dict[str, LogNote]]:
    """The logs that can be read, by test; what is wrong with the others becomes problems of their file."""
    logs: dict[str, Log] = {}
    notes: dict[str, LogNote] = {}
    broken = {problem.field for problem in problems if problem.file == file.document.file}
    for name, test in file.record.tests.items():
        bench = loaded.catalogue.benches.get(test.bench or file.record.bench or "")
        if test.log is None or bench is None or bench.log is None or f"tests.{name}.log" in broken:
            continue
        log, faults = read_log(log_path(results, file.record.unit.id, test.log), bench.log)
        shown = f"{results.name}/logs/{file.record.unit.id}/{test.log}"
        answered = {answer.code for answer in file.record.acknowledged if not answer.tests or name in answer.tests}
        problems += [
            fault.problem(shown) for fault in faults if fault.severity == "error" or fault.code not in answered
        ]
        if log is not None:
            logs[name] = log
            words = tuple(f"line {fault.line}: {fault.message}; {fault.hint}" for fault in faults)
            lines = (int(log.line[0]), int(log.line[-1])) if len(log.line) else (0, 0)
            notes[name] = LogNote(
                file=test.log, sha256=log.sha256, rows=log.rows, used_rows=len(log.time_s), lines=lines, faults=words
            )
    return logs, notes


def _findings(file: UnitFile, result: UnitResult) -> list[Problem]:
    """Warnings of the derivations, except those that the file answers with a reason."""
    answered = {(answer.code, test) for answer in file.record.acknowledged for test in (answer.tests or result.tests)}
    found = [(name, finding) for name, one in result.tests.items() for finding in one.findings]
    problems = []
    for name, finding in (*found, *result.findings):
        path = ("tests", name, finding.field) if finding.field else ("tests", name)
        words = (finding.message, finding.hint, finding.code)
        if (finding.code, name) not in answered:
            problems.append(file.document.problem(path, *words, severity="warning"))
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
