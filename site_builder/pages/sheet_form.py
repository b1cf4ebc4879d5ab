"""The fields of a bench sheet's form: for each test what to write down, under the names that a results file has."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

from site_builder.catalogue_records import Bench, Load
from site_builder.derive.bench_plan import Plan
from site_builder.fields import Record
from site_builder.pages.sheet_fields import RECORDS, field_at, is_needed, number_of, record_of
from site_builder.pages.text import significant
from site_builder.records import ResultsFile
from site_builder.values import In

Kind = Literal["number", "text", "list", "choice", "time", "date", "log"]


class Choice(NamedTuple):
    """What is written, what stands for it on the form, and what the script has to know of it."""

    value: str
    words: str
    mark: str = ""


Choices = tuple[Choice, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Entry:
    """One field: `path` is where its value goes in the test, with dots between; `hint` an example.

    What it takes (`number`, of a number or a list of them) and whether it is needed come from the records.
    """

    path: str
    words: str
    kind: Kind = "number"
    hint: str = ""
    choices: Choices = ()
    number: In | None = None
    is_needed: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Rows:
    """Lines that can be added, under one key; `given` are the fields that are filled in from the start."""

    key: str
    add: str
    entries: tuple[Entry, ...]
    given: tuple[Mapping[str, str], ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class SheetTest:
    """One test: its name in the results file, its kind, its fields; `is_many` where it may be made several times."""

    name: str
    kind: str
    title: str
    entries: tuple[Entry, ...]
    rows: Rows | None = None
    is_many: bool = False


YES = (Choice("true", "yes"), Choice("false", "no"))
ENDED = (
    Choice("bms", "the battery cut off"),
    Choice("end_voltage", "I stopped it at the end voltage"),
    Choice("inverter", "the inverter stopped"),
    Choice("tester", "I stopped it earlier"),
    Choice("unknown", "nobody saw"),
)
OUTCOMES = (Choice("ran", "ran"), Choice("tripped", "was cut off"), Choice("did_not_start", "did not start"))
STOPPED = (
    Choice("bms", "the battery"),
    Choice("inverter", "the inverter"),
    Choice("fuse", "a fuse"),
    Choice("tester", "me"),
)
BACK = tuple(Choice(how, how) for how in ("by itself", "after unloading", "after a button", "after charging", "not"))
# A test on a sheet has no video whose date could stand in for it.
DATE = Entry(path="date", words="Date", kind="date", is_needed=True)
LOG = Entry(path="log", words="Log, its file's name", kind="log", hint="capacity.csv")
AIR = Entry(path="ambient_c", words="Air, °C", hint="21")
NOTE = Entry(path="note", words="Anything else", kind="text")
STARTED = Entry(path="started", words="Started", kind="time", hint="19:25")
CAME_BACK = (
    Entry(path="came_back.how", words="After cutting off it came back", kind="choice", choices=BACK),
    Entry(path="came_back.after_s", words="After, s", hint="about 30"),
)
CHARGER = (
    Entry(path="charger.set_v", words="Charger set to, V", hint="14.4"),
    Entry(path="charger.set_a", words="Charger set to, A", hint="20"),
)
COUNTED = (
    Entry(path="counted_ah", words="Counted, Ah", hint="98.4"),
    Entry(path="counted_wh", words="Counted, Wh", hint="1262"),
)
LASTED = Entry(path="duration_s", words="How long", hint="12 min, 40 s, 1.5 h")


def sheet_tests(
    plan: Plan | None, loads: Mapping[str, Load], benches: Mapping[str, Bench], bench: str | None = None
) -> tuple[SheetTest, ...]:
    """All tests in the order in which they are best made; `plan` fills in currents where there is one.

    Inverters are those of `bench`, or of all benches where the form asks for the bench.
    """
    tests = (
        _unboxing(),
        _discharge(),
        _refill(),
        _pulses(plan),
        _run(loads, _inverters(benches if bench is None else {bench: benches[bench]} if bench in benches else {})),
        _overload(plan),
        _cold(),
        _standby(),
        _cells(),
    )
    return tuple(_by_its_record(test) for test in tests)


def _by_its_record(test: SheetTest) -> SheetTest:
    record = RECORDS[test.kind]
    rows = test.rows
    if rows is not None:
        rows = replace(rows, entries=_by_record(record_of(field_at(record, rows.key)), rows.entries))
    return replace(test, entries=_by_record(record, test.entries), rows=rows)


def _by_record(record: type[Record], entries: Iterable[Entry]) -> tuple[Entry, ...]:
    fields = [(entry, field_at(record, entry.path)) for entry in entries]
    return tuple(
        replace(entry, number=number_of(field), is_needed=entry.is_needed or is_needed(field))
        for entry, field in fields
    )


def _inverters(benches: Mapping[str, Bench]) -> Choices:
    """Each inverter once, marked with its benches."""
    found: dict[tuple[str, str], list[str]] = {}
    for name, bench in benches.items():
        for inverter, record in bench.inverters.items():
            found.setdefault((inverter, record.title or inverter), []).append(name)
    return tuple(Choice(inverter, title, " ".join(names)) for (inverter, title), names in found.items())


def label_entries() -> tuple[Entry, ...]:
    """What a results file has to say of a battery that has none yet."""
    names = ("LiFePO4", "lead-acid AGM", "lead-acid gel", "lead-acid flooded", "NMC", "LTO", "sodium-ion")
    chemistries = tuple(Choice(name, name) for name in names)
    entries = (
        Entry(path="unit.maker", words="Maker", kind="text"),
        Entry(path="unit.model", words="Model", kind="text"),
        Entry(path="label.chemistry", words="Chemistry", kind="choice", choices=chemistries),
        Entry(path="label.nominal_v", words="Nominal voltage, V", hint="12.8"),
        Entry(path="label.capacity_ah", words="Capacity, Ah", hint="100"),
        Entry(path="label.continuous_discharge_a", words="Continuous current, A", hint="100"),
        Entry(path="label.charge.min_c", words="Lowest temperature for charging, °C", hint="0"),
        Entry(path="label.mass_kg", words="Mass on the label, kg", hint="10.4 or 22.9 lb"),
    )
    return _by_record(ResultsFile, entries)


def _unboxing() -> SheetTest:
    entries = (
        DATE,
        Entry(path="mass_kg", words="Mass, kg", hint="10.4 or 22.9 lb"),
        Entry(path="size_mm.length", words="Length, mm", hint="307 or 12.1 in"),
        Entry(path="size_mm.width", words="Width, mm", hint="169"),
        Entry(path="size_mm.height", words="Height with terminals, mm", hint="215"),
        Entry(path="terminals", words="Terminals", kind="text", hint="M8"),
        Entry(path="documents", words="Documents in the box, with commas", kind="list", hint="charge limits, curves"),
        Entry(path="app_works", words="The app connects and shows plausible figures", kind="choice", choices=YES),
        NOTE,
    )
    return SheetTest(name="unboxing", kind="build", title="Unboxing", entries=entries)


def _discharge() -> SheetTest:
    entries = (
        DATE,
        STARTED,
        Entry(path="ended", words="Ended", kind="time", hint="00:40, or 22:10 to 23:40 if nobody saw"),
        Entry(path="ended_by", words="What ended it", kind="choice", choices=ENDED),
        Entry(path="current_a", words="Current, A", hint="20"),
        *COUNTED,
        Entry(path="end_v", words="Voltage before the end, V", hint="10.4"),
        AIR,
        Entry(path="battery_c", words="Battery, °C", hint="22"),
        LOG,
        NOTE,
    )
    return SheetTest(name="capacity", kind="capacity", title="Full discharge", entries=entries)


def _refill() -> SheetTest:
    entries = (
        DATE,
        STARTED,
        Entry(path="ended", words="Full", kind="time", hint="06:10"),
        *CHARGER,
        Entry(path="max_current_a", words="Largest current it took, A", hint="19.6"),
        Entry(path="tail_a", words="Current at the end, A", hint="5"),
        *COUNTED,
        LOG,
        NOTE,
    )
    return SheetTest(name="refill", kind="charge", title="Refill", entries=entries)


def _pulses(plan: Plan | None) -> SheetTest:
    small, large = (significant(one) for one in plan.pulse_a) if plan else ("", "")
    rows = Rows(
        key="readings",
        add="Another pulse",
        entries=(
            Entry(path="current_a", words="Current, A", hint="20"),
            Entry(path="voltage_v", words="Voltage, V", hint="13.12"),
            Entry(path="after_s", words="After, s"),
        ),
        given=({"current_a": small, "after_s": "10"}, {"current_a": large, "after_s": "1"}),
    )
    entries = (
        DATE,
        Entry(path="soc", words="Charge", hint="80 %"),
        Entry(path="battery_c", words="Battery, °C", hint="22"),
        LOG,
        NOTE,
    )
    title = "Voltage under two currents" + (f" ({small} A, then {large} A)" if plan else "")
    return SheetTest(name="pulses", kind="resistance", title=title, entries=entries, rows=rows)


def _run(loads: Mapping[str, Load], inverters: Choices) -> SheetTest:
    names = tuple(Choice(name, load.title, "" if load.mains else "direct") for name, load in loads.items())
    entries = (
        DATE,
        Entry(path="load", words="What ran", kind="choice", choices=names),
        *(
            [Entry(path="inverter", words="Through which inverter", kind="choice", choices=inverters)]
            if inverters
            else []
        ),
        Entry(path="outcome", words="What happened", kind="choice", choices=OUTCOMES),
        Entry(path="by", words="What stopped it", kind="choice", choices=STOPPED),
        LASTED,
        Entry(path="power_w", words="Power, W", hint="about 620"),
        Entry(path="peak_w", words="Peak at the start, W", hint="over 1400"),
        Entry(path="current_a", words="Battery current, A", hint="127"),
        *CAME_BACK,
        LOG,
        NOTE,
    )
    return SheetTest(name="load-run", kind="load_run", title="An appliance", entries=entries, is_many=True)


def _overload(plan: Plan | None) -> SheetTest:
    rows = Rows(
        key="points",
        add="Another step",
        entries=(
            Entry(path="current_a", words="Current, A", hint="110"),
            Entry(path="duration_s", words="For, s", hint="over 1800, or 3 to 5"),
            Entry(path="held", words="Carried it", kind="choice", choices=YES),
            Entry(path="rest_before_s", words="Rest before, s", hint="15 min"),
        ),
        given=tuple({"current_a": significant(step.current_a)} for step in plan.steps) if plan else ({},),
    )
    entries = (
        DATE,
        Entry(path="soc", words="Charge at the start", hint="95 %"),
        *CAME_BACK,
        LOG,
        NOTE,
    )
    return SheetTest(name="overload", kind="overload", title="Currents above its label", entries=entries, rows=rows)


def _cold() -> SheetTest:
    rows = Rows(
        key="readings",
        add="Now: add a reading",
        entries=(
            Entry(path="at", words="At", kind="time"),
            Entry(path="battery_c", words="Battery, °C", hint="-10"),
            Entry(path="current_a", words="Current, A", hint="6.1"),
            Entry(
                path="charge",
                words="Charge",
                kind="choice",
                choices=(Choice("accepted", "accepted"), Choice("refused", "refused")),
            ),
            Entry(path="heater", words="Heater on", kind="choice", choices=YES),
        ),
    )
    entries = (
        DATE,
        Entry(path="ambient_c", words="Air, °C", hint="about -10"),
        Entry(path="before.soak_h", words="In the cold before, h", hint="6"),
        *CHARGER,
        LOG,
        NOTE,
    )
    return SheetTest(name="cold", kind="cold_charge", title="Charging it frozen", entries=entries, rows=rows)


def _standby() -> SheetTest:
    entries = (
        Entry(path="started", words="From", kind="date"),
        Entry(path="ended", words="To", kind="date"),
        Entry(path="soc.start", words="Charge at the start", hint="100 %"),
        Entry(path="soc.end", words="Charge at the end", hint="97 %"),
        NOTE,
    )
    return SheetTest(name="shelf", kind="standby", title="A month on the shelf", entries=entries)


def _cells() -> SheetTest:
    ends = (Choice("full", "full"), Choice("empty", "empty"))
    entries = (
        DATE,
        Entry(path="at", words="At which end", kind="choice", choices=ends),
        Entry(path="cell_v", words="Cell voltages, with commas", kind="list", hint="3.449, 3.451, 3.447, 3.452"),
        NOTE,
    )
    return SheetTest(name="cells", kind="balance", title="Its cells' voltages", entries=entries)
