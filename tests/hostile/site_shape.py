"""What a built site consists of, whatever its words: elements and attributes of pages, keys of data, rows of tables."""

from __future__ import annotations

import csv
import io
import json
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from xml.etree import ElementTree as ET

import html5lib

WORDS = re.compile("zq[a-z]+zq")
XML_NAME = re.compile(r"\{[^}]*\}")
# Attributes that lead somewhere, do something, or are looked for by scripts: the same to the letter.
TELLING = {
    "action", "class", "content", "cite", "data", "for", "form", "formaction", "href", "http-equiv", "id", "name",
    "ping", "poster", "rel", "role", "src", "srcdoc", "srcset", "style", "target", "type", "value",
}  # fmt: skip
Element = tuple[str, tuple[tuple[str, str], ...]]


def elements(html: str) -> Counter[Element]:
    """Every element with its attributes, as a browser makes them of the page; words in an attribute are left out."""
    tree = html5lib.parse(html, namespaceHTMLElements=False)
    # html5lib marks a comment by a function in the place of its tag.
    return Counter(_element(one) for one in tree.iter() if isinstance(one.tag, str))  # type: ignore[redundant-expr]


def _element(one: ET.Element) -> Element:
    return one.tag, tuple(sorted((name, _told(name, value)) for name, value in one.attrib.items()))


def _told(name: str, value: str) -> str:
    if WORDS.search(value):
        return "(words)"
    if value.startswith("../../data/logs/"):
        return "(log)"
    if name == "content" and value.startswith("default-src"):
        return "(policy)"  # holds hashes of what it allows; its parts are compared by `inline`
    return value if name in TELLING else "(value)"


def links(html: str) -> set[str]:
    """Where anything on the page leads to or comes from: its scheme and host."""
    tree = html5lib.parse(html, namespaceHTMLElements=False)
    values = {
        one.attrib[name] for one in tree.iter() for name in ("href", "src", "action", "data") if name in one.attrib
    }
    return {f"{parts.scheme}://{parts.netloc}" for value in values if (parts := urlsplit(value))}  # type: ignore[redundant-expr]


def inline(html: str) -> Iterator[Any]:
    """What stands in the page's own scripts: the shape of data, the text of what runs."""
    tree = html5lib.parse(html, namespaceHTMLElements=False)
    for one in tree.iter("script"):
        if "src" not in one.attrib:
            yield shape(json.loads(one.text or "")) if "json" in one.attrib.get("type", "") else one.text


def visible(html: str) -> str:
    """The page's text, without what stands in scripts, with single spaces."""
    tree = html5lib.parse(html, namespaceHTMLElements=False)
    for script in tree.iter("script"):
        script.text = ""
    return " ".join("".join(tree.itertext()).split())


def shape(data: Any) -> Any:
    """JSON without its words and numbers."""
    if isinstance(data, dict):
        return {key: shape(value) for key, value in data.items()}
    if isinstance(data, list):
        return [shape(one) for one in data]
    return type(data).__name__


def script_data(text: str) -> Any:
    """What a data script assigns; it is one assignment and nothing else."""
    found = re.fullmatch(r"window\.([A-Za-z_][A-Za-z0-9_]*)=(.*);\n", text, re.DOTALL)
    assert found is not None, text[:200]
    return json.loads(found[2])


def xml_shape(text: str) -> list[tuple[str, tuple[str, ...]]]:
    """Elements and attribute names of XML, in their order."""
    return [(XML_NAME.sub("", one.tag), tuple(sorted(one.attrib))) for one in ET.fromstring(text).iter()]  # noqa: S314


def cells(text: str) -> list[list[str]]:
    """A table's cells."""
    return list(csv.reader(io.StringIO(text, newline=""), strict=True))


def pages(site: Path) -> dict[str, str]:
    """Address → HTML of every page."""
    return {path.relative_to(site).as_posix(): path.read_text("utf-8") for path in sorted(site.rglob("*.html"))}
