"""What no single field can show: names that lead nowhere, dates and times in an impossible order, ids and paths.

Checks are functions in a list; each looks at one unit (or at all) and returns its problems. Nothing is derived here.
"""

from __future__ import annotations

import datetime as dt
import difflib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from site_builder.bench_tests import AnyTest, ColdChargeTest
from site_builder.catalogue_records import Bench, Catalogue
from site_builder.check_grading import check_grading
from site_builder.derive.unit import class_of
from site_builder.load import Loaded, UnitFile, unit_paths
from site_builder.problems import Problem
from site_builder.yaml_text import Path as FieldPath


@dataclass(frozen=True, kw_only=True, slots=True)
class Scene:
    """One unit among what it may refer to; `unread` are the catalogue's files with an error of their own."""

    unit: UnitFile
    catalogue: Catalogue
    results: Path
    not_after: dt.date | None
    unread: frozenset[str] = frozenset()

    def problem(self, path: FieldPath, message: str, hint: str, code: str, severity: Any = "error") -> Problem:
        """A finding in this unit's file."""
        return self.unit.document.problem(path, message, hint, code, severity=severity)

    def tests(self) -> Iterator[tuple[str, Any, Bench | None]]:
        """Name, test, bench."""
        record = self.unit.record
        for name, test in record.tests.items():
            yield name, test, self.catalogue.benches.get(test.bench or record.bench or "")

    def names_bench(self, test: AnyTest) -> bool:
        """Whether test or file name a bench at all, be it known or not."""
        return bool(test.bench or self.unit.record.bench)


def check_all(loaded: Loaded, results: Path, not_after: dt.date | None) -> list[Problem]:
    """Every problem that reading did not find.

    Args:
        loaded: What was read.
        results: The results folder.
        not_after: SOURCE_DATE_EPOCH's date where it is set; no test may be later.
    """
    problems: list[Problem] = []
    unread = _unread(loaded)
    for unit in loaded.units:
        scene = Scene(unit=unit, catalogue=loaded.catalogue, results=results, not_after=not_after, unread=unread)
        for check in UNIT_CHECKS:
            problems += check(scene)
    problems += check_ids_once(loaded.units)
    problems += check_prices(loaded, results, unread)
    problems += check_benches(loaded)
    problems += check_grading(loaded, unread)
    return problems


def _unread(loaded: Loaded) -> frozenset[str]:
    """Catalogue files with an error: what they declare is unknown, so that nobody can say that a name is missing."""
    faulty = {problem.file for problem in loaded.problems if problem.severity == "error"}
    return frozenset(name for name, document in loaded.documents.items() if document.file in faulty)


def check_id(scene: Scene) -> Iterable[Problem]:
    """The id is the file's name and the page's address."""
    unit_id, stem = scene.unit.record.unit.id, scene.unit.path.stem
    if unit_id != stem:
        yield scene.problem(
            ("unit", "id"),
            f"the id {unit_id!r} is not the file's name",
            f"call the file {unit_id}.yml, or write id: {stem}",
            "id-file",
        )
    for i, former in enumerate(scene.unit.record.unit.former_ids):
        if former == unit_id:
            path = ("unit", "former_ids", i)
            yield scene.problem(path, "this is the present id", "list only ids it had before", "id-former")


def check_reason(scene: Scene) -> Iterable[Problem]:
    """A withdrawn unit says why."""
    unit = scene.unit.record.unit
    if unit.status == "withdrawn" and not unit.reason:
        yield scene.problem(("unit",), "a withdrawn unit needs a reason", "add reason: … under unit", "reason-missing")


def check_class(scene: Scene) -> Iterable[Problem]:
    """Where classes are declared, every unit is in one."""
    if scene.catalogue.classes and class_of(scene.unit.record.label, scene.catalogue.classes) is None:
        label = scene.unit.record.label
        message = f"{label.nominal_v.best:g} V, {label.capacity_ah.best:g} Ah, {label.chemistry} is in no class"
        yield scene.problem(
            ("label",), message, "correct the label, or add a class to catalogue/classes.yml", "class-none"
        )


def check_names(scene: Scene) -> Iterable[Problem]:
    """Benches, samples, loads, inverters, instruments, videos and tests that are referred to must exist."""
    record, catalogue = scene.unit.record, scene.catalogue
    if record.bench:
        yield from _known(scene, ("bench",), record.bench, catalogue.benches, "bench")
    for name, test, bench in scene.tests():
        at: FieldPath = ("tests", name)
        yield from _known(scene, (*at, "bench"), test.bench, catalogue.benches, "bench")
        yield from _known(scene, (*at, "sample"), test.sample, record.samples, "sample")
        if test.video:
            yield from _known(scene, (*at, "video", "in"), test.video.in_, record.videos, "video")
        for load in getattr(test, "load", None) or ():
            yield from _known(scene, (*at, "load"), load, catalogue.loads, "load")
        yield from _known(scene, (*at, "after"), getattr(test, "after", None), record.tests, "test")
        yield from _names_of_bench(scene, at, test, bench)
    for i, entry in enumerate(record.history):
        yield from _known(scene, ("history", i, "sample"), entry.sample, record.samples, "sample")
        for j, test_name in enumerate(entry.tests):
            yield from _known(scene, ("history", i, "tests", j), test_name, record.tests, "test")
    for i, answer in enumerate(record.acknowledged):
        for j, test_name in enumerate(answer.tests):
            yield from _known(scene, ("acknowledged", i, "tests", j), test_name, record.tests, "test")


def _names_of_bench(scene: Scene, at: FieldPath, test: AnyTest, bench: Bench | None) -> Iterable[Problem]:
    named = [((*at, "read_on"), test.read_on, "instrument")]
    if isinstance(test, ColdChargeTest):
        named += [((*at, "readings", i, "read_on"), one.read_on, "instrument") for i, one in enumerate(test.readings)]
    named.append(((*at, "inverter"), getattr(test, "inverter", None), "inverter"))
    for path, name, what in named:
        if bench is not None:
            known: Mapping[str, Any] = bench.instruments if what == "instrument" else bench.inverters
            yield from _known(scene, path, name, known, what, " on this bench")
        elif name and not scene.names_bench(test):
            message = f"no bench declares the {what} {name!r}"
            yield scene.problem(path, message, "name the bench of this test", f"{what}-no-bench")


_DECLARED_IN = {"bench": "instruments.yml", "load": "loads.yml"}


def _known(
    scene: Scene, path: FieldPath, name: str | None, known: Mapping[str, Any], what: str, where: str = ""
) -> Iterable[Problem]:
    if name is None or name in known or _DECLARED_IN.get(what) in scene.unread:
        return
    near = difflib.get_close_matches(name, list(known), n=1, cutoff=0.6)
    some = ", ".join(list(known)[:12])
    hint = f"did you mean {near[0]!r}?" if near else f"known: {some}" if some else f"no {what} is declared{where}"
    yield scene.problem(path, f"there is no {what} {name!r}{where}", hint, f"unknown-{what}")


def check_samples(scene: Scene) -> Iterable[Problem]:
    """With several samples, every test names its own."""
    record = scene.unit.record
    if len(record.samples) < 2:
        return
    for name, test in record.tests.items():
        if test.sample is None:
            hint = f"add sample: one of {', '.join(record.samples)}"
            yield scene.problem(
                ("tests", name), "this test does not say which sample it was made on", hint, "sample-missing"
            )


def check_dates(scene: Scene) -> Iterable[Problem]:
    """Nothing is dated after the catalogue's set date; no test before its bench stood or its sample was there."""
    samples = scene.unit.record.samples
    for name, test, bench in scene.tests():
        sample = samples.get(test.sample or next(iter(samples), ""))
        for key, date in _dates(test):
            path: FieldPath = ("tests", name, key)
            if scene.not_after and date > scene.not_after:
                message = f"{date} is after the catalogue's date {scene.not_after}"
                yield scene.problem(path, message, "correct the date, or publish later", "date-future")
            if bench is not None and date < bench.since:
                message = f"{date} is before the bench stood like this ({bench.since})"
                yield scene.problem(path, message, "name the bench entry of that time", "date-bench")
            if sample and sample.date and date < sample.date:
                message = f"{date} is before the sample was obtained ({sample.date})"
                yield scene.problem(path, message, "correct one of the two", "date-sample")


def _dates(test: AnyTest) -> Iterator[tuple[str, dt.date]]:
    """The keys of a test that say a day, with it."""
    days = {"date": test.date, "started": test.started and test.started.date, "ended": test.ended and test.ended.date}
    yield from ((key, day) for key, day in days.items() if day)


def check_times(scene: Scene) -> Iterable[Problem]:
    """Ends come after starts; a video's scene does too."""
    for name, test, _ in scene.tests():
        start, end = test.started, test.ended
        if start and end and start.date and end.date:
            backwards = end.date < start.date or (end.date == start.date and _ends_before(start, end))
            if backwards:
                ended: FieldPath = ("tests", name, "ended")
                yield scene.problem(
                    ended, f"{end.text} is before the start {start.text}", "correct one of the two", "time-order"
                )
        if (
            test.video
            and test.video.from_ is not None
            and test.video.to is not None
            and test.video.to <= test.video.from_
        ):
            to: FieldPath = ("tests", name, "video", "to")
            yield scene.problem(to, "the scene ends before it starts", "write from before to", "time-order")


def _ends_before(start: Any, end: Any) -> bool:
    return start.earliest_s is not None and end.latest_s is not None and end.latest_s < start.earliest_s


def check_log_paths(scene: Scene) -> Iterable[Problem]:
    """A log is a plain file inside the results folder, and its bench says how it is written."""
    for name, test, bench in scene.tests():
        if test.log is None:
            continue
        path: FieldPath = ("tests", name, "log")
        fault = _log_fault(scene, test.log)
        if fault:
            yield scene.problem(path, *fault)
        elif not scene.names_bench(test):
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


def _log_fault(scene: Scene, log: str) -> tuple[str, str, str] | None:
    path = log_path(scene.results, scene.unit.record.unit.id, log)
    try:
        inside = path.resolve().is_relative_to(scene.results.resolve())
        there = inside and path.exists()
        plain = there and path.is_file()
    except (OSError, RuntimeError, ValueError):  # a link to itself is a RuntimeError
        return f"{log[:80]!r} is no path", "write the file's name", "log-path"
    if not inside:
        return (
            f"{log[:80]!r} leads out of the results folder",
            f"put it into results/logs/{scene.unit.record.unit.id}/",
            "log-outside",
        )
    if not there:
        return f"there is no log {log[:80]!r}", f"put it into results/logs/{scene.unit.record.unit.id}/", "log-missing"
    if not plain:
        return f"{log[:80]!r} is no plain file", "name the log file itself", "log-path"
    return None


def check_prices(loaded: Loaded, results: Path, unread: frozenset[str]) -> Iterable[Problem]:
    """Each price belongs to a unit, if only to one whose file has an error, and its currency has a rate."""
    known = {path.stem for path in unit_paths(results)}
    rated = {loaded.catalogue.rates.currency} | {rate.currency for rate in loaded.catalogue.rates.rates}
    for line, price in zip(loaded.price_lines, loaded.catalogue.prices, strict=True):
        where = f"{results.name}/prices.csv", line
        if price.currency not in rated and "rates.yml" not in unread:
            message, hint = f"there is no rate for {price.currency}", "add one to catalogue/rates.yml"
            yield _of_prices(*where, "currency", message, hint, "currency-unknown")
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


def check_benches(loaded: Loaded) -> Iterable[Problem]:
    """Columns and shared sensors of a bench name instruments that it has."""
    document = loaded.documents.get("instruments.yml")
    if document is None:
        return
    for bench_id, bench in loaded.catalogue.benches.items():
        for path, name in _bench_references(bench):
            if name is not None and name not in bench.instruments:
                hint = f"known: {', '.join(bench.instruments)}" if bench.instruments else "declare it first"
                yield document.problem(
                    (bench_id, *path), f"there is no instrument {name!r} on this bench", hint, "unknown-instrument"
                )


def _bench_references(bench: Bench) -> Iterator[tuple[FieldPath, str | None]]:
    for name, one in bench.instruments.items():
        yield ("instruments", name, "same_gain_as"), one.same_gain_as
    for i, calibration in enumerate(bench.calibrations):
        yield ("calibrations", i, "instrument"), calibration.instrument
    if bench.log:
        for role in ("current", "voltage", "battery_c", "ambient_c", "cell_current"):
            column = getattr(bench.log, role)
            yield ("log", role, "on"), column.on if column else None


UNIT_CHECKS: tuple[Callable[[Scene], Iterable[Problem]], ...] = (
    check_id,
    check_reason,
    check_class,
    check_names,
    check_samples,
    check_dates,
    check_times,
    check_log_paths,
)
