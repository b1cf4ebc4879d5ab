"""Every address that a change brings, alters or takes away is shouted."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.git_project import against_main, commit_all, git_project
from tests.small_project import Project


@pytest.fixture
def project(tmp_path: Path) -> Project:
    return git_project(tmp_path / "project")


def test_an_offer_that_changes_is_shouted(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    project.change("tests:\n", 'offers: [{url: "https://shop.example/t90", code: LAKE5, pays: tester}]\ntests:\n')
    commit_all(project.root)
    project.change("https://shop.example/t90", "https://sh0p.example/t90")
    assert against_main(project, capsys) == (
        0,
        [
            (
                "results/tarn-t90.yml:6:10: warning: offers[0]: offer https://sh0p.example/t90, code LAKE5, pays "
                "tester, "
                "where there was offer https://shop.example/t90, code LAKE5, pays tester; open it, and see whether "
                "it leads "
                "where it says"
            )
        ],
    )


@pytest.mark.parametrize(
    ("new", "words"),
    [
        (
            "code: LAKE9, pays: tester",
            "code LAKE9, pays tester, where there was offer https://shop.example/t90, code LAKE5",
        ),
        (
            "code: LAKE5, pays: nobody",
            "code LAKE5, pays nobody, where there was offer https://shop.example/t90, code LAKE5",
        ),
        ("code: LAKE5, pays: tester, until: 2026-09-01", "code LAKE5, until 2026-09-01, pays tester, where there was"),
    ],
)
def test_whatever_changes_of_it(project: Project, capsys: pytest.CaptureFixture[str], new: str, words: str) -> None:
    offers = 'offers: [{url: "https://shop.example/t90", code: LAKE5, pays: tester}]\n'
    project.change("tests:\n", f"{offers}tests:\n")
    commit_all(project.root)
    project.change("code: LAKE5, pays: tester", new)
    ((line,), code) = against_main(project, capsys)[::-1]
    assert code == 0
    assert words in line


def test_new_and_gone_addresses(project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    project.change("tests:\n", 'videos: {one: {url: "https://v.example/1", title: One, date: 2026-05-20}}\ntests:\n')
    found = [line.split(": ", 3)[3] for line in against_main(project, capsys)[1]]
    assert found == ["video https://v.example/1, which is new; open it, and see whether it leads where it says"]
    commit_all(project.root)
    project.change('videos: {one: {url: "https://v.example/1", title: One, date: 2026-05-20}}\n', "")
    found = [line.split(": ", 3)[3] for line in against_main(project, capsys)[1]]
    assert found == ["video https://v.example/1 is gone; see whether that was meant"]


def test_links_of_hand_written_pages_and_of_the_site_itself(
    project: Project, capsys: pytest.CaptureFixture[str]
) -> None:
    page = project.catalogue / "pages/about.md"
    page.write_text(page.read_text(encoding="utf-8").replace("law.example/rule", "law.example/rules"), encoding="utf-8")
    (project.root / "mkdocs.yml").write_text("site_url: https://bench.example.net/\n", encoding="utf-8")
    assert [line.partition("; ")[0] for line in against_main(project, capsys)[1]] == [
        "catalogue/pages/about.md:0:0: warning: https://law.example/rule is gone",
        "catalogue/pages/about.md:3:1: warning: https://law.example/rules is new",
        "mkdocs.yml:0:0: warning: https://bench.example/ is gone",
        "mkdocs.yml:1:1: warning: https://bench.example.net/ is new",
    ]
