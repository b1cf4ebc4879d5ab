"""What derivations return: the nouns of derived evidence, without logic."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from site_builder.measured import Measured
from site_builder.series import Array


@dataclass(frozen=True, kw_only=True, slots=True)
class Finding:
    """Something a derivation noticed about a test, as a warning that the results file can answer.

    `field` is the key inside the test ("counted_ah"), or "" for the test as a whole.
    """

    field: str
    message: str
    hint: str
    code: str


@dataclass(frozen=True, kw_only=True, slots=True)
class OneResult:
    """One test's derived numbers.

    `metrics` by name, with the unit as suffix; `reasons` say in words why a bound is a bound; `off_reference` why the
    test cannot stand beside others as it is; `cannot` why something could not be computed, and what it would take.
    """

    test: str
    kind: str
    metrics: Mapping[str, Measured] = field(default_factory=dict)
    reasons: tuple[str, ...] = ()
    off_reference: tuple[str, ...] = ()
    cannot: tuple[str, ...] = ()
    curve: tuple[Array, Array] | None = None
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class UnitResult:
    """All derived numbers of one unit.

    `metrics` are the unit's own: the headline test's figures and what follows from them (price per kWh, Wh/kg);
    `headline` names the capacity test they come from, `superseded` maps an older test to the one that replaced it.
    """

    id: str
    class_id: str | None
    tests: Mapping[str, OneResult]
    metrics: Mapping[str, Measured]
    headline: str | None = None
    superseded: Mapping[str, str] = field(default_factory=dict)
    price: Priced | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Priced:
    """The newest price of a unit, in the catalogue's currency, with the row it comes from."""

    amount: float
    currency: str
    original: float
    original_currency: str
    rate_date: str | None
    date: str
    kind: str
    seller: str
    stale: bool
