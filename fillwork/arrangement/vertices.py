"""Points that are one vertex.

Points nearer than `join_within` become one vertex. A chain of near points that
would grow longer than twice that distance is parted again, so that no vertex
swallows a small figure.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.boxes import bounds
from fillwork.geometry.parts import components
from fillwork.geometry.ranges import begins, distinct, expand_ranges

if TYPE_CHECKING:
    from fillwork.arrays import Floats, Ints, Ints32


# the extent of a row of points, in slacks; what is meant to be one point has less
_ROW = 2.0
# so many points within a square of the slack are a crowd, as where many lines meet;
# there one point speaks for all in a square of this share of the slack
_CROWD, _SPOT = 64, 1 / 8


def same_points(points: Floats) -> Ints32:
    """Return a number for each point, the same for equal coordinates.

    `points` (n, 2): points. Returns (n,): numbers from 0 without gaps.
    """
    bits = (points + 0.0).view(np.uint64).reshape(-1, 2)  # -0.0 becomes 0.0
    mixed = bits[:, 0] * np.uint64(0x9E3779B97F4A7C15)
    mixed ^= mixed >> np.uint64(29)
    mixed += bits[:, 1] * np.uint64(0xC2B2AE3D27D4EB4F)
    mixed ^= mixed >> np.uint64(32)
    mixed *= np.uint64(0xD6E8FEB86659FD93)
    order = np.argsort(mixed)
    ordered = mixed[order]
    # equal hashes of unlike points are about one in 10^8 drawings; then two
    # equal points may stay apart here and are joined with the near ones
    place = points.take(order, axis=0)
    new = np.ones(len(points), dtype=bool)
    new[1:] = ordered[1:] != ordered[:-1]
    for axis in (0, 1):
        new[1:] |= place[1:, axis] != place[:-1, axis]
    group = np.cumsum(new) - 1
    # numbered by first appearance, so that what is drawn together stays together
    first = np.minimum.reduceat(order, np.flatnonzero(new)) if len(order) else order
    rank = np.empty(len(first), np.int32)
    rank[np.argsort(first)] = np.arange(len(first), dtype=np.int32)
    number = np.empty(len(points), np.int32)
    number[order] = rank[group]
    return number


def _spatial_order(points: Floats) -> Ints:
    """Return an order in which points near each other stand near each other.

    `points` (n, 2): points. Returns (n,): points strip by strip from left to right,
    upwards in each strip.
    """
    if len(points) < 2:
        return np.arange(len(points))
    low, high = bounds(points)
    size = np.maximum(high - low, 1e-300)
    strips = max(int(np.sqrt(len(points) * size[0] / size.sum()) / 3), 1)
    strip = np.floor((points[:, 0] - low[0]) * (strips / size[0]))
    up = (points[:, 1] - low[1]) / size[1]
    return np.argsort(strip + up * (1.0 - 1e-9), kind="stable")


def _linked(points: Floats, within: float) -> Ints:
    """Return the first point that each hangs together with by steps of `within`.

    Where many lines meet in one point, or touch there, all pairs of places where they
    do would be too many: there one point speaks for all in a square.
    """
    n = len(points)
    pairs = _near_pairs(points, within, _CROWD * n)
    if pairs is not None:
        return components(*pairs, n)
    lead = _spokesmen(points, within)
    speak = distinct(lead)
    pairs = _near_pairs(points.take(speak, axis=0), within)
    assert pairs is not None
    root = speak[components(*pairs, len(speak))]
    return np.asarray(root[np.searchsorted(speak, lead)])


def _spokesmen(points: Floats, within: float) -> Ints:
    """Return for each point the first in its square, itself where there is room."""
    low, high = bounds(points)
    cell = max(within, float((high - low).max()) / (1 << 30))
    place = ((points - low) / cell).astype(np.int64)
    key = place[:, 0] * (int(place[:, 1].max()) + 1) + place[:, 1]
    order = np.argsort(key)
    new = begins(key[order])
    size = np.diff(np.r_[np.flatnonzero(new), len(key)])
    held = order[(size > _CROWD)[np.cumsum(new) - 1]]
    spot = points[held] - low
    if within > 0:
        spot = np.floor(spot / (within * _SPOT))
    by = np.lexsort((held, spot[:, 1], spot[:, 0]))
    spot, held = spot[by], held[by]
    new = np.r_[True, (spot[1:] != spot[:-1]).any(axis=1)]
    lead = np.arange(len(points))
    lead[held] = held[np.flatnonzero(new)][np.cumsum(new) - 1]
    return lead


def _near_pairs(
    points: Floats, within: float, most: float = np.inf
) -> tuple[Ints, Ints] | None:
    """Return all pairs of points not farther apart than `within`.

    None where more than `most` pairs would have to be looked at.
    """
    if len(points) < 2:
        none = np.empty(0, np.int64)
        return none, none
    low, high = bounds(points)
    cell = max(within, float((high - low).max()) / (1 << 30))
    place = np.floor((points - low) / cell).astype(np.int64)
    stride = int(place[:, 1].max()) + 3
    key = place[:, 0] * stride + place[:, 1] + 1
    order = np.argsort(key)
    key = key[order]
    here = np.arange(len(key))
    firsts, seconds = [], []
    looked_at = 0
    # the same cell and the one above follow in order; the next column's three too
    same = key[1:] - key[:-1] <= 1
    if same.any():
        stop = np.searchsorted(key, key[:-1][same] + 1, side="right")
        start = here[:-1][same] + 1
        looked_at += int((stop - start).sum())
        if looked_at > most:
            return None
        owner, member = expand_ranges(start, stop - start)
        firsts.append(start[owner] - 1)
        seconds.append(member)
    start = np.searchsorted(key, key + (stride - 1), side="left")
    full = start < len(key)
    full[full] = key[start[full]] <= key[full] + (stride + 1)
    if full.any():
        begin = start[full]
        stop = np.searchsorted(key, key[full] + (stride + 1), side="right")
        if looked_at + int((stop - begin).sum()) > most:
            return None
        owner, member = expand_ranges(begin, stop - begin)
        firsts.append(here[full][owner])
        seconds.append(member)
    if not firsts:
        none = np.empty(0, np.int64)
        return none, none
    a, b = order[np.concatenate(firsts)], order[np.concatenate(seconds)]
    near = np.hypot(*(points.take(a, axis=0) - points.take(b, axis=0)).T) <= within
    return a[near], b[near]


def join_points(points: Floats, within: float) -> tuple[Ints32, Floats]:
    """Join near points to vertices.

    `points` (n, 2): points, mm; the earlier ones decide where a vertex lies. `within`:
    points nearer than this are one, mm. Returns `vertex` (n,): vertex of each point;
    `place` (V, 2): where each vertex lies.
    """
    n = len(points)
    root = _part_long_chains(points, _linked(points, within), within)
    kept = np.flatnonzero(root == np.arange(n))
    place = points.take(kept, axis=0)
    order = _spatial_order(place)
    number = np.empty(n, np.int32)
    number[kept[order]] = np.arange(len(kept), dtype=np.int32)
    return number[root], place.take(order, axis=0)


def chained(points: Floats, within: float) -> bool:
    """Return whether points near each other form rows many times as long as the slack.

    Whether any row is longer than points that are meant to be one lie apart.

    `points` (n, 2): points, mm. `within`: the slack, mm.
    """
    if len(points) == 0:
        return False
    root = _linked(points, within)
    order = np.argsort(root, kind="stable")
    lead = np.flatnonzero(begins(root[order]))
    size = np.maximum.reduceat(points[order], lead)
    size -= np.minimum.reduceat(points[order], lead)
    return bool(size.max() > _ROW * within)


def _part_long_chains(points: Floats, root: Ints, within: float) -> Ints:
    """Part clusters that extend more than twice the distance from their root."""
    moved = np.flatnonzero(root != np.arange(len(points)))
    off = points.take(moved, axis=0) - points.take(root[moved], axis=0)
    far = moved[np.hypot(*off.T) > 2 * within]
    if len(far) == 0:
        return root
    root = root.copy()
    held = np.flatnonzero(np.isin(root, distinct(root[far])))
    held = held[np.argsort(root[held], kind="stable")]
    cuts = np.flatnonzero(np.diff(root[held])) + 1
    for member in np.split(held, cuts):
        while len(member):
            seed = member[0]
            gap = points[member] - points[seed]
            near = (gap * gap).sum(axis=1) <= within * within
            root[member[near]] = seed
            member = member[~near]
    return root
