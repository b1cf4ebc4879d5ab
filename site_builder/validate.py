"""Plain data → a record, or every problem in it with its place, in words of our own. Reads and writes nothing."""

from __future__ import annotations

import difflib
import types
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from functools import cache
from typing import Annotated, Any, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, RootModel, ValidationError
from pydantic_core import ErrorDetails

from site_builder.bench_tests import OneTest
from site_builder.fields import NAME_PATTERN
from site_builder.problems import Problem, at_most
from site_builder.values import shown
from site_builder.yaml_text import Document, Path

R = TypeVar("R", bound=BaseModel)
MOST_HOMES = 2  # of a key that many records have, to be told where is no help


def record(model: type[R], document: Document) -> tuple[R | None, list[Problem]]:
    """The document as `model`, with the problems found; None where there is any."""
    problems = list(document.problems)
    if document.text is None or (document.data is None and problems):
        return None, problems
    try:
        made = from_data(model, document.data)
    except ValidationError as error:
        found = (_in_words(detail, model, document) for detail in error.errors(include_url=False))
        refused = refused_fields(document)
        return None, problems + at_most(problem for problem in found if not lies_in(problem.field, refused))
    return (None if problems else made), problems


def from_data(model: type[R], data: Any) -> R:
    """The data as `model`, by the keys of a file alone: a field `from_` of the code is the file's `from`.

    Raises:
        ValidationError: Pydantic's own, with every fault.
    """
    return model.model_validate(data, by_alias=True, by_name=False)


def refused_fields(document: Document) -> frozenset[str]:
    """Where YAML itself refused a value, so that nothing stands there."""
    return frozenset(problem.field for problem in document.problems if problem.code in {"yaml-alias", "yaml-tag"})


def lies_in(field: str, among: Iterable[str]) -> bool:
    """Whether a field is one of these or lies inside one: where YAML refused a value, its lack is no further finding.

    >>> lies_in("tests.run.soc.start", ["tests.run.soc"]), lies_in("tests.run-2", ["tests.run"])
    (True, False)
    """
    return any(field == one or field.startswith((f"{one}.", f"{one}[")) for one in among)


def row_record(model: type[R], row: Mapping[str, str | None], file: str, line: int) -> tuple[R | None, list[Problem]]:
    """One row of a CSV file as `model`, by heading, empty cells as None; problems carry the row's line."""
    try:
        return from_data(model, row), []
    except ValidationError as error:
        document = Document(file, dict(row), None)
        found = [_in_words(detail, model, document) for detail in error.errors(include_url=False)]
        return None, [replace(one, line=line, column=1, hint=_of_cell(one)) for one in found]


def _of_cell(problem: Problem) -> str:
    return "fill in the cell" if problem.code == "value-empty" else problem.hint


def place_of(detail: ErrorDetails, data: Any) -> tuple[Path, bool]:
    """Where a fault lies in the file's data, and whether it is the key there rather than its value."""
    # Pydantic's word for "the key itself"; in an unknown key it would be the key's own name.
    of_key = detail["type"] != "extra_forbidden" and detail["loc"][-1:] == ("[key]",)
    return _without_tags(detail["loc"][:-1] if of_key else detail["loc"], data), of_key


def _in_words(detail: ErrorDetails, model: type[BaseModel], document: Document) -> Problem:
    context, kind = detail.get("ctx", {}), detail["type"]
    path, of_key = place_of(detail, document.data)
    if kind == "extra_forbidden":
        message, hint = _unknown_key(path, _keys_at(model, path[:-1], document.data), model)
        return document.problem(path, message, hint, "key-unknown", of_key=True)
    if kind == "missing":
        line_of = path[:-1]
        return document.problem(line_of, f"{path[-1]} is missing", f"add {path[-1]}: …", "key-missing")
    if kind in {"union_tag_not_found", "union_tag_invalid"}:
        return document.problem(path, *_kind_words(document.data, path), "kind-unknown")
    if detail["input"] is None:
        return document.problem(path, "nothing stands here", "fill it in, or delete the key", "value-empty")
    if "hint" in context:
        return document.problem(path, detail["msg"], str(context["hint"]), kind)
    message, hint = _other(kind, detail, context)
    return document.problem(path, message, hint, kind.replace("_", "-"), of_key=of_key)


def _without_tags(loc: tuple[int | str, ...], data: Any) -> Path:
    """Pydantic's location without the step that only names a union's member."""
    path: list[str | int] = []
    for i, step in enumerate(loc):
        # Below tests.<name> comes the kind, once; a key of the test may be called the same.
        if i == 2 and loc[0] == "tests" and isinstance(data, Mapping) and step == data.get("kind"):
            continue
        path.append(step)
        data = _step_into(data, step)
    return tuple(path)


def _step_into(data: Any, step: str | int) -> Any:
    if isinstance(data, Mapping):
        return data.get(step)
    if isinstance(data, list) and isinstance(step, int) and step < len(data):
        return data[step]
    return None


def _unknown_key(path: Path, known: list[str], model: type[BaseModel]) -> tuple[str, str]:
    key = str(path[-1])
    if key.isdecimal():  # {worth: 1,16}
        return f"the number {key[:60]} stands where a key belongs", "write decimals with a point, not a comma"
    near = difflib.get_close_matches(key[:60], known, n=1, cutoff=0.6)
    if near:
        return f"the key {key[:60]!r} is not known here", f"did you mean {near[0]!r}?"
    # Of a file or of a test: a key inside one of their groups is a general word, and known in other groups by chance.
    homes = _homes(model).get(key, ()) if len(path) == 1 or (path[0] == "tests" and len(path) == 3) else ()
    there = f"it is known in {' and '.join(homes)}; " if 0 < len(homes) <= MOST_HOMES else ""
    return f"the key {key[:60]!r} is not known here", f"{there}known are {', '.join(known)}"


_GROUPS = {dict, list, tuple}
_KINDS = sorted(get_args(one.model_fields["kind"].annotation)[0] for one in get_args(get_args(OneTest)[0]))


def _keys_at(model: Any, path: Path, data: Any) -> list[str]:
    """The keys of the record type at `path` inside `model`."""
    annotation: Any = model.model_fields["root"].annotation if issubclass(model, RootModel) else model
    for step in path:
        data = _step_into(data, step)
        annotation = _inner(annotation, step, data)
    annotation = _chosen(annotation, data)
    if not (isinstance(annotation, type) and issubclass(annotation, BaseModel)):
        return []
    return [field.alias or name for name, field in annotation.model_fields.items()]


@cache
def _homes(model: type[BaseModel]) -> dict[str, list[str]]:
    """For each key where below a type of record it is known: `samples.<name>`, `tests.<name> of kind charge`."""
    homes: dict[str, list[str]] = defaultdict(list)
    for home, key in _known_below(model, ""):
        if home and home not in homes[key]:
            homes[key].append(home)
    return dict(homes)


def _known_below(annotation: Any, path: str) -> Iterator[tuple[str, str]]:
    for one in _members(annotation):
        if get_origin(one) in _GROUPS:
            inner = next(arg for arg in reversed(get_args(one)) if arg is not Ellipsis)
            yield from _known_below(inner, f"{path}.<name>" if get_origin(one) is dict else path)
        elif isinstance(one, type) and issubclass(one, BaseModel):
            kind = one.model_fields.get("kind")
            home = f"{path} of kind {get_args(kind.annotation)[0]}" if kind and get_args(kind.annotation) else path
            for name, field in one.model_fields.items():
                yield home.strip("."), field.alias or name
                yield from _known_below(field.annotation, f"{home}.{field.alias or name}")


def _members(annotation: Any) -> list[Any]:
    """The alternatives of a type, without Annotated and None."""
    if get_origin(annotation) is Annotated:
        return _members(get_args(annotation)[0])
    if get_origin(annotation) in {Union, types.UnionType}:
        return [one for member in get_args(annotation) if member is not type(None) for one in _members(member)]
    return [annotation]


def _inner(annotation: Any, step: str | int, data: Any) -> Any:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        fields = {field.alias or name: field.annotation for name, field in annotation.model_fields.items()}
        annotation = fields.get(str(step))
        return annotation if get_origin(annotation) in _GROUPS else _chosen(annotation, data)
    if get_origin(annotation) in _GROUPS:
        args = [arg for arg in get_args(annotation) if arg is not Ellipsis]
        return _chosen(args[-1], data)
    return annotation


def _chosen(annotation: Any, data: Any) -> Any:
    """Annotated and optional types unwrapped; of several records the one whose `kind` the data names."""
    members = _members(annotation)
    if len(members) == 1:
        return members[0]
    kind = data.get("kind") if isinstance(data, Mapping) else None
    return next((m for m in members if kind in get_args(m.model_fields["kind"].annotation)), annotation)


def _kind_words(data: Any, path: Path) -> tuple[str, str]:
    for step in path:
        data = _step_into(data, step)
    given = data.get("kind") if isinstance(data, Mapping) else None
    if given is None:
        return "the kind of this test is missing", f"add kind: and one of {', '.join(_KINDS)}"
    near = difflib.get_close_matches(str(given)[:60], _KINDS, n=1, cutoff=0.6) if isinstance(given, str) else []
    hint = f"did you mean {near[0]!r}?" if near else f"write one of {', '.join(_KINDS)}"
    return f"{shown(given)} is no kind of test", hint


def _other(kind: str, detail: ErrorDetails, context: Mapping[str, Any]) -> tuple[str, str]:
    """Words for the faults that pydantic finds itself."""
    given = shown(detail["input"])
    if kind == "literal_error":
        return f"{given} is not one of the words known here", f"write {context['expected']}"
    if kind == "string_type" and isinstance(detail["input"], int | float):
        word = "no text" if isinstance(detail["input"], bool) else "a number where text belongs"
        return f"{given} is {word}", f'put it in quotes: "{given}"'
    if kind == "string_pattern_mismatch":
        message, hint = PATTERN_WORDS[context["pattern"]]
        return f"{given} {message}", hint
    words = {
        "string_type": (f"{given} is not text", "write a line of text"),
        "string_too_short": ("the text is empty", "write something, or leave the key out"),
        "string_too_long": (f"the text is longer than {context.get('max_length')} characters", "shorten it"),
        "bool_type": (f"{given} is neither true nor false", "write true or false"),
        "int_type": (f"{given} is no whole number", "write a whole number, without quotes"),
        "greater_than_equal": (f"{given} is too small", f"write a number from {context.get('ge')} on"),
        "less_than_equal": (f"{given} is too large", f"write a number up to {context.get('le')}"),
        "tuple_type": (f"{given} stands where a list belongs", "write [one, two], or lines that start with a hyphen"),
        "list_type": (f"{given} stands where a list belongs", "write lines that start with a hyphen"),
        "dict_type": (
            f"{given} stands where named entries belong",
            "write a name and a colon, the rest indented below",
        ),
        "model_type": (f"{given} stands where keys belong", "write lines such as key: value, indented below"),
        "model_attributes_type": (f"{given} stands where keys belong", "write lines such as kind: capacity below"),
        "too_short": ("the list is empty", "write at least one entry"),
        "too_long": ("there are too many entries", f"keep to {context.get('max_length')}"),
    }
    return words.get(kind, (f"{given}: {detail['msg']}", "see the field's description in the schema"))


PATTERN_WORDS = {
    NAME_PATTERN: ("is no name that fits an address", "use a-z, 0-9 and single hyphens, such as bilge-pump"),
    r"^IP[0-6X][0-9X]$": ("is no ingress protection code", "write it like IP65"),
    r"^[a-z_]{1,20}$": ("is no name of a parameter", "write it as in the address before =, such as t"),
    r"^[A-Z]{3}$": ("is no currency code", "write the three letters of ISO 4217, such as EUR"),
    r"^([+-](0[0-9]|1[0-4]):[0-5][0-9]|UTC)$": ("is no offset from UTC", 'write it like "+01:00", or UTC'),
}
