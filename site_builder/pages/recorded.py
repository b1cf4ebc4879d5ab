"""What was written down, in words: who, how, and the tester's own numbers as stated ("about 620 W", "3 to 5 s").

Nothing here is derived; an estimate says that it is one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TypeVar

from markupsafe import Markup

from site_builder.bench_tests import (
    AnyTest,
    Before,
    CameBack,
    CapacityTest,
    ChargeTest,
    ColdReading,
    Guess,
    LoadRun,
    OverloadPoint,
    OverloadTest,
    StandbyTest,
)
from site_builder.catalogue_records import Instrument, Load
from site_builder.derived import DerivedUnit
from site_builder.measured import NOT_KEPT
from site_builder.pages.disclosure import after_the
from site_builder.pages.safe_text import sentence
from site_builder.pages.text import NOT_TESTED, THIN, listed, stated, stated_duration
from site_builder.pages.views import Cell, Table, columns
from site_builder.values import Stated

STOPPED_BY = {"bms": "its own BMS", "inverter": "the inverter", "fuse": "a fuse", "tester": "the tester"}
ESTIMATED_BY = {"person": "a person's", "app": "an app's", "inverter": "an inverter's"}
NOT_RECORDED = Cell(words="not recorded", missing=True)

Kind = TypeVar("Kind", bound=AnyTest)


def tests_of(unit: DerivedUnit, kind: type[Kind]) -> dict[str, Kind]:
    """The unit's tests of one kind, by name, in the order of the file."""
    return {name: test for name, test in unit.record.tests.items() if isinstance(test, kind)}


def untested(what_it_takes: str) -> Markup:
    """ "Not tested", with what it would take."""
    return sentence("{}. It would take {}.", NOT_TESTED.capitalize(), what_it_takes)


def spoken(test_name: str) -> str:
    """A test's name as words: "ice-bath" reads "ice bath"."""
    return test_name.replace("-", " ")


def anchor(test_name: str, words: str = "") -> Markup:
    """A link to a test's line in the section on evidence."""
    return sentence('<a href="#test-{}">{}</a>', Markup(test_name), words or spoken(test_name))  # noqa: S704  # a name


def the_loads(names: Sequence[str], loads: Mapping[str, Load]) -> str:
    """Loads as they stand in a sentence: "the induction hob and the kettle"."""
    titles = [loads[name].title.partition(" (")[0] if name in loads else spoken(name) for name in names]
    return listed([f"the {after_the(title)}" for title in titles])


def came_back(how: CameBack | None) -> Markup:
    """How it delivered again: " and came back by itself after about 30 s"; nothing where nobody wrote it down."""
    if how is None:
        return Markup("")
    if how.how == "not":
        return Markup(" and did not come back")
    after = sentence(" after {}", stated_duration(how.after_s)) if how.after_s else ""
    return sentence(" and came back {}{}", how.how, after)


def circumstances(test: AnyTest) -> list[Markup]:
    """What was written down around a test: how the battery came to it, where it was read, how it came back.

    "filled at 14.4 V until 5 A", "rested 1 h", "2 in parallel", "firmware 2.3", "13.35 V at the start".
    """
    return [sentence(words, value) for words, value in (*_before(test), *_around(test)) if value is not None]


def step_circumstances(step: OverloadPoint) -> list[Markup]:
    """The same of one step of an overload test."""
    facts = (
        ("after {} of rest", step.rest_before_s and stated_duration(step.rest_before_s)),
        ("charge {}", step.soc and stated(step.soc, "1")),
        ("battery at {}", step.battery_c and stated(step.battery_c, "°C")),
    )
    return [sentence(words, value) for words, value in facts if value is not None]


_Facts = Iterator[tuple[str, object]]


def _before(test: AnyTest) -> _Facts:
    before = test.before or Before()
    at = sentence(" at {}", stated(before.charged_to_v, "V")) if before.charged_to_v else ""
    until = sentence(" until {}", stated(before.tail_a, "A")) if before.tail_a else ""
    yield "filled{}", sentence("{}{}", at, until) if at or until else None
    yield "rested {}", before.rest_h and stated(before.rest_h, "h")
    yield "{} at the test's temperature", before.soak_h and stated(before.soak_h, "h")
    soc = before.soc or getattr(test, "soc", None)
    yield "charge {}", stated(soc, "1") if isinstance(soc, Stated) else None
    yield "{}", before.note


def _around(test: AnyTest) -> _Facts:
    yield "in air of {}", test.ambient_c and stated(test.ambient_c, "°C")
    yield "firmware {}", test.firmware
    if test.arrangement and test.arrangement.parallel > 1:
        yield "{} in parallel", test.arrangement.parallel
    if test.arrangement and test.arrangement.series > 1:
        yield "{} in series", test.arrangement.series
    if test.zero:
        read = [stated(one, "A") for one in (test.zero.before_a, test.zero.after_a) if one]
        yield "zero read as {}", Markup(" and ").join(sentence("{}", one) for one in read)
    if test.sense:
        lead = test.sense.resistance_milliohm
        behind = sentence(", behind {}", stated(lead, "mohm")) if lead else ""
        yield "voltage read at the {}", sentence("{}{}", test.sense.at, behind)
    yield from _of_its_kind(test)


def _of_its_kind(test: AnyTest) -> _Facts:
    match test:
        case CapacityTest():
            yield "{} just before the end", test.end_v and stated(test.end_v, "V")
            yield "{}", came_back(test.came_back).removeprefix(" and ") or None
        case OverloadTest():
            yield "{}", came_back(test.came_back).removeprefix(" and ") or None
        case LoadRun():
            yield "peak {}", test.peak_a and stated(test.peak_a, "A")
            yield "on for {} of the time", test.duty and stated(test.duty, "1")
        case ChargeTest() if test.charger:
            charger = ((test.charger.set_v, "V"), (test.charger.set_a, "A"))
            settings = [sentence("{}", stated(value, unit)) for value, unit in charger if value]
            yield "charger set to {}", Markup(" and ").join(settings) or None
        case StandbyTest():
            yield "{} at the start", test.voltage_start_v and stated(test.voltage_start_v, "V")
            yield "{} at the end", test.voltage_end_v and stated(test.voltage_end_v, "V")


def load_run(run: LoadRun, loads: Mapping[str, Load]) -> Markup:
    """One run in a sentence without its end: "Started the table saw, cut off at 127 A after 3 to 5 s"."""
    return sentence("{}{}", _run(run, loads), not_kept(run))


def not_kept(test: AnyTest) -> str:
    """Behind what is told of a test whose evidence was not kept: " (reported, evidence not kept)"."""
    return f" ({NOT_KEPT})" if test.evidence == "reported" else ""


def _run(run: LoadRun, loads: Mapping[str, Load]) -> Markup:
    together = " together" if len(run.load) > 1 else ""
    what = the_loads(run.load, loads) + together
    lasted = stated_duration(run.duration_s) if run.duration_s else None
    if run.outcome == "did_not_start":
        return sentence("Did not start {}{}", what, came_back(run.came_back))
    if run.outcome == "ran":
        return sentence("Ran {}{}", what, sentence(" for {}", lasted) if lasted else "")
    at = sentence(" at {}", stated(run.current_a, "A")) if run.current_a else ""
    after = sentence(" after {}", lasted) if lasted else ""
    stopped = f"{STOPPED_BY[run.by]} stopped it" if run.by and run.by != "bms" else "cut off"
    return sentence("Started {}, {}{}{}{}", what, stopped, at, after, came_back(run.came_back))


def run_outcome(run: LoadRun) -> Markup:
    """The same run as a table tells it, beside the load's name: what stopped it, power, charge, an estimate."""
    words = {"ran": "ran", "did_not_start": "did not start", "tripped": f"stopped by {STOPPED_BY[run.by or 'bms']}"}
    at = sentence(" at {}", stated(run.current_a, "A")) if run.outcome == "tripped" and run.current_a else ""
    power = sentence(" at {}", stated(run.power_w, "W")) if run.power_w and not at else ""
    peak = sentence(", peak {}", stated(run.peak_w, "W")) if run.peak_w else ""
    soc = sentence("; charge from {} to {}", stated(run.soc.start, "1"), stated(run.soc.end, "1")) if run.soc else ""
    guess = sentence("; for all of it {}", estimate(run.guess)) if run.guess else ""
    back = came_back(run.came_back)
    return sentence("{}{}{}{}{}{}{}{}", words[run.outcome], at, power, back, peak, soc, guess, not_kept(run))


def estimate(guess: Guess) -> Markup:
    """Somebody's estimate on the day: never a measurement, and it says so."""
    at = sentence(" at {} charge", stated(guess.at_soc, "1")) if guess.at_soc else ""
    return sentence("{}, {} estimate{}, not measured", stated_duration(guess.duration_s), ESTIMATED_BY[guess.by], at)


def cold_readings(readings: Sequence[ColdReading]) -> Table:
    """What was read during a cold test, line by line; only columns that some reading fills."""
    filled = {name for name in _COLD if any(getattr(one, name) is not None for one in readings)}
    shown = [name for name in _COLD if name in filled]
    rows = tuple(tuple(_cold_cell(one, name) for name in shown) for one in readings)
    return Table(columns=columns(*(_COLD[name][0] for name in shown), text={"Taken at", "Read on", "Note"}), rows=rows)


_COLD = {
    "at": ("At", ""),
    "battery_c": ("Battery", "°C"),
    "ambient_c": ("Air", "°C"),
    "current_a": ("Current in", "A"),
    "cell_current_a": ("Into the cells", "A"),
    "charge": ("Charge", ""),
    "heater": ("Heater", ""),
    "where": ("Taken at", ""),
    "read_on": ("Read on", ""),
    "note": ("Note", ""),
}


def _cold_cell(one: ColdReading, name: str) -> Cell:
    value = getattr(one, name)
    if value is None:
        return Cell()
    if isinstance(value, Stated):
        return Cell(words=stated(value, _COLD[name][1]))
    if isinstance(value, bool):
        return Cell(words="on" if value else "off")
    if name == "read_on":
        return Cell(words=spoken(value))
    return Cell(words=value if isinstance(value, str) else value.text)


_UNITS = {
    "current": "A",
    "voltage": "V",
    "temperature": "°C",
    "charge": "Ah",
    "energy": "Wh",
    "power": "W",
    "mass": "kg",
    "length": "mm",
    "time": "s",
}


def limits_of(one: Instrument) -> Markup:
    """How far an instrument can be off, in words."""
    unit = _UNITS.get(one.measures, "1")
    said = []
    if one.of_reading:
        said.append(sentence("± {} of the reading", stated(one.of_reading, "1")))
    if one.offset:
        said.append(sentence("± {}", stated(one.offset, unit, difference=True)))
    if one.of_range and one.range:
        said.append(sentence("± {} of {}", stated(one.of_range, "1"), stated(one.range, unit)))
    if one.digits:
        said.append(sentence("± {} last digits", stated(one.digits, "")))
    if one.step:
        said.append(sentence("shows steps of {}", stated(one.step, unit, difference=True)))
    if one.per_k:
        said.append(sentence("{} per kelvin away from 23{}°C", stated(one.per_k, "1"), THIN))
    return Markup("; ").join(said) if said else Markup("no limits known")
