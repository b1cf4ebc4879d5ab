"""Where `check --against REV` asks for an entry of history or of changes, and where it stays silent."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.git_project import CHANGES, HISTORY, against_main, commit_all, git_project
from tests.small_project import BENCHES, LOADS, UNIT, Project, log_text
from tests.test_standing import GRADING

ADDED = "what: added, note: First results.}\n"


@pytest.fixture
def project(tmp_path: Path) -> Project:
    return git_project(tmp_path / "project")


def history(project: Project, entry: str) -> None:
    """A further line of history."""
    project.change(ADDED, f"{ADDED}  - {{date: 2026-06-02, {entry}}}\n")


# --- one's own evidence -----------------------------------------------------------------------------------------------


def test_nothing_changed(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    assert against_main(project, capsys) == (0, [])


def test_a_changed_reading_asks_for_history_and_names_what_moves(
    project: Project, capsys: pytest.CaptureFixture[str]
) -> None:
    """17 A instead of 18 A for 5 h: 85 Ah, and 17 · 5 · 13 = 1105 Wh."""
    project.log(log_text(current_a=17))
    code, lines = against_main(project, capsys)
    assert code == 1
    assert lines[0] == (
        "results/tarn-t90.yml:14:3: history: tests.run.log changed since main, and no new entry of history tells it: "
        "delivered_ah 90 ± 1.1 Ah → 85 ± 1 Ah; delivered_wh 1170 ± 14 Wh → 1105 ± 13 Wh; "
        "share_of_rated 100 ± 1.2 % → 94.4 ± 1.1 %; mean_current_a 18 ± 0.21 A → 17 ± 0.2 A; 5 more; "
        "add to history: {date: …, what: corrected, tests: [run], note: …}"
    )
    assert lines[1] == "tarn-t90: since main: delivered_ah 90 ± 1.1 Ah → 85 ± 1 Ah"
    assert "tarn-t90: since main: price_per_kwh 427.3 ± 5.1 EUR/kWh → 452.5 ± 5.4 EUR/kWh" in lines


def test_with_its_entry_it_is_told(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    project.log(log_text(current_a=17))
    history(project, "what: corrected, tests: [run], note: The shunt was scaled wrongly.")
    code, lines = against_main(project, capsys)
    assert code == 0
    assert all(line.startswith("tarn-t90: since main: ") for line in lines)


def test_an_entry_about_another_test_does_not_tell_it(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    project.change("tests:\n", "tests:\n  unboxing: {kind: build, mass_kg: 10.4}\n")
    commit_all(project.root)
    project.log(log_text(current_a=17))
    history(project, "what: corrected, tests: [unboxing], note: Weighed anew.")
    code, lines = against_main(project, capsys)
    assert code == 1
    assert lines[0].endswith("add to history: {date: …, what: corrected, tests: [run], note: …}")


def test_a_new_test_asks_for_one_that_says_tested_again(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    project.change("tests:\n", "tests:\n  again: {kind: capacity, counted_ah: 88, ended_by: bms, date: 2026-06-01}\n")
    code, lines = against_main(project, capsys)
    assert code == 1
    assert "history: tests.again changed since main" in lines[0]
    assert lines[0].endswith("add to history: {date: …, what: retested, tests: [again], note: …}")


def test_evidence_that_moves_no_published_number_is_told_too(
    project: Project, capsys: pytest.CaptureFixture[str]
) -> None:
    project.change("ended_by: bms", "ended_by: bms\n    before: {rest_h: 2}")
    code, lines = against_main(project, capsys)
    assert code == 1
    assert "tests.run.before.rest_h changed since main" in lines[0]
    assert "; no published number moves; " in lines[0]


def test_a_number_of_another_test_than_the_units_first_is_named(
    project: Project, capsys: pytest.CaptureFixture[str]
) -> None:
    night = "tests:\n  night: {kind: capacity, counted_ah: 88, ended_by: bms, date: 2026-05-02}\n"
    project.change("tests:\n", night)
    commit_all(project.root)
    project.change("counted_ah: 88", "counted_ah: 87")
    code, lines = against_main(project, capsys)
    assert code == 1
    assert "tells it: night: delivered_ah 88 ± " in lines[0]
    assert "no published number moves" not in lines[0]
    assert lines[1].startswith("tarn-t90: since main: night: delivered_ah 88 ± ")
    assert " Ah → 87 ± " in lines[1]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("model: T90", "model: T 90"),
        ("ended_by: bms", "ended_by: bms\n    note: a calm day"),
        ("battery_c: 22", 'battery_c: "22 °C"'),
        ("obtained: bought", "obtained: bought, keeps: the club"),
    ],
)
def test_what_is_no_evidence_asks_for_nothing(
    project: Project, capsys: pytest.CaptureFixture[str], old: str, new: str
) -> None:
    project.change(old, new)
    assert against_main(project, capsys) == (0, [])


def test_a_price_asks_for_nothing_and_what_it_moves_is_named(
    project: Project, capsys: pytest.CaptureFixture[str]
) -> None:
    """550 € for 1.17 kWh are 470 € a kWh."""
    with (project.results / "prices.csv").open("a", encoding="utf-8") as prices:
        prices.write("2026-06-01,tarn-t90,550,EUR,listed,a chandlery\n")
    code, lines = against_main(project, capsys)
    assert code == 0
    assert lines == ["tarn-t90: since main: price_per_kwh 427.3 ± 5.1 EUR/kWh → 470.1 ± 5.6 EUR/kWh"]


def test_a_unit_that_is_not_published_yet_asks_for_nothing(
    project: Project, capsys: pytest.CaptureFixture[str]
) -> None:
    project.unit(UNIT.replace("tarn-t90", "alder-a90").replace("T90", "T90, status: testing"), "alder-a90.yml")
    project.log(log_text(), unit="alder-a90")
    commit_all(project.root)
    project.log(log_text(current_a=17), unit="alder-a90")
    assert against_main(project, capsys) == (0, [])


def test_a_unit_published_for_the_first_time_is_reminded_of_the_page_of_changes(
    project: Project, capsys: pytest.CaptureFixture[str]
) -> None:
    project.unit(UNIT.replace("tarn-t90", "alder-a90"), "alder-a90.yml")
    project.log(log_text(), unit="alder-a90")
    assert against_main(project, capsys) == (
        0,
        [
            (
                "results/alder-a90.yml:1:7: warning: unit: results are published for the first time, and the page of "
                "changes "
                "does not say so; add to history: {date: …, what: added, note: …}"
            )
        ],
    )
    project.unit(UNIT.replace("tarn-t90", "alder-a90") + HISTORY, "alder-a90.yml")
    assert against_main(project, capsys) == (0, [])


def test_a_renamed_unit_is_the_same_unit(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    text = (project.results / "tarn-t90.yml").read_text(encoding="utf-8")
    (project.results / "tarn-t90.yml").unlink()
    (project.results / "prices.csv").write_text("date,unit,amount,currency,kind,seller\n", encoding="utf-8")
    renamed = text.replace("id: tarn-t90", "id: tarn-t92, former_ids: [tarn-t90]").replace(
        "ended_by: bms", "ended_by: tester"
    )
    project.unit(renamed, "tarn-t92.yml")
    project.log(log_text(), unit="tarn-t92")
    code, lines = against_main(project, capsys)
    assert code == 1
    assert lines[0].startswith("results/tarn-t92.yml:14:3: history: tests.run.ended_by changed since main")


def test_a_published_unit_does_not_vanish(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    (project.results / "tarn-t90.yml").unlink()
    (project.results / "prices.csv").unlink()
    code, lines = against_main(project, capsys)
    assert code == 1
    assert lines == [
        (
            "results/tarn-t90.yml:0:0: a published unit is gone, and links to its page with it; keep the file "
            "with status: "
            "withdrawn and a reason, or name its id among another's former_ids"
        )
    ]


@pytest.mark.parametrize("status", ["planned", "testing", "embargoed"])
def test_nor_do_its_results(project: Project, capsys: pytest.CaptureFixture[str], status: str) -> None:
    project.change("model: T90", f"model: T90, status: {status}")
    code, lines = against_main(project, capsys)
    assert code == 1
    assert lines == [
        (
            f"results/tarn-t90.yml:1:7: unit: a published unit is {status} now, and its results are gone; write "
            "status: "
            "withdrawn and a reason"
        )
    ]


def test_one_that_cannot_be_read_is_not_gone(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    project.unit("unit: [\n")
    _, lines = against_main(project, capsys)
    assert [line for line in lines if "gone" in line] == []


# --- what was told stays ----------------------------------------------------------------------------------------------

GONE = (
    "results/tarn-t90.yml:14:3: history: entries that were published are gone or altered since main: "
    "added of 2026-05-30; put each back as it was; what is wrong in one, say in a new entry"
)


@pytest.mark.parametrize("old", ["added", "2026-05-30"])
def test_a_published_entry_is_not_altered(project: Project, capsys: pytest.CaptureFixture[str], old: str) -> None:
    project.change(HISTORY, HISTORY.replace(old, {"added": "corrected", "2026-05-30": "2026-06-01"}[old]))
    assert against_main(project, capsys) == (1, [GONE])


def test_nor_deleted_be_it_for_another(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    text = (project.results / "tarn-t90.yml").read_text(encoding="utf-8")
    project.unit(text.replace(HISTORY, ""))
    code, lines = against_main(project, capsys)
    assert (code, len(lines)) == (1, 1)
    assert lines[0].startswith("results/tarn-t90.yml:1:7: unit: entries that were published are gone")
    project.log(log_text(current_a=17))
    entry = "history:\n  - {date: 2026-06-02, what: corrected, tests: [run], note: The shunt was scaled wrongly.}\n"
    project.unit(text.replace(HISTORY, entry))
    code, lines = against_main(project, capsys)
    assert (code, lines[0]) == (1, GONE)
    assert all(": since main: " in line for line in lines[1:])


def test_a_slip_of_the_pen_is_mended_and_tells_nothing(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    project.change("First results.", "The first results.")
    said = (
        "results/tarn-t90.yml:14:3: warning: history: the words of published entries changed since main: "
        "added of 2026-05-30; fine for a slip of the pen; such an entry tells nothing new"
    )
    assert against_main(project, capsys) == (0, [said])
    project.log(log_text(current_a=17))
    code, lines = against_main(project, capsys)
    assert code == 1
    assert "no new entry of history tells it" in lines[0]
    assert lines[1] == said


def test_the_same_entry_once_more_is_new_once(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    project.log(log_text(current_a=17))
    project.change(HISTORY, HISTORY + HISTORY.partition("\n")[2])
    assert against_main(project, capsys)[0] == 0
    commit_all(project.root)
    project.log(log_text(current_a=16))
    assert against_main(project, capsys)[0] == 1


def test_a_renamed_test_is_renamed_in_its_history(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    project.change("what: added", "what: added, tests: [run]")
    commit_all(project.root)
    project.change("  run:\n", "  whole:\n")
    project.change("tests: [run]", "tests: [whole]")
    _, lines = against_main(project, capsys)
    assert [line for line in lines if "published are gone" in line] == []


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        (None, "entries that were published are gone or altered since main: load of 2026-05-20; put each"),
        (
            "- {date: 2026-06-02, what: code, note: Charge across gaps.}\n",
            "entries that were published are gone or altered since main: load of 2026-05-20; put each",
        ),
        (
            CHANGES.replace("load,", "load, units: [tarn-t90],"),
            "entries that were published are gone or altered since main: load of 2026-05-20; put each",
        ),
        (
            CHANGES.replace("weighed", "weighed anew"),
            "warning: the words of published entries changed since main: load of 2026-05-20; fine",
        ),
    ],
)
def test_what_was_told_once_for_all_stays_too(
    project: Project, capsys: pytest.CaptureFixture[str], changes: str | None, says: str
) -> None:
    path = project.catalogue / "changes.yml"
    path.unlink() if changes is None else path.write_text(changes, encoding="utf-8")
    code, (line,) = against_main(project, capsys)
    assert code == (0 if "warning" in says else 1)
    assert line.startswith(f"catalogue/changes.yml:0:0: {says}")


def test_an_entry_that_is_reworded_tells_no_bench(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    bench = project.catalogue / "instruments.yml"
    bench.write_text(BENCHES.replace('current, of_reading: "0.5 %"', 'current, of_reading: "1 %"'), encoding="utf-8")
    (project.catalogue / "changes.yml").write_text(CHANGES.replace("weighed", "weighed anew"), encoding="utf-8")
    code, lines = against_main(project, capsys)
    assert code == 1
    assert any("numbers move although the units' own evidence did not" in line for line in lines)


def test_a_unit_that_is_renamed_is_renamed_in_changes_too(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    changes = CHANGES.replace("load,", "load, units: [tarn-t90],")
    (project.catalogue / "changes.yml").write_text(changes, encoding="utf-8")
    commit_all(project.root)
    text = (project.results / "tarn-t90.yml").read_text(encoding="utf-8")
    (project.results / "tarn-t90.yml").unlink()
    (project.results / "prices.csv").unlink()
    project.unit(text.replace("id: tarn-t90", "id: tarn-t92, former_ids: [tarn-t90]"), "tarn-t92.yml")
    project.log(log_text(), unit="tarn-t92")
    (project.catalogue / "changes.yml").write_text(changes.replace("tarn-t90", "tarn-t92"), encoding="utf-8")
    _, lines = against_main(project, capsys)
    assert [line for line in lines if "published are gone" in line] == []


# --- what many share --------------------------------------------------------------------------------------------------


def two_units(project: Project) -> None:
    project.unit(UNIT.replace("tarn-t90", "alder-a90") + HISTORY, "alder-a90.yml")
    project.log(log_text(), unit="alder-a90")
    commit_all(project.root)


def test_a_bench_asks_for_one_entry_in_all(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    """A shunt of 1 % instead of 0.5 %: U of 90 Ah grows from 1.1 to 1.4 Ah."""
    two_units(project)
    bench = project.catalogue / "instruments.yml"
    bench.write_text(BENCHES.replace('current, of_reading: "0.5 %"', 'current, of_reading: "1 %"'), encoding="utf-8")
    code, lines = against_main(project, capsys)
    assert code == 1
    problems = [line for line in lines if ": since main: " not in line]
    assert problems == [
        (
            "catalogue/changes.yml:0:0: numbers move although the units' own evidence did not (instruments.yml): "
            "alder-a90 delivered_ah 90 ± 1.1 Ah → 90 ± 1.4 Ah; tarn-t90 delivered_ah 90 ± 1.1 Ah → 90 ± 1.4 Ah; "
            "add one "
            "entry for all: {date: …, what: bench, grading, method, load or code, note: …}"
        )
    ]


@pytest.mark.parametrize(
    ("entry", "told"),
    [
        ("what: bench, bench: quay, note: The shunt was checked.", True),
        ("what: bench, note: The shunt was checked.", True),
        ("what: bench, units: [tarn-t90, alder-a90], note: The shunt was checked.", True),
        ("what: bench, units: [tarn-t90], note: The shunt was checked.", False),
    ],
)
def test_an_entry_tells_it_for_those_that_it_touches(
    project: Project, capsys: pytest.CaptureFixture[str], entry: str, told: bool
) -> None:
    two_units(project)
    bench = project.catalogue / "instruments.yml"
    bench.write_text(BENCHES.replace('current, of_reading: "0.5 %"', 'current, of_reading: "1 %"'), encoding="utf-8")
    changes = f"{CHANGES}- {{date: 2026-06-02, {entry}}}\n"
    (project.catalogue / "changes.yml").write_text(changes, encoding="utf-8")
    code, lines = against_main(project, capsys)
    assert code == (0 if told else 1)
    assert [("alder-a90" in line, "tarn-t90 " in line) for line in lines if "own evidence" in line] == (
        [] if told else [(True, False)]
    )


def test_a_bench_that_moves_no_number_asks_for_nothing(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    bench = project.catalogue / "instruments.yml"
    bench.write_text(BENCHES + BENCHES.replace("quay:\n", "pier:\n"), encoding="utf-8")
    (project.catalogue / "loads.yml").write_text(LOADS + "fridge: {title: Fridge, running_w: 45}\n", encoding="utf-8")
    code, lines = against_main(project, capsys)
    assert code == 0
    assert [line.partition(" → ")[0] for line in lines] == ["tarn-t90: since main: hours:fridge not known"]


def test_a_grading_moves_scores_alone(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    (project.catalogue / "grading.yml").write_text(GRADING, encoding="utf-8")
    commit_all(project.root)
    (project.catalogue / "grading.yml").write_text(GRADING.replace("at: 1.0", "at: 1.25"), encoding="utf-8")
    code, lines = against_main(project, capsys)
    assert code == 1
    assert lines[0].startswith(
        "catalogue/changes.yml:0:0: numbers move although the units' own evidence did not (grading.yml): "
        "tarn-t90 score "
    )
    assert [line.split()[3] for line in lines[1:]] == ["score"]


def test_evidence_and_bench_at_once_are_told_by_the_units_own_entry(
    project: Project, capsys: pytest.CaptureFixture[str]
) -> None:
    bench = project.catalogue / "instruments.yml"
    bench.write_text(BENCHES.replace('current, of_reading: "0.5 %"', 'current, of_reading: "1 %"'), encoding="utf-8")
    project.log(log_text(current_a=17))
    history(project, "what: corrected, note: The shunt was scaled wrongly.")
    assert against_main(project, capsys)[0] == 0
