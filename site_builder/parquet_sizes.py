"""How much a Parquet file says it holds, in its footer and in the header before each page; unpacks nothing.

pyarrow takes the room that a file asks for before it looks whether anything is there: a kilobyte can ask for terabytes.
Its own view of the footer ends the whole program where that contradicts itself, so that the footer is read here.

Source:
    Apache Parquet, parquet.thrift (FileMetaData, RowGroup, ColumnMetaData, PageHeader); Apache Thrift, compact protocol
    encoding.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

MAX_FOOTER_BYTES = 500_000  # a few thousand columns in all its groups of rows
MAX_DEPTH = 8
# Numbers of the fields that are needed, by the structure that they stand in.
ROWS, GROUPS = 3, 4  # of the file
CHUNKS, GROUP_ROWS = 1, 3  # of a group of rows
METADATA, VALUES, PACKED, DATA_AT, DICTIONARY_AT = 3, 5, 7, 9, 11  # of a column's chunk
PAGE_UNPACKED, PAGE_PACKED, PAGE_VALUES = 2, 3, ((5, 1), (7, 1), (8, 1))  # of a page
_TRUE, _FALSE, _BYTE, _WHOLE, _DOUBLE, _BINARY, _LIST, _STRUCT = 1, 2, 3, {4, 5, 6}, 7, 8, 9, 12


@dataclass(frozen=True, slots=True)
class Claimed:
    """The largest count of rows that any part of the file claims, and the bytes of all its pages unpacked."""

    rows: int
    unpacked_bytes: int


def claimed(raw: bytes) -> Claimed:
    """What the file claims; a page counts as no smaller than a byte for each of its values.

    Raises:
        ValueError: It is no Parquet file, contradicts itself, or describes more columns than a log can have.
        LookupError: It ends too early.
    """
    length = int.from_bytes(raw[-8:-4], "little")
    if raw[:4] != b"PAR1" or raw[-4:] != b"PAR1" or not 0 < length <= min(len(raw) - 12, MAX_FOOTER_BYTES):
        raise ValueError("it has no footer of a Parquet file")
    footer, _ = _struct(raw, len(raw) - 8 - length, 0)
    groups = _listed(footer, GROUPS)
    chunks = [chunk[METADATA] for group in groups for chunk in _listed(group, CHUNKS)]
    rows = max(_count(footer, ROWS), sum(_count(group, GROUP_ROWS) for group in groups))
    return Claimed(
        rows=max([rows, *(_count(chunk, VALUES) for chunk in chunks)]),
        unpacked_bytes=sum(_page_bytes(raw, chunk) for chunk in chunks),
    )


def _page_bytes(raw: bytes, chunk: Any) -> int:
    start, length = _count(chunk, DATA_AT), _count(chunk, PACKED)
    dictionary = _count(chunk, DICTIONARY_AT) if DICTIONARY_AT in chunk else 0
    start = min(start, dictionary or start)
    at, total = start, 0
    while at < start + length:
        header, at = _struct(raw, at, 0)
        values = sum(_count(header, *path) for path in PAGE_VALUES if path[0] in header)
        total += max(_count(header, PAGE_UNPACKED), values)
        at += _count(header, PAGE_PACKED)
    return total


def _count(fields: Any, *path: int) -> int:
    for number in path:
        if not isinstance(fields, dict):
            raise ValueError("a number stands where fields belong")  # noqa: TRY004  # the file is wrong, not the call
        fields = fields[number]
    if not isinstance(fields, int) or fields < 0:
        raise ValueError("a size is none")
    return fields


def _listed(fields: Any, number: int) -> Sequence[dict[int, Any]]:
    entries = fields.get(number)
    if not isinstance(entries, list) or not all(isinstance(one, dict) for one in entries):
        raise ValueError("a list is none")
    return entries


def _struct(raw: bytes, at: int, depth: int) -> tuple[dict[int, Any], int]:
    """The fields of a structure by their numbers, and where it ends."""
    if depth > MAX_DEPTH:
        raise ValueError("nothing in such a file is nested as deep")
    fields: dict[int, Any] = {}
    number = 0
    while kind := raw[at]:
        step, at = kind >> 4, at + 1
        if step:
            number += step
        else:
            number, at = _whole(raw, at)
        fields[number], at = _value(raw, at, kind & 15, depth)
    return fields, at + 1


def _value(raw: bytes, at: int, kind: int, depth: int) -> tuple[Any, int]:
    if kind in {_TRUE, _FALSE}:
        return kind == _TRUE, at
    if kind in _WHOLE:
        return _whole(raw, at)
    if kind == _STRUCT:
        return _struct(raw, at, depth + 1)
    if kind == _LIST:
        return _list(raw, at, depth + 1)
    if kind == _BINARY:
        length, at = _varint(raw, at)
        return None, at + length
    if kind in {_BYTE, _DOUBLE}:
        return None, at + (1 if kind == _BYTE else 8)
    raise ValueError("a field is of no kind that such a file has")


def _list(raw: bytes, at: int, depth: int) -> tuple[list[Any], int]:
    size, kind = raw[at] >> 4, raw[at] & 15
    size, at = _varint(raw, at + 1) if size == 15 else (size, at + 1)
    if size > len(raw) - at:  # an entry takes a byte at least
        raise ValueError("a list is longer than the file")
    entries = []
    for _ in range(size):
        one, at = _value(raw, at, _BYTE if kind in {_TRUE, _FALSE} else kind, depth)
        entries.append(one)
    return entries, at


def _whole(raw: bytes, at: int) -> tuple[int, int]:
    coded, at = _varint(raw, at)
    return (coded >> 1) ^ -(coded & 1), at


def _varint(raw: bytes, at: int) -> tuple[int, int]:
    number = 0
    for place, byte in enumerate(raw[at : at + 10]):
        number |= (byte & 0x7F) << (7 * place)
        if byte < 0x80:
            return number, at + place + 1
    raise ValueError("a number never ends")
