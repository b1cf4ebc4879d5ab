"""What is graded beside the published metrics: small facts of one unit, as a number with its ± or as one word.

Pure: from a unit's results and its record. Nothing here knows weights, anchors or other units.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import cycle
from typing import get_args

from site_builder.bench_tests import AnyTest, BuildTest, CameBack, ResistanceTest
from site_builder.derive.cold_charge import SAFETY, charge_limit_c
from site_builder.derive.headline import sample_of
from site_builder.derive.reported import kept
from site_builder.derive.results import LoadAnswer, OneResult, UnitResult
from site_builder.derive.thermal import STANDARD_FROM_C
from site_builder.measured import Basis, Measured
from site_builder.nomenclature import METRICS
from site_builder.records import Label, ResultsFile

Fact = Measured | str

# A reading whose instrument nobody named, a claim or an estimate is shown, and never graded.
GRADED_BASES: frozenset[Basis] = frozenset({"measured", "projected"})
# Pulses and state that sag is compared at: IEC 61960-3 (10 s at 0.2 I_t, then 1 s, at 20 °C); the charge is this
# project's judgement. Others are shown, not graded.
PULSE_S = (10.0, 1.0)
PULSE_TOLERANCE = 0.2
PULSE_SOC = (0.7, 0.9)
PULSE_C = (15.0, 25.0)
# Chemistries that nobody may charge below 0 °C whatever the label leaves unsaid (common practice).
NOT_FROZEN = frozenset({"LiFePO4", "NMC"})
CAME_BACK: tuple[str, ...] = get_args(CameBack.model_fields["how"].annotation)


@dataclass(frozen=True, kw_only=True, slots=True)
class FactMeaning:
    """A fact that is graded: its unit (None for words alone), the words it can be, and what it takes to know it.

    `of_loads` marks a fact that there is one of for each load.
    """

    unit: str | None
    words: tuple[str, ...] = ()
    takes: str
    of_loads: bool = False


_CURRENTS = "an overload test on the first sample, and a label that states a continuous current"
FACTS: Mapping[str, FactMeaning] = {
    "rated_share": FactMeaning(unit="1", takes="a discharge from full to its own end, on named instruments"),
    "carries_30_min_share": FactMeaning(unit="1", takes=_CURRENTS),
    "carries_3_s_share": FactMeaning(unit="1", takes=_CURRENTS),
    "came_back": FactMeaning(unit=None, words=CAME_BACK, takes="an overload, and how it came back after it"),
    "motor": FactMeaning(
        unit=None,
        words=("starts", "starts, then cuts off", "does not start"),
        takes="a run of this load, or what it carries for the time of the start",
        of_loads=True,
    ),
    "heater": FactMeaning(
        unit=None,
        words=("runs", "cuts off"),
        takes="a run of this load, or what it carries for 30 min",
        of_loads=True,
    ),
    "frozen": FactMeaning(
        unit=None,
        words=("refuses charge", "charges as its label allows", "charges below its limit"),
        takes="a charger on the frozen battery, and how cold the battery is",
    ),
    "warm_up_s": FactMeaning(
        unit="s",
        words=("needs none", "no heater", "never"),
        takes="a log of the warm-up with battery temperature and mass, or a label that says how cold it may be charged",
    ),
    "sag_share": FactMeaning(unit="1", takes="pulses of 10 s and 1 s at 70 to 90 % charge and 15 to 25 °C"),
    "documents": FactMeaning(unit="1", takes="a list of the documents in the box"),
    "certificates": FactMeaning(unit="1", takes="a list of the documents in the box, certificates among them"),
    "app": FactMeaning(
        unit=None, words=("works", "none", "does not work"), takes="whether its app connects, or that it claims none"
    ),
}


def unit_of(fact: str) -> str | None:
    """The unit of a metric or fact; None where it is words alone or not known at all."""
    return METRICS[fact].unit if fact in METRICS else FACTS[fact].unit if fact in FACTS else None


def takes(fact: str) -> str:
    """What it takes to know a metric or fact, in words."""
    return FACTS[fact].takes if fact in FACTS else f"a test that gives its {METRICS[fact].title.lower()}"


def load_fact(fact: str, load: str) -> str:
    """The name of a fact about one load."""
    return f"{fact}:{load}"


def facts_of(result: UnitResult, record: ResultsFile) -> dict[str, Fact]:
    """Everything about a unit that can be graded, by name: its own metrics, and the facts of this module.

    Args:
        result: The unit's derived numbers.
        record: Its results file, for the label and for what was seen without an instrument.

    Returns:
        Numbers and words; what is not known is left out, and so is what was seen in tests whose evidence was not kept.
    """
    result, record = kept(result, record)
    label = record.label
    known: dict[str, Fact | None] = {name: one for name, one in result.metrics.items() if name in METRICS}
    known["rated_share"] = _per(result.metrics.get("comparable_ah"), label.capacity_ah.best)
    rated_a = label.continuous_discharge_a.best if label.continuous_discharge_a else None
    for time in ("30_min", "3_s"):
        known[f"carries_{time}_share"] = _per(result.metrics.get(f"carries_{time}_a"), rated_a)
    known["came_back"] = came_back(result, record)
    known["frozen"] = frozen(result, record)
    known["warm_up_s"] = warm_up(result, label)
    known["sag_share"] = sag_share(result, record)
    builds = [test for test in record.tests.values() if isinstance(test, BuildTest)]
    known["documents"] = _count(len(test.documents) for test in builds if listed(test))
    known["certificates"] = _count(len(test.certificates_seen) for test in builds if listed(test))
    known["app"] = app(builds, label)
    for load, answer in result.loads.items():
        known[load_fact("motor", load)] = motor(answer)
        known[load_fact("heater", load)] = heater(answer, result.metrics.get("carries_30_min_a"))
    return {name: fact for name, fact in known.items() if fact is not None}


def gradable(fact: Fact | None) -> bool:
    """Whether it is evidence: a word, or a number from a named instrument."""
    return isinstance(fact, str) or (fact is not None and fact.basis in GRADED_BASES)


def _per(one: Measured | None, exact: float | None, scale: float = 1.0) -> Measured | None:
    """The number divided by an exact one, with its bound, its limits and its components."""
    if one is None or not exact:
        return None
    return one.scaled(scale / exact, "1")


def came_back(result: UnitResult, record: ResultsFile) -> str | None:
    """How it delivered again after cutting off: the worst that was seen.

    Of the sample and the firmware that its currents come from, where there are any.
    """
    tests = [test for test in record.tests.values() if test.came_back]
    if result.carrying and result.carrying[-1].points:
        shown = _version(record.tests[result.carrying[-1].points[-1].test], record)
        tests = [test for test in tests if _version(test, record) == shown]
    return max((test.came_back.how for test in tests if test.came_back), key=CAME_BACK.index, default=None)


def _version(test: AnyTest, record: ResultsFile) -> tuple[str | None, str | None]:
    """Sample and firmware of a test."""
    name = sample_of(test, record)
    sample = record.samples.get(name or "")
    return name, test.firmware or (sample.firmware if sample else None)


def frozen(result: UnitResult, record: ResultsFile) -> str | None:
    """What it does on a charger while frozen; one sample that charges below its limit is enough."""
    if any(SAFETY in one.conditions for one in result.tests.values()):
        return "charges below its limit"
    accepted = result.metrics.get("accepted_from_c")
    if accepted is not None and gradable(accepted) and accepted.highest < 0 and charge_limit_c(record.label) < 0:
        return "charges as its label allows"
    return "refuses charge" if gradable(result.metrics.get("refused_up_to_c")) else None


def warm_up(result: UnitResult, label: Label) -> Fact | None:
    """The standard warm-up; or that it needs none, has no heater, or has one that never gets there."""
    if label.heater is None:
        return _without_heater(label)
    never = any(reason.startswith("never:") for one in result.tests.values() for reason in one.cannot)
    return result.metrics.get("standard_warm_up_s") or ("never" if never else None)


def _without_heater(label: Label) -> str | None:
    """Whether a battery without a heater waits for warmer weather; not known for a chemistry that need not."""
    if label.charge is not None and label.charge.min_c is not None:
        return "needs none" if label.charge.min_c.best <= STANDARD_FROM_C else "no heater"
    return "no heater" if label.chemistry in NOT_FROZEN else None


def sag_share(result: UnitResult, record: ResultsFile) -> Measured | None:
    """Fall of the voltage for a current of I_t, as a share of the nominal voltage: R·I_t/U. [1]

    From comparable pulses only, so that a slow pulse does not stand beside a fast one; of several the first sample's,
    then the one with the smallest relative u.
    """
    samples, label = list(record.samples), record.label
    comparable = [
        (samples.index(sample) if (sample := sample_of(test, record)) in samples else 0, one.u / one.value, one)
        for name, test in record.tests.items()
        if isinstance(test, ResistanceTest) and _comparable(test, result.tests[name])
        if (one := result.tests[name].metrics.get("dc_resistance_milliohm")) and gradable(one) and one.value > 0
    ]
    best = min(comparable, key=lambda found: found[:2], default=(0, 0.0, None))[2]
    return _per(best, label.nominal_v.best, label.capacity_ah.best / 1000)


def _comparable(test: ResistanceTest, result: OneResult) -> bool:
    """Whether pulses, charge and temperature are those that sag is compared at."""
    soc, warmth = test.soc, test.battery_c or test.ambient_c
    if soc is None or warmth is None:
        return False
    state = PULSE_SOC[0] <= soc.best <= PULSE_SOC[1] and PULSE_C[0] <= warmth.best <= PULSE_C[1]
    if test.log is not None:
        return state and any(re.search(r"(?:^|each )1 s after a step", words) for words in result.conditions)
    times = [one.after_s.best if one.after_s else 0.0 for one in test.readings]
    fitting = [abs(t - wanted) <= PULSE_TOLERANCE * wanted for t, wanted in zip(times, cycle(PULSE_S), strict=False)]
    return state and len(times) >= len(PULSE_S) and all(fitting)


def listed(test: BuildTest) -> bool:
    """Whether somebody wrote down what documents there were, if only that there were none."""
    return bool(test.model_fields_set & {"documents", "certificates_seen"})


def _count(of_each: Iterable[int]) -> Measured | None:
    """The most that any unboxing found; it has no ±. [1]"""
    counts = list(of_each)
    return Measured(value=float(max(counts)), unit="1") if counts else None


def app(builds: Iterable[BuildTest], label: Label) -> str | None:
    """Whether its app does what an app is for; none claimed is no fault."""
    seen = [test.app_works for test in builds if test.app_works is not None]
    if seen:
        return "works" if all(seen) else "does not work"
    return "none" if label.app is False else None


def motor(answer: LoadAnswer) -> str | None:
    """What happens when this load is switched on: seen before summed, the worst that was seen."""
    alone = [run for run in answer.seen if run.together == (answer.load,) and run.by in {None, "bms"}]
    if any(run.outcome == "did_not_start" for run in alone):
        return "does not start"
    if any(run.outcome == "tripped" for run in alone):
        return "starts, then cuts off"
    if _ran(answer) or answer.start == "starts":
        return "starts"
    return "does not start" if answer.start == "will not" else None


def heater(answer: LoadAnswer, carries: Measured | None) -> str | None:
    """Whether it runs this load: seen, or because it carries that current for 30 min.

    For loads without an inrush alone: their current at the start is the one that they keep.
    """
    alone = [run for run in answer.seen if run.together == (answer.load,) and run.by in {None, "bms"}]
    if any(run.outcome in {"tripped", "did_not_start"} for run in alone):
        return "cuts off"
    if _ran(answer):
        return "runs"
    if answer.peak_a is None or carries is None or not gradable(carries):
        return None
    if carries.lowest >= answer.peak_a:
        return "runs"
    return "cuts off" if carries.highest < answer.peak_a else None


def _ran(answer: LoadAnswer) -> bool:
    return any(run.outcome in {"ran", "ran to the end"} for run in answer.seen)
