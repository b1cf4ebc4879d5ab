"""One unit among what it may refer to: what each check of a results file looks at. Finds nothing by itself."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from site_builder.catalogue_records import Bench, Catalogue
from site_builder.load import UnitFile
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
        for name, test in self.unit.record.tests.items():
            yield name, test, bench_of(self.unit, name, self.catalogue)

    def names_bench(self, name: str) -> bool:
        """Whether test or file name a bench at all, be it known or not, or one that could not be read."""
        unit = self.unit
        named = unit.record.tests[name].bench or unit.record.bench
        return bool(named) or unit.lacks(f"tests.{name}.bench") or unit.lacks("bench")


def bench_of(unit: UnitFile, name: str, catalogue: Catalogue) -> Bench | None:
    """The bench of a test; None where nobody names one that there is, or where its name could not be read."""
    own = unit.record.tests[name].bench
    if unit.lacks(f"tests.{name}.bench") or (own is None and unit.lacks("bench")):
        return None
    return catalogue.benches.get(own or unit.record.bench or "")
