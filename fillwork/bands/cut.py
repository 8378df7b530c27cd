"""Bands whose rails are cut to length.

Each piece of line has a rail on both sides. Where a band bends or passes over, its
rails go on into each other; where it passes under, they end on the rails of the band
above, or a gap before them; where it ends at a border line, they end on it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.bands.paths import clip_paths, draw_paths
from fillwork.bands.rails import build_rails, meet_rails, rail_of
from fillwork.geometry.crossings import cross
from fillwork.geometry.curves import Curves
from fillwork.geometry.ranges import begins

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.bands.model import Crossings
    from fillwork.bands.strands import Strands


# rails that go on with a smaller turn need no corner, radians
_SMOOTH = 1e-6
# by which lines that touch are parted, for each half of a width that they bend in it
_LEAN = 0.1
# parts of a piece by which a rail may miss the end of another
_LEFT = 1e-3
# pieces of a border that one band may reach over at its end
_BORDER_STEPS = 12
# how far lines are followed from a crossing, in widths of a band, and pieces
_REACH, _MOST_STEPS = 10.0, 40


@dataclass(slots=True)
class _Join:
    """Hold how rails go on from one half into the next, row by row."""

    first: Ints
    second: Ints
    arc: Bools


class CutBands:
    """Hold rails while they are cut to length.

    `half`: half the width of the bands, mm. `mode`: ``woven``, ``crossed`` or ``open``.
    `plain`: whether bands that cannot take turns at a point are open there.
    """

    def __init__(
        self,
        strands: Strands,
        levels: Crossings,
        half: float,
        gap: float,
        mode: str,
        *,
        plain: bool = False,
    ) -> None:
        self.strands, self.levels, self.half, self.gap = strands, levels, half, gap
        self.mode = mode
        # passes of points where no rail runs through another band
        at = np.r_[levels.piled, levels.stuck] if plain else np.empty(0, np.int64)
        self.open = np.isin(levels.vertex, at) | (mode == "open")
        pieces = strands.lines.pieces
        self.border = np.array([s.border for s in strands.strands], bool)[
            strands.of_piece
        ]
        offset = np.where(self.border, 0.0, half)
        clear = np.where(self.border, 0.0, half + gap)
        # rails, and behind them the lines at which a band below ends
        self.rails = len(pieces) * 2
        rails = build_rails(pieces, offset)
        self.curves = Curves.concatenate(
            [rails, build_rails(pieces, clear) if gap else rails]
        )
        self.span = np.tile([0.0, 1.0], (2 * self.rails, 1))
        self.heading = strands.lines.headings()
        # halves that leave a point side by side lie as they bend
        self.bend = strands.lines.bends()
        beside = strands.touching[strands.lines.origin]
        lean = np.where(beside, _LEAN * np.clip(half * self.bend, -1.0, 1.0), 0.0)
        self.leaning = self.heading + lean
        self.joins: list[_Join] = []
        self.cut = np.zeros((self.rails, 2), bool)
        self.dead = np.zeros(self.rails, bool)
        self.lost = np.zeros(self.rails, bool)
        # by which parts of a piece bands may be followed on behind a border
        self.past = np.zeros((2 * self.rails, 2))
        self.size = pieces.lengths()
        self.degree = np.bincount(
            strands.lines.origin, minlength=len(strands.lines.vertices)
        )

    def cut_rails(self, *, round_outside: bool) -> None:
        """Give every rail its length."""
        self.turn_corners(round_outside=round_outside)
        self.turned = self.span.copy()
        self.middle, self.reach = self._circles()
        self.end_at_borders()
        self.pass_under()
        if self.mode == "woven":
            self.part_at_borders()

    def turn_corners(self, *, round_outside: bool) -> None:
        """Let rails go on into each other wherever a band goes on."""
        onward = self.strands.onward
        lead = np.flatnonzero(np.arange(len(onward)) < onward)
        border = self.border[lead >> 1]
        hidden = self._hidden(lead)
        for a, b in ((lead, onward[lead]), (onward[lead], lead)):
            # walking in along a, out along b: what is left of b is right of a
            into, out = rail_of(a, left=False), rail_of(b, left=True)
            turn = np.angle(-np.exp(1j * (self.heading[b] - self.heading[a])))
            bent = (np.abs(turn) > _SMOOTH) & ~border
            outside = turn < 0
            arc = bent & outside if round_outside else np.zeros(len(a), bool)
            ta, tb = _end(a), _end(b)
            rows = np.flatnonzero(bent & ~arc)
            # the lines at which a band below ends always meet in a corner
            for lift, turned in ((0, rows), (self.rails, np.flatnonzero(bent))):
                p, q = into[turned] + lift, out[turned] + lift
                s, t, found = meet_rails(self.curves, p, q, ta[turned], tb[turned])
                self.span[p[found], a[turned[found]] & 1] = s[found]
                self.span[q[found], b[turned[found]] & 1] = t[found]
            gates = 2 * into + (a & 1), 2 * out + (b & 1)
            self.joins.append(_Join(*(g[~hidden] for g in (*gates, arc))))

    def _circles(self) -> tuple[Floats, Floats]:
        """Return middles and radii of circles round rails between their corners."""
        rows = np.arange(len(self.curves))
        away = np.maximum(1.0, 2 * np.abs(self.turned - 0.5).max(axis=1))
        # half of a curve's length lies on each side of its middle
        self.long = self.curves.lengths()
        reach = self.long / 2 * away * (1 + 2 * _LEFT)
        return self.curves.point(rows, np.full(len(rows), 0.5)), reach

    def _hidden(self, lead: Ints) -> Bools:
        """Return which passes lie under another or are left open."""
        hidden = np.zeros(len(self.heading), bool)
        if self.mode == "crossed":
            return hidden[lead]
        level = self.levels
        hidden[level.halves[(level.level > 0) | self.open, 0]] = True
        return hidden[lead]

    def end_at_borders(self) -> None:
        """End rails on the border line or band at which their strand ends."""
        onward, origin = self.strands.onward, self.strands.lines.origin
        ends = np.flatnonzero(onward < 0)
        if not len(ends) or len(ends) == len(onward):
            return
        # at each such point the border line, else the band on top, else another
        going = np.flatnonzero(np.arange(len(onward)) < onward)
        top = np.full(len(onward), 1, np.int64)
        top[self.levels.halves[:, 0]] = self.levels.level
        rank = np.where(self.border[going >> 1], -1, top[going])
        order = np.lexsort((going, rank, origin[going]))
        keys = origin[going[order]]
        at = np.searchsorted(keys, origin[ends])
        there = (at < len(keys)) & (keys[np.minimum(at, len(keys) - 1)] == origin[ends])
        under = ends[there]
        above = going[order[at[there]]]
        at_border = under[self.border[above >> 1]]
        for left in (True, False):
            for lift in (0, self.rails):
                rail = rail_of(at_border, left=left) + lift
                reach = _REACH * (2 * self.half + self.gap)
                self.past[rail, at_border & 1] = reach / self.size[at_border >> 1]
        self._trim(under, above, onward[above])
        self._follow_border(under, above)

    def part_at_borders(self) -> None:
        """Let one of two bands pass under where they overlap just before a border."""
        onward, origin = self.strands.onward, self.strands.lines.origin
        stems: dict[int, list[int]] = {}
        for half in np.flatnonzero(
            (onward < 0) & ~self.border[np.arange(len(onward)) >> 1]
        ):
            stems.setdefault(int(origin[half]), []).append(int(half))
        level_of = np.full(len(onward), 1, np.int64)
        for k in (0, 1):
            known = self.levels.halves[:, k] >= 0
            level_of[self.levels.halves[known, k]] = self.levels.level[known]
        for strand in self.strands.strands:
            if not strand.border:
                continue
            row: list[tuple[int, int]] = []
            for along in strand.halves.tolist():
                row += [(along, half) for half in stems.get(int(origin[along]), ())]
            pairs = list(zip(row, row[1:] + row[:1] * strand.closed, strict=False))
            for (at, a), (beside, b) in pairs:
                if at == beside or origin[a] == origin[b]:
                    continue
                self._part_pair(a, b, level_of)

    def _part_pair(self, a: int, b: int, level_of: Ints) -> None:
        """Trim one of two bands that end beside each other, if they overlap."""
        ends = [np.array([h]) for h in (a, b)]
        facing: tuple[int, int] | None = None
        for left_a in (True, False):
            own, other = (
                rail_of(ends[0], left=left_a),
                rail_of(ends[1], left=not left_a),
            )
            s, t, found = meet_rails(
                self.curves,
                own,
                other,
                np.array([float(a & 1)]),
                np.array([float(b & 1)]),
            )
            inside = self.span[own[0], 0] < s[0] < self.span[own[0], 1]
            inside &= self.span[other[0], 0] < t[0] < self.span[other[0], 1]
            if found[0] and inside:
                facing = int(own[0]), int(other[0])
        if facing is None or not self._overlap(a, b, *facing):
            return
        # who lay under at the last crossing is over here
        over_a = level_of[a ^ 1] >= level_of[b ^ 1]
        under, above = (b, a) if over_a else (a, b)
        half, near = np.array([under]), facing[0] if over_a else facing[1]
        for left in (True, False):
            own = rail_of(half, left=left)
            s, t, found = meet_rails(
                self.curves,
                own,
                np.array([near + self.rails]),
                np.array([float(under & 1)]),
                np.array([float(above & 1)]),
            )
            if not found[0]:
                continue
            side = under & 1
            now = self.span[own[0], side]
            self.span[own[0], side] = min(now, s[0]) if side else max(now, s[0])

    def _overlap(self, a: int, b: int, own: int, other: int) -> bool:
        """Return whether two bands lie on each other where they end at a border."""
        ends = [
            self.curves.point(np.array([rail]), self.span[rail, half & 1][None])[0]
            for rail, half in ((own, a), (other, b))
        ]
        vertices, origin = self.strands.lines.vertices, self.strands.lines.origin
        along = vertices[origin[b]] - vertices[origin[a]]
        over = (ends[0] - ends[1]) @ along / max(np.hypot(*along), 1e-300)
        return bool(over > _LEFT * 2 * self.half)

    def _follow_border(self, under: Ints, above: Ints) -> None:
        """End rails that run past the end of a border's piece on the piece after it."""
        onward = self.strands.onward
        for first in (above, onward[above]):
            for own_left in (True, False):
                own, along = rail_of(under, left=own_left), first.copy()
                rows = np.flatnonzero(self.border[along >> 1])
                for _ in range(_BORDER_STEPS):
                    side, end = under[rows] & 1, _end(along[rows])
                    line = 2 * (along[rows] >> 1)
                    s, t, found = meet_rails(
                        self.curves, own[rows], line, _end(under[rows]), end
                    )
                    away = np.where(end == 0, t, 1.0 - t)
                    on = (
                        found & (away >= 0) & (away <= 1) & (along[rows] != first[rows])
                    )
                    self.span[own[rows[on]], side[on]] = s[on]
                    # past the far end: look at the piece that comes next
                    rows = rows[found & (away > 1)]
                    along[rows] = onward[along[rows] ^ 1]
                    rows = rows[along[rows] >= 0]

    def pass_under(self) -> None:
        """End rails at the bands that lie above them, or at all others when open."""
        if self.mode == "crossed":
            return
        level = self.levels
        first = np.flatnonzero(begins(level.vertex))
        last = np.r_[first[1:], len(level.vertex)]
        group = np.repeat(np.arange(len(first)), last - first)
        for step in range(1, int((last - first).max(initial=1))):
            rows = np.arange(len(level.vertex))
            other = rows + step
            fits = other < last[group]
            for low, high in ((rows[fits], other[fits]), (other[fits], rows[fits])):
                keep = (level.level[low] > level.level[high]) | self.open[low]
                low, high = low[keep], high[keep]
                for k in (0, 1):
                    half = level.halves[low, k]
                    known = half >= 0
                    self._trim(half[known], *level.halves[high[known]].T)

    def _trim(self, under: Ints, above: Ints, beyond: Ints) -> None:
        """End the rails of halves at the band along two others of their point.

        `beyond` is -1 where that band ends at the point itself. Bands may turn, and
        lines be parted, within the width of a band: both are followed away from the
        point, to where a rail first comes out of the band above.
        """
        if not len(under):
            return
        other = np.where(beyond < 0, above, beyond)
        lone = np.where(beyond < 0, above, -1)
        # walking in along `above`, out along `other`
        ahead = np.mod(self.leaning[under] - self.leaning[other], 2 * np.pi)
        back = np.mod(self.leaning[above] - self.leaning[other], 2 * np.pi)
        left = np.where(beyond < 0, ahead < np.pi, ahead < back)
        inward = self._steps(above, everywhere=True)
        outward = self._steps(other, everywhere=True)
        walls = np.array(inward + outward)
        sides = np.array([~left] * len(inward) + [left] * len(outward))
        own = self._steps(under, everywhere=False)
        for own_left in (True, False):
            best, at = np.full(len(under), np.inf), np.zeros(len(under))
            for k, half in enumerate(own):
                open_ = (half >= 0) & np.isinf(best)
                if not open_.any():
                    break
                rail = rail_of(half, left=own_left)
                there = open_ & (walls >= 0) & (half >> 1 != walls >> 1)
                step, rows = np.nonzero(there)
                along = walls[step, rows]
                wall = self.rails + np.where(
                    sides[step, rows],
                    rail_of(along, left=True),
                    rail_of(along, left=False),
                )
                s, rows = self._way_out(
                    half[rows], rail[rows], along, wall, lone[rows], k, rows
                )
                order = np.lexsort((np.abs(k + s), rows))
                first = order[begins(rows[order])]
                best[rows[first]], at[rows[first]] = (k + s)[first], k
            self._cut(under, own, own_left, best, at)

    def _way_out(
        self,
        half: Ints,
        rail: Ints,
        along: Ints,
        wall: Ints,
        lone: Ints,
        step: int,
        rows: Ints,
    ) -> tuple[Floats, Ints]:
        """Return where rails come out of the bands of walls, and which of them do.

        The place is a part of the rail's piece, from the half's end of it.
        """
        # a strand that ends at the point may begin before it or behind it
        ends = (self.strands.onward[half] < 0) & (step == 0)
        free = ends | (along == lone)
        near = np.hypot(*(self.middle[rail] - self.middle[wall]).T)
        free |= (self.past[rail] + self.past[wall]).any(axis=1)
        on = np.flatnonzero(free | (near <= self.reach[rail] + self.reach[wall]))
        half, rail, along, wall, lone, rows = (
            a[on] for a in (half, rail, along, wall, lone, rows)
        )
        ends = ends[on]
        s, t = self._begins(half, along)
        s, t, found = meet_rails(self.curves, rail, wall, s, t)
        # a band that ends at the point reaches past it to the border
        spare, odd = np.where(along == lone, 1.0, _LEFT), along & 1
        before, behind = self.past[wall].T
        before = np.maximum(before, np.where(odd, _LEFT, spare))
        behind = np.maximum(behind, np.where(odd, spare, _LEFT))
        found &= t >= self.turned[wall, 0] - before
        found &= t <= self.turned[wall, 1] + behind
        side = half & 1
        away = np.where(side, 1.0 - s, s)
        first, last = self.turned[rail].T
        low = np.where(side, 1.0 - last, first)
        high = np.where(side, 1.0 - first, last)
        high = high + np.maximum(self.past[rail, 1 - side], _LEFT)
        found &= (away <= high) & (ends | (away >= low - _LEFT))
        on = np.flatnonzero(found)
        heading = self.curves.derivative(rail[on], s[on])
        edge = self.curves.derivative(wall[on], t[on])
        # outward is to the left of a left rail
        turn = cross(edge, heading) * np.where(side[on], -1, 1)
        on = on[turn * np.where(wall[on] & 1, -1, 1) > 0]
        return away[on], rows[on]

    def _begins(self, half: Ints, along: Ints) -> tuple[Floats, Floats]:
        """Return parameters near which rails meet, as bends lead lines that touch."""
        origin, found = self.strands.lines.origin, []
        touch = (origin[half] == origin[along]) & self.strands.touching[origin[half]]
        apart = np.maximum(np.abs(self.bend[half] - self.bend[along]), 1e-9)
        far = np.sqrt(2.0 * (2 * self.half + self.gap) / apart)
        for rows in (half, along):
            part = np.minimum(far / np.maximum(self.size[rows >> 1], 1e-300), 0.9)
            part = np.where(touch, part, 0.0)
            found.append(np.where(rows & 1, 1.0 - part, part))
        return found[0], found[1]

    def _steps(self, half: Ints, *, everywhere: bool) -> list[Ints]:
        """Return halves and those after them, as far as the width of a band reaches.

        `everywhere`: past points where other lines meet, too. -1 ends a walk.
        """
        onward, origin = self.strands.onward, self.strands.lines.origin
        steps, gone = [half], np.zeros(len(half))
        size = self.size
        reach = _REACH * (2 * self.half + self.gap)
        while len(steps) < _MOST_STEPS:
            now = steps[-1]
            gone = gone + np.where(now >= 0, size[now >> 1], 0.0)
            on = (now >= 0) & (gone < reach)
            far = np.where(on, now ^ 1, 0)
            if not everywhere:
                on &= self.degree[origin[far]] == 2
            after = np.where(on, onward[far], -1)
            if (after < 0).all():
                break
            steps.append(after)
        return steps

    def _cut(
        self, under: Ints, own: list[Ints], own_left: bool, best: Floats, at: Floats
    ) -> None:
        """Cut the rails of walks where they come out of the band above."""
        missed = np.isinf(best)
        # of lines that touch the rail on the far side runs through
        touch = self.strands.touching[self.strands.lines.origin[under]]
        self.lost[rail_of(under, left=own_left)[missed & ~touch]] = True
        for k, half in enumerate(own):
            rows = np.flatnonzero((half >= 0) & ~missed & (at >= k))
            rail, side = rail_of(half[rows], left=own_left), half[rows] & 1
            # nothing stays of a piece that is cut at its far end, if another follows
            spent = best[rows] - k > 1.0 - _LEFT
            spent &= own[k + 1][rows] >= 0 if k + 1 < len(own) else False
            past = (at[rows] > k) | spent
            self.dead[rail[past]] = True
            rows, rail, side = rows[~past], rail[~past], side[~past]
            away = best[rows] - k
            t = np.where(side == 0, away, 1.0 - away)
            first = np.where(self.cut[rail, side], self.span[rail, side], t)
            t = np.where(side == 0, np.maximum(t, first), np.minimum(t, first))
            self.span[rail, side] = t
            self.cut[rail, side] = True

    def draw(self) -> tuple[Curves, Ints, Ints]:
        """Return the curves of paths, where each path begins, and its strand."""
        strands = self.strands
        follow = np.full(2 * self.rails, -1, np.int64)
        about = np.full((2 * self.rails, 2), np.nan)
        for join in self.joins:
            follow[join.first], follow[join.second] = join.second, join.first
            for gate in (join.first[join.arc], join.second[join.arc]):
                half = 2 * (gate >> 2) + (gate & 1)
                about[gate] = strands.lines.vertices[strands.lines.origin[half]]
        live = ~self.dead
        live[1::2] &= ~self.border  # a border line has one middle, not two rails
        span = self.span[: self.rails]
        live &= span[:, 1] > span[:, 0]
        # a run begins and ends where it is cut
        broken = (self.cut | ~live[:, None]).reshape(-1)
        follow[follow[broken & (follow >= 0)]] = -1
        follow[broken] = -1
        curves, start, rail = draw_paths(
            self.curves, span, follow, live, about, self.half
        )
        caps, ends = self._caps()
        curves = Curves.concatenate([curves, caps])
        start = np.r_[start, start[-1] + 1 + np.arange(len(ends))]
        owner = strands.of_piece[np.r_[rail >> 1, ends >> 1]]
        for strand in strands.strands:
            if strand.border and strand.closed:
                frame = strands.lines.pieces.take(strand.halves >> 1)
                curves, start, kept = clip_paths(curves, start, owner, frame)
                owner = owner[kept]
        return curves, start, owner

    def _caps(self) -> tuple[Curves, Ints]:
        """Return the short lines that close bands, and the halves that end freely."""
        origin = self.strands.lines.origin
        ends = np.flatnonzero((self.strands.onward < 0) & (self.degree[origin] == 1))
        ends = ends[~self.border[ends >> 1]]
        rows = [rail_of(ends, left=left) for left in (True, False)]
        sides = [self.curves.point(row, self.span[row, ends & 1]) for row in rows]
        return Curves.from_segments(np.concatenate(sides, axis=1)), ends


def _end(half: Ints) -> Floats:
    """Return the parameter of a piece at which its half leaves."""
    return np.asarray((half & 1).astype(np.float64))
