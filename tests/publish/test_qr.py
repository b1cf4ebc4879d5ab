"""The codes, read back by a decoder that is not the encoder's."""

import io

import pytest
import zxingcpp
from PIL import Image

from site_builder.build import Site
from site_builder.publish.qr import qr_files
from tests.conftest import ADDRESS


def test_every_unit_has_a_code_that_reads_as_its_address(site: Site) -> None:
    codes = [uri for uri in site.files if uri.endswith("qr.png")]
    assert len(codes) == 14
    for uri in codes:
        content = site.files[uri]
        assert isinstance(content, bytes)
        assert _read(content) == f"{ADDRESS}{uri.removesuffix('qr.png')}"


@pytest.mark.parametrize("smaller", [2, 3])
def test_the_code_survives_being_shown_small(smaller: int) -> None:
    content = qr_files("a", f"{ADDRESS}units/{'long-name-' * 5}/")["units/a/qr.png"]
    assert isinstance(content, bytes)
    image = Image.open(io.BytesIO(content)).convert("L")
    shrunk = image.resize((image.width // smaller, image.height // smaller))
    assert zxingcpp.read_barcodes(shrunk)[0].text == f"{ADDRESS}units/{'long-name-' * 5}/"


def test_both_forms_are_the_same_symbol() -> None:
    """Each module of the PNG is dark where the SVG's strokes are."""
    files = qr_files("a", ADDRESS)
    svg, png = files["units/a/qr.svg"], files["units/a/qr.png"]
    assert isinstance(svg, str)
    assert isinstance(png, bytes)
    image = Image.open(io.BytesIO(png)).convert("1")
    side = int(svg.split('viewBox="0 0 ')[1].split()[0])
    assert image.width % side == 0
    dark = sum(not image.getpixel((x * image.width // side + 1, y * image.width // side + 1))
               for x in range(side) for y in range(side))  # fmt: skip
    strokes = svg.split(' d="M4')[1].split('"')[0]
    drawn = sum(int(part[1:]) for part in _lengths(strokes))
    assert dark == drawn


def _lengths(strokes: str) -> list[str]:
    parts, current = [], ""
    for letter in strokes + "m":
        if letter in "mhMH":
            if current.startswith("h"):
                parts.append(current)
            current = letter
        else:
            current += letter
    return parts


def _read(content: bytes) -> str:
    return str(zxingcpp.read_barcodes(Image.open(io.BytesIO(content)))[0].text)
