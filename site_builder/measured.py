"""A number that carries what is not known about it: signed uncertainty components by source, or a bound.

The rules are those of the GUM (JCGM 100:2008): first-order propagation with correlations. A component's name is its
variable: two numbers that carry the same name were made with the same instrument error, which cancels in their
difference. Nothing here knows files, tests or pages.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from typing import Any, Literal

Bound = Literal["exact", "at_least", "at_most", "between"]
Basis = Literal["measured", "projected", "estimate", "claimed", "as_read", "reported"]

AS_WRITTEN = "stated:"  # how the component of a writer's own "about" or range begins
NOT_KEPT = "reported, evidence not kept"  # what basis "reported" reads

CONFIDENCE = 0.95
# GUM G.2.2 and 4.3.7: 95 % of a rectangular distribution of half-width a lie within 0.95 a = 1.645 u.
COVERAGE_RECTANGULAR = 1.65
# Where all other components together stay below this share of one rectangular limit, that limit's shape rules.
DOMINANCE = 0.3


@dataclass(frozen=True, slots=True)
class Component:
    """One source's signed standard uncertainty in the result's unit, its degrees of freedom and its hard limit.

    `limit` is the half-width that this source can never exceed (a rectangular limit), or None where there is none.
    """

    u: float
    dof: float = math.inf
    limit: float | None = None

    def scaled(self, factor: float) -> Component:
        """The same source, seen through a sensitivity coefficient."""
        limit = None if self.limit is None else abs(factor) * self.limit
        return Component(self.u * factor, self.dof, limit)


def rectangular(half_width: float) -> Component:
    """A limit ±a as a component: u = a/√3.

    Source:
        GUM (JCGM 100:2008) 4.3.7.

    >>> round(rectangular(1.0).u, 4)
    0.5774
    """
    return Component(half_width / math.sqrt(3), limit=abs(half_width))


def display_step(step: float) -> Component:
    """What a display that shows whole steps r hides: u = r/√12.

    Source:
        GUM (JCGM 100:2008) F.2.2.1.
    """
    return rectangular(step / 2)


@dataclass(frozen=True, kw_only=True)  # no slots: U is kept once it is worked out
class Measured:
    """A best value in `unit`, its components by source, and which side of it is known.

    `bound` says what the evidence allows: "exact" (value ± U), "at_least" and "at_most" (one side is open), "between"
    (`low` to `high`, as recorded; nothing inside is likelier). `basis` "as_read" is a reading whose instrument nobody
    named, "claimed" what a label says, "reported" a figure whose evidence was not kept: none of them has a ±. `low` and
    `high` are set for "between" only; use `lowest` and `highest` for any bound.
    """

    value: float
    unit: str
    components: Mapping[str, Component] = field(default_factory=dict)
    bound: Bound = "exact"
    low: float | None = None
    high: float | None = None
    basis: Basis = "measured"

    def __post_init__(self) -> None:
        """A number between two ends has both: whoever makes one of others has to say where they went."""
        if (self.bound == "between") != (self.low is not None and self.high is not None):
            raise ValueError(f"{self.bound} with the ends {self.low} and {self.high}")

    @cached_property
    def u(self) -> float:
        """Combined standard uncertainty: the root of the sum of squares of the components."""
        return math.hypot(*(component.u for component in self.components.values()))

    @cached_property
    def expanded(self) -> float | None:
        """U for two-sided 95 %, or None where nobody can say: no instrument was named, or it is a bare claim."""
        unknown = self.basis in {"as_read", "reported"} or (self.basis == "claimed" and not self.components)
        return None if unknown else expanded_uncertainty(self.components)

    @cached_property
    def written_limit(self) -> float:
        """How far off its writer's own words allow it to be ("about", "85 to 95"), where nobody can say a ±."""
        if self.expanded is not None:
            return 0.0
        written = (one.limit for name, one in self.components.items() if name.startswith(AS_WRITTEN))
        return math.fsum(limit for limit in written if limit is not None)

    @property
    def lowest(self) -> float:
        """The lowest value that the evidence allows (-inf where that side is open)."""
        if self.bound == "at_most":
            return -math.inf
        return (self.value if self.low is None else self.low) - (self.expanded or self.written_limit)

    @property
    def highest(self) -> float:
        """The highest value that the evidence allows (inf where that side is open)."""
        if self.bound == "at_least":
            return math.inf
        return (self.value if self.high is None else self.high) + (self.expanded or self.written_limit)

    def as_bound(self, bound: Bound) -> Measured:
        """The same number with one side opened."""
        return replace(self, bound=bound)

    def opened_up(self) -> Measured | None:
        """What is left where more could have come: the lower end; nothing of a number that has none."""
        if self.bound == "at_most":
            return None
        return replace(self, value=self.value if self.low is None else self.low, bound="at_least", low=None, high=None)

    def scaled(self, factor: float, unit: str | None = None) -> Measured:
        """The number times a positive factor that is exact: components and both ends with it."""
        return replace(
            self,
            value=self.value * factor,
            unit=self.unit if unit is None else unit,
            components={name: one.scaled(factor) for name, one in self.components.items()},
            low=None if self.low is None else self.low * factor,
            high=None if self.high is None else self.high * factor,
        )

    def with_component(self, name: str, component: Component) -> Measured:
        """The same number with one more source of uncertainty; a source it has already adds to that source."""
        return replace(self, components=add_components(self.components, {name: component}))


def exact(value: float, unit: str) -> Measured:
    """A number without uncertainty, such as a label's claim."""
    return Measured(value=value, unit=unit)


def add_components(*many: Mapping[str, Component]) -> dict[str, Component]:
    """Sums by source: signed u and limits add, since one name is one error."""
    total: dict[str, Component] = {}
    for components in many:
        for name, one in components.items():
            before = total.get(name)
            total[name] = one if before is None else _joined(before, one)
    return total


def _joined(a: Component, b: Component) -> Component:
    limit = None if a.limit is None or b.limit is None else a.limit + b.limit
    return Component(a.u + b.u, min(a.dof, b.dof), limit)


def effective_dof(components: Mapping[str, Component]) -> float:
    """ν_eff by the Welch–Satterthwaite formula; infinite where no component has finite degrees of freedom.

    Source:
        GUM (JCGM 100:2008) G.4.1, equation G.2b.
    """
    fourth = sum(c.u**4 / c.dof for c in components.values() if math.isfinite(c.dof))
    return math.hypot(*(c.u for c in components.values())) ** 4 / fourth if fourth > 0 else math.inf


def expanded_uncertainty(components: Mapping[str, Component]) -> float:
    """U = k·u at 95 %, k by the shape that rules, never beyond the sum of hard limits.

    Source:
        GUM (JCGM 100:2008) G.3, G.4 (Student's t at ν_eff); 4.3.7 and G.2.2 for a dominating rectangular limit.
    """
    u = math.hypot(*(c.u for c in components.values()))
    if u == 0:
        return 0.0
    limits = [c.limit for c in components.values()]
    k = COVERAGE_RECTANGULAR if _one_limit_rules(components, u) else coverage_factor(effective_dof(components))
    return k * u if None in limits else min(k * u, sum(limit for limit in limits if limit is not None))


def _one_limit_rules(components: Mapping[str, Component], u: float) -> bool:
    largest = max(components.values(), key=lambda c: abs(c.u))
    others = math.sqrt(max(u**2 - largest.u**2, 0.0))
    return largest.limit is not None and others < DOMINANCE * abs(largest.u)


@lru_cache(maxsize=4096)
def coverage_factor(dof: float, confidence: float = CONFIDENCE) -> float:
    """Student's t, two-sided; the normal quantile where the degrees of freedom are infinite.

    Degrees of freedom are cut to whole numbers, as GUM G.4.1 asks.

    >>> round(coverage_factor(math.inf), 4)
    1.96
    """
    # scipy is slow to import and most command lines never need it.
    from scipy.special import ndtri, stdtrit  # noqa: PLC0415

    tail = (1 + confidence) / 2
    return float(ndtri(tail)) if math.isinf(dof) else float(stdtrit(max(math.floor(dof), 1), tail))


def through(function: Callable[..., Any], *inputs: Measured, unit: str) -> Measured:
    """The function of several measured numbers, first order, correlations by shared names.

    The function is evaluated once on numbers that carry their derivatives; use operators, and
    `uncertainties.umath` for anything else. A component arrives as the sum of what each input brings of it. The
    weakest basis among the inputs is the result's; bounds do not travel through an arbitrary function: whoever knows
    its direction sets them.

    Source:
        GUM (JCGM 100:2008) 5.2.2, equation 16, with each component an independent variable.
    """
    from uncertainties import ufloat  # noqa: PLC0415

    # One variable for each input, whatever its components: they share its derivative.
    numbers = [ufloat(one.value, 1.0) if one.components else one.value for one in inputs]
    result = function(*numbers)
    derivatives = {id(variable): d for variable, d in getattr(result, "derivatives", {}).items()}
    arrived: dict[str, float] = {}
    sources: dict[str, list[Component]] = {}
    for one, number in zip(inputs, numbers, strict=True):
        derivative = derivatives.get(id(number), 0.0)
        for name, component in one.components.items():
            arrived[name] = arrived.get(name, 0.0) + derivative * component.u
            sources.setdefault(name, []).append(component)
    components = {name: _carried(u, sources[name]) for name, u in arrived.items() if u}
    return Measured(
        value=float(getattr(result, "nominal_value", result)),
        unit=unit,
        components=components,
        basis=weakest_basis(*(one.basis for one in inputs)),
    )


def bounded(function: Callable[..., Any], *inputs: Measured, unit: str, rises: tuple[bool, ...]) -> Measured | None:
    """`through`, with what the inputs' bounds leave of the result; None where nothing is known of either side.

    Args:
        function: Rises, or falls, with each input all the way.
        inputs: Numbers with any bound.
        unit: The result's unit.
        rises: For each input, whether the result rises with it.

    Returns:
        "between" where both ends are known, "at_least" or "at_most" where one is, worked out at that end.
    """
    if all(one.bound == "exact" for one in inputs):
        return through(function, *inputs, unit=unit)
    at_low = [_end(one, low=up) for one, up in zip(inputs, rises, strict=True)]
    at_high = [_end(one, low=not up) for one, up in zip(inputs, rises, strict=True)]
    low, high = _value_at(function, at_low), _value_at(function, at_high)
    if low is not None and high is not None:
        middle = through(function, *inputs, unit=unit)
        return replace(middle, bound="between", low=low, high=high)
    if low is None and high is None:
        return None
    at, bound = (at_low, "at_least") if high is None else (at_high, "at_most")
    moved = [replace(one, value=end) for one, end in zip(inputs, at, strict=True)]
    return through(function, *moved, unit=unit).as_bound(bound)  # type: ignore[arg-type]  # one of two bounds


def _end(one: Measured, *, low: bool) -> float:
    """The lower or upper end of what is known, without U; infinite where it is open."""
    match one.bound:
        case "at_least":
            return one.value if low else math.inf
        case "at_most":
            return -math.inf if low else one.value
    end = one.low if low else one.high
    return one.value if end is None else end


def _value_at(function: Callable[..., Any], ends: Sequence[float]) -> float | None:
    if not all(math.isfinite(end) for end in ends):
        return None
    try:
        value = float(function(*ends))
    except ZeroDivisionError:
        return None
    return value if math.isfinite(value) else None


def _carried(u: float, sources: Sequence[Component]) -> Component:
    """The component as it arrives from the inputs that have it, with its u: its limit grows alike."""
    ratios = [s.limit / abs(s.u) if s.limit is not None and s.u else None for s in sources]
    known = [ratio for ratio in ratios if ratio is not None]
    limit = abs(u) * max(known) if len(known) == len(ratios) else None
    return Component(u, min(s.dof for s in sources), limit)


_WEAKEST_FIRST: tuple[Basis, ...] = ("reported", "as_read", "claimed", "estimate", "projected", "measured")


def weakest_basis(*bases: Basis) -> Basis:
    """A result is worth no more than the weakest evidence in it."""
    return min(bases, key=_WEAKEST_FIRST.index, default="measured")


def rounded_pair(value: float, expanded: float | None, digits: int = 2) -> tuple[float, float | None]:
    """Value and U as published in data: U with two significant digits, the value to its place.

    Without a U the value keeps six significant digits.

    >>> rounded_pair(1169.2345, 13.29)
    (1169.0, 13.0)
    """
    if not expanded or not math.isfinite(expanded):
        return float(f"{value:.6g}"), expanded
    place = digits - 1 - math.floor(math.log10(expanded))
    return round(value, place), round(expanded, place)
