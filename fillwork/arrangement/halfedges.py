"""Half-edges: order round a vertex, next along a face, cycles.

Half-edge ``h`` belongs to edge ``h // 2`` and leaves ``vertex[h // 2, h % 2]``.
Edges are ordered round a vertex by where they pass a small circle about it; for
a line that is its direction, for a curve the point where the true curve leaves
the circle, so that curves with a common tangent fall in the right order.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.curves import LINE

if TYPE_CHECKING:
    from fillwork.arrangement.edges import Edges
    from fillwork.arrays import Bools, Floats, Ints, Ints32
    from fillwork.geometry.curves import Curves


def sort_round_vertices(curves: Curves, vertices: Floats, edges: Edges) -> Ints32:
    """Return all half-edges vertex by vertex, counter-clockwise round each.

    `vertices` (V, 2): places of vertices, mm. Returns (H,): half-edges in order.
    """
    origin = edges.vertex.reshape(-1)
    first, last = edges.ends(vertices)
    d = last - first
    angle = np.empty(len(origin))
    forward = np.arctan2(d[:, 1], d[:, 0])
    angle[0::2] = forward
    angle[1::2] = np.where(forward > 0, forward - np.pi, forward + np.pi)
    bent = curves.kind[edges.curve] != LINE
    if bent.any():
        _turn_to_curves(curves, vertices, edges, np.hypot(*d.T), bent, angle)
    turn = (angle + np.pi) / (2 * np.pi)
    turn[turn >= 1.0] = 0.0
    if len(vertices) < 1 << 21:
        # one key for both: 2^-31 of a turn is finer than any drawing
        key = origin + turn * (1.0 - 1e-9)
        return np.argsort(key).astype(np.int32)
    return np.lexsort((turn, origin)).astype(np.int32)


def _turn_to_curves(
    curves: Curves,
    vertices: Floats,
    edges: Edges,
    length: Floats,
    bent: Bools,
    angle: Floats,
) -> None:
    """Replace directions of chords by directions on a small circle.

    A curve runs past its vertices by up to the slack. An edge is therefore the
    curve with what it misses at its ends added in even measure along it: such
    edges begin and end in their vertices and run beside each other as the curves
    do, so that their order round a vertex can be seen however near it is.
    """
    origin = edges.vertex.reshape(-1)
    degree = np.bincount(origin, minlength=len(vertices))
    radius = np.full(len(vertices), np.inf)
    half_length = np.repeat(length, 2)
    np.minimum.at(radius, origin, half_length)
    half = np.flatnonzero(np.repeat(bent, 2) & (degree[origin] > 2))
    if len(half) == 0:
        return
    edge, side = half // 2, half % 2
    curve = edges.curve[edge]
    t0, t1 = edges.span[edge, side], edges.span[edge, 1 - side]
    start, begins = curves.evaluate(curve, t0)
    end, ends = curves.evaluate(curve, t1)
    near = _sideways(vertices.take(origin[half], axis=0) - start, begins)
    far = _sideways(vertices.take(origin[half ^ 1], axis=0) - end, ends)
    span = np.where(t1 == t0, 1.0, t1 - t0)
    lean = (far - near) / span[:, None]  # a unit of the parameter
    r = 0.5 * radius[origin[half]]
    t = t0 + (t1 - t0) * r / half_length[half]
    for _ in range(6):
        p, slope = curves.evaluate(curve, t)
        p += (t - t0)[:, None] * lean - start
        slope += lean
        size = np.maximum(np.hypot(*p.T), 1e-300)
        rate = (p * slope).sum(axis=1) / size
        safe = np.abs(rate) > 1e-300
        step = np.where(safe, (r - size) / np.where(safe, rate, 1.0), 0.0)
        limit = 0.25 * np.abs(t1 - t0)
        t = t + np.clip(step, -limit, limit)
        t = np.clip(t, np.minimum(t0, t1), np.maximum(t0, t1))
    p = curves.point(curve, t) + (t - t0)[:, None] * lean - start
    angle[half] = np.arctan2(p[:, 1], p[:, 0])


def _sideways(step: Floats, along: Floats) -> Floats:
    """Return what steps are at right angles to directions."""
    size = np.maximum((along * along).sum(axis=1), 1e-300)
    return np.asarray(step - ((step * along).sum(axis=1) / size)[:, None] * along)


def link_next(order: Ints32, origin: Ints32) -> Ints32:
    """Return the half-edge that follows each along its face.

    `order`: half-edges vertex by vertex, counter-clockwise; some may be left out as
    long as their twins are too. `origin` (H,): vertex that each half-edge leaves.
    Returns (H,): next half-edges; -1 for those left out.
    """
    result = np.full(len(origin), -1, np.int32)
    if len(order) == 0:
        return result
    start = origin[order]
    first = np.ones(len(order), dtype=bool)
    first[1:] = start[1:] != start[:-1]
    begin = np.flatnonzero(first)
    end = np.r_[begin[1:], len(order)] - 1
    clockwise = np.empty_like(order)
    clockwise[1:] = order[:-1]
    clockwise[begin] = order[end]
    # arriving by the twin of h, leave by the neighbour clockwise of h
    result[order ^ 1] = clockwise
    return result


def find_cycles(next_half: Ints32, held: Ints32) -> tuple[Ints, Ints32]:
    """Return the cycles of `next_half`, each in walking order.

    `next_half` (H,): next half-edges. `held`: the half-edges that take part. Returns
    `start` (C + 1,): cycle ``c`` is ``member[start[c]:start[c + 1]]``; `member`:
    half-edges; a cycle begins with its smallest.
    """
    label, size = _short_cycles(next_half, held)
    walked: list[list[int]] = []
    long = held[size[held] == 0]
    if len(long):
        walked = _walk(next_half, long)
    is_head = (label == np.arange(len(label))) & (size > 0)
    heads = np.flatnonzero(is_head).astype(np.int32)
    counts = size[heads].astype(np.int64)
    total = int(counts.sum())
    start = np.r_[0, np.cumsum(counts)]
    member = np.empty(total, np.int32)
    current: Ints32 = heads
    place, left = start[:-1], counts
    step = 0
    while len(current):
        member[place + step] = current
        step += 1
        more = left > step
        if not more.all():
            current, place, left = current[more], place[more], left[more]
        current = next_half[current]
    if walked:
        member = np.concatenate([member, *[np.array(w, np.int32) for w in walked]])
        start = np.r_[start, start[-1] + np.cumsum([len(w) for w in walked])]
    return start.astype(np.int64), member


ROUNDS = 5


def _short_cycles(next_half: Ints32, held: Ints32) -> tuple[Ints32, Ints32]:
    """Return label and length of every cycle of up to 2^ROUNDS members.

    The label is the smallest member. Longer cycles have length 0.
    """
    n = len(next_half)
    if len(held) == n:
        label = np.arange(n, dtype=np.int32)
        jump = next_half
    else:
        label = np.full(n, -1, np.int32)
        label[held] = held
        # those left out stay by themselves
        jump = np.where(next_half < 0, np.arange(n, dtype=np.int32), next_half)
    follow = jump
    for _ in range(ROUNDS):
        label = np.minimum(label, label[jump])
        jump = jump[jump]
    after = label[follow]
    mismatch = np.flatnonzero(label != after)
    unsure = np.zeros(n, dtype=bool)
    unsure[label[mismatch]] = True
    unsure[after[mismatch]] = True
    count = np.bincount(label[held], minlength=n).astype(np.int32)
    count[unsure] = 0
    size = np.zeros(n, np.int32)
    size[held] = count[label[held]]
    return label, size


def _walk(next_half: Ints32, long: Ints32) -> list[list[int]]:
    follow = dict(zip(long.tolist(), next_half[long].tolist(), strict=True))
    cycles = []
    for head in sorted(follow):
        if head not in follow:
            continue
        cycle = []
        here = head
        while here in follow:
            cycle.append(here)
            here = follow.pop(here)
        cycles.append(cycle)
    return cycles
