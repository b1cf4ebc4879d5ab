"""Entries of a history, or of changes.yml, in two states: which are new, which only reworded, which gone. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from site_builder.catalogue_records import Change
from site_builder.records import History

E = TypeVar("E", History, Change)


@dataclass(frozen=True, kw_only=True, slots=True)
class Told(Generic[E]):
    """Entries that are new, those whose words alone are others now, and published ones that are gone or altered."""

    fresh: tuple[E, ...]
    reworded: tuple[E, ...]
    gone: tuple[E, ...]


def told_since(old: Sequence[E], new: Sequence[E], facts: Callable[[E], Hashable]) -> Told[E]:
    """Each old entry is met by one new one at most, so that only what is there in surplus counts as new.

    Args:
        old: The entries of the other state.
        new: The present ones.
        facts: What of an entry may not change: all but its words.
    """
    left = Counter(old)
    surplus = [one for one in new if not _taken(left, one)]
    lost = list(left.elements())
    by_facts = Counter(map(facts, lost))
    met = [(one, _taken(by_facts, facts(one))) for one in surplus]
    return Told(
        fresh=tuple(one for one, is_old in met if not is_old),
        reworded=tuple(one for one, is_old in met if is_old),
        gone=tuple(one for one in lost if _taken(by_facts, facts(one))),
    )


def _taken(counts: Counter[Hashable] | Counter[E], one: Hashable) -> bool:
    held: Counter[Hashable] = counts  # type: ignore[assignment]
    held[one] -= 1
    return held[one] >= 0


def history_facts(lasting: Collection[str]) -> Callable[[History], Hashable]:
    """What of an entry of history may not change.

    Args:
        lasting: Tests and samples that both states have: an entry may not name one that its file does not, so that
            whoever renames a test has to rename it there too.
    """

    def facts(entry: History) -> Hashable:
        tests = tuple(name for name in entry.tests if name in lasting)
        return entry.date, entry.what, tests, entry.sample if entry.sample in lasting else None

    return facts


def change_facts(names_now: Mapping[str, str]) -> Callable[[Change], Hashable]:
    """What of an entry of changes.yml may not change.

    Args:
        names_now: The present id of each unit that was renamed, by a former one.
    """
    return lambda entry: (
        entry.date,
        entry.what,
        tuple(names_now.get(name, name) for name in entry.units),
        entry.bench,
    )
