"""A page's policy names its own inline scripts and style sheets by hash, and nothing else."""

from __future__ import annotations

import pytest

from site_builder.publish.content_policy import content_policy, with_policy

PAGE = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<title>A page</title>
<script>{script}</script>
</head>
<body>{body}</body>
</html>
"""


def directive(policy: str, name: str) -> list[str]:
    return next(part.split()[1:] for part in policy.split("; ") if part.split()[0] == name)


def test_an_inline_script_is_allowed_by_its_hash() -> None:
    policy = content_policy(PAGE.format(script="alert('Hello, world.');", body=""))
    # W3C, Content Security Policy Level 2, 7.17.2 "Hash usage for script elements"
    digest = "qznLcsROx4GACP2dm0UCKCzCG+HiZ1guq6ZZDob/Tng="
    assert directive(policy, "script-src") == ["'self'", f"'sha256-{digest}'"]


def test_data_and_scripts_with_a_source_need_no_hash() -> None:
    body = '<script src="a.js"></script><script type="application/json">{"a": 1}</script>'
    assert directive(content_policy(f"<html>{body}</html>"), "script-src") == ["'self'"]


def test_nothing_unsafe_and_nothing_foreign_is_allowed() -> None:
    policy = content_policy(PAGE.format(script="start()", body=""))
    assert "unsafe" not in policy
    assert "http" not in policy
    assert "*" not in policy
    assert directive(policy, "default-src") == ["'none'"]
    assert directive(policy, "object-src") == ["'none'"]
    assert directive(policy, "worker-src") == ["'self'"]
    assert directive(policy, "base-uri") == ["'none'"]
    assert directive(policy, "form-action") == ["'self'"]
    assert directive(policy, "img-src") == ["'self'", "data:"]


def test_style_attributes_become_rules_of_one_sheet_each_once() -> None:
    body = '<i class="bar" style="--v:1">a</i><i style="--v:2">b</i><i style="--v:1">c</i>'
    html = with_policy(PAGE.format(script="", body=body))
    assert "<style>[data-style='0']{--v:1}[data-style='1']{--v:2}</style>" in html
    assert '<i class="bar" data-style=0>a</i><i data-style=1>b</i><i data-style=0>c</i>' in html
    assert len(directive(content_policy(html), "style-src")) == 2


def test_the_policy_stands_before_everything_that_it_judges() -> None:
    html = with_policy(PAGE.format(script="start()", body='<i style="--v:1">a</i>'))
    assert (
        html.index("charset") < html.index("Content-Security-Policy") < html.index("<style>") < html.index("<script>")
    )
    assert content_policy(html) in html, "the policy in the page is that of the page as it stands"


def test_a_script_that_is_changed_afterwards_is_no_longer_allowed() -> None:
    html = with_policy(PAGE.format(script="start()", body=""))
    assert content_policy(html.replace("start()", "steal()")) not in html


def test_a_page_without_a_place_for_a_policy_is_a_fault_of_the_program() -> None:
    with pytest.raises(ValueError, match="no encoding"):
        with_policy("<html></html>")
