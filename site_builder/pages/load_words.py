"""What pages say of a battery and a load: what was seen, whether it would start, bars of hours. Nothing is derived."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from markupsafe import Markup

from site_builder import charts
from site_builder.bench_tests import CapacityTest, LoadRun
from site_builder.catalogue_records import Load
from site_builder.derive.results import LoadAnswer
from site_builder.derived import DerivedUnit
from site_builder.measured import Measured
from site_builder.pages.recorded import STOPPED_BY, not_kept, spoken
from site_builder.pages.safe_text import safe, sentence
from site_builder.pages.text import Shown, duration, listed, quantity, stated_duration

LoadTest = CapacityTest | LoadRun
LOAD_TESTS = (CapacityTest, LoadRun)
STARTS = {
    "starts": "starts",
    "will not": "will not start",
    "borderline": "borderline",
    "not known": "not known",
}
PROJECTED_UP_TO = "not projected"
# Beside hours at a current between what was carried for long and what was cut off.
MAY_CUT_OFF = "may be cut off before"


def short_title(name: str, loads: Mapping[str, Load]) -> str:
    """A load's title without what stands in brackets behind it."""
    return loads[name].title.partition(" (")[0] if name in loads else spoken(name)


def together(names: Sequence[str], loads: Mapping[str, Load]) -> str:
    """Loads that ran together: "Induction hob + travel kettle"."""
    first, *others = (short_title(name, loads) for name in names)
    return " + ".join([first, *(f"{other[:1].lower()}{other[1:]}" for other in others)])


def load_links(names: Sequence[str], loads: Mapping[str, Load], up: str) -> Markup:
    """The same, each leading to the load's own page where the catalogue has it."""
    titles = together(names, loads).split(" + ")
    return Markup(" + ").join(
        load_link(name, title, up) if name in loads else safe(title) for name, title in zip(names, titles, strict=True)
    )


def load_link(name: str, words: str, up: str) -> Markup:
    """A link to a load's page; `up` leads to the site's root ("../../")."""
    return sentence('<a href="{}loads/{}/">{}</a>', Markup(up), Markup(name), words)  # noqa: S704  # a checked name


def load_tests(unit: DerivedUnit, name: str | None = None) -> dict[str, LoadTest]:
    """The tests with loads, by name: long ones first; only those of one load where it is named."""
    tests: list[tuple[str, LoadTest]] = [
        (n, t)
        for n, t in unit.record.tests.items()
        if isinstance(t, LOAD_TESTS) and t.load and (name is None or name in t.load)
    ]
    return dict(sorted(tests, key=lambda item: isinstance(item[1], LoadRun)))


def lasted(unit: DerivedUnit, test_name: str) -> Shown | None:
    """How long it ran: a range as it was written down, else with its ±; "at least" where something else ended it."""
    test = unit.record.tests[test_name]
    if test.duration_s is not None and test.duration_s.form == "range":
        return stated_duration(test.duration_s)
    measured = ran_s(unit, test_name)
    return None if measured is None else duration(measured)


def ran_s(unit: DerivedUnit, test_name: str) -> Measured | None:
    """How long it ran; open upwards where something other than the battery ended a discharge. [s]"""
    test, measured = unit.record.tests[test_name], unit.result.tests[test_name].metrics.get("duration_s")
    if measured is None or not isinstance(test, CapacityTest):
        return measured
    return measured if test.ended_by in {"bms", "end_voltage", "unknown"} else measured.opened_up()


def seen_words(unit: DerivedUnit, test_name: str) -> str:
    """One run in few words: "ran 47.11 ± 0.01 h", "tripped after 3 to 5 s", "did not start"."""
    return _seen(unit, test_name) + not_kept(unit.record.tests[test_name])


def _seen(unit: DerivedUnit, test_name: str) -> str:
    test, time = unit.record.tests[test_name], lasted(unit, test_name)
    if isinstance(time, Shown):
        time = time.unnoted
    if not isinstance(test, LoadRun) or test.outcome == "ran":
        return f"ran {time}" if time else "ran"
    if test.outcome == "did_not_start":
        return "did not start"
    after = f" after {time}" if time else ""
    if test.by is None or test.by == "bms":
        return f"tripped{after}"
    return f"{STOPPED_BY[test.by]} stopped it{after}"


def seen_links(unit: DerivedUnit, name: str, loads: Mapping[str, Load], up: str) -> Markup:
    """Every run with this load, each a link to its test; others that ran with it are named."""
    said = []
    for test_name, test in load_tests(unit, name).items():
        others = [short_title(other, loads).lower() for other in test.load or () if other != name]
        beside = f", with the {listed(others)}" if others else ""
        href = Markup(f"{up}units/{unit.id}/#test-{test_name}")  # noqa: S704  # checked names
        said.append(sentence('<a href="{}">{}</a>{}', href, seen_words(unit, test_name), beside))
    return Markup("; ").join(said)


def ran_whole_charge(unit: DerivedUnit, name: str) -> Measured | None:
    """How long one battery's whole charge ran this load alone, as seen; what was kept before what was reported. [s]"""
    alone = {n: test for n, test in load_tests(unit, name).items() if test.load == (name,) and not test.arrangement}
    whole = [n for n, test in alone.items() if isinstance(test, CapacityTest)]
    times = [time for n in whole if (time := ran_s(unit, n)) is not None]
    return min(times, key=lambda time: time.basis == "reported", default=None)


def is_cut_off(answer: LoadAnswer) -> bool:
    """Whether the battery ends it, should it start."""
    return answer.lasting.word == "cut off" and answer.start != "will not"


def may_cut_off(answer: LoadAnswer) -> bool:
    """Whether hours are projected at a current of which nobody knows that it is carried for long."""
    return answer.lasting.word == "borderline" and hours_words(answer) is not None


def hours_words(answer: LoadAnswer) -> Shown | None:
    """Projected hours on one charge, where there are any and the load would start."""
    return quantity(answer.hours) if answer.hours is not None and answer.start != "will not" else None


def why_no_hours(answer: LoadAnswer) -> str:
    """Why there are no projected hours, in few words."""
    if answer.hours is not None:
        return "would not start"
    if is_cut_off(answer):
        return "cut off while it is on"
    why = (answer.why_not or "not known").removeprefix("not known: ")
    return PROJECTED_UP_TO if "more than projections reach" in why else why


def uses_words(load: Load, answer: LoadAnswer) -> Markup:
    """How many uses one charge holds, where the load says what one use takes."""
    if answer.uses is None or not load.use:
        return Markup("")
    return sentence("{}, {} each", quantity(answer.uses).bare, load.use)


def seen_bars(unit: DerivedUnit, tests: Mapping[str, LoadTest], names: Mapping[str, str]) -> Iterator[charts.Hours]:
    """A bar for each run that has a time or was stopped; `names` say what stands beside the bars, by test."""
    for test_name, test in tests.items():
        measured = ran_s(unit, test_name)
        words = seen_words(unit, test_name)
        if isinstance(test, LoadRun) and test.outcome != "ran":
            yield charts.Hours(
                name=names[test_name], value=0, low=0, high=0, bound="exact", look="stopped", words=words
            )
        elif measured is not None and isinstance(test, LoadRun):
            if (least := measured.opened_up()) is not None:
                yield hours_bar(names[test_name], least, 1 / 3600, f"{words}, not to the end", "measured")
        elif measured is not None:
            yield hours_bar(names[test_name], measured, 1 / 3600, words.removeprefix("ran "), "measured")


def projected_bar(name: str, answer: LoadAnswer) -> charts.Hours | None:
    """A bar for the projected hours, where there are any."""
    if answer.hours is None or answer.start == "will not":
        return None
    return hours_bar(name, answer.hours, 1.0, f"{quantity(answer.hours)}, projected", "projected")


def hours_bar(name: str, one: Measured, scale: float, words: str, look: charts.Look) -> charts.Hours:
    """A measured time as a bar; `scale` brings it to hours."""
    ends = {"value": one.value * scale, "low": one.lowest * scale, "high": one.highest * scale}
    return charts.Hours(name=name, bound=one.bound, look=look, words=words, **ends)
