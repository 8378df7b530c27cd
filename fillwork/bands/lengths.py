"""How long strands are where a frame leaves pieces that have no two rails."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.bands.model import BAND

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats, Ints


# a piece is cut lengthwise when it is narrower than its band by more than this share
_NARROWER = 0.05
# and nowhere broader than the rectangle by more than this; triangles, cut aslant, are
# by 1.48 to 2
_BROADER = 1.2


def lengths_at_frames(
    arrangement: Arrangement,
    part: Ints,
    strand: Ints,
    through: Ints,
    shaped: Bools,
    widths: Floats,
) -> Floats:
    """Return by how much strands are longer than their pieces of known shape, mm.

    `part`, `strand` and `through`: as `Bands` has them. `shaped` (F,): faces of known
    shape. `widths`: of strands, mm.
    """
    face = np.flatnonzero((part == BAND) & (strand >= 0) & ~shaped)
    crossing = through[~shaped[through[:, 0]]]
    face = np.r_[face, crossing[:, 0], crossing[:, 0]]
    of = np.r_[strand[face[: len(face) - 2 * len(crossing)]], *crossing[:, 1:].T]
    long = _lengths(arrangement, face, widths[of])
    return np.asarray(np.bincount(of, long, len(widths)), np.float64)


def _lengths(arrangement: Arrangement, face: Ints, width: Floats) -> Floats:
    """Return lengths of faces as wide as their bands, or cut lengthwise or aslant.

    What is cut lengthwise is as long as a rectangle of its area and circumference,
    be it straight or bent.
    """
    import shapely

    area = np.abs(arrangement.area[face])
    shapes = arrangement.polygons(face, valid=True)
    half = shapely.length(shapes) / 2
    spread = np.sqrt(np.maximum(half**2 - 4 * area, 0.0))
    short, long = (half - spread) / 2, (half + spread) / 2
    within = np.minimum(_BROADER * short, (1 - _NARROWER) * width) / 2
    thin = shapely.is_empty(shapely.buffer(shapes, -within)) & (long > width)
    return np.asarray(np.where(thin, long, area / width))
