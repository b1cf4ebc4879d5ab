"""A QR code of a unit's address, to be shown on a screen: as SVG for pages, as PNG for video editors."""

from __future__ import annotations

import io

QUIET_ZONE = 4  # modules of white around the symbol: ISO/IEC 18004:2015, 5.3.8 (from memory)
MASK = 2
MODULE = 12  # pixels a module in the PNG: 8 px is the least that survives a video's compression (common practice)


def qr_files(unit_id: str, address: str) -> dict[str, str | bytes]:
    """Address below the site → the code for `address`, dark on white in both, since many readers need that."""
    import segno  # noqa: PLC0415  # only a whole site needs these
    from PIL import Image  # noqa: PLC0415

    # A quarter of the symbol may be hidden or glaring: level Q. Trying all eight masks for the best pattern would take
    # longer than the rest of a unit's page; readers take any.
    code = segno.make_qr(address, error="q", boost_error=False, mask=MASK)
    # The clock stays out of the file; so does what would make it bigger.
    svg = code.svg_inline(border=QUIET_ZONE, dark="#000", light="#fff", omitsize=True)
    modules = [255 * (1 - dark) for row in code.matrix_iter(border=QUIET_ZONE) for dark in row]
    side = len(code.matrix) + 2 * QUIET_ZONE
    symbol = Image.new("L", (side, side))
    symbol.putdata(modules)
    png = io.BytesIO()
    # Segno can write the PNG itself, but takes longer to enlarge it than for all the rest.
    symbol.convert("1").resize((side * MODULE, side * MODULE), Image.Resampling.NEAREST).save(png, "PNG")
    return {
        f"units/{unit_id}/qr.svg": svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1) + "\n",
        f"units/{unit_id}/qr.png": png.getvalue(),
    }
