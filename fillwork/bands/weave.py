"""Plain lines woven: each line becomes a band that passes over and under.

Each piece of line has a rail on both sides. Where a band bends or passes over, its
rails go on into each other; where it passes under, they end on the rails of the band
above, or a gap before them; where it ends at a border line, they end on it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.bands.levels import choose_levels
from fillwork.bands.model import CORNERS, CROSSINGS, NODES, Crossings, Woven
from fillwork.bands.paths import clip_paths, draw_paths
from fillwork.bands.rails import build_rails, meet_rails, rail_of
from fillwork.bands.rings import add_rings
from fillwork.bands.strands import follow_strands, gather_lines
from fillwork.errors import LineWorkError
from fillwork.geometry.curves import Curves

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.bands.strands import Strands
    from fillwork.linework import Frame

    Ints = NDArray[np.int64]
    Floats = NDArray[np.float64]
    Truths = NDArray[np.bool_]


# rails that go on with a smaller turn need no corner, radians
_SMOOTH = 1e-6
# least share of a piece between two crossings that its rails must keep
_LEFT = 1e-3
# pieces of a border that one band may reach over at its end
_BORDER_STEPS = 12
# how far lines are followed from a crossing, in widths of a band, and pieces
_REACH, _MOST_STEPS = 4.0, 24


def weave_lines(
    arrangement: Arrangement,
    width: float,
    *,
    gap: float = 0.0,
    start: str = "over",
    corners: str = "mitre",
    crossings: str = "woven",
    nodes: str = "piled",
) -> Woven:
    """Turn each line of a drawing into a band.

    Parameters
    ----------
    arrangement : Arrangement
        The drawing; its lines are the middles of the bands.
    width : float
        Width of the bands, mm.
    gap : float
        Left free beside the band that is over, mm.
    start : str
        ``over`` or ``under``: the other way round everywhere.
    corners : str
        ``mitre`` or ``round``.
    crossings : str
        ``woven``: over and under in turn; ``crossed``: all rails run through;
        ``open``: no rail runs through another band.
    nodes : str
        Where three lines or more meet in a point, or over and under cannot take
        turns: ``piled``: bands lie on each other by direction; ``plain``: no rail
        runs through another band there; ``ring``: plain, with a ring woven round
        each point of three lines or more.

    Raises
    ------
    LineWorkError
        If the drawing has no lines, or the bands are wider than there is room for.
    ValueError
        If a word is not known or a length makes no sense.
    """
    if (
        corners not in CORNERS
        or crossings not in CROSSINGS
        or nodes not in NODES
        or start not in ("over", "under")
    ):
        what = f"no such way to weave: {corners!r}, {crossings!r}, {nodes!r}, {start!r}"
        raise ValueError(what)
    if not 0 < width < np.inf or not 0 <= gap < np.inf:
        what = f"a band {width!r} mm wide with a gap of {gap!r} mm cannot be drawn"
        raise ValueError(what)
    strands = follow_strands(gather_lines(arrangement))
    strands = _with_page_frame(strands, arrangement.frame, width)
    levels = choose_levels(strands, start=start)
    if nodes == "ring":
        strands = follow_strands(add_rings(strands.lines, levels.piled, width))
        levels = choose_levels(strands, start=start)
    # with all crossings open, what is left of a rail is what the ground has of it
    ground = _Bands(strands, levels, width / 2, 0.0, "open")
    ground.cut_rails(round_outside=False)
    widest, narrow_at = ground.room()
    if widest < width:
        x, y = narrow_at
        told = f"there is room for {widest:.3g} mm"
        if float(f"{widest:.3g}") >= width:
            told = "there is room for a little less"
        mend = f"take a width up to {0.95 * widest:.2g} mm, or leave that line out"
        if ground.lost.any() and widest > 0.99 * width:
            # how much room there is, a rail that meets no other does not say
            told = "one would meet no edge of the band that it passes under"
            mend = f"try {width / 2:.2g} mm, or leave that line out"
        what = f"bands {width:g} mm wide do not fit: {told}"
        where = f"near ({x:.1f}, {y:.1f}) mm"
        raise LineWorkError(what, where, mend)
    worked = _Bands(strands, levels, width / 2, gap, crossings, plain=nodes != "piled")
    worked.cut_rails(round_outside=corners == "round")
    drawn = worked.draw()
    return Woven(strands, levels, width, gap, *drawn, nodes, float(widest), narrow_at)


def _with_page_frame(strands: Strands, page: Frame, width: float) -> Strands:
    """Return strands in which a line along the page's edge is a border line.

    The page would cut half of a band off there.
    """
    point = strands.lines.vertices[strands.lines.origin].reshape(-1, 2, 2)
    far = np.array([page.width, page.height])
    # both ends of a piece by one side of the page
    near = np.concatenate([point, far - point], axis=2) <= width / 2
    along = (near[:, 0] & near[:, 1]).any(axis=1)
    inner = np.bincount(strands.of_piece, ~along, len(strands.strands))
    return replace(
        strands,
        strands=tuple(
            replace(s, border=s.border or (s.closed and not n))
            for s, n in zip(strands.strands, inner.tolist(), strict=True)
        ),
    )


@dataclass(slots=True)
class _Join:
    """Hold how rails go on from one half into the next, row by row."""

    first: Ints
    second: Ints
    arc: NDArray[np.bool_]


class _Bands:
    """Hold rails while they are cut to length."""

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
        self.joins: list[_Join] = []
        self.cut = np.zeros((self.rails, 2), bool)
        self.dead = np.zeros(self.rails, bool)
        self.lost = np.zeros(self.rails, bool)
        self.stem = np.full(len(self.heading), -1, np.int64)  # where strands end
        self.size = pieces.lengths()
        self.degree = np.bincount(
            strands.lines.origin, minlength=len(strands.lines.vertices)
        )

    def cut_rails(self, *, round_outside: bool) -> None:
        """Give every rail its length."""
        self.turn_corners(round_outside=round_outside)
        self.end_at_borders()
        self.pass_under()
        if self.mode == "woven":
            self.part_at_borders()

    def turn_corners(self, *, round_outside: bool) -> None:
        """Let rails go on into each other wherever a band goes on."""
        onward = self.strands.onward
        lead = np.flatnonzero((onward >= 0) & (np.arange(len(onward)) < onward))
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

    def _hidden(self, lead: Ints) -> NDArray[np.bool_]:
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
        if not len(ends) or (onward < 0).all():
            return
        # at each such point the border line, else the band on top, else another
        going = np.flatnonzero((onward >= 0) & (np.arange(len(onward)) < onward))
        rank = np.where(self.border[going >> 1], -1, 0)
        top = np.full(len(onward), 1, np.int64)
        top[self.levels.halves[:, 0]] = self.levels.level
        rank = np.where(rank < 0, -1, top[going])
        order = np.lexsort((going, rank, origin[going]))
        keys = origin[going[order]]
        at = np.searchsorted(keys, origin[ends])
        there = (at < len(keys)) & (keys[np.minimum(at, len(keys) - 1)] == origin[ends])
        under = ends[there]
        above = going[order[at[there]]]
        self.stem[under] = np.where(self.border[above >> 1], above, -1)
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
        first = np.flatnonzero(np.r_[True, level.vertex[1:] != level.vertex[:-1]])
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
        point, and the crossing farthest from it counts, which is the first one met
        on the way to it.
        """
        if not len(under):
            return
        other = np.where(beyond < 0, above, beyond)
        lone = np.where(beyond < 0, above, -1)
        # walking in along `above`, out along `other`
        ahead = np.mod(self.heading[under] - self.heading[other], 2 * np.pi)
        back = np.mod(self.heading[above] - self.heading[other], 2 * np.pi)
        left = np.where(beyond < 0, ahead < np.pi, ahead < back)
        inward = self._steps(above, everywhere=True)
        outward = self._steps(other, everywhere=True)
        near = inward + outward
        looks = [~left] * len(inward) + [left] * len(outward)
        own = self._steps(under, everywhere=False)
        for own_left in (True, False):
            best = np.full(len(under), -np.inf)
            at = np.zeros(len(under))
            for k, half in enumerate(own):
                for along, look in zip(near, looks, strict=True):
                    rows = np.flatnonzero((half >= 0) & (along >= 0))
                    rail = rail_of(half[rows], left=own_left)
                    wall = self.rails + np.where(
                        look[rows],
                        rail_of(along[rows], left=True),
                        rail_of(along[rows], left=False),
                    )
                    side = half[rows] & 1
                    here, there = _end(half[rows]), _end(along[rows])
                    s, t, found = meet_rails(self.curves, rail, wall, here, there)
                    away = np.where(side == 0, s, 1.0 - s)
                    # a band that ends at the point reaches past it to the border
                    spare = np.where(along[rows] == lone[rows], 1.0, _LEFT)
                    odd = along[rows] & 1
                    on = found & (t >= self.span[wall, 0] - np.where(odd, _LEFT, spare))
                    on &= t <= self.span[wall, 1] + np.where(odd, spare, _LEFT)
                    on &= (away <= 1.0 + _LEFT) & ((away >= -_LEFT) | (k == 0))
                    better = on & (k + away > best[rows])
                    best[rows[better]], at[rows[better]] = (k + away)[better], k
            self._cut(under, own, own_left, best, at)

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
        """Cut the rails of walks where the best crossing was met."""
        missed = np.isneginf(best)
        rail = rail_of(under, left=own_left)
        self.lost[rail[missed & ~self._reaches_border(under, own_left, missed)]] = True
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

    def _reaches_border(self, under: Ints, own_left: bool, which: Truths) -> Truths:
        """End rails at the border where the band above ends before it meets them.

        Bands that cross within their width of a border leave no stub behind the
        crossing.
        """
        stub = np.where(which, self.strands.onward[under], -1)
        border = np.where(stub >= 0, self.stem[stub ^ 1], -1)
        rows = np.flatnonzero(border >= 0)
        rail, line = rail_of(under[rows], left=own_left), 2 * (border[rows] >> 1)
        side, end = under[rows] & 1, _end(under[rows])
        s, _, found = meet_rails(self.curves, rail, line, end, _end(border[rows]))
        past = np.abs(s - end) * self.size[under[rows] >> 1]
        near = found & (past <= 2 * self.half)
        rows, rail, side = rows[near], rail[near], side[near]
        self.span[rail, side], self.cut[rail, side] = s[near], True
        self.dead[rail_of(stub[rows], left=not own_left)] = True
        reached = np.zeros(len(under), bool)
        reached[rows] = True
        return reached

    def room(self) -> tuple[float, tuple[float, float]]:
        """Return the width that there is room for, and where it is least."""
        # stubs at a border may vanish under the last band before it
        onward, origin = self.strands.onward, self.strands.lines.origin
        on_border = np.zeros(len(self.strands.lines.vertices), bool)
        on_border[origin[np.repeat(self.border, 2)]] = True
        stub = ((onward < 0) & on_border[origin]).reshape(-1, 2).any(axis=1)
        kept = ~np.repeat(self.border | stub, 2)
        used = 1.0 - (self.span[: self.rails, 1] - self.span[: self.rails, 0])
        used = np.where(self.lost, np.maximum(used, 1.0), used)
        used = np.where(kept & ~self.dead, used, 0.0)
        worst = int(used.argmax())
        widest = np.inf
        if used[worst] > 1e-9:
            widest = 2 * self.half * (1.0 - _LEFT) / used[worst]
        pieces = self.strands.lines.pieces
        at = pieces.point(np.array([worst >> 1]), np.array([0.5]))[0]
        return float(widest), (float(at[0]), float(at[1]))

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
