"""What derivations return: the nouns of derived evidence, without logic."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from site_builder.measured import Measured
from site_builder.problems import Severity
from site_builder.series import Array
from site_builder.values import Stated

if TYPE_CHECKING:
    from site_builder.derive.answers import Known
    from site_builder.derive.overload import Bracket, Point
    from site_builder.derive.trip_curve import TripCurve


@dataclass(frozen=True, kw_only=True, slots=True)
class Finding:
    """Something a derivation noticed about a test: a warning that the results file can answer, or an error.

    `field` is the key inside the test ("counted_ah", "readings.0.charge"), or "" for the test as a whole.
    """

    field: str
    message: str
    hint: str
    code: str
    severity: Severity = "warning"


@dataclass(frozen=True, kw_only=True, slots=True)
class OneResult:
    """One test's derived numbers.

    `metrics` by name, with the unit as suffix; `reasons` say in words why a bound is a bound; `off_reference` why the
    test cannot stand beside others as it is; `cannot` why something could not be computed, and what it would take;
    `curve_v` is the voltage after a tenth and after nine tenths of a discharge curve's charge;
    `conditions` what belongs to the numbers (pulse times, state of charge, temperature). `picture` is what a cold test
    shows besides temperatures, `pulses` a log of pulses.
    """

    test: str
    kind: str
    metrics: Mapping[str, Measured] = field(default_factory=dict)
    reasons: tuple[str, ...] = ()
    off_reference: tuple[str, ...] = ()
    cannot: tuple[str, ...] = ()
    conditions: tuple[str, ...] = ()
    curve: tuple[Array, Array] | None = None
    curve_v: tuple[Measured, Measured] | None = None
    findings: tuple[Finding, ...] = ()
    picture: ColdPicture | None = None
    pulses: PulsePicture | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class ColdPicture:
    """What a cold test shows: temperatures, charging currents by where they were read, moments in words, a fit.

    `warmed` is the first temperature, the highest one and the time between them [s]; `limits` are the ± of "battery"
    and of each of the currents, where it is known. `temperatures`, each of `currents` and `model` are times [s] beside
    °C or A; `moments` are times [s] and words.
    `by_hand` says that temperatures are single readings and no log.
    """

    warmed: tuple[Measured, Measured, Measured]
    limits: Mapping[str, float]
    temperatures: tuple[Array, Array]
    currents: Mapping[str, tuple[Array, Array]]
    moments: tuple[tuple[float, str], ...]
    model: tuple[Array, Array] | None
    by_hand: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class PulsePicture:
    """What a log of pulses shows: voltage [V] and current [A] at times [s], and the pulses that were found in it.

    A pulse is its last row before the step and the row it was read at, as indexes of those arrays.
    """

    time_s: Array
    voltage_v: Array
    current_a: Array
    found: tuple[tuple[int, int], ...]
    limits_v: float | None
    limits_a: float | None


@dataclass(frozen=True, kw_only=True, slots=True)
class SeenRun:
    """One run of a load that somebody saw: alone or together with others, and how it went.

    `reported` says that its evidence was not kept: it decides nothing.
    """

    test: str
    together: tuple[str, ...]
    outcome: str
    duration: Measured | None
    by: str | None
    reported: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Lasting:
    """Whether a load that has started runs on: "lasts", "cut off", "borderline" or "not known".

    `steady_a` is the battery's current while it is on; `carried` and `tripped` the steps on either side, for any time;
    `run` the test that was seen to cut it off, where that decided.
    """

    word: str
    steady_a: float | None = None
    carried: Point | None = None
    tripped: Point | None = None
    run: str | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class LoadAnswer:
    """What a unit does with one load.

    `hours` on one charge are projected, or `why_not` says what is missing; `start` is "starts", "will not",
    "borderline" or "not known"; `peak_a` is the battery current at the start; `uses` how many uses a charge holds.
    `start_seen` says that a run decided about the start; else `carried` and `tripped` are the steps on either side.
    `lasting` says whether it runs on: where it is cut off there are no hours.
    """

    load: str
    seen: tuple[SeenRun, ...]
    hours: Measured | None
    why_not: str | None
    start: str
    peak_a: float | None
    uses: Measured | None
    inverter: str | None
    start_seen: bool = False
    carried: Point | None = None
    tripped: Point | None = None
    lasting: Lasting = field(default_factory=lambda: Lasting(word="not known"))


@dataclass(frozen=True, kw_only=True, slots=True)
class Retention:
    """What a later test of the same sample, bench and method had left of the first one's charge."""

    first: str
    later: str
    share: Measured


@dataclass(frozen=True, kw_only=True, slots=True)
class Carrying:
    """How much a unit carries: all points, the brackets by name, and the curve through the trips where there is one.

    One for each firmware of the first sample, newest last.
    """

    firmware: str | None
    points: tuple[Point, ...]
    brackets: Mapping[str, Bracket]
    curve: TripCurve | None


@dataclass(frozen=True, kw_only=True, slots=True)
class UnitResult:
    """All derived numbers of one unit.

    `metrics` are the unit's own: the headline test's figures and what follows from them (price per kWh, Wh/kg);
    `headline` names the capacity test they come from, `superseded` maps an older test to the one that replaced it;
    `findings` are those that take more than one test to see, with the test they are shown at; `known` is what loads
    are answered from, for those that are not in the catalogue; `sources` names the test behind each of the metrics that
    are one test's own.
    """

    id: str
    class_id: str | None
    tests: Mapping[str, OneResult]
    metrics: Mapping[str, Measured]
    headline: str | None = None
    superseded: Mapping[str, str] = field(default_factory=dict)
    price: Priced | None = None
    loads: Mapping[str, LoadAnswer] = field(default_factory=dict)
    carrying: tuple[Carrying, ...] = ()
    retentions: tuple[Retention, ...] = ()
    findings: tuple[tuple[str, Finding], ...] = ()
    known: Known | None = None
    sources: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True, slots=True)
class Priced:
    """The newest price of a unit, in the catalogue's currency, with the row it comes from.

    `known` is the amount with what its writer left open ("about 300", "280 to 320"), `tag` how it was written.
    """

    known: Measured
    tag: Stated
    currency: str
    original_currency: str
    rate_date: str | None
    date: str
    kind: str
    seller: str
    stale: bool

    @property
    def amount(self) -> float:
        """In the catalogue's currency."""
        return self.known.value

    @property
    def original(self) -> float:
        """In the tag's own currency."""
        return self.tag.best
