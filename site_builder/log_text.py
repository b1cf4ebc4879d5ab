"""A log file → its text in UTF-8, within limits. Knows nothing of columns.

Text is counted piece by piece before it is kept whole, so that what is refused never fills the memory: ten gigabytes of
rows pack into a few megabytes.
"""

from __future__ import annotations

import codecs
import lzma
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import partial
from pathlib import Path

from site_builder.log_rows import UnreadableLogError

MAX_BYTES = 500_000_000  # unpacked
MAX_ROWS = 5_000_000
MAX_LINES = MAX_ROWS + 10_000  # what stands above the rows
MAX_LINE_BYTES = 1_000_000
MAX_MEMBERS = 50_000  # of one gzip file; writers that pack block by block make one for every 64 kB
PIECE_BYTES = 1_000_000
KEPT_BYTES = 64_000_000

TOO_MANY_ROWS = (f"the log has over {MAX_ROWS} rows", "log less often, or split the test", "log-size")
TOO_LARGE = ("the log is over 500 MB unpacked", "log less often, or split the test", "log-size")


def log_bytes(path: Path) -> bytes:
    """The file as it lies there; plain text only once its limits were looked at.

    Raises:
        UnreadableLogError: It passes a limit.
        OSError: It cannot be read.
    """
    if path.stat().st_size > MAX_BYTES:
        raise UnreadableLogError(*TOO_LARGE)
    if path.suffix not in {*_PIECES, ".parquet"}:
        with path.open("rb") as stream:
            _counted(iter(partial(stream.read, PIECE_BYTES), b""))
    return path.read_bytes()


def unpacked(raw: bytes, name: str) -> bytes:
    """The text of the log, decompressed no further than the limits.

    Raises:
        UnreadableLogError: It cannot be unpacked, or passes a limit.
    """
    ending = Path(name).suffix
    pieces = _PIECES.get(ending)
    if pieces is None:
        return raw
    try:
        kept = _counted(pieces(raw))
        # Within the limits, but long: from here on it may take the room.
        return b"".join(pieces(raw)) if kept is None else kept
    except (EOFError, lzma.LZMAError, zlib.error):
        message = f"the log cannot be unpacked as {ending}: it is cut short, damaged or something else"
        raise UnreadableLogError(message, "copy or compress it again; plain text ends in .csv", "log-packed") from None


def _counted(pieces: Iterable[bytes]) -> bytes | None:
    """The pieces together; None where they are too long to be kept before all of them were counted.

    Raises:
        UnreadableLogError: They pass a limit, which is noticed as soon as they do.
    """
    kept: list[bytes] = []
    size = lines = line = 0
    for piece in pieces:
        size, lines = size + len(piece), lines + (piece.count(b"\n") or piece.count(b"\r"))
        end = max(piece.rfind(b"\n"), piece.rfind(b"\r"))
        line = len(piece) - end - 1 if end >= 0 else line + len(piece)
        if line > MAX_LINE_BYTES:
            message = f"a line is over {MAX_LINE_BYTES // 1_000_000} MB long"
            raise UnreadableLogError(message, "export the log again, one line for each row", "log-size", lines + 1)
        if lines > MAX_LINES:
            raise UnreadableLogError(*TOO_MANY_ROWS)
        if size > MAX_BYTES:
            raise UnreadableLogError(*TOO_LARGE)
        kept.append(piece)
        if size > KEPT_BYTES:
            kept.clear()
    return b"".join(kept) if size <= KEPT_BYTES else None


def _gzip_pieces(raw: bytes) -> Iterator[bytes]:
    """All members, one after the other; Python's own reader would go through millions of empty ones.

    Source:
        RFC 1952, GZIP file format specification, 2.2: a file is a series of members.
    """
    packed, members = zlib.decompressobj(wbits=31), 1
    for at in range(0, len(raw), PIECE_BYTES):
        given = raw[at : at + PIECE_BYTES]
        while given:
            yield packed.decompress(given, PIECE_BYTES)
            given = packed.unconsumed_tail or packed.unused_data
            if packed.eof and given:
                packed, members = zlib.decompressobj(wbits=31), members + 1
            if members > MAX_MEMBERS:
                raise EOFError
    if not packed.eof:
        raise EOFError


def _xz_pieces(raw: bytes) -> Iterator[bytes]:
    packed = lzma.LZMADecompressor(memlimit=100_000_000)
    yield packed.decompress(raw, PIECE_BYTES)
    while not (packed.eof or packed.needs_input):
        yield packed.decompress(b"", PIECE_BYTES)
    # It says nothing of a file that stops early, or of a second stream after the first.
    if not packed.eof or packed.unused_data:
        raise EOFError


_PIECES: Mapping[str, Callable[[bytes], Iterator[bytes]]] = {".gz": _gzip_pieces, ".xz": _xz_pieces}


def as_utf8(text: bytes, encoding: str) -> bytes:
    """The text in UTF-8, with line feeds, and without a byte order mark; one in front is believed before `encoding`.

    Raises:
        UnreadableLogError: It is not in that encoding.
    """
    marked = text.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    if marked or encoding != "utf-8":
        try:
            text = text.decode("utf-16" if marked else encoding).encode("utf-8")
        except UnicodeError:
            named = "UTF-16" if marked else encoding
            raise UnreadableLogError(f"the log is not {named} text", "export it as UTF-8", "log-encoding") from None
    text = text.removeprefix(codecs.BOM_UTF8)
    if b"\r" in text[:100_000] and b"\n" not in text[:100_000]:
        text = text.replace(b"\r", b"\n")
    return text
