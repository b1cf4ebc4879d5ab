"""What a field of a bench sheet takes, from the records of a results file: the form refuses what they refuse."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any, get_args

from pydantic.fields import FieldInfo

from site_builder.bench_tests import OneTest
from site_builder.check import LOG_NAME
from site_builder.fields import Record
from site_builder.values import LEAST, ONE, RANGE, In
from site_builder.ways_out import MEANT, USUAL_UNITS
from site_builder.yaml_text import UNSEEN

RECORDS: dict[str, type[Record]] = {
    get_args(one.model_fields["kind"].annotation)[0]: one for one in get_args(get_args(OneTest)[0])
}


def grammar() -> str:
    """As JSON for the script: patterns, usual units, spellings that mean one of them, the least number there is.

    The pattern of characters that do not show is written by their numbers, since a page could not hold them either.
    """
    unseen = "".join(c if c in "[-]" else f"\\u{{{ord(c):x}}}" for c in UNSEEN.pattern)
    patterns = {"one": ONE.pattern, "range": RANGE.pattern, "log": LOG_NAME.pattern, "unseen": unseen}
    return json.dumps(patterns | {"units": USUAL_UNITS, "meant": MEANT, "least": LEAST}, ensure_ascii=False)


def field_at(record: type[Record], path: str) -> FieldInfo:
    """The field that a path with dots leads to."""
    name, _, rest = path.partition(".")
    field = record.model_fields[name]
    return field_at(record_of(field), rest) if rest else field


def record_of(field: FieldInfo) -> type[Record]:
    """The record that stands in the field, or in each line of it."""
    return next(part for part in _parts(field.annotation) if isinstance(part, type) and issubclass(part, Record))


def number_of(field: FieldInfo) -> In | None:
    """Unit and limits of a number, or of each number of a list."""
    return next((part for part in (*field.metadata, *_parts(field.annotation)) if isinstance(part, In)), None)


def is_needed(field: FieldInfo) -> bool:
    """Whether it has to be there as soon as anything of its group is."""
    return field.is_required()


def _parts(annotation: Any) -> Iterator[Any]:
    yield annotation
    for part in get_args(annotation):
        yield from _parts(part)
