"""What is wrong with the input, as values: collected, sorted and printed together, never raised one at a time."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import islice
from typing import Literal

Severity = Literal["error", "warning"]

MAX_ALIKE = 100  # findings of one check in one file: more say nothing new, and a hostile file could hold thousands


@dataclass(frozen=True, kw_only=True, slots=True)
class Problem:
    """One finding in one place, with a way out.

    `line` and `column` count from 1; 0 stands for "the file as a whole". `field` is the path inside the file
    ("tests.galley.duration_s"), `code` a stable word that a results file can acknowledge.
    """

    file: str
    line: int
    column: int
    field: str
    message: str
    hint: str
    code: str
    severity: Severity = "error"

    def __str__(self) -> str:
        """One greppable line: `file:line:column: field: message; way out`."""
        place = f"{self.file}:{self.line}:{self.column}"
        what = f"{self.field}: {self.message}" if self.field else self.message
        word = "warning: " if self.severity == "warning" else ""
        return on_one_line(f"{place}: {word}{what}; {self.hint}" if self.hint else f"{place}: {word}{what}")


def on_one_line(text: str) -> str:
    r"""Text with everything escaped that does not show.

    Names of keys, columns and files are others' words: a line break or a terminal's control code in one of them would
    fake or hide a finding.

    >>> print(on_one_line("amps\x1b[31m"))
    amps\x1b[31m
    """
    return text if text.isprintable() else "".join(one if one.isprintable() else repr(one)[1:-1] for one in text)


def in_order(problems: Iterable[Problem]) -> list[Problem]:
    """Sorted by place, each once, so that the same input always reads the same."""
    return sorted(set(problems), key=lambda p: (p.file, p.line, p.column, p.field, p.code, p.message))


def at_most(found: Iterable[Problem]) -> list[Problem]:
    """The first findings, and that there are more; what comes after those is not looked for."""
    kept = list(islice(found, MAX_ALIKE + 1))
    if len(kept) > MAX_ALIKE:
        more = "more problems like those above follow from here on"
        kept[-1] = replace(kept[-1], field="", message=more, hint="mend those first", code="and-more")
    return kept


def has_errors(problems: Iterable[Problem]) -> bool:
    """Whether any finding is more than a warning."""
    return any(problem.severity == "error" for problem in problems)
