"""Names of a new unit → its id, or why that id would be a bad one. Looks at what others are called; writes nothing."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from site_builder.fields import NAME_PATTERN
from site_builder.load import read_document, unit_paths
from site_builder.values import shown
from site_builder.yaml_text import hidden_in

LONGEST = 60
# Names that some system keeps for itself, or that a page's address cannot have.
_PORTS = (f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10))
KEPT = frozenset({"index", "blank", "readme", "con", "prn", "aux", "nul", *_PORTS})
# Letters that are read for each other, in capitals too (after the idea of UTS #39, "skeleton"; the table is our own).
_ALIKE = (("rn", "m"), ("vv", "w"), ("0", "o"), ("1", "l"), ("i", "l"), ("5", "s"))


@dataclass(frozen=True, kw_only=True, slots=True)
class Taken:
    """An id that is in use, by which file, and what that unit is called ("" where it is a former id)."""

    id: str
    file: str
    name: str = ""


def id_of(maker: str, model: str) -> str:
    """Maker and model in small letters and hyphens; letters without a plain form are left out.

    The form of a bench sheet does the same (`idOf` in sheet-yaml.js).

    >>> id_of("Ferngate", "F 90/S"), id_of("Å & Söhne", "100+")
    ('ferngate-f-90-s', 'a-sohne-100')
    """
    plain = unicodedata.normalize("NFKD", f"{maker} {model}".replace("ß", "ss").replace("ø", "o").replace("Ø", "O"))
    kept = "".join(c for c in plain if not unicodedata.category(c).startswith("M")).casefold()
    return re.sub(r"[^a-z0-9]+", "-", kept).strip("-")


def taken_ids(results: Path) -> tuple[Taken, ...]:
    """Every id in use: names of files, ids and former ids in them, readable or not."""
    return tuple(one for path in unit_paths(results) for one in _of_file(path))


def _of_file(path: Path) -> Iterable[Taken]:
    data = read_document(path, path.parent.parent).data
    unit = data.get("unit") if isinstance(data, Mapping) else None
    unit = unit if isinstance(unit, Mapping) else {}
    name = f"{unit.get('maker', '')} {unit.get('model', '')}"
    yield Taken(id=path.stem, file=path.name, name=name)
    former = unit.get("former_ids")
    for one in [unit.get("id"), *(former if isinstance(former, list) else [])]:
        if isinstance(one, str) and one != path.stem:
            yield Taken(id=one, file=path.name)


def name_fault(what: str, name: str) -> str | None:
    """What is wrong with a maker or model as it is written; None where nothing is."""
    hidden = hidden_in(name)
    if not name.strip():
        return f"the {what} is empty"
    if hidden or not name.isprintable():
        return f"the {what} {shown(name)} holds a character that does not show; type it anew"
    if len(name) > 600:
        return f"the {what} is longer than 600 characters"
    mixed = next((word for word in name.split() if len(_scripts(word)) > 1), None)
    if mixed:
        odd = next(c for c in mixed if c.isalpha() and not unicodedata.name(c, "").startswith("LATIN"))
        return f"{shown(mixed)} mixes letters of {' and '.join(sorted(_scripts(mixed)))} ({shown(odd)}); type it anew"
    return None


def _scripts(word: str) -> set[str]:
    """The alphabets of its letters; Greek ones that are units or marks beside Latin (Ω, µ) do not count."""
    return {unicodedata.name(c, "UNKNOWN").split()[0].capitalize() for c in word if c.isalpha() and c not in "ΩΩµμ"}


def id_faults(unit_id: str, maker: str, model: str, taken: Iterable[Taken]) -> list[str]:
    """Why this id cannot be had: its form, or another that is or looks the same. Each with a way out."""
    if not re.fullmatch(NAME_PATTERN, unit_id) or len(unit_id) > LONGEST:
        form = f"use a-z, 0-9 and single hyphens, at most {LONGEST} characters"
        return [f"{shown(unit_id)} is no id that fits an address; {form}: give one with --id"]
    if unit_id in KEPT:
        return [f"{unit_id!r} is kept by systems for themselves; give another with --id"]
    return [fault for one in taken if (fault := _clash(unit_id, f"{maker} {model}", one))][:1]


def _clash(unit_id: str, name: str, other: Taken) -> str | None:
    if other.id.casefold() == unit_id:
        written = "" if other.id == unit_id else f", written {other.id}"
        return f"the id {unit_id} is taken by {other.file}{written}; give another with --id"
    if other.name and _folded(other.name) == _folded(name):
        return f"{other.file} is that maker and model already; another sample of it goes into that file"
    if skeleton(other.id) == skeleton(unit_id):
        return f"the id {unit_id} looks like {other.id} of {other.file}; give one that is told apart, with --id"
    return None


def _folded(name: str) -> str:
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def skeleton(unit_id: str) -> str:
    """What two ids have in common that are read for each other.

    >>> skeleton("tarn-t1o0") == skeleton("tarn-tl-00"), skeleton("tarn-t90") == skeleton("tarn-t91")
    (True, False)
    """
    text = unit_id.casefold().replace("-", "")
    for like, same in _ALIKE:
        text = text.replace(like, same)
    return text
