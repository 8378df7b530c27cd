"""What a drawn panel has round its field that is not drawn anew at another size."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fillwork.laying.repeats import part_region

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Floats
    from fillwork.laying.repeats import Part

_LIKE = 0.1  # of its area by which a hand draws a figure otherwise

_QUARTER = np.array([[0.0, 1.0], [-1.0, 0.0]])
_TURNS = [
    np.linalg.matrix_power(_QUARTER, k) @ np.diag([1.0, flip])
    for k in range(4)
    for flip in (1.0, -1.0)
]
"""Turns and mirrors of a square, as what points are multiplied by from the right."""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Say what of a frame has no place in the one that is laid."""

    borders: int  # how many lie one inside the other
    width: float  # of the one that is laid, mm
    corners: bool  # whether its four corners are unlike


def find_left_out(part: Part) -> LeftOut | None:
    """Return what is left out of the frame round a field; None where nothing is.

    One border is laid, that of the largest side, and its lower left corner four times.
    """
    arrangement = part.arrangement
    sides = [
        part_region(arrangement, zone).bounds
        for zone in part.zones
        if zone.role == "border"
    ]
    if not sides:
        return None
    boxes = np.array(sides)
    whole = np.r_[boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)]
    size = boxes[:, 2:] - boxes[:, :2]
    level = size[:, 0] >= size[:, 1]
    width = size.min(axis=1)
    middle = np.where(level[:, None], boxes[:, 1::2], boxes[:, ::2]).mean(axis=1)
    first, last = (np.where(level, whole[k + 1], whole[k]) for k in (0, 2))
    depth = np.minimum(middle - first, last - middle)
    borders = 1 + int((np.diff(np.sort(depth)) > width.min() / 2).sum())
    ring = np.abs(depth - depth[0]) <= width[0] / 2
    own = boxes[ring]
    left, low = own[:, :2].min(axis=0)
    right, high = own[:, 2:].max(axis=0)
    w = float(width[0])
    squares = [(x, y) for x in (left, right - w) for y in (low, high - w)]
    pieces = [_pieces_in(arrangement, np.array(at), w) for at in squares]
    unlike = not all(_alike(pieces[0], other) for other in pieces[1:])
    if borders == 1 and not unlike:
        return None
    return LeftOut(borders, w, unlike)


def _pieces_in(arrangement: Arrangement, corner: Floats, width: float) -> NDArray[Any]:
    """Return the regions within a square as polygons of a square of side 2 about 0."""
    at = arrangement.witness - corner
    inside = np.asarray(((at > 0) & (at < width)).all(axis=1))
    inside &= arrangement.area <= width**2 * (1 + _LIKE)
    faces = np.flatnonzero(inside)
    shapes = arrangement.polygons(faces[faces > 0], valid=True)
    middle = corner + width / 2
    return np.asarray(
        shapely.transform(shapes, lambda points: (points - middle) * (2 / width))
    )


def _turned(turn: Floats, points: Floats) -> Floats:
    return np.asarray(points @ turn)


def _alike(pieces: NDArray[Any], others: NDArray[Any]) -> bool:
    """Return whether two squares hold the same, turned or mirrored in any way."""
    if len(pieces) != len(others):
        return False
    for turn in _TURNS:
        turned = shapely.transform(others, functools.partial(_turned, turn))
        apart = shapely.symmetric_difference(pieces[:, None], turned[None, :])
        least = shapely.area(apart).min(axis=1, initial=np.inf)
        if bool((least <= _LIKE * shapely.area(pieces)).all()):
            return True
    return False
