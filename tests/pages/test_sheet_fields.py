"""Each field of a bench sheet, against the records of a results file."""

from __future__ import annotations

from collections.abc import Iterator

from site_builder.catalogue_records import Bench, Load
from site_builder.pages.sheet_fields import RECORDS, field_at, record_of
from site_builder.pages.sheet_form import Entry, SheetTest, label_entries, sheet_tests
from site_builder.ways_out import USUAL_UNITS

LOADS = {
    "press": Load.model_validate({"title": "Press", "running_w": 230}),
    "pump": Load.model_validate({"title": "Pump", "running_w": 256, "mains": False}),
}


def bench(**inverters: dict[str, object]) -> Bench:
    record = {
        "title": "Quay",
        "tester": "Ines Hallam",
        "since": "2026-01-01",
        "instruments": {},
        "inverters": inverters,
    }
    return Bench.model_validate(record)


BENCHES = {
    "quay": bench(galley={"idle_w": 12}),
    "quay-autumn": bench(galley={"idle_w": 12}, cabin={"idle_w": 9, "title": "Cabin inverter"}),
    "bare": bench(),
}


def entries(tests: tuple[SheetTest, ...]) -> Iterator[tuple[str, Entry]]:
    for test in tests:
        yield from ((test.name, one) for one in test.entries)
        yield from ((test.name, one) for one in (test.rows.entries if test.rows else ()))


def inverters(name: str | None) -> dict[str, str]:
    found = [one for _, one in entries(sheet_tests(None, LOADS, BENCHES, name)) if one.path == "inverter"]
    return {choice.value: choice.mark for one in found for choice in one.choices}


def test_numbers_have_the_limits_of_their_records_and_units_that_the_form_knows() -> None:
    fields = {(name, one.path): one for name, one in entries(sheet_tests(None, LOADS, BENCHES))}
    current = fields["capacity", "current_a"].number
    assert current
    assert (current.unit, current.high) == ("A", 3000)
    for key, one in fields.items():
        assert (one.kind == "number") <= (one.number is not None), key
        assert one.number is None or one.number.unit in USUAL_UNITS, key
    cells = fields["cells", "cell_v"].number
    assert cells, "each of a list"
    assert cells.unit == "V"


def test_what_a_record_cannot_do_without_is_needed() -> None:
    fields = {(name, one.path): one.is_needed for name, one in entries(sheet_tests(None, LOADS, BENCHES))}
    assert fields["capacity", "ended_by"]
    assert fields["unboxing", "size_mm.width"]
    assert fields["overload", "held"]
    assert fields["cold", "date"]
    assert not fields["capacity", "counted_wh"]
    assert [one.path for one in label_entries() if one.is_needed] == [
        "unit.maker", "unit.model", "label.chemistry", "label.nominal_v", "label.capacity_ah"
    ]  # fmt: skip


def test_each_test_has_a_date() -> None:
    for test in sheet_tests(None, LOADS, BENCHES):
        dates = [one.path for one in test.entries if one.kind == "date"]
        assert dates == (["started", "ended"] if test.kind == "standby" else ["date"]), test.name


def test_choices_are_words_of_the_records() -> None:
    for test in sheet_tests(None, LOADS, BENCHES):
        for scope, record in ((test.entries, RECORDS[test.kind]), *_rows(test)):
            for one in scope:
                known = str(field_at(record, one.path).annotation)
                words = [choice.value for choice in one.choices if choice.value not in {"true", "false"}]
                assert one.path in {"load", "inverter"} or all(repr(word) in known for word in words), one.path


def _rows(test: SheetTest) -> Iterator[tuple[tuple[Entry, ...], type]]:
    if test.rows:
        yield test.rows.entries, record_of(field_at(RECORDS[test.kind], test.rows.key))


def test_inverters_are_the_benchs_own() -> None:
    assert inverters("quay") == {"galley": "quay"}
    assert inverters("bare") == {}
    assert inverters("") == {}, "a battery without a bench"
    assert inverters(None) == {"galley": "quay quay-autumn", "cabin": "quay-autumn"}, (
        "where the form asks for the bench"
    )


def test_a_load_on_direct_current_is_marked() -> None:
    (load,) = [one for _, one in entries(sheet_tests(None, LOADS, BENCHES)) if one.path == "load"]
    assert {choice.value: choice.mark for choice in load.choices} == {"press": "", "pump": "direct"}
