"""`new`: what it writes says what is needed in the records' own words, and refuses ids that would be bad ones."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel

from site_builder.__main__ import main
from site_builder.bench_tests import AnyTest
from site_builder.catalogue_records import Catalogue
from site_builder.commands.ids import Taken, id_faults, id_of, name_fault, skeleton
from site_builder.commands.new_unit import Asking, Wanted, asked, made, nearest_class, newest_bench
from site_builder.commands.record_lines import KINDS
from site_builder.fields import NAME_PATTERN
from site_builder.load import read_catalogue
from site_builder.records import Label, ResultsFile
from site_builder.validate import record
from site_builder.yaml_text import parsed
from tests.small_project import Project, small_project

CATALOGUE = Path(__file__).parent.parent.parent / "catalogue"
EMPTY = {"value-empty"}


@pytest.fixture
def project(tmp_path: Path) -> Project:
    return small_project(tmp_path)


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return read_catalogue(CATALOGUE, CATALOGUE.parent, {}, [])


def run(project: Project, *arguments: str) -> int:
    return main(["new", *arguments, "--results", str(project.results)])


def problems_of(text: str) -> set[str]:
    return {one.code for one in record(ResultsFile, parsed(text.encode(), "new.yml"))[1]}


def wanted(*kinds: str) -> Wanted:
    label = {"nominal_v": "12.8", "capacity_ah": "100", "chemistry": "LiFePO4"}
    return Wanted(maker="Pike", model="P100", label=label, sample={"obtained": "bought"}, bench="quay", kinds=kinds)


def test_a_whole_label_leaves_nothing_to_fill_in(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    flags = ["--volts", "12.8", "--ah", "100", "--chemistry", "LiFePO4", "--obtained", "bought"]
    assert run(project, "Pike & Sons", "P 100", *flags) == 0
    said = capsys.readouterr().out
    assert "pike-sons-p-100.yml written. Its class by this label: 12 V, 100 Ah class (12v-100ah)." in said
    assert "Still" not in said
    path = project.results / "pike-sons-p-100.yml"
    text = path.read_text(encoding="utf-8")
    assert text.startswith("# yaml-language-server: $schema=../catalogue/result.schema.json\n")
    assert "\nbench: quay  # " in text
    assert "status: planned" in text
    assert main(["check", str(path)]) == 0


@pytest.mark.parametrize("kind", KINDS)
def test_check_on_a_file_as_written_says_only_what_is_still_to_fill_in(
    project: Project, kind: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(project, "Pike", "P100", "--tests", kind) == 0
    path = project.results / "pike-p100.yml"
    assert main(["check", str(path)]) == 1  # the label at least is open
    found = capsys.readouterr().out.splitlines()[2:]
    assert found
    assert all("nothing stands here; fill it in, or delete the key" in line for line in found), found


@pytest.mark.parametrize("kind", KINDS)
def test_every_field_of_a_kind_is_there_once_with_its_own_description(kind: str, catalogue: Catalogue) -> None:
    text = made(wanted(kind), small_bench(catalogue), ()).text
    test = text[text.index("\ntests:") : text.index("# videos:")]
    for name, field in KINDS[kind].model_fields.items():
        lines = re.findall(rf"(?m)^    (?:# )?{field.alias or name}:(?: [^#\n]*)?  # (.*)$", test)
        assert len(lines) == 1, (name, lines)
        assert lines[0].startswith((field.description or KINDS[kind].__doc__ or "").splitlines()[0])


@pytest.mark.parametrize("kind", KINDS)
def test_taking_all_comment_signs_away_leaves_keys_that_are_known(kind: str, catalogue: Catalogue) -> None:
    """What is then still empty says so; nothing is misspelt, doubled or in the wrong place."""
    text = made(wanted(kind), small_bench(catalogue), ()).text
    head, body = text[: text.index("\nunit:")], text[text.index("\nunit:") :]
    bare = head + re.sub(r"(?m)^( *)# ([a-z -])", r"\1\2", body)
    assert "\n# " not in bare.partition("\nunit:")[2]
    assert problems_of(bare) <= EMPTY


def small_bench(catalogue: Catalogue) -> Catalogue:
    return replace(catalogue, benches={"quay": next(iter(catalogue.benches.values()))})


def test_only_kinds_that_were_asked_for(catalogue: Catalogue) -> None:
    text = made(wanted("capacity", "build"), small_bench(catalogue), ()).text
    assert re.findall(r"kind: (\w+)", text) == ["capacity", "build"]


def test_it_never_overwrites(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    before = (project.results / "tarn-t90.yml").read_bytes()
    assert run(project, "Tarn", "T90") == 2
    assert "the id tarn-t90 is taken by tarn-t90.yml" in capsys.readouterr().err
    assert (project.results / "tarn-t90.yml").read_bytes() == before


def test_nor_through_a_link_that_leads_nowhere(project: Project) -> None:
    (project.results / "pike-p100.yml").symlink_to(project.root / "elsewhere.yml")
    assert run(project, "Pike", "P100") == 2
    assert not (project.root / "elsewhere.yml").exists()


@pytest.mark.parametrize(
    ("maker", "model", "flags", "words"),
    [
        ("Tarn", "T9O", (), "the id tarn-t9o looks like tarn-t90 of tarn-t90.yml"),
        ("Tarn", "T-90", (), "the id tarn-t-90 looks like tarn-t90"),
        ("TARN", "t90", ("--id", "tarn-other"), "tarn-t90.yml is that maker and model already"),
        ("\u0422arn", "T91", (), "mixes letters of Cyrillic and Latin"),
        ("Ta\u200brn", "T91", (), "holds a character that does not show"),
        ("Tarn\n", "T91", (), "holds a character that does not show"),
        ("!!!", "???", (), "is no id that fits an address"),
        ("電池", "一", (), "is no id that fits an address"),
        ("A", "B" * 70, (), "is no id that fits an address"),
        ("Con", "x", ("--id", "con"), "is kept by systems"),
        ("Pike", "P1", ("--id", "Pike-P1"), "is no id that fits an address"),
        ("Pike", "P1", ("--id", "../x"), "is no id that fits an address"),
        ("Pike", "P1", ("--id", "old-name"), "the id old-name is taken by kept.yml"),
        ("Pike", "P1", ("--id", "case-twin"), "the id case-twin is taken by Case-Twin.yml, written Case-Twin"),
        ("Pike", "P1", ("--tests", "capacty"), "'capacty' is no kind of test; known are capacity"),
        ("Pike", "P1", ("--bench", "pier"), "there is no bench 'pier' in instruments.yml; known: quay"),
        ("Pike", "P1", ("--volts", "many"), "label.nominal_v: 'many' cannot be read as a number"),
        ("Pike", "P1", ("--ah", "52000"), 'a capacity in mAh is written "52000 mAh"'),
        ("Pike", "P1", ("--chemistry", "magic"), "label.chemistry: 'magic' is not one of the words known here"),
        ("", "", (), "give maker and model"),
    ],
)
def test_refused(
    project: Project, maker: str, model: str, flags: tuple[str, ...], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    kept = "unit: {id: kept, maker: Kept, model: K, former_ids: [old-name]}\nlabel: {}\n"
    project.unit(kept, "kept.yml")
    project.unit("not: [even yaml", "Case-Twin.yml")
    before = sorted(path.name for path in project.results.iterdir())
    assert run(project, maker, model, *flags) == 2
    assert words in capsys.readouterr().err
    assert sorted(path.name for path in project.results.iterdir()) == before


@given(maker=st.text(max_size=80), model=st.text(max_size=80))
def test_any_names_make_a_good_id_or_a_refusal_in_words(maker: str, model: str) -> None:
    unit_id = id_of(maker, model)
    for what, name in (("maker", maker), ("model", model)):
        fault = name_fault(what, name)
        assert fault is None or fault.isprintable() or not name.isprintable()
    if not id_faults(unit_id, maker, model, ()):
        assert re.fullmatch(NAME_PATTERN, unit_id)
        assert id_faults(unit_id, maker, model, [Taken(id=unit_id.upper(), file="x.yml")])


def test_an_id_looks_like_itself_and_not_like_the_next_model() -> None:
    assert skeleton("modern-rn1") == skeleton("rnodern-ml")
    assert len({skeleton(f"ferngate-f{n}") for n in range(200)}) == 200


@pytest.mark.parametrize(
    ("label", "expected"),
    [
        ({"nominal_v": "12.8", "capacity_ah": "100"}, "12v-100ah"),
        ({"nominal_v": "12.8", "capacity_ah": "5"}, "12v-100ah"),
        ({"nominal_v": "12.8", "capacity_ah": "150"}, "12v-100ah"),
        ({"nominal_v": "12.8", "capacity_ah": "170"}, "12v-200ah"),
        ({"nominal_v": "25.6", "capacity_ah": "40"}, "24v-100ah"),
        ({"nominal_v": "51.2"}, "24v-100ah"),
        ({"capacity_ah": "280"}, "12v-200ah"),
        ({"nominal_v": "12", "capacity_ah": "100", "chemistry": "lead-acid gel"}, "12v-lead-acid"),
        ({}, None),
        ({"nominal_v": "nonsense"}, None),
    ],
)
def test_the_nearest_class_by_what_is_known(catalogue: Catalogue, label: dict[str, str], expected: str | None) -> None:
    assert nearest_class(label, catalogue.classes) == expected


def test_the_newest_bench(catalogue: Catalogue) -> None:
    newest = newest_bench(catalogue)
    assert newest is not None
    assert all(catalogue.benches[newest].since >= bench.since for bench in catalogue.benches.values())


def test_questions_take_what_is_suggested_for_an_empty_answer(catalogue: Catalogue) -> None:
    answers = {
        "Maker": "Pike",
        "Model": "P100",
        "Nominal": "12.8",
        "Rated": "100",
        "How": "bought",
        "Tests": "capacity, build",
    }
    seen: dict[str, str] = {}

    def ask(question: str, suggestion: str) -> str:
        seen[question] = suggestion
        return next((answer for start, answer in answers.items() if question.startswith(start)), suggestion)

    asking = Asking(ask=ask, tell=pytest.fail)
    told = asked(Wanted(maker="", model="", label={}, sample={}), catalogue, (), asking)
    assert (told.unit_id, told.bench, told.kinds) == ("pike-p100", newest_bench(catalogue), ("capacity", "build"))
    assert told.label == {"nominal_v": "12.8", "capacity_ah": "100", "chemistry": "LiFePO4"}
    assert seen["Cell chemistry"] == "LiFePO4"
    assert made(told, catalogue, ()).faults == ()


def test_a_wrong_answer_is_told_and_asked_again_at_once(catalogue: Catalogue) -> None:
    answers = {
        "Maker": ["", "Pike"],
        "Model": ["P\u200b100", "P100"],
        "Nominal": ["many", "12.8"],
        "Rated": ["52000", "100"],
        "Cell": ["magic", ""],
        "Bench": ["pier", ""],
        "How": ["bought"],
        "Tests": ["capacty, build", "capacity, build"],
    }
    told: list[str] = []

    def ask(question: str, suggestion: str) -> str:
        return answers[question.split(maxsplit=1)[0].strip(",")].pop(0) or suggestion

    made_of = asked(Wanted(maker="", model="", label={}, sample={}), catalogue, (), Asking(ask=ask, tell=told.append))
    assert made_of.label == {"nominal_v": "12.8", "capacity_ah": "100", "chemistry": "LiFePO4"}
    assert (made_of.bench, made_of.kinds) == (newest_bench(catalogue), ("capacity", "build"))
    assert not any(answers.values())
    starts = (
        "the maker is empty",
        "the model",
        "'many' cannot be read as a number",
        "52000",
        "'magic' is not one of the words",
        "there is no bench 'pier'",
        "'capacty' is no kind of test",
    )
    assert [line.startswith(start) for line, start in zip(told, starts, strict=True)] == [True] * len(starts), told
    assert made(made_of, catalogue, ()).faults == ()


@pytest.mark.parametrize(
    ("given", "fault"),
    [
        ({"maker": "Tarn", "model": "T90"}, "the id tarn-t90 is taken by tarn-t90.yml"),
        ({"maker": "Pike", "model": "P1", "kinds": ("capacty",)}, "'capacty' is no kind of test"),
        ({"maker": "Pike", "model": "P1", "label": {"nominal_v": "many"}}, "label.nominal_v: 'many' cannot be read"),
    ],
)
def test_what_cannot_be_had_is_said_before_more_is_asked(
    catalogue: Catalogue, given: dict[str, object], fault: str
) -> None:
    taken = (Taken(id="tarn-t90", file="tarn-t90.yml"),)
    asking = Asking(ask=lambda question, _: pytest.fail(question), tell=pytest.fail)
    told = asked(replace(Wanted(maker="", model="", label={}, sample={}), **given), catalogue, taken, asking)  # type: ignore[arg-type]
    assert made(told, catalogue, taken).faults[0].startswith(fault)


def test_every_field_of_label_and_test_has_a_description() -> None:
    models: tuple[type[BaseModel], ...] = (Label, AnyTest, *KINDS.values())
    for model in models:
        assert all(field.description for name, field in model.model_fields.items() if name != "kind")
