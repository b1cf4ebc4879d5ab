"""What no single field can show: names that lead nowhere, ids claimed twice, paths; dates and times stand elsewhere.

Checks are functions in a list; each looks at one unit (or at all) and returns its problems. Nothing is derived here.
"""

from __future__ import annotations

import datetime as dt
import difflib
import re
from collections.abc import Callable, Collection, Iterable
from pathlib import Path

from site_builder.bench_tests import AnyTest, ColdChargeTest
from site_builder.catalogue_records import Bench
from site_builder.check_benches import check_benches
from site_builder.check_dates import check_changes, check_dates, future
from site_builder.check_grading import check_grading
from site_builder.check_times import check_readings, check_refills, check_times
from site_builder.derive.unit import class_of
from site_builder.load import Loaded, UnitFile, unit_paths
from site_builder.problems import Problem, at_most
from site_builder.scene import Scene
from site_builder.yaml_text import Path as FieldPath
from site_builder.yaml_text import shown_path

# Logs are published under their own names: none may pose as a page or a server's settings, or lead to other addresses.
_PART = r"[^\x00-\x1f\x7f./\\][^\x00-\x1f\x7f/\\]*"
LOG_NAME = re.compile(rf"(?:{_PART}/)*{_PART}\.(?:(?:csv|tsv|txt)(?:\.(?:gz|xz))?|parquet)", re.IGNORECASE)
# Their pages would stand where those of all units, all loads and the empty sheet do.
RESERVED = frozenset({"index", "blank"})
READING = re.compile(r"tests\.[^.\[]+\.readings\[[0-9]+\]")
HOW_IT_WAS_READ = frozenset({"at", "where", "read_on"})


def check_all(loaded: Loaded, results: Path, not_after: dt.date | None) -> list[Problem]:
    """Every problem that reading did not find, in what is sound of a faulty file too.

    Args:
        loaded: What was read.
        results: The results folder.
        not_after: SOURCE_DATE_EPOCH's date where it is set; no test may be later.
    """
    problems: list[Problem] = []
    unread = _unread(loaded)
    readable = (*loaded.units, *loaded.faulty)
    for unit in readable:
        scene = Scene(unit=unit, catalogue=loaded.catalogue, results=results, not_after=not_after, unread=unread)
        for check in UNIT_CHECKS:
            problems += at_most(check(scene))
    problems += at_most(check_ids_once(unit for unit in readable if not unit.lacks("unit.id")))
    problems += at_most(check_prices(loaded, results, unread, not_after))
    problems += at_most(check_changes(loaded, not_after))
    problems += at_most(check_pages(loaded))
    problems += at_most(check_benches(loaded))
    problems += at_most(check_grading(loaded, unread))
    return problems


def _unread(loaded: Loaded) -> frozenset[str]:
    """Catalogue files with an error: what they declare is unknown, so that nobody can say that a name is missing."""
    faulty = {problem.file for problem in loaded.problems if problem.severity == "error"}
    return frozenset(name for name, document in loaded.documents.items() if document.file in faulty)


def check_id(scene: Scene) -> Iterable[Problem]:
    """The id is the file's name and the page's address."""
    unit_id, stem = scene.unit.record.unit.id, scene.unit.path.stem
    if unit_id != stem and not scene.unit.lacks("unit.id"):
        yield scene.problem(
            ("unit", "id"),
            f"the id {unit_id!r} is not the file's name",
            f"call the file {unit_id}.yml, or write id: {stem}",
            "id-file",
        )
    if unit_id in RESERVED:
        yield scene.problem(("unit", "id"), *_reserved(unit_id))
    for i, former in enumerate(scene.unit.record.unit.former_ids):
        if former in RESERVED:
            yield scene.problem(("unit", "former_ids", i), *_reserved(former))
        if former == unit_id:
            path = ("unit", "former_ids", i)
            yield scene.problem(path, "this is the present id", "list only ids it had before", "id-former")


def _reserved(name: str) -> tuple[str, str, str]:
    return f"{name!r} is the address of another page", "choose another name", "name-reserved"


def check_pages(loaded: Loaded) -> Iterable[Problem]:
    """Loads and classes are addresses too."""
    for file, names in (("loads.yml", loaded.catalogue.loads), ("classes.yml", loaded.catalogue.classes)):
        for name in sorted(RESERVED & set(names)):
            yield loaded.documents[file].problem((name,), *_reserved(name), of_key=True)


def check_reason(scene: Scene) -> Iterable[Problem]:
    """A withdrawn unit says why."""
    unit = scene.unit.record.unit
    if unit.status == "withdrawn" and not unit.reason and not scene.unit.lacks("unit.reason"):
        yield scene.problem(("unit",), "a withdrawn unit needs a reason", "add reason: … under unit", "reason-missing")


def check_class(scene: Scene) -> Iterable[Problem]:
    """Where classes are declared, every unit is in one."""
    if any(scene.unit.lacks(f"label.{key}") for key in ("nominal_v", "capacity_ah", "chemistry")):
        return
    if scene.catalogue.classes and class_of(scene.unit.record.label, scene.catalogue.classes) is None:
        label = scene.unit.record.label
        message = f"{label.nominal_v.best:g} V, {label.capacity_ah.best:g} Ah, {label.chemistry} is in no class"
        yield scene.problem(
            ("label",), message, "correct the label, or add a class to catalogue/classes.yml", "class-none"
        )


def check_names(scene: Scene) -> Iterable[Problem]:
    """Benches, samples, loads, inverters, instruments, videos and tests that are referred to must exist."""
    record, catalogue = scene.unit.record, scene.catalogue
    samples, tests = scene.unit.names("samples"), scene.unit.names("tests")
    if record.bench:
        yield from _known(scene, ("bench",), record.bench, catalogue.benches, "bench")
    for name, test, bench in scene.tests():
        at: FieldPath = ("tests", name)
        yield from _known(scene, (*at, "bench"), test.bench, catalogue.benches, "bench")
        yield from _known(scene, (*at, "sample"), test.sample, samples, "sample")
        if test.video:
            yield from _known(scene, (*at, "video", "in"), test.video.in_, scene.unit.names("videos"), "video")
        for load in getattr(test, "load", None) or ():
            yield from _known(scene, (*at, "load"), load, catalogue.loads, "load")
        yield from _known(scene, (*at, "after"), getattr(test, "after", None), tests, "test")
        yield from _names_of_bench(scene, at, test, bench)
    for i, entry in enumerate(record.history):
        yield from _known(scene, ("history", i, "sample"), entry.sample, samples, "sample")
        for j, test_name in enumerate(entry.tests):
            yield from _known(scene, ("history", i, "tests", j), test_name, tests, "test")
    for i, answer in enumerate(record.acknowledged):
        for j, test_name in enumerate(answer.tests):
            yield from _known(scene, ("acknowledged", i, "tests", j), test_name, tests, "test")


def _names_of_bench(scene: Scene, at: FieldPath, test: AnyTest, bench: Bench | None) -> Iterable[Problem]:
    named = [((*at, "read_on"), test.read_on, "instrument")]
    if isinstance(test, ColdChargeTest):
        named += [((*at, "readings", i, "read_on"), one.read_on, "instrument") for i, one in enumerate(test.readings)]
    named.append(((*at, "inverter"), getattr(test, "inverter", None), "inverter"))
    for path, name, what in named:
        if bench is not None:
            known: Iterable[str] = bench.instruments if what == "instrument" else bench.inverters
            yield from _known(scene, path, name, tuple(known), what, " on this bench")
        elif name and not scene.names_bench(str(at[1])):
            message = f"no bench declares the {what} {name!r}"
            yield scene.problem(path, message, "name the bench of this test", f"{what}-no-bench")


SOME = 20  # names told in one message
_DECLARED_IN = {"bench": "instruments.yml", "load": "loads.yml"}


def _known(
    scene: Scene, path: FieldPath, name: str | None, known: Collection[str], what: str, where: str = ""
) -> Iterable[Problem]:
    if name is None or name in known or _DECLARED_IN.get(what) in scene.unread or scene.unit.lacks(f"{what}s"):
        return
    alike = difflib.get_close_matches(name, list(known), n=1, cutoff=0.6)
    near = alike or [one for one in known if len(name) > 2 and name in one][:1]
    many = f"known: {', '.join([*known][:SOME])}" + (f" and {len(known) - SOME} more" if len(known) > SOME else "")
    hint = f"did you mean {near[0]!r}?" if near else many if known else f"no {what} is declared{where}"
    yield scene.problem(path, f"there is no {what} {name!r}{where}", hint, f"unknown-{what}")


def check_samples(scene: Scene) -> Iterable[Problem]:
    """With several samples, every test names its own."""
    samples = scene.unit.names("samples")
    if len(samples) < 2:
        return
    for name, test in scene.unit.record.tests.items():
        if test.sample is None and not scene.unit.lacks(f"tests.{name}.sample"):
            hint = f"add sample: one of {', '.join(samples)}"
            yield scene.problem(
                ("tests", name), "this test does not say which sample it was made on", hint, "sample-missing"
            )


def check_seen(scene: Scene) -> Iterable[Problem]:
    """A reading of a cold test tells what was seen, besides when, where and on what it was read."""
    faulty = {found[0] for cut in scene.unit.cut if (found := READING.match(cut))}
    for name, test, _ in scene.tests():
        for i, one in enumerate(test.readings if isinstance(test, ColdChargeTest) else ()):
            path: FieldPath = ("tests", name, "readings", i)
            if one.model_fields_set <= HOW_IT_WAS_READ and shown_path(path) not in faulty:
                way_out = "add what was seen, such as battery_c or charge, or delete the reading"
                yield scene.problem(path, "nothing was seen here", way_out, "reading-empty")


def check_evidence(scene: Scene) -> Iterable[Problem]:
    """A test whose evidence was not kept has no log."""
    for name, test in scene.unit.record.tests.items():
        if test.evidence == "reported" and test.log is not None:
            message = "a log is named, so that evidence was kept"
            yield scene.problem(("tests", name, "evidence"), message, "take away log: or evidence:", "evidence-kept")


def check_log_paths(scene: Scene) -> Iterable[Problem]:
    """A log is a plain file inside the results folder, and its bench says how it is written."""
    for name, test, bench in scene.tests():
        if test.log is None:
            continue
        path: FieldPath = ("tests", name, "log")
        fault = _log_fault(scene, test.log)
        if fault:
            yield scene.problem(path, *fault)
        elif not scene.names_bench(name):
            yield scene.problem(
                path, "no bench says how this log is written", "name the bench of this test", "log-no-bench"
            )
        elif bench is not None and bench.log is None:
            yield scene.problem(
                path, "the bench does not say how its logs are written", "add log: to the bench", "log-no-format"
            )


def log_path(results: Path, unit: str, log: str) -> Path:
    """Where a test's log lies."""
    return results / "logs" / unit / log


def log_folder(results: Path, unit: UnitFile) -> str:
    """The folder of a unit's logs: its id, which is the file's name.

    Where they differ, which is a problem of its own, the file's name unless only the id has a folder: all logs as well
    would be missing else.
    """
    stem, unit_id = unit.path.stem, unit.record.unit.id
    if stem == unit_id or (results / "logs" / stem).is_dir():
        return stem
    return unit_id if (results / "logs" / unit_id).is_dir() else stem


def _log_fault(scene: Scene, log: str) -> tuple[str, str, str] | None:
    folder = log_folder(scene.results, scene.unit)
    path = log_path(scene.results, folder, log)
    try:
        inside = path.resolve().is_relative_to(scene.results.resolve())
        there = inside and path.exists()
        plain = there and path.is_file()
    except (OSError, RuntimeError, ValueError):  # a link to itself is a RuntimeError
        return f"{log[:80]!r} is no path", "write the file's name", "log-path"
    if not inside:
        return f"{log[:80]!r} leads out of the results folder", f"put it into results/logs/{folder}/", "log-outside"
    if not there:
        return f"there is no log {log[:80]!r}", f"put it into results/logs/{folder}/", "log-missing"
    if not plain:
        return f"{log[:80]!r} is no plain file", "name the log file itself", "log-path"
    if not LOG_NAME.fullmatch(log):
        return (
            f"{log[:80]!r} is no name for a log",
            "call it run.csv, .tsv, .txt (or packed: .gz, .xz) or .parquet",
            "log-name",
        )
    return None


def check_prices(loaded: Loaded, results: Path, unread: frozenset[str], not_after: dt.date | None) -> Iterable[Problem]:
    """Each price belongs to a unit, if only to one whose file has an error, has a rate, and is not of tomorrow."""
    known = {path.stem for path in unit_paths(results)}
    rated = {loaded.catalogue.rates.currency} | {rate.currency for rate in loaded.catalogue.rates.rates}
    for line, price in zip(loaded.price_lines, loaded.catalogue.prices, strict=True):
        where = f"{results.name}/prices.csv", line
        if price.currency not in rated and "rates.yml" not in unread:
            message, hint = f"there is no rate for {price.currency}", "add one to catalogue/rates.yml"
            yield _of_prices(*where, "currency", message, hint, "currency-unknown")
        if not_after and price.date > not_after:
            yield _of_prices(*where, "date", *future(price.date, not_after))
        if price.unit not in known:
            near = difflib.get_close_matches(price.unit, known, n=1, cutoff=0.6)
            hint = f"did you mean {near[0]!r}?" if near else "write the name of its results file, without .yml"
            yield _of_prices(*where, "unit", f"there is no unit {price.unit!r}", hint, "unknown-unit")


def _of_prices(file: str, line: int, field: str, message: str, hint: str, code: str) -> Problem:
    return Problem(file=file, line=line, column=1, field=field, message=message, hint=hint, code=code)


def check_ids_once(units: Iterable[UnitFile]) -> Iterable[Problem]:
    """One id, one file; a former id is nobody's present or other former one. Differing by case counts as the same."""
    # The file of that name owns an id before any other, and a present id comes before a former one.
    in_turn = sorted(units, key=lambda unit: unit.path.stem != unit.record.unit.id)
    claims: list[tuple[UnitFile, FieldPath, str]] = [(unit, ("unit", "id"), unit.record.unit.id) for unit in in_turn]
    for unit in in_turn:
        former_ids = enumerate(unit.record.unit.former_ids)
        claims += [(unit, ("unit", "former_ids", i), id_) for i, id_ in former_ids if id_ != unit.record.unit.id]
    owners: dict[str, UnitFile] = {}
    for unit, path, claimed in claims:
        owner = owners.setdefault(claimed.casefold(), unit)
        if owner is not unit:
            message = f"{claimed!r} is claimed by {owner.document.file} too"
            yield unit.document.problem(path, message, "leave it to one of the two", "id-twice")


UNIT_CHECKS: tuple[Callable[[Scene], Iterable[Problem]], ...] = (
    check_id,
    check_reason,
    check_class,
    check_names,
    check_samples,
    check_dates,
    check_times,
    check_readings,
    check_seen,
    check_refills,
    check_evidence,
    check_log_paths,
)
