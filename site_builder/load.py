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
from site_builder.problems import Problem
from site_builder.records import ResultsFile
from site_builder.validate import record, row_record
from site_builder.yaml_text import MAX_BYTES, Document, parsed

R = TypeVar("R", bound=BaseModel)

Benches = RootModel[dict[Name, Bench]]
Loads = RootModel[dict[Name, Load]]
Classes = RootModel[dict[Name, ComparisonClass]]
Changes = RootModel[list[Change]]


@dataclass(frozen=True, kw_only=True, slots=True)
class UnitFile:
    """One results file that could be read, with where its values stand."""

    path: Path
    record: ResultsFile
    document: Document


@dataclass(frozen=True, kw_only=True, slots=True)
class Loaded:
    """Everything that was read, and every problem found on the way; `price_lines` tells where each price stands."""

    catalogue: Catalogue
    units: tuple[UnitFile, ...]
    documents: Mapping[str, Document]
    problems: tuple[Problem, ...]
    price_lines: tuple[int, ...] = ()


def read_all(results: Path, catalogue: Path, only: frozenset[Path] | None = None) -> Loaded:
    """All results files (or only some of them) and the catalogue beside them."""
    base = results.parent
    problems: list[Problem] = []
    documents: dict[str, Document] = {}
    held = read_catalogue(catalogue, base, documents, problems)
    prices = read_prices(results / "prices.csv", base, problems)
    units = [
        unit
        for path in unit_paths(results)
        if only is None or path.parent.resolve() / path.name in only
        for unit in _unit(path, base, problems)
    ]
    return Loaded(
        catalogue=replace(held, prices=tuple(prices.values())),
        units=tuple(units),
        documents=documents,
        problems=tuple(problems),
        price_lines=tuple(prices),
    )


def unit_paths(results: Path) -> list[Path]:
    """The results files, sorted by name so that nothing depends on the file system's order; not an editor's .x.yml."""
    return sorted(path for path in results.glob("[!.]*.y*ml") if path.suffix in {".yml", ".yaml"})


def read_unit(path: Path, base: Path) -> tuple[ResultsFile | None, Document, list[Problem]]:
    """One results file."""
    document = read_document(path, base)
    made, problems = record(ResultsFile, document)
    return made, document, problems


def _unit(path: Path, base: Path, problems: list[Problem]) -> list[UnitFile]:
    made, document, found = read_unit(path, base)
    problems += found
    return [] if made is None else [UnitFile(path=path, record=made, document=document)]


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
        if not path.is_file():  # a pipe would never end
            return "this is no file", "check its name", "file-missing"
        with path.open("rb") as stream:
            return stream.read(MAX_BYTES + 1)
    except OSError as error:
        return f"this file cannot be read: {error.strerror}", "check who may read it", "file-unreadable"


def _of_file(name: str, line: int, message: str, hint: str, code: str) -> Problem:
    column = 1 if line else 0
    return Problem(file=name, line=line, column=column, field="", message=message, hint=hint, code=code)


def shown_name(path: Path, base: Path) -> str:
    """The path as messages show it: relative to the project, with forward slashes."""
    try:
        return path.resolve().relative_to(base.resolve()).as_posix()
    except (ValueError, RuntimeError):  # elsewhere, or a link to itself
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
    try:
        if [cell.strip() for cell in next(rows, [])] != PRICE_HEADING:
            message, hint = "the first line is no heading of prices", f"write {','.join(PRICE_HEADING)}"
            problems.append(_of_file(name, 1, message, hint, "prices-form"))
            return {}
        for row in rows:
            price = _price(row, rows.line_num, name, problems)
            if price is not None:
                prices[rows.line_num] = price
    except csv.Error as error:
        words = (f"this is no CSV: {error}", "check quotation marks and commas", "prices-form")
        problems.append(_of_file(name, rows.line_num, *words))
    return prices


def _prices_text(path: Path) -> str | tuple[str, str, str]:
    """The text of prices.csv; or why it cannot be used, a way out, and a code."""
    raw = _read(path)
    if not isinstance(raw, bytes):
        return raw
    if len(raw) > MAX_BYTES:
        return f"the file is over {MAX_BYTES // 1_000_000} MB", "drop the oldest prices", "prices-form"
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return "this is not UTF-8 text", "save the file as UTF-8", "prices-form"


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
