"""Dangling lines and bridges: edges that bound no face."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Ints32


def find_dangling(vertex: Ints32, vertices: int) -> Bools:
    """Return the edges that fall when loose ends are taken off again and again.

    `vertex` (E, 2): vertices of each edge. `vertices`: how many vertices there are.
    Returns (E,): True for dangling edges.

    Each vertex keeps its degree and the exclusive or of its edges; at degree 1
    that is the last edge itself. Linear in the number of edges.
    """
    flat = vertex.reshape(-1)
    degree = np.bincount(flat, minlength=vertices)
    fallen = np.zeros(len(vertex), dtype=bool)
    tips = np.flatnonzero(degree == 1).tolist()
    if not tips:
        return fallen
    left = np.zeros(vertices, np.int64)
    np.bitwise_xor.at(left, flat, np.repeat(np.arange(len(vertex)), 2))
    both, count, last = (
        v.tolist() for v in (vertex.sum(axis=1, dtype=np.int64), degree, left)
    )
    gone: list[int] = []
    for tip in tips:
        here = tip
        while count[here] == 1:
            edge = last[here]
            gone.append(edge)
            there = both[edge] - here
            count[here] = 0
            count[there] -= 1
            last[there] ^= edge
            here = there
    fallen[gone] = True
    return fallen
