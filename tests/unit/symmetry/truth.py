"""Which kind each region of a constructed pattern has, by its construction.

The uncut, undisturbed pattern is closed to polygons. Polygons whose centres the
pattern's own operations carry onto each other are one kind. A region of the drawing
is part of one polygon of the uncut pattern with moved corners, and that one is the
undisturbed polygon that it shares most of its area with. The package's own
code has no part in this.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from tests.unit.symmetry.patterns import Pattern

__all__ = ["kinds_by_construction"]


def _polygons(segments: np.ndarray) -> np.ndarray:
    lines = shapely.linestrings(segments.reshape(-1, 2, 2))
    lines = shapely.get_parts(shapely.unary_union(lines, grid_size=1e-7))
    return np.array(shapely.get_parts(shapely.polygonize(lines)))


def _orbits(polygons: np.ndarray, pattern: Pattern) -> np.ndarray:
    """Return the kind of each polygon of the undisturbed pattern."""
    centre = shapely.get_coordinates(shapely.centroid(polygons))
    size = np.sqrt(shapely.area(polygons))
    rank = len(pattern.basis) if pattern.basis.size else 0
    scale = float(np.sqrt(pattern.window.area)) / 50

    def marks(points: np.ndarray) -> np.ndarray:
        if rank == 0:
            return np.column_stack([points / scale, size / scale])
        along = points @ np.linalg.pinv(pattern.basis)
        wave = np.exp(2j * np.pi * along)
        length = np.linalg.norm(pattern.basis, axis=1)
        wave = wave * length / (2 * np.pi * scale)
        rest = points - along @ pattern.basis
        return np.column_stack([wave.real, wave.imag, rest / scale, size / scale])

    tree = cKDTree(marks(centre))
    rows, columns = [], []
    for matrix, shift in pattern.maps:
        image = marks(centre @ matrix + shift)
        for row, near in enumerate(tree.query_ball_point(image, 1e-3)):
            rows += [row] * len(near)
            columns += near
    count = len(polygons)
    graph = coo_array((np.ones(len(rows)), (rows, columns)), shape=(count, count))
    return connected_components(graph, directed=False)[1]


def _largest_share(
    parts: np.ndarray, wholes: np.ndarray, each_way: bool = False
) -> tuple[np.ndarray, np.ndarray]:
    """Return the whole that each part overlaps most, and which share of it."""
    tree = shapely.STRtree(wholes)
    part, whole = tree.query(parts, predicate="intersects")
    shared = shapely.area(shapely.intersection(parts[part], wholes[whole]))
    total = shapely.area(parts)[part]
    if each_way:
        total = np.maximum(total, shapely.area(wholes)[whole])
    order = np.lexsort((shared, part))
    last = np.flatnonzero(np.diff(part[order], append=len(parts)))
    best = np.full(len(parts), -1)
    share = np.zeros(len(parts))
    best[part[order][last]] = whole[order][last]
    share[part[order][last]] = (shared / total)[order][last]
    return best, share


def kinds_by_construction(
    pattern: Pattern, arrangement: Arrangement, offset: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return kind and cut flag of faces 1, 2, ... of a drawing of the pattern.

    ``offset`` is what was added to the pattern's points. The kind is -1 where moved
    corners, or ends that were joined, made a region that the undisturbed pattern does
    not have, and for pieces of a region that is open all over the plane.
    """
    clean = _polygons(pattern.clean)
    moved = clean if pattern.moved is pattern.clean else _polygons(pattern.moved)
    orbit = _orbits(clean, pattern)
    drawn = np.asarray(arrangement.polygons(np.arange(1, arrangement.face_count)))
    drawn = shapely.transform(drawn, lambda xy: xy - offset)
    drawn = shapely.make_valid(drawn)
    onto, share = _largest_share(drawn, moved)
    kind = np.full(len(drawn), -1)
    if moved is clean:
        known = share > 0.9
        kind[known] = orbit[onto[known]]
    else:
        back, alike = _largest_share(shapely.make_valid(moved), clean, each_way=True)
        known = share > 0.9
        known[known] = alike[onto[known]] > 0.5
        kind[known] = orbit[back[onto[known]]]
    cut = np.ones(len(drawn), bool)
    some = onto >= 0
    cut[some] = ~shapely.within(moved[onto[some]], pattern.window)
    # a line that all but reaches another parts a region in the drawing alone
    some &= ~cut
    rows = np.flatnonzero(some)
    whole = shapely.area(moved[onto[rows]])
    kind[rows[shapely.area(drawn[rows]) < 0.9 * whole]] = -1
    return kind, cut
