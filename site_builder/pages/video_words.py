"""Where a video shows a test: the link to its second, and its seconds in words."""

from __future__ import annotations

from urllib.parse import urlsplit, urlunsplit

from markupsafe import Markup

from site_builder.bench_tests import InVideo
from site_builder.pages.safe_text import link, sentence
from site_builder.records import Video


def at_second(video: Video, second: int | None) -> str:
    """The video's address, opening at a second of it.

    A host that takes the second as a parameter is asked that way; else it is a temporal fragment, which browsers follow
    where the address is a video file itself.

    Source:
        W3C, Media Fragments URI 1.0 (2012), 4.2.1 Temporal Dimension: `#t=888`.
    """
    if second is None:
        return video.url
    parts = urlsplit(video.url)
    if video.start_parameter is not None:
        query = "&".join(one for one in (parts.query, f"{video.start_parameter}={second}") if one)
        return urlunsplit(parts._replace(query=query))
    return urlunsplit(parts._replace(fragment=f"t={second}"))


def seconds_words(shown: InVideo) -> str:
    """The seconds that show it: "14:48 to 14:54"; empty where none were written down."""
    return " to ".join(clock(second) for second in (shown.from_, shown.to) if second is not None)


def video_link(shown: InVideo, video: Video, words: str) -> Markup:
    """A link to the second that shows the test, and whether the scene is uncut."""
    return sentence("{}{}", link(at_second(video, shown.from_), words), ", uncut" if shown.uncut else "")


def clock(second: int) -> str:
    """A second of a video as m:ss.

    >>> clock(888), clock(3725)
    ('14:48', '1:02:05')
    """
    hours, rest = divmod(second, 3600)
    return f"{hours}:{rest // 60:02d}:{rest % 60:02d}" if hours else f"{rest // 60}:{rest % 60:02d}"
