"""What the search finds: a line a battery, load, class and other page. Words only; no metric is worked out here.

Numbers, tables and charts stay out: whoever looks for a number has the table.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from html import unescape

from markupsafe import Markup

from site_builder.bench_tests import LoadRun
from site_builder.catalogue_records import Load
from site_builder.derived import Derived, DerivedUnit
from site_builder.measured import exact
from site_builder.pages.evidence_section import boxes
from site_builder.pages.history_words import HISTORY
from site_builder.pages.load_words import load_tests, short_title
from site_builder.pages.text import counted, quantity
from site_builder.pages.unit_page import answer_marked_up
from site_builder.pages.words import STATUS, name_of, plain

# Plain text, or pieces of it: text, and (what is held, its words) for each quantity that the switch of units changes.
Answer = str | list[str | tuple[str, str]]
Entry = tuple[str, str, Answer, str]  # address, title, answer, features: what search.js reads

ALSO_CALLED = {"LiFePO4": "LiFePO4, LFP, lithium iron phosphate"}
TITLE = re.compile(r"^# (.+)$", re.MULTILINE)
HEADING = re.compile(r"^## (.+?)(?: *\{.*\})?$", re.MULTILINE)
LEAD = re.compile(r'<p class="lead">(.*?)</p>', re.DOTALL)
HELD = re.compile(r'<data value="?([^">]*)"?>(.*?)</data>', re.DOTALL)
KEPT = re.compile("\x02([^\x03]*)\x03([^\x02]*)\x02")  # no page holds these characters
MARKUP = re.compile(r"<[^>]*>|\]\([^)]*\)|[*`\[\]]")


def search_entries(derived: Derived, pages: Mapping[str, str]) -> list[Entry]:
    """Everything that can be found, batteries first.

    Args:
        derived: The catalogue.
        pages: Every page's Markdown by its place among the Markdown files ("methods/cold.md").
    """
    made = [*_units(derived), *_loads(derived.catalogue.loads), *_classes(derived)]
    known = {address for address, *_ in made}
    return [*made, *(entry for entry in _others(pages) if entry[0] not in known)]


def _units(derived: Derived) -> Iterator[Entry]:
    for unit in sorted(derived.units, key=lambda one: name_of(one.record)):
        features = "; ".join(_features(unit, derived))
        yield f"units/{unit.id}/", name_of(unit.record), _pieces(answer_marked_up(unit, derived), plain), features


def _features(unit: DerivedUnit, derived: Derived) -> Iterator[str]:
    """What somebody might ask for, as phrases."""
    label, loads = unit.record.label, derived.catalogue.loads
    volts, charge = quantity(exact(label.nominal_v.best, "V")), quantity(exact(label.capacity_ah.best, "Ah"))
    chemistry = ALSO_CALLED.get(label.chemistry, label.chemistry)
    yield f"{volts}, {charge}, {chemistry}"
    if unit.result.class_id:
        yield derived.catalogue.classes[unit.result.class_id].title
    if label.heater:
        yield "heats itself, self-heating, has a heater"
    if label.app:
        yield "has a phone app"
    if label.ingress:
        yield label.ingress
    yield STATUS.get(unit.record.unit.status, unit.record.unit.status)
    yield from dict.fromkeys(HISTORY[entry.what].lower() for entry in unit.record.history if entry.what != "added")
    if any(box.word == "Safety" for box in boxes(unit)):
        yield "safety finding"
    yield from _with_loads(unit, loads)


def _with_loads(unit: DerivedUnit, loads: Mapping[str, Load]) -> Iterator[str]:
    """The loads it ran, those that stopped it, and those it starts, seen or projected."""
    ran, stopped = set[str](), set[str]()
    for test in load_tests(unit).values():
        group = stopped if isinstance(test, LoadRun) and test.outcome != "ran" else ran
        group.update(test.load or ())
    starts = {name for name, one in unit.result.loads.items() if one.start == "starts"}
    for words, names in (("ran", ran), ("tripped or did not start", stopped), ("starts, seen or projected", starts)):
        if names:
            yield f"{words}: {_titles(names, loads)}"


def _titles(names: Iterable[str], loads: Mapping[str, Load]) -> str:
    return ", ".join(sorted(short_title(name, loads).lower() for name in names))


def _loads(loads: Mapping[str, Load]) -> Iterator[Entry]:
    for name, load in loads.items():
        yield f"loads/{name}/", load.title, "Which batteries ran it, which tripped, and for how long each runs it.", ""


def _classes(derived: Derived) -> Iterator[Entry]:
    for name, one in derived.catalogue.classes.items():
        if units := derived.of_class(name):
            yield f"classes/{name}/", one.title, counted(len(units), "battery", "batteries").capitalize() + ".", ""


def _others(pages: Mapping[str, str]) -> Iterator[Entry]:
    """All other pages by title, first sentence and headings."""
    for uri, text in sorted(pages.items()):
        if title := TITLE.search(text):
            lead = LEAD.search(text)
            headings = "; ".join(_plain(heading) for heading in HEADING.findall(text))
            yield _address(uri), _plain(title[1]), _pieces(lead[1], _plain) if lead else "", headings


def _pieces(words: str, to_plain: Callable[[Markup], str]) -> Answer:
    """Without markup, since a browser sets none of it as HTML; what the switch changes stays apart."""
    marked = HELD.sub("\x02\\1\x03\\2\x02", str(words))
    text, *rest = KEPT.split(to_plain(Markup(marked)))  # noqa: S704  # its markup is taken away
    if not rest:
        return text
    pieces: list[str | tuple[str, str]] = [text]
    for value, shown, after in zip(rest[::3], rest[1::3], rest[2::3], strict=True):
        pieces += [(value, shown), after]
    return [piece for piece in pieces if piece]


def _address(uri: str) -> str:
    """Where mkdocs puts a page: "methods/cold.md" at "methods/cold/", "methods/index.md" at "methods/"."""
    folder = uri.removesuffix(".md")
    return "" if folder == "index" else folder.removesuffix("/index") + "/"


def _plain(markdown: str) -> str:
    """The words of a line of our own Markdown."""
    return " ".join(unescape(MARKUP.sub("", markdown)).split())
