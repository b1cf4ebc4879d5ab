"""Warnings that a results file answers with a reason: they are left out here, and answers to nothing are found.

Whatever found a warning, it is answered by its code and by the test it stands at. Nothing is derived or read here.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence

from site_builder.load import UnitFile
from site_builder.problems import Problem
from site_builder.records import Acknowledged

# Every warning that can be answered.
ANSWERABLE = (
    "counted-rated",
    "counter-rated",
    "density",
    "efficiency-above-one",
    "log-cell",
    "log-clock-jump",
    "log-column-missing",
    "log-counter-disagree",
    "log-ragged",
    "log-time",
    "log-time-backward",
    "log-time-repeated",
    "log-time-wrapped",
    "price-odd",
    "refused-current",
    "run-longer-than-energy",
    "time-counter-disagree",
    "trips-contradict",
    "voltage-cells",
)


def after_answers(problems: Iterable[Problem], units: Sequence[UnitFile], faulty: Sequence[UnitFile]) -> list[Problem]:
    """The problems without answered warnings, and with those about the answers themselves.

    Args:
        problems: Everything that was found.
        units: Files from which everything was derived: an answer that met nothing there answers nothing.
        faulty: Files that were only checked, such as those with an error: what they answer was not looked for.
    """
    left = list(problems)
    for unit, whole in (*((unit, True) for unit in units), *((unit, False) for unit in faulty)):
        if unit.lacks("acknowledged"):
            left = [problem for problem in left if problem.severity == "error" or not _concerns(problem, unit)]
        for i, answer in enumerate(unit.record.acknowledged):
            kept = [problem for problem in left if not _answers(answer, problem, unit)]
            if answer.code not in ANSWERABLE:
                kept.append(_unknown(i, answer.code, unit))
            elif whole and len(kept) == len(left) and set(answer.tests) <= set(unit.record.tests):
                kept.append(_idle(i, answer, unit))
            left = kept
    return left


def way_to_answer(problem: Problem) -> str:
    """What to write where a warning is right as it stands; "" for one that cannot be answered.

    The test is named where the file shows it; a log's warning leaves it out, since two tests may share a log.
    """
    if problem.severity == "error" or problem.code not in ANSWERABLE:
        return ""
    group, _, rest = problem.field.partition(".")
    test = rest.partition(".")[0] if group == "tests" else ""
    tests = f"tests: [{test}], " if test else ""
    return f"; if it is right: acknowledged: [{{code: {problem.code}, {tests}reason: …}}]"


def _answers(answer: Acknowledged, problem: Problem, unit: UnitFile) -> bool:
    if problem.severity == "error" or problem.code != answer.code or not _concerns(problem, unit):
        return False
    return not answer.tests or any(_stands_at(problem, test, unit) for test in answer.tests)


def _concerns(problem: Problem, unit: UnitFile) -> bool:
    """Whether it is a problem of this file or of one of its logs."""
    return problem.file == unit.document.file or any(_stands_at(problem, test, unit) for test in unit.record.tests)


def _stands_at(problem: Problem, test: str, unit: UnitFile) -> bool:
    """Whether a problem is one of this test, or of its log."""
    if problem.file == unit.document.file:
        return problem.field == f"tests.{test}" or problem.field.startswith(f"tests.{test}.")
    recorded = unit.record.tests.get(test)
    log = recorded.log if recorded else None
    folders = (unit.record.unit.id, unit.path.stem)
    return log is not None and problem.file.endswith(tuple(f"/logs/{folder}/{log}" for folder in folders))


def _unknown(number: int, code: str, unit: UnitFile) -> Problem:
    near = difflib.get_close_matches(code[:60], ANSWERABLE, n=1, cutoff=0.6)
    hint = f"did you mean {near[0]!r}?" if near else f"known: {', '.join(ANSWERABLE)}"
    message = f"no warning has the code {code[:60]!r}"
    return unit.document.problem(("acknowledged", number, "code"), message, hint, "unknown-code")


def _idle(number: int, answer: Acknowledged, unit: UnitFile) -> Problem:
    where = f" in {', '.join(answer.tests)}" if answer.tests else ""
    message, hint = f"there is no warning {answer.code!r}{where} to answer", "delete this entry, or correct its tests"
    path = ("acknowledged", number)
    return unit.document.problem(path, message, hint, "answers-nothing", severity="warning")
