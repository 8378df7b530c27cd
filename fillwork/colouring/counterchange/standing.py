"""Where a region stands in a group: the operations that carry it over points."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.colouring.counterchange.subgroups import Element, PatternGroup


def _offsets(rank: int, reach: int) -> list[tuple[int, ...]]:
    """Return steps of a lattice each way, the shortest first."""
    steps = itertools.product(range(-reach, reach + 1), repeat=rank)
    return sorted(steps, key=lambda t: (sum(map(abs, t)), t))


def locate(
    polygon: Any, home: Floats, group: PatternGroup, points: Floats
) -> tuple[Ints, Ints, Bools]:
    """Find the operations that carry a region over points.

    `polygon` (shapely polygon): the region, mm. `home` (2,): a point inside it.
    `points` (n, 2): the points, mm. Returns `part` (n,): part of the point group;
    `move` (n, rank): translation. Points that no image of the region holds get the
    nearest; `sure` (n,): whether an image holds the point.
    """
    import shapely

    shapely.prepare(polygon)
    away, count = group.away, len(points)
    part = np.full(count, -1, np.int64)
    move = np.zeros((count, group.rank), np.int64)
    sure = np.zeros(count, bool)
    near = np.full(count, np.inf)
    offsets = _offsets(group.rank, 2)
    for g in range(group.order):
        rows = np.flatnonzero(~sure)
        if not len(rows):
            break
        # back by the operation, then by lattice vectors to the face
        inside = (points[rows] - group.shift[g]) @ group.linear[g]
        matrix = np.array(group.matrix[g], np.int64).reshape(group.rank, group.rank)
        whole = np.rint((inside - home) @ away).astype(np.int64)
        for offset in offsets:
            steps = whole + np.array(offset, np.int64).reshape(1, -1)
            back = inside - steps @ group.basis
            hit = shapely.contains_xy(polygon, back[:, 0], back[:, 1])
            apart = np.hypot(*(back - home).T)
            better = hit & ~sure[rows] | ~sure[rows] & ~hit & (apart < near[rows])
            near[rows[better]] = apart[better]
            part[rows[better]] = g
            move[rows[better]] = steps[better] @ matrix.T
            sure[rows[hit]] = True
    return part, move, sure


def find_stabiliser(
    polygon: Any, home: Floats, group: PatternGroup
) -> tuple[Element, ...]:
    """Find the operations that carry a region onto itself.

    `polygon` (shapely polygon): the region, mm. `home` (2,): a point inside it. Returns
    the operations.
    """
    import shapely

    centre = np.array(polygon.centroid.coords[0])
    away = group.away
    found: list[Element] = []
    for g in range(group.order):
        # where centroids meet, the face lies over itself
        image = group.linear[g] @ centre + group.shift[g]
        whole = np.rint((centre - image) @ away).astype(np.int64)
        for offset in _offsets(group.rank, 1):
            t = whole + np.array(offset, np.int64)
            point = group.linear[g] @ home + group.shift[g] + t @ group.basis
            if bool(shapely.contains_xy(polygon, point[0], point[1])):
                found.append((g, tuple(t.tolist())))
                break
    return tuple(found)
