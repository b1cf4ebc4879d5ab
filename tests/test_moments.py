"""Dates, times of day and places in a video, as testers write them."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from site_builder.moments import Moment, parsed_date, parsed_moment, parsed_video_second
from site_builder.values import GrammarError

DAY = dt.date(2026, 5, 20)


@pytest.mark.parametrize(
    ("text", "date", "earliest_s", "latest_s"),
    [
        pytest.param("18:40", None, 67_200, 67_200, id="a time of day"),
        pytest.param("9:05", None, 32_700, 32_700, id="one digit of hours"),
        pytest.param("18:40:30", None, 67_230, 67_230, id="with seconds"),
        pytest.param("00:00", None, 0, 0, id="midnight"),
        pytest.param("22:10 to 23:40", None, 79_800, 85_200, id="nobody saw it"),
        pytest.param("22:10 to 01:40", None, 79_800, 92_400, id="over midnight"),
        pytest.param("2026-05-20", DAY, None, None, id="a day"),
        pytest.param("2026-05-20 18:40", DAY, 67_200, 67_200, id="a day and a time"),
        pytest.param("2026-05-20 22:10 to 01:40", DAY, 79_800, 92_400, id="a night"),
    ],
)
def test_moments(text: str, date: dt.date | None, earliest_s: int | None, latest_s: int | None) -> None:
    assert parsed_moment(text) == Moment(date, earliest_s, latest_s, text)


@pytest.mark.parametrize(
    "raw",
    [
        "",
        "soon",
        "24:00",
        "18:60",
        "18.40",
        "18:4",
        "6:40 pm",
        "22:10 to",
        "to 22:10",
        "22:10 to 23:40 to 23:50",
        "22:10-23:40",
        "2026-05-20T18:40",
        "20.05.2026",
        "2026-13-01",
        "2026-02-30 18:40",
        "١٨:٤٠",
        "18:40" + " " * 100,
        67_200,
        18.4,
        None,
        True,
    ],
)
def test_what_is_no_moment(raw: Any) -> None:
    with pytest.raises(GrammarError) as refused:
        parsed_moment(raw)
    assert refused.value.code in {"time-form", "date-form"}
    assert refused.value.hint


def test_a_moment_stays_one() -> None:
    moment = parsed_moment("18:40")
    assert parsed_moment(moment) is moment


@pytest.mark.parametrize("raw", ["2026-2-3", "2026-02-30", "20260203", "2026-02-03 ", "3 Feb 2026", 2026, None, True])
def test_what_is_no_date(raw: Any) -> None:
    with pytest.raises(GrammarError) as refused:
        parsed_date(raw)
    assert refused.value.code == "date-form"


def test_a_date() -> None:
    assert parsed_date("2026-05-20") == parsed_date(DAY) == DAY
    assert parsed_date("2024-02-29") == dt.date(2024, 2, 29)


@pytest.mark.parametrize(
    ("raw", "second"), [("8:31", 511), ("0:00", 0), ("90:00", 5400), ("1:08:31", 4111), (511, 511), ("00:07", 7)]
)
def test_places_in_a_video(raw: Any, second: int) -> None:
    assert parsed_video_second(raw) == second


@pytest.mark.parametrize("raw", ["8.31", "8:3", "8:60", ":31", "8:31:5", "-1:00", -1, 8.5, True, None, "8m31s"])
def test_what_is_no_place_in_a_video(raw: Any) -> None:
    with pytest.raises(GrammarError) as refused:
        parsed_video_second(raw)
    assert refused.value.code == "video-time-form"
