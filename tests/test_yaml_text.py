"""YAML as it is written: no guesses about words, a place for every value, and nothing that could hurt."""

from __future__ import annotations

from typing import Any

import pytest

from site_builder.yaml_text import MAX_BYTES, MAX_DEPTH, Document, parsed, shown_path


def document(text: str) -> Document:
    return parsed(text.encode(), "results/tarn-t90.yml")


def codes(text: str) -> list[str]:
    return [problem.code for problem in document(text).problems]


@pytest.mark.parametrize(
    ("scalar", "value"),
    [
        # What YAML 1.1 would turn into something else: yaml.org/type/bool, /int, /float, /timestamp.
        ("NO", "NO"),
        ("yes", "yes"),
        ("off", "off"),
        ("y", "y"),
        ("12:30", "12:30"),
        ("12:30:45", "12:30:45"),
        ("190:20:30.15", "190:20:30.15"),
        ("2026-05-04", "2026-05-04"),
        ("2026-05-04T09:00:00Z", "2026-05-04T09:00:00Z"),
        ("0123", "0123"),
        ("0x1F", "0x1F"),
        ("0b11", "0b11"),
        ("1_000", "1_000"),
        (".inf", ".inf"),
        (".nan", ".nan"),
        ("=", "="),
        ("<<", "<<"),
        ("1.2.3", "1.2.3"),
        ("IP65", "IP65"),
        ("True", "True"),
        # What is meant as it looks.
        ("true", True),
        ("false", False),
        ("null", None),
        ("~", None),
        ("", None),
        ("620", 620),
        ("-14", -14),
        ("+5", 5),
        ("0", 0),
        ("13.12", 13.12),
        (".5", 0.5),
        ("5.", 5.0),
        ("1e5", 1e5),
        ("1.5e-3", 1.5e-3),
        ("0.00", 0.0),
        ('"620"', "620"),
        ("'true'", "true"),
        ('""', ""),
        ("about 620", "about 620"),
        ("88 %", "88 %"),
        ("12.5 °F", "12.5 °F"),
    ],
)
def test_scalars(scalar: str, value: Any) -> None:
    read = document(f"key: {scalar}\n")
    assert read.problems == ()
    assert read.data == {"key": value}
    assert type(read.data["key"]) is type(value)


def test_keys_are_text() -> None:
    assert document("12v: 1\n24: 2\ntrue: 3\n2026-05-04: 4\n").data == {"12v": 1, "24": 2, "true": 3, "2026-05-04": 4}


NESTED = """\
unit: {id: tarn-t90}

tests:
  pulses:
    readings:
      - {current_a: 18}
      - current_a: 90
        voltage_v: 12.9
"""


@pytest.mark.parametrize(
    ("path", "of_key", "place"),
    [
        (("unit", "id"), False, (1, 12)),
        (("unit", "id"), True, (1, 8)),
        (("tests", "pulses"), True, (4, 3)),
        (("tests", "pulses", "readings", 0, "current_a"), False, (6, 21)),
        (("tests", "pulses", "readings", 1, "voltage_v"), False, (8, 20)),
        (("tests", "pulses", "readings", 1, "voltage_v"), True, (8, 9)),
        (("tests", "pulses", "readings", 1, "after_s"), False, (7, 9)),  # not there: where its parent starts
        (("tests", "galley", "outcome"), False, (4, 3)),
        ((), False, (1, 1)),
    ],
)
def test_places(path: tuple[str | int, ...], of_key: bool, place: tuple[int, int]) -> None:
    assert document(NESTED).place(path, of_key=of_key) == place


def test_a_problem_knows_its_place_and_path() -> None:
    problem = document(NESTED).problem(("tests", "pulses", "readings", 1, "voltage_v"), "too low", "look again", "low")
    words = "results/tarn-t90.yml:8:20: tests.pulses.readings[1].voltage_v: too low; look again"
    assert str(problem) == words


def test_a_document_that_could_not_be_read_has_no_place() -> None:
    assert document("a: [").place(("a",)) == (0, 0)


def test_shown_paths() -> None:
    assert shown_path(("tests", "galley", "readings", 0, "at")) == "tests.galley.readings[0].at"
    assert shown_path(()) == ""


@pytest.mark.parametrize(
    ("text", "code", "line"),
    [
        pytest.param("", "yaml-empty", 0, id="empty"),
        pytest.param("# nothing yet\n", "yaml-empty", 0, id="comments alone"),
        pytest.param("a: 1\nb: [1, 2\n", "yaml-syntax", 3, id="a bracket left open"),
        pytest.param("a: 1\n b: 2\n", "yaml-syntax", 2, id="indented by chance"),
        pytest.param("a: 1\n\tb: 2\n", "yaml-syntax", 2, id="a tab"),
        pytest.param("a: 1\nb: 2\na: 3\n", "yaml-duplicate-key", 3, id="a key twice"),
        pytest.param("a:\n  b: 1\n  b: 2\n", "yaml-duplicate-key", 3, id="a key twice, deeper"),
        pytest.param("a: 1\nb: !!python/object:os.system ls\n", "yaml-tag", 2, id="a tag"),
        pytest.param("a: 1\nb: !own 2\n", "yaml-tag", 2, id="a tag of one's own"),
        pytest.param("a: 1\n[1, 2]: 3\n", "yaml-key", 2, id="a list as key"),
        pytest.param("a: 1\nb: x\u200by\n", "yaml-unseen", 2, id="a space of no width"),
        pytest.param("a: 1\nb: x\u202ey\n", "yaml-unseen", 2, id="a turn of direction"),
        pytest.param("a: 1\nb: x\x07y\n", "yaml-unseen", 2, id="a bell"),
    ],
)
def test_what_is_refused(text: str, code: str, line: int) -> None:
    (problem,) = document(text).problems
    assert (problem.code, problem.line) == (code, line)
    assert problem.hint


def test_an_alias() -> None:
    (problem,) = document("a: &x [1]\nb: *x\n").problems
    assert (problem.code, problem.field) == ("yaml-alias", "b")
    assert problem.line == 2  # where it stands itself, not its anchor


def test_a_second_of_a_key_does_not_count() -> None:
    read = document("a: 1\na: 2\n")
    assert read.data == {"a": 1}


def test_bytes_that_are_no_text() -> None:
    problem = parsed(b"a: 1\nb: \xb0C\n", "x.yml").problems[0]
    assert (problem.code, problem.line) == ("yaml-encoding", 2)


def test_a_byte_order_mark_is_no_part_of_the_text() -> None:
    assert parsed(b"\xef\xbb\xbfa: 1\n", "x.yml").data == {"a": 1}


def test_large_files() -> None:
    assert parsed(b"a: " + b"x" * MAX_BYTES, "x.yml").problems[0].code == "yaml-size"
    assert parsed(b"a: " + b"x" * (MAX_BYTES - 3), "x.yml").problems == ()


@pytest.mark.parametrize(
    "deep",
    [
        pytest.param(lambda n: "[" * n + "]" * n, id="brackets"),
        pytest.param(lambda n: "{a: " * n + "1" + "}" * n, id="braces"),
        pytest.param(lambda n: "".join("  " * i + "a:\n" for i in range(n)), id="indents"),
        pytest.param(lambda n: "".join(" " * i + "a:\n" for i in range(n)), id="single blanks"),
        pytest.param(lambda n: "- " * n + "1", id="hyphens"),
    ],
)
def test_deep_nesting(deep: Any) -> None:
    for depth in (MAX_DEPTH + 1, 400):
        assert ["nested" in problem.message for problem in document(deep(depth)).problems] == [True]
    assert not any("nested" in problem.message for problem in document(deep(MAX_DEPTH - 1)).problems)


@pytest.mark.parametrize("deep", ["[", "- ", "{a: ", "? "])
def test_what_is_nested_deeper_than_a_parser_can_follow_ends_in_words(deep: str) -> None:
    """The parser refuses it before its own recursion could end in a crash."""
    assert ["nested" in problem.message for problem in document(deep * 2_000).problems] == [True]


def test_a_key_that_is_a_group_is_refused_however_deep_it_goes() -> None:
    for depth in (2, MAX_DEPTH + 1, 400):
        assert codes("? " * depth + "1") == ["yaml-key"]


def test_many_brackets_side_by_side_are_not_deep() -> None:
    assert codes("a: [" + "[], " * 500 + "]") == []


def test_aliases_do_not_multiply() -> None:
    """Nine lines that stand for a billion words: "billion laughs", known from XML."""
    lines = ["a0: &a0 [lol, lol, lol, lol, lol, lol, lol, lol, lol]"]
    lines += [f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 9)}]" for i in range(1, 9)]
    assert set(codes("\n".join(lines))) == {"yaml-alias"}


def test_every_problem_of_a_file_is_found_in_one_pass() -> None:
    assert codes("a: !x 1\nb: 1\nb: 2\nc: &y [1]\nd: *y\n") == ["yaml-tag", "yaml-duplicate-key", "yaml-alias"]


def test_the_hash_is_of_the_bytes() -> None:
    assert document("a: 1\n").sha256 != document("a: 1 \n").sha256
    assert len(document("a: 1\n").sha256) == 64
