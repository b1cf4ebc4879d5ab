"""Everything derived, in one piece: what frames, charts, pages and data files are made from. No logic."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from site_builder.catalogue_records import Catalogue
from site_builder.derive.bench_plan import Plan
from site_builder.derive.results import UnitResult
from site_builder.grade import Graded
from site_builder.problems import Problem
from site_builder.rank import Place
from site_builder.records import ResultsFile
from site_builder.sensitivity import IfKnown, WeightRange
from site_builder.value import Valued


@dataclass(frozen=True, kw_only=True, slots=True)
class LogNote:
    """Where a log lies and which bytes it is, for the evidence section and the download.

    `lines` are the first and the last line of the file that were used.
    """

    file: str
    sha256: str
    rows: int
    used_rows: int
    lines: tuple[int, int] = (0, 0)
    faults: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class DerivedUnit:
    """One unit that may be shown: record, numbers, logs, the text of its results file, and the plan of its tests."""

    record: ResultsFile
    result: UnitResult
    logs: Mapping[str, LogNote] = field(default_factory=dict)
    written: str = ""
    plan: Plan | None = None

    @property
    def id(self) -> str:
        """The unit's id and address."""
        return self.record.unit.id


@dataclass(frozen=True, kw_only=True, slots=True)
class ClassStanding:
    """How one class stands beyond its units' own places.

    `leader` has the highest score (None where nothing is graded), `weights` say over what range it keeps it; `value` is
    the order by price per kWh.
    """

    leader: str | None
    weights: tuple[WeightRange, ...]
    value: tuple[Valued, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Standings:
    """Grade, place and what knowing more would do (by criterion), each by unit id; classes by theirs.

    Published units alone have a grade; only those with a score and a class have a place.
    """

    grades: Mapping[str, Graded] = field(default_factory=dict)
    places: Mapping[str, Place] = field(default_factory=dict)
    if_known: Mapping[str, Mapping[str, IfKnown]] = field(default_factory=dict)
    classes: Mapping[str, ClassStanding] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Published:
    """What the site calls itself, the address it is published at (with a slash at its end), and where files are made.

    `new_file` is the address at which the repository's host makes a new file, with {name} and {text} in it; empty where
    it has none.
    """

    name: str = "Battery bench tests"
    address: str = "https://bench.example/"
    new_file: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Asked:
    """What a browser answers from, as JSON can hold it (made in `asking`).

    `rules` are constants of the sums; `voltages` those that a load without an inverter is made for; `inverters` by
    "bench/name"; `units` each battery's numbers by id; `thresholds` by class what the smallest, the second smallest …
    of several comparisons has to exceed.
    """

    rules: Mapping[str, Any] = field(default_factory=dict)
    voltages: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    inverters: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    units: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    thresholds: Mapping[str, tuple[float, ...]] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True, slots=True)
class Derived:
    """The whole catalogue on its date; embargoed units are not in it.

    `standings` are empty where there is no grading.
    """

    as_of: dt.date
    catalogue: Catalogue
    units: tuple[DerivedUnit, ...]
    source_hash: str
    problems: tuple[Problem, ...] = ()
    standings: Standings = field(default_factory=Standings)
    published: Published = Published()
    asked: Asked = field(default_factory=Asked)

    def address_of(self, unit_id: str) -> str:
        """Where the unit's page is published, for good."""
        return f"{self.published.address}units/{unit_id}/"

    def of_class(self, class_id: str) -> tuple[DerivedUnit, ...]:
        """The published units of one class, by id."""
        return tuple(u for u in self.units if u.result.class_id == class_id and u.record.unit.status == "published")
