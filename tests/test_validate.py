"""Plain data → records: every problem with its place; exact wordings are kept in tests/data/invalid."""

from __future__ import annotations

from typing import Any

import pytest

from site_builder.catalogue_records import Price
from site_builder.problems import Problem
from site_builder.records import ResultsFile
from site_builder.validate import record, row_record
from site_builder.yaml_text import parsed

LABEL = "label: {chemistry: LiFePO4, nominal_v: 12.8, capacity_ah: 90}\n"
UNIT = "unit: {id: tarn-t90, maker: Tarn, model: T90}\n"


def read(text: str) -> tuple[ResultsFile | None, list[Problem]]:
    return record(ResultsFile, parsed(text.encode(), "x.yml"))


def only_problem(text: str) -> Problem:
    made, problems = read(text)
    assert made is None
    assert len(problems) == 1, problems
    return problems[0]


def test_the_shortest_file() -> None:
    made, problems = read(UNIT + LABEL)
    assert problems == []
    assert made is not None
    assert made.label.capacity_ah.best == 90
    assert (made.unit.status, made.tests, made.samples) == ("published", {}, {})


def test_a_file_of_every_kind_of_test() -> None:
    kinds = {
        "capacity": "ended_by: bms",
        "load_run": "load: kettle, outcome: ran",
        "overload": "points: [{current_a: 110, duration_s: over 30 min, held: true}]",
        "cold_charge": 'readings: [{at: "13:40", battery_c: -14, charge: refused}]',
        "resistance": "readings: [{current_a: 18, voltage_v: 13.12}]",
        "charge": "charger: {set_v: 14.4}",
        "standby": 'soc: {start: "100 %", end: "97 %"}',
        "balance": "at: full, cell_v: [3.449, 3.451]",
        "build": "mass_kg: 22.9 lb",
    }
    tests = "".join(f"  t-{i}: {{kind: {kind}, {more}}}\n" for i, (kind, more) in enumerate(kinds.items()))
    made, problems = read(f"{UNIT}{LABEL}tests:\n{tests}")
    assert problems == []
    assert made is not None
    assert [test.kind for test in made.tests.values()] == list(kinds)


@pytest.mark.parametrize(
    ("text", "field", "code", "line"),
    [
        pytest.param(UNIT, "", "key-missing", 1, id="no label"),
        pytest.param(UNIT + LABEL.replace("90", "52000"), "label.capacity_ah", "value-outside", 2, id="out of range"),
        pytest.param(UNIT + LABEL.replace("90", "about 0"), "label.capacity_ah", "value-about-zero", 2, id="grammar"),
        pytest.param(UNIT + LABEL.replace("90", "90 W"), "label.capacity_ah", "value-dimension", 2, id="dimension"),
        pytest.param(UNIT + LABEL.replace("LiFePO4", "LFP"), "label.chemistry", "literal-error", 2, id="a word"),
        pytest.param(UNIT.replace("T90}", "1}") + LABEL, "unit.model", "string-type", 1, id="a number for text"),
        pytest.param(UNIT.replace("tarn-t90", "Tarn_T90") + LABEL, "unit.id", "string-pattern-mismatch", 1, id="id"),
        pytest.param(UNIT + LABEL + "colour: red\n", "colour", "key-unknown", 3, id="an unknown key"),
        pytest.param(UNIT + LABEL + "tests:\n  run: {ended_by: bms}\n", "tests.run", "kind-unknown", 4, id="no kind"),
        pytest.param(
            UNIT + LABEL + "tests:\n  run: {kind: capacty}\n", "tests.run", "kind-unknown", 4, id="kind misspelt"
        ),
        pytest.param(
            UNIT + LABEL + "tests:\n  run:\n    kind: capacity\n    ended_by: bms\n    ampere: 5\n",
            "tests.run.ampere",
            "key-unknown",
            7,
            id="an unknown key of a test",
        ),
        pytest.param(
            UNIT
            + LABEL
            + "tests:\n  r:\n    kind: resistance\n    readings:\n      - {current_a: 5, voltage_v: 5 A}\n",
            "tests.r.readings[0].voltage_v",
            "value-dimension",
            7,
            id="inside a list",
        ),
        pytest.param(
            UNIT + LABEL + "offers: [{url: 'http://example.org', pays: tester}]\n",
            "offers[0].url",
            "link-form",
            3,
            id="a link without s",
        ),
        pytest.param(
            UNIT + LABEL + "offers: [{url: 'javascript:alert(1)', pays: tester}]\n",
            "offers[0].url",
            "link-form",
            3,
            id="a link that runs something",
        ),
    ],
)
def test_one_problem_with_its_place(text: str, field: str, code: str, line: int) -> None:
    problem = only_problem(text)
    assert (problem.field, problem.code, problem.line) == (field, code, line)
    assert problem.message
    assert problem.hint


def test_an_unknown_key_is_answered_with_the_nearest_one() -> None:
    problem = only_problem(UNIT + LABEL.replace("capacity_ah: 90", "capacity_ah: 90, nominal_w: 1"))
    assert "nominal_v" in problem.hint


def test_the_keys_of_the_named_kind_are_offered() -> None:
    problem = only_problem(UNIT + LABEL + "tests:\n  run: {kind: balance, at: full, cells_v: [3.4]}\n")
    assert "cell_v" in problem.hint


def test_all_problems_are_found_at_once() -> None:
    _, problems = read(UNIT.replace("maker: Tarn, ", "") + LABEL.replace("90", "0") + "x: 1\n")
    assert {problem.code for problem in problems} == {"key-missing", "value-outside", "key-unknown"}


def test_nothing_is_made_where_the_yaml_had_a_problem() -> None:
    made, problems = read(UNIT + LABEL + "view: a\nview: b\n")
    assert made is None
    assert [problem.code for problem in problems] == ["yaml-duplicate-key"]


@pytest.mark.parametrize("text", ["5", "[1, 2]", "just words", "- a: 1"])
def test_a_file_that_is_no_group_of_keys(text: str) -> None:
    made, problems = read(text)
    assert made is None
    assert problems


ROW = {
    "date": "2026-05-01",
    "unit": "tarn-t90",
    "amount": "499.90",
    "currency": "EUR",
    "kind": "paid",
    "seller": "shop",
}


def test_a_row_of_a_table() -> None:
    made, problems = row_record(Price, ROW, "prices.csv", 7)
    assert problems == []
    assert made is not None
    assert made.amount.best == 499.90


@pytest.mark.parametrize(
    "change", [{"amount": "-1"}, {"amount": "free"}, {"currency": "euro"}, {"date": "1 May"}, {"kind": "stolen"}]
)
def test_a_problem_of_a_row_carries_its_line(change: dict[str, Any]) -> None:
    made, problems = row_record(Price, ROW | change, "prices.csv", 7)
    assert made is None
    assert [(problem.file, problem.line, problem.field) for problem in problems] == [("prices.csv", 7, *change)]
