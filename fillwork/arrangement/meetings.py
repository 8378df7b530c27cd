"""Where chords meet: crossings, touches, and ends that lie on another line.

Everything that is nearer than `reach` is recorded together with its distance,
so that the tolerance can be chosen afterwards from what the drawing shows.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.candidates import overlapping_pairs
from fillwork.arrangement.circles import Arcs
from fillwork.geometry.boxes import bounds
from fillwork.geometry.circles import are_circular
from fillwork.geometry.crossings import (
    cross,
    nearest_parameter,
    refine_crossing,
    touch_parameters,
)

if TYPE_CHECKING:
    from typing import Any

    from numpy.typing import NDArray

    from fillwork.arrangement.limits import Limits
    from fillwork.arrangement.segments import Chords
    from fillwork.geometry.curves import Curves


PARTS = 4
_BEYOND = 0.1
_SAMPLE = 1 << 16
_PENCIL, _PENCILS = 200, 8  # so many lines with one end are told; at so many ends


@dataclass(frozen=True, slots=True, eq=False)
class Meetings:
    """Hold what was found between chords."""

    cross_curve: NDArray[np.int32]  # (n, 2): pairs of curves that cross or touch
    cross_t: NDArray[np.float64]  # (n, 2): parameters there
    # (n,): smallest distance of one of the four chord ends from the other chord;
    # infinite for crossings of true curves
    clearance: NDArray[np.float64]
    # (n,): distance of the two curves there: above 0 only for a near touch
    apart: NDArray[np.float64]
    on_curve: NDArray[np.int32]  # (m,): curves that a chord end lies on
    on_t: NDArray[np.float64]  # (m,): parameter there
    on_point: NDArray[np.int32]  # (m,): the point: number of the chord end
    on_distance: NDArray[np.float64]  # (m,): its distance from the curve
    # distances above 0 between ends of different chords, within reach
    end_distance: NDArray[np.float64]


class _Found:
    """Gather chunks of what was found."""

    def __init__(self, curves: Curves, limits: Limits) -> None:
        self.curves, self.limits = curves, limits
        self.cross: list[tuple[NDArray[np.int32], NDArray[np.float64]]] = []
        self.clear: list[tuple[NDArray[np.float64], NDArray[np.float64]]] = []
        self.on: list[
            tuple[
                NDArray[np.int32],
                NDArray[np.float64],
                NDArray[np.int32],
                NDArray[np.float64],
            ]
        ] = []
        self.ends: list[NDArray[np.float64]] = []
        self.count = 0
        self.pairs = 0

    def count_pairs(self, pairs: int) -> None:
        """Refuse more pairs of near lines than the limit."""
        self.pairs += pairs
        self.limits.refuse_above("near_pairs", self.pairs)

    def crossed(
        self,
        pair: NDArray[np.int32],
        place: NDArray[np.float64],
        apart: NDArray[np.float64],
    ) -> None:
        """Take up where true curves cross."""
        self.cross.append((pair, place))
        self.clear.append((_clearances(self.curves, pair, place), apart))
        self.told(len(pair))

    def landed(
        self,
        curve: NDArray[np.int32],
        t: NDArray[np.float64],
        point: NDArray[np.int32],
        distance: NDArray[np.float64],
    ) -> None:
        """Take up which ends lie on true curves."""
        self.on.append((curve, t, point, distance))
        self.told(len(curve))

    def told(self, more: int = 0) -> None:
        """Count so many more, and refuse more crossings than the limit."""
        self.count += more
        self.limits.refuse_above("crossings", self.count)

    def meetings(self) -> Meetings:
        def join(parts: list[Any], shape: int = 0) -> NDArray[Any]:
            if parts:
                return np.concatenate(parts)
            return np.empty((0, shape) if shape else 0)

        return Meetings(
            join([c for c, _ in self.cross], 2).astype(np.int32),
            join([t for _, t in self.cross], 2),
            join([c for c, _ in self.clear]),
            join([d for _, d in self.clear]),
            join([o[0] for o in self.on]).astype(np.int32),
            join([o[1] for o in self.on]),
            join([o[2] for o in self.on]).astype(np.int32),
            join([o[3] for o in self.on]),
            join(self.ends),
        )


def find_meetings(
    curves: Curves,
    chords: Chords,
    chosen: NDArray[np.integer],
    end_point: NDArray[np.int32],
    reach: float,
    limits: Limits,
    touching: NDArray[np.bool_],
) -> Meetings:
    """Find where chords cross, touch, or lie with an end on another.

    `chosen` (n,): the chords to look at: all but exact copies. `end_point` (chords, 2):
    numbers of the points at the ends of each chord. `reach`: largest distance that is
    recorded, mm. `limits`: how many crossings are taken on. `touching` (curves,):
    circles that touch each other in one end of chords, and meet nowhere else. Raises
    `LineWorkError` if there are more crossings than the limit.
    """
    found = _Found(curves, limits)
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
    curved = chords.sagitta > 0
    met = circular if not several else are_circular(curves)[chords.curve[owner]]
    for a, b in overlapping_pairs(low, high, found.count_pairs, met):
        i, j = owner[a], owner[b]
        if several:
            i, j = _distinct(i, j, len(chords))
        bent = curved[i] | curved[j]
        if bent.any():
            straight = ~bent
            _meet_curves(curves, chords, i[bent], j[bent], end_point, reach, found)
            i, j = i[straight], j[straight]
        _meet_lines(chords, i, j, end_point, reach, found)
        found.told()
    return found.meetings()


def _estimate_crossings(ends: NDArray[np.float64], end_point: NDArray[np.int32]) -> int:
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
    chords: Chords,
    chosen: NDArray[np.integer],
    end_point: NDArray[np.int32],
    reach: float,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int32]]:
    """Return boxes round chords; long slanting chords get several."""
    ends = _outer_parts(
        chords.ends.take(chosen, axis=0),
        end_point.take(chosen, axis=0),
        chords.sagitta[chosen],
        reach,
    )
    margin = (chords.sagitta[chosen] + 0.5 * reach + 1e-12)[:, None]
    low = np.minimum(ends[:, :2], ends[:, 2:])
    high = np.maximum(ends[:, :2], ends[:, 2:])
    size = high - low
    extent = np.maximum(bounds(high)[1] - bounds(low)[0], 1e-300)
    length = size.sum(axis=1)
    total = float(length.sum())
    spacing = 2.0 * float(extent[0] * extent[1]) / max(total, 1e-300)
    spacing = max(spacing, float(extent.max()) / 8192)
    # the area of a box, not its length, brings false candidates
    parts = np.ceil(np.sqrt(size[:, 0] * size[:, 1]) / (1.5 * spacing))
    straight = chords.sagitta[chosen] == 0
    # a crowd of long lines is cut less finely than it deserves, to save memory
    most = 6.0 * len(chosen) + 300_000
    parts *= min(1.0, most / max(float(parts.sum()), 1.0))
    parts = np.where(straight, np.clip(parts, 1, 4096), 1).astype(np.int64)
    if int(parts.max(initial=1)) == 1:
        return low - margin, high + margin, chosen.astype(np.int32)
    row = np.repeat(np.arange(len(chosen)), parts)
    k = np.arange(len(row)) - (np.cumsum(parts) - parts)[row]
    step = (ends[:, 2:] - ends[:, :2]) / parts[:, None]
    own, margin = step.take(row, axis=0), margin.take(row, axis=0)
    start = ends.take(row, axis=0)[:, :2] + k[:, None] * own
    stop = start + own
    low = np.minimum(start, stop) - margin
    high = np.maximum(start, stop) + margin
    return low, high, chosen[row].astype(np.int32)


def _outer_parts(
    ends: NDArray[np.float64],
    end_point: NDArray[np.int32],
    sagitta: NDArray[np.float64],
    reach: float,
) -> NDArray[np.float64]:
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


def _distinct(
    i: NDArray[np.int32], j: NDArray[np.int32], n: int
) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    key = np.minimum(i, j).astype(np.int64) * n + np.maximum(i, j)
    key = np.sort(key[i != j])
    if len(key):
        key = key[np.r_[True, key[1:] != key[:-1]]]
    first, second = np.divmod(key, n)
    return first.astype(np.int32), second.astype(np.int32)


def _meet_lines(
    chords: Chords,
    i: NDArray[np.int32],
    j: NDArray[np.int32],
    end_point: NDArray[np.int32],
    reach: float,
    found: _Found,
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
    host: NDArray[np.int32],
    other: NDArray[np.int32],
    near: tuple[NDArray[np.bool_], NDArray[np.bool_]],
    end_point: NDArray[np.int32],
    reach: float,
    found: _Found,
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


def _along(
    chords: Chords, row: NDArray[np.int32], share: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the parameters on curves at shares of their chords."""
    low, high = chords.span.take(row, axis=0).T
    return np.asarray(low + share * (high - low))


def _share_an_end(
    end_point: NDArray[np.int32], i: NDArray[np.int32], j: NDArray[np.int32]
) -> NDArray[np.bool_]:
    """Return which pairs of chords have an end in common."""
    p, q = end_point.take(i, axis=0), end_point.take(j, axis=0)
    return np.asarray((p == q).any(axis=1) | (p == q[:, ::-1]).any(axis=1))


def _meet_curves(
    curves: Curves,
    chords: Chords,
    i: NDArray[np.int32],
    j: NDArray[np.int32],
    end_point: NDArray[np.int32],
    reach: float,
    found: _Found,
) -> None:
    """Record meetings of chord pairs of which one at least is curved."""
    for start in range(0, len(i), 1 << 16):
        part = slice(start, start + (1 << 16))
        _meet_curve_chunk(curves, chords, i[part], j[part], end_point, reach, found)


def _meet_curve_chunk(
    curves: Curves,
    chords: Chords,
    i: NDArray[np.int32],
    j: NDArray[np.int32],
    end_point: NDArray[np.int32],
    reach: float,
    found: _Found,
) -> None:
    # neighbours along one curve meet at their common end only
    follow = (chords.curve[i] == chords.curve[j]) & (np.abs(i - j) == 1)
    i, j = i[~follow], j[~follow]
    room = chords.sagitta[i] + chords.sagitta[j] + reach
    p, q = chords.ends[i], chords.ends[j]
    d, e, w = p[:, 2:] - p[:, :2], q[:, 2:] - q[:, :2], q[:, :2] - p[:, :2]
    det = cross(d, e)
    length_i = np.maximum(np.hypot(*d.T), 1e-300)
    length_j = np.maximum(np.hypot(*e.T), 1e-300)
    c0 = cross(d, w) / length_i
    c1 = c0 + det / length_i
    a0 = cross(w, e) / length_j
    a1 = a0 - det / length_j
    apart = (np.minimum(c0, c1) > room) | (np.maximum(c0, c1) < -room)
    apart |= (np.minimum(a0, a1) > room) | (np.maximum(a0, a1) < -room)
    keep = ~apart
    i, j = i[keep], j[keep]
    if len(i) == 0:
        return
    sides = ((i, j, c0[keep], c1[keep]), (j, i, a0[keep], a1[keep]))
    for host, other, near0, near1 in sides:
        for end, off in ((0, near0), (1, near1)):
            y = np.flatnonzero(np.abs(off) <= chords.sagitta[host] * 1.01 + reach)
            _end_on_curve(
                curves, chords, host[y], other[y], end, end_point, reach, found
            )
    _cross_curves(curves, chords, i, j, reach, found)


def _end_on_curve(
    curves: Curves,
    chords: Chords,
    host: NDArray[np.int32],
    other: NDArray[np.int32],
    end: int,
    end_point: NDArray[np.int32],
    reach: float,
    found: _Found,
) -> None:
    point = end_point[other, end]
    shared = (point == end_point[host, 0]) | (point == end_point[host, 1])
    host, other, point = host[~shared], other[~shared], point[~shared]
    if len(host) == 0:
        return
    place = chords.ends[other, 2 * end : 2 * end + 2]
    h = chords.ends[host]
    d = h[:, 2:] - h[:, :2]
    along = ((place - h[:, :2]) * d).sum(axis=1) / np.maximum(
        (d * d).sum(axis=1), 1e-300
    )
    inside = (along > -0.2) & (along < 1.2)
    host, other, point, place = (
        host[inside],
        other[inside],
        point[inside],
        place[inside],
    )
    span = chords.span[host]
    guess = span[:, 0] + along[inside] * (span[:, 1] - span[:, 0])
    curve = chords.curve[host]
    t, distance = nearest_parameter(curves, curve, place, guess, rounds=5)
    width = span[:, 1] - span[:, 0]
    slack = 1e-6 * width
    good = (t >= span[:, 0] - slack) & (t <= span[:, 1] + slack) & (distance <= reach)
    found.on.append(
        (curve[good], np.clip(t[good], 0.0, 1.0), point[good], distance[good])
    )


def _cross_curves(
    curves: Curves,
    chords: Chords,
    i: NDArray[np.int32],
    j: NDArray[np.int32],
    reach: float,
    found: _Found,
) -> None:
    """Record crossings and touches of true curves."""
    ci, cj = chords.curve[i], chords.curve[j]
    si, sj = chords.span[i], chords.span[j]
    grid = np.linspace(0.0, 1.0, PARTS + 1)
    pi = np.stack(
        [curves.point(ci, si[:, 0] + g * (si[:, 1] - si[:, 0])) for g in grid], axis=1
    )
    pj = np.stack(
        [curves.point(cj, sj[:, 0] + g * (sj[:, 1] - sj[:, 0])) for g in grid], axis=1
    )
    rows, guesses = [], []
    for a in range(PARTS):
        d = pi[:, a + 1] - pi[:, a]
        for b in range(PARTS):
            w = pj[:, b] - pi[:, a]
            e = pj[:, b + 1] - pj[:, b]
            det = cross(d, e)
            flat = det == 0
            safe = np.where(flat, 1.0, det)
            s, t = cross(w, e) / safe, cross(w, d) / safe
            # the true crossing may lie a little past the end of a chord
            near = (s >= -_BEYOND) & (s <= 1 + _BEYOND) & (t >= -_BEYOND)
            hit = np.flatnonzero(near & (t <= 1 + _BEYOND) & ~flat)
            if len(hit):
                s, t = s[hit], t[hit]
                rows.append(hit)
                guesses.append(np.stack([(a + s) / PARTS, (b + t) / PARTS], axis=1))
    if rows:
        row, guess = np.concatenate(rows), np.concatenate(guesses)
        s = si[row, 0] + guess[:, 0] * (si[row, 1] - si[row, 0])
        t = sj[row, 0] + guess[:, 1] * (sj[row, 1] - sj[row, 0])
        s, t, miss = refine_crossing(curves, ci[row], cj[row], s, t)
        # curves that run on each other do not cross
        d, e = curves.derivative(ci[row], s), curves.derivative(cj[row], t)
        sine = np.abs(cross(d, e)) / np.maximum(np.hypot(*d.T) * np.hypot(*e.T), 1e-300)
        y = np.flatnonzero(sine > 1e-5)
        row = row[y]
        _keep_crossings(curves, chords, i[row], j[row], s[y], t[y], miss[y], found)
    # where the tangents become parallel between the ends there may be a touch
    s, t, distance, sure = touch_parameters(curves, ci, cj, si, sj)
    _cross_beside(curves, chords, i, j, s, t, distance, sure, found)
    near = sure & (distance <= reach)
    if near.any():
        pair = np.stack([ci[near], cj[near]], axis=1)
        found.cross.append((pair, np.stack([s[near], t[near]], axis=1)))
        found.clear.append((_clearances(curves, *found.cross[-1]), distance[near]))
        found.count += int(near.sum())


def _cross_beside(
    curves: Curves,
    chords: Chords,
    i: NDArray[np.int32],
    j: NDArray[np.int32],
    s: NDArray[np.float64],
    t: NDArray[np.float64],
    distance: NDArray[np.float64],
    sure: NDArray[np.bool_],
    found: _Found,
) -> None:
    """Record crossings on both sides of a place where curves run parallel.

    Curves that just overlap cross twice within one chord, too near for chords
    to tell. The gap is a parabola there, so Newton's method finds both roots
    from either side.
    """
    row = np.flatnonzero(sure & (distance <= chords.sagitta[i] + chords.sagitta[j]))
    if len(row) == 0:
        return
    i, j, s, t = i[row], j[row], s[row], t[row]
    ci, cj = chords.curve[i], chords.curve[j]
    d, e = curves.derivative(ci, s), curves.derivative(cj, t)
    speed = np.maximum((e * e).sum(axis=1), 1e-300)
    ratio = (d * e).sum(axis=1) / speed
    step = 0.25 * (chords.span[i, 1] - chords.span[i, 0])
    for side in (-1.0, 1.0):
        u, v = s + side * step, t + side * step * ratio
        u, v, miss = refine_crossing(curves, ci, cj, u, v, rounds=16)
        _keep_crossings(curves, chords, i, j, u, v, miss, found)


def _keep_crossings(
    curves: Curves,
    chords: Chords,
    i: NDArray[np.int32],
    j: NDArray[np.int32],
    s: NDArray[np.float64],
    t: NDArray[np.float64],
    miss: NDArray[np.float64],
    found: _Found,
) -> None:
    si, sj = chords.span[i], chords.span[j]
    wi, wj = 0.25 * (si[:, 1] - si[:, 0]), 0.25 * (sj[:, 1] - sj[:, 0])
    good = (s >= si[:, 0] - wi) & (s <= si[:, 1] + wi)
    good &= (t >= sj[:, 0] - wj) & (t <= sj[:, 1] + wj)
    good &= (np.minimum(s, t) >= -1e-9) & (np.maximum(s, t) <= 1 + 1e-9)
    good &= miss <= 1e-10 * np.abs(chords.ends).max(initial=0.0)
    pair = np.stack([chords.curve[i[good]], chords.curve[j[good]]], axis=1)
    place = np.clip(np.stack([s[good], t[good]], axis=1), 0.0, 1.0)
    found.cross.append((pair, place))
    found.clear.append((_clearances(curves, pair, place), np.zeros(len(pair))))
    found.count += len(pair)


def _clearances(
    curves: Curves, pair: NDArray[np.int32], place: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return how far curves part between where they meet and their nearest end.

    Within the slack, an end of one lies on the other and they meet there: the
    crossing further on, of a line that leaves an arc along its tangent, is chance.

    `pair` (n, 2): curves that meet. `place` (n, 2): parameters where they do. Returns
    (n,): distances, mm; infinite where no end lies beside the other curve.
    """
    clear = np.full(len(pair), np.inf)
    meeting = curves.point(pair[:, 0], place[:, 0])
    for own, other in ((0, 1), (1, 0)):
        a, b = pair[:, own], pair[:, other]
        slope = curves.derivative(b, place[:, other])
        speed = np.maximum((slope * slope).sum(axis=1), 1e-300)
        for end in (0.0, 1.0):
            gap = np.zeros(len(pair))
            for share in (0.5, 1.0):
                t = place[:, own] + share * (end - place[:, own])
                at = curves.point(a, t)
                u = place[:, other] + ((at - meeting) * slope).sum(axis=1) / speed
                off = at - curves.point(b, np.clip(u, 0.0, 1.0))
                off = np.where((u < 0) | (u > 1), np.inf, np.hypot(*off.T))
                gap = np.maximum(gap, off)
            clear = np.minimum(clear, gap)
    return clear
