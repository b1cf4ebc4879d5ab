"""Files → records with positions: results, catalogue and prices. Reads; computes nothing and writes nothing."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel, RootModel

from site_builder.catalogue_records import Bench, Catalogue, Change, ComparisonClass, Load, Price, Rates
from site_builder.fields import Name
from site_builder.problems import Problem
from site_builder.records import ResultsFile
from site_builder.validate import record, row_record
from site_builder.yaml_text import MAX_BYTES, Document, parsed

R = TypeVar("R", bound=BaseModel)

Benches = RootModel[dict[Name, Bench]]
Loads = RootModel[dict[Name, Load]]
Classes = RootModel[dict[Name, ComparisonClass]]
Changes = RootModel[list[Change]]
MAX_PRICE_ROWS = 100_000


@dataclass(frozen=True, kw_only=True, slots=True)
class UnitFile:
    """One results file that could be read, with where its values stand."""

    path: Path
    record: ResultsFile
    document: Document


@dataclass(frozen=True, kw_only=True, slots=True)
class Loaded:
    """Everything that was read, and every problem found on the way; `partial` where only some results files were."""

    catalogue: Catalogue
    units: tuple[UnitFile, ...]
    documents: Mapping[str, Document]
    problems: tuple[Problem, ...]
    partial: bool = False


def read_all(results: Path, catalogue: Path, only: frozenset[Path] | None = None) -> Loaded:
    """All results files (or only some of them) and the catalogue beside them."""
    base = results.parent
    problems: list[Problem] = []
    documents: dict[str, Document] = {}
    held = read_catalogue(catalogue, results / "prices.csv", base, documents, problems)
    units = [
        unit
        for path in unit_paths(results)
        if only is None or path.resolve() in only
        for unit in _unit(path, base, problems)
    ]
    return Loaded(
        catalogue=held, units=tuple(units), documents=documents, problems=tuple(problems), partial=only is not None
    )


def unit_paths(results: Path) -> list[Path]:
    """The results files, sorted by name so that nothing depends on the file system's order."""
    return sorted(path for path in results.glob("*.y*ml") if path.suffix in {".yml", ".yaml"})


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
    if not path.is_file():
        missing = Problem(
            file=name, line=0, column=0, field="", message="this is no file", hint="check its name", code="file-missing"
        )
        return Document(name, None, None, (missing,))
    with path.open("rb") as stream:
        return parsed(stream.read(MAX_BYTES + 1), name)


def shown_name(path: Path, base: Path) -> str:
    """The path as messages show it: relative to the project, with forward slashes."""
    try:
        return path.resolve().relative_to(base.resolve()).as_posix()
    except ValueError:
        return path.as_posix()


def read_catalogue(
    folder: Path, prices: Path, base: Path, documents: dict[str, Document], problems: list[Problem]
) -> Catalogue:
    """instruments.yml, loads.yml, classes.yml, rates.yml, changes.yml and prices.csv; each may be missing."""

    def held(name: str, model: type[R]) -> R | None:
        path = folder / name
        if not path.exists():
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
        prices=tuple(read_prices(prices, base, problems)),
    )


def read_prices(path: Path, base: Path, problems: list[Problem]) -> list[Price]:
    """The rows of prices.csv; a row with a problem is reported and left out."""
    if not path.exists():
        return []
    name = shown_name(path, base)
    try:
        text = path.read_bytes()[: MAX_BYTES + 1].decode("utf-8-sig")
    except UnicodeDecodeError:
        problems.append(_of_prices(name, 0, "this is not UTF-8 text", "save the file as UTF-8"))
        return []
    rows = csv.DictReader(io.StringIO(text), strict=True)
    wanted = ["date", "unit", "amount", "currency", "kind", "seller"]
    try:
        if rows.fieldnames is None or [str(one).strip() for one in rows.fieldnames] != wanted:
            problems.append(_of_prices(name, 1, "the heading is another", f"write {','.join(wanted)}"))
            return []
        return [price for row in rows for price in _price(row, rows.line_num, name, problems)]
    except csv.Error as error:
        problems.append(_of_prices(name, rows.line_num, f"this is no CSV: {error}", "check quotes and commas"))
        return []


def _price(row: dict[str | None, str], line: int, name: str, problems: list[Problem]) -> list[Price]:
    if None in row or None in row.values():
        problems.append(
            _of_prices(name, line, "the row has another number of cells", "write one cell for each heading")
        )
        return []
    made, found = row_record(Price, {str(key): value.strip() for key, value in row.items()}, name, line)
    problems += found
    return [] if made is None else [made]


def _of_prices(name: str, line: int, message: str, hint: str) -> Problem:
    return Problem(
        file=name, line=line, column=1 if line else 0, field="", message=message, hint=hint, code="prices-form"
    )
