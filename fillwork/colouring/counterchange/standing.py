"""Where a region stands in a group: the operations that carry it over points."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.colouring.counterchange.subgroups import Element, PatternGroup


def _offsets(rank: int, reach: int) -> list[tuple[int, ...]]:
    span = sorted(range(-reach, reach + 1), key=abs)
    if rank == 0:
        return [()]
    if rank == 1:
        return [(a,) for a in span]
    return sorted(
        ((a, b) for a in span for b in span), key=lambda t: (abs(t[0]) + abs(t[1]), t)
    )


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
    away = np.linalg.pinv(group.basis) if group.rank else np.zeros((2, 0))
    count = len(points)
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
        whole = np.rint((inside - home) @ away).astype(np.int64)
        for offset in offsets:
            steps = whole + np.array(offset, np.int64).reshape(1, -1)
            back = inside - steps @ group.basis if group.rank else inside
            hit = shapely.contains_xy(polygon, back[:, 0], back[:, 1])
            apart = np.hypot(*(back - home).T)
            better = hit & ~sure[rows] | ~sure[rows] & ~hit & (apart < near[rows])
            near[rows[better]] = apart[better]
            part[rows[better]] = g
            turned = (
                steps
                @ np.array(group.matrix[g], np.int64).reshape(group.rank, group.rank).T
            )
            move[rows[better]] = turned[better]
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
    away = np.linalg.pinv(group.basis) if group.rank else np.zeros((2, 0))
    found: list[Element] = []
    for g in range(group.order):
        # where centroids meet, the face lies over itself
        image = group.linear[g] @ centre + group.shift[g]
        whole = np.rint((centre - image) @ away).astype(np.int64)
        for offset in _offsets(group.rank, 1):
            t = whole + np.array(offset, np.int64)
            point = group.linear[g] @ home + group.shift[g] + t @ group.basis
            if bool(shapely.contains_xy(polygon, point[0], point[1])):
                found.append((g, tuple(int(v) for v in t)))
                break
    return tuple(found)
