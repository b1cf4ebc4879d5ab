"""Arguments, questions and lines of `new`, `import-table` and `preview-log`; the work is done beside this module.

Exit 0: fine. Exit 1: something was found; of a table, the rows without a fault are written all the same. Exit 2: wrong
usage, and nothing was written.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from site_builder.problems import Problem, on_one_line

if TYPE_CHECKING:
    from site_builder.catalogue_records import Catalogue
    from site_builder.commands.new_unit import Wanted
    from site_builder.commands.table_mapping import TableMapping
    from site_builder.commands.table_read import HandTable

FINE, FOUND, USAGE = 0, 1, 2
STATUSES = ("planned", "testing", "embargoed", "published")
OBTAINED = ("bought", "borrowed", "given", "sent by the maker", "sent by a shop")


class UsageError(Exception):
    """Wrong usage: what to say about it."""


def add_commands(commands: Any) -> None:
    """Add the three commands to those of the program."""
    new = commands.add_parser("new", help="write a results file for a new unit, to fill in; asks on a terminal")
    new.add_argument("maker", nargs="?", default="", metavar="MAKER", help="as on the case")
    new.add_argument("model", nargs="?", default="", metavar="MODEL", help="as on the case")
    new.add_argument("--id", default="", help="default: made from maker and model")
    new.add_argument("--volts", metavar="V", help="nominal voltage")
    new.add_argument("--ah", metavar="AH", help="rated capacity")
    new.add_argument("--chemistry", metavar="NAME", help="such as LiFePO4")
    new.add_argument("--bench", metavar="BENCH", help="default: the newest")
    new.add_argument("--obtained", choices=OBTAINED, help="how it was obtained")
    new.add_argument("--tests", default="", metavar="KINDS", help="kinds of test planned, such as capacity,overload")
    new.add_argument("--status", choices=STATUSES, default="planned", help="default: planned")
    new.set_defaults(command=lambda options: _guarded(new_command, options))
    table = commands.add_parser("import-table", help="turn rows of a CSV table into results files; tries first")
    table.add_argument("file", type=Path, metavar="FILE.csv", help="the table; its first line holds the headings")
    table.add_argument("--column", action="append", default=[], metavar="HEADING=PLACE", help="what a column is")
    table.add_argument("--set", action="append", default=[], metavar="PLACE=VALUE", help="what holds for every row")
    table.add_argument(
        "--mapping", type=Path, metavar="FILE.yml", help="the same as a file: columns, set, decimal, dates"
    )
    table.add_argument("--decimal", choices=(".", ","), help="decimal sign of the cells (default: a point)")
    table.add_argument("--dates", choices=("ymd", "dmy", "mdy"), help="order of dates (default: ymd)")
    table.add_argument("--status", choices=STATUSES, default="published", help="default: published")
    table.add_argument("--write", action="store_true", help="write the files; without it nothing is written")
    table.set_defaults(command=lambda options: _guarded(import_table_command, options))
    log = commands.add_parser("preview-log", help="show how a log file would be read, and print its log: entry")
    log.add_argument("file", type=Path, metavar="FILE", help="CSV (plain, .gz, .xz) or Parquet")
    log.add_argument("--bench", metavar="BENCH", help="the bench it was written on")
    log.set_defaults(command=lambda options: _guarded(preview_log_command, options))
    for command in (new, table, log):
        command.add_argument("--results", type=Path, default=Path("results"), metavar="DIR", help="default: results")
        command.add_argument("--catalogue", type=Path, metavar="DIR", help="default: the folder beside that of results")


def _guarded(command: Any, options: argparse.Namespace) -> int:
    try:
        return int(command(options))
    except UsageError as error:
        _tell(f"site-builder: {error}")
    except OSError as error:
        _tell(f"site-builder: {error.filename or options.file}: {error.strerror or 'cannot be read'}")
    except (EOFError, KeyboardInterrupt):
        _tell("site-builder: stopped; nothing was written")
    return USAGE


def _tell(line: str) -> None:
    print(on_one_line(line), file=sys.stderr)


def _say(lines: Iterable[object]) -> None:
    for line in lines:
        print(on_one_line(str(line)))


def _ask(question: str, suggestion: str) -> str:
    print(
        on_one_line(f"{question} [{suggestion}]: " if suggestion else f"{question}: "),
        end="",
        file=sys.stderr,
        flush=True,
    )
    return input().strip() or suggestion


def _on_terminal() -> bool:
    return sys.stdin.isatty() and sys.stderr.isatty()


def _catalogue(options: argparse.Namespace, *, needs_results: bool = True) -> Catalogue:
    from site_builder.load import read_catalogue  # noqa: PLC0415  # each command pays for what it needs

    if needs_results and not options.results.is_dir():
        raise UsageError(f"there is no folder {options.results}; go to the project's folder, or give --results DIR")
    folder = options.catalogue or options.results.resolve().parent / "catalogue"
    if not folder.is_dir():
        raise UsageError(f"there is no folder {folder}; give --catalogue DIR")
    problems: list[Problem] = []
    held = read_catalogue(folder, folder.parent, {}, problems)
    for problem in problems:
        _tell(f"{problem}")
    return held


# --- new -------------------------------------------------------------------------------------------------------------
def new_command(options: argparse.Namespace) -> int:
    """Write the file, and say what is still to fill in."""
    from site_builder.commands.ids import taken_ids  # noqa: PLC0415
    from site_builder.commands.new_unit import (  # noqa: PLC0415
        Asking,
        asked,
        class_words,
        made,
        newest_bench,
        write_new,
    )

    catalogue = _catalogue(options)
    wanted, taken = _wanted(options), taken_ids(options.results)
    if _on_terminal():
        wanted = asked(wanted, catalogue, taken, Asking(ask=_ask, tell=_tell))
    elif not (wanted.maker and wanted.model):
        raise UsageError("give maker and model: site-builder new MAKER MODEL")
    elif wanted.bench is None:
        wanted = _with_bench(wanted, newest_bench(catalogue))
    file = made(wanted, catalogue, taken)
    if file.faults:
        raise UsageError("; ".join(file.faults))
    path = options.results / f"{wanted.unit_id}.yml"
    fault = write_new(path, file.text)
    if fault:
        raise UsageError(fault)
    _say([f"{path} written. {class_words(wanted.label, catalogue.classes)}"])
    if file.open_fields:
        _say([f"Still to fill in: {', '.join(file.open_fields)}."])
    return FINE


def _wanted(options: argparse.Namespace) -> Wanted:
    from site_builder.commands.new_unit import Wanted  # noqa: PLC0415

    label = {"chemistry": options.chemistry, "nominal_v": options.volts, "capacity_ah": options.ah}
    return Wanted(
        maker=options.maker,
        model=options.model,
        id=options.id,
        status=options.status,
        bench=options.bench,
        label={key: value for key, value in label.items() if value},
        sample={"obtained": options.obtained} if options.obtained else {},
        kinds=tuple(options.tests.replace(",", " ").split()),
    )


def _with_bench(wanted: Wanted, bench: str | None) -> Wanted:
    from dataclasses import replace  # noqa: PLC0415

    return replace(wanted, bench=bench)


# --- import-table ----------------------------------------------------------------------------------------------------
def import_table_command(options: argparse.Namespace) -> int:
    """Report what each row becomes; write the files where that is asked for."""
    from site_builder.commands.import_table import asked_mapping, imported, write_files  # noqa: PLC0415
    from site_builder.commands.table_mapping import mapping_text  # noqa: PLC0415
    from site_builder.commands.table_read import read_table  # noqa: PLC0415

    catalogue = _catalogue(options)
    table, problems = read_table(options.file)
    if table is None:
        _say(problems)
        return FOUND
    mapping = _mapping(options)
    if _on_terminal():
        mapping = asked_mapping(table, mapping, _ask, _tell)
        _say(["The mapping, to keep as a file and give with --mapping:", *mapping_text(mapping).splitlines(), ""])
    elif not mapping.columns:
        raise UsageError(_how_to_map(table))
    outcome = imported(table, mapping, options.results, catalogue, options.status)
    _say([*problems, *outcome.problems, *outcome.report])
    done, failed = write_files(outcome.files, options.results) if options.write else ([], [])
    count = len(done) if options.write else len(outcome.files)
    words = "written" if options.write else "would be written; give --write to write them"
    _say([*failed, f"{count} file{'' if count == 1 else 's'} {words}"])
    return FOUND if problems or outcome.problems or failed else FINE


def _how_to_map(table: HandTable) -> str:
    from site_builder.commands.table_mapping import TableMapping, mapping_text, suggested  # noqa: PLC0415

    likely = TableMapping(columns=suggested(table))
    text = "\n".join(on_one_line(line) for line in mapping_text(likely).splitlines())
    print(f"# What the headings suggest; correct it, and give it with --mapping:\n{text}")
    return "say what the columns are: --column 'HEADING=PLACE' for each, or --mapping FILE.yml"


def _mapping(options: argparse.Namespace) -> TableMapping:
    from site_builder.commands.table_mapping import TableMapping  # noqa: PLC0415
    from site_builder.load import read_document  # noqa: PLC0415
    from site_builder.validate import record  # noqa: PLC0415

    made: TableMapping | None = TableMapping()
    if options.mapping is not None:
        made, problems = record(TableMapping, read_document(options.mapping, options.mapping.parent))
        if made is None:
            raise UsageError("; ".join(map(str, problems)))
    flags = {"columns": _pairs("--column", options.column), "set": _pairs("--set", options.set)}
    more = {key: getattr(options, key) for key in ("decimal", "dates") if getattr(options, key)}
    joined = {key: {**getattr(made, key), **value} for key, value in flags.items()}
    return TableMapping.model_validate({**(made.model_dump() if made else {}), **joined, **more})


def _pairs(flag: str, given: Sequence[str]) -> dict[str, str]:
    pairs = {}
    for one in given:
        # The place holds no equals sign; a heading may.
        name, found, value = one.rpartition("=") if flag == "--column" else one.partition("=")
        if not (found and name.strip() and value.strip()):
            raise UsageError(f"{flag} {one!r} is no pair; write NAME=VALUE")
        pairs[name.strip()] = value.strip()
    return pairs


# --- preview-log -----------------------------------------------------------------------------------------------------
def preview_log_command(options: argparse.Namespace) -> int:
    """Show how the file is read."""
    from site_builder.commands.preview_log import preview_log  # noqa: PLC0415

    if not options.file.is_file():
        raise UsageError(f"there is no file {options.file}")
    bench = None
    if options.bench is not None:
        benches = _catalogue(options, needs_results=False).benches
        if options.bench not in benches:
            raise UsageError(f"there is no bench {options.bench!r}; known: {', '.join(benches) or 'none'}")
        bench = benches[options.bench]
    preview = preview_log(options.file, options.bench, bench)
    _say(preview.lines)
    return FINE if preview.entry is not None else FOUND
