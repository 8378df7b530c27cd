"""Holes along the side of a sheet, as in notebooks and binders, which no pen drew."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.readers.scan.pixels import boxes_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrays import Bools, Floats

# px a mm of a small picture; how dark holes are against the paper around, in mm.
_FINE, _DARK, _AROUND = 4.0, 0.6, 15.0
# mm: how far in they reach, what they measure, how far off one line they lie, their
# rim, and what is a speck.
_REACH, _SIZES, _OFF, _RIM, _SPECK = 18.0, (2.0, 9.0), 1.0, 1.0, 1.0
# A hole fills so much of its box, is so much longer than wide, and alike others.
_FULL, _LONG, _ALIKE = 0.65, 1.4, 0.25


def without_holes(
    rgb: NDArray[np.uint8], scale: float
) -> tuple[NDArray[np.uint8], tuple[float, float] | None]:
    """Return a page with paper where a row of holes lies along a side, and one's place.

    A row is two or more dark patches of one size, in one line, with nothing beside
    them towards the side. The place is None, and the page as it was, where none is.

    `rgb` (h, w, 3): the page. `scale`: px a mm.
    """
    from PIL import Image
    from scipy import ndimage

    factor = max(1, round(scale / _FINE))
    small = np.asarray(Image.fromarray(rgb).convert("L").reduce(factor), np.float32)
    fine = scale / factor
    paper = ndimage.maximum_filter(small, round(_AROUND * fine))
    labels, _ = ndimage.label(small < _DARK * paper, np.ones((3, 3)))
    boxes = np.array([[s.start, s.stop] for b in boxes_of(labels) for s in b], float)
    if len(boxes) < 4:
        return rgb, None
    boxes = boxes.reshape(-1, 4)  # rows from and to, columns from and to
    tall, wide = boxes[:, 1] - boxes[:, 0], boxes[:, 3] - boxes[:, 2]
    area = np.bincount(labels.ravel(), minlength=len(boxes) + 1)[1:].astype(float)
    solid = area > _FULL * tall * wide
    solid &= np.minimum(tall, wide) > _SIZES[0] * fine
    solid &= np.maximum(tall, wide) < _SIZES[1] * fine
    solid &= np.maximum(tall, wide) < _LONG * np.minimum(tall, wide)
    holes, speck = np.zeros(len(boxes), bool), np.maximum(tall, wide) < _SPECK * fine
    height, width = small.shape
    for near, far in (
        (boxes[:, 0], boxes[:, 1]),
        (height - boxes[:, 1], height - boxes[:, 0]),
        (boxes[:, 2], boxes[:, 3]),
        (width - boxes[:, 3], width - boxes[:, 2]),
    ):
        holes |= _row(near / fine, far / fine, area, solid, speck)
    if not holes.any():
        return rgb, None
    result = rgb.copy()
    colour = np.median(rgb[::7, ::7], axis=(0, 1)).astype(np.uint8)
    for a, b, c, d in boxes[holes].tolist():
        up, left = (max(0, int(factor * v - _RIM * scale)) for v in (a, c))
        down, right = (int(factor * v + _RIM * scale) for v in (b, d))
        result[up:down, left:right] = colour
    a, b, c, d = boxes[int(np.argmax(holes))]
    return result, (float(factor * (c + d) / 2), float(factor * (a + b) / 2))


def _row(near: Floats, far: Floats, area: Floats, solid: Bools, speck: Bools) -> Bools:
    """Return which patches are the outermost along a side and holes in one row.

    `near`, `far`: from where to where they lie from the side, mm.
    """
    # what runs along the very rim is the table's
    beside = (near > _RIM) & ~speck
    some = solid & beside & (far < _REACH)
    if some.sum() < 2:
        return np.zeros(len(near), bool)
    middle = (near + far) / 2
    row = some & (np.abs(middle - np.median(middle[some])) < _OFF)
    row &= np.abs(area / np.median(area[some]) - 1) < _ALIKE
    if row.sum() < 2 or (beside & ~row & (near < far[row].max())).any():
        return np.zeros(len(near), bool)
    return row
