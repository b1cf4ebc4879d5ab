"""Records → lines of a results file to fill in: what is needed, and in comments what may be said. Writes nothing.

Every description comes from the records themselves, so that none is kept twice.
"""

from __future__ import annotations

import types
from collections.abc import Iterable, Iterator, Mapping
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from site_builder.bench_tests import AnyTest, OneTest
from site_builder.yaml_text import written

STEP = "  "
KINDS: Mapping[str, type[AnyTest]] = {
    get_args(one.model_fields["kind"].annotation)[0]: one for one in get_args(get_args(OneTest)[0])
}


def field_lines(model: type[BaseModel], given: Mapping[str, Any], indent: str = "") -> Iterator[str]:
    """A line for each field: given ones with their value, needed ones open, all others as comments."""
    for key, field in keyed(model):
        if key in given:
            yield from _given_lines(key, field, given[key], indent)
        elif field.is_required():
            yield f"{indent}{key}:  # {described(field)}"
        else:
            yield from (f"{indent}# {line}" for line in open_lines(key, field))


def keyed(model: type[BaseModel]) -> list[tuple[str, FieldInfo]]:
    """A record's fields by the key that a file has for them."""
    return [(field.alias or name, field) for name, field in model.model_fields.items()]


def _given_lines(key: str, field: FieldInfo, value: Any, indent: str) -> Iterator[str]:
    inner = record_in(field.annotation)
    if inner is not None and isinstance(value, Mapping):
        yield f"{indent}{key}:  # {described(field)}"
        yield from field_lines(inner, value, indent + STEP)
    else:
        yield f"{indent}{key}: {written(value)}  # {described(field)}"


def open_lines(key: str, field: FieldInfo) -> Iterator[str]:
    """One field that may be left out, with all that may stand in it."""
    inner, many = record_in(field.annotation), _group(field.annotation)
    default = field.get_default(call_default_factory=True)
    usual = isinstance(default, str | int | float) or (default == () and inner is None)
    value = f" {written(default)}" if usual else ""
    yield f"{key}:{value}  # {described(field)}"
    if inner is None:
        return
    below = [line for name, one in keyed(inner) for line in open_lines(name, one)]
    if many is tuple:
        yield from (f"{STEP}{'- ' if i == 0 else '  '}{line}" for i, line in enumerate(below))
    else:
        yield from ([f"{STEP}a-name:"] if many is dict else [])
        yield from (f"{STEP * (2 if many is dict else 1)}{line}" for line in below)


def lines_of_test(kind: str) -> Iterator[str]:
    """One test to fill in: its kind, what is needed, what its kind may say, and what every test may say."""
    model = KINDS[kind]
    every = set(AnyTest.model_fields)
    own = {name: field for name, field in keyed(model) if name not in every and name != "kind"}
    needed = {name: field for name, field in own.items() if field.is_required()}
    yield f"{STEP}{kind.replace('_', '-')}:"
    yield f"{STEP * 2}kind: {kind}  # {(model.__doc__ or '').strip().splitlines()[0]}"
    yield from (f"{STEP * 2}{name}:  # {described(field)}" for name, field in needed.items())
    rest = [*((n, f) for n, f in own.items() if n not in needed), *((n, f) for n, f in keyed(model) if n in every)]
    yield from (f"{STEP * 2}# {line}" for name, field in rest for line in open_lines(name, field))


def described(field: FieldInfo) -> str:
    """What a field means, as editors show it, with the words that it can be."""
    words = _words(field.annotation)
    said = field.description or ""
    missing = [word for word in words if word not in said]
    return f"{said} One of: {', '.join(words)}." if missing else said


def _members(annotation: Any) -> Iterable[Any]:
    """What an annotation can be, without None and without what is only said about it."""
    if get_origin(annotation) is Annotated:
        return _members(get_args(annotation)[0])
    if get_origin(annotation) in {Union, types.UnionType}:
        return [one for part in get_args(annotation) if part is not type(None) for one in _members(part)]
    return [annotation]


def _words(annotation: Any) -> list[str]:
    return [str(word) for one in _members(annotation) if get_origin(one) is Literal for word in get_args(one)]


def _group(annotation: Any) -> type | None:
    """Whether a field holds a list or named entries."""
    return next((get_origin(one) for one in _members(annotation) if get_origin(one) in {tuple, dict}), None)


def record_in(annotation: Any) -> type[BaseModel] | None:
    """The record that a field holds, alone, in a list or by names; None where it holds none."""
    for one in _members(annotation):
        if isinstance(one, type) and issubclass(one, BaseModel):
            return one
        if get_origin(one) in {tuple, dict}:
            found = [record_in(part) for part in get_args(one) if part is not Ellipsis]
            return next((inner for inner in found if inner is not None), None)
    return None
