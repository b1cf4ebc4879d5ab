"""From a video to its batteries, and the text that stands under it."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from site_builder.build import Site
from site_builder.pages.video_words import at_second
from site_builder.records import Video

TEXT = {
    "short": "Text for under a video: one sentence",
    "middle": "Text for under a video: two sentences and figures",
    "long": "Text for under a video: with every test&#39;s second",
}


def video(url: str, parameter: str | None = None) -> Video:
    return Video(url=url, title="A night in the drying room", date=dt.date(2026, 5, 1), start_parameter=parameter)


@pytest.mark.parametrize(
    ("url", "parameter", "address"),
    [
        # W3C, Media Fragments URI 1.0, 4.2.1: a temporal fragment in seconds
        ("https://example.org/v/1.webm", None, "https://example.org/v/1.webm#t=888"),
        ("https://example.org/v/1.webm#chapters", None, "https://example.org/v/1.webm#t=888"),
        ("https://example.org/v/1", "t", "https://example.org/v/1?t=888"),
        ("https://example.org/watch?v=1", "start", "https://example.org/watch?v=1&start=888"),
    ],
)
def test_a_link_opens_the_video_at_the_second(url: str, parameter: str | None, address: str) -> None:
    assert at_second(video(url, parameter), 888) == address
    assert at_second(video(url, parameter), None) == url


@given(st.integers(0, 86_400))
def test_the_rest_of_the_address_stays(second: int) -> None:
    assert at_second(video("https://example.org/a/b?c=d#e"), second) == f"https://example.org/a/b?c=d#t={second}"


def text_of(demo_site: Site, unit: str, length: str) -> str:
    part = demo_site.pages[f"units/{unit}.md"].split(f"<summary>{TEXT[length]}</summary>")[1]
    return part.split("<pre data-copy>")[1].split("</pre>")[0]


@pytest.mark.parametrize("length", ["short", "middle", "long"])
def test_every_length_says_what_it_did_where_it_stands_and_how_it_was_obtained(demo_site: Site, length: str) -> None:
    text = text_of(demo_site, "ferngate-f90", length)
    assert text.startswith("Ferngate F90: Ran the bilge pumps for between 2.75 and 4.25 h")
    assert "https://bench.hollinwater.example/units/ferngate-f90/" in text
    assert "Bought from a chandlery" in text


@pytest.mark.parametrize("length", ["short", "middle", "long"])
def test_who_earns_from_a_link_is_said_as_long_as_the_offer_holds(demo_site: Site, length: str) -> None:
    assert "earns" in text_of(demo_site, "otterfold-of200", length)
    assert "earns" not in text_of(demo_site, "ferngate-f90", length)  # its offer ended before the catalogue's date


def test_figures_carry_their_uncertainty(demo_site: Site) -> None:
    middle = text_of(demo_site, "ferngate-f90", "middle")
    assert "Delivered: 1 181 ± 10 Wh (label 1 152 Wh)" in middle
    assert "Score of 100: 92" in middle


def test_the_long_text_has_each_tests_second_in_order_and_what_was_corrected_since(demo_site: Site) -> None:
    text = text_of(demo_site, "ferngate-f90", "long")
    assert "3:05 boathouse capacity\n6:20 ice bath\n10:02 galley\n14:48 table saw" in text
    assert "2 July 2026: Corrected. The hob ran alone for the last two minutes" in text


def test_the_page_of_videos_leads_to_units_seconds_and_corrections(demo_site: Site) -> None:
    page = demo_site.pages["videos.md"]
    assert 'href="https://example.org/v/ferngate-f90?t=888"' in page
    assert 'href="../units/ferngate-f90/#test-table-saw">table saw</a>' in page
    assert "Corrected since this video. The hob ran alone" in page
