"""Pictures for shared links, decoded: their size, and whether their words can be told from the paper."""

import io
from pathlib import Path

import numpy as np
from PIL import Image

from site_builder.build import Site, derive_all
from site_builder.publish.kept import kept
from site_builder.publish.pictures import picture_svg
from tests.conftest import ROOT
from tests.small_project import UNIT, log_text, small_project


def image_of(site: Site, unit: str) -> Image.Image:
    content = site.files[f"units/{unit}/picture.png"]
    assert isinstance(content, bytes)
    return Image.open(io.BytesIO(content)).convert("RGB")


def luminance(colour: tuple[int, ...]) -> float:
    """Relative luminance: WCAG 2.2, definition of relative luminance."""
    linear = [c / 255 / 12.92 if c / 255 <= 0.04045 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in colour]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: tuple[int, ...], other: tuple[int, ...]) -> float:
    """WCAG 2.2, definition of contrast ratio."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_every_unit_has_a_picture_of_the_size_that_its_head_states(site: Site) -> None:
    for uri, head in site.heads.items():
        unit = uri.removeprefix("units/").removesuffix(".md")
        image = image_of(site, unit)
        assert image.size == (1200, 630)
        assert f'"og:image" content="https://bench.hollinwater.example/units/{unit}/picture.png"' in head
        assert '"og:image:width" content="1200"' in head
        assert '"og:image:height" content="630"' in head


def test_words_stand_out_from_the_paper_also_at_400_pixels(site: Site) -> None:
    """4.5 to 1 is the least for text: WCAG 2.2, 1.4.3. The name is large and needs 3 to 1; it has far more."""
    small = image_of(site, "ferngate-f90").resize((400, 210), Image.Resampling.LANCZOS)
    paper = small.getpixel((2, 2))
    assert isinstance(paper, tuple)
    for top, bottom in ((20, 32), (40, 62), (70, 84), (138, 152), (158, 168)):
        band = np.asarray(small)[top:bottom, 20:200].reshape(-1, 3)
        darkest = tuple(int(c) for c in band[band.sum(axis=1).argmin()])
        assert contrast(darkest, paper) > 4.5, (top, bottom)


def test_the_label_is_marked_in_its_own_colour(site: Site) -> None:
    """Vermilion: Okabe and Ito, Color Universal Design (2008). Few pixels have it, and a palette must not lose it."""
    pixels = np.asarray(image_of(site, "ferngate-f90")).reshape(-1, 3).astype(int)
    assert (np.abs(pixels - (0xD5, 0x5E, 0x00)).max(axis=1) < 12).sum() > 50


def test_letters_are_at_least_ten_pixels_high_at_400(tmp_path: Path) -> None:
    """A third of the font sizes in the drawing; 10 px is the least that is read without effort (common practice)."""
    svg = svg_of(tmp_path, UNIT)
    sizes = [float(part.split('"')[0]) for part in svg.split('font-size="')[1:]]
    assert min(sizes) / 3 >= 10


def svg_of(tmp_path: Path, text: str) -> str:
    project = small_project(tmp_path)
    project.unit(text)
    project.log(log_text())
    derived = derive_all(project.results, project.catalogue).derived
    return picture_svg(derived.units[0], derived)


def test_it_says_what_it_delivered_with_its_uncertainty(tmp_path: Path) -> None:
    svg = svg_of(tmp_path, UNIT)
    assert "Tarn T90" in svg
    assert "Delivered 90.0 ± 1.1 Ah" in svg
    assert "<polyline" in svg


def test_a_hostile_name_stays_text(tmp_path: Path) -> None:
    svg = svg_of(tmp_path, UNIT.replace("model: T90", 'model: "</text><script>alert(1)</script>"'))
    assert "<script" not in svg
    assert "&lt;script&gt;" in svg


def test_a_long_name_fits(tmp_path: Path) -> None:
    svg = svg_of(tmp_path, UNIT.replace("model: T90", f"model: {'M' * 50}"))
    size = float(svg.split('y="178" font-size="')[1].split('"')[0])
    # M is 0.833 wide: Arial Bold, whose widths Liberation Sans shares (from memory)
    assert size * 0.833 * 50 < 1140
    assert size > 10


def test_what_was_made_once_is_taken_from_where_it_is_kept(tmp_path: Path) -> None:
    made = []

    def make(text: str) -> bytes:
        made.append(text)
        return text.encode()

    assert [kept(tmp_path / "a", text, "1", make) for text in ("x", "x", "y")] == [b"x", b"x", b"y"]
    assert made == ["x", "y"]
    assert kept(tmp_path / "a", "x", "2", make) == b"x"
    assert made == ["x", "y", "x"], "another maker may make it otherwise"
    assert kept(None, "x", "2", make) == b"x"
    assert made == ["x", "y", "x", "x"]
    assert not list(tmp_path.rglob("*.part"))


def test_the_catalogue_keeps_pictures_outside_of_what_is_published() -> None:
    assert "/.cache/" in (ROOT / ".gitignore").read_text("utf-8")
