"""Join edges into long paths, so that each edge is drawn once and corners meet.

At each vertex the edges are paired, straightest pair first: a line that runs on
through a crossing stays one path, and a corner keeps its mitre.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.outlines import half_edge_curves
from fillwork.geometry.curves import ARC, LINE, Curves

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Bools, Floats, Ints, Ints32


def _pair_half_edges(origin: Ints32, heading: Floats) -> Ints:
    """Return the partner of each half-edge at its origin, or -1.

    `heading` is the unit direction in which each half-edge leaves its origin.
    """
    count = len(origin)
    order = np.argsort(origin, kind="stable")
    sorted_origin = origin[order]
    first = np.flatnonzero(np.r_[True, sorted_origin[1:] != sorted_origin[:-1]])
    degree = np.diff(np.r_[first, count])
    left: list[Ints] = []
    right: list[Ints] = []
    for d in np.unique(degree):
        if d < 2:
            continue
        starts = first[degree == d]
        a, b = np.triu_indices(min(int(d), 24), 1)
        left.append(order[(starts[:, None] + a).ravel()])
        right.append(order[(starts[:, None] + b).ravel()])
    partner = np.full(count, -1, np.int64)
    if not left:
        return partner
    p, q = np.concatenate(left), np.concatenate(right)
    dot = np.round((heading[p] * heading[q]).sum(axis=1), 9)
    ranking = np.lexsort((q, p, dot))
    p, q = p[ranking], q[ranking]
    rank = np.arange(len(p))
    while len(p):
        # a pair is taken when it is the best one left for both
        best = np.full(count, len(rank) + 1, np.int64)
        np.minimum.at(best, p, rank[: len(p)])
        np.minimum.at(best, q, rank[: len(p)])
        here = rank[: len(p)]
        take = (best[p] == here) & (best[q] == here)
        partner[p[take]], partner[q[take]] = q[take], p[take]
        free = (partner[p] < 0) & (partner[q] < 0)
        p, q = p[free], q[free]
    return partner


def edge_paths(
    arrangement: Arrangement, edges: Bools | None = None
) -> tuple[Curves, Ints, Bools]:
    """Return edges as few paths, each edge once.

    `edges` (E,): which edges; all by default. Returns `curves`: edges path by path, end
    to end; neighbours along one straight line or arc are joined; `start` (P + 1,):
    limits of the paths; `closed` (P,): whether a path ends where it begins.
    """
    keep = np.arange(arrangement.edge_count) if edges is None else np.flatnonzero(edges)
    if len(keep) == 0:
        return Curves.empty(), np.zeros(1, np.int64), np.zeros(0, bool)
    forward = half_edge_curves(arrangement, 2 * keep)
    count = len(keep)
    both = np.arange(count)
    lead = _heading(forward, both, 0.0)
    tail = -_heading(forward, both, 1.0)
    heading = np.empty((2 * count, 2))
    heading[0::2], heading[1::2] = lead, tail
    half = np.stack([2 * keep, 2 * keep + 1], axis=1).ravel()
    partner = _pair_half_edges(arrangement.origin[half], heading)
    sequence, start, closed = _walk(partner.tolist())
    backward = forward.part(both, np.ones(count), np.zeros(count))
    table = Curves.concatenate([forward, backward])
    rows = np.array(sequence, np.int64)
    curves = table.take(rows // 2 + (rows % 2) * count)
    limits = np.array(start, np.int64)
    return (*_join_runs(curves, limits), np.array(closed, bool))


def ring_paths(arrangement: Arrangement, inside: Bools) -> tuple[Curves, Ints]:
    """Return the closed outlines of regions, those that share an edge joined.

    `inside` (F,): which faces; not the unbounded one. Returns `curves`: rings one after
    the other, what is inside on their left: outer ones run counter-clockwise, holes
    clockwise. Where two parts meet at a corner alone, each keeps its own ring; `start`
    (R + 1,): limits of the rings.
    """
    mine = inside[arrangement.face]
    other = mine.reshape(-1, 2)[:, ::-1].ravel()
    border = mine & ~other
    half = np.flatnonzero(border)
    if len(half) == 0:
        return Curves.empty(), np.zeros(1, np.int64)
    # on along the face; where both sides of the next edge are inside, across it
    after = arrangement.next[half].astype(np.int64)
    open_ = np.flatnonzero(~border[after])
    while len(open_):
        after[open_] = arrangement.next[after[open_] ^ 1]
        open_ = open_[~border[after[open_]]]
    follower = dict(zip(half.tolist(), after.tolist(), strict=True))
    sequence: list[int] = []
    start = [0]
    left = set(follower)
    for first in half.tolist():
        at = first
        while at in left:
            left.remove(at)
            sequence.append(at)
            at = follower[at]
        if len(sequence) > start[-1]:
            start.append(len(sequence))
    rows = np.array(sequence, np.int64)
    curves = half_edge_curves(arrangement, rows)
    return _join_runs(curves, np.array(start, np.int64))


def _heading(curves: Curves, index: AnyInts, t: float) -> Floats:
    slope = curves.derivative(index, np.full(len(index), t))
    size = np.linalg.norm(slope, axis=1)
    flat = size < 1e-12
    if flat.any():
        # a cubic whose handle lies on its end
        near = np.full(int(flat.sum()), 0.01 if t == 0 else 0.99)
        slope[flat] = curves.derivative(index[flat], near)
        size = np.linalg.norm(slope, axis=1)
    unit: Floats = slope / np.maximum(size, 1e-300)[:, None]
    return unit


def _walk(partner: list[int]) -> tuple[list[int], list[int], list[bool]]:
    """Follow partners from loose ends, then round the cycles that are left."""
    done = bytearray(len(partner) // 2)
    sequence: list[int] = []
    start, closed = [0], []

    def follow(half: int) -> None:
        while half >= 0 and not done[half >> 1]:
            done[half >> 1] = 1
            sequence.append(half)
            half = partner[half ^ 1]
        start.append(len(sequence))

    for half, other in enumerate(partner):
        if other < 0 and not done[half >> 1]:
            follow(half)
            closed.append(False)
    for half in range(0, len(partner), 2):
        if not done[half >> 1]:
            follow(half)
            closed.append(True)
    return sequence, start, closed


def _join_runs(curves: Curves, start: Ints) -> tuple[Curves, Ints]:
    """Join neighbours within paths that lie on one line or one arc."""
    n = len(curves)
    same = np.zeros(n, bool)  # row i runs on from row i - 1
    if n > 1:
        kind, data = curves.kind, curves.data
        both = kind[1:] == kind[:-1]
        d0, d1 = data[:-1], data[1:]
        v0, v1 = d0[:, 2:4] - d0[:, 0:2], d1[:, 2:4] - d1[:, 0:2]
        cross = np.abs(v0[:, 0] * v1[:, 1] - v0[:, 1] * v1[:, 0])
        dot = (v0 * v1).sum(axis=1)
        size = np.linalg.norm(v0, axis=1) * np.linalg.norm(v1, axis=1)
        gap = np.abs(d0[:, 2:4] - d1[:, 0:2]).max(axis=1)
        straight = both & (kind[1:] == LINE) & (dot > 0) & (cross <= 1e-9 * size)
        straight &= gap <= 1e-9 * np.maximum(np.abs(d0[:, 2:4]).max(axis=1), 1)
        arc = both & (kind[1:] == ARC) & np.all(d0[:, :6] == d1[:, :6], axis=1)
        arc &= np.abs(d0[:, 7] - d1[:, 6]) < 1e-9
        arc &= np.sign(d0[:, 7] - d0[:, 6]) == np.sign(d1[:, 7] - d1[:, 6])
        same[1:] = straight | arc
    same[start[:-1]] = False
    if not same.any():
        return curves, start
    first = np.flatnonzero(~same)
    last = np.r_[first[1:], n] - 1
    data = curves.data[first].copy()
    kind = curves.kind[first]
    lines, arcs = kind == LINE, kind == ARC
    data[lines, 2:4] = curves.data[last[lines], 2:4]
    data[arcs, 7] = curves.data[last[arcs], 7]
    # the new number of a path's first row: how many rows stay before it
    kept = np.concatenate([[0], np.cumsum(~same)])
    return Curves(kind.copy(), data), kept[start]
