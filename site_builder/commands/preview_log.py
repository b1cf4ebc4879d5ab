"""`preview-log`: how a log file would be read, and the `log:` entry that makes a bench read it so. Writes nothing.

Columns are declared, not recognised by their maker: what is guessed here is shown, and printed for somebody to correct.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from site_builder.catalogue_records import Bench, LogFormat
from site_builder.commands.log_guess import Guess, Seen, guessed
from site_builder.commands.log_instruments import with_instruments
from site_builder.commands.log_sample import Sample, read_sample
from site_builder.commands.log_words import direction_of
from site_builder.derive.integrate import integral, steps_of
from site_builder.log_rows import Fault, UnreadableLogError
from site_builder.logs import read_log
from site_builder.problems import on_one_line
from site_builder.series import Array, Log
from site_builder.validate import record
from site_builder.yaml_text import parsed, written

SHOWN_ROWS = 3
SHOWN_FAULTS = 6
WIDEST = 110
# What no bench can declare, and the way out: said where nothing was found, so that nobody tries for an hour.
CANNOT = (
    "What no bench can declare: rows without headings, numbers with units in their cells (12.8 V), charging and "
    "discharging currents in two columns, power without current, columns held apart by spaces alone, and formats that "
    "are no text (spreadsheet files: save as CSV)."
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Preview:
    """What was found, as lines; `entry` is the text to paste, where the file can be declared and was read by it."""

    lines: tuple[str, ...]
    entry: str | None
    log: Log | None


def preview_log(path: Path, bench_id: str | None = None, bench: Bench | None = None) -> Preview:
    """How `path` is read: by the bench's own format where it reads it, else by one that is guessed.

    Args:
        path: The log file.
        bench_id: The bench's name, for the words.
        bench: The bench, for the names of its instruments and its own format.

    Raises:
        OSError: The file cannot be read.
    """
    own = _by_own_format(path, bench_id, bench)
    try:
        sample = read_sample(path)
    except UnreadableLogError as unreadable:
        return Preview(lines=(*own, *_fault_lines([unreadable.fault], path.name), CANNOT), entry=None, log=None)
    guess = guessed(sample)
    lines = [*own, *_first_rows(sample), "", *_column_lines(guess), *_notes(guess.notes)]
    if guess.entry is None:
        missing = " and ".join(guess.missing) or "heading"
        return Preview(lines=(*lines, f"{path.name}: no {missing} was found", CANNOT), entry=None, log=None)
    whole, unsure = with_instruments(guess.entry, bench)
    entry, log, faults, notes = _read_by(path, whole, bench)
    lines += [*_notes([*unsure, *notes]), *_fault_lines(faults, path.name)]
    if log is None:
        return Preview(lines=(*lines, CANNOT), entry=None, log=None)
    text = entry_text(entry)
    where = f"below {bench_id}: in" if bench_id else "below the bench in"
    lines += ["", *_totals(log), "", f"To paste {where} catalogue/instruments.yml:", "", *text.splitlines()]
    return Preview(lines=tuple(map(on_one_line, lines)), entry=text, log=log)


def _by_own_format(path: Path, bench_id: str | None, bench: Bench | None) -> list[str]:
    if bench is None:
        return []
    if bench.log is None:
        return [f"The bench {bench_id} does not say yet how its logs are written.", ""]
    log, faults = read_log(path, bench.log)
    if log is not None:
        return [f"The bench {bench_id} reads this file as it is declared now:", *_totals(log), ""]
    return [
        f"The bench {bench_id} as it is declared now does not read this file:",
        *_fault_lines(faults, path.name),
        "",
    ]


def _read_by(
    path: Path, entry: Mapping[str, Any], bench: Bench | None
) -> tuple[Mapping[str, Any], Log | None, list[Fault], list[str]]:
    """The entry with its direction of current settled, and what the reader makes of the file by it."""
    form, fault = declared_by(entry_text(entry))
    if form is None:
        return entry, None, [fault] if fault else [], []
    log, faults = read_log(path, form)
    if log is None or "current" not in log.columns:
        return entry, log, faults, []
    direction, note = _direction(log, form, bench)
    if direction == form.positive:
        return entry, log, faults, [note]
    entry = {**entry, "positive": direction}
    turned, _ = declared_by(entry_text(entry))
    log, faults = read_log(path, turned or form)
    return entry, log, faults, [note]


def declared_by(text: str) -> tuple[LogFormat | None, Fault | None]:
    """The format that the text to paste declares, read as the catalogue is."""
    document = parsed(f"x:\n{text}".encode(), "entry")
    held = document.data["x"]["log"] if document.data else None
    form, problems = record(LogFormat, parsed(written(held).encode(), "entry")) if held else (None, document.problems)
    wrong = [Fault(0, f"{one.field}: {one.message}", "name the column otherwise", "log-columns") for one in problems]
    return form, wrong[0] if wrong else None


def entry_text(entry: Mapping[str, Any]) -> str:
    """The entry as a bench's `log:`, ready to paste."""
    return "\n".join(["  log:", *(f"    {key}: {written(value)}" for key, value in entry.items())]) + "\n"


# --- the sign of the current -----------------------------------------------------------------------------------------
def _direction(log: Log, form: LogFormat, bench: Bench | None) -> tuple[str, str]:
    """Which sign is a discharge, and how that was told."""
    if bench is not None and bench.log is not None:
        return bench.log.positive, f"a positive current is taken for {bench.log.positive}, as the bench says already"
    said = direction_of(form.current.column) if form.current else None
    if said:
        return said, f"a positive current is taken for {said}: its heading says so"
    current = log.columns["current"] * (1 if form.positive == "discharge" else -1)
    leaning = _leaning(current, log.columns.get("voltage"))
    if leaning is None:
        return (
            "discharge",
            "nothing tells whether a positive current discharges or charges; discharge is taken: check it",
        )
    direction = "discharge" if leaning < 0 else "charge"
    seen = "falls" if leaning < 0 else "rises"
    return direction, f"a positive current is taken for {direction}, since the voltage {seen} with it: check it"


def _leaning(current: Array, voltage: Array | None) -> float | None:
    """How the voltage goes with the current: below zero where a positive one discharges; None where nobody can tell."""
    if voltage is None or len(current) < 10:
        return None
    flowing = np.abs(current) > 0.05 * np.abs(current).max()
    if current.max() > 0 > current.min() and min((current[flowing] > 0).mean(), (current[flowing] < 0).mean()) > 0.02:
        return float(voltage[flowing & (current > 0)].mean() - voltage[flowing & (current < 0)].mean()) or None
    on, tenth = voltage[flowing], max(int(flowing.sum()) // 10, 1)
    fall = float(on[-tenth:].mean() - on[:tenth].mean())
    sign = 1.0 if float(current[flowing].mean()) > 0 else -1.0
    return sign * fall if abs(fall) > 1e-3 * float(np.abs(on).mean()) else None


# --- words -----------------------------------------------------------------------------------------------------------
def _first_rows(sample: Sample) -> Iterator[str]:
    if sample.before:
        yield f"{len(sample.before)} lines stand above the headings, such as: {_cut(sample.before[0])}"
    rows = [sample.headings, *([sample.units] if sample.units else []), *sample.rows[:SHOWN_ROWS]]
    widths = [min(max(len(row[at]) for row in rows), 22) for at in range(len(sample.headings))]
    for row in rows:
        cells = "  ".join(on_one_line(cell)[:22].ljust(width) for cell, width in zip(row, widths, strict=True))
        yield _cut(cells.rstrip())


def _cut(text: str) -> str:
    return text if len(text) <= WIDEST else f"{text[: WIDEST - 1]}…"


def _column_lines(guess: Guess) -> Iterator[str]:
    for seen in guess.columns[:40]:
        span = f", {seen.low:g} to {seen.high:g}" if seen.low is not None and seen.high is not None else ""
        yield f"{seen.heading or 'a column without heading'}: {_role_words(seen)}{span}"


def _role_words(seen: Seen) -> str:
    if not seen.role:
        return "not read"
    unit = f" in {seen.unit}" if seen.unit else ""
    if seen.role.startswith("("):
        return f"looks like {seen.role.strip('()')}{unit}; not read"
    return f"{seen.role}{unit}"


def _notes(notes: tuple[str, ...] | list[str]) -> Iterator[str]:
    yield from (f"Note: {note}." for note in notes if note)


def _fault_lines(faults: list[Fault], name: str) -> list[str]:
    lines = [str(fault.problem(name)) for fault in faults[:SHOWN_FAULTS]]
    more = len(faults) - SHOWN_FAULTS
    return [*lines, f"{name}: {more} more of that kind"] if more > 0 else lines


def _totals(log: Log) -> Iterator[str]:
    """Rows, interval, gaps, and what flowed."""
    steps = steps_of(log)
    step = float(np.median(steps.width_s))
    yield f"{len(log.time_s)} of {log.rows} rows over {_time(steps.duration_s)}, one every {step:.4g} s"
    gaps = steps.width_s[steps.gap_at]
    longest = f", the longest {_time(float(gaps.max()))}" if len(gaps) else ""
    yield f"{'no' if not len(gaps) else len(gaps)} gap{'' if len(gaps) == 1 else 's'}{longest}"
    current, voltage = log.columns.get("current"), log.columns.get("voltage")
    if current is not None:
        yield _flow(log, current, "Ah")
    if current is not None and voltage is not None:
        yield _flow(log, current * voltage, "Wh")


def _flow(log: Log, signal: Array, unit: str) -> str:
    net = net_of(log, signal)
    out = net_of(log, np.maximum(signal, 0.0))
    into = net_of(log, np.maximum(-signal, 0.0))
    both = f" ({out:.5g} out, {into:.5g} in)" if out and into else ""
    return f"{abs(net):.5g} {unit} {'discharged' if net >= 0 else 'charged'}{both}"


def net_of(log: Log, signal: Array) -> float:
    """The integral of a signal over the log, gaps bridged by the mean around them. [its unit × h]"""
    return integral(log, signal, steps_of(log)).value / 3600


def _time(seconds: float) -> str:
    return (
        f"{seconds / 3600:.3g} h"
        if seconds >= 7200
        else f"{seconds / 60:.3g} min"
        if seconds >= 120
        else f"{seconds:.3g} s"
    )
