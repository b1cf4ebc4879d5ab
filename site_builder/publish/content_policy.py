"""What a page may load and run: its Content-Security-Policy, worked out from the page as it will be written.

No list of allowed scripts is kept by hand: a page's own inline scripts and style sheets are allowed by their hashes,
and whatever else somebody smuggles into it is not.

Source:
    W3C, Content Security Policy Level 3.
"""

from __future__ import annotations

import hashlib
import re
from base64 import b64encode

# Scripts with a source are judged by where they come from; those with a type of their own are data and never run.
INLINE_SCRIPT = re.compile(r"<script>(.*?)</script>", re.DOTALL)
INLINE_SHEET = re.compile(r"<style>(.*?)</style>", re.DOTALL)
STYLED = re.compile(r' style="([^"<>]*)"(?=[^<>]*>)')  # begins with letters, which are found without trying each tag
CHARSET = re.compile(r'<meta charset="?utf-8"?>')
# "base-uri" and "form-action" do not fall back on "default-src"; the header alone can say "frame-ancestors". Not every
# browser takes "script-src" for workers (bench sheets have one).
POLICY = (
    "default-src 'none'; script-src 'self'{scripts}; style-src 'self'{sheets}; img-src 'self' data:; "
    "worker-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'"
)


def with_policy(html: str) -> str:
    """The page with its policy as the second element of its head, before anything that it judges.

    Style attributes become a style sheet of the page's own, since a policy allows one by its hash, and attributes only
    all together.

    Raises:
        ValueError: The page does not open with its encoding, so that there is no place for a policy.
    """
    html, rules = _without_style_attributes(html)
    found = CHARSET.search(html)
    if found is None:
        raise ValueError("the page names no encoding")
    sheet = f"<style>{rules}</style>" if rules else ""
    policy = content_policy(sheet + html)
    tag = f'<meta http-equiv="Content-Security-Policy" content="{policy}">'
    return f"{html[: found.end()]}\n{tag}{sheet}{html[found.end() :]}"


def content_policy(html: str) -> str:
    """The policy of one page: its own origin, and the inline scripts and style sheets that stand in it now."""
    scripts, sheets = _hashes(INLINE_SCRIPT, html), _hashes(INLINE_SHEET, html)
    return POLICY.format(scripts=scripts, sheets=sheets)


def _hashes(element: re.Pattern[str], html: str) -> str:
    """Hash sources for what stands between the tags, each once, each after a space."""
    texts = dict.fromkeys(element.findall(html))
    digests = [b64encode(hashlib.sha256(text.encode()).digest()).decode() for text in texts]
    return "".join(f" 'sha256-{digest}'" for digest in digests)


def _without_style_attributes(html: str) -> tuple[str, str]:
    """The page with a number for each different style attribute, and the rules of those numbers."""
    numbers: dict[str, int] = {}

    def numbered(found: re.Match[str]) -> str:
        return f" data-style={numbers.setdefault(found[1], len(numbers))}"

    html = STYLED.sub(numbered, html)
    return html, "".join(f"[data-style='{number}']{{{style}}}" for style, number in numbers.items())
