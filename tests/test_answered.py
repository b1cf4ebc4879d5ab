"""Warnings that a file answers with a reason."""

from __future__ import annotations

import re
from pathlib import Path

from site_builder.answered import ANSWERABLE

PACKAGE = Path(__file__).parent.parent / "site_builder"
# Faults of single rows: warnings as long as they are few. The others stand for a log that cannot be read.
OF_ROWS = re.compile(r'"(log-(?:cell|ragged|time|time-[a-z]+|clock-jump))"')


def test_every_warning_can_be_answered_and_nothing_else() -> None:
    """Finding(…, code="…") in the derivations, CODE = "…" beside a check, and the rows of a log."""
    sources = [path.read_text("utf-8") for path in PACKAGE.rglob("*.py")]
    finding = re.compile(r'Finding\([^#]*?code="([a-z-]+)"(?!, severity="error")', re.DOTALL)
    warned = {code for text in sources for code in finding.findall(text)}
    warned |= {code for text in sources for code in re.findall(r'^CODE = "([a-z-]+)"', text, re.MULTILINE)}
    warned |= set(OF_ROWS.findall((PACKAGE / "log_rows.py").read_text("utf-8")))
    # What a change to a file brings is asked about once, when it is looked over: there is nothing to answer in it.
    assert sorted(warned - {"link-changed"}) == list(ANSWERABLE)
