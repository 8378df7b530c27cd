"""The flat sheet with the found lines over it, and a numbered ring on each doubt."""

from __future__ import annotations

import io
import itertools
import math
from typing import TYPE_CHECKING

from fillwork.readers.scan.trails import trail

if TYPE_CHECKING:
    from PIL import Image

    from fillwork.readers.scan.model import Drawing
    from fillwork.readers.scan.pixels import Place
    from fillwork.readers.scan.trace import Traced


_LINE, _BRIDGE, _GUIDE, _RING = "#0a6fd6", "#e05a00", "#3a9a50", "#d4006a"


def draw_overlay(traced: Traced) -> bytes:
    """Return the flat sheet and its lines as PNG.

    Lines blue, bridges over gaps orange, pencil green; rings carry the numbers of the
    doubts.
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
    width = max(2, round(radius / 7))
    rings = [d.at for d in traced.doubts]
    for x, y in rings:
        box = (x - radius, y - radius, x + radius, y + radius)
        pen.ellipse(box, outline=_RING, width=width)
    places = number_places(rings, radius, page.size)
    for number, (ring, place) in enumerate(zip(rings, places, strict=True), 1):
        far = math.dist(ring, place)
        if far > 2.5 * radius:
            way = [(p - r) / far for r, p in zip(ring, place, strict=True)]
            line = [r + k * w for k in (radius, far - radius)
                    for r, w in zip(ring, way, strict=True)]  # fmt: skip
            pen.line(line, fill=_RING, width=max(1, width // 2))
        pen.text(place, str(number), _RING, font, anchor="mm")


def number_places(
    rings: list[Place], radius: float, size: tuple[float, float]
) -> list[Place]:
    """Return where the number of each ring stands, clear of the other numbers.

    `rings`: middles of the rings, px. `radius`: of a ring, px. `size`: width and height
    of the picture, px. Returns middles of the numbers, px: beside the ring where there
    is room, farther out where other rings and numbers crowd it.
    """
    placed: list[Place] = []
    # beyond, rings and numbers are too far to be in the way
    far = 14.0 * radius
    for own, (x, y) in enumerate(rings):
        crowd, taken = (
            [p for p in places if abs(p[0] - x) + abs(p[1] - y) < far]
            for places in (rings[:own] + rings[own + 1 :], placed)
        )
        best: tuple[float, Place] = (math.inf, (x, y))
        for ring, eighth in itertools.product(range(2, 7), (-1, 1, -3, 3, -2, 2, 0, 4)):
            angle = eighth * math.pi / 4
            at = (
                x + 1.05 * ring * radius * math.cos(angle),
                y + 1.05 * ring * radius * math.sin(angle),
            )
            lost = sum(max(0.0, 2.0 * radius - math.dist(at, p)) for p in taken)
            lost += 0.3 * sum(max(0.0, 1.8 * radius - math.dist(at, r)) for r in crowd)
            inside = all(
                radius <= v <= s - radius for v, s in zip(at, size, strict=True)
            )
            lost += 0.0 if inside else 9.0 * radius
            # the farther, the harder to tell whose it is
            lost += 0.05 * ring * radius
            if lost < best[0]:
                best = (lost, at)
        placed.append(best[1])
    return placed
