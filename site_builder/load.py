"""Files → records with positions: results, catalogue and prices. Reads; computes nothing and writes nothing."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel, RootModel

from site_builder.catalogue_records import Bench, Catalogue, Change, ComparisonClass, Load, Price, Rates
from site_builder.fields import Name
from site_builder.grading_records import Grading
from site_builder.problems import MAX_ALIKE, Problem, at_most
from site_builder.records import ResultsFile
from site_builder.sound_part import sound_part
from site_builder.validate import lies_in, record, row_record
from site_builder.yaml_text import MAX_BYTES, Document, hidden_in, parsed, unseen_words

R = TypeVar("R", bound=BaseModel)

Benches = RootModel[dict[Name, Bench]]
Loads = RootModel[dict[Name, Load]]
Classes = RootModel[dict[Name, ComparisonClass]]
Changes = RootModel[list[Change]]


@dataclass(frozen=True, kw_only=True, slots=True)
class UnitFile:
    """One results file that could be read, with where its values stand.

    `cut` are fields that had a fault and were left out: such a record can be checked, and nothing else.
    """

    path: Path
    record: ResultsFile
    document: Document
    cut: frozenset[str] = frozenset()

    def lacks(self, field: str) -> bool:
        """Whether a field was cut out, so that its absence says nothing."""
        return lies_in(field, self.cut)

    def names(self, group: str) -> tuple[str, ...]:
        """The names of samples, videos or tests, those with a fault of their own too."""
        held = self.document.data.get(group) if isinstance(self.document.data, Mapping) else None
        return tuple(map(str, held)) if isinstance(held, Mapping) else ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Loaded:
    """Everything that was read, and every problem found on the way; `price_lines` tells where each price stands.

    `faulty` are results files with an error, as far as they are sound.
    """

    catalogue: Catalogue
    units: tuple[UnitFile, ...]
    documents: Mapping[str, Document]
    problems: tuple[Problem, ...]
    price_lines: tuple[int, ...] = ()
    faulty: tuple[UnitFile, ...] = ()


def read_all(results: Path, catalogue: Path, only: frozenset[Path] | None = None) -> Loaded:
    """All results files (or only some of them) and the catalogue beside them."""
    base = results.parent
    problems: list[Problem] = []
    documents: dict[str, Document] = {}
    held = read_catalogue(catalogue, base, documents, problems)
    prices = read_prices(results / "prices.csv", base, problems)
    chosen = [path for path in unit_paths(results) if only is None or path.parent.resolve() / path.name in only]
    units = [unit for path in chosen for unit in _unit(path, base, problems)]
    return Loaded(
        catalogue=replace(held, prices=tuple(prices.values())),
        units=tuple(unit for unit, whole in units if whole),
        documents=documents,
        problems=tuple(problems),
        price_lines=tuple(prices),
        faulty=tuple(unit for unit, whole in units if not whole),
    )


def unit_paths(results: Path) -> list[Path]:
    """The results files, sorted by name so that nothing depends on the file system's order; not an editor's .x.yml."""
    return sorted(path for path in results.glob("[!.]*.y*ml") if path.suffix in {".yml", ".yaml"})


def read_unit(path: Path, base: Path) -> tuple[ResultsFile | None, Document, list[Problem]]:
    """One results file."""
    document = read_document(path, base)
    made, problems = record(ResultsFile, document)
    start = "start one with site-builder new, or delete this file"
    return made, document, [replace(one, hint=start) if one.code == "yaml-empty" else one for one in problems]


def _unit(path: Path, base: Path, problems: list[Problem]) -> list[tuple[UnitFile, bool]]:
    """The file and whether it is without fault; nothing where nothing of it can be used."""
    made, document, found = read_unit(path, base)
    problems += found
    if made is not None:
        return [(UnitFile(path=path, record=made, document=document), True)]
    sound = sound_part(document, path.stem)
    return [] if sound is None else [(UnitFile(path=path, record=sound[0], document=document, cut=sound[1]), False)]


def read_document(path: Path, base: Path) -> Document:
    """A YAML file as a document named relative to `base`."""
    name = shown_name(path, base)
    raw = _read(path)
    return parsed(raw, name) if isinstance(raw, bytes) else Document(name, None, None, (_of_file(name, 0, *raw),))


def _is_there(path: Path) -> bool:
    """Whether somebody put a file there, be it a link that leads nowhere."""
    return path.is_symlink() or path.exists()


def _read(path: Path) -> bytes | tuple[str, str, str]:
    """The bytes, one more than allowed at most; or why there are none, a way out, and a code."""
    try:
        if path.is_symlink() and not path.resolve().is_relative_to(path.parent.resolve()):
            return "this is a link out of its folder", "put the file itself here", "file-outside"
        if not path.is_file():  # a pipe would never end
            return "this is no file", "check its name", "file-missing"
        with path.open("rb") as stream:
            return stream.read(MAX_BYTES + 1)
    except RuntimeError:  # a link to itself
        return "this is no file", "check its name", "file-missing"
    except OSError as error:
        return f"this file cannot be read: {error.strerror}", "check who may read it", "file-unreadable"


def _of_file(name: str, line: int, message: str, hint: str, code: str) -> Problem:
    column = 1 if line else 0
    return Problem(file=name, line=line, column=column, field="", message=message, hint=hint, code=code)


def shown_name(path: Path, base: Path) -> str:
    """The path as messages show it: relative to the project, with forward slashes; a link by its own name."""
    if ".." not in path.parts and path.is_relative_to(base):  # nearly always, and without asking the disk
        return path.relative_to(base).as_posix()
    try:
        return (path.parent.resolve() / path.name).relative_to(base.resolve()).as_posix()
    except (ValueError, RuntimeError):  # elsewhere, or a folder that is a link to itself
        return path.as_posix()


def read_catalogue(folder: Path, base: Path, documents: dict[str, Document], problems: list[Problem]) -> Catalogue:
    """instruments.yml, loads.yml, classes.yml, rates.yml, changes.yml, grading.yml; each may be missing."""

    def held(name: str, model: type[R]) -> R | None:
        path = folder / name
        if not _is_there(path):
            return None
        documents[name] = read_document(path, base)
        made, found = record(model, documents[name])
        problems.extend(found)
        return made

    benches, loads = held("instruments.yml", Benches), held("loads.yml", Loads)
    classes, rates, changes = held("classes.yml", Classes), held("rates.yml", Rates), held("changes.yml", Changes)
    return Catalogue(
        benches=benches.root if benches else {},
        loads=loads.root if loads else {},
        classes=classes.root if classes else {},
        rates=rates or Rates(currency="EUR"),
        changes=tuple(changes.root) if changes else (),
        grading=held("grading.yml", Grading),
    )


PRICE_HEADING = list(Price.model_fields)


def read_prices(path: Path, base: Path, problems: list[Problem]) -> dict[int, Price]:
    """The rows of prices.csv by line; a row with a problem is reported and left out."""
    if not _is_there(path):
        return {}
    name = shown_name(path, base)
    text = _prices_text(path)
    if not isinstance(text, str):
        problems.append(_of_file(name, 0, *text))
        return {}
    rows = csv.reader(io.StringIO(text), strict=True)
    prices: dict[int, Price] = {}
    wrong: list[Problem] = []
    try:
        if [cell.strip() for cell in next(rows, [])] != PRICE_HEADING:
            message, hint = "the first line is no heading of prices", f"write {','.join(PRICE_HEADING)}"
            problems.append(_of_file(name, 1, message, hint, "prices-form"))
            return {}
        while len(wrong) <= MAX_ALIKE and (row := next(rows, None)) is not None:
            price = _price(row, rows.line_num, name, wrong)
            if price is not None:
                prices[rows.line_num] = price
    except csv.Error as error:
        words = (f"this is no CSV: {error}", "check quotation marks and commas", "prices-form")
        wrong.append(_of_file(name, rows.line_num, *words))
    problems += at_most(wrong)
    return prices


def _prices_text(path: Path) -> str | tuple[str, str, str]:
    """The text of prices.csv; or why it cannot be used, a way out, and a code."""
    raw = _read(path)
    if not isinstance(raw, bytes):
        return raw
    if len(raw) > MAX_BYTES:
        return f"the file is over {MAX_BYTES // 1_000_000} MB", "drop the oldest prices", "prices-form"
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return "this is not UTF-8 text", "save the file as UTF-8", "prices-form"
    hidden = hidden_in(text)
    return text if hidden is None else (*unseen_words(hidden), "prices-form")


def _price(row: list[str], line: int, name: str, problems: list[Problem]) -> Price | None:
    if not row:  # an empty line
        return None
    if len(row) != len(PRICE_HEADING):
        message = f"the row has {len(row)} cells, the heading {len(PRICE_HEADING)}"
        problems.append(_of_file(name, line, message, "put text with a comma in quotes", "prices-form"))
        return None
    cells = {key: cell.strip() or None for key, cell in zip(PRICE_HEADING, row, strict=True)}
    made, found = row_record(Price, cells, name, line)
    problems += found
    return made
