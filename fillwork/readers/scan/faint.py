"""A sheet on a table as bright as it is, found by the faint steps along its sides."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.readers.scan.circles import inward
from fillwork.readers.scan.pixels import patches, seen_at
from fillwork.readers.scan.sheet import (
    Outline,
    area_of,
    crossed,
    refine,
    straight_lines,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrays import Floats, Floats32

# px of the small picture: its longer side, what is no line, half a step, across a
# side; the share of a side that is its end.
_SMALL, _BROAD, _HALF, _ACROSS, _END = 1000, 13, 3, 5.0, 0.04
# px: how far grain is evened out, and a step along its side; the least run of steps.
_CALM, _ALONG, _RUN, _LINES = 1.5, 7, 8, 12
# Steps in the logarithm of brightness: the least that is seen, one that is plain, and
# what only shadows make, as such a table would have shown before.
_LEAST, _PLAIN, _MOST = 0.008, 0.02, 0.25
# Each side is seen along so much of its length; the least share of the picture.
_SEEN, _AREA = 0.65, 0.12
_PLACES = 12_000


def faint_outline(rgb: NDArray[np.uint8]) -> Outline | None:
    """Return the outline of a sheet that is hardly brighter or darker than its ground.

    Drawn lines have the same paper on both sides, so that what is left without them
    steps at the sheet's sides alone. None where no four sides step the same way.

    `rgb` (h, w, 3): the picture.
    """
    from PIL import Image
    from scipy import ndimage

    height, width = rgb.shape[:2]
    factor = -(-max(height, width) // _SMALL)
    small = np.asarray(Image.fromarray(rgb).reduce(factor)).astype(np.float32)
    even = ndimage.grey_closing(small.mean(axis=2), size=(_BROAD, _BROAD))
    even = ndimage.gaussian_filter(even, _CALM)
    log = np.log(even + 1.0)
    lines = straight_lines(_stepped(log), _LINES)
    best, most, way = None, 0.0, 0.0
    for four in crossed(lines, even.shape):
        area = area_of(four)
        if area < _AREA * even.size:
            continue
        steps = _steps(log, four)
        for sign in (1.0, -1.0):
            seen = [float((sign * side > _LEAST).mean()) for side in steps]
            step = [float(np.median(sign * side)) for side in steps]
            # the edge of a shadow across the sheet lies within its sides
            worth = area * sum(seen) * min(1.0, min(step) / _PLAIN)
            if min(seen) > _SEEN and max(step) < _MOST and worth > most:
                best, most, way = four, worth, sign
    if best is None:
        return None
    whole = tuple(np.ones(2, bool) for _ in range(4))
    bright: Floats32 = even if way > 0 else np.float32(255.0) - even
    found = refine(bright, best + 0.5, whole, 4.0, faint=True)
    # a line through steps is rough: what it showed leads to the side
    found = found and refine(bright, found.corners, whole, 4.0, faint=True)
    if found is None:
        return None
    sides = tuple(factor * side for side in found.sides)
    return Outline(factor * found.corners, sides, found.torn, faint=True)


def _stepped(log: Floats32) -> Floats:
    """Return places where brightness steps most, (n, 2): px."""
    half, (high, wide) = _HALF, log.shape
    inner = log[half:-half, half:-half]
    across = log[half:-half, 2 * half :] - log[half:-half, : wide - 2 * half]
    down = log[2 * half :, half:-half] - log[: high - 2 * half, half:-half]
    seen = np.zeros(inner.shape, bool)
    for step, other, axis in ((across, down, 1), (down, across, 0)):
        size = np.abs(step)
        top = (size >= np.roll(size, 1, axis)) & (size > np.roll(size, -1, axis))
        seen |= top & (size > _LEAST) & (size >= np.abs(other))
    seen = np.pad(seen[1:-1, 1:-1], half + 1)
    runs, _ = patches(seen)
    seen &= (np.bincount(runs.ravel()) >= _RUN)[runs]
    places = np.argwhere(seen)[:, ::-1].astype(np.float64)
    return places[:: max(1, len(places) // _PLACES)]


def _steps(log: Floats32, corners: Floats) -> list[Floats]:
    """Return along each side how much brighter its inside is."""
    from scipy import ndimage

    found = []
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        across = _ACROSS * inward(b - a)
        at = a + np.linspace(_END, 1 - _END, 120)[:, None] * (b - a)
        inner, outer = seen_at(log, at + across), seen_at(log, at - across)
        found.append(ndimage.uniform_filter1d(inner - outer, _ALONG))
    return found
