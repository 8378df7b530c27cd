"""Regions that only the misses of the lines made."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement

    Specks = tuple[NDArray[np.float64], NDArray[np.int64]]


_SPECK = 3.0  # times the slack: what is no larger is one point


def find_specks(arrangement: Arrangement) -> Specks | None:
    """Return the corners of regions hardly larger than the slack.

    Lines that were meant to meet in one point leave such regions where they miss
    it by a little more than any two of them show; all corners of one are one point.

    Returns
    -------
    (points, cluster) or None
        Corners, mm, shape (k, 2), and the region of each, shape (k,). None if there
        are no such regions, or so many that they must be meant.
    """
    most = _SPECK * arrangement.tolerance.join_within
    small = np.flatnonzero(arrangement.area[1:] < most * most) + 1
    if len(small) == 0:
        return None
    owner, corner, _ = arrangement.sides(small)
    lead = np.flatnonzero(np.r_[True, owner[1:] != owner[:-1]])
    low, high = np.minimum.reduceat(corner, lead), np.maximum.reduceat(corner, lead)
    tiny = np.hypot(*(high - low).T) < most
    if not tiny.any() or 2 * tiny.sum() >= arrangement.face_count:
        return None
    held = tiny[owner]
    return corner[held], owner[held]
