"""What becomes of a page on its way to the site."""

from __future__ import annotations

from site_builder.plugin import without_blanks

CODE = "<pre><code>tests:\n  run:\n\n    kind: capacity\n</code></pre>"


def test_white_space_between_tags_goes() -> None:
    assert without_blanks("<nav>\n\n    <a>\n\t\tx</a>\n  \n</nav>\n") == "<nav>\n<a>\nx</a>\n</nav>\n"


def test_code_keeps_its_indentation_and_its_empty_lines() -> None:
    page = f"<p>\n    a</p>\n\n\n{CODE}\n    <p>b</p>\n  {CODE}"
    assert without_blanks(page) == f"<p>\na</p>\n{CODE}\n<p>b</p>\n{CODE}"
