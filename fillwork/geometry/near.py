"""Points near points: pairs within a distance, and nearest ones.

A tree of shapely serves, which every survey has loaded anyway; another library's
would take longer to load than a small drawing takes to survey.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from fillwork.arrays import Floats, Ints


def pairs_within(
    points: Floats, others: Floats, distance: float | Floats
) -> tuple[Ints, Ints]:
    """Return which points lie within a distance of which others.

    `points` (n, 2): points. `others` (m, 2): points that are looked for. `distance`
    (n,): how far they may be, one for all or of each of the first points. Returns `row`
    and `other`: pairs, by the first and then by the second; a point that is among the
    others is paired with itself.

    Examples
    --------
    >>> points = np.array([[0.0, 0.0], [3.0, 4.0], [9.0, 0.0]])
    >>> row, other = pairs_within(points, points, 5.0)
    >>> list(zip(row.tolist(), other.tolist()))
    [(0, 0), (0, 1), (1, 0), (1, 1), (2, 2)]
    """
    import shapely

    if not len(points) or not len(others):
        none = np.zeros(0, np.int64)
        return none, none
    places: Any = shapely.points(others)
    tree = shapely.STRtree(places)
    row, other = tree.query(shapely.points(points), "dwithin", distance=distance)
    order = np.lexsort((other, row))
    return row[order].astype(np.int64), other[order].astype(np.int64)


def nearest_points(points: Floats, others: Floats) -> tuple[Floats, Ints]:
    """Return how far each point is from the nearest other one, and which that is.

    `points` (n, 2): points. `others` (m, 2): points that are looked for, one at least.
    Returns `distance` (n,): distances; `other` (n,): the nearest ones; the first of
    those that are equally near.

    Examples
    --------
    >>> nearest_points(np.array([[0.0, 1.0]]), np.array([[4.0, 4.0], [0.0, 0.0]]))
    (array([1.]), array([1]))
    """
    import shapely

    if not len(points):
        return np.zeros(0), np.zeros(0, np.int64)
    places: Any = shapely.points(others)
    tree = shapely.STRtree(places)
    row, other = tree.query_nearest(shapely.points(points))
    order = np.lexsort((other, row))
    row, first = np.unique(row[order], return_index=True)
    other = other[order][first].astype(np.int64)
    return np.hypot(*(points - others[other]).T), other


def most_crowded(place: Floats, cell: float) -> Ints:
    """Return which places lie in the square that holds most of them."""
    if len(place) == 0:
        return np.empty(0, np.int64)
    square = np.round(place / cell)
    order = np.lexsort(square.T)
    new = np.r_[True, (np.diff(square[order], axis=0) != 0).any(axis=1)]
    lead = np.flatnonzero(new)
    count = np.diff(np.r_[lead, len(order)])
    most = int(np.argmax(count))
    return order[lead[most] : lead[most] + count[most]]
