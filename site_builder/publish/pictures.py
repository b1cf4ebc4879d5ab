"""The picture that a shared link to a unit shows: its name, what it ran, delivered against label, its curve.

Words come from the unit's page; this module only places them. 1200 by 630 pixels is what previews are cut from.
"""

from __future__ import annotations

import io
import textwrap
from dataclasses import dataclass
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path

import jinja2
import numpy as np

from site_builder.derived import Derived, DerivedUnit
from site_builder.measured import Measured
from site_builder.pages.text import Shown, quantity
from site_builder.pages.unit_page import answer
from site_builder.pages.words import against_label, name_of, plain
from site_builder.publish.kept import kept

WIDTH = 1080  # between the margins [px]
# Widths of bold letters in font sizes, rounded up (Liberation Sans Bold; Arimo's metrics, from memory).
WIDEST, CAPITAL, LETTER = 0.95, 0.78, 0.62
PER_LINE, LINES = 54, 2
BAR = 460.0  # length that stands for 125 % of the label [px]
CURVE = (690.0, 410.0, 450.0, 130.0)  # left, top, width, height [px]
POINTS = 60
COLOURS = 32


@dataclass(frozen=True, slots=True)
class PictureBar:
    """Delivered against label, all in pixels from the bar's start."""

    end: float
    low: float
    high: float
    label: float


def picture_of(unit: DerivedUnit, derived: Derived, cache: Path | None) -> bytes:
    """The unit's picture as PNG."""
    return kept(cache, picture_svg(unit, derived), _maker(), _png)


@lru_cache(maxsize=1)
def _maker() -> str:
    return f"vl-convert {version('vl-convert-python')}, Pillow {version('pillow')}, octree of {COLOURS}"


def _png(svg: str) -> bytes:
    import vl_convert  # noqa: PLC0415  # loads a JavaScript engine
    from PIL import Image  # noqa: PLC0415  # only a whole site needs it

    drawn = Image.open(io.BytesIO(vl_convert.svg_to_png(svg))).convert("RGB")
    small = io.BytesIO()
    # Ink, paper, two colours and the edges between them: a palette takes a tenth of the room. By an octree, since a
    # median cut loses a colour that few pixels have, such as the mark of the label's claim.
    palette = drawn.quantize(COLOURS, Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
    palette.save(small, "png", compress_level=6)
    return small.getvalue()


def picture_svg(unit: DerivedUnit, derived: Derived) -> str:
    """The unit's picture as SVG."""
    name = name_of(unit.record)
    class_id = unit.result.class_id
    lead = unit.result.metrics.get("delivered_ah") or unit.result.metrics.get("delivered_wh")
    share = unit.result.metrics.get("share_of_rated")
    return _template().render(
        site=derived.published.name,
        over=derived.catalogue.classes[class_id].title if class_id else unit.record.label.chemistry,
        name=name,
        name_size=min(84, int(WIDTH / _width(name))),
        lines=_lines(answer(unit, derived)),
        delivered=f"Delivered {_spaced(quantity(lead))}" if lead else "",
        against=plain(against_label(share)) if share else "",
        bar=_bar(share) if share else None,
        **_curve(unit),
    )


@lru_cache(maxsize=1)
def _template() -> jinja2.Template:
    loader = jinja2.FileSystemLoader(Path(__file__).with_name("templates"))
    environment = jinja2.Environment(loader=loader, autoescape=True, trim_blocks=True, undefined=jinja2.StrictUndefined)
    return environment.get_template("picture.svg.jinja")


def _width(name: str) -> float:
    """An upper limit of the name's width, in font sizes."""
    return sum(WIDEST if c in "MWmw@%" else CAPITAL if c.isupper() else LETTER for c in name)


def _lines(text: str) -> list[str]:
    """The first sentences, as far as they fit whole; the first is cut if it must be."""
    sentences = text.replace(". ", ".\n").split("\n")
    said = sentences[0]
    for more in sentences[1:]:
        if len(textwrap.wrap(f"{said} {more}", PER_LINE)) > LINES:
            break
        said = f"{said} {more}"
    return textwrap.wrap(said, PER_LINE, max_lines=LINES, placeholder=" …")


def _spaced(shown: Shown) -> str:
    """With ordinary spaces: not every font has the narrow one."""
    return " ".join(str(shown).split())


def _bar(share: Measured) -> PictureBar:
    def at(one: float) -> float:
        return round(BAR * min(max(one, 0.0) / 1.25, 1.0), 1)

    return PictureBar(end=at(share.value), low=at(share.lowest), high=at(share.highest), label=at(1.0))


def _curve(unit: DerivedUnit) -> dict[str, str]:
    """The discharge curve as points, with the voltage at its two ends in words; empty where there is no log."""
    headline = unit.result.headline
    curve = unit.result.tests[headline].curve if headline else None
    if curve is None:
        return {"curve": "", "from_v": "", "to_v": ""}
    charge, voltage = (np.asarray(one) for one in curve)
    left, top, width, height = CURVE
    at = np.linspace(charge[0], charge[-1], POINTS)
    seen = np.interp(at, charge, voltage)
    x = left + width * (at - at[0]) / (at[-1] - at[0])
    y = top + height * (seen.max() - seen) / (np.ptp(seen) or 1.0)
    points = " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x, y, strict=True))
    return {"curve": points, "from_v": f"{seen[0]:.1f} V", "to_v": f"{seen[-1]:.1f} V after {at[-1]:.0f} Ah"}
