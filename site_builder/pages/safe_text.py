"""Foreign text made harmless for a page: the one place that escapes.

What a function returns is safe to put into a page as it is: `safe` makes text harmless in block HTML, `escaped` in
Markdown as well, `sentence` fills made words with parts, each made safe.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from urllib.parse import urlsplit

from markupsafe import Markup
from markupsafe import escape as html_escape

from site_builder.pages.text import FIXED, THIN

_PUNCTUATION = re.compile(r"[!-/:-@\[-`{-~]")
_BREAKS = re.compile(r"[ \t-\r\x1c-\x1f\x85\u2028\u2029]+")  # but not the spaces that hold a number together
# Control characters, and those that turn the direction of what follows: neither has a place in a name or a note.
_UNPRINTABLE = {"Cc", "Cf", "Co", "Cs", "Zl", "Zp"}


def escaped(text: str) -> Markup:
    """Foreign text for a heading or the front matter: neither Markdown, YAML, HTML nor an attribute list sees markup.

    Every ASCII punctuation character becomes a numeric reference; line breaks and runs of spaces become one space.

    >>> str(escaped("F90 <b>"))
    'F90 &#60;b&#62;'
    """
    return Markup(_PUNCTUATION.sub(lambda m: f"&#{ord(m.group())};", _printable(text)))  # noqa: S704


def safe(value: object) -> Markup:
    """Whatever a template or a sentence is given, for block HTML: markup made here stays, all else becomes text.

    Markdown leaves block HTML alone, so that HTML's own five characters are enough there, and pages stay small.
    """
    if isinstance(value, Markup):  # most of a page, some of it wrapped many times over
        return value
    if isinstance(value, str):
        return _safe_words(value)
    html = getattr(value, "__html__", None)
    return html_escape(_printable(str(value))) if html is None else Markup(html())  # noqa: S704


@lru_cache(maxsize=16_384)
def _safe_words(text: str) -> Markup:
    # A site says the same words on many pages: titles, units, names.
    return html_escape(_printable(text))


def _printable(text: str) -> str:
    if text.isprintable() and "  " not in text:  # nearly always, and found quickly
        return text
    spaced = _BREAKS.sub(" ", text)
    if spaced.replace(THIN, "").replace(FIXED, "").isprintable():  # a number's own spaces count as unprintable
        return spaced
    return "".join(c for c in spaced if c.isprintable() or unicodedata.category(c) not in _UNPRINTABLE)


def sentence(template: str, *parts: object) -> Markup:
    """Fixed words with parts in their {} places, each made safe.

    >>> str(sentence("Held by {}.", "A & B"))
    'Held by A &amp; B.'
    """
    return Markup(template.format(*[safe(part) for part in parts]))  # noqa: S704


def link(url: str, words: str, rel: str = "nofollow noopener") -> Markup:
    """A link to somewhere else, if it is plain https; otherwise its words alone.

    >>> str(link("javascript:alert(1)", "shop"))
    'shop'
    """
    if not is_https(url):
        return safe(words)
    # The address stays readable for whoever follows links without a browser: it has no space, quote or bracket in it.
    return Markup('<a href="{}" rel="{}">{}</a>').format(url, rel, safe(words))


def is_https(url: str) -> bool:
    """Whether the address is https with a host of its own, without a name and password that could pose as one."""
    if not url.isascii() or not url.isprintable() or re.search(r"[\s\\<>\"'`{}|^]", url):
        return False
    try:
        parts = urlsplit(url)
    except ValueError:
        return False
    return parts.scheme == "https" and bool(parts.hostname) and "@" not in parts.netloc
