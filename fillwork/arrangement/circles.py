"""Where arcs of circles meet each other: pair by pair, not chord by chord."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.candidates import overlapping_pairs
from fillwork.geometry.circles import circles_meet, distances_from, parameters_at
from fillwork.geometry.crossings import cross
from fillwork.geometry.ranges import begins, expand_ranges

if TYPE_CHECKING:
    from collections.abc import Callable

    from fillwork.arrangement.segments import Chords
    from fillwork.arrays import AnyInts, Bools, Floats, Ints, Ints32
    from fillwork.geometry.curves import Curves

    Found = Callable[[Ints32, Floats, Ints32, Floats], None]


_CROSSES, _TOUCHES = 1e-9, 1e-7  # of an arc: so far beyond its ends it still meets
_SIDE_BY_SIDE = 0.1  # sine below which two arcs may run on each other from an end on
_SHALLOW = 0.4  # sine below which arcs stay within reach for longer than a point
_EXACT = 1e-12  # of the radii: circles that miss by no more touch
_CHUNK = 1 << 18


def _way_within(slope: Floats, bend: Floats, reach: float) -> Floats:
    """Return how far lines of this slope and bend are within reach of where they met.

    The gap is slope · x - bend · x² / 2: it stays small, or grows past the reach first.
    """
    grows = slope**2 > 2.0 * bend * reach
    stays = (slope + np.sqrt(slope**2 + 2.0 * bend * reach)) / bend
    return np.where(grows, 2.0 * reach / np.maximum(slope, 1e-300), stays)


class Arcs:
    """Hold the arcs of circles among the chosen chords.

    `curves`: the true curves. `rows`: chosen chords of arcs of circles, rising.
    `end_point` (chords, 2): numbers of the points at the ends of each chord. `reach`:
    largest distance that is recorded, mm. `touching` (curves,): circles of which no two
    meet but in one end of chords.
    """

    def __init__(
        self,
        curves: Curves,
        chords: Chords,
        rows: AnyInts,
        end_point: Ints32,
        reach: float,
        touching: Bools,
    ) -> None:
        self.curves, self.reach = curves, reach
        curve = chords.curve[rows]
        lead = np.flatnonzero(begins(curve))
        self.curve = curve[lead]
        self.touching = touching[self.curve]
        self.start = rows[lead]
        self.count = np.diff(np.r_[lead, len(rows)])
        last = self.start + self.count - 1
        self.end_point = np.stack(
            [end_point[self.start, 0], end_point[last, 1]], axis=1
        )
        self.ends = np.stack([chords.ends[self.start, :2], chords.ends[last, 2:]], 1)
        d = curves.data.take(self.curve, axis=0)
        self.sweep = np.abs(d[:, 7] - d[:, 6])
        self.closed = self.sweep >= 2 * np.pi * (1 - 1e-12)
        # the first point of each chord but the first, and its number
        self.inner, self.inner_point = chords.ends[:, :2], end_point[:, 0]
        ends = chords.ends.take(rows, axis=0)
        sagitta = np.maximum.reduceat(chords.sagitta[rows], lead)
        margin = (sagitta + 0.5 * reach + 1e-12)[:, None]
        low = np.minimum(ends[:, :2], ends[:, 2:])
        high = np.maximum(ends[:, :2], ends[:, 2:])
        self.low = np.minimum.reduceat(low, lead) - margin
        self.high = np.maximum.reduceat(high, lead) + margin

    def meet(
        self,
        check: Callable[[int], None],
        crossed: Callable[[Ints32, Floats, Floats], None],
        landed: Found,
    ) -> None:
        """Find where they meet.

        `check`: told beforehand how many pairs will be looked at; may raise. `crossed`:
        given pairs of curves that cross or touch, (n, 2), parameters there, (n, 2), and
        how far apart they are there, mm. `landed`: given curves, parameters on them,
        points that lie there, and how nearly, mm.
        """
        # whole circles end where they begin, but for the last digits
        y = np.flatnonzero(self.closed & (self.end_point[:, 0] != self.end_point[:, 1]))
        off = np.hypot(*(self.ends[y, 1] - self.ends[y, 0]).T)
        for end in (0, 1):
            landed(
                self.curve[y], np.full(len(y), 1.0 - end), self.end_point[y, end], off
            )
        d = self.curves.data.take(self.curve, axis=0)
        radius = np.hypot(d[:, 2], d[:, 3])
        for a, b in overlapping_pairs(self.low, self.high, check):
            off = np.hypot(d[a, 0] - d[b, 0], d[a, 1] - d[b, 1])
            far = off > radius[a] + radius[b] + self.reach
            far |= off < np.abs(radius[a] - radius[b]) - self.reach
            far |= self.touching[a] & self.touching[b]
            a, b, off = a[~far], b[~far], off[~far]
            for start in range(0, len(a), _CHUNK):
                part = slice(start, start + _CHUNK)
                i, j = a[part], b[part]
                self._cross(i, j, crossed, landed)
                beside = off[part] + np.abs(radius[i] - radius[j]) <= self.reach
                beside |= self._land(i, j, landed) | self._land(j, i, landed)
                self._run_on(i[beside], j[beside], landed)
                self._run_on(j[beside], i[beside], landed)

    def _cross(
        self,
        i: Ints32,
        j: Ints32,
        crossed: Callable[[Ints32, Floats, Floats], None],
        landed: Found,
    ) -> None:
        """Tell where pairs cross, or run side by side within reach."""
        ci, cj = self.curve[i], self.curve[j]
        row, off, other, apart = circles_meet(self.curves, ci, cj)
        near = np.flatnonzero(apart <= self.reach)
        row, apart = row[near], apart[near]
        s = parameters_at(self.curves, ci[row], off[near])
        t = parameters_at(self.curves, cj[row], other[near])
        slack = np.where(apart > 0, _TOUCHES, _CROSSES)
        good = np.flatnonzero(
            (np.minimum(s, t) >= -slack) & (np.maximum(s, t) <= 1 + slack)
        )
        row = row[good]
        place = np.clip(np.stack([s[good], t[good]], axis=1), 0.0, 1.0)
        crossed(np.stack([ci[row], cj[row]], axis=1), place, apart[good])
        # under a small angle they stay within reach of each other for a while
        one, two = off[near[good]], other[near[good]]
        r, q = np.hypot(*one.T), np.hypot(*two.T)
        slope = np.abs(cross(one, two)) / (r * q)
        d = np.hypot(*(one - two).T)
        gap = np.minimum(np.abs(d - r - q), np.abs(d - np.abs(r - q)))
        gap = np.where(apart[good] > 0, apart[good], gap)
        # those that touch exactly part at once
        y = np.flatnonzero((slope < _SHALLOW) & (gap > _EXACT * (r + q)))
        inside = np.sign((one[y] * two[y]).sum(axis=1))
        bend = np.abs(1 / r[y] - inside / q[y])
        way = _way_within(slope[y], np.maximum(bend, 1e-300), self.reach)
        i, j = i[row[y]], j[row[y]]
        self._run_beside(i, j, place[y, 1], way / q[y], landed)
        self._run_beside(j, i, place[y, 0], way / r[y], landed)

    def _run_beside(
        self, host: Ints32, other: Ints32, t: Floats, angle: Floats, landed: Found
    ) -> None:
        """Tell which joints of others' chords lie on hosts, so far about a place."""
        count = self.count[other]
        share = np.minimum(angle / self.sweep[other], 0.5)
        first = np.floor((t - share) * count).astype(np.int64)
        many = np.minimum(np.ceil((t + share) * count).astype(np.int64) - first, count)
        owner, k = expand_ranges(first, many + 1)
        mine = other[owner]
        k = np.where(self.closed[mine], k % count[owner], k)
        inner = (k > 0) & (k < count[owner])
        key = (host[owner].astype(np.int64) << 32) + self.start[mine] + k
        _, lead = np.unique(key[inner], return_index=True)
        chosen = np.flatnonzero(inner)[lead]
        self._tell(host[owner[chosen]], self.start[mine[chosen]] + k[chosen], landed)

    def _tell(self, host: Ints32, row: Ints, landed: Found) -> None:
        """Tell which starts of chords lie on hosts."""
        curve = self.curve[host]
        distance, t, _ = distances_from(self.curves, curve, self.inner[row])
        y = np.flatnonzero(
            (distance <= self.reach) & (np.abs(t - 0.5) <= 0.5 + _TOUCHES)
        )
        landed(curve[y], np.clip(t[y], 0.0, 1.0), self.inner_point[row[y]], distance[y])

    def _land(self, host: Ints32, other: Ints32, landed: Found) -> Bools:
        """Tell ends of others that lie on hosts; return where these go on beside."""
        beside = np.zeros(len(host), dtype=bool)
        curve = self.curve[host]
        d = self.curves.data.take(self.curve[other], axis=0)
        for end in (0, 1):
            place, point = self.ends[other, end], self.end_point[other, end]
            distance, t, off = distances_from(self.curves, curve, place)
            on = (distance <= self.reach) & (np.abs(t - 0.5) <= 0.5 + _TOUCHES)
            own = place - d[:, :2]
            size = np.hypot(*off.T) * np.hypot(*own.T)
            beside |= on & (np.abs(cross(off, own)) <= _SIDE_BY_SIDE * size)
            on &= (point != self.end_point[host, 0]) & (
                point != self.end_point[host, 1]
            )
            y = np.flatnonzero(on)
            landed(curve[y], np.clip(t[y], 0.0, 1.0), point[y], distance[y])
        return beside

    def _run_on(self, host: Ints32, other: Ints32, landed: Found) -> None:
        """Tell which joints of others' chords lie on hosts that they run on."""
        many = self.count[other] - 1
        total = np.cumsum(many)
        begin = 0
        while begin < len(host):
            done = total[begin - 1] if begin else 0
            stop = int(np.searchsorted(total, done + 4 * _CHUNK, side="right"))
            part = slice(begin, max(stop, begin + 1))
            owner, row = expand_ranges(self.start[other[part]] + 1, many[part])
            self._tell(host[part][owner], row, landed)
            begin = part.stop
