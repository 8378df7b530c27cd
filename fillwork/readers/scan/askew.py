"""How far a scan lies askew, from its own straight lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrays import Floats


# Sheets are laid on the glass straighter than this, degrees; patterns have lines
# at such small angles seldom.
_MOST = 3.0
_LEAST = 0.06
# px of the longer side, and pixels that are asked.
_SMALL, _SAMPLE = 1600, 60_000
# The right turn piles the ink of straight lines up this much more than others do.
_CLEAR = 1.3
# px: what the ink piles up to where a line lies along an axis; lines that do not and
# sway pile up to 3, a five-pointed star by an unsteady hand to 11 (drawn for it).
_LINE = 5.0
# A second angle that piles up so much of the most is one of the pattern's own, where
# between the two it falls to half.
_RIVAL = 0.5
# px: what is around a line.
_AROUND = 15


def measure_askew(rgb: NDArray[np.uint8]) -> float:
    """Return the angle by which a scan is to be turned.

    Degrees, counter-clockwise as one sees it; 0 where nothing is clear. `rgb` (h, w,
    3): the scan.

    Dark pixels are projected on both axes. Lines along an axis make peaks, so the
    sum of squares is largest where most lines lie straight. What stands out of its
    surroundings tells even a frame alone round circles whether lines are there.
    """
    from PIL import Image

    factor = max(1, round(max(rgb.shape[:2]) / _SMALL))
    grey = np.asarray(Image.fromarray(rgb).convert("L").reduce(factor), np.float64)
    # a rim of shadow is no line
    rim = max(2, min(grey.shape) // 50)
    inner = grey[rim:-rim, rim:-rim]
    rows, columns = np.nonzero(inner < 0.6 * np.percentile(inner, 75))
    if len(rows) < 100:
        return 0.0
    step = max(1, len(rows) // _SAMPLE)
    # about a pixel: halves would all be rounded to even places
    y, x = rows[::step] - inner.shape[0] // 2, columns[::step] - inner.shape[1] // 2
    place = np.stack([x, y]).astype(np.float64)
    half = int(np.hypot(*inner.shape) / 2) + 2
    coarse = np.arange(-_MOST, _MOST + 0.01, 0.15)
    heights = [_piled(place, half, a, peaks=True) for a in coarse]
    # of short lines several turns beside each other pile up as much
    even = np.flatnonzero(np.array(heights) == max(heights))
    even = even[even - even[0] == np.arange(len(even))]
    most = int(even[len(even) // 2])
    if heights[most] * step < _LINE * place.shape[1] or _rivalled(heights, most):
        return 0.0
    best = float(coarse[most])
    fine = np.arange(best - 0.2, best + 0.21, 0.02)
    high = [_piled(place, half, a) for a in fine]
    top = float(np.average(fine, weights=(np.array(high) - min(high)) ** 4 + 1e-9))
    clear = max(heights) > _CLEAR * float(np.median(heights))
    return top if clear and _LEAST < abs(top) < _MOST else 0.0


def _rivalled(heights: list[float], most: int) -> bool:
    """Tell whether as much lies straight, or at the same angle the other way.

    A drawing has mirrors, and a frame that is straight; a sheet that lies askew has
    turned all of it one way.
    """
    for other in (len(heights) // 2, len(heights) - 1 - most):
        # one turn beside it may pile up more; what falls between counts from there
        own, top = max(
            (heights[k], k)
            for k in (other - 1, other, other + 1)
            if 0 <= k < len(heights)
        )
        dip = min(heights[min(top, most) : max(top, most) + 1])
        if own > _RIVAL * heights[most] and dip < 0.5 * own:
            return True
    return False


def _piled(place: Floats, half: int, angle: float, *, peaks: bool = False) -> float:
    """Return how much ink lies in the same rows and columns after a turn."""
    from scipy import ndimage

    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    rows = np.rint(np.array([[c, s], [-s, c]]) @ place).astype(int) + half
    # as much room on either side, so that what ends there stands out alike
    piles = [np.bincount(row, minlength=2 * half + 1).astype(float) for row in rows]
    if peaks:
        piles = [np.maximum(p - ndimage.median_filter(p, _AROUND), 0.0) for p in piles]
    return sum(float((p**2).sum()) for p in piles)
