"""Texts that would be code somewhere: in HTML, Markdown, a template, a script, XML, a spreadsheet.

What each of them would do is common knowledge of the trade, no source.
"""

from __future__ import annotations

from tests.hostile.every_text import Field

HTML = (
    "<script>hit()</script><img src=x onerror=hit()><svg/onload=hit()>\"onmouseover=hit() 'onfocus=hit() "
    "</title></textarea></style></script><!-- "
)
MARKDOWN = (
    "[a](javascript:hit()) ![b](data:text/html;hit) <javascript:hit()> <https://evil.example/> **c** `d` "
    "{: #e .f onclick=hit() } {#g} [h]: javascript:hit() "
)
TEMPLATE = '{{ 7*7 }} {% include "x" %} {# i #} --8<-- "/etc/passwd" ${j} &lt;k&gt; &#106; ]]> <?l ?> <!-- /block --> '
LINES = "\n\n# m\n\n- n\n\n> o\n\n    p\n\n| q | r |\n|---|---|\n| s | t |\n\n---\n\n<div markdown=1>\n\n*[u]: v\n\n[^w]: x\n"
FORMULA = "=cmd|' /C calc'!A1 "


def mark(of: Field) -> str:
    """A word that tells the field it stands in."""
    return f"zq{''.join(of).replace('_', '').lower()}zq"


def formula_first(of: Field) -> str:
    """Text that a spreadsheet would run."""
    return f"{FORMULA}{mark(of)} {HTML}{MARKDOWN}{TEMPLATE}{LINES}"


def lines_first(of: Field) -> str:
    """Text that is a heading, a list, a block where it starts a line."""
    return f"<script>hit()</script>{LINES}{mark(of)} {TEMPLATE}{MARKDOWN}{HTML}"


def harmless(of: Field) -> str:
    """Words."""
    return f"Plain {mark(of)} words of no harm"


HARMFUL = {"formula first": formula_first, "lines first": lines_first}
