"""Where a spreadsheet's cell can go in a results file: paths such as label.mass_kg or capacity.counted_ah, and back.

A first word `unit`, `label` or `sample` stands for that group; any other is a kind of test, whose figures become one
test of that kind. Nothing is read or written here.
"""

from __future__ import annotations

import difflib
import re
import types
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from site_builder.commands.record_lines import KINDS, keyed, record_in
from site_builder.records import Label, Sample, Unit
from site_builder.values import In
from site_builder.yaml_text import Path

ROOTS: Mapping[str, type[BaseModel]] = {"unit": Unit, "label": Label, "sample": Sample, **KINDS}
# What the import itself says of every test, or what names something that a table cannot bring along.
NOT_OURS = frozenset({"kind", "evidence", "log", "video", "former_ids", "reason"})
_STEP = re.compile(r"([a-z0-9_]+)(?:\[([0-9])\])?")


@dataclass(frozen=True, kw_only=True, slots=True)
class Target:
    """One place for a cell: its path as written, where that lies in the file, and the field there."""

    name: str
    path: Path
    field: FieldInfo

    @property
    def number(self) -> In | None:
        """The unit and range of a number field; None for any other."""
        return next((one for one in _marks(self.field) if isinstance(one, In)), None)

    @property
    def words(self) -> tuple[str, ...]:
        """The words that it can be, where it is one of some."""
        return tuple(
            word for one in _members(self.field.annotation) if get_origin(one) is Literal for word in get_args(one)
        )

    def holds(self, kind: type) -> bool:
        """Whether the field is of this Python type (bool, int, tuple)."""
        return any(one is kind or get_origin(one) is kind for one in _members(self.field.annotation))

    @property
    def is_date(self) -> bool:
        """Whether it is a day."""
        return self.path[-1] in {"date", "until"}


def target(name: str) -> Target | str:
    """The place that `name` means; or what is wrong with it, with a way out."""
    first, *rest = name.strip().split(".")
    model: type[BaseModel] | None = ROOTS.get(first)
    if model is None or not rest:
        return _unknown(name)
    path: list[str | int] = list(_root(first))
    field: FieldInfo | None = None
    for step in rest:
        match = _STEP.fullmatch(step)
        field = dict(keyed(model)).get(match[1]) if match and model else None
        if match is None or field is None or match[1] in NOT_OURS:
            return _unknown(name)
        path.append(match[1])
        inner, is_list = (
            record_in(field.annotation),
            any(get_origin(one) is tuple for one in _members(field.annotation)),
        )
        if inner is not None and is_list:
            path.append(int(match[2] or 0))
        elif match[2] is not None:
            return _unknown(name)
        model = inner
    if field is None or model is not None:
        return _unknown(name)
    return Target(name=name.strip(), path=tuple(path), field=field)


def _root(first: str) -> tuple[str, ...]:
    if first in KINDS:
        return "tests", first.replace("_", "-")
    return ("samples", "a") if first == "sample" else (first,)


def _unknown(name: str) -> str:
    near = difflib.get_close_matches(name, all_targets(), n=3, cutoff=0.5)
    hint = (
        f"did you mean {' or '.join(near)}?"
        if near
        else "write label.…, sample.…, unit.… or a kind of test, such as capacity.counted_ah"
    )
    return f"{name[:60]!r} is no place in a results file; {hint}"


@cache
def all_targets() -> tuple[str, ...]:
    """Every place that a cell can go to, with the first entry of lists."""
    return tuple(name for first, model in ROOTS.items() for name in _below(first, model))


def _below(above: str, model: type[BaseModel]) -> Iterator[str]:
    for key, field in keyed(model):
        inner = record_in(field.annotation)
        if key in NOT_OURS:
            continue
        if inner is None:
            yield f"{above}.{key}"
        else:
            many = any(get_origin(one) is tuple for one in _members(field.annotation))
            yield from _below(f"{above}.{key}{'[0]' if many else ''}", inner)


def _members(annotation: Any) -> list[Any]:
    if get_origin(annotation) is Annotated:
        return _members(get_args(annotation)[0])
    if get_origin(annotation) in {Union, types.UnionType}:
        return [one for part in get_args(annotation) if part is not type(None) for one in _members(part)]
    return [annotation]


def _marks(field: FieldInfo) -> Iterator[Any]:
    yield from field.metadata
    for part in get_args(field.annotation) or (field.annotation,):
        if get_origin(part) is Annotated:
            yield from get_args(part)[1:]
