"""Results files and catalogue files that would hang, fill the memory or mislead: each a problem within 2 s and 500 MB.

Limits are those of `bounded`. What cannot take long is in tests/data/invalid; here are sizes, depths and numbers.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from site_builder.__main__ import main
from site_builder.yaml_text import MAX_NODES, parsed
from tests.hostile.bounded import MEMORY_MB, Done, cpu_limit_s, site_builder
from tests.small_project import UNIT, Project, small_project

HEAD = """\
unit: {id: tarn-t90, maker: Tarn, model: T90}
label: {chemistry: LiFePO4, nominal_v: 12.8, capacity_ah: 90}
"""
MEGABYTE = 1_000_000 - len(HEAD) - 100
BIG = MAX_NODES - 100  # as many keys and values as are read at all


@pytest.fixture
def project(tmp_path: Path) -> Project:
    return small_project(tmp_path / "project")


def checked(project: Project) -> Done:
    """`check` of the whole project, within the limits."""
    return site_builder("check", "--results", project.results, folder=project.root)


def told(done: Done) -> str:
    """What was said; nothing of the program's inside, and within the limits."""
    assert done.code == 1, (done.code, done.cpu_s, done.err)
    assert "Traceback" not in done.err
    assert done.cpu_s <= cpu_limit_s()
    assert done.memory_mb <= MEMORY_MB
    lines = done.out.splitlines()
    assert 0 < len(lines) <= 120
    assert all(line.isprintable() and len(line) < 1000 for line in lines)
    assert all("; " in line for line in lines), "a way out each"
    return done.out


def listed(key: str, entry: str, of: int = 1) -> str:
    """A list or group of as many entries as are read, each of so many keys and values."""
    return f"{key}: [{', '.join([entry] * (BIG // of))}]\n"


def named(key: str, entry: str, of: int) -> str:
    """The same with a name for each."""
    return f"{key}:\n" + "".join(f"  k{i}: {entry}\n" for i in range(BIG // of))


FULL = pytest.mark.full
TEXTS = {
    "100 000 brackets": ("a: " + "[" * 100_000, "nested more than 50 deep"),
    "100 000 closed brackets": ("a: " + "[" * 100_000 + "]" * 100_000, "nested more than 50 deep"),
    "100 000 braces": ("{a: " * 100_000, "nested more than 50 deep"),
    "100 000 hyphens": ("- " * 100_000 + "1", "nested more than 50 deep"),
    "deeper by a blank each line": ("".join(" " * i + "a:\n" for i in range(1400)), "nested more than 50 deep"),
    "50 MB": ("# x\n" * 12_500_000, "over 1 MB"),
    "a megabyte of lists": (f"{HEAD}view: [{'[],' * (MEGABYTE // 3)}]", f"over {MAX_NODES} keys and values"),
    "a megabyte of tests": (
        HEAD + "tests:\n" + "".join(f"  t{i}: {{kind: build}}\n" for i in range(MEGABYTE // 25)),
        f"over {MAX_NODES} keys and values",
    ),
    "a megabyte of aliases": (
        f"{HEAD}a: &a 1\nk: [{'*a,' * (MEGABYTE // 3 - 5)}]\n",
        "an alias (*name) is not allowed",
    ),
    "unknown keys": (HEAD + "".join(f"k{i}: 1\n" for i in range(BIG // 2)), "more problems like those above"),
    "one key again and again": (HEAD + "k: 1\n" * (BIG // 2), "more problems like those above"),
    "tags": (HEAD + listed("k", "!x 1"), "more problems like those above"),
    "tests of no kind": (HEAD + named("tests", "{kind: bild}", 4), "more problems like those above"),
    "tests": (HEAD + named("tests", "{kind: build}", 4), "too many entries; keep to 300"),
    "points without anything": (
        f"{HEAD}tests: {{t: {{kind: overload, {listed('points', '{}')}}}}}",
        "more problems like",
    ),
    "cells": (f"{HEAD}tests: {{t: {{kind: balance, at: full, {listed('cell_v', '3.2')}}}}}", "keep to 400"),
    "history": (HEAD + listed("history", "{date: 2026-01-01, what: died, note: x}", 7), "keep to 1000"),
    "former ids": (f"unit: {{id: tarn-t90, maker: T, model: T, {listed('former_ids', 'a')}}}", "keep to 50"),
    "loads that are none": (
        f"{HEAD}bench: quay\ntests: {{t: {{kind: load_run, outcome: ran, {listed('load', 'ketle')}}}}}",
        "the list is too long",
    ),
    "300 wrong names": (
        f"{HEAD}history:\n  - {{date: 2026-01-01, what: died, note: x, tests: [{', '.join(f'a{i}' for i in range(300))}]}}\n",
        "more problems like those above",
    ),
    "a number of a million digits": (f"{HEAD}viewed: {'1' * MEGABYTE}\n", "is no date"),
    "a key of a million letters": (f"{HEAD}{'k' * MEGABYTE}: 1\n", "this is not YAML"),
    "a name of a million letters": (f"{HEAD}bench: {'a-' * (MEGABYTE // 2)}a\n", "longer than 60"),
    "an address of a million letters": (
        f"{HEAD}offers: [{{url: 'https://{'a.' * (MEGABYTE // 2)}', pays: club}}]",
        "no web address",
    ),
}
# The others are of the same kind as one that runs every time.
SELDOM = {
    "100 000 closed brackets", "100 000 braces", "deeper by a blank each line", "a megabyte of tests", "tests of no kind",
    "cells", "history", "former ids", "300 wrong names", "a key of a million letters",
}  # fmt: skip


@pytest.mark.parametrize("name", [pytest.param(name, marks=FULL if name in SELDOM else ()) for name in TEXTS])
def test_a_results_file_that_would_take_too_long(name: str, project: Project) -> None:
    text, words = TEXTS[name]
    project.unit(text)
    assert words in told(checked(project))


@pytest.mark.parametrize("file", ["instruments.yml", pytest.param("loads.yml", marks=FULL)])
def test_a_catalogue_file_that_would_take_too_long(file: str, project: Project) -> None:
    (project.catalogue / file).write_text("".join(f"k{i}: {{}}\n" for i in range(BIG // 2)), encoding="utf-8")
    assert "more problems like those above" in told(checked(project))


@pytest.mark.parametrize(
    ("row", "words"),
    [
        pytest.param("x\n", "the row has 1 cells", id="rows of one cell"),
        pytest.param("2026-01-01,nobody,1,EUR,paid,x\n", "there is no unit 'nobody'", id="units that are none"),
        pytest.param('"', "this is no CSV", id="quotation marks", marks=FULL),
        pytest.param("2026-01-01,tarn-t90,1e400,EUR,paid,x\n", "1e400", id="an endless price", marks=FULL),
    ],
)
def test_a_megabyte_of_prices(row: str, words: str, project: Project) -> None:
    heading = "date,unit,amount,currency,kind,seller\n"
    rows = row * ((1_000_000 - len(heading)) // len(row))
    (project.results / "prices.csv").write_text(heading + rows, encoding="utf-8")
    assert words in told(checked(project))


def test_prices_with_a_character_that_does_not_show(project: Project) -> None:
    prices = project.results / "prices.csv"
    prices.write_text(prices.read_text("utf-8").replace("a chandlery", "a\u202echandlery"), encoding="utf-8")
    assert "the character U+202E does not show; " in told(checked(project))


NUMBERS = {
    "1e400": "is too large to be a number",
    "-1e400": "is too large to be a number",
    "1e999999": "cannot be read as a number",
    ".nan": "cannot be read as a number",
    "nan": "cannot be read as a number",
    "inf": "cannot be read as a number",
    "-.inf": "cannot be read as a number",
    "0x1F": "cannot be read as a number",
    "0o17": "cannot be read as a number",
    "1_000": "cannot be read as a number",
    "1e-999": "is outside",
    "９０": "cannot be read as a number",  # full-width digits
    "٩٠": "cannot be read as a number",  # Arabic digits
    "90\u00a0": "",  # a space that does not break, as pasted from a page; it is no digit and no unit
    "1" * 1_000: "cannot be read as a number",
    "9e307 kAh": "is outside",
    "90 Ah; rm": "cannot be read as a number",
    "90 __import__('os')": "cannot be read as a number",
    "90 m**9**9**9": "cannot be read as a number",
    "true": "is not a number",
    "[90]": "is not a number",
    "{a: 1}": "is not a number",
    '"1e308 to 2e308"': "is",
}


def test_numbers_that_are_none(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    """All of them in one run each way: as they are, and in quotes."""
    for number, words in NUMBERS.items():
        project.unit(UNIT.replace("capacity_ah: 90", f"capacity_ah: {number}"))
        code, out = main(["check", "--results", str(project.results)]), capsys.readouterr().out
        if words:
            assert (code, words in out, "label.capacity_ah" in out) == (1, True, True), (number, out)
        else:
            assert code == 0, out


def test_the_same_file_in_two_cases_of_letters(project: Project) -> None:
    """On a disk that tells them apart; on one that does not there is only one file."""
    project.unit(UNIT.replace("tarn-t90", "Tarn-T90"), "Tarn-T90.yml")
    assert "results/Tarn-T90.yml:1:12: unit.id: 'Tarn-T90' is no name that fits an address; " in told(checked(project))


def test_one_id_in_two_files(project: Project) -> None:
    project.unit(UNIT, "tarn-t90.yaml")
    out = told(checked(project))
    assert "is claimed by results/tarn-t90.ya" in out or "is claimed by results/tarn-t90.yml too" in out


@pytest.mark.parametrize(
    "name",
    [
        "tarn-t9\u043e",
        "tarn\u2010t90",
        "t\u0430rn-t90",
        "tarn-t90\u200b",
        "tarn-t90 ",
        "../tarn-t90",
        "tarn-t90/",
        "CON",
        "tarn--t90",
        "\uff54arn",
    ],
)
def test_an_id_that_looks_like_another(name: str, project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    project.change("id: tarn-t90", f'id: "{name}"')
    assert main(["check", "--results", str(project.results)]) == 1
    out = capsys.readouterr().out
    assert "is no name that fits an address" in out or "does not show" in out


def test_a_name_that_ends_with_a_line(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    project.change("    ended_by: bms", '    ended_by: bms\n    load: ["kettle\\n"]')
    assert main(["check", "--results", str(project.results)]) == 1
    assert "tests.run.load: 'kettle\\n' is no name; " in capsys.readouterr().out


HIDDEN = {
    0x00, 0x07, 0x1B, 0x7F, 0x85, 0xAD, 0x34F, 0x61C, 0x115F, 0x1160, 0x17B4, 0x180B, 0x180E, 0x200B, 0x200D, 0x200E, 0x202A,
    0x202E, 0x2060, 0x2066, 0x2069, 0x206F, 0x3164, 0xFE0F, 0xFEFF, 0xFFA0, 0xFFF0, 0xFFF9, 0xFFFE, 0x1BCA0, 0x1D173,
    0xE0001, 0xE0041, 0xE0100,
}  # fmt: skip


def test_a_character_that_does_not_show() -> None:
    r"""Controls, turns of direction and what fonts draw as nothing, written plainly and as an escape.

    Source:
        Unicode, DerivedCoreProperties.txt, Default_Ignorable_Code_Point, and UAX 9 for direction; some of each.
    """
    for code in sorted(HIDDEN):
        plain = parsed(f"maker: Ta{chr(code)}rn\n".encode("utf-8", "surrogatepass"), "x.yml")
        escaped = parsed(f'maker: "Ta\\U{code:08X}rn"\n'.encode(), "x.yml")
        for document in (plain, escaped):
            assert [f"U+{code:04X} does not show" in one.message for one in document.problems] == [True], hex(code)


def test_terminals_see_no_control_code(project: Project) -> None:
    project.unit(UNIT.replace("bench: quay", 'bench: quay\n"\\e[2J\\e]0;x\\a": 1'))
    out = told(checked(project))
    assert "\\x1b" in out


@pytest.mark.parametrize(
    "place", ["..", "/etc/passwd", "/dev/zero", "~root/x.csv", "../../../etc/passwd", "C:\\x.csv", "run.csv/.."]
)
def test_a_log_outside(place: str, project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    project.change("log: run.csv", f"log: '{place}'")
    assert main(["check", "--results", str(project.results)]) == 1
    out = capsys.readouterr().out
    assert "tests.run.log: " in out
    assert "root:" not in out


@pytest.mark.parametrize(
    "name",
    [
        "run.html",
        "run.svg",
        "run.js",
        "run.csv.html",
        ".htaccess",
        ".run.csv",
        "more/.run/run.csv",
        "../other/run.csv",
        "../../units.csv",
    ],
)
def test_a_log_that_would_be_published_as_something_else(
    name: str, project: Project, capsys: pytest.CaptureFixture[str]
) -> None:
    """As a page of the site's own host, as a server's settings, or in another file's place."""
    log = project.results / "logs" / "tarn-t90" / "run.csv"
    other = log.parent / name
    other.parent.mkdir(parents=True, exist_ok=True)
    other.write_bytes(log.read_bytes())
    project.change("log: run.csv", f"log: {name}")
    assert main(["check", "--results", str(project.results)]) == 1
    assert f"tests.run.log: '{name}' is no name for a log; " in capsys.readouterr().out


@pytest.mark.parametrize("name", ["index", "blank"])
def test_a_name_whose_page_would_stand_in_another_ones_place(
    name: str, project: Project, capsys: pytest.CaptureFixture[str]
) -> None:
    project.unit(UNIT.replace("id: tarn-t90", f"id: {name}"), f"{name}.yml")
    project.change("model: T90", f"model: T90, former_ids: [{name}]")
    for file, entry in (
        ("loads.yml", f"{name}: {{title: A, running_w: 1}}\n"),
        (
            "classes.yml",
            f"{name}: {{title: B, nominal_v: {{from: 1, below: 2}}, capacity_ah: {{from: 1, below: 2}}, chemistry: [NMC]}}\n",
        ),
    ):
        path = project.catalogue / file
        path.write_text(path.read_text("utf-8") + entry, encoding="utf-8")
    assert main(["check", "--results", str(project.results)]) == 1
    out = capsys.readouterr().out
    assert out.count(f"{name!r} is the address of another page; choose another name\n") == 4


def _link(path: Path) -> None:
    path.symlink_to("/dev/zero")


def _linked_folder(path: Path) -> None:
    path.parent.rename(path.parent.with_name("elsewhere"))
    path.parent.symlink_to("/")


def _pipe(path: Path) -> None:
    os.mkfifo(path)


def _device(path: Path) -> None:
    if os.geteuid() != 0:
        pytest.skip("not run: only root can make a device")
    os.mknod(path, 0o20666, os.makedev(1, 5))  # reads as zeros without end


@pytest.mark.parametrize("make", [_link, _linked_folder, _pipe, _device])
def test_a_log_that_never_ends(make: object, project: Project) -> None:
    log = project.results / "logs" / "tarn-t90" / "run.csv"
    log.unlink()
    make(log)  # type: ignore[operator]  # each puts something there that is no file
    assert "tests.run.log: " in told(checked(project))
