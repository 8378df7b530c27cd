"""Edges between vertices, with every curve that drew them.

Curves are split where vertices lie on them. Pieces that join the same two
vertices and coincide are one edge; two different curves over the same ends stay
two edges.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.geometry.curves import LINE
from fillwork.geometry.ranges import expand_ranges

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrays import AnyInts, Bools, Floats, Ints, Ints32
    from fillwork.geometry.curves import Curves


@dataclass(frozen=True, slots=True, eq=False)
class Edges:
    """Hold edges and their sources."""

    vertex: Ints32  # (E, 2): vertices at both ends
    curve: Ints32  # (E,): the curve that the edge runs along
    span: Floats  # (E, 2): parameters at both ends
    # source_start and source_curve: compressed rows of all curves that drew each edge
    source_start: Ints32
    source_curve: Ints32

    def __len__(self) -> int:
        return len(self.curve)

    def ends(self, vertices: Floats) -> tuple[Floats, Floats]:
        """Return the points at both ends of each edge.

        `vertices` (V, 2): places of vertices, mm. Returns `first` and `last` (E, 2):
        points, mm.
        """
        first, last = self.vertex[:, 0], self.vertex[:, 1]
        # of rows, `take` is several times faster than an index in brackets
        return vertices.take(first, axis=0), vertices.take(last, axis=0)

    def take(self, index: NDArray[Any]) -> Edges:
        """Return chosen edges. `index`: which, by number or as a mask."""
        rows = np.flatnonzero(index) if index.dtype == bool else index
        start = self.source_start[rows]
        count = self.source_start[rows + 1] - start
        _, member = expand_ranges(start, count)
        return Edges(
            self.vertex.take(rows, axis=0),
            self.curve[rows],
            self.span.take(rows, axis=0),
            np.r_[0, np.cumsum(count)].astype(np.int32),
            self.source_curve[member],
        )

    def with_sources_of(self, heirs: tuple[tuple[int, int], ...]) -> Edges:
        """Return the edges, some of them drawn by the lines of others as well.

        `heirs`: edges that get the sources of the second edge of each pair added.
        """
        if not heirs:
            return self
        pairs = np.array(heirs)
        start = self.source_start[pairs[:, 1]].astype(np.int64)
        count = self.source_start[pairs[:, 1] + 1] - start
        member, given = expand_ranges(start, count)
        row = np.repeat(np.arange(len(self)), np.diff(self.source_start))
        both = np.stack(
            [
                np.r_[row, pairs[member, 0]],
                np.r_[self.source_curve, self.source_curve[given]],
            ],
            axis=1,
        )
        both = np.unique(both, axis=0)
        total = np.bincount(both[:, 0], minlength=len(self))
        return replace(
            self,
            source_start=np.r_[0, np.cumsum(total)].astype(np.int32),
            source_curve=both[:, 1].astype(np.int32),
        )


def group_pairs(low: AnyInts, high: AnyInts, limit: int) -> tuple[Ints, Bools]:
    """Return an order that brings equal pairs together.

    `low` and `high` (n,): the pairs. `limit`: members are below it. Returns `order`
    (n,): by low, then high, then place; `new` (n,): where, in that order, another pair
    begins.
    """
    n = len(low)
    bits, own = max(limit, 2).bit_length(), max(n, 2).bit_length()
    key = (low.astype(np.int64) << bits) | high
    new = np.ones(n, dtype=bool)
    if 2 * bits + own <= 63:
        # sorting values is several times faster than sorting an index
        key = np.sort((key << own) | np.arange(n))
        order = key & ((1 << own) - 1)
        key >>= own
    else:
        order = np.argsort(key, kind="stable")
        key = key[order]
    new[1:] = key[1:] != key[:-1]
    return order, new


def split_curves(
    curve: Ints32, t: Floats, vertex: Ints32, reach: Floats
) -> tuple[Ints32, Ints32, Floats]:
    """Split curves at the vertices that lie on them.

    `curve`, `t`, `vertex` (n,): vertex ``vertex`` lies on ``curve`` at parameter ``t``;
    both ends of each curve are among them. `reach` (curves,): how far apart, as
    parameters, two visits to one vertex still are one. Returns `piece_vertex` (m, 2):
    vertices at the ends of each piece; `piece_curve` (m,): its curve; `piece_span` (m,
    2): its parameters.
    """
    order = np.argsort(curve + np.minimum(t, 1.0) * (1.0 - 1e-9))
    curve, t, vertex = curve[order], t[order], vertex[order]
    del order
    # a vertex met twice, with another one between by rounding, is met once
    for k in (2, 3):
        if len(curve) <= k:
            break
        again = (vertex[k:] == vertex[:-k]) & (curve[k:] == curve[:-k])
        again &= t[k:] - t[:-k] <= reach[curve[k:]]
        rows = np.flatnonzero(again)
        # never drop the end of a curve: drop the earlier visit instead
        last = (t[rows + k] >= 1.0) & (t[rows] > 0.0)
        drop = np.where(last, rows, rows + k)
        drop = drop[~((t[drop] <= 0.0) | (t[drop] >= 1.0))]
        if len(drop):
            kept = np.ones(len(curve), bool)
            kept[drop] = False
            curve, t, vertex = curve[kept], t[kept], vertex[kept]
    piece = np.flatnonzero((curve[1:] == curve[:-1]) & (vertex[1:] != vertex[:-1]))
    # a piece ends where its first vertex was last met, and so on: visits to one
    # vertex that follow each other lie within the tolerance
    return (
        np.stack([vertex[piece], vertex[piece + 1]], axis=1),
        curve[piece],
        np.stack([t[piece], t[piece + 1]], axis=1),
    )


def merge_pieces(
    curves: Curves,
    vertices: Floats,
    piece_vertex: Ints32,
    piece_curve: Ints32,
    piece_span: Floats,
    within: float,
) -> Edges:
    """Make one edge of pieces that join the same vertices and coincide.

    Edges; of several sources the first drawn is the one it runs along. `vertices` (V,
    2): places of vertices, mm. `piece_vertex`, `piece_curve`, `piece_span`: from
    `split_curves`. `within`: largest distance of pieces that coincide, mm.
    """
    n = len(piece_curve)
    low = np.minimum(piece_vertex[:, 0], piece_vertex[:, 1])
    high = np.maximum(piece_vertex[:, 0], piece_vertex[:, 1])
    order, new = group_pairs(low, high, len(vertices))
    bent = curves.kind[piece_curve] != LINE
    if bent.any() and not new.all():
        order, new = _part_by_bulge(
            curves, vertices, piece_vertex, piece_curve, piece_span, order, new, within
        )
    start = np.flatnonzero(new)
    source = piece_curve[order]
    # stable order keeps pieces of one edge in drawing order
    chosen = order[start]
    if len(start) == n:
        return Edges(
            piece_vertex.take(chosen, axis=0),
            piece_curve[chosen],
            piece_span.take(chosen, axis=0),
            np.arange(n + 1, dtype=np.int32),
            source,
        )
    group = np.cumsum(new) - 1
    repeated = np.zeros(n, dtype=bool)
    repeated[1:] = ~new[1:] & (source[1:] == source[:-1])
    count = np.bincount(group[~repeated], minlength=len(start))
    return Edges(
        piece_vertex.take(chosen, axis=0),
        piece_curve[chosen],
        piece_span.take(chosen, axis=0),
        np.r_[0, np.cumsum(count)].astype(np.int32),
        source[~repeated],
    )


def _part_by_bulge(
    curves: Curves,
    vertices: Floats,
    piece_vertex: Ints32,
    piece_curve: Ints32,
    piece_span: Floats,
    order: Ints,
    new: Bools,
    within: float,
) -> tuple[Ints, Bools]:
    """Part groups of pieces over the same ends by how far they bulge."""
    single = new & np.r_[new[1:], True]
    rows = np.flatnonzero(~single)
    piece = order[rows]
    middle = curves.point(piece_curve[piece], piece_span[piece].mean(axis=1))
    straight = curves.kind[piece_curve[piece]] == LINE
    a = vertices[piece_vertex[piece].min(axis=1)]
    b = vertices[piece_vertex[piece].max(axis=1)]
    d = b - a
    length = np.maximum(np.hypot(*d.T), 1e-300)
    w = middle - a
    bulge = (d[:, 0] * w[:, 1] - d[:, 1] * w[:, 0]) / length
    bulge[straight] = 0.0
    group = np.cumsum(new)[rows]
    again = np.lexsort((piece, bulge, group))
    group, bulge, piece = group[again], bulge[again], piece[again]
    # not under a lens that is far narrower than long either
    allowed = np.maximum(within, 1e-9 * length[again])
    fresh = np.ones(len(rows), dtype=bool)
    fresh[1:] = (group[1:] != group[:-1]) | (bulge[1:] - bulge[:-1] > 1.5 * allowed[1:])
    # drawing order inside each final group
    final = np.cumsum(fresh)
    inner = np.lexsort((piece, final))
    order, new = order.copy(), new.copy()
    order[rows], new[rows] = piece[inner], fresh
    return order, new
