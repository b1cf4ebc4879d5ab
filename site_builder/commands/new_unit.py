"""`new`: a results file for a unit to test, with what is needed and what may be said. Never overwrites."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from site_builder.catalogue_records import Catalogue, ComparisonClass
from site_builder.commands.ids import Taken, id_faults, id_of, name_fault
from site_builder.commands.record_lines import KINDS, STEP, field_lines, keyed, lines_of_test, open_lines
from site_builder.derive.unit import class_of
from site_builder.fields import Record
from site_builder.problems import Problem
from site_builder.records import Label, ResultsFile, Sample, Unit
from site_builder.validate import record
from site_builder.values import GrammarError, In, stated
from site_builder.yaml_text import parsed, written

SCHEMA_LINE = "# yaml-language-server: $schema=../catalogue/result.schema.json"
EMPTY = "value-empty"


@dataclass(frozen=True, kw_only=True, slots=True)
class Wanted:
    """What is known of the new unit: `label` and `sample` by field, as they were typed."""

    maker: str
    model: str
    id: str = ""
    status: str = "planned"
    bench: str | None = None
    label: Mapping[str, str]
    sample: Mapping[str, str]
    kinds: tuple[str, ...] = ()

    @property
    def unit_id(self) -> str:
        """The id given, else the one that maker and model make."""
        return self.id or id_of(self.maker, self.model)


@dataclass(frozen=True, kw_only=True, slots=True)
class Made:
    """The file's text and what is still to fill in; or `faults`, and nothing to write."""

    text: str = ""
    faults: tuple[str, ...] = ()
    open_fields: tuple[str, ...] = ()


def made(wanted: Wanted, catalogue: Catalogue, taken: Sequence[Taken]) -> Made:
    """The text of the new file, checked as `check` would; or why there is none."""
    faults = _faults(wanted, catalogue, taken)
    if faults:
        return Made(faults=faults)
    text = text_of(wanted, catalogue)
    problems = _problems(text, wanted.unit_id)
    wrong = tuple(f"{one.field}: {one.message}; {one.hint}" for one in problems if one.code != EMPTY)
    return Made(text=text, faults=wrong, open_fields=tuple(one.field for one in problems if one.code == EMPTY))


def _faults(wanted: Wanted, catalogue: Catalogue, taken: Sequence[Taken]) -> tuple[str, ...]:
    """What is wrong with all but label and sample, of which a file can hold anything."""
    names = (("maker", wanted.maker), ("model", wanted.model))
    faults = [fault for what, name in names if (fault := name_fault(what, name))]
    faults = faults or id_faults(wanted.unit_id, wanted.maker, wanted.model, taken)
    others = (*(_kind_fault(kind) for kind in wanted.kinds), _bench_fault(wanted.bench or "", catalogue))
    return (*faults, *(fault for fault in others if fault))


def _kind_fault(kind: str) -> str | None:
    return None if kind in KINDS else f"{kind!r} is no kind of test; known are {', '.join(KINDS)}"


def _bench_fault(bench: str, catalogue: Catalogue) -> str | None:
    if not bench or bench in catalogue.benches:
        return None
    return f"there is no bench {bench!r} in instruments.yml; known: {', '.join(catalogue.benches) or 'none'}"


def _value_fault(of: type[Record], key: str, value: str) -> str | None:
    """Why the record would not take this value of one of its fields; nothing is wrong with none."""
    problems = record(of, parsed(written({key: typed(value)}).encode(), key))[1] if value else ()
    return next((f"{one.message}; {one.hint}" for one in problems if one.field == key), None)


def _problems(text: str, unit_id: str) -> Sequence[Problem]:
    return record(ResultsFile, parsed(text.encode(), f"{unit_id}.yml"))[1]


def text_of(wanted: Wanted, catalogue: Catalogue) -> str:
    """The whole file: needed fields open or filled in, all others in comments with their descriptions."""
    unit = {"id": wanted.unit_id, "maker": wanted.maker, "model": wanted.model, "status": wanted.status}
    label = {key: typed(value) for key, value in wanted.label.items()}
    lines = [SCHEMA_LINE, *_head(wanted, catalogue), "", "unit:", *field_lines(Unit, unit, STEP), ""]
    bench = ResultsFile.model_fields["bench"].description
    lines.append(f"bench: {written(wanted.bench)}  # {bench}" if wanted.bench else f"# bench:  # {bench}")
    lines += ["", *_sample_lines(wanted.sample), "", "label:", *field_lines(Label, label, STEP), ""]
    tests = [line for kind in dict.fromkeys(wanted.kinds) for line in lines_of_test(kind)]
    lines += ["tests:", *tests] if tests else ["# tests:  # Tests, by a name of their own."]
    above = {"unit", "bench", "samples", "label", "tests"}
    rest = [(key, field) for key, field in keyed(ResultsFile) if key not in above]
    lines += ["", *(f"# {line}" for key, field in rest for line in open_lines(key, field))]
    return "\n".join(lines) + "\n"


def _head(wanted: Wanted, catalogue: Catalogue) -> Iterator[str]:
    yield "# Lines of keys in comments may be left out; take the # and one space away to use one."
    yield f"# What is still to fill in, and everything wrong: site-builder check results/{wanted.unit_id}.yml"
    yield f"# {' '.join(class_words(wanted.label, catalogue.classes).split())}"  # a title may hold line breaks


def _sample_lines(sample: Mapping[str, str]) -> Iterator[str]:
    if sample:
        yield from ("samples:", f"{STEP}a:", *field_lines(Sample, sample, STEP * 2))
    else:
        yield from (f"# {line}" for line in open_lines("samples", ResultsFile.model_fields["samples"]))


def typed(text: str) -> Any:
    """A value as a file would hold it: a number where the text is one, else the text.

    >>> typed("12.8"), typed("about 90"), typed("0123")
    (12.8, 'about 90', '0123')
    """
    data = parsed(text.encode(), "value").data if text.strip() else text
    return data if isinstance(data, int | float) and not isinstance(data, bool) else text


# --- what is suggested -----------------------------------------------------------------------------------------------
def newest_bench(catalogue: Catalogue) -> str | None:
    """The bench that stands since the latest day."""
    return max(catalogue.benches, key=lambda name: catalogue.benches[name].since, default=None)


def class_words(label: Mapping[str, str], classes: Mapping[str, ComparisonClass]) -> str:
    """Which class the label falls into, or the nearest one by what is given of it."""
    document = parsed(written({key: typed(value) for key, value in label.items()}).encode(), "label")
    whole = record(Label, document)[0] if document.data else None
    own = class_of(whole, classes) if whole is not None else None
    if own is not None:
        return f"Its class by this label: {classes[own].title} ({own})."
    near = nearest_class(label, classes)
    if near is None:
        return "Its class follows from voltage, capacity and chemistry of the label."
    words = f"{classes[near].title} ({near})"
    return f"In no class by this label; the nearest is {words}." if whole else f"Nearest class so far: {words}."


def nearest_class(label: Mapping[str, str], classes: Mapping[str, ComparisonClass]) -> str | None:
    """The class whose bands of voltage and capacity lie nearest in proportion; None where neither is given."""
    volts, hours = _number(label.get("nominal_v"), "V"), _number(label.get("capacity_ah"), "Ah")
    if volts is None and hours is None:
        return None
    chemistry = label.get("chemistry")
    fitting = [name for name, one in classes.items() if chemistry is None or chemistry in one.chemistry] or list(
        classes
    )

    def away(name: str) -> float:
        one = classes[name]
        bands = ((volts, one.nominal_v), (hours, one.capacity_ah))
        return sum(_away(value, band.from_.best, band.below.best) for value, band in bands if value is not None)

    return min(fitting, key=away, default=None)


def _away(value: float, low: float, high: float) -> float:
    """How far outside the band, in proportion; a little for being off its middle, so that bands that touch differ."""
    middle = abs(math.log(value / math.sqrt(max(low, 1e-9) * high)))
    return 10 * abs(math.log(value / min(max(value, low, 1e-9), high))) + 0.01 * middle


def _number(text: str | None, unit: str) -> float | None:
    try:
        return None if text is None else stated(text, In(unit, 0.001, 100_000)).best
    except GrammarError:
        return None


# --- on a terminal, and onto the disk --------------------------------------------------------------------------------
Ask = Callable[[str, str], str]
Tell = Callable[[str], None]
TRIES = 5


@dataclass(frozen=True, kw_only=True, slots=True)
class Asking:
    """Who asks, and who tells what is wrong with an answer."""

    ask: Ask
    tell: Tell

    def until_right(self, question: str, suggestion: str, fault_of: Callable[[str], str | None]) -> str:
        """The first answer that nothing is wrong with; after some tries the last one, which `made` refuses."""
        answer = ""
        for _ in range(TRIES):
            answer = self.ask(question, suggestion)
            fault = fault_of(answer)
            if fault is None:
                break
            self.tell(fault)
        return answer


def asked(wanted: Wanted, catalogue: Catalogue, taken: Sequence[Taken], asking: Asking) -> Wanted:
    """The same with what a person answers to what is not given yet; an empty answer takes what is suggested.

    Where what was given, or the id that follows from the names, cannot be had, nothing more is asked: `made` says why.
    """
    named = replace(
        wanted,
        maker=wanted.maker or asking.until_right("Maker, as on the case", "", partial(name_fault, "maker")),
        model=wanted.model or asking.until_right("Model, as on the case", "", partial(name_fault, "model")),
    )
    if _faults(named, catalogue, taken) or any(_value_fault(Label, *one) for one in wanted.label.items()):
        return named
    label = _asked_label(wanted.label, catalogue, asking)
    bench_fault = partial(_bench_fault, catalogue=catalogue)
    bench = wanted.bench or asking.until_right("Bench", newest_bench(catalogue) or "", bench_fault)
    sample = dict(wanted.sample)
    how = "How it was obtained (bought, borrowed, given, sent by …)"
    if not sample and (answer := asking.until_right(how, "", partial(_value_fault, Sample, "obtained"))):
        sample["obtained"] = answer
    planned = f"Tests planned, of {', '.join(KINDS)}"
    kinds = wanted.kinds or _kinds_in(asking.until_right(planned, "", _kinds_fault))
    return replace(named, label=label, bench=bench or None, sample=sample, kinds=kinds)


def _asked_label(given: Mapping[str, str], catalogue: Catalogue, asking: Asking) -> dict[str, str]:
    label = dict(given)

    def ask(key: str, question: str, suggestion: str) -> None:
        fault_of = partial(_value_fault, Label, key)
        if key not in label and (answer := asking.until_right(question, suggestion, fault_of)):
            label[key] = answer

    ask("nominal_v", "Nominal voltage [V]", "")
    ask("capacity_ah", "Rated capacity [Ah]", "")
    near = nearest_class(label, catalogue.classes)
    ask("chemistry", "Cell chemistry", catalogue.classes[near].chemistry[0] if near else "")
    return label


def _kinds_in(answer: str) -> tuple[str, ...]:
    return tuple(answer.replace(",", " ").split())


def _kinds_fault(answer: str) -> str | None:
    return next((fault for kind in _kinds_in(answer) if (fault := _kind_fault(kind))), None)


def write_new(path: Path, text: str) -> str | None:
    """Write a file that is not there yet; what went wrong where it could not be."""
    try:
        with path.open("x", encoding="utf-8", newline="\n") as file:  # fails where anything has that name, be it a link
            file.write(text)
    except FileExistsError:
        return f"{path} is there already; nothing was written"
    except OSError as error:
        return f"{path} cannot be written: {error.strerror}"
    return None
