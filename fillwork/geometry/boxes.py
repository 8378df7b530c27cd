"""Boxes round points."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from fillwork.arrays import Floats


def bounds(points: Floats) -> tuple[Floats, Floats]:
    """Return the lower left and upper right corner of the box round points.

    `points` (n, 2): points, at least one. Returns `low` and `high` (2,): corners.
    """
    # column by column: numpy takes many times longer along rows of two
    x, y = points[:, 0], points[:, 1]
    return np.array([x.min(), y.min()]), np.array([x.max(), y.max()])


def box_ring(low: Floats, high: Floats) -> Floats:
    """Return the corners of a box, counter-clockwise from the lower left.

    `low` and `high` (2,): its lower left and upper right corner. Returns (4, 2).
    """
    (x0, y0), (x1, y1) = low, high
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=np.float64)
