"""What can be checked of a file with faults: as much as is sound, at the places where it stands in the file."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from site_builder.sound_part import sound_part
from site_builder.yaml_text import Document, parsed

HEAD = """\
unit: {id: quern-q100, maker: Quern, model: Q100}
label: {chemistry: LiFePO4, nominal_v: 12.8, capacity_ah: 100}
"""


def document(text: str) -> Document:
    return parsed(text.encode(), "results/quern-q100.yml")


def cut(text: str) -> set[str]:
    """The fields that are missing from what is left."""
    found = sound_part(document(text), "quern-q100")
    assert found is not None
    return set(found[1])


def test_a_faulty_field_goes_alone() -> None:
    found = sound_part(
        document(HEAD + "tests: {run: {kind: capacity, log: a.csv, ambient_c: cold, ended_by: bms}}"), "x"
    )
    assert found is not None
    record, lost = found
    assert lost == {"tests.run.ambient_c"}
    assert record.tests["run"].log == "a.csv"


def test_a_faulty_field_that_must_be_there_gets_a_stand_in() -> None:
    found = sound_part(document(HEAD.replace("id: quern-q100, maker: Quern", "maker: [Quern]")), "quern-q100")
    assert found is not None
    assert found[0].unit.id == "quern-q100"
    assert found[1] == {"unit.id", "unit.maker"}


def test_of_a_test_without_a_kind_remains_what_every_test_may_say() -> None:
    found = sound_part(document(HEAD + "tests: {run: {kind: capcity, log: a.csv, ended_by: bms, power_w: 40}}"), "x")
    assert found is not None
    assert found[0].tests["run"].log == "a.csv"
    assert found[0].tests["run"].kind == "build"
    assert found[1] == {"tests.run", "tests.run.ended_by", "tests.run.power_w"}


def test_entries_of_a_list_keep_their_numbers() -> None:
    """The first reading can do without its temperature; the first pulse is none without its current."""
    cold = HEAD + "tests: {c: {kind: cold_charge, readings: [{battery_c: x, read_on: a}, {read_on: b}]}}"
    found = sound_part(document(cold), "x")
    assert found is not None
    assert [one.read_on for one in found[0].tests["c"].readings] == ["a", "b"]  # type: ignore[union-attr]
    pulses = HEAD + "tests: {p: {kind: resistance, readings: [{current_a: x, voltage_v: 1}]}}"
    assert cut(pulses) == {"tests.p.readings[0].current_a", "tests.p.readings"}


def test_what_yaml_refused_is_missing_too() -> None:
    assert cut("bench: !x here\n" + HEAD) == {"bench"}


def test_a_list_or_a_text_has_no_sound_part() -> None:
    assert sound_part(document("[1, 2]"), "x") is None
    assert sound_part(document("quern"), "x") is None


KEYS = st.sampled_from(
    [
        "unit",
        "label",
        "tests",
        "samples",
        "history",
        "run",
        "kind",
        "readings",
        "id",
        "load",
        "log",
        "at",
        "capacity_ah",
    ]
)
ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=6),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=4),
    max_leaves=12,
)


@given(st.dictionaries(KEYS, ANYTHING, max_size=6))
def test_whatever_stands_in_a_file_something_is_left(data: dict[str, object]) -> None:
    """Any group of keys has a sound part, if only an empty one, and the file's own data stay as they were."""
    before = repr(data)
    assert sound_part(Document("results/x.yml", data, None), "x") is not None
    assert repr(data) == before
