"""The flat sheet with the found lines over it, and a numbered ring on each doubt."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from fillwork.readers.scan.trails import trail

if TYPE_CHECKING:
    from PIL import Image

    from fillwork.readers.scan.settle import Drawing
    from fillwork.readers.scan.trace import Traced

__all__ = ["draw_overlay"]

_LINE, _BRIDGE, _GUIDE, _RING = "#0a6fd6", "#e05a00", "#3a9a50", "#d4006a"


def draw_overlay(traced: Traced) -> bytes:
    """Return the flat sheet and its lines as PNG.

    Parameters
    ----------
    traced : Traced
        A traced sheet.

    Returns
    -------
    bytes
        Lines blue, bridges over gaps orange, pencil green; rings carry the
        numbers of the doubts.
    """
    from PIL import Image

    page = Image.fromarray(traced.page.rgb)
    page = Image.blend(page, Image.new("RGB", page.size, "#ffffff"), 0.45)
    if traced.pencil is not None:
        _lines(page, traced.pencil, 0, len(traced.pencil.pieces), _GUIDE)
    final = len(traced.drawing.pieces) - traced.bridges
    _lines(page, traced.drawing, 0, final, _LINE)
    _lines(page, traced.drawing, final, len(traced.drawing.pieces), _BRIDGE)
    _rings(page, traced)
    out = io.BytesIO()
    page.save(out, "PNG", compress_level=6)
    return out.getvalue()


def _lines(
    page: Image.Image, drawing: Drawing, start: int, stop: int, colour: str
) -> None:
    from PIL import ImageDraw

    pen = ImageDraw.Draw(page)
    width = max(2, round(0.35 * drawing.width))
    for piece in drawing.pieces[start:stop]:
        points = [(float(x), float(y)) for x, y in trail(drawing, piece, 3.0)]
        pen.line(points, fill=colour, width=width)


def _rings(page: Image.Image, traced: Traced) -> None:
    from PIL import ImageDraw, ImageFont

    pen = ImageDraw.Draw(page)
    radius = 2.2 * traced.page.scale
    font = ImageFont.load_default(size=1.5 * radius)
    for number, doubt in enumerate(traced.doubts, 1):
        x, y = doubt.at
        box = (x - radius, y - radius, x + radius, y + radius)
        pen.ellipse(box, outline=_RING, width=max(2, round(radius / 7)))
        pen.text(
            (x + 1.1 * radius, y - 1.1 * radius), str(number), _RING, font, anchor="ls"
        )
