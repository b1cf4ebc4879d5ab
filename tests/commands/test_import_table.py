"""`import-table`: rows become files that say "reported, evidence not kept"; what does not says why, in its cell."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from site_builder.__main__ import main
from site_builder.build import derive_all
from site_builder.commands.import_table import asked_mapping
from site_builder.commands.table_mapping import TableMapping, mapping_text
from site_builder.commands.table_read import read_table
from site_builder.commands.table_rows import iso_date
from site_builder.commands.table_targets import all_targets, target
from site_builder.records import ResultsFile
from site_builder.validate import record
from site_builder.yaml_text import parsed
from tests.small_project import Project, small_project

TABLE = """\
Brand;Model;Label Ah;Measured Ah;Weight (lb);Tested;Notes;Price;Trip A
Pike;P100;100;98,5;24,6;3.5.2021;"quiet; light";300;150
Fairlead;F120;120;about 110;-;4.6.2021;;;
"""
FLAGS = (
    "Brand=unit.maker",
    "Model=unit.model",
    "Label Ah=label.capacity_ah",
    "Measured Ah=capacity.counted_ah",
    "Weight (lb)=build.mass_kg",
    "Tested=capacity.date",
    "Notes=capacity.note",
    "Trip A=overload.points[0].current_a",
)
SET = (
    "label.chemistry=LiFePO4",
    "label.nominal_v=12.8",
    "overload.points[0].held=no",
    "overload.points[0].duration_s=under 60",
)


@pytest.fixture
def project(tmp_path: Path) -> Project:
    return small_project(tmp_path / "project")


def run(project: Project, text: str, *more: str, columns: Sequence[str] = FLAGS, fixed: Sequence[str] = SET) -> int:
    table = project.root / "sheet.csv"
    table.write_text(text, encoding="utf-8")
    flags = [part for one in columns for part in ("--column", one)] + [part for one in fixed for part in ("--set", one)]
    return main(["import-table", str(table), *flags, *more, "--results", str(project.results)])


GERMAN = ("--decimal", ",", "--dates", "dmy")


def test_the_dry_run_writes_nothing_and_says_what_would_become_of_each_row(
    project: Project, capsys: pytest.CaptureFixture[str]
) -> None:
    before = sorted(project.results.iterdir())
    assert run(project, TABLE, *GERMAN) == 0
    assert sorted(project.results.iterdir()) == before
    assert capsys.readouterr().out.splitlines() == [
        "line 2: Pike P100: pike-p100.yml (label, capacity, build, overload)",
        "line 3: Fairlead F120: fairlead-f120.yml (label, capacity)",
        (
            "columns left out, since nothing says what they are: Price; prices go into results/prices.csv, "
            "each with its date and seller"
        ),
        "2 files would be written; give --write to write them",
    ]


def test_what_is_written_holds_the_cells_and_stands_before_check(project: Project) -> None:
    assert run(project, TABLE, *GERMAN, "--write") == 0
    path = project.results / "pike-p100.yml"
    assert main(["check", str(path)]) == 0
    unit = next(one for one in derive_all(project.results, project.catalogue).derived.units if one.id == "pike-p100")
    assert {test.evidence for test in unit.record.tests.values()} == {"reported"}
    metrics = unit.result.metrics
    # A pound is 0.45359237 kg by definition (international yard and pound agreement, 1959).
    assert metrics["mass_kg"].value == pytest.approx(24.6 * 0.45359237)
    assert (metrics["delivered_ah"].value, metrics["delivered_ah"].bound) == (98.5, "at_least")
    assert {one.basis for one in metrics.values()} == {"reported"}
    capacity = unit.record.tests["capacity"]
    assert (str(capacity.date), capacity.note) == ("2021-05-03", "quiet; light Copied from sheet.csv, line 2.")
    point = unit.record.tests["overload"].points[0]  # type: ignore[union-attr]
    assert (point.current_a.best, point.held, point.duration_s.high) == (150, False, 60)


def test_bad_cells_are_named_by_line_and_column_all_at_once(
    project: Project, capsys: pytest.CaptureFixture[str]
) -> None:
    bad = TABLE + "Odd;X1;abc;91;heavy;31.2.2020;;;\nBig;B9;900;890;;;;;\n;Nameless;100;90;;;;;\n"
    assert run(project, bad, *GERMAN, "--write") == 1
    lines = capsys.readouterr().out.splitlines()
    starts = [line.partition(": ")[0] for line in lines if line.startswith("sheet.csv")]
    assert starts == ["sheet.csv:4:3", "sheet.csv:4:6", "sheet.csv:4:5", "sheet.csv:5:0", "sheet.csv:6:1"]
    assert "sheet.csv:4:5: Weight (lb): 'heavy' cannot be read as a number" in "\n".join(lines)
    assert "sheet.csv:5:0: label: 12.8 V, 900 Ah, LiFePO4 is in no class" in "\n".join(lines)
    assert "line 4: Odd X1: left out, 3 faults above" in lines
    # Rows without a fault are written all the same, and only those.
    assert lines[-1] == "2 files written"
    assert {path.name for path in project.results.glob("*.yml")} == {
        "tarn-t90.yml",
        "pike-p100.yml",
        "fairlead-f120.yml",
    }


def test_it_never_overwrites_and_a_second_run_says_so(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    path = project.results / "pike-p100.yml"
    path.write_text("mine", encoding="utf-8")
    assert run(project, TABLE, *GERMAN, "--write") == 0
    assert path.read_text(encoding="utf-8") == "mine"
    out = capsys.readouterr().out
    assert "line 2: Pike P100: left out, pike-p100.yml is there already" in out
    assert "1 file written" in out
    assert run(project, TABLE, *GERMAN, "--write") == 0
    assert "0 files written" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("Pike;P100;100;97;;;;;", "the id pike-p100 is taken by line 2 of the table"),
        ("Pike;P1OO;100;97;;;;;", "the id pike-p1oo looks like pike-p100 of line 2 of the table"),
        ("Tarn;T9O;90;88;;;;;", "the id tarn-t9o looks like tarn-t90 of tarn-t90.yml"),
        ("\u0420ike;P7;100;97;;;;;", "mixes letters of Cyrillic and Latin"),
    ],
)
def test_ids_that_clash(project: Project, row: str, words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(project, f"{TABLE}{row}\n", *GERMAN) == 1
    assert words in capsys.readouterr().out


@pytest.mark.parametrize(
    ("columns", "fixed", "words"),
    [
        (("Brnd=unit.maker",), (), "there is no column 'Brnd'; there are Brand, Model"),
        (("Brand=unit.makre",), (), "Brand: 'unit.makre' is no place in a results file; did you mean unit.maker"),
        (("Brand=unit.maker", "Model=unit.maker"), (), "Model: unit.maker is filled by 'Brand' already"),
        (("Label Ah=label.capacity_ah lb",), (), "Label Ah: 'lb' does not measure the same as Ah"),
        (("Brand=unit.maker kg",), (), "Brand: unit.maker takes no unit"),
        (("Brand=capacity.evidence",), (), "'capacity.evidence' is no place"),
        (
            FLAGS,
            ("label.chemistri=x",),
            "'label.chemistri' is no place in a results file; did you mean label.chemistry",
        ),
        (
            FLAGS[:4],
            (),
            "label: chemistry is missing; say which column it is, or what holds for all rows: label.chemistry",
        ),
        (FLAGS[:4], SET[:2], "'98,5' cannot be read as a number"),
        (FLAGS, SET, 'where decimals have a comma, say decimal: ","'),
    ],
)
def test_faults_of_the_mapping(
    project: Project, columns: Sequence[str], fixed: Sequence[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(project, TABLE, columns=columns, fixed=fixed) == 1
    assert words in capsys.readouterr().out


COLUMNS = ("Brand=unit.maker", "Model=unit.model", "Wh=capacity.counted_wh")
FIXED = ("label.chemistry=LiFePO4", "label.nominal_v=12.8", "label.capacity_ah=100")


@pytest.mark.parametrize(
    ("cell", "flags", "counted_wh"),
    [
        ("1.280", ("--decimal", ","), 1280),
        ("1.280,5", ("--decimal", ","), 1280.5),
        ("about 1.280", ("--decimal", ","), 1280),
        ("1280,5", ("--decimal", ","), 1280.5),
        ("1280", ("--decimal", ","), 1280),
        ("1280.5", (), 1280.5),
    ],
)
def test_a_point_stands_between_thousands_where_decimals_have_a_comma(
    project: Project, cell: str, flags: tuple[str, ...], counted_wh: float
) -> None:
    assert run(project, f"Brand;Model;Wh\nPike;P100;{cell}\n", *flags, "--write", columns=COLUMNS, fixed=FIXED) == 0
    made, _ = record(ResultsFile, parsed((project.results / "pike-p100.yml").read_bytes(), "p.yml"))
    assert made is not None
    assert made.tests["capacity"].counted_wh.best == counted_wh  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("cell", "flags", "words"),
    [
        ("1280.5", ("--decimal", ","), "'1280.5' has a point, where decimals have a comma; write 1280,5, or leave"),
        ("1,280.5", ("--decimal", ","), "'1,280.5' has a point, where decimals have a comma; "),
        ("0.500", ("--decimal", ","), "'0.500' has a point, where decimals have a comma; write 0,500, or leave"),
        ("1,000", (), "write 1000 if that is what it says, or 1.000: a point before decimals and nothing between"),
        ("1,000", (), 'where decimals have a comma, 1,000 being 1, say decimal: ","'),
    ],
)
def test_a_sign_that_may_be_either_is_named_in_its_cell(
    project: Project, capsys: pytest.CaptureFixture[str], cell: str, flags: tuple[str, ...], words: str
) -> None:
    assert run(project, f"Brand;Model;Wh\nPike;P100;{cell}\n", *flags, columns=COLUMNS, fixed=FIXED) == 1
    line = capsys.readouterr().out.splitlines()[0]
    assert line.startswith("sheet.csv:2:3: Wh: ")
    assert words in line


def test_whole_numbers_with_a_point_are_thousands_or_named(
    project: Project, capsys: pytest.CaptureFixture[str]
) -> None:
    whole = next(
        name
        for name in all_targets()
        if (to := target(name))
        and not isinstance(to, str)
        and to.holds(int)
        and to.number is None
        and not to.holds(bool)
        and name.startswith("label.")
    )
    columns = (*COLUMNS[:2], f"N={whole}")
    assert (
        run(project, "Brand;Model;N\nPike;P100;4.000\n", "--decimal", ",", "--write", columns=columns, fixed=FIXED) == 0
    )
    assert "4000" in (project.results / "pike-p100.yml").read_text(encoding="utf-8")
    assert run(project, "Brand;Model;N\nPike;P200;4.000\n", columns=columns, fixed=FIXED) == 1
    assert "'4.000' is a whole number with a point; write 4000 without it" in capsys.readouterr().out


def test_without_a_mapping_the_headings_suggest_one(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(project, TABLE, columns=(), fixed=()) == 2
    printed = capsys.readouterr()
    assert "--mapping FILE.yml" in printed.err
    (project.root / "map.yml").write_text(printed.out, encoding="utf-8")
    more = ("--mapping", str(project.root / "map.yml"), *GERMAN)
    assert run(project, TABLE, *more, columns=(), fixed=SET) == 0


@pytest.mark.parametrize(
    ("flags", "words"),
    [
        (("--column", "Brand"), "--column 'Brand' is no pair"),
        (("--mapping", "nowhere.yml"), "nowhere.yml"),
        (("--results", "nowhere"), "there is no folder nowhere"),
    ],
)
def test_wrong_usage(project: Project, flags: tuple[str, ...], words: str, capsys: pytest.CaptureFixture[str]) -> None:
    table = project.root / "sheet.csv"
    table.write_text(TABLE, encoding="utf-8")
    assert main(["import-table", str(table), "--results", str(project.results), *flags]) == 2
    assert words in capsys.readouterr().err


def test_a_missing_table_is_wrong_usage(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["import-table", "nothing.csv", "--results", str(project.results)]) == 2
    assert "nothing.csv: No such file" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"", "the table is empty"),
        (b"\n\n", "the table is empty"),
        (b"\x00\x01\x02" * 50, "this is no CSV text"),
        (b"A,A\n1,2\n", "the heading 'a' stands here twice"),
        (b"x" * 1_100_000, "the file is over 1 MB"),
        (b",".join(b"h%d" % i for i in range(400)) + b"\n", "there are over 300 columns"),
        (b'A,B\n"open\n', "no CSV"),
    ],
)
def test_what_is_no_table(project: Project, raw: bytes, words: str, capsys: pytest.CaptureFixture[str]) -> None:
    table = project.root / "sheet.csv"
    table.write_bytes(raw)
    code = main(["import-table", str(table), "--column", "A=unit.maker", "--results", str(project.results)])
    out = capsys.readouterr().out
    assert code == 1
    assert words in out or words == "no CSV"


@pytest.mark.parametrize(
    ("encoding", "separator"), [("utf-8-sig", ","), ("utf-16", ";"), ("windows-1252", ";"), ("utf-8", "\t")]
)
def test_the_ways_a_spreadsheet_saves(tmp_path: Path, encoding: str, separator: str) -> None:
    path = tmp_path / "t.csv"
    path.write_bytes(f"Märke{separator}Größe\r\n\r\na{separator}1\r\nb{separator}\r\n".encode(encoding))
    table, problems = read_table(path)
    assert problems == []
    assert table is not None
    assert table.headings == ("Märke", "Größe")
    assert [(row.line, row.cells) for row in table.rows] == [(3, ("a", "1")), (4, ("b", ""))]


@pytest.mark.parametrize("first", ["sep=;", "SEP=;", '"sep=;"', "sep=;;"])
def test_the_separator_that_a_spreadsheet_writes_above_is_no_heading(tmp_path: Path, first: str) -> None:
    path = tmp_path / "t.csv"
    path.write_bytes(f"{first}\r\na,b;c\r\n1;2\r\n1;2;3\r\n".encode())
    table, problems = read_table(path)
    assert table is not None
    assert (table.headings, table.heading_line) == (("a,b", "c"), 2)
    assert [(row.line, row.cells) for row in table.rows] == [(3, ("1", "2"))]
    assert [one.line for one in problems] == [4]


def test_a_row_that_is_too_wide_is_named_and_left_out(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("a,b\n1,2\n1,2,3\n1,2,\n", encoding="utf-8")
    table, problems = read_table(path)
    assert table is not None
    assert [row.line for row in table.rows] == [2, 4]
    assert [str(one) for one in problems] == [
        "t.csv:3:1: the row has 3 cells, the headings are 2; put text with a separator in quotes"
    ]


@pytest.mark.parametrize("name", all_targets())
def test_every_place_can_be_named(name: str) -> None:
    assert not isinstance(target(name), str)


@pytest.mark.parametrize(
    ("cell", "order", "expected"),
    [("2021-05-03", "dmy", "2021-05-03"), ("03/05/2021", "mdy", "2021-03-05"), ("May", "dmy", "May"), ("", "ymd", "")],
)
def test_dates(cell: str, order: str, expected: str) -> None:
    assert iso_date(cell, order) == expected  # type: ignore[arg-type]


def test_questions_on_a_terminal(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text(TABLE, encoding="utf-8")
    table, _ = read_table(path)
    assert table is not None
    told: list[str] = []
    wrong = iter(["capacity.chrage", "-"])

    def ask(question: str, suggestion: str) -> str:
        if question.startswith("Price"):
            return next(wrong)
        return {"label.chemistry of every row": "LiFePO4", "label.nominal_v of every row": "12.8"}.get(
            question, suggestion
        )

    mapping = asked_mapping(table, TableMapping(), ask, told.append)
    assert mapping.columns["Weight (lb)"] == "build.mass_kg"
    assert "Price" not in mapping.columns
    assert mapping.set == {"label.chemistry": "LiFePO4", "label.nominal_v": "12.8"}
    assert len(told) == 1
    # What is printed to keep is the same mapping again.
    assert record(TableMapping, parsed(mapping_text(mapping).encode(), "m.yml"))[0] == mapping


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(rows=st.lists(st.lists(st.text(max_size=12), min_size=1, max_size=10), max_size=4))
def test_no_cell_makes_it_fail(project: Project, rows: list[list[str]], capsys: pytest.CaptureFixture[str]) -> None:
    text = TABLE + "".join(";".join(row) + "\n" for row in rows)
    table = project.root / "sheet.csv"
    table.write_bytes(text.encode("utf-8", errors="surrogatepass"))
    flags = [part for one in FLAGS for part in ("--column", one)]
    assert main(["import-table", str(table), *flags, "--results", str(project.results)]) in {0, 1}
    capsys.readouterr()
