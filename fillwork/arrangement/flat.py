"""Edges laid flat: straight pieces on a grid of whole numbers, which cannot cross.

Where curves run so near each other that rounding decides their order, regions that
are read off the true curves need not add up. Here every edge becomes the straight
piece between its ends, and the ends go to points of a fine grid. The cell of the
grid round each end and round each crossing is *hot*; a piece that passes through a
hot cell is led through its middle. Pieces then meet in their ends only [1]_. All
decisions are made with whole numbers that 64 bits hold, so that they are exact, and
the edges have one true order round every vertex: Euler's formula must hold.

References
----------
.. [1] J. D. Hobby, "Practical segment intersection with finite precision output",
   Computational Geometry 13(4), 199-214, 1999.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.candidates import (
    boxes_along,
    distinct_pairs,
    overlapping_pairs,
)
from fillwork.arrangement.edges import Edges, group_pairs
from fillwork.geometry.boxes import bounds
from fillwork.geometry.ranges import expand_ranges

if TYPE_CHECKING:
    from fillwork.arrangement.limits import Limits
    from fillwork.arrays import Floats, Ints, Ints32

_BITS = 26  # coordinates below 2^26: products of doubled differences below 2^57
_NEAR_ANGLE = 1e-12  # directions nearer than this are compared exactly


def lay_flat(
    vertices: Floats, edges: Edges, limits: Limits
) -> tuple[Floats, Edges, Ints32]:
    """Part edges where their straight pieces meet, and order them round vertices.

    `vertices` (V, 2): places of vertices, mm. `edges`: the edges; where they are bent,
    so finely cut that chords stand for them. `limits`: how much is taken on. Returns
    `vertices` (W, 2): places on the grid, mm; `edges`: edges whose straight pieces meet
    in their ends only; `order` (H,): half-edges vertex by vertex, counter-clockwise
    round each. Raises `LineWorkError` if there are more pieces, or more of them lie
    near each other or cross, than the limits allow.
    """
    limits.refuse_above("crowded_pieces", len(edges))
    low, high = bounds(vertices)
    unit = max(float((high - low).max()), 1e-300) / ((1 << _BITS) - 1)
    place = np.rint((vertices - low) / unit).astype(np.int64)
    a, b = place[edges.vertex[:, 0]], place[edges.vertex[:, 1]]
    met = _crossings(a, b, limits)
    hot, first = np.unique(np.concatenate([place, met]), axis=0, return_index=True)
    # numbered as they were, what lies on the same point by its first
    hot = hot[np.argsort(first)]
    row, point = _passes(a, b, hot, limits)
    piece, point, share = _along(a, b, hot, row, point)
    joined = (piece[1:] == piece[:-1]) & (point[1:] != point[:-1])
    k = np.flatnonzero(joined)
    span = edges.span[piece[k]]
    step = span[:, 1] - span[:, 0]
    flat = _merged(
        edges,
        piece[k],
        np.stack([point[k], point[k + 1]], axis=1).astype(np.int32),
        np.stack([span[:, 0] + share[n] * step for n in (k, k + 1)], axis=1),
        len(hot),
    )
    return low + hot * unit, flat, _sorted_round(hot, flat.vertex)


def _turn(d: Ints, w: Ints) -> Ints:
    """Return the exact cross products of rows of whole numbers."""
    return np.asarray(d[:, 0] * w[:, 1] - d[:, 1] * w[:, 0])


def _crossings(a: Ints, b: Ints, limits: Limits) -> Ints:
    """Return the grid points nearest to where pieces cross inside both."""
    low, high, owner = _boxes(a, b, 0.0)
    found = [np.empty((0, 2), np.int64)]
    looked_at = count = 0

    def check(pairs: int) -> None:
        nonlocal looked_at
        looked_at += pairs
        limits.refuse_above("near_pairs", looked_at)

    for first, second in overlapping_pairs(low, high, check):
        i, j = distinct_pairs(owner[first], owner[second], len(a))
        d, e, w = b[i] - a[i], b[j] - a[j], a[j] - a[i]
        det = _turn(d, e)
        start, along = _turn(d, w), _turn(w, e)
        crosses = np.sign(start) * np.sign(start + det) < 0
        crosses &= np.sign(along) * np.sign(along - det) < 0
        rows = np.flatnonzero(crosses)
        count += len(rows)
        limits.refuse_above("crossings", count)
        if len(rows):
            # 2^81 at most, so beyond 64 bits: Python's own whole numbers
            top, under = along[rows].astype(object), det[rows].astype(object)
            way = d[rows].astype(object) * top[:, None]
            nearest = (2 * way + under[:, None]) // (2 * under[:, None])
            found.append(a[i[rows]] + nearest.astype(np.int64))
    return np.concatenate(found)


def _passes(a: Ints, b: Ints, hot: Ints, limits: Limits) -> tuple[Ints, Ints]:
    """Return which pieces pass through which hot cells.

    A cell holds its left and lower side, not the other two: it is the square with
    corners at -1 and 1 - e, in half units, for an e smaller than any number.
    """
    low, high, owner = _boxes(a, b, 0.5)
    n = len(owner)
    low = np.concatenate([low, hot.astype(float)])
    high = np.concatenate([high, hot.astype(float)])
    rows, points = [], []
    looked_at = 0

    def check(pairs: int) -> None:
        nonlocal looked_at
        looked_at += pairs
        limits.refuse_above("near_pairs", looked_at)

    pieces = np.arange(len(low)) < n
    for i, j in overlapping_pairs(low, high, check, apart=pieces):
        i, j = np.minimum(i, j), np.maximum(i, j)
        mixed = i < n
        row, point = owner[i[mixed]], j[mixed].astype(np.int64) - n
        p, q = 2 * (a[row] - hot[point]), 2 * (b[row] - hot[point])
        inside = ((np.maximum(p, q) >= -1) & (np.minimum(p, q) < 1)).all(axis=1)
        row, point, p, q = row[inside], point[inside], p[inside], q[inside]
        d = q - p
        left = np.ones(len(row), dtype=bool)
        right = np.ones(len(row), dtype=bool)
        for x in (-1, 1):
            for y in (-1, 1):
                side = d[:, 0] * (y - p[:, 1]) - d[:, 1] * (x - p[:, 0])
                less = (x > 0) * d[:, 1] - (y > 0) * d[:, 0]
                side = np.where(side == 0, np.sign(less), side)
                left &= side > 0
                right &= side < 0
        through = ~(left | right)
        rows.append(row[through])
        points.append(point[through])
    if not rows:
        return np.empty(0, np.int64), np.empty(0, np.int64)
    # parts of one piece may come near the same cell
    found = np.unique(np.concatenate(rows) * len(hot) + np.concatenate(points))
    return np.divmod(found, len(hot))


def _boxes(a: Ints, b: Ints, margin: float) -> tuple[Floats, Floats, Ints]:
    """Return boxes round straight pieces, and the piece of each."""
    n, ends = len(a), np.concatenate([a, b], axis=1).astype(float)
    # rounding of a part's end is far below one unit
    low, high, row = boxes_along(ends, np.full(n, margin), np.ones(n, dtype=bool))
    return low - (len(row) > n), high + (len(row) > n), row


def _along(
    a: Ints, b: Ints, hot: Ints, row: Ints, point: Ints
) -> tuple[Ints, Ints, Floats]:
    """Return the hot points of each piece in order, and their shares of its way.

    Of two cells that a straight piece passes through, the one whose middle comes
    first along it is passed first.
    """
    d = b[row] - a[row]
    way = (d * (hot[point] - a[row])).sum(axis=1)
    order = np.lexsort((way, row))
    row, point = row[order], point[order]
    whole = np.maximum((d * d).sum(axis=1)[order], 1)
    return row, point, np.clip(way[order] / whole, 0.0, 1.0)


def _merged(
    edges: Edges, piece: Ints, vertex: Ints32, span: Floats, count: int
) -> Edges:
    """Return one edge for all pieces between the same two points."""
    curve = edges.curve[piece]
    # the first drawn is the one that the edge runs along
    drawn = np.argsort(curve, kind="stable")
    piece, vertex, span, curve = piece[drawn], vertex[drawn], span[drawn], curve[drawn]
    order, new = group_pairs(vertex.min(axis=1), vertex.max(axis=1), count)
    lead = order[np.flatnonzero(new)]
    group = np.cumsum(new) - 1
    held = piece[order]
    amount = edges.source_start[held + 1] - edges.source_start[held]
    owner, member = expand_ranges(edges.source_start[held], amount)
    key = np.stack([group[owner], edges.source_curve[member].astype(np.int64)], axis=1)
    # the curve of the edge comes first, then the others as drawn
    own = key[:, 1] == curve[lead][key[:, 0]]
    rank = np.lexsort((key[:, 1], ~own, key[:, 0]))
    key = key[rank]
    fresh = np.r_[True, (key[1:] != key[:-1]).any(axis=1)]
    key = key[fresh]
    total = np.bincount(key[:, 0], minlength=len(lead))
    return Edges(
        vertex[lead],
        curve[lead],
        span[lead],
        np.r_[0, np.cumsum(total)].astype(np.int32),
        key[:, 1].astype(np.int32),
    )


def _sorted_round(hot: Ints, vertex: Ints32) -> Ints32:
    """Return half-edges vertex by vertex, exactly counter-clockwise."""
    origin = vertex.reshape(-1)
    d = hot[vertex[:, ::-1].reshape(-1)] - hot[origin]
    angle = np.arctan2(d[:, 1], d[:, 0])
    order = np.lexsort((angle, origin))
    # half-edges that float numbers cannot tell apart change places where they must
    near = origin[order][1:] == origin[order][:-1]
    near &= np.diff(angle[order]) < _NEAR_ANGLE
    rows = np.flatnonzero(near)
    for _ in range(len(rows) + 1):
        wrong = rows[_turn(d[order[rows]], d[order[rows + 1]]) < 0]
        if len(wrong) == 0:
            break
        # of two pairs that share a half-edge the first goes first
        wrong = wrong[np.r_[True, np.diff(wrong) > 1]]
        order[wrong], order[wrong + 1] = order[wrong + 1], order[wrong]
    return order.astype(np.int32)
