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
# what is cut aslant fills less of the rectangle about it; a triangle fills half
_FILLED = 0.75


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
    """Return lengths of faces as wide as their bands, or cut lengthwise or aslant."""
    import shapely

    area = np.abs(arrangement.area[face])
    about = shapely.oriented_envelope(arrangement.polygons(face, valid=True))
    # what is no wider than the last digits has a line about it
    wide = shapely.get_type_id(about) == shapely.GeometryType.POLYGON
    corners = shapely.get_coordinates(about[wide]).reshape(-1, 5, 2)
    short, long = np.zeros((2, len(face)))
    sides = np.hypot(*np.diff(corners[:, :3], axis=1).T)
    short[wide], long[wide] = np.sort(sides, axis=0)
    thin = (short < (1 - _NARROWER) * width) & (long > width)
    thin &= area > _FILLED * short * long
    return np.asarray(np.where(thin, long, area / width))
