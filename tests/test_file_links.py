"""Links that a folder without a server can follow."""

from __future__ import annotations

import pytest

from site_builder.publish.file_links import file_address, with_file_links


@pytest.mark.parametrize(
    ("address", "named"),
    [
        (".", "./index.html"),
        ("./", "./index.html"),
        ("..", "../index.html"),
        ("../..", "../../index.html"),
        ("../../loads/", "../../loads/index.html"),
        ("../../classes/12v-100ah/#standing", "../../classes/12v-100ah/index.html#standing"),
        ("compare/?a=x&amp;b=y#c", "compare/index.html?a=x&amp;b=y#c"),
        ("..#units", "../index.html#units"),
    ],
)
def test_a_folder_gets_its_file(address: str, named: str) -> None:
    assert file_address(address) == named


@pytest.mark.parametrize(
    "address",
    [
        "#runs",
        "",
        "?words=fern",
        "../assets/site.js",
        "../data/units.csv",
        "https://example.org/",
        "mailto:a@example.org",
    ],
)
def test_all_else_stays(address: str) -> None:
    assert file_address(address) == address


def test_links_and_forms_in_a_page_are_found_with_quotes_and_without() -> None:
    html = '<a class=x href=../>a</a> <form action="compare/"> <link rel="icon" href="../mark.svg"> href="not/a/tag/"'
    assert with_file_links(html) == (
        '<a class=x href="../index.html">a</a> <form action="compare/index.html"> '
        '<link rel="icon" href="../mark.svg"> href="not/a/tag/"'
    )
