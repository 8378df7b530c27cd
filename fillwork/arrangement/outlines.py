"""True outlines of faces: the original curves, split exactly."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.model import Arrangement, Outlines
from fillwork.geometry.curves import CUBIC, LINE, Curves
from fillwork.values import check_kind

if TYPE_CHECKING:
    from numpy.typing import NDArray


def half_edge_curves(arrangement: Arrangement, half: NDArray[np.integer]) -> Curves:
    """Return half-edges as parts of the curves they run along, each from its origin.

    `half` (n,): half-edges; ``2 * edge`` runs as its edge does.
    """
    edge, side = half >> 1, half & 1
    span = arrangement.edge_span
    return arrangement.curves.part(
        arrangement.edge_curve[edge], span[edge, side], span[edge, 1 - side]
    )


def build_outlines(arrangement: Arrangement) -> Outlines:
    """Return the boundary rings of all faces as parts of the original curves.

    Parameters
    ----------
    arrangement : Arrangement
        Faces and their half-edges.

    Returns
    -------
    Outlines
        Half-edges that follow each other along one curve are one piece. Ends
        of lines and Béziers are moved onto the vertices, by `join_within` at
        most, so that pieces meet; ends of arcs are left as they are.
    """
    check_kind(arrangement, Arrangement, "arrangement")
    ring_start = arrangement.ring_start
    half = arrangement.ring_half_edge
    n = len(half)
    if n == 0:
        return Outlines(
            Curves.empty(), ring_start.copy(), arrangement.face_ring_start.copy()
        )
    edge, side = half >> 1, half & 1
    curve = arrangement.edge_curve[edge]
    t0 = arrangement.edge_span[edge, side]
    t1 = arrangement.edge_span[edge, 1 - side]
    first = np.zeros(n, dtype=bool)
    first[ring_start[:-1]] = True
    before = np.arange(n) - 1
    size = np.diff(ring_start)
    last = ring_start[1:] - 1
    before[ring_start[:-1]] = last
    runs_on = (curve == curve[before]) & (t0 == t1[before])
    runs_on &= (t1 > t0) == (t1[before] > t0[before])
    # a ring that is one closed curve all through begins somewhere
    new = ~runs_on
    whole = np.logical_and.reduceat(runs_on, ring_start[:-1])
    new[ring_start[:-1][whole]] = True
    # pieces of a ring begin with the first break; the part before it ends the ring
    lead = np.flatnonzero(new)
    ring_of = np.repeat(np.arange(len(size)), size)
    pieces = np.bincount(ring_of[lead], minlength=len(size))
    piece_start = np.r_[0, np.cumsum(pieces)].astype(np.int64)
    follower = np.r_[lead[1:], n]
    end = follower - 1
    # the last piece of a ring runs on over the ring's start to its first break
    final = piece_start[1:] - 1
    initial = piece_start[:-1]
    wraps = lead[initial] > ring_start[:-1]
    end[final] = np.where(wraps, lead[initial] - 1, last)
    table = arrangement.curves.part(curve[lead], t0[lead], t1[end])
    a = arrangement.vertices[arrangement.origin[half[lead]]]
    b = arrangement.vertices[arrangement.origin[half[end] ^ 1]]
    return Outlines(_meet(table, a, b), piece_start, arrangement.face_ring_start.copy())


def _meet(table: Curves, a: NDArray[np.float64], b: NDArray[np.float64]) -> Curves:
    """Move the ends of lines and Béziers onto the vertices."""
    data = table.data.copy()
    line = table.kind == LINE
    data[line, 0:2], data[line, 2:4] = a[line], b[line]
    cubic = np.flatnonzero(table.kind == CUBIC)
    if len(cubic):
        p = data[cubic].reshape(-1, 4, 2)
        p[:, :2] += (a[cubic] - p[:, 0])[:, None]
        p[:, 2:] += (b[cubic] - p[:, 3])[:, None]
        data[cubic] = p.reshape(-1, 8)
    return Curves(table.kind.copy(), data)
