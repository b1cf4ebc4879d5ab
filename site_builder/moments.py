"""Dates, times of day and places in a video as a tester writes them; never YAML's own guesses at them."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass

from site_builder.values import MAX_TEXT, GrammarError, shown

_TIME = re.compile(r"([01]?[0-9]|2[0-3]):([0-5][0-9])(?::([0-5][0-9]))?", re.ASCII)
_VIDEO = re.compile(r"(?:([0-9]{1,2}):(?=[0-5]?[0-9]:))?([0-9]{1,3}):([0-5][0-9])", re.ASCII)
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.ASCII)


@dataclass(frozen=True, slots=True)
class Moment:
    """When something happened: a date, a time of day in the bench's zone, or both; a range where nobody saw it.

    `earliest_s` and `latest_s` are seconds after midnight (a range over midnight ends above 86 400), None for a date
    alone.
    """

    date: dt.date | None
    earliest_s: int | None
    latest_s: int | None
    text: str

    def on(self, day: dt.date | None) -> Moment:
        """The moment with a day of its own: one that says none is of this day."""
        return self if self.date else Moment(day, self.earliest_s, self.latest_s, self.text)


def parsed_date(text: object) -> dt.date:
    """An ISO 8601 calendar date, written year-month-day.

    Raises:
        GrammarError: Anything else.
    """
    if isinstance(text, dt.date):
        return text
    if isinstance(text, str) and _DATE.fullmatch(text):
        try:
            return dt.date.fromisoformat(text)
        except ValueError:
            pass
    raise GrammarError(f"{shown(text)} is no date", "write year-month-day, such as 2026-05-04", "date-form")


def parsed_moment(text: object) -> Moment:
    """ "18:40", "22:10 to 23:40", "2026-05-20" or "2026-05-20 18:40".

    Raises:
        GrammarError: Anything else.

    >>> parsed_moment("22:10 to 01:40").latest_s
    92400
    """
    if isinstance(text, Moment):
        return text
    if not isinstance(text, str) or len(text) > MAX_TEXT:
        raise _no_moment(text)
    day, rest = (text[:10], text[10:].strip()) if _DATE.match(text) else (None, text.strip())
    date = parsed_date(day) if day else None
    if not rest and date:
        return Moment(date, None, None, text)
    first, _, second = rest.partition(" to ")
    earliest, latest = _seconds_of_day(first, text), _seconds_of_day(second or first, text)
    return Moment(date, earliest, latest + 86_400 if latest < earliest else latest, text)


def _seconds_of_day(time: str, text: object) -> int:
    match = _TIME.fullmatch(time.strip())
    if not match:
        raise _no_moment(text)
    hours, minutes, seconds = match.groups(default="0")
    return int(hours) * 3600 + int(minutes) * 60 + int(seconds)


def _no_moment(text: object) -> GrammarError:
    hint = 'write "18:40", "22:10 to 23:40", 2026-05-20 or "2026-05-20 18:40"'
    return GrammarError(f"{shown(text)} is no time", hint, "time-form")


def parsed_video_second(text: object) -> int:
    """Seconds into a video from "m:ss" or "h:mm:ss".

    Raises:
        GrammarError: Anything else.

    >>> parsed_video_second("8:31")
    511
    """
    if isinstance(text, int) and not isinstance(text, bool) and text >= 0:
        return text
    match = _VIDEO.fullmatch(text) if isinstance(text, str) else None
    if not match:
        raise GrammarError(f"{shown(text)} is no place in a video", 'write "8:31" or "1:08:31"', "video-time-form")
    hours, minutes, seconds = match.groups(default="0")
    return int(hours) * 3600 + int(minutes) * 60 + int(seconds)
