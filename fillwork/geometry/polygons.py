"""Areas of polygons and of what curves add to them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.geometry.crossings import cross
from fillwork.geometry.curves import ARC, CUBIC, Curves

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrays import AnyInts, Floats, Ints


def ring_sides(ring: Floats) -> Floats:
    """Return the sides of a closed ring.

    `ring` (n, 2): vertices in order; the last is joined to the first. Returns (n, 4):
    x, y, x, y of the ends of each side.

    Examples
    --------
    >>> ring_sides(np.array([[0, 0], [2, 0], [0, 1]])).tolist()
    [[0, 0, 2, 0], [2, 0, 0, 1], [0, 1, 0, 0]]
    """
    return np.hstack([ring, np.roll(ring, -1, axis=0)])


def ring_curves(ring: Floats) -> Curves:
    """Return the sides of a closed ring as straight lines, end to end.

    `ring` (n, 2): vertices in order; the last is joined to the first.
    """
    return Curves.from_segments(ring_sides(ring))


def polygon_sides(shape: Any) -> list[Floats]:
    """Return the sides of polygons, ring by ring.

    `shape` (shapely geometry): polygons; other parts are left out. Returns (n, 4): of
    outer rings and holes: the ends of each side.
    """
    import shapely

    return [
        ring_sides(np.asarray(ring.coords)[:-1])
        for part in shapely.get_parts(shape)
        if part.geom_type == "Polygon" and part.area > 0
        for ring in (part.exterior, *part.interiors)
    ]


def sides_of_each(shapes: NDArray[np.object_]) -> tuple[Floats, Ints]:
    """Return the sides of many polygons at once.

    `shapes` (n,): shapely polygons, none empty. Returns `sides` (m, 4): as
    `polygon_sides` gives them, polygon by polygon; `limits` (n + 1,): where the sides
    of each begin and end.
    """
    import shapely

    rings, owner = shapely.get_rings(shapes, return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    same = np.flatnonzero(ring[1:] == ring[:-1])
    count = np.bincount(owner[ring[same]], minlength=len(shapes))
    limits = np.concatenate([[0], np.cumsum(count)]).astype(np.int64)
    return np.hstack([points[same], points[same + 1]]), limits


def signed_area(ring: Floats) -> float:
    """Return the signed area of a closed ring.

    Area in mm², positive when the ring runs counter-clockwise.

    `ring` (n, 2), mm: vertices in order; the last is joined to the first. Raises
    `ValueError` if fewer than three vertices are given.

    The shoelace formula [1]_, in O(n) time.

    References
    ----------
    .. [1] B. Braden, "The surveyor's area formula", The College Mathematics
       Journal 17(4), 326-337, 1986.

    Examples
    --------
    >>> signed_area(np.array([[0.0, 0.0], [2.0, 0.0], [0.0, 1.0]]))
    1.0
    """
    ring = np.asarray(ring, dtype=np.float64)
    if len(ring) < 3:
        what = f"a ring needs at least three vertices, this one has {len(ring)}"
        raise ValueError(what)
    local = ring - ring[0]
    return float(cross(local, np.roll(local, -1, axis=0)).sum() / 2)


def bulge_areas(curves: Curves, index: AnyInts, t0: Floats, t1: Floats) -> Floats:
    """Return the signed areas between parts of curves and their chords.

    `index` (n,): which curve. `t0` and `t1` (n,): the part; t0 > t1 runs backwards.
    Returns (n,): areas in mm², positive where the part runs counter-clockwise round the
    area that it encloses with its chord; 0 for lines.

    Green's theorem, 1/2 ∮ x dy - y dx, is exact in closed form: for an arc
    c + u cos s + v sin s the area is (u × v) (Δs - sin Δs) / 2; for a cubic with
    control points a, b, c relative to the first it is
    3/20 (a × b + a × c + 2 b × c), by integrating the Bernstein polynomials.
    """
    index = np.asarray(index)
    area = np.zeros(len(index))
    kind = curves.kind[index]
    arcs = np.flatnonzero(kind == ARC)
    if len(arcs):
        d = curves.data[index[arcs]]
        u, v = d[:, 2:4], d[:, 4:6]
        sweep = d[:, 7] - d[:, 6]
        s0, s1 = d[:, 6] + t0[arcs] * sweep, d[:, 6] + t1[arcs] * sweep
        # P0 × P1 about the centre is (u × v) sin(s1 - s0)
        turn = s1 - s0
        small = np.abs(turn) < 0.02
        series = turn**3 / 6 - turn**5 / 120 + turn**7 / 5040
        area[arcs] = cross(u, v) * np.where(small, series, turn - np.sin(turn)) / 2
    cubics = np.flatnonzero(kind == CUBIC)
    if len(cubics):
        part = curves.part(index[cubics], t0[cubics], t1[cubics]).data
        p = part.reshape(-1, 4, 2)
        a, b, c = p[:, 1] - p[:, 0], p[:, 2] - p[:, 0], p[:, 3] - p[:, 0]
        area[cubics] = 0.15 * (cross(a, b) + cross(a, c) + 2 * cross(b, c))
    return area
