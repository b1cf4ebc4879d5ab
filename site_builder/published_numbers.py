"""The numbers that two states of the catalogue publish for a unit, and which of them differ. Pure; computes none."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

Entry = Mapping[str, Any]  # a unit as in units.json, and under "tests" what each of its tests gave
Number = Mapping[str, Any]  # value, u, unit, bound, low, high, basis
NOT_KNOWN = "not known"
KEYS = ("value", "u", "unit", "bound", "low", "high", "basis")
BASES = {
    "as_read": " (as read)",
    "claimed": " (label)",
    "reported": " (evidence not kept)",
    "projected": " (projected)",
    "estimate": " (estimate)",
}
MONEY = frozenset({"price_per_kwh", "life_price_per_kwh"})


@dataclass(frozen=True, kw_only=True, slots=True)
class Moved:
    """A published number that is another now; both in words, with ± or as a bound.

    `name` is the number's name in the data files; one of a single test has that test's name before it.
    """

    unit: str
    name: str
    old: str
    new: str

    @property
    def is_first(self) -> bool:
        """Whether nothing was published under this name before: that corrects nothing."""
        return self.old == NOT_KNOWN

    def __str__(self) -> str:
        """Such as "delivered_ah 91.3 ± 0.9 Ah → 90.1 ± 0.9 Ah"."""
        return f"{self.name} {self.old} → {self.new}"


def moved_numbers(unit: str, old: Entry, new: Entry) -> tuple[Moved, ...]:
    """Numbers that differ in anything but their components, those that came and those that went, the unit's first.

    Kinds of number that only one of the two programs gives are left out: they did not move.
    """
    kinds = old.keys() & new.keys()
    moved = list(_moved(unit, dict(_numbers(old, kinds)), dict(_numbers(new, kinds))))
    told = {(one.name, one.old, one.new) for one in moved}
    for test in {**old["tests"], **new["tests"]} if "tests" in kinds else {}:
        before, after = ({name: _bare(one) for name, one in each["tests"].get(test, {}).items()} for each in (old, new))
        # What the unit's own numbers are taken from has been told with them.
        of_test = [one for one in _moved(unit, before, after) if (one.name, one.old, one.new) not in told]
        moved += [replace(one, name=f"{test}: {one.name}") for one in of_test]
    return tuple(moved)


def _moved(unit: str, before: Mapping[str, Number], after: Mapping[str, Number]) -> Iterator[Moved]:
    for name in {**before, **after}:
        if before.get(name) != after.get(name):
            yield Moved(unit=unit, name=name, old=number_words(before.get(name)), new=number_words(after.get(name)))


def _numbers(entry: Entry, kinds: frozenset[str] | set[str]) -> Iterator[tuple[str, Number]]:
    for name, one in (entry["metrics"] if "metrics" in kinds else {}).items():
        yield name, _bare(one)
    score = entry["score"] if "score" in kinds else None
    if score is not None and score["value"] is not None:
        yield "score", _bare({"unit": "", "bound": "scored"} | {key: score[key] for key in ("value", "low", "high")})
    for load, answer in (entry["loads"] if "loads" in kinds else {}).items():
        if answer["hours"] is not None:
            yield f"hours:{load}", _bare(answer["hours"])


def _bare(one: Number) -> Number:
    return {key: one.get(key) for key in KEYS}


def number_words(one: Number | None) -> str:
    """A number of the data files in words, as finely as they give it.

    >>> number_words({"value": 91.3, "u": 0.9, "unit": "Ah", "bound": "exact", "low": 90.4, "high": 92.2})
    '91.3 ± 0.9 Ah'
    """
    if one is None:
        return NOT_KNOWN
    factor, unit = (100.0, "%") if one["unit"] == "1" else (1.0, one["unit"] or "")
    value, u, low, high = (None if one[key] is None else f"{one[key] * factor:.12g}" for key in KEYS[:2] + KEYS[4:6])
    words = {
        "at_least": f"at least {low}",
        "at_most": f"at most {high}",
        "between": f"between {low} and {high}",
        "scored": f"{value} ({low} to {high})",
    }.get(one["bound"], f"{value} ± {u}" if u else f"{value}")
    return f"{words} {unit}".strip() + BASES.get(one.get("basis") or "", "")
