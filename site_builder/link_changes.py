"""Addresses that a change brings, alters or takes away: offers, videos, links of hand-written pages. Reads no network.

Warnings, each with its own line: whoever looks a change over must not miss where a reader would be sent.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from pathlib import Path

from site_builder.load import UnitFile
from site_builder.problems import Problem
from site_builder.records import Offer
from site_builder.yaml_text import Path as FieldPath

CODE = "link-changed"
HINT = "open it, and see whether it leads where it says"
ADDRESS = re.compile(r"https?://[^\s\"'<>()\[\]{}`\\]+")
TEXTS = frozenset({".md", ".html", ".js", ".css", ".svg", ".yml"})


def unit_links(old: UnitFile | None, new: UnitFile) -> Iterator[Problem]:
    """Offers and videos of one file that are new, changed or gone."""
    before = dict(_links(old)) if old else {}
    after = dict(_links(new))
    for path, words in after.items():
        if words not in before.values():
            was = before.get(path)
            message = f"{words}, {f'where there was {was}' if was else 'which is new'}"
            yield new.document.problem(path, message, HINT, CODE, severity="warning")
    for path, words in before.items():
        if words not in after.values() and path not in after:
            at: FieldPath = (path[0],) if getattr(new.record, str(path[0])) else ("unit",)
            yield new.document.problem(at, f"{words} is gone", "see whether that was meant", CODE, severity="warning")


def _links(unit: UnitFile) -> Iterator[tuple[FieldPath, str]]:
    for name, video in unit.record.videos.items():
        yield ("videos", name), f"video {video.url}"
    for i, offer in enumerate(unit.record.offers):
        yield ("offers", i), _offer_words(offer)


def _offer_words(offer: Offer) -> str:
    code = f", code {offer.code}" if offer.code else ""
    until = f", until {offer.until}" if offer.until else ""
    return f"offer {offer.url}{code}{until}, pays {offer.pays}"


def page_links(old: Path, new: Path, catalogue: Path) -> Iterator[Problem]:
    """Addresses in hand-written pages, theme and configuration that were not in the same file before, or are gone.

    Args:
        old: The top folder of the other state.
        new: The top folder of the present one.
        catalogue: Where the catalogue lies below both; mkdocs.yml lies beside it.
    """
    for part in (catalogue / "pages", catalogue / "theme", catalogue.parent / "mkdocs.yml"):
        before, after = _addresses(old / part, old), _addresses(new / part, new)
        for file in sorted({**before, **after}):
            was, now = before.get(file, {}), after.get(file, {})
            yield from (_of_page(file, line, f"{one} is new") for one, line in now.items() if one not in was)
            yield from (_of_page(file, 0, f"{one} is gone") for one in was if one not in now)


def _addresses(path: Path, top: Path) -> Mapping[str, Mapping[str, int]]:
    """File → address → the first line that it stands in."""
    files = sorted(path.rglob("*")) if path.is_dir() else [path]
    return {
        file.relative_to(top).as_posix(): _in_file(file) for file in files if file.suffix in TEXTS and file.is_file()
    }


def _in_file(file: Path) -> dict[str, int]:
    found: dict[str, int] = {}
    for line, text in enumerate(file.read_text(encoding="utf-8", errors="replace").splitlines(), 1):
        for address in ADDRESS.findall(text):
            found.setdefault(address.rstrip(".,;:!?"), line)
    return found


def _of_page(file: str, line: int, message: str) -> Problem:
    where = 1 if line else 0
    return Problem(
        file=file, line=line, column=where, field="", message=message, hint=HINT, code=CODE, severity="warning"
    )
