"""Where the aliases of a YAML text stand: its tree has the anchor's node there again. Only `yaml_text` asks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import yaml

Path = tuple[str | int, ...]


@dataclass(slots=True)
class _Open:
    """A group or list that has begun: its path, whether a key comes next, and the step to its next value."""

    path: Path
    is_group: bool
    key_next: bool
    step: str | int


def alias_places(text: str) -> Iterator[tuple[Path, tuple[int, int]]]:
    r"""The path of each value that is an alias, with its line and column, from 1; stop when you know enough.

    >>> list(alias_places("a: &one 1\nb: [2, *one]"))
    [(('b', 1), (2, 8))]
    """
    within: list[_Open] = []
    for event in yaml.parse(text, Loader=yaml.CSafeLoader):
        if isinstance(event, yaml.CollectionEndEvent):
            within.pop()
        elif isinstance(event, yaml.NodeEvent):
            path = _next_path(within, event)
            mark = event.start_mark
            if isinstance(event, yaml.AliasEvent) and path is not None and mark is not None:
                yield path, (mark.line + 1, mark.column + 1)
            if isinstance(event, yaml.CollectionStartEvent):
                is_group = isinstance(event, yaml.MappingStartEvent)
                within.append(_Open(path or (), is_group, is_group, 0))


def _next_path(within: list[_Open], event: yaml.NodeEvent) -> Path | None:
    """The path of the node that begins; None for a key."""
    if not within:
        return ()
    around = within[-1]
    if around.is_group:
        around.key_next = not around.key_next
        if not around.key_next:  # this is the key
            around.step = getattr(event, "value", "?")
            return None
        return (*around.path, around.step)
    path = (*around.path, around.step)
    around.step = int(around.step) + 1
    return path
