"""Which kinds of region touch, and along how much of their edges.

Two faces *touch* where they share an edge; they meet in a *corner* where they
share a vertex and no edge. The unbounded face touches nobody. Lengths are those
of the true curves, not of their chords.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.model import Arrangement
from fillwork.colouring.model import Adjacency
from fillwork.geometry.curves import ARC, LINE
from fillwork.geometry.ranges import distinct
from fillwork.symmetry.model import Orbits
from fillwork.values import check_kind

if TYPE_CHECKING:
    from numpy.typing import NDArray

# times the longest gap that was closed at a corner, up to which an edge that two
# regions share may be left of such a place
_MISSED = 1.5


def measure_edges(
    arrangement: Arrangement, edges: NDArray[np.integer]
) -> NDArray[np.float64]:
    """Return the true length of edges.

    `edges` (n,): which edges. Returns (n,): lengths in mm: exact for lines and arcs of
    circles, by quadrature for arcs of ellipses and Bézier curves.
    """
    edges = np.asarray(edges)
    curve = arrangement.edge_curve[edges]
    span = arrangement.edge_span[edges]
    kind = arrangement.curves.kind[curve]
    data = arrangement.curves.data
    length = np.zeros(len(edges))
    part = np.abs(span[:, 1] - span[:, 0])
    straight = np.flatnonzero(kind == LINE)
    d = data[curve[straight]]
    length[straight] = np.hypot(d[:, 2] - d[:, 0], d[:, 3] - d[:, 1]) * part[straight]
    arcs = np.flatnonzero(kind == ARC)
    d = data[curve[arcs]]
    u2, v2 = (d[:, 2:4] ** 2).sum(axis=1), (d[:, 4:6] ** 2).sum(axis=1)
    dot = np.abs((d[:, 2:4] * d[:, 4:6]).sum(axis=1))
    circle = (np.abs(u2 - v2) <= 1e-9 * u2) & (dot <= 1e-9 * u2)
    rows = arcs[circle]
    length[rows] = np.sqrt(u2[circle]) * np.abs(
        (d[circle, 7] - d[circle, 6]) * part[rows]
    )
    rest = np.concatenate(
        [arcs[~circle], np.flatnonzero((kind != LINE) & (kind != ARC))]
    )
    for first in range(0, len(rest), 200_000):
        rows = rest[first : first + 200_000]
        pieces = arrangement.curves.part(curve[rows], span[rows, 0], span[rows, 1])
        length[rows] = pieces.lengths()
    return length


def sum_pairs(
    ends: NDArray[np.integer], value: NDArray[np.float64], count: int
) -> tuple[NDArray[np.int32], NDArray[np.float64]]:
    """Return each unordered pair once, ascending, with its summed value.

    `ends` (n, 2): pairs of so many things.
    """
    low, high = np.sort(ends, axis=1).astype(np.int64).T
    key, where = np.unique(low * count + high, return_inverse=True)
    total = np.bincount(where, weights=value, minlength=len(key))
    pairs = np.stack(np.divmod(key, max(count, 1)), axis=1).astype(np.int32)
    return pairs, np.asarray(total, np.float64)


def contacts(
    adjacency: Adjacency, *, corners: bool
) -> tuple[NDArray[np.int32], NDArray[np.float64]]:
    """Return pairs of faces that touch, and along which lengths, mm.

    `corners`: whether those count that meet in corners only, which have no length.
    """
    pairs, shared = adjacency.face_pairs, adjacency.face_shared
    if corners:
        pairs = np.concatenate([pairs, adjacency.face_corners])
        shared = np.concatenate([shared, np.zeros(len(adjacency.face_corners))])
    return pairs, shared


def _corner_pairs(
    arrangement: Arrangement, face_pairs: NDArray[np.int32]
) -> NDArray[np.int32]:
    """Return pairs of faces that share a vertex and no edge."""
    count = arrangement.face_count
    inside = arrangement.face > 0
    vertex = arrangement.origin[inside].astype(np.int64)
    face = arrangement.face[inside].astype(np.int64)
    key = distinct(vertex * count + face)
    vertex, face = key // count, key % count
    start = np.flatnonzero(np.r_[True, vertex[1:] != vertex[:-1]])
    left = np.repeat(np.r_[start[1:], len(vertex)], np.diff(np.r_[start, len(vertex)]))
    left = left - np.arange(len(vertex)) - 1  # faces that follow at the same vertex
    found = []
    rows = np.flatnonzero(left >= 1)
    step = 1
    while len(rows):
        found.append(distinct(face[rows] * count + face[rows + step]))
        step += 1
        rows = rows[left[rows] >= step]
    if not found:
        return np.empty((0, 2), np.int32)
    corner = distinct(np.concatenate(found))
    shared = face_pairs[:, 0].astype(np.int64) * count + face_pairs[:, 1]
    corner = corner[~np.isin(corner, shared)]
    return np.stack([corner // count, corner % count], axis=1).astype(np.int32)


def _is_contact(
    arrangement: Arrangement,
    face_pairs: NDArray[np.int32],
    face_shared: NDArray[np.float64],
) -> NDArray[np.bool_]:
    """Tell edges that the eye sees from corners where lines miss by a hair.

    Where several lines should meet in one point and do not quite, opposite
    regions share an edge that nobody drew, as they do where two points of figures
    miss each other and what is between was closed. Under a hundredth of the smaller
    region's width, or no longer than such a gap, it counts as a corner.
    """
    if not len(face_pairs):
        return np.ones(0, np.bool_)
    width = np.sqrt(arrangement.area[face_pairs].min(axis=1))
    gap = _MISSED * arrangement.corner_gap
    missed = max(4 * arrangement.tolerance.join_within, gap)
    least = np.maximum(0.01 * width, missed)
    return np.asarray(face_shared > np.minimum(least, 0.25 * width))


def _with_corners(
    pairs: NDArray[np.int32],
    shared: NDArray[np.float64],
    kinds: NDArray[np.int32],
    count: int,
) -> tuple[NDArray[np.int32], NDArray[np.float64], NDArray[np.bool_]]:
    """Return pairs of kinds, those that meet in corners alone as well, and which.

    `kinds` (n, 2): those of faces that meet in a corner alone.
    """
    corner_only = np.zeros(len(pairs), bool)
    if not len(kinds):
        return pairs, shared, corner_only
    met = (kinds >= 0).all(axis=1) & (kinds[:, 0] != kinds[:, 1])
    none = np.zeros(int(met.sum()))
    extra, _ = sum_pairs(kinds[met], none, count)
    extra = extra[~np.isin(extra @ (count, 1), pairs @ (count, 1))]
    pairs = np.concatenate([pairs, extra])
    shared = np.concatenate([shared, np.zeros(len(extra))])
    corner_only = np.arange(len(pairs)) >= len(corner_only)
    order = np.lexsort((pairs[:, 1], pairs[:, 0]))
    return pairs[order], shared[order], corner_only[order]


def measure_adjacency(
    arrangement: Arrangement, orbits: Orbits, *, corners: bool = False
) -> Adjacency:
    """Find which kinds touch and measure how much edge they share.

    Parameters
    ----------
    arrangement : Arrangement
        The regions.
    orbits : Orbits
        Their kinds.
    corners : bool
        Whether contacts in corners only are listed too.

    Returns
    -------
    Adjacency
        Pairs of kinds and of faces, lengths in mm, areas in mm².

    Notes
    -----
    O(E log E) for E edges. A vertex where d faces meet gives up to d(d - 1)/2
    corner pairs.
    """
    check_kind(arrangement, Arrangement, "arrangement")
    check_kind(orbits, Orbits, "orbits")
    sides = arrangement.face.reshape(-1, 2)
    edges = np.flatnonzero((sides > 0).all(axis=1) & (sides[:, 0] != sides[:, 1]))
    face_pairs, face_shared = sum_pairs(
        sides[edges], measure_edges(arrangement, edges), arrangement.face_count
    )
    real = _is_contact(arrangement, face_pairs, face_shared)
    face_pairs, face_shared = face_pairs[real], face_shared[real]
    face_corners = (
        _corner_pairs(arrangement, face_pairs)
        if corners
        else np.empty((0, 2), np.int32)
    )
    count = max(len(orbits.orbits), 1)
    of_face = orbits.of_face
    kinds = of_face[face_pairs]
    known = (kinds >= 0).all(axis=1)
    pairs, shared = sum_pairs(kinds[known], face_shared[known], count)
    # pieces of one strand are one paint where they meet
    bands = np.array([orbit.band for orbit in orbits.orbits], bool)
    if bands.any():
        within = known & (kinds[:, 0] == kinds[:, 1]) & bands[kinds[:, 0]]
        face_pairs, face_shared = face_pairs[~within], face_shared[~within]
        strand = (pairs[:, 0] == pairs[:, 1]) & bands[pairs[:, 0]]
        pairs, shared = pairs[~strand], shared[~strand]
    own = pairs[:, 0] == pairs[:, 1]
    alone = pairs[own, 0].astype(np.int32)
    pairs, shared = pairs[~own], shared[~own]
    pairs, shared, corner_only = _with_corners(
        pairs, shared, of_face[face_corners], count
    )
    inside = of_face >= 0
    area = np.bincount(
        of_face[inside], weights=arrangement.area[inside], minlength=len(orbits.orbits)
    ).astype(np.float64)
    result = Adjacency(
        pairs=pairs,
        shared=shared,
        corner_only=corner_only,
        self_adjacent=alone,
        area=area,
        face_pairs=face_pairs,
        face_shared=face_shared,
        face_corners=face_corners,
    )
    for name in result.__dataclass_fields__:
        getattr(result, name).setflags(write=False)
    return result
