"""Dangling lines and bridges: edges that bound no face."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.ranges import distinct

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Ints, Ints32

ROUNDS = 64


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
    tip = np.flatnonzero(degree == 1)
    if len(tip) == 0:
        return fallen
    edge = np.repeat(np.arange(len(vertex), dtype=np.int64), 2)
    last = np.zeros(vertices, np.int64)
    np.bitwise_xor.at(last, flat, edge)
    for _ in range(ROUNDS):
        e = distinct(last[tip])
        fallen[e] = True
        ends = vertex[e].reshape(-1)
        np.subtract.at(degree, ends, 1)
        np.bitwise_xor.at(last, ends, np.repeat(e, 2))
        tip = distinct(ends.astype(np.int64))
        tip = tip[degree[tip] == 1]
        if len(tip) == 0:
            return fallen
    return _peel_long(vertex, degree, last, tip, fallen)


def _peel_long(
    vertex: Ints32, degree: Ints, last: Ints, tip: Ints, fallen: Bools
) -> Bools:
    """Follow the few long dangling lines one edge at a time."""
    one, other = vertex[:, 0].tolist(), vertex[:, 1].tolist()
    count, remaining = degree.tolist(), last.tolist()
    gone: list[int] = []
    for start in tip.tolist():
        here = start
        while count[here] == 1:
            e = remaining[here]
            gone.append(e)
            there = other[e] if one[e] == here else one[e]
            count[here] = 0
            count[there] -= 1
            remaining[there] ^= e
            here = there
    fallen[np.array(gone, np.int64)] = True
    return fallen
