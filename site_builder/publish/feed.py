"""The catalogue's news as an Atom feed: results added, corrected, tested again, disputed, and batteries that died.

Source:
    RFC 4287, The Atom Syndication Format; identifiers are tag URIs by RFC 4151, since they must never change.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from urllib.parse import urlsplit
from xml.etree import ElementTree as ET

from site_builder.derived import Derived
from site_builder.pages.history_words import CHANGES, HISTORY
from site_builder.pages.words import name_of

ATOM = "http://www.w3.org/2005/Atom"
NEWEST = 100  # entries; whoever comes later reads the page of changes
LICENCE = "Results: CC BY 4.0"


@dataclass(frozen=True, slots=True)
class News:
    """One entry: what happened, where it stands, in which words; `key` names it for good among those of its date."""

    date: dt.date
    key: str
    title: str
    address: str
    words: str


def feed_xml(derived: Derived) -> str:
    """The feed as XML text."""
    site = derived.published
    news = sorted(_news(derived), key=lambda one: (one.date, one.key), reverse=True)[:NEWEST]
    feed = ET.Element("feed", xmlns=ATOM)
    _text(feed, "title", site.name)
    _text(feed, "id", site.address)
    _text(feed, "updated", _moment(news[0].date if news else derived.as_of))
    _text(ET.SubElement(feed, "author"), "name", site.name)
    _text(feed, "rights", LICENCE)
    ET.SubElement(feed, "link", rel="self", type="application/atom+xml", href=f"{site.address}feed.xml")
    ET.SubElement(feed, "link", rel="alternate", type="text/html", href=f"{site.address}changes/")
    for one in news:
        feed.append(_entry(one, urlsplit(site.address).hostname or "bench.example"))
    ET.indent(feed, " ")
    return f'<?xml version="1.0" encoding="utf-8"?>\n{ET.tostring(feed, encoding="unicode")}\n'


def _entry(one: News, host: str) -> ET.Element:
    entry = ET.Element("entry")
    _text(entry, "id", f"tag:{host},{one.date.isoformat()}:{one.key}")
    _text(entry, "title", one.title)
    _text(entry, "updated", _moment(one.date))
    ET.SubElement(entry, "link", rel="alternate", type="text/html", href=one.address)
    _text(entry, "summary", one.words)
    return entry


def _text(parent: ET.Element, name: str, text: str) -> None:
    # XML has no place for control characters, not even as references.
    ET.SubElement(parent, name).text = "".join(c if c.isprintable() else " " for c in text)


def _moment(date: dt.date) -> str:
    return f"{date.isoformat()}T00:00:00Z"


def _news(derived: Derived) -> Iterator[News]:
    for unit in derived.units:
        seen: Counter[str] = Counter()
        for entry in unit.record.history:
            key = f"{unit.id}/{entry.date.isoformat()}/{entry.what}"
            seen[key] += 1
            yield News(
                entry.date,
                f"{unit.id}/{entry.what}" + (f"/{seen[key]}" if seen[key] > 1 else ""),
                f"{name_of(unit.record)}: {HISTORY[entry.what].lower()}",
                derived.address_of(unit.id),
                entry.note,
            )
    of_date: Counter[dt.date] = Counter()
    for change in derived.catalogue.changes:
        of_date[change.date] += 1
        address = f"{derived.published.address}changes/"
        title = f"{CHANGES[change.what]} changed"
        yield News(change.date, f"changes/{of_date[change.date]}", title, address, change.note)
