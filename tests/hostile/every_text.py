"""Goes along the records and writes into every text field of a file, so that none that is added later is forgotten."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel, RootModel, StringConstraints

Field = tuple[str, str]  # record type, key in the file
Write = Callable[[Field], str]

# Text fields that hold words of the program or of a file, and cannot say what they like.
NOT_FREE: Mapping[Field, str] = {
    ("AnyTest", "log"): "a file's name",
    ("Column", "unit"): "a unit of measurement",
    ("TimeColumn", "pattern"): "letters of strptime",
    ("TimeColumn", "date_column"): "the log has one or not",
    ("TimeColumn", "column"): "a heading of the log",
    ("Column", "column"): "a heading of the log",
    ("Part", "fact"): "a metric",
    ("Part", "levels"): "words of the program",
    ("Acknowledged", "code"): "a warning's code",
    ("ComparisonClass", "chemistry"): "a chemistry of the records",
}


def written(model: Any, data: Any, write: Write, of: Field = ("", "")) -> Any:
    """The data with `write` in every text field of `model`, also in those that were left out."""
    model = _one_of(model, data)
    if is_text(model):
        return data if of in NOT_FREE else write(of)
    if _is_record(model):
        return _record(model, data, write)
    if get_origin(model) is tuple and is_text(get_args(model)[0]):
        return data if of in NOT_FREE else [write(of), write(of)]
    if get_origin(model) is tuple and isinstance(data, list):
        return [written(get_args(model)[0], one, write, of) for one in data]
    if get_origin(model) in {dict, list}:
        inner = get_args(model)[-1]
        entries = data.items() if isinstance(data, Mapping) else enumerate(data)
        made = {key: written(inner, one, write, of) for key, one in entries}
        return made if isinstance(data, Mapping) else list(made.values())
    return data


def _record(model: type[BaseModel], data: Any, write: Write) -> dict[str, Any]:
    made = {}
    for key, annotation in fields(model):
        if key in data:
            made[key] = written(annotation, data[key], write, (owner(model, key), key))
        elif _can_be_added(annotation) and (owner(model, key), key) not in NOT_FREE:
            made[key] = written(annotation, {}, write, (owner(model, key), key))
    return {**data, **made}


def _can_be_added(annotation: Any) -> bool:
    """Whether a text, a list of texts, or a record of optional keys with a text among them."""
    inner = _one_of(annotation, {})
    if is_text(inner):
        return True
    if get_origin(inner) is tuple:
        return is_text(get_args(inner)[0])
    return (
        _is_record(inner)
        and not any(one.is_required() for one in inner.model_fields.values())
        and any(text_fields(inner))
    )


def text_fields(model: Any) -> set[Field]:
    """Every text field that a file of this kind can have."""
    found: set[Field] = set()
    _collect(model, ("", ""), found, set())
    return found


def _collect(model: Any, of: Field, found: set[Field], seen: set[Any]) -> None:
    if is_text(model):
        found.add(of)
    elif _is_record(model):
        if model not in seen:
            seen.add(model)
            for key, annotation in fields(model):
                _collect(annotation, (owner(model, key), key), found, seen)
    else:
        for inner in get_args(model):
            _collect(inner, of, found, seen)


def is_text(annotation: Any) -> bool:
    """Whether any words may stand there: text without a pattern."""
    if get_origin(annotation) is not Annotated:
        return False
    base, *more = get_args(annotation)
    limits = [one for one in more if isinstance(one, StringConstraints)]
    return base is str and bool(limits) and not any(one.pattern for one in limits)


def fields(model: type[BaseModel]) -> Iterator[tuple[str, Any]]:
    """Keys as a file has them, each with its whole type: pydantic keeps the limits of a plain one beside it."""
    for name, field in model.model_fields.items():
        annotation: Any = field.annotation
        if annotation is str and field.metadata:
            annotation = Annotated[(str, *field.metadata)]
        yield field.alias or name, annotation


def owner(model: type[BaseModel], key: str) -> str:
    """The record type that declares a key: what all kinds of test share is one field."""
    declaring = [
        one for one in model.__mro__ if key.rstrip("_") in {k.rstrip("_") for k in vars(one).get("__annotations__", {})}
    ]
    return declaring[-1].__name__ if declaring else model.__name__


def _is_record(model: Any) -> bool:
    return isinstance(model, type) and issubclass(model, BaseModel)


def _one_of(annotation: Any, data: Any) -> Any:
    """What an optional or a choice of records is here."""
    if _is_record(annotation) and issubclass(annotation, RootModel):
        return annotation.model_fields["root"].annotation
    if get_origin(annotation) is Annotated and get_origin(get_args(annotation)[0]) in {Union, type(int | str), tuple}:
        return _one_of(get_args(annotation)[0], data)
    if get_origin(annotation) in {Union, type(int | str)}:
        members = [one for one in get_args(annotation) if one is not type(None)]
        return next((one for one in members if len(members) == 1 or _kind_of(one) == data.get("kind")), members[0])
    return annotation


def _kind_of(model: Any) -> Any:
    annotation = model.model_fields["kind"].annotation if _is_record(model) and "kind" in model.model_fields else None
    return get_args(annotation)[0] if get_origin(annotation) is Literal else None
