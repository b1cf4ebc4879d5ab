"""Nonsense of every kind ends in a record or in problems, soon, and never in an exception; no page takes it for code.

With FULL=1 these are 105 000 cases, and 2 800 files with a test of every kind that are allowed and extreme; what they
found stands in DEVELOPERS.md, and each find has its own test.
"""

from __future__ import annotations

import datetime as dt
import json
import math
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from random import Random

import html5lib
import markdown
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from markupsafe import Markup

from site_builder.build import Checked, derive_all
from site_builder.fields import _https, _names
from site_builder.frames import frames_of
from site_builder.load import read_unit
from site_builder.logs import read_log
from site_builder.moments import parsed_date, parsed_moment, parsed_video_second
from site_builder.pages import render_pages
from site_builder.pages.safe_text import escaped, safe
from site_builder.problems import Problem
from site_builder.publish.browser_data import data_script
from site_builder.publish.chooser_files import chooser_files
from site_builder.publish.compare_files import compare_files
from site_builder.publish.data import render_data_files, units_json
from site_builder.publish.files import render_files
from site_builder.sound_part import sound_part
from site_builder.values import GrammarError, In, Stated, stated
from site_builder.yaml_text import parsed, written
from tests.conftest import FULL, ROOT
from tests.hostile.cases import ODD, WRITTEN, changed_files, in_time, log_formats, logs, torn_texts
from tests.hostile.extremes import catalogue_for_all, log, unit
from tests.hostile.site_shape import script_data, visible
from tests.small_project import Project


def cases(reduced: int, stated_count: int) -> settings:
    """How many are tried."""
    slow = [HealthCheck.too_slow, HealthCheck.function_scoped_fixture, HealthCheck.data_too_large]
    return settings(max_examples=stated_count if FULL else reduced, suppress_health_check=slow)


FIELDS = [
    In("A", -3000, 3000),
    In("1", 0, 1),
    In("", 0, 1e9),
    In("°C", -60, 150),
    In("s", 0, 4e7),
    In("Ah", 0.001, 2000),
]


@cases(300, 30_000)
@given(ODD, st.sampled_from(FIELDS))
def test_values(raw: object, field: In) -> None:
    with in_time():
        try:
            value = stated(raw, field)
        except GrammarError as error:
            assert error.message
            assert error.hint
            return
    assert isinstance(value, Stated)
    assert math.isfinite(value.best)
    assert value.low <= value.best <= value.high
    assert value.step >= 0


@cases(200, 20_000)
@given(ODD)
def test_dates_times_links_and_names(raw: object) -> None:
    for parse, kind in (
        (parsed_date, dt.date),
        (parsed_moment, object),
        (parsed_video_second, int),
        (_https, str),
        (_names, tuple),
    ):
        with in_time():
            try:
                assert isinstance(parse(raw), kind)
            except GrammarError as error:
                assert error.hint


def sound(problems: list[Problem], file: str) -> None:
    """Each on one line, with a way out, in its file."""
    for problem in problems:
        assert problem.hint
        assert problem.file == file
        assert str(problem).isprintable()


@cases(100, 15_000)
@given(raw=torn_texts())
def test_torn_results_files(raw: bytes, tmp_path: Path) -> None:
    path = tmp_path / "torn.yml"
    path.write_bytes(raw)
    with in_time():
        made, document, problems = read_unit(path, tmp_path)
        part = sound_part(document, "torn") if made is None else None
    sound(problems, "torn.yml")
    assert (made is None) == bool(problems)
    assert part is None or part[0].unit is not None


DATA: st.SearchStrategy[object] = st.deferred(
    lambda: ODD | st.lists(DATA, max_size=3) | st.dictionaries(WRITTEN, DATA, max_size=3)
)


@cases(100, 10_000)
@given(DATA)
def test_what_is_written_reads_back(data: object) -> None:
    """Data that was read is read as the same again once this program has written it."""
    read = parsed(written(data).encode("utf-8", "surrogatepass"), "x.yml")
    if not read.problems:
        again = parsed(written(read.data).encode(), "x.yml")
        assert (again.problems, again.data) == ((), read.data)


@cases(100, 20_000)
@given(log=logs(), form=log_formats())
def test_logs(log: tuple[str, bytes], form: object, tmp_path: Path) -> None:
    name, raw = log
    path = tmp_path / name
    path.write_bytes(raw)
    with in_time():
        read, faults = read_log(path, form)  # type: ignore[arg-type]  # drawn as one
    sound([fault.problem(name) for fault in faults], name)
    assert read is not None or faults
    if read is not None:
        assert (read.time_s[1:] > read.time_s[:-1]).all()
        assert len(read.time_s) == len(read.line) >= 2


MARKDOWN = markdown.Markdown(extensions=["attr_list", "md_in_html", "tables", "toc"])


@cases(100, 8_000)
@given(st.text(max_size=200) | WRITTEN)
def test_words_on_a_page(text: str) -> None:
    """As a heading and in a paragraph: one element, and the same words."""
    shown = visible(f"<p>{safe(text)}</p>") or "a"
    text = text if shown != "a" else "a"
    for page in (
        f"# {escaped(text)} {{#a}}\n",
        f'<p class="lead">{safe(text)}</p>\n',
        f'<p title="{safe(text)}">{safe(text)}</p>\n',
    ):
        html = MARKDOWN.reset().convert(page)
        tree = html5lib.parseFragment(html, namespaceHTMLElements=False)
        assert [one.tag for one in tree.iter()][1:] == (["h1"] if page.startswith("#") else ["p"]), html
        assert {name for one in tree.iter() for name in one.attrib} <= {"id", "class", "title"}
        assert " ".join("".join(tree.itertext()).split()) == shown
    assert safe(Markup("<b>")) == "<b>"


@cases(100, 7_000)
@given(st.text(max_size=200) | WRITTEN)
def test_words_in_a_script(text: str) -> None:
    made = data_script("held", {"text": text})
    assert script_data(made) == {"text": text}
    assert "</" not in made
    assert "<!--" not in made


NO_NUMBER = re.compile(r"\b(?:nan|NaN|inf|None)\b(?! of them)")


@pytest.fixture(scope="module")
def project(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's catalogue and one results file."""
    root = tmp_path_factory.mktemp("fuzzed")
    shutil.copytree(ROOT / "catalogue", root / "catalogue", ignore=shutil.ignore_patterns("pages", "theme"))
    (root / "results" / "logs").mkdir(parents=True)
    shutil.copytree(ROOT / "results" / "logs" / "ferngate-f90", root / "results" / "logs" / "ferngate-f90")
    return root


@cases(30, 3_000)
@given(data=changed_files())
def test_changed_results_files_as_far_as_their_pages(data: dict[str, object], project: Path) -> None:
    path = project / "results" / "ferngate-f90.yml"
    text = written(data)
    path.write_text(text, encoding="utf-8", errors="surrogatepass")
    with in_time():
        checked = derive_all(project / "results", project / "catalogue")
    assert all(problem.hint and str(problem).isprintable() for problem in checked.problems)
    if any(problem.severity == "error" for problem in checked.problems):
        return
    with in_time():
        pages = render_pages(checked.derived, frames_of(checked.derived))
    json.loads(units_json(checked.derived))
    if not NO_NUMBER.search(text):
        assert [one for page in pages.values() for one in NO_NUMBER.findall(visible(page))] == []


# --- what is allowed, and extreme --------------------------------------------------------------------------------------
@pytest.fixture(scope="module")
def everything(tmp_path_factory: pytest.TempPathFactory) -> Project:
    """A project in which any label has a class and any column of a log is read."""
    return catalogue_for_all(tmp_path_factory.mktemp("extreme") / "project")


def derived(chance: Random, project: Project) -> Checked:
    """What comes of a file with a test of every kind; tests with an error are found, and taken away."""
    data = unit(chance)
    for name in data["tests"]:
        project.log(log(chance), f"{name}.csv")
    while True:
        project.unit(written(data))
        with in_time():
            checked = derive_all(project.results, project.catalogue)
        assert all(problem.hint and str(problem).isprintable() for problem in checked.problems)
        errors = [problem for problem in checked.problems if problem.severity == "error"]
        if not errors:
            return checked
        for name in {problem.field.split(".")[1] for problem in errors}:
            assert data["tests"].pop(name)
            if name == "capacity":
                data["tests"].get("charge", {}).pop("after", None)


@pytest.mark.filterwarnings("error")
def test_extreme_tests_as_far_as_their_pages(everything: Project, count: Callable[[int, int], int]) -> None:
    """Numbers at the ends of their ranges, by hand and in logs: a problem, or a page without a number that is none."""
    for seed in range(count(15, 2_500)):
        checked = derived(Random(seed), everything)
        frames = frames_of(checked.derived)
        pages = render_pages(checked.derived, frames)
        render_data_files(checked.derived, frames)
        compare_files(checked.derived)
        chooser_files(checked.derived)
        assert NO_NUMBER.findall(visible(pages["units/tarn-t90.md"])) == [], seed


def test_extreme_tests_as_far_as_every_file(
    everything: Project, count: Callable[[int, int], int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same for all files, pictures too; the drawing library, which is alike for all, is left out."""
    monkeypatch.setattr("site_builder.publish.files.chart_script", str)
    for seed in range(count(3, 300)):
        checked = derived(Random(f"files {seed}"), everything)
        frames = frames_of(checked.derived)
        pages = render_pages(checked.derived, frames)
        assert render_files(checked.derived, frames, pages, everything.catalogue / "pages", None)
