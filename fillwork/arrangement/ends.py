"""Loose ends of lines.

A *tip* is a vertex of one edge only; its *chain* is the dangling line up to the
next junction.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.pruning import find_dangling
from fillwork.geometry.parts import components

if TYPE_CHECKING:
    from fillwork.arrangement.edges import Edges
    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.geometry.curves import Curves


@dataclass(frozen=True, slots=True, eq=False)
class Tips:
    """Hold loose ends."""

    vertex: Ints  # (n,): vertex of each tip
    edge: Ints  # (n,): its only edge
    outward: Floats  # (n, 2): unit vector in which the line points there
    length: Floats  # (n,): length of its chain, mm
    # (n,): True where the chain hangs on a junction, False where it floats
    from_junction: Bools
    chain: Ints  # (n,): number of the chain
    # (E,): chain of each edge, -1 for edges that do not dangle
    edge_chain: Ints

    def __len__(self) -> int:
        return len(self.vertex)


def find_tips(curves: Curves, vertices: Floats, edges: Edges) -> Tips:
    """Find loose ends and the chains that they end.

    `vertices` (V, 2): places of vertices, mm.
    """
    flat = edges.vertex.reshape(-1)
    degree = np.bincount(flat, minlength=len(vertices))
    dangling = np.flatnonzero(find_dangling(edges.vertex, len(vertices)))
    half = np.flatnonzero(degree[flat] == 1)
    if len(half) == 0 and len(dangling) == 0:
        return _no_tips(len(edges))
    tip_edge, side = half // 2, half % 2
    tip = flat[half].astype(np.int64)
    edge_chain = np.full(len(edges), -1, np.int64)
    ends = edges.vertex[dangling]
    # two dangling edges that meet at a vertex of degree 2 are one chain
    vertex = ends.reshape(-1)
    row = np.repeat(np.arange(len(dangling)), 2)
    through = degree[vertex] == 2
    order = np.argsort(vertex[through], kind="stable")
    v, r = vertex[through][order], row[through][order]
    pair = np.flatnonzero(v[1:] == v[:-1])
    root = components(r[pair], r[pair + 1], len(dangling))
    edge_chain[dangling] = root
    step = np.hypot(*(vertices[ends[:, 1]] - vertices[ends[:, 0]]).T)
    total = np.zeros(len(dangling))
    np.add.at(total, root, step)
    hangs = np.zeros(len(dangling), dtype=bool)
    hangs[root[row[degree[vertex] > 2]]] = True
    chain = edge_chain[tip_edge]
    t = edges.span[tip_edge, side]
    back = edges.span[tip_edge, 1 - side]
    slope = curves.derivative(edges.curve[tip_edge], t) * np.sign(t - back)[:, None]
    size = np.hypot(*slope.T)
    chord = vertices[tip] - vertices[edges.vertex[tip_edge, 1 - side]]
    slope = np.where((size > 1e-12)[:, None], slope, chord)
    outward = slope / np.maximum(np.hypot(*slope.T), 1e-300)[:, None]
    return Tips(tip, tip_edge, outward, total[chain], hangs[chain], chain, edge_chain)


def _no_tips(edges: int) -> Tips:
    none, far = np.empty(0, np.int64), np.empty(0)
    return Tips(
        none,
        none,
        np.empty((0, 2)),
        far,
        np.empty(0, bool),
        none,
        np.full(edges, -1, np.int64),
    )
