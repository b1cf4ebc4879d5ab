"""`import-table`: rows of a hand-kept table → partial results files that say: reported, evidence not kept.

Works out everything before anything is written, and never writes over a file.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from site_builder.catalogue_records import Catalogue
from site_builder.check import check_all
from site_builder.commands.ids import Taken, id_faults, name_fault, taken_ids
from site_builder.commands.new_unit import Ask, write_new
from site_builder.commands.table_mapping import Plan, TableMapping, plan_of, suggested
from site_builder.commands.table_read import HandTable, samples_of
from site_builder.commands.table_rows import RowFile, row_file
from site_builder.commands.table_targets import target
from site_builder.load import Loaded, UnitFile
from site_builder.problems import Problem
from site_builder.records import ResultsFile
from site_builder.validate import record
from site_builder.yaml_text import parsed

NEEDED = ("label.chemistry", "label.nominal_v", "label.capacity_ah")


@dataclass(frozen=True, kw_only=True, slots=True)
class Outcome:
    """What became of the table: files to write, one line about each row, and every fault."""

    files: tuple[RowFile, ...] = ()
    report: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()


def imported(table: HandTable, mapping: TableMapping, results: Path, catalogue: Catalogue, status: str) -> Outcome:
    """Every row as a file, or why not; writes nothing.

    Args:
        table: The table.
        mapping: Which column is what.
        results: The results folder, for ids that are taken and logs that would be there.
        catalogue: Classes and benches to check the files against.
        status: Status of the new units.
    """
    plan, faults = plan_of(mapping, table)
    if faults:
        return Outcome(problems=tuple(faults))
    taken = list(taken_ids(results))
    files: list[RowFile] = []
    report: list[str] = []
    problems: list[Problem] = []
    for row in table.rows:
        one = row_file(row, plan, table, status)
        there = _there(one, results)
        found = [] if there else _row_problems(one, table, plan, results, catalogue, taken)
        problems += found
        taken.append(Taken(id=one.id, file=f"line {row.line} of the table", name=f"{one.maker} {one.model}"))
        if not there and not found:
            files.append(one)
        report.append(_row_line(one, there, found))
    return Outcome(files=tuple(files), report=(*report, *_left_line(plan)), problems=tuple(problems))


def _there(one: RowFile, results: Path) -> str | None:
    """The file that the row became before, or that somebody wrote for it."""
    names = [f"{one.id}{ending}" for ending in (".yml", ".yaml")] if one.id else []
    return next((name for name in names if (results / name).exists() or (results / name).is_symlink()), None)


def _row_problems(
    one: RowFile, table: HandTable, plan: Plan, results: Path, catalogue: Catalogue, taken: Sequence[Taken]
) -> list[Problem]:
    """Everything wrong with a row, each in its cell where one is to blame."""
    line = one.row.line
    names = (("maker", one.maker), ("model", one.model))
    faults = [
        table.problem(line, _column_of(f"unit.{key}", plan.columns), *_split(fault), "table-name")
        for key, name in names
        if (fault := name_fault(key, name))
    ]
    if not faults:
        clashes = [
            fault.replace("with --id", "in a column for unit.id")
            for fault in id_faults(one.id, one.maker, one.model, taken)
        ]
        faults = [table.problem(line, 0, *_split(fault), "table-id") for fault in clashes]
    faults += [table.problem(line, *fault, "table-decimal") for fault in one.unclear]
    document = parsed(one.text.encode(), f"{one.id}.yml")
    made, found = record(ResultsFile, document)
    if made is not None:
        unit = UnitFile(path=results / f"{one.id}.yml", record=made, document=document)
        alone = replace(catalogue, prices=(), changes=(), grading=None)
        found = check_all(Loaded(catalogue=alone, units=(unit,), documents={}, problems=()), results, None)
    # An empty name has been told already, and makes an id that is none.
    told = {"unit.id", "unit.maker", "unit.model"} if faults else set()
    return [*faults, *(_in_table(problem, one, table, plan) for problem in found if problem.field not in told)]


def _in_table(problem: Problem, one: RowFile, table: HandTable, plan: Plan) -> Problem:
    """A problem of the file as one of the table's: in the cell that it came from, where one did."""
    column = _column_of(problem.field, one.columns)
    hint = problem.hint
    if problem.code == "key-missing":
        key = f"{problem.field}.{problem.message.removesuffix(' is missing')}"
        column = _column_of(key, plan.columns)
        all_rows = f"say which column it is, or what holds for all rows: {_as_place(key)}"
        hint = "fill in the cell" if column else all_rows
    elif problem.code == "value-form" and plan.decimal == "." and "," in problem.message:
        hint = f"{hint}; {_comma_words(problem.message)}"
    elif problem.code == "date-form":
        hint = f"{hint}; where days come first, say dates: dmy"
    return table.problem(
        one.row.line, column, f"{'' if column else problem.field + ': '}{problem.message}", hint, problem.code
    )


def _comma_words(message: str) -> str:
    """When a comma before decimals is to be declared; of 1,000, which may be a thousand, with what it would mean."""
    either = re.search(r"(?<![0-9.,])([1-9][0-9]{0,2}),([0-9]{3})(?![0-9.,])", message)
    meaning = f", {either[0]} being {float(f'{either[1]}.{either[2]}'):g}" if either else ""
    return f'where decimals have a comma{meaning}, say decimal: ","'


def _as_place(key: str) -> str:
    return key.removeprefix("tests.").replace("load-run", "load_run").replace("cold-charge", "cold_charge")


def _column_of(field: str, columns: Mapping[str, int]) -> int:
    """The column of a field, or of the list that it is an entry of; 0 where none filled it."""
    return next((at for path, at in columns.items() if field == path or field.startswith((f"{path}[", f"{path}."))), 0)


def _split(words: str) -> tuple[str, str]:
    message, _, hint = words.partition("; ")
    return message, hint


def _row_line(one: RowFile, there: str | None, found: Sequence[Problem]) -> str:
    name = f"{one.maker} {one.model}".strip() or "no name"
    if there:
        return f"line {one.row.line}: {name}: left out, {there} is there already"
    if found:
        return f"line {one.row.line}: {name}: left out, {len(found)} fault{'' if len(found) == 1 else 's'} above"
    return f"line {one.row.line}: {name}: {one.id}.yml ({', '.join(one.groups)})"


def _left_line(plan: Plan) -> Iterator[str]:
    if plan.left:
        prices = any(word in heading.casefold() for heading in plan.left for word in ("price", "preis", "prix", "cost"))
        more = "; prices go into results/prices.csv, each with its date and seller" if prices else ""
        yield f"columns left out, since nothing says what they are: {', '.join(plan.left)}{more}"


def write_files(files: Iterable[RowFile], results: Path) -> tuple[list[str], list[str]]:
    """Write each file that is not there yet; what was written, and what could not be."""
    done, failed = [], []
    for one in files:
        path = results / f"{one.id}.yml"
        fault = write_new(path, one.text)
        if fault is None:
            done.append(path.name)
        else:
            failed.append(fault)
    return done, failed


# --- on a terminal ---------------------------------------------------------------------------------------------------
def asked_mapping(table: HandTable, given: TableMapping, ask: Ask, tell: Callable[[str], None]) -> TableMapping:
    """The mapping with what a person answers for each column; an empty answer takes the suggestion, "-" none."""
    columns, likely = dict(given.columns), suggested(table)
    known = {heading.casefold() for heading in columns}
    for heading, example in samples_of(table).items():
        if heading.casefold() in known:
            continue
        answer = _place_answer(f"{heading} (such as {example[:30]!r})", likely.get(heading, "-"), ask, tell)
        if answer:
            columns[heading] = answer
    fixed = dict(given.set)
    filled = {words.split()[0] for words in columns.values()} | set(fixed)
    for name in NEEDED:
        if name not in filled and (answer := ask(f"{name} of every row", "")):
            fixed[name] = answer
    return given.model_copy(update={"columns": columns, "set": fixed})


def _place_answer(question: str, likely: str, ask: Ask, tell: Callable[[str], None]) -> str:
    """A place that there is, asked for until it is one; "" to leave the column out."""
    for _ in range(5):
        answer = ask(question, likely).strip()
        if answer in {"", "-"}:
            return ""
        to = target(answer.partition(" ")[0])
        if not isinstance(to, str):
            return answer
        tell(to)
    return ""
