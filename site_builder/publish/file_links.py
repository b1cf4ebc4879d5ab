"""Links for a site that no server answers for: opened from a folder, an address has to name its file."""

from __future__ import annotations

import re

ADDRESS = re.compile(r'(<[a-z][^<>]*? (?:href|action)=)(?:"([^"<>]*)"|([^\s"<>]+))')
ELSEWHERE = re.compile(r"[a-z][a-z0-9+.-]*:|/|#|\?|$", re.IGNORECASE)


def with_file_links(html: str) -> str:
    """The page with `index.html` at the end of every link to a folder of this site.

    >>> with_file_links('<a href="../../">all</a>')
    '<a href="../../index.html">all</a>'
    """
    return ADDRESS.sub(lambda found: f'{found[1]}"{file_address(found[2] or found[3] or "")}"', html)


def file_address(address: str) -> str:
    """An address below the site that names its file; what stands behind `?` and `#` stays.

    >>> file_address("../units/ferngate-f90/#runs"), file_address(".."), file_address("https://example.org/")
    ('../units/ferngate-f90/index.html#runs', '../index.html', 'https://example.org/')
    """
    if ELSEWHERE.match(address):
        return address
    path, rest = re.fullmatch(r"([^?#]*)(.*)", address, re.DOTALL).groups()  # type: ignore[union-attr]  # fits any text
    if path.rpartition("/")[2] in {".", ".."}:
        path += "/"
    return f"{path}index.html{rest}" if path.endswith("/") else address
