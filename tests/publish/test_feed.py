"""The feed, read by a feed reader's library, and against RFC 4287's own words."""

from xml.etree import ElementTree as ET

import feedparser
import pytest

from site_builder.build import Site
from tests.conftest import ADDRESS

ATOM = "{http://www.w3.org/2005/Atom}"


@pytest.fixture(scope="module")
def xml(site: Site) -> str:
    text = site.files["feed.xml"]
    assert isinstance(text, str)
    return text


def test_a_reader_finds_every_event_of_units_and_catalogue(xml: str) -> None:
    feed = feedparser.parse(xml)
    assert not feed.bozo
    assert feed.feed.title == "Hollin Water bench"
    titles = {entry.title for entry in feed.entries}
    assert {"Ferngate F90: corrected", "Wendlecote W100: tested again", "Larkstile L200: added"} <= titles
    assert "A bench changed" in titles
    assert any(title.endswith(": died") for title in titles)
    links = {entry.link for entry in feed.entries}
    assert f"{ADDRESS}units/ferngate-f90/" in links
    assert all(link.startswith(ADDRESS) for link in links)


def test_entries_have_what_rfc_4287_requires(xml: str) -> None:
    """RFC 4287: 4.1.1 for a feed, 4.1.2 for an entry, 4.2.6 for identifiers, 3.3 for dates."""
    feed = ET.fromstring(xml)  # noqa: S314  # our own text
    for name in ("id", "title", "updated"):
        assert len(feed.findall(f"{ATOM}{name}")) == 1
    assert feed.find(f"{ATOM}author/{ATOM}name") is not None
    entries = feed.findall(f"{ATOM}entry")
    for entry in entries:
        for name in ("id", "title", "updated"):
            assert len(entry.findall(f"{ATOM}{name}")) == 1
        assert entry.findtext(f"{ATOM}updated", "").endswith("T00:00:00Z")
        assert entry.find(f"{ATOM}link[@rel='alternate']") is not None
    ids = [entry.findtext(f"{ATOM}id") for entry in entries]
    assert len(ids) == len(set(ids))


def test_newest_first(xml: str) -> None:
    dates = [entry.updated for entry in feedparser.parse(xml).entries]
    assert dates == sorted(dates, reverse=True)
