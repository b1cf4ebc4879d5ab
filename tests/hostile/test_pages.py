"""Whatever stands in a text field, pages and files are made of the same parts: only their words differ."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any
from urllib.parse import unquote
from xml.etree import ElementTree as ET

import html5lib
import pytest

from site_builder.build import derive_all
from site_builder.catalogue_records import Price
from site_builder.publish.pictures import picture_svg
from site_builder.records import ResultsFile
from tests.hostile.every_text import NOT_FREE, text_fields
from tests.hostile.project import CATALOGUE
from tests.hostile.site_shape import cells, elements, inline, links, pages, script_data, shape, visible, xml_shape
from tests.hostile.words import HARMFUL, mark

KINDS = pytest.mark.parametrize("kind", HARMFUL)
FIELDS = {of for model in (ResultsFile, Price, *CATALOGUE.values()) for of in text_fields(model)} - set(NOT_FREE)


def schema_texts(schema: dict[str, Any]) -> set[str]:
    """The keys of the published schema that take any text."""
    found = set()
    for record in (schema, *schema["$defs"].values()):
        for key, one in record.get("properties", {}).items():
            choices = [one, *one.get("anyOf", ()), one.get("items", {})]
            if any(this.get("type") == "string" and "maxLength" in this and "pattern" not in this for this in choices):
                found.add(key)
    return found


def test_the_walk_meets_every_text_that_the_schema_allows() -> None:
    schema = schema_texts(ResultsFile.model_json_schema(by_alias=True))
    assert {key for _, key in text_fields(ResultsFile)} == schema
    assert len(schema) >= 20


@KINDS
def test_pages_have_the_same_elements_attributes_and_links(
    kind: str, harmless_site: Path, harmful_sites: dict[str, Path]
) -> None:
    harmless, harmful = pages(harmless_site), pages(harmful_sites[kind])
    assert harmful.keys() == harmless.keys()
    for address, html in harmful.items():
        made, known = elements(html), elements(harmless[address])
        assert (made - known, known - made) == ({}, {}), address
        assert links(html) == links(harmless[address]), address
        assert list(inline(html)) == list(inline(harmless[address])), address


@KINDS
def test_words_are_shown_to_the_letter_and_none_is_lost(kind: str, harmful_sites: dict[str, Path]) -> None:
    """What a template or Markdown had understood would read otherwise."""
    whole = {mark(of): " ".join(HARMFUL[kind](of).split()) for of in FIELDS}
    seen = set()
    for address, html in pages(harmful_sites[kind]).items():
        text = visible(html)
        for found in re.finditer(r"zq[a-z]+zq", text):
            expected = whole[found[0]]
            start = found.start() - expected.index(found[0])
            told = text[start : start + len(expected)]
            assert told.casefold() == expected.casefold() or "…" in told, address
            seen.add(found[0])
    assert seen == {mark(of) for of in FIELDS}


@KINDS
def test_the_link_of_a_log_leads_to_it_whatever_its_name(kind: str, harmful_sites: dict[str, Path]) -> None:
    page = harmful_sites[kind] / "units" / "nettle-95" / "index.html"
    tree = html5lib.parse(page.read_text("utf-8"), namespaceHTMLElements=False)
    addresses = [one.attrib["href"] for one in tree.iter("a") if "data/logs/" in one.attrib.get("href", "")]
    assert any("onerror" in one for one in addresses)
    assert all((page.parent / unquote(one)).is_file() for one in addresses)


@KINDS
def test_nothing_around_the_site_is_touched(kind: str, harmful_sites: dict[str, Path]) -> None:
    """But for the pictures that are kept beside mkdocs.yml."""
    around = harmful_sites[kind].parents[1]
    changed = (around / "changed.txt").read_text("utf-8").splitlines()
    assert [path for path in changed if not path.startswith("project/.cache/bench-pictures/")] == []
    assert (around / "out" / "sentinel").read_text("utf-8") == "stays"


@KINDS
def test_scripts_hold_data_and_nothing_that_ends_them(
    kind: str, harmless_site: Path, harmful_sites: dict[str, Path]
) -> None:
    checked = 0
    for path in sorted(harmless_site.rglob("*.js")):
        address = path.relative_to(harmless_site)
        text, known = (harmful_sites[kind] / address).read_text("utf-8"), path.read_text("utf-8")
        if text != known:
            checked += 1
            assert shape(script_data(text)) == shape(script_data(known)), address
            assert not re.search(r"</|<!--|[\u2028\u2029]", text, re.IGNORECASE), address
    assert checked >= 8


@KINDS
def test_json_has_the_same_keys(kind: str, harmless_site: Path, harmful_sites: dict[str, Path]) -> None:
    for address in ("data/units.json", "data/datapackage.json"):
        told, known = (json.loads((site / address).read_text("utf-8")) for site in (harmful_sites[kind], harmless_site))
        assert shape(told) == shape(known)


@KINDS
def test_xml_has_the_same_elements(kind: str, harmless_site: Path, harmful_sites: dict[str, Path]) -> None:
    harmful = harmful_sites[kind]
    for path in (harmless_site / "feed.xml", harmless_site / "sitemap.xml", *harmless_site.rglob("*.svg")):
        text = (harmful / path.relative_to(harmless_site)).read_text("utf-8")
        assert xml_shape(text) == xml_shape(path.read_text("utf-8")), path
    entries = ET.parse(harmful / "feed.xml").getroot()  # noqa: S314
    assert any("<script>hit()</script>" in "".join(one.itertext()) for one in entries)


@KINDS
def test_tables_have_the_same_cells_and_no_formula(
    kind: str, harmless_site: Path, harmful_sites: dict[str, Path]
) -> None:
    tables = sorted(harmless_site.rglob("*.csv"))
    assert {"units.csv", "tests.csv"} < {path.name for path in tables}
    assert any("logs-as-used" in path.parts for path in tables)
    for path in tables:
        rows = cells((harmful_sites[kind] / path.relative_to(harmless_site)).read_text("utf-8"))
        assert [len(row) for row in rows] == [len(row) for row in cells(path.read_text("utf-8"))], path
        assert not [cell for row in rows for cell in row if is_formula(cell)], path


def is_formula(cell: str) -> bool:
    """Whether a spreadsheet would run it. A negative number is none.

    Source:
        OWASP, CSV Injection: cells that begin with one of = + - @, a tab or a carriage return.
    """
    try:
        float(cell)
    except ValueError:
        return cell.startswith(("=", "+", "-", "@", "\t", "\r"))
    return False


@KINDS
def test_the_picture_of_a_link_is_the_same_drawing(
    kind: str, harmless_site: Path, harmful_sites: dict[str, Path]
) -> None:
    harmful, harmless = (drawing(site.parents[1] / "project") for site in (harmful_sites[kind], harmless_site))
    assert any("hit()" in one for one in harmful)
    assert [xml_shape(one) for one in harmful] == [xml_shape(one) for one in harmless]


def drawing(project: Path) -> list[str]:
    """The pictures as SVG, without the lines of the answer: long words make fewer of them."""
    derived = derive_all(project / "results", project / "catalogue").derived
    return [re.sub(r'<text [^>]*font-size="40">.*?</text>', "", picture_svg(unit, derived)) for unit in derived.units]
