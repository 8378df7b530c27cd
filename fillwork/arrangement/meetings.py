"""Where chords meet: crossings, touches, and ends that lie on another line.

Everything that is nearer than `reach` is recorded together with its distance,
so that the tolerance can be chosen afterwards from what the drawing shows.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.candidates import (
    boxes_along,
    distinct_pairs,
    overlapping_pairs,
    turn_of_crowd,
)
from fillwork.arrangement.circles import Arcs
from fillwork.arrangement.curved import CurvedMeetings
from fillwork.arrangement.found import Found, Meetings
from fillwork.geometry.circles import are_circular
from fillwork.geometry.crossings import cross

if TYPE_CHECKING:
    from fillwork.arrangement.limits import Limits
    from fillwork.arrangement.segments import Chords
    from fillwork.arrays import AnyInts, Bools, Floats, Ints32
    from fillwork.geometry.curves import Curves

_SAMPLE = 1 << 16
_PENCIL, _PENCILS = 200, 8  # so many lines with one end are told; at so many ends


def find_meetings(
    curves: Curves,
    chords: Chords,
    chosen: AnyInts,
    end_point: Ints32,
    reach: float,
    limits: Limits,
    touching: Bools,
) -> Meetings:
    """Find where chords cross, touch, or lie with an end on another.

    `chosen` (n,): the chords to look at: all but exact copies. `end_point` (chords, 2):
    numbers of the points at the ends of each chord. `reach`: largest distance that is
    recorded, mm. `limits`: how many crossings are taken on. `touching` (curves,):
    circles that touch each other in one end of chords, and meet nowhere else. Raises
    `LineWorkError` if there are more crossings than the limit.
    """
    found = Found(curves, limits)
    limits.refuse_above(
        "crossings",
        _estimate_crossings(
            chords.ends.take(chosen, axis=0), end_point.take(chosen, axis=0)
        ),
    )
    circular = are_circular(curves)[chords.curve[chosen]]
    if circular.any():
        arcs = Arcs(curves, chords, chosen[circular], end_point, reach, touching)
        arcs.meet(found.count_pairs, found.crossed, found.landed)
        if circular.all():
            return found.meetings()
    low, high, owner = _boxes(chords, chosen, end_point, reach)
    several = len(owner) > len(chosen)
    is_curved = chords.sagitta > 0
    curved = CurvedMeetings(curves, chords, end_point, reach, found)
    met = circular if not several else are_circular(curves)[chords.curve[owner]]
    for a, b in overlapping_pairs(low, high, found.count_pairs, met):
        i, j = owner[a], owner[b]
        if several:
            i, j = distinct_pairs(i, j, len(chords))
        bent = is_curved[i] | is_curved[j]
        if bent.any():
            straight = ~bent
            curved.meet(i[bent], j[bent])
            i, j = i[straight], j[straight]
        _meet_lines(chords, i, j, end_point, reach, found)
        found.told()
    return found.meetings()


def _estimate_crossings(ends: Floats, end_point: Ints32) -> int:
    """Return about how many crossings there will be, or 0 where few.

    A sample of pairs tells a flood (many lines that all cross) before it fills
    the memory; ordinary line work has next to none among distant pairs.
    """
    n = len(ends)
    if n < 2000:
        return 0
    rng = np.random.default_rng(0)
    i, j = rng.integers(0, n, (2, _SAMPLE))
    p, q = ends.take(i, axis=0), ends.take(j, axis=0)
    d, e, w = p[:, 2:] - p[:, :2], q[:, 2:] - q[:, :2], q[:, :2] - p[:, :2]
    det = cross(d, e)
    c0, a0 = cross(d, w), cross(w, e)
    hit = (c0 * (c0 + det) < 0) & (a0 * (a0 - det) < 0)
    hits = int((hit & ~_share_an_end(end_point, i, j)).sum())
    # fewer hits say too little; the lower end of the likely range is taken
    return int(0.7 * hits / _SAMPLE * n * n / 2) if hits >= 50 else 0


def _boxes(
    chords: Chords, chosen: AnyInts, end_point: Ints32, reach: float
) -> tuple[Floats, Floats, Ints32]:
    """Return boxes round chords; long slanting chords get several."""
    sagitta = chords.sagitta[chosen]
    ends = _outer_parts(
        chords.ends.take(chosen, axis=0),
        end_point.take(chosen, axis=0),
        sagitta,
        reach,
    )
    turn = turn_of_crowd(ends)
    if turn is not None:
        ends = np.concatenate([ends[:, :2] @ turn, ends[:, 2:] @ turn], axis=1)
    low, high, row = boxes_along(ends, sagitta + 0.5 * reach + 1e-12, sagitta == 0)
    return low, high, chosen[row].astype(np.int32)


def _outer_parts(
    ends: Floats, end_point: Ints32, sagitta: Floats, reach: float
) -> Floats:
    """Return chords, those that very many share an end of without what is near it.

    Up to where the first of them ends, and where another chord comes, they meet
    nothing but each other in that end.
    """
    heavy = np.flatnonzero(np.bincount(end_point.reshape(-1)) > _PENCIL)
    for point in heavy[:_PENCILS]:
        at = (end_point == point) & (sagitta == 0)[:, None]
        rays = at.any(axis=1)
        if int(rays.sum()) <= _PENCIL:
            continue
        middle = np.where(at[rays, :1], ends[rays, :2], ends[rays, 2:])[0]
        d, w = ends[:, 2:] - ends[:, :2], middle - ends[:, :2]
        size = np.maximum((d * d).sum(axis=1), 1e-300)
        share = np.clip((w * d).sum(axis=1) / size, 0.0, 1.0)[:, None]
        off = np.hypot(*(w - share * d).T) - sagitta
        length = np.sqrt(size)
        room = float(np.where(rays, length, off).min()) * 0.999 - 2.0 * reach
        if room <= 0:
            continue
        ends = ends.copy()
        step = d * (room / length)[:, None]
        first, last = at[:, 0] & rays, at[:, 1] & rays
        ends[first, :2] += step[first]
        ends[last, 2:] -= step[last]
    return ends


def _meet_lines(
    chords: Chords, i: Ints32, j: Ints32, end_point: Ints32, reach: float, found: Found
) -> None:
    """Record meetings of straight lines."""
    p, q = chords.ends.take(i, axis=0), chords.ends.take(j, axis=0)
    dx, dy = p[:, 2] - p[:, 0], p[:, 3] - p[:, 1]
    ex, ey = q[:, 2] - q[:, 0], q[:, 3] - q[:, 1]
    wx, wy = q[:, 0] - p[:, 0], q[:, 1] - p[:, 1]
    first_length, second_length = np.hypot(dx, dy), np.hypot(ex, ey)
    det = dx * ey - dy * ex
    c0 = dx * wy - dy * wx
    c1 = c0 + det
    a0 = wx * ey - wy * ex
    a1 = a0 - det
    slack_i, slack_j = reach * first_length, reach * second_length
    near_c0, near_c1 = np.abs(c0) <= slack_i, np.abs(c1) <= slack_i
    near_a0, near_a1 = np.abs(a0) <= slack_j, np.abs(a1) <= slack_j
    x = np.flatnonzero((c0 * c1 < 0) & (a0 * a1 < 0))
    x = x[~_share_an_end(end_point, i[x], j[x])]
    if len(x):
        s = a0[x] / (a0[x] - a1[x])
        t = c0[x] / (c0[x] - c1[x])
        clear = np.minimum(
            np.minimum(np.abs(c0[x]), np.abs(c1[x])) / first_length[x],
            np.minimum(np.abs(a0[x]), np.abs(a1[x])) / second_length[x],
        )
        a, b = chords.curve[i[x]], chords.curve[j[x]]
        at = np.stack([_along(chords, i[x], s), _along(chords, j[x], t)], axis=1)
        found.cross.append((np.stack([a, b], axis=1), at))
        found.clear.append((clear, np.zeros(len(x))))
        found.count += len(x)
    x = np.flatnonzero(near_c0 | near_c1 | near_a0 | near_a1)
    if len(x) == 0:
        return
    # two lines with a common end have no other business unless they overlap
    pi, pj = end_point.take(i[x], axis=0), end_point.take(j[x], axis=0)
    same = [[pi[:, m] == pj[:, n] for n in (0, 1)] for m in (0, 1)]
    near_c0[x] &= ~(same[0][0] | same[1][0])
    near_c1[x] &= ~(same[0][1] | same[1][1])
    near_a0[x] &= ~(same[0][0] | same[0][1])
    near_a1[x] &= ~(same[1][0] | same[1][1])
    x = x[near_c0[x] | near_c1[x] | near_a0[x] | near_a1[x]]
    _land(chords, i[x], j[x], (near_c0[x], near_c1[x]), end_point, reach, found)
    _land(chords, j[x], i[x], (near_a0[x], near_a1[x]), end_point, reach, found)


def _land(
    chords: Chords,
    host: Ints32,
    other: Ints32,
    near: tuple[Bools, Bools],
    end_point: Ints32,
    reach: float,
    found: Found,
) -> None:
    """Record which ends of straight lines lie on others, or near their ends.

    `near`: of `other`, whether its first and its last end is near the `host`'s line.
    """
    h, o = chords.ends.take(host, axis=0), chords.ends.take(other, axis=0)
    direction = h[:, 2:] - h[:, :2]
    length = np.hypot(direction[:, 0], direction[:, 1])
    for end in (0, 1):
        y = np.flatnonzero(near[end])
        if len(y) == 0:
            continue
        w = o[y, 2 * end : 2 * end + 2] - h[y, :2]
        along = (w * direction[y]).sum(axis=1) / length[y]
        inside = (along > -reach) & (along < length[y] + reach)
        y, w, along = y[inside], w[inside], along[inside]
        point = end_point[other[y], end]
        shared = (point == end_point[host[y], 0]) | (point == end_point[host[y], 1])
        y, w, along, point = y[~shared], w[~shared], along[~shared], point[~shared]
        distance = np.abs(cross(direction[y], w)) / length[y]
        to_end = np.minimum(along, length[y] - along)
        at = _along(chords, host[y], along / length[y])
        found.on.append((chords.curve[host[y]], at, point, distance))
        found.count += int((distance <= 1e-3 * reach).sum())
        beside = np.hypot(np.minimum(to_end, reach), distance)
        close = (to_end < reach) & (beside <= reach)
        found.ends.append(beside[close])


def _along(chords: Chords, row: Ints32, share: Floats) -> Floats:
    """Return the parameters on curves at shares of their chords."""
    low, high = chords.span.take(row, axis=0).T
    return np.asarray(low + share * (high - low))


def _share_an_end(end_point: Ints32, i: Ints32, j: Ints32) -> Bools:
    """Return which pairs of chords have an end in common."""
    p, q = end_point.take(i, axis=0), end_point.take(j, axis=0)
    return np.asarray((p == q).any(axis=1) | (p == q[:, ::-1]).any(axis=1))
