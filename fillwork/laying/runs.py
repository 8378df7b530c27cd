"""Join pieces that lie on one line or circle to runs, each drawn once.

Pieces of one straight line that touch or overlap become one line, pieces of one
circle one arc. All is done on sorted arrays, without a loop over pieces.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.curves import ARC, LINE, Curves

if TYPE_CHECKING:
    from fillwork.arrays import Floats, Ints, Ints32

_ANGLE = 2e-7  # rad


def join_runs(curves: Curves, style: Ints32, *, near: float) -> tuple[Curves, Ints32]:
    """Return the fewest lines and arcs that draw the same.

    `style` (N,): only pieces of one style are joined. `near`: pieces this near each
    other are on one line, and touch, mm. Returns `curves`: straight lines, arcs of
    circles, then other curves, unchanged; `style`: their styles.
    """
    line = np.flatnonzero(curves.kind == LINE)
    round_ = _circles(curves)
    other = np.ones(len(curves), dtype=bool)
    other[line] = other[round_] = False
    rest = np.flatnonzero(other)
    lines, line_style = _join_lines(curves.data[line], style[line], near)
    arcs, arc_style = _join_arcs(curves.data[round_], style[round_], near)
    parts = [lines, arcs, curves.take(rest)]
    styles = [line_style, arc_style, style[rest]]
    return Curves.concatenate(parts), np.concatenate(styles)


def _circles(curves: Curves) -> Ints:
    arc = np.flatnonzero(curves.kind == ARC)
    if len(arc) == 0:
        return arc
    u, v = curves.data[arc, 2:4], curves.data[arc, 4:6]
    long, wide = np.hypot(*u.T), np.hypot(*v.T)
    skew = np.abs((u * v).sum(axis=1))
    even = (np.abs(long - wide) < 1e-6 * long) & (skew < 1e-6 * long * wide)
    return np.asarray(arc[even])


def _split_by(value: Floats, group: Ints, gap: float) -> Ints:
    """Return groups of like values within groups, numbered from 0."""
    order = np.lexsort((value, group))
    step = np.diff(value[order]) > gap
    step |= np.diff(group[order]) != 0
    found = np.empty(len(order), np.int64)
    found[order] = np.concatenate([[0], np.cumsum(step)])
    return found


def _mean(value: Floats, group: Ints) -> Floats:
    return (np.bincount(group, value) / np.bincount(group))[group]


def _unions(
    first: Floats, last: Floats, group: Ints, near: float
) -> tuple[Ints, Floats, Floats]:
    """Return a member, the start and the end of each union of intervals."""
    order = np.lexsort((first, group))
    a, b, g = first[order], last[order], group[order]
    # one running maximum over all groups: each group is lifted above the last
    lift = g * (float(b.max() - a.min()) + 1.0 + near)
    reach = np.maximum.accumulate(b + lift) - lift
    new = np.concatenate([[True], (g[1:] != g[:-1]) | (a[1:] > reach[:-1] + near)])
    lead = np.flatnonzero(new)
    end = np.concatenate([lead[1:], [len(a)]]) - 1
    return order[lead], a[lead], reach[end]


def _join_lines(data: Floats, style: Ints32, near: float) -> tuple[Curves, Ints32]:
    length = np.hypot(data[:, 2] - data[:, 0], data[:, 3] - data[:, 1])
    keep = length > near
    data, style, length = data[keep, :4], style[keep], length[keep]
    if len(data) == 0:
        return Curves.empty(), style
    p, q = data[:, :2], data[:, 2:]
    angle = np.arctan2(*(q - p).T[::-1]) % np.pi
    # pi and 0 are one direction
    angle = np.where(angle > np.pi - 10 * _ANGLE, angle - np.pi, angle)
    group = _split_by(angle, style.astype(np.int64), _ANGLE)
    weight = np.bincount(group, length)
    angle = (np.bincount(group, angle * length) / weight)[group]
    along = np.column_stack([np.cos(angle), np.sin(angle)])
    across = np.column_stack([-along[:, 1], along[:, 0]])
    off = ((p + q) / 2 * across).sum(axis=1)
    group = _split_by(off, group, near)
    off = _mean(off, group)
    s, t = (p * along).sum(axis=1), (q * along).sum(axis=1)
    member, first, last = _unions(np.minimum(s, t), np.maximum(s, t), group, near)
    data, along, style = data[member], along[member], style[member]
    aside = off[member, None] * across[member]
    ends = (first[:, None] * along + aside, last[:, None] * along + aside)
    # a line that nothing was joined to keeps its own numbers
    step = data[:, 2:] - data[:, :2]
    same = np.abs(np.hypot(*step.T) - (last - first)) < 1e-9
    forward = (step * along).sum(axis=1) > 0
    own = np.where(forward[:, None], data, np.roll(data, 2, axis=1))
    lines = np.where(same[:, None], own, np.hstack(ends))
    return Curves.from_segments(lines), style


def _join_arcs(data: Floats, style: Ints32, near: float) -> tuple[Curves, Ints32]:
    if len(data) == 0:
        return Curves.empty(), style
    radius = np.hypot(data[:, 2], data[:, 3])
    group = _split_by(radius, style.astype(np.int64), near)
    group = _split_by(data[:, 0], group, near)
    group = _split_by(data[:, 1], group, near)
    turn = np.arctan2(data[:, 3], data[:, 2])
    way = np.sign(data[:, 2] * data[:, 5] - data[:, 3] * data[:, 4])
    one = turn + way * data[:, 6]
    two = turn + way * data[:, 7]
    low, sweep = np.minimum(one, two), np.abs(two - one)
    low = low % (2 * np.pi)
    slip = near / np.maximum(radius, near)
    first, last = low, low + np.minimum(sweep, 2 * np.pi)
    member, a, b = _unions(first, last, group, float(slip.min()))
    # an arc over the zero direction goes on with what begins there
    g = group[member]
    order = np.lexsort((a, g))
    member, a, b, g = member[order], a[order], b[order], g[order]
    start = np.flatnonzero(np.concatenate([[True], g[1:] != g[:-1]]))
    stop = np.concatenate([start[1:], [len(g)]]) - 1
    gone = np.zeros(len(g), dtype=bool)
    for s, e in zip(start.tolist(), stop.tolist(), strict=True):
        k = s
        while k < e and b[e] >= a[k] + 2 * np.pi - slip[member[k]]:
            b[e] = max(b[e], b[k] + 2 * np.pi)
            gone[k] = True
            k += 1
        if b[e] - a[e] >= 2 * np.pi - slip[member[e]]:
            b[e] = a[e] + 2 * np.pi
    member, a, b = member[~gone], a[~gone], b[~gone]
    rows = np.zeros((len(member), 8))
    rows[:, 0:2] = data[member, 0:2]
    rows[:, 2] = rows[:, 5] = radius[member]
    rows[:, 6], rows[:, 7] = a, b
    return Curves(np.full(len(rows), ARC, np.uint8), rows), style[member]
