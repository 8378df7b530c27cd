"""The lines near points, by cells of a square grid and by direction."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.ranges import distinct, expand_ranges

if TYPE_CHECKING:
    from collections.abc import Iterable

    from fillwork.arrays import Floats, Ints, Ints32

SINE = 0.25  # lines that cross at a larger sine are not alike
_TURNS = 12  # a line is filed under three of them, and a point looks into one
_ROOM = 64  # cells a line, usually, and some for drawings of few
_WIDER = 1 + 1e-6  # a cell, for what it must hold
_PAIRS = 1 << 18  # compared at once: they stay in the processor's cache


class LineIndex:
    """Find the lines of like direction near points.

    `segments` (n, 4): x0 y0 x1 y1 of each line, mm; none of length 0. `reach`: farthest
    distance that is looked for, mm. `asked`: points, some rows at a time, beside which
    no others will be asked: only lines near them are filed.
    """

    def __init__(
        self, segments: Floats, reach: float, asked: Iterable[Floats] | None = None
    ) -> None:
        start, end = segments[:, :2], segments[:, 2:]
        delta = end - start
        self.length = np.hypot(delta[:, 0], delta[:, 1])
        self.reach = reach
        along = delta / self.length[:, None]
        # a column each: rows of two are slow to gather
        self.lines = np.column_stack([start, along]).T.copy()
        # a square of half side reach + step / 2 about each point is narrower than a
        # cell by more than rounding, so its corners name every cell it meets; few long
        # lines and a short reach would ask for more points and cells than there is
        # room for
        size = np.ptp(segments.reshape(-1, 2), axis=0)
        room = _ROOM * (len(segments) + _ROOM)
        step = max(
            reach, float(self.length.sum()) / room, float(size.max()) / room**0.5
        )
        self.cell = (2 * reach + step) * _WIDER
        counts = np.ceil(self.length / step).astype(np.intp) + 1
        owner, place = expand_ranges(np.zeros(len(counts), np.intp), counts)
        share = place / (counts - 1)[owner]
        points = start[owner] + share[:, None] * delta[owner]
        margin = reach + step / 2
        self.corner = segments.reshape(-1, 2).min(axis=0) - margin - self.cell
        far = segments.reshape(-1, 2).max(axis=0) + margin + self.cell
        shape = np.ceil((far - self.corner) / self.cell).astype(np.intp)
        self.columns, self.rows = int(shape[0]), int(shape[1])
        wanted = np.full(self.rows * self.columns, asked is None)
        for some in asked or ():
            wanted[self._cell(some)] = True
        keys = []
        for dx in (-margin, margin):
            for dy in (-margin, margin):
                cell = self._cell(points + np.array([dx, dy]))
                near = np.flatnonzero(wanted.take(cell))
                keys.append(cell.take(near) * len(segments) + owner.take(near))
        unique = distinct(np.concatenate(keys))
        cell = unique // len(segments)
        member = unique - cell * len(segments)
        # cells that hold lines are numbered from 1; 0 stands for all others
        held = distinct(cell)
        self.slot = np.zeros(self.rows * self.columns, np.int32)
        self.slot[held] = np.arange(1, len(held) + 1)
        slack = np.arcsin(SINE) + 1e-6
        angle = np.arctan2(along[:, 1], along[:, 0])
        low, high = (
            np.floor((angle + turn) * (_TURNS / np.pi)).astype(np.intp)
            for turn in (-slack, slack)
        )
        row, turn = expand_ranges(low[member], (high - low + 1)[member])
        key = self.slot[cell[row]].astype(np.intp) * _TURNS + turn % _TURNS
        self.member = member[row[np.argsort(key, kind="stable")]].astype(np.int32)
        self.first = np.zeros((len(held) + 1) * _TURNS + 1, np.int64)
        np.cumsum(np.bincount(key, minlength=len(self.first) - 1), out=self.first[1:])

    def _cell(self, points: Floats) -> Ints:
        # column by column: numpy is slow along rows of two
        x, y = (
            np.floor((points[:, k] - self.corner[k]) / self.cell).clip(0, most - 1)
            for k, most in enumerate((self.columns, self.rows))
        )
        return np.asarray(y * self.columns + x, np.intp)

    @staticmethod
    def ways(directions: Floats) -> Ints:
        """Return under which of the ways to head lines like unit vectors are filed."""
        turn = np.arctan2(directions[:, 1], directions[:, 0])
        turn *= _TURNS / np.pi
        return np.floor(turn).astype(np.intp) % _TURNS

    def nearest(
        self, points: Floats, directions: Floats, ways: Ints | None = None
    ) -> tuple[Floats, Floats, Floats]:
        """Return how far points are from the nearest line of like direction.

        `points` (n, 2): points, mm. `directions` (n, 2): unit vectors; a line is alike
        if the sine of the angle between is under 0.25. `ways` (n,): what `ways` gives
        for them, if they are asked more than once. Returns `distance` (n,): distance,
        mm; infinite beyond the reach; `offset` (n,): signed distance from the line
        drawn on beyond its ends, mm; `normal` (n, 2): unit normal of that line: point =
        foot + offset * normal.
        """
        distance = np.full(len(points), np.inf)
        offset = np.zeros(len(points))
        normal = np.zeros((len(points), 2))
        slot = self.slot.take(self._cell(points))
        busy = np.flatnonzero(slot)
        key = slot[busy].astype(np.intp) * _TURNS
        asked = self.ways(directions.take(busy, axis=0)) if ways is None else ways[busy]
        key += asked
        first = self.first.take(key)
        sizes = self.first.take(key + 1) - first
        some = np.flatnonzero(sizes)
        busy, first, sizes = busy[some], first[some], sizes[some]
        until = np.cumsum(sizes)
        at = 0
        while at < len(busy):
            done = int(until[at - 1]) if at else 0
            to = max(int(np.searchsorted(until, done + _PAIRS, "right")), at + 1)
            row, count = busy[at:to], sizes[at:to]
            found, gap, side, line = self._compare(
                points.take(row, axis=0),
                directions.take(row, axis=0),
                first[at:to],
                count,
            )
            row = row[found]
            distance[row], offset[row] = gap, side
            normal[row, 0] = -self.lines[3, line]
            normal[row, 1] = self.lines[2, line]
            at = to
        return distance, offset, normal

    def _compare(
        self, points: Floats, directions: Floats, first: Ints, count: Ints
    ) -> tuple[Ints, Floats, Floats, Ints32]:
        """Return which points have a line within reach, how far, aside, and which."""
        owner, place = expand_ranges(first, count)
        line = self.member.take(place)
        ux, uy = self.lines[2].take(line), self.lines[3].take(line)
        rx = points[:, 0].take(owner) - self.lines[0].take(line)
        ry = points[:, 1].take(owner) - self.lines[1].take(line)
        side = ry * ux - rx * uy
        # most lie too far aside, whatever their ends
        at = np.flatnonzero(np.abs(side) <= self.reach * (1 + 1e-9))
        line, side, owner = line.take(at), side.take(at), owner.take(at)
        ux, uy = ux.take(at), uy.take(at)
        run = rx.take(at) * ux + ry.take(at) * uy
        beyond = np.maximum(np.maximum(-run, run - self.length.take(line)), 0.0)
        gap = np.hypot(side, beyond)
        sine = directions[:, 0].take(owner) * uy - directions[:, 1].take(owner) * ux
        within = np.flatnonzero((gap <= self.reach) & (np.abs(sine) <= SINE))
        gap, owner = gap.take(within), owner.take(within)
        fresh = np.ones(len(owner), bool)
        fresh[1:] = owner[1:] != owner[:-1]
        head = np.flatnonzero(fresh)
        if len(head) == 0:
            return owner, gap, gap, line[:0]
        least = np.minimum.reduceat(gap, head)
        # the first line that attains the least gap of its point
        hit = np.flatnonzero(gap == np.repeat(least, np.diff(head, append=len(gap))))
        keep = np.ones(len(hit), bool)
        keep[1:] = owner[hit[1:]] != owner[hit[:-1]]
        hit = hit[keep]
        return owner[hit], gap[hit], side[within[hit]], line[within[hit]]
