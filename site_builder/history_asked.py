"""Where a change of published results has to be told: in the unit's own history, or once for all in changes.yml.

Compares two states of what was read and says what is missing, as problems. Derives nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from site_builder.catalogue_records import Change, Price
from site_builder.evidence_changes import Evidence, changed_paths, touched_tests
from site_builder.load import UnitFile
from site_builder.problems import Problem, Severity
from site_builder.published_numbers import MONEY, Moved
from site_builder.records import History
from site_builder.told_entries import Told, change_facts, history_facts, told_since
from site_builder.yaml_text import Path as FieldPath

SHOWN = ("published", "withdrawn")  # states in which a unit's history is on the site
NAMED = 4  # changed fields and numbers that a message spells out


@dataclass(frozen=True, kw_only=True, slots=True)
class UnitState:
    """One unit in one state: its file, the evidence in it, the rows of its prices."""

    file: UnitFile
    evidence: Evidence
    prices: tuple[Price, ...] = ()

    @property
    def is_published(self) -> bool:
        """Whether its results are on the site."""
        return self.file.record.unit.status == "published"

    @property
    def benches(self) -> frozenset[str]:
        """The benches that its tests were made on."""
        record = self.file.record
        return frozenset(test.bench or record.bench or "" for test in record.tests.values())


States = Mapping[str, UnitState]


def before(unit: UnitState, old: States) -> UnitState | None:
    """The same unit in the other state, be it under a former id."""
    ids = (unit.file.record.unit.id, *unit.file.record.unit.former_ids)
    return next((old[name] for name in ids if name in old), None)


def own_changes(unit: UnitState, old: States) -> tuple[str, ...]:
    """Paths of a published unit's own evidence that changed; none where it was not published before."""
    was = before(unit, old)
    if was is None or not (was.is_published and unit.is_published):
        return ()
    return changed_paths(was.evidence, unit.evidence)


def ask_units(old: States, new: States, moved: Sequence[Moved], since: str) -> Iterator[Problem]:
    """An entry of history for each published unit whose own evidence changed, and for one that is new."""
    for name, unit in new.items():
        was = before(unit, old)
        if unit.is_published and not (was and was.is_published) and not unit.file.record.history:
            message, hint = (
                "results are published for the first time",
                "add to history: {date: …, what: added, note: …}",
            )
            yield _at_history(unit, f"{message}, and the page of changes does not say so", hint, "history-added")
        paths = own_changes(unit, old)
        told = history_since(unit, was)
        if was is not None and was.file.record.unit.status in SHOWN:
            yield from _kept(told, since, partial(_at_history, unit), "history")
        lacking = _untold(paths, unit, [entry.tests for entry in told.fresh])
        if lacking is not None:
            numbers = [str(one) for one in moved if one.unit == name]
            said = f": {_some(numbers, '; ')}" if numbers else "; no published number moves"
            message = f"{_some(paths)} changed since {since}, and no new entry of history tells it{said}"
            yield _at_history(unit, message, _way_out(lacking, was), "history-missing")


def history_since(unit: UnitState, was: UnitState | None) -> Told[History]:
    """What became of a unit's history since the other state."""
    now = unit.file.record
    before_that = was.file.record if was else None
    old = before_that or now
    lasting = {*now.tests, *now.samples} & {*old.tests, *old.samples}
    return told_since(before_that.history if before_that else (), now.history, history_facts(lasting))


def ask_changes_kept(told: Told[Change], since: str, file: str) -> Iterator[Problem]:
    """Published entries of changes.yml stay, as those of a history do."""

    def at_file(message: str, hint: str, code: str) -> Problem:
        severity = _severity(code)
        return Problem(file=file, line=0, column=0, field="", message=message, hint=hint, code=code, severity=severity)

    yield from _kept(told, since, at_file, "changes")


def _kept(
    told: Told[History] | Told[Change], since: str, problem: Callable[[str, str, str], Problem], what: str
) -> Iterator[Problem]:
    """What was published of the past stays: readers were told it, and may look for it."""
    if told.gone:
        message = f"entries that were published are gone or altered since {since}: {_dated(told.gone)}"
        hint = "put each back as it was; what is wrong in one, say in a new entry"
        yield problem(message, hint, f"{what}-gone")
    if told.reworded:
        message = f"the words of published entries changed since {since}: {_dated(told.reworded)}"
        hint = "fine for a slip of the pen; such an entry tells nothing new"
        yield problem(message, hint, f"{what}-reworded")


def _dated(entries: Sequence[History] | Sequence[Change]) -> str:
    return _some([f"{one.what} of {one.date}" for one in entries])


def _untold(paths: Sequence[str], unit: UnitState, told: Sequence[tuple[str, ...]]) -> tuple[str, ...] | None:
    """Tests that changed and that no new entry names; None where all is told. An entry without tests tells all."""
    if not paths or any(not tests for tests in told):
        return None
    changed = {name for name in touched_tests(paths) if name in unit.file.record.tests}
    lacking = changed - {name for tests in told for name in tests}
    return tuple(sorted(lacking)) if lacking or not told else None


def _way_out(tests: Sequence[str], was: UnitState | None) -> str:
    is_new = was is not None and tests and all(name not in was.file.record.tests for name in tests)
    named = f"tests: [{', '.join(tests)}], " if tests else ""
    return f"add to history: {{date: …, what: {'retested' if is_new else 'corrected'}, {named}note: …}}"


def _at_history(unit: UnitState, message: str, hint: str, code: str) -> Problem:
    path: FieldPath = ("history",) if unit.file.record.history else ("unit",)
    return unit.file.document.problem(path, message, hint, code, severity=_severity(code))


def _severity(code: str) -> Severity:
    return "warning" if code in {"history-added", "history-reworded", "changes-reworded"} else "error"


def ask_gone(old: States, new: States, there: Iterable[str]) -> Iterator[Problem]:
    """A page that was published stays, if only to say why: links lead there.

    Args:
        old: The other state.
        new: The present one.
        there: Ids of all present results files, those that cannot be read too.
    """
    kept = set(there) | {former for unit in new.values() for former in unit.file.record.unit.former_ids}
    for name, unit in old.items():
        now = new.get(name)
        if not unit.is_published or (now is None and name in kept):
            continue
        hint = "keep the file with status: withdrawn and a reason, or name its id among another's former_ids"
        if now is None:
            yield _gone(unit.file.document.file, "a published unit is gone, and links to its page with it", hint)
        elif now.file.record.unit.status in {"planned", "testing", "embargoed"}:
            message = f"a published unit is {now.file.record.unit.status} now, and its results are gone"
            yield now.file.document.problem(("unit",), message, "write status: withdrawn and a reason", "page-gone")


def _gone(file: str, message: str, hint: str) -> Problem:
    return Problem(file=file, line=0, column=0, field="", message=message, hint=hint, code="page-gone")


@dataclass(frozen=True, kw_only=True, slots=True)
class Shared:
    """What is shared by many units: new entries of changes.yml, what of the catalogue differs, where to write."""

    fresh: tuple[Change, ...]
    causes: tuple[str, ...]
    rates_differ: bool
    file: str


def changes_since(old: Sequence[Change], new: Sequence[Change], units: States) -> Told[Change]:
    """What became of the entries of changes.yml since the other state."""
    records = [unit.file.record.unit for unit in units.values()]
    names_now = {former: one.id for one in records for former in one.former_ids}
    return told_since(old, new, change_facts(names_now))


def ask_catalogue(old: States, new: States, moved: Sequence[Moved], shared: Shared) -> Iterator[Problem]:
    """One entry in all for numbers that moved although the unit's own evidence did not."""
    untold: dict[str, Moved] = {}
    for one in moved:
        unit = new[one.unit]
        was = before(unit, old)
        if one.is_first or was is None or own_changes(unit, old) or not (was.is_published and unit.is_published):
            continue
        priced = one.name in MONEY and (shared.rates_differ or was.prices != unit.prices)
        if not priced and not any(_covers(change, unit) for change in shared.fresh):
            untold.setdefault(one.unit, one)
    if untold:
        because = f" ({_some(shared.causes)})" if shared.causes else ""
        examples = _some([f"{one.unit} {one}" for one in untold.values()], "; ")
        message = f"numbers move although the units' own evidence did not{because}: {examples}"
        hint = "add one entry for all: {date: …, what: bench, grading, method, load or code, note: …}"
        code = "changes-missing"
        yield Problem(file=shared.file, line=0, column=0, field="", message=message, hint=hint, code=code)


def _covers(change: Change, unit: UnitState) -> bool:
    if change.units:
        return unit.file.record.unit.id in change.units
    return change.bench is None or change.bench in unit.benches


def _some(words: Sequence[str], between: str = ", ") -> str:
    more = len(words) - NAMED
    return between.join([*words[:NAMED], *([f"{more} more"] if more > 0 else [])])
