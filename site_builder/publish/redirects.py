"""Pages at the addresses that units had before: they lead on, with a script or without."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from site_builder.derived import Derived
from site_builder.pages.safe_text import sentence
from site_builder.pages.words import name_of

# A refresh would lose what follows the address, so it waits for those without scripts.
_PAGE = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width,initial-scale=1">
<meta name="robots" content="noindex">
<title>{name} has moved</title>
<link rel="canonical" href="{address}">
<noscript><meta http-equiv="refresh" content="0; url=../{id}/"></noscript>
</head>
<body>
<p>This page is now at <a href="../{id}/" data-moved>{name}</a>.</p>
<script src="../../assets/moved.js"></script>
</body>
</html>
"""


def redirect_pages(derived: Derived) -> Mapping[str, str]:
    """Address of each page below the site → its HTML, for every former id of every unit that may be shown."""
    return dict(_pages(derived))


def _pages(derived: Derived) -> Iterable[tuple[str, str]]:
    for unit in derived.units:
        for former in unit.record.unit.former_ids:
            words = {"name": sentence("{}", name_of(unit.record)), "address": derived.address_of(unit.id)}
            yield f"units/{former}/index.html", _PAGE.format(**words, id=unit.id)
