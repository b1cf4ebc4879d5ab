"""What stands in a page's head for whoever shows a link to it: title, sentence and picture."""

from __future__ import annotations

from site_builder.derived import Derived, DerivedUnit
from site_builder.pages.safe_text import safe
from site_builder.pages.unit_page import answer
from site_builder.pages.words import name_of
from site_builder.publish.structured_data import structured_data

PICTURE = "picture.png"
PICTURE_SIZE = (1200, 630)


def preview_tags(title: str, description: str, address: str, site: str, picture: str = "") -> str:
    """Tags that a link's preview is made from; all words are HTML already.

    Source:
        The Open Graph protocol (ogp.me): title, type, image and url are required of every page. The name of the last
        tag is that of the service that began with it; all read it (common practice).
    """
    tags = {"title": title, "description": description, "type": "website", "url": address, "site_name": site}
    if picture:
        width, height = PICTURE_SIZE
        tags |= {"type": "article", "image": picture, "image:width": str(width), "image:height": str(height)}
        tags["image:alt"] = title
    card = f'<meta name="twitter:card" content="{"summary_large_image" if picture else "summary"}">'
    return "".join(f'<meta property="og:{name}" content="{words}">' for name, words in tags.items()) + card


def unit_head(unit: DerivedUnit, derived: Derived) -> str:
    """The preview of a unit's page, and what a search engine may read of it where there are results."""
    says, address = answer(unit, derived), derived.address_of(unit.id)
    tags = preview_tags(
        safe(name_of(unit.record)), safe(says), address, safe(derived.published.name), f"{address}{PICTURE}"
    )
    return tags + (structured_data(unit, derived, says) if unit.record.unit.status == "published" else "")
