"""Draw a scene as PNG: four times too large, then averaged down.

Polygons touch without seams, because each is drawn in full pixels of the large
picture before any averaging. Large pictures are drawn in bands, so that memory
stays within bounds; few colours are drawn as numbers, one byte a pixel.
"""

from __future__ import annotations

import io
import itertools
import math
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import RenderError
from fillwork.geometry import affine
from fillwork.renderers.encoders.stroker import dash_lines, stroke_polygons
from fillwork.renderers.scene import Fills, Labels, Placed, Strokes, Text
from fillwork.renderers.text.bars import label_bars
from fillwork.renderers.text.typeset import CAP_HEIGHT, PT, FontSet, default_fonts

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from typing import Any

    from PIL.Image import Image as Picture

    from fillwork.arrangement.model import Outlines
    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.geometry.affine import Affine
    from fillwork.geometry.curves import Curves
    from fillwork.renderers.scene import Item, Scene
    from fillwork.renderers.text.typeset import Font

    _Ring = tuple[Floats, int]  # points, px, and what is inside it

_OVER = 4
"""Pixels of the large picture along one pixel of the result."""

_MOST_PIXELS = 120_000_000
"""Most pixels of a result."""

_BAND = 48_000_000
"""Most pixels of one band of the large picture (four bytes each, or one)."""

_STRIP = 1 << 18
"""Pixels of a band of numbers that become colours at once: they stay in the cache."""

_MOST_DPI = 0.0254 * (2**31 - 1)
"""More cannot be stated: pixels a metre in 31 bits (PNG, sections 7.1 and 11.3.4.3)."""


def to_png(scene: Scene, width_px: int, *, fonts: FontSet | None = None) -> bytes:
    """Return a scene as a PNG file.

    PNG, sRGB, with its physical resolution; transparent where the scene has no paper
    and no fill.

    `width_px`: width of the picture; the height follows from the page. Raises
    `RenderError` if the picture would be empty or too large.
    """
    from PIL import Image

    width_px = int(width_px)
    scale = width_px / scene.width if scene.width > 0 else 0.0
    height_px = max(1, round(scene.height * scale)) if scale else 0
    if width_px < 1 or height_px < 1:
        what = f"a picture {width_px} px wide has no size"
        raise RenderError(what, mend="give a width of 1 px or more")
    if width_px * height_px > _MOST_PIXELS:
        what = f"a picture of {width_px} x {height_px} px is too large"
        raise RenderError(what, mend="give a smaller --png-width")
    mode = "RGB" if scene.paper else "RGBA"
    ground = _rgb(scene.paper) if scene.paper else (255, 255, 255, 0)
    result = Image.new(mode, (width_px, height_px))
    rows = max(1, _BAND // (width_px * _OVER * _OVER))
    stamps = _Stamps(fonts or default_fonts())
    numbers = _numbers(scene.items)
    for top in range(0, height_px, rows):
        here = min(rows, height_px - top)
        size = (width_px * _OVER, here * _OVER)
        if numbers:
            canvas = _Canvas(Image.new("L", size, 0), stamps, numbers)
        else:
            canvas = _Canvas(Image.new(mode, size, ground), stamps)
        k = scale * _OVER
        # whole pixels: the page fills the last row too
        down = height_px * _OVER / scene.height
        m = (k, 0.0, 0.0, -down, 0.0, height_px * _OVER - top * _OVER)
        for item in scene.items:
            canvas.item(item, m)
        for y, averaged in _averaged(canvas.image, mode, [ground, *map(_rgb, numbers)]):
            result.paste(averaged, (0, top + y))
    out = _PngFile()
    dpi = width_px / scene.width * 25.4
    known: dict[str, Any] = {"dpi": (dpi, dpi)} if dpi < _MOST_DPI else {}
    result.save(out, compress_level=6, **known)
    return out.getvalue()


class _PngFile(io.BytesIO):
    """Bytes with a name, by which Pillow loads the one encoder and no other."""

    name = "picture.png"


def _numbers(items: Iterable[Item]) -> dict[str, int]:
    """Return numbers of colours from 1 on; none if they do not fit into a byte."""
    todo, found = list(items), dict[str, int]()
    while todo:
        item = todo.pop()
        if isinstance(item, Placed):
            todo += item.picture.items
        else:
            found.setdefault(item.colour, len(found) + 1)
    return found if len(found) < 256 else {}


def _averaged(
    image: Picture, mode: str, colours: list[tuple[int, ...]]
) -> Iterator[tuple[int, Picture]]:
    """Return a large picture averaged down, and the row where each strip begins."""
    if image.mode == mode:
        yield 0, image.reduce(_OVER)
        return
    width, height = image.size
    flat = [part for colour in colours for part in (*colour, 255)[: len(mode)]]
    rows = max(_STRIP // width // _OVER, 1) * _OVER
    for top in range(0, height, rows):
        strip = image.crop((0, top, width, min(top + rows, height)))
        strip.putpalette(flat, mode)
        yield top // _OVER, strip.convert(mode).reduce(_OVER)


def _rgb(colour: str) -> tuple[int, int, int]:
    return (int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16))


class _Canvas:
    """Paint items on one large picture; pixels, y down."""

    def __init__(
        self, image: Picture, stamps: _Stamps, numbers: dict[str, int] | None = None
    ) -> None:
        from PIL import ImageDraw

        self.numbers = numbers
        self.mode, self.image = image.mode, image
        self.draw = ImageDraw.Draw(image)
        self.width, self.height = image.size
        self.fonts, self.stamps = stamps.fonts, stamps
        self.flat: dict[tuple[Outlines, Affine], tuple[Any, ...]] = {}

    def colour(self, colour: str) -> int | tuple[int, ...]:
        if self.numbers:
            return self.numbers[colour]
        return _rgb(colour) if self.mode == "RGB" else (*_rgb(colour), 255)

    def item(self, item: Item, m: Affine) -> None:
        if isinstance(item, Fills):
            self.fills(item, m)
        elif isinstance(item, Strokes):
            self.strokes(item, m)
        elif isinstance(item, Labels):
            self.labels(item, m)
            for bar in label_bars(item, self.fonts):
                self.strokes(bar, m)
        elif isinstance(item, Text):
            self.text(item, m)
        else:
            self.placed(item, m)

    def flatten(self, shapes: Outlines, m: Affine) -> tuple[Any, ...]:
        """Return ring points and limits of shapes in pixels, and which rings show."""
        if (shapes, m) not in self.flat:
            points, limits = _ring_points(shapes.pieces, shapes.ring_start, m)
            self.flat[shapes, m] = (points, limits, self._seen(points, limits))
        return self.flat[shapes, m]

    def _seen(self, points: Floats, limits: Ints) -> Bools:
        """Tell which rings have a side that may lie on the picture."""
        size = np.diff(limits)
        seen = size >= 3
        if len(points):
            first = limits[:-1][size > 0]
            for axis, end in enumerate((self.width, self.height)):
                along = points[:, axis]
                low, high = (f.reduceat(along, first) for f in (np.minimum, np.maximum))
                seen[size > 0] &= (high >= 0) & (low <= end)
        return seen

    def fills(self, item: Fills, m: Affine) -> None:
        if len(item.rows) == 0:
            return
        points, limits, seen = self.flatten(item.shapes, m)
        flat, limit, shows = points.ravel(), (2 * limits).tolist(), seen.tolist()
        colour = self.colour(item.colour)
        first = item.shapes.face_ring_start[item.rows]
        last = item.shapes.face_ring_start[np.asarray(item.rows) + 1]
        for a, b in zip(first.tolist(), last.tolist(), strict=True):
            if b - a == 1:
                if shows[a]:
                    ring = flat[limit[a] : limit[a + 1]].tolist()
                    self.draw.polygon(ring, fill=colour)
            elif b > a:
                rings = [points[limits[r] : limits[r + 1]] for r in range(a, b)]
                self.holed(rings, colour)

    def holed(self, rings: list[Floats], colour: Any) -> None:
        """Fill a shape of several rings by the even-odd rule, through a mask."""
        from PIL import Image, ImageDraw

        rings = [ring for ring in rings if len(ring) > 2]
        if not rings:
            return
        points = np.vstack(rings)
        low = np.floor(points.min(axis=0)).astype(int)
        high = np.ceil(points.max(axis=0)).astype(int) + 1
        low = np.maximum(low, 0)
        high = np.minimum(high, [self.width, self.height])
        if np.any(high <= low):
            return
        size = (int(high[0] - low[0]), int(high[1] - low[1]))
        mask = Image.new("1", size, 0)
        pen = ImageDraw.Draw(mask)
        pen.polygon((rings[0] - low).ravel().tolist(), fill=1)
        for ring in rings[1:]:
            _flip(mask, ring - low)
        # a ring's own edge belongs to the shape as well: no seam with what is inside
        for ring in rings[1:]:
            closed = np.vstack([ring, ring[:1]]) - low
            pen.line(closed.ravel().tolist(), fill=1)
        self.image.paste(colour, (int(low[0]), int(low[1])), mask)

    def strokes(self, item: Strokes, m: Affine) -> None:
        if len(item.start) < 2 or item.width <= 0:
            return
        colour = self.colour(item.colour)
        scale = affine.mean_scale(m)
        width = item.width * scale
        points, start, closed = _path_points(item, m)
        if item.dash:
            paths, _ = dash_lines(
                np.split(points, start[1:-1]),
                closed.tolist(),
                np.array(item.dash) * scale,
            )
            if not paths:
                return
            points, start = np.concatenate(paths), np.cumsum([0, *map(len, paths)])
            closed = np.zeros(len(paths), bool)
        # polygons are drawn one pixel fat; a line takes that off again
        half = max((width - 1.0) / 2, 0.0)
        if half < 0.5:
            for path, round_ in zip(np.split(points, start[1:-1]), closed, strict=True):
                line = path.ravel().tolist()
                self.draw.line(line + line[:2] if round_ else line, fill=colour)
            return
        for drawn in stroke_polygons(points, start, closed, half, item.join, item.cap):
            low, high = drawn.min(axis=1), drawn.max(axis=1)
            seen = (high >= 0).all(axis=1) & (low <= [self.width, self.height]).all(1)
            for polygon in drawn[seen].reshape(-1, 2 * drawn.shape[1]).tolist():
                self.draw.polygon(polygon, fill=colour)

    def put(self, text: str, weight: str, em: float, at: Any, colour: str) -> None:
        if em < 1:
            return
        x, y = round(float(at[0])), round(float(at[1]))
        left, top, right, bottom = self.stamps.box(text, weight, em)
        if x + left > self.width or y + top > self.height or x + right < 0:
            return
        if y + bottom < 0:
            return
        mask = self.stamps.mask(text, weight, em)
        self.image.paste(self.colour(colour), (x + left, y + top), mask)

    def labels(self, item: Labels, m: Affine) -> None:
        if len(item.at) == 0:
            return
        at = affine.apply(m, item.at)
        em = item.height / CAP_HEIGHT * affine.mean_scale(m)
        middle = self.fonts.middles(item.texts, item.weight).tolist()
        for (x, y), size, k in zip(
            at.tolist(), em.tolist(), item.text.tolist(), strict=True
        ):
            place = (x - middle[k][0] * size, y + middle[k][1] * size)
            self.put(item.texts[k], item.weight, size, place, item.colour)

    def text(self, item: Text, m: Affine) -> None:
        em = item.size * PT * affine.mean_scale(m)
        x, y = affine.apply(m, np.array(item.at)).tolist()
        x -= self.fonts.shape(item.text, item.weight).before(item.align) * em
        self.put(item.text, item.weight, em, (x, y), item.colour)

    def placed(self, item: Placed, m: Affine) -> None:
        inner = affine.compose(m, item.map)
        if item.clip is None:
            for each in item.picture.items:
                self.item(each, inner)
            return
        corners = np.array([item.clip[0:2], item.clip[2:4]])
        low, high = np.sort(affine.apply(m, corners), axis=0)
        low = np.maximum(np.round(low).astype(int), 0)
        high = np.minimum(np.round(high).astype(int), [self.width, self.height])
        if np.any(high <= low):
            return
        box = (int(low[0]), int(low[1]), int(high[0]), int(high[1]))
        part = _Canvas(self.image.crop(box), self.stamps, self.numbers)
        shifted = affine.compose(affine.translation(-box[0], -box[1]), inner)
        for each in item.picture.items:
            part.item(each, shifted)
        self.image.paste(part.image, box[0:2])


def _flip(mask: Picture, ring: Floats) -> None:
    """Turn what is inside a ring of a mask from open to closed, or back."""
    from PIL import Image, ImageChops, ImageDraw

    low = np.maximum(np.floor(ring.min(axis=0)).astype(int), 0)
    high = np.minimum(np.ceil(ring.max(axis=0)).astype(int) + 1, mask.size)
    if np.any(high <= low):
        return
    box = (int(low[0]), int(low[1]), int(high[0]), int(high[1]))
    inside = Image.new("1", (box[2] - box[0], box[3] - box[1]), 0)
    ImageDraw.Draw(inside).polygon((ring - low).ravel().tolist(), fill=1)
    mask.paste(ImageChops.logical_xor(mask.crop(box), inside), box[:2])


def _ring_points(pieces: Curves, start: Ints, m: Affine) -> tuple[Floats, Ints]:
    """Return the points of rings in pixels; curves within a quarter pixel."""
    mapped = pieces.transform(m)
    steps = mapped.chord_counts(0.25).astype(np.int64)
    before = np.concatenate([[0], np.cumsum(steps)])
    chords, _, _ = mapped.flatten(0.25)
    return chords[:, 0:2], before[start]


def _path_points(item: Strokes, m: Affine) -> tuple[Floats, Ints, Bools]:
    """Return the points of paths in pixels, where each begins, and which are closed."""
    points, limits = _ring_points(item.curves, item.start, m)
    closed = np.asarray(item.closed, bool)
    # a chord gives its first point; the last one of an open path comes after these
    adds = ~closed & (np.diff(item.start) > 0)
    ends = item.curves.transform(m).ends()[item.start[1:][adds] - 1]
    points = np.insert(points, limits[1:][adds], ends, axis=0)
    return points, limits + np.cumsum(np.r_[0, adds]), closed


class _Stamps:
    """Masks of short texts, each made once for all parts of a picture."""

    def __init__(self, fonts: FontSet) -> None:
        self.fonts = fonts
        self.masks: dict[tuple[str, str, int], Any] = {}
        self.glyphs: dict[tuple[int, int, int], list[_Ring]] = {}

    def box(self, text: str, weight: str, em: float) -> tuple[int, int, int, int]:
        """Return left, top, right and bottom of a mask about where its text stands."""
        left, bottom, right, top = self.fonts.shape(text, weight).ink
        x0, y0 = math.floor(left * em) - 1, math.floor(-top * em) - 1
        x1, y1 = math.ceil(right * em) + 2, math.ceil(-bottom * em) + 2
        return x0, y0, max(x1, x0 + 1), max(y1, y0 + 1)

    def mask(self, text: str, weight: str, em: float) -> Any:
        from PIL import Image, ImageDraw

        key = (text, weight, round(em * 64))
        if key not in self.masks:
            x0, y0, x1, y1 = self.box(text, weight, em)
            mask = Image.new("L", (x1 - x0, y1 - y0), 0)
            pen = ImageDraw.Draw(mask)
            for font, glyph, x, y in self.fonts.shape(text, weight).glyphs():
                at = (x * em - x0, -y * em - y0)
                for points, value in self.rings(font, glyph, em):
                    pen.polygon((points + at).ravel().tolist(), fill=value)
            self.masks[key] = mask
        return self.masks[key]

    def rings(self, font: Font, glyph: int, em: float) -> list[_Ring]:
        """Return the outlines of a glyph about its origin, in the order to fill."""
        key = (id(font), glyph, round(em * 64))
        if key not in self.glyphs:
            self.glyphs[key] = _glyph_rings(font, glyph, em)
        return self.glyphs[key]


def _glyph_rings(font: Font, glyph: int, em: float) -> list[_Ring]:
    curves, start = font.outline(glyph)
    if len(curves) == 0:
        return []
    points, limits = _ring_points(curves, start, (em, 0.0, 0.0, -em, 0.0, 0.0))
    sized: list[tuple[float, Floats]] = []
    for a, b in itertools.pairwise(limits):
        ring = points[a:b]
        if len(ring) < 3:
            continue
        x, y = ring[:, 0], ring[:, 1]
        area = float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))
        sized.append((area, ring))
    # the largest contour is an outer one; the two kinds of outline run its way
    # round or against it. Large before small: what stands in a hole comes after it
    sized.sort(key=lambda pair: -abs(pair[0]))
    return [(ring, 255 if area * sized[0][0] > 0 else 0) for area, ring in sized]
