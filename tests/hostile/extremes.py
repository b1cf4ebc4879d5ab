"""Tests of every kind, allowed and yet extreme: each number of each record at an end of its range, and odd logs.

The records are walked, so that a new field is tried from its first day.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from random import Random
from typing import Any, Literal, get_args, get_origin

from pydantic.fields import FieldInfo

from site_builder.fields import Record
from site_builder.pages.sheet_fields import RECORDS, number_of, record_of
from site_builder.records import Label
from site_builder.values import LEAST, In
from tests.conftest import ROOT
from tests.small_project import Project, small_project

# What a tester would write, by unit: half of all numbers, so that a case is not odd in everything at once.
USUAL = {
    "A": 18, "V": 13.1, "W": 240, "Ah": 88, "Wh": 1150, "°C": 21, "s": 3600, "h": 5, "kg": 10, "mm": 300, "mΩ": 3,
    "1": 0.5, "year": 5, "": 2,
}  # fmt: skip
NAMES = {"sample": ["a"], "read_on": ["shunt", "meter", "counter", "probe"], "load": ["kettle", "fridge"]}
NAMES |= {"inverter": ["galley"], "after": ["capacity"], "date": ["2026-05-06"], "at": ["13:40", "14:20"]}
NAMES |= {"started": ["19:25"], "ended": ["22:10", "22:10 to 23:40"]}
LOGGED = {"capacity", "load_run", "overload", "cold_charge", "resistance", "charge"}
LEFT_OUT = {"bench", "video", "log", "kind"}
LOG = """\
    battery_c: {column: C, on: probe}
    ambient_c: {column: air}
    cell_current: {column: cells}
    interval_s: 10
"""
CLASS = """\
all:
  title: Everything
  nominal_v: {from: 0.1, below: 1001}
  capacity_ah: {from: 0.001, below: 2001}
  chemistry: [LiFePO4, lead-acid AGM, lead-acid gel, lead-acid flooded, NMC, LTO, sodium-ion]
"""
ROWS = (2, 3, 7, 40)


# --- by hand ---------------------------------------------------------------------------------------------------------
def number(field: In, chance: Random) -> object:
    """A usual number, or one at an end of its range or open to a side."""
    low, high, usual = field.low, field.high, USUAL[field.unit]
    ends: list[object] = [low, high, f"{low:.12g} to {high:.12g}", f"{low:.12g} to {usual}", f"about {usual}"]
    ends += [f"{word} {end:.12g}" for word in ("over", "under") for end in (low, usual, high)]
    ends += [10 * LEAST, 1e-9] if low == 0 else []
    return chance.choice(ends) if chance.random() < 0.5 else usual


def parts(annotation: Any) -> list[Any]:
    """Everything that a field's annotation is made of."""
    return [annotation, *(part for one in get_args(annotation) for part in parts(one))]


def value(name: str, field: FieldInfo, chance: Random) -> object:
    """What a field of a record can hold."""
    found = parts(field.annotation)
    if any(get_origin(one) is tuple for one in found) and name not in NAMES:
        return [one_value(name, field, found, chance) for _ in range(chance.randint(0, 4))]
    return one_value(name, field, found, chance)


def one_value(name: str, field: FieldInfo, found: list[Any], chance: Random) -> object:
    """The same, or one of several."""
    if literal := next((one for one in found if get_origin(one) is Literal), None):
        return chance.choice(get_args(literal))
    if name in NAMES:
        return chance.choice(NAMES[name])
    if limits := number_of(field):
        return number(limits, chance)
    if any(isinstance(one, type) and issubclass(one, Record) for one in found):
        return entry(record_of(field), chance)
    if bool in found:
        return chance.random() < 0.5
    return chance.choice([1, 2, 1_000_000]) if int in found else "IP65" if name == "ingress" else "words"


def entry(record: type[Record], chance: Random) -> dict[str, object]:
    """A record with what it needs and some of what it may hold."""
    return {
        field.alias or name: value(name, field, chance)
        for name, field in record.model_fields.items()
        if name not in LEFT_OUT and (field.is_required() or chance.random() < 0.5)
    }


def unit(chance: Random) -> dict[str, Any]:
    """A results file with a test of every kind, some with a log named after them."""
    tests = {kind.replace("_", "-"): {"kind": kind, **entry(record, chance)} for kind, record in RECORDS.items()}
    for name, test in tests.items():
        if test["kind"] in LOGGED and chance.random() < 0.5:
            test |= {"log": f"{name}.csv", "evidence": "kept"}
        if "duration_s" in test:  # it has to be what start and end make
            test.pop("ended", None)
    return {
        "unit": {"id": "tarn-t90", "maker": "Tarn", "model": "T90"},
        "bench": "quay",
        "samples": {"a": {"obtained": "bought", "date": "2026-05-01"}},
        "label": entry(Label, chance),
        "tests": tests,
    }


# --- logs ------------------------------------------------------------------------------------------------------------
Column = object | Callable[[int], object]  # the same in every row, or by its number
ANYWHERE: list[Column] = [0, 1e-300, 13, lambda i: 13 - 0.01 * i]
ODD: list[Column] = ["", "off", 1e308, lambda i: 5 if i == 1 else ""]
CURRENTS: list[Column] = [
    *ANYWHERE, -18, 3000, -3000, lambda i: 18 * (-1) ** i, lambda i: 90 * (i // 2 % 2), lambda i: -5 if i < 20 else -20,
]  # fmt: skip
VOLTS: list[Column] = [*ANYWHERE, -0.5, 1000, lambda i: 12.9 if i // 2 % 2 else 13.2]
DEGREES: list[Column] = [*ANYWHERE, *ODD, -60, 150, lambda i: -12 + 0.5 * i]


def log(chance: Random) -> str:
    """A log with columns that are constant, zero, reversed, alternating, at an end of their range, or empty."""
    rows, every_s = chance.choice(ROWS), chance.choice([10, 10, 1e-9, 600, 100_000])
    columns = [chance.choice(one) for one in (CURRENTS, VOLTS, DEGREES, DEGREES, [*CURRENTS, *ODD])]
    lines = [[every_s * i, *(one(i) if callable(one) else one for one in columns)] for i in range(rows)]
    return "\n".join(["s,A,V,C,air,cells", *(",".join(map(str, line)) for line in lines), ""])


def catalogue_for_all(root: Path) -> Project:
    """The small project with the demo's loads and grading, a class for every label, and every column of a log."""
    project = small_project(root)
    for name in ("loads.yml", "grading.yml"):
        shutil.copy(ROOT / "catalogue" / name, project.catalogue / name)
    (project.catalogue / "classes.yml").write_text(CLASS, encoding="utf-8")
    benches = project.catalogue / "instruments.yml"
    text = benches.read_text(encoding="utf-8")
    assert text.count("    interval_s: 10\n") == 1
    benches.write_text(text.replace("    interval_s: 10\n", LOG), encoding="utf-8")
    (project.catalogue / "pages").mkdir()
    return project
