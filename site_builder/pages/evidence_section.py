"""The section on evidence, and the boxes above everything."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from urllib.parse import quote

from markupsafe import Markup

from site_builder.bench_tests import CapacityTest, InVideo, OneTest
from site_builder.catalogue_records import Bench, Calibration, Change
from site_builder.derive.cold_charge import SAFETY
from site_builder.derive.headline import date_of
from site_builder.derive.reported import is_reported
from site_builder.derived import Derived, DerivedUnit, LogNote
from site_builder.measured import NOT_KEPT
from site_builder.pages.capacity_section import date_cell
from site_builder.pages.disclosure import after_the, obtained, offers_words
from site_builder.pages.history_words import corrected_since, dated_entry, touches
from site_builder.pages.recorded import anchor, circumstances, limits_of, spoken
from site_builder.pages.safe_text import safe, sentence
from site_builder.pages.text import day, listed, number, quantity, stated
from site_builder.pages.video_words import seconds_words, video_link
from site_builder.pages.views import Box, Cell, Fold, Section, Table, Words, columns
from site_builder.records import ResultsFile, Sample

KINDS = {
    "capacity": "a discharge from full to the end",
    "load_run": "an appliance on it",
    "overload": "currents above its label",
    "cold_charge": "charging it frozen",
    "resistance": "its voltage under two currents",
    "charge": "filling it up",
    "standby": "a month on the shelf",
    "balance": "its cells' voltages",
    "build": "weighing and measuring it",
}


ALL_REPORTED = (
    "Evidence not kept: somebody wrote these figures down, and neither log, instrument nor video of them was kept. "
    "They stand without ±, and have no score and no place."
)


def boxes(unit: DerivedUnit) -> tuple[Box, ...]:
    """Withdrawn, safety, died, disputed: with the word for it, above everything."""
    record = unit.record
    said: list[Box] = []
    if record.unit.status == "withdrawn":
        said.append(Box(word="Withdrawn", says=sentence("{}", record.unit.reason or "no reason was given")))
    if any(SAFETY in result.conditions for result in unit.result.tests.values()):
        said.append(Box(word="Safety", says=_charges_frozen(unit)))
    if record.tests and all(is_reported(test) for test in record.tests.values()):
        said.append(Box(word="Reported", says=ALL_REPORTED))
    if not any(entry.what == "died" for entry in record.history):
        ended = {name: test for name, test in record.tests.items() if isinstance(test, CapacityTest)}
        said += [
            Box(word="Died", says=sentence("It died before the end of {}.", anchor(name)))
            for name, test in ended.items()
            if test.ended_by == "died"
        ]
    words = {"died": "Died", "disputed": "Disputed"}
    for entry in record.history:
        if entry.what in words:
            kept = sentence(" The result stands because: {}", entry.kept_because) if entry.kept_because else ""
            said.append(
                Box(
                    word=sentence("{}, {}", words[entry.what], day(entry.date)), says=sentence("{}{}", entry.note, kept)
                )
            )
    return tuple(said)


def _charges_frozen(unit: DerivedUnit) -> Markup:
    claim = unit.record.label.charge.min_c if unit.record.label.charge else None
    limit = (
        sentence("its label allows none below {}", stated(claim, "°C")) if claim else Markup("its label names no limit")
    )
    at = unit.result.metrics.get("accepted_from_c")
    took = sentence("Took charge into its cells at {}", quantity(at)) if at else Markup("Took charge into frozen cells")
    plating = Markup('Charging frozen lithium cells <a href="../../cautions/#cold">damages them for good</a>.')
    return sentence("{}; {}. {}", took, limit, plating)


def evidence_section(unit: DerivedUnit, derived: Derived) -> Section:
    """Bench, instruments, logs, what was not tested, corrections, disclosure."""
    record, benches = unit.record, derived.catalogue.benches
    not_tested = [words for kind, words in KINDS.items() if kind not in {test.kind for test in record.tests.values()}]
    says: list[Words] = []
    if record.view:
        says.append(_view(record, record.view, [benches[name] for name in _bench_names(unit) if name in benches]))
    says += [sentence("{}", offer) for offer in offers_words(record, derived.as_of)]
    if not record.tests:
        says.append("There is none yet: nothing was tested.")
    elif not_tested and record.unit.status == "published":
        says.append(sentence("Not tested: {}.", listed(not_tested)))
    folds = [
        _instruments(benches[name], i == 0) for i, name in enumerate(n for n in _bench_names(unit) if n in benches)
    ]
    folds += [*_samples(record), *_hashes(unit)]
    return Section(
        anchor="evidence",
        heading=Markup("How good is the evidence?"),
        short="The evidence",
        says=tuple(says),
        tables=(_tests_table(unit),) if record.tests else (),
        lists=_lists(
            tuple(_odd(unit)), tuple(_history(record, derived.catalogue.changes, unit)), tuple(_answers(record))
        ),
        folds=tuple(folds),
    )


def _view(record: ResultsFile, words: str, benches: Sequence[Bench]) -> Markup:
    """An opinion, set apart: whose, of when, in quotation marks."""
    whose = sentence(", {}", listed(list(dict.fromkeys(bench.tester for bench in benches)))) if benches else ""
    when = day(record.viewed) if record.viewed else "undated"
    return sentence('<span class="own">The tester’s own view{}, {}: “{}”</span>', whose, when, words)


def _lists(*lists: tuple[Words, ...]) -> tuple[tuple[Words, ...], ...]:
    return tuple(one for one in lists if one)


def _bench_names(unit: DerivedUnit) -> list[str]:
    return list(dict.fromkeys(test.bench or unit.record.bench or "" for test in unit.record.tests.values()))


def _tests_table(unit: DerivedUnit) -> Table:
    headings = columns("Test", "Date", "Where to see it", text={"Date", "Where to see it"})
    rows = tuple(_test_row(unit, name, test) for name, test in unit.record.tests.items())
    return Table(columns=headings, rows=rows)


def _test_row(unit: DerivedUnit, name: str, test: OneTest) -> tuple[Cell, ...]:
    part = isinstance(test, CapacityTest) and not test.started_full
    of_kind = Markup("a discharge of what charge there was" if part else KINDS[test.kind])  # noqa: S704  # fixed words
    kind = Markup(", ").join([of_kind, *circumstances(test)])
    words = sentence("{}. {}", kind, test.note) if test.note else kind
    what = sentence('<span id="test-{}">{}</span> <span class="u">{}</span>', Markup(name), spoken(name), words)  # noqa: S704  # a checked name
    log = unit.logs.get(name)
    seen = [_log_words(unit.id, log)] if log else []
    seen += [_video_words(test.video, unit.record)] if test.video else []
    if (corrected := corrected_since(name, unit.record)) is not None:
        seen.append(sentence("corrected since this video, on {}", day(corrected)))
    if is_reported(test):
        seen.append(sentence("{}", NOT_KEPT))
    where = Cell(words=Markup("; ").join(seen)) if seen else Cell(words="read by hand", missing=True)
    return Cell(words=what), _date_cell(test, unit.record), where


def _date_cell(test: OneTest, record: ResultsFile) -> Cell:
    """When it was made; where only its video has a date, by when."""
    known = date_of(test, record)
    return Cell(words=sentence("by {}", day(known))) if known and test.day is None else date_cell(known)


def _log_words(unit_id: str, log: LogNote) -> Markup:
    """The download, and how many of its rows could be used."""
    rows = f"{number(log.used_rows)} of {number(log.rows)}" if log.used_rows != log.rows else number(log.rows)
    href = Markup(f"../../data/logs/{unit_id}/{quote(log.file)}")  # noqa: S704  # nothing but letters and %
    return sentence('<a href="{}" download>{}</a>, {} rows', href, log.file, rows)


def _hashes(unit: DerivedUnit) -> list[Fold]:
    """The hash of each log's bytes, so that a reader can tell that a download is what the figures come from."""
    rows = tuple(
        (Cell(words=log.file), Cell(words=sentence("<code>{}</code>", log.sha256))) for log in unit.logs.values()
    )
    table = Table(columns=columns("Log", "SHA-256", text={"SHA-256"}), rows=rows)
    return [Fold(title="The logs' hashes", table=table)] if rows else []


def _video_words(shown: InVideo, record: ResultsFile) -> Markup:
    video = record.videos.get(shown.in_)
    if video is None:
        return safe(shown.in_)
    at = seconds_words(shown)
    return video_link(shown, video, f"{video.title}, {at}" if at else video.title)


def _odd(unit: DerivedUnit) -> Iterator[Words]:
    """What is wrong with a log, and what the derivations noticed."""
    for name, log in unit.logs.items():
        yield from (sentence("{}, {}.", spoken(name), fault) for fault in log.faults)
    found = [(name, finding) for name, result in unit.result.tests.items() for finding in result.findings]
    for name, finding in (*found, *unit.result.findings):
        yield sentence("{}: {}.", spoken(name), finding.message)


def _history(record: ResultsFile, changes: tuple[Change, ...], unit: DerivedUnit) -> Iterator[Words]:
    """What happened to this battery's results, and to those of many, by date."""
    entries: list[tuple[dt.date, Words]] = [(entry.date, dated_entry(entry)) for entry in record.history]
    entries += [
        (change.date, sentence("{}: corrected for several batteries. {}", day(change.date), change.note))
        for change in changes
        if touches(change, unit)
    ]
    yield from (words for _, words in sorted(entries, key=lambda entry: entry[0]))


def _answers(record: ResultsFile) -> Iterator[Words]:
    """Warnings that the tester has answered, with the answer."""
    for answer in record.acknowledged:
        tests = sentence(" ({})", listed([spoken(name) for name in answer.tests])) if answer.tests else ""
        yield sentence("Looked odd, and is right{}: {}", tests, answer.reason)


def _samples(record: ResultsFile) -> list[Fold]:
    """How each sample was obtained and what ties there are, in full."""
    lines = [_sample_words(name, sample, len(record.samples) > 1) for name, sample in record.samples.items()]
    return [Fold(title="How it was obtained", says=tuple(lines))] if lines else []


def _sample_words(name: str, sample: Sample, several: bool) -> Markup:
    facts = [
        ("", sentence("{}", obtained(sample, name if several else ""))),
        ("on", day(sample.date) if sample.date else None),
        ("; it stays with", sample.keeps),
        ("; ties to maker or shop:", sample.ties),
        ("; made", sample.made),
        ("; cycles before the tests:", sample.cycles_before and stated(sample.cycles_before, "")),
        ("; firmware", sample.firmware),
        ("; serial number", sample.serial),
    ]
    said = [sentence("{} {}" if words else "{}{}", Markup(words), value) for words, value in facts if value is not None]  # noqa: S704
    return sentence("{}.", Markup(" ").join(said).replace(" ;", ";"))


def _instruments(bench: Bench, is_first: bool) -> Fold:
    rows = tuple(
        (Cell(words=_named(key, one.title)), Cell(words=limits_of(one))) for key, one in bench.instruments.items()
    )
    target = Markup('<span id="limits"></span>') if is_first else ""
    who = sentence("{}{}, since {}: {}.", target, bench.title, day(bench.since), bench.tester)
    title = f"Instruments of the {after_the(bench.title)}, and how far they can be off"
    table = Table(columns=columns("Instrument", "Limits", text={"Limits"}), rows=rows)
    return Fold(title=title, says=(who, *(_calibrated(bench, one) for one in bench.calibrations)), table=table)


def _named(key: str, title: str | None) -> str:
    """An instrument by its title, with the name that the working calls it where that is another word."""
    return f"{title} ({spoken(key)})" if title and spoken(key) not in title.lower() else title or spoken(key)


def _calibrated(bench: Bench, one: Calibration) -> Markup:
    found = f": {one.found}" if one.found else ""
    return sentence("{} checked on {} against {}{}.", _title(bench, one.instrument), day(one.date), one.against, found)


def _title(bench: Bench, instrument: str) -> str:
    one = bench.instruments.get(instrument)
    return one.title if one and one.title else instrument
