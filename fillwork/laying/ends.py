"""Ends of a cell's lines on its outline, and what they meet in its copies.

A *boundary end* is the end of a line on the cell's outline, or near it. Where the
copies of the cell meet, boundary ends that miss each other by a little are moved to
their common middle; the rest of the line follows, by the similarity that keeps its
other end. All is done modulo the shifts, so that each join is the same wherever the
repeat comes to lie.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.geometry.boxes import bounds
from fillwork.geometry.crossings import cross
from fillwork.geometry.parts import part_numbers
from fillwork.geometry.polygons import ring_sides
from fillwork.laying.model import Misfit
from fillwork.laying.moves import (
    as_point,
    move_ends,
    near_pairs,
    nearest_shifts,
    shifts_over,
)

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.geometry.curves import Curves
    from fillwork.laying.model import Way

TOLD = 1e-3
"""Slips up to this, mm, are told as none."""
_EXACT = 2e-5  # files are written with four places and more
_NOISE = 2.5
"""Ends of one point are this much farther apart, at most, than three joins in four."""
_LED = 1.5  # times the slack: as far is a line drawn on that stops short
_SHORT = 2.0  # times the slack: lines that stop no shorter were meant to go on
_STEEP = 0.3  # sine of the least angle with the outline at which a line is drawn on
_MEANT = 0.1
"""Ends this share of the slack off the outline are told when they meet nothing."""


class Ends:
    """Find and close boundary ends of one cell among all its copies."""

    def __init__(self, curves: Curves, way: Way, slack: float) -> None:
        self.curves, self.way, self.slack = curves, way, slack
        self.drawn = np.vstack([curves.starts(), curves.ends()])
        count = len(curves)
        self.owner = np.tile(np.arange(count), 2)
        ahead, short = _reach_sides(curves, way.outline, slack)
        # half of what is closed lies on either side of a join, but ends that touch
        # nothing are drawn on farther
        self.stops = (short > slack / 2) & (short <= _SHORT * slack)
        self.stops[self.stops] = self._alone(np.flatnonzero(self.stops))
        led = (short <= slack / 2) | (self.stops & (short <= _LED * slack))
        self.points = np.where(led[:, None], ahead, self.drawn)
        self.short = short
        lengths = curves.lengths()
        closed = np.hypot(*(self.points[:count] - self.points[count:]).T) < 1e-9
        can = (lengths > 2 * slack) & ~closed
        self.sides = sides = _joined_sides(way, slack)
        self.off = _distance(self.drawn, sides)
        self.boundary = _distance(self.points, sides) <= slack
        self.free = self.boundary & can[self.owner]
        self.far = np.flatnonzero(self.stops & ~self.boundary)
        self.far = self.far[_distance(ahead[self.far], sides) <= _EXACT]
        self.met, self.touching = 0.0, 0
        self.kept = np.ones(count, dtype=bool)
        rim = _distance(self.points, ring_sides(way.outline)) <= slack
        self.stopping = int((rim & ~self.boundary).sum())

    def _alone(self, rows: Ints) -> Bools:
        """Return which ends touch no other line of the cell."""
        import shapely

        chords, owner, _ = self.curves.flatten(0.1 * max(self.slack, TOLD))
        lines = np.asarray(shapely.linestrings(chords.reshape(-1, 2, 2)))
        tree = shapely.STRtree(lines)
        points = shapely.points(self.drawn[rows])
        a, b = tree.query(points, predicate="dwithin", distance=self.slack / 2)
        touched = np.zeros(len(rows), dtype=bool)
        touched[a[owner[b] != self.owner[rows[a]]]] = True
        return ~touched

    def close(self) -> tuple[Curves, list[Misfit]]:
        """Return the curves with their boundary ends moved together."""
        rows = np.flatnonzero(self.boundary)
        if len(rows) == 0:
            return self.curves, self._left(self.far.tolist())
        copies = len(self.way.operations)
        images = np.vstack(
            [affine.apply(g, self.points[rows]) for g in self.way.operations]
        )
        basis = self.way.basis
        near = _near_pairs(images, basis, self.slack)
        alone = ~_touched(near, near.apart <= _EXACT, len(images))[: len(rows)]
        on_line, line_off = self._on_lines(rows, alone)
        far = np.tile(line_off, copies)
        held = np.tile(self._held(rows), copies)
        led = np.hypot(*(self.points[rows] - self.drawn[rows]).T) > _EXACT
        group, mean = _meet(images, basis, near, far, held, led)
        size = np.bincount(group)
        off = 2 * np.hypot(*(mean[: len(rows)] - self.drawn[rows]).T)
        off = np.where(size[group[: len(rows)]] > 1, off, 2 * line_off)
        off = off[np.isfinite(off)]
        noise = _NOISE * float(np.percentile(off, 75)) if len(off) else 0.0
        noise = min(noise, self.slack)
        if noise > _EXACT:
            group, mean = _meet(images, basis, near, far, held, led, noise)
            size = np.bincount(group)
        self._rate(rows, group, mean, near)
        here = group[: len(rows)]
        # what runs between ends that are one now is the rest of a line beyond
        at = np.full(len(self.points), -1)
        at[rows] = here
        start, end = at.reshape(2, -1)
        self.kept = self.free.reshape(2, -1).any(axis=0) | (start < 0) | (start != end)
        # a join is one place, however many of its copies the cell shows
        which = np.tile(np.arange(len(rows)), copies)
        place = np.full(len(size), len(rows))
        np.minimum.at(place, group, which)
        wanted = self.drawn.copy()
        misses: dict[int, tuple[float, int]] = {}
        left: set[int] = set()
        for k, row in enumerate(rows.tolist()):
            if size[here[k]] > 1:
                target = mean[k]
            elif np.isfinite(line_off[k]):
                target = on_line[k]
            else:
                # an end well inside a cell of good joins is meant to end there
                if self.stops[row] or self.off[row] <= max(noise, _MEANT * self.slack):
                    left.add(int(place[here[k]]))
                continue
            miss = 2 * float(np.hypot(*(target - self.drawn[row])))
            if self.free[row]:
                wanted[row] = target
            if miss > TOLD:
                join = int(place[here[k]])
                misses[join] = max(misses.get(join, (0.0, row)), (miss, row))
        misfits = [
            Misfit(as_point(self.drawn[row]), miss, True)
            for miss, row in misses.values()
        ]
        misfits += self._left([*rows[sorted(left)].tolist(), *self.far.tolist()])
        return move_ends(self.curves, wanted), misfits

    def _left(self, rows: list[int]) -> list[Misfit]:
        """Return joins left open, with how far lines not drawn on stop short."""
        far = self.stops & (self.short > _LED * self.slack)
        short = np.where(far, self.short, 0.0)
        return [
            Misfit(as_point(self.drawn[row]), float(short[row]), False) for row in rows
        ]

    def _rate(self, rows: Ints, group: Ints, mean: Floats, near: _Pairs) -> None:
        """Note how well ends meet those of copies, and how many touch their own alone.

        `rows`: the ends on the outline. `group`: the place of each of their images.
        `mean` (n, 2): where that lies, mm.
        """
        others = _others(group, self.points[rows], self.slack)
        gap = np.hypot(*(mean[: len(rows)] - self.points[rows]).T)[others]
        share = gap / self.slack if self.slack > 0 else (gap > 0).astype(float)
        self.met = float((1.0 - np.minimum(share, 1.0)).sum())
        across = (near.a < len(rows)) != (near.b < len(rows))
        beyond = _touched(near, across, len(group))[: len(rows)]
        several = np.bincount(group)[group[: len(rows)]] > 1
        self.touching = int((several & ~beyond & ~others).sum())

    def _held(self, rows: Ints) -> Ints:
        """Return 2 for ends at a corner of the outline, 1 on a side, else 0."""
        points, ring = self.points[rows], self.way.outline
        corner = np.hypot(*np.moveaxis(points[:, None] - ring, -1, 0)).min(axis=1)
        side = _distance(points, self.sides)
        held = (side <= _EXACT).astype(np.int64) + (corner <= _EXACT)
        return np.asarray(held, dtype=np.int64)

    def _on_lines(self, rows: Ints, lonely: Bools) -> tuple[Floats, Floats]:
        """Return where lonely ends lie on a line of a copy, and how far off it."""
        import shapely

        found = self.points[rows].copy()
        nearest = np.full(len(rows), np.inf)
        todo = np.flatnonzero(lonely)
        if len(todo) == 0:
            return found, nearest
        chords, owner, _ = self.curves.flatten(1e-4 * max(self.slack, 1e-3))
        points = np.asarray(shapely.points(self.points[rows[todo]]))
        ring = self.way.outline
        around = ring.min(axis=0) - self.slack, ring.max(axis=0) + self.slack
        for number, g in enumerate(self.way.operations):
            laid = affine.apply(g, chords.reshape(-1, 2, 2))
            own = bounds(laid.reshape(-1, 2))
            for shift in shifts_over(own, self.way.basis, around):
                same = number == 0 and np.hypot(*shift) < 1e-9
                lines = np.asarray(shapely.linestrings(laid + shift))
                tree = shapely.STRtree(lines)
                a, b = tree.query(points, predicate="dwithin", distance=self.slack)
                off = shapely.distance(points[a], lines[b])
                # an end meets its own line's image when that is well within reach
                mine = owner[b] == self.owner[rows[todo[a]]]
                good = ~mine if same else ~mine | (off <= self.slack / 4)
                a, b, off = a[good], b[good], off[good]
                at = shapely.line_interpolate_point(
                    lines[b], shapely.line_locate_point(lines[b], points[a])
                )
                order = np.argsort(-off, kind="stable")  # the nearest comes last
                a, off, at = todo[a[order]], off[order], at[order]
                nearer = off < nearest[a]
                a, off, at = a[nearer], off[nearer], at[nearer]
                nearest[a] = off
                found[a] = shapely.get_coordinates(at)
        return found, nearest


def _reach_sides(curves: Curves, ring: Floats, slack: float) -> tuple[Floats, Floats]:
    """Draw lines that stop short of the outline out to it, straight on.

    Returns where their starts and ends come to lie, and how far each is drawn on, mm;
    infinite where it is not.
    """
    every = np.arange(len(curves))
    points = np.vstack([curves.starts(), curves.ends()])
    away = np.vstack([
        -curves.derivative(every, np.zeros(len(every))),
        curves.derivative(every, np.ones(len(every))),
    ])  # fmt: skip
    away /= np.maximum(np.hypot(*away.T), 1e-12)[:, None]
    long = np.tile(curves.lengths() > 2 * slack, 2)
    nearest = np.full(len(points), np.inf)
    for p, q in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        length = float(np.hypot(*(q - p)))
        side = np.broadcast_to((q - p) / length, points.shape)
        off, rise = cross(side, points - p), -cross(side, away)
        share = ((points - p) * side).sum(axis=1) / length
        near = (off > 0) & (off <= _SHORT * slack) & (rise > _STEEP) & long
        near &= (share > -1e-3) & (share < 1 + 1e-3)
        step = np.where(near, off / np.where(near, rise, 1.0), np.inf)
        nearest = np.minimum(nearest, step)
    # near a corner what ends on one side does not go on to the other
    nearest[_distance(points, ring_sides(ring)) <= _EXACT] = np.inf
    far = np.where(np.isfinite(nearest), nearest, 0.0)
    return points + far[:, None] * away, nearest


def _others(group: Ints, points: Floats, slack: float) -> Bools:
    """Return which points meet images of points elsewhere in the cell."""
    which = np.tile(np.arange(len(points)), len(group) // len(points))
    low = np.full((int(group.max()) + 1, 2), np.inf)
    high = -low
    np.minimum.at(low, group, points[which])
    np.maximum.at(high, group, points[which])
    apart = np.hypot(*(high - low).T) > 2 * slack
    return np.asarray(apart[group[: len(points)]])


def _joined_sides(way: Way, slack: float) -> Floats:
    """Return the sides of the outline beyond which a copy of the cell lies.

    Of strips and rosettes the other sides are where the pattern ends.
    """
    import shapely

    ring, ends = way.outline, ring_sides(way.outline)
    shares = np.array([0.2, 0.5, 0.8])[:, None]
    probes = ends[:, None, :2] * (1 - shares) + ends[:, None, 2:] * shares
    points = shapely.points(probes.reshape(-1, 2))
    around = ring.min(axis=0) - slack, ring.max(axis=0) + slack
    met = np.zeros(len(points), dtype=bool)
    for number, g in enumerate(way.operations):
        copy = affine.apply(g, ring)
        for shift in shifts_over(bounds(copy), way.basis, around):
            if number == 0 and np.hypot(*shift) < 1e-9:
                continue
            met |= shapely.distance(shapely.polygons(copy + shift), points) <= slack
    joined = met.reshape(-1, 3).all(axis=1)
    return np.asarray(ends[joined])


def _distance(points: Floats, sides: Floats) -> Floats:
    import shapely

    if len(sides) == 0:
        return np.full(len(points), np.inf)
    lines = np.asarray(shapely.linestrings(sides.reshape(-1, 2, 2)))
    rim = shapely.multilinestrings(lines)
    shapely.prepare(rim)
    return np.asarray(shapely.distance(rim, shapely.points(points)))


@dataclass(frozen=True, slots=True, eq=False)
class _Pairs:
    """Hold points that are near each other modulo the shifts."""

    a: Ints
    b: Ints
    apart: Floats


def _near_pairs(points: Floats, basis: Floats, slack: float) -> _Pairs:
    a, b, step = near_pairs(points, basis, slack * (1 + 1e-9) + 1e-12)
    return _Pairs(a, b, np.hypot(*step.T))


def _touched(near: _Pairs, rows: Bools, count: int) -> Bools:
    """Return which points are in the chosen pairs."""
    found = np.zeros(count, dtype=bool)
    found[near.a[rows]] = found[near.b[rows]] = True
    return found


def _parts(near: _Pairs, rows: Bools, count: int) -> tuple[int, Ints]:
    """Return how many parts the chosen pairs make of the points, and each one's."""
    group = part_numbers(near.a[rows], near.b[rows], count)
    return int(group.max(initial=-1)) + 1, group


def _together(points: Floats, near: _Pairs, exact: Bools, led: Bools) -> Bools:
    """Return which pairs are of points that are near each other and near no more.

    Not where two lines each go on exactly beyond the join, beside each other. That an
    end which was `led` onto the side meets its own image there says nothing.
    """
    n = len(points)
    parts, group = _parts(near, np.ones(len(near.a), dtype=bool), n)
    size = np.bincount(group, minlength=parts)
    pairs = np.unique(np.sort(np.column_stack([near.a, near.b]), axis=1), axis=0)
    pairs = pairs[pairs[:, 0] != pairs[:, 1]]
    full = np.bincount(group[pairs[:, 0]], minlength=parts) == size * (size - 1) // 2
    apart = np.hypot(*(points[near.a] - points[near.b]).T)
    drawn = len(led)
    one, two = near.a % drawn, near.b % drawn
    told = (near.a // drawn != near.b // drawn) | (apart > 2 * _EXACT)
    told &= (one != two) | ~led[one]
    _, met = _parts(near, exact, n)
    goes_on = np.unique(met[near.a[exact & told]])
    settled = np.zeros(n, dtype=bool)
    settled[goes_on] = True
    joins = np.unique(np.column_stack([group, met]), axis=0)
    many = np.bincount(joins[settled[joins[:, 1]], 0], minlength=parts) > 1
    return np.asarray((full & ~many)[group[near.a]])


def _meet(
    points: Floats,
    basis: Floats,
    near: _Pairs,
    line_off: Floats,
    held: Ints,
    led: Bools,
    noise: float = 0.0,
) -> tuple[Ints, Floats]:
    """Gather points that belong together, and say where each is to go.

    Ends that meet exactly, or lie on a line, are together as they are; the others
    go to the nearest. Then all within the noise of the drawing are one, as are those
    that lie together and alone: each near all the others, and near no more. They come
    to those of them that are `held` most.
    """
    n = len(points)
    a, b = near.a, near.b
    exact = near.apart <= _EXACT
    meets = _touched(near, exact, n) | (line_off <= _EXACT)
    nearest = np.full(n, np.inf)
    np.minimum.at(nearest, a, near.apart)
    np.minimum.at(nearest, b, near.apart)
    # a line that an end lies on goes before an end some way off
    reach = np.where(line_off < nearest / 2, -1.0, 1.1 * nearest)
    reach[meets] = -1.0
    used = exact | (near.apart <= noise) | _together(points, near, exact, led)
    used |= (near.apart <= reach[a]) | (near.apart <= reach[b])
    count, group = _parts(near, used, n)
    weight = np.where(meets, 1.0, 0.0)
    weight += np.bincount(group, weight, minlength=count)[group] == 0
    for least in (1, 2):
        firm = np.bincount(group, weight * (held >= least), minlength=count)[group] > 0
        weight[firm & (held < least)] = 0.0
    lead = np.full(count, n)
    np.minimum.at(lead, group, np.arange(n))
    beside = points - points[lead[group]]
    beside -= nearest_shifts(beside, basis)
    total = np.bincount(group, weight, minlength=count)
    mean = np.column_stack(
        [
            np.bincount(group, beside[:, k] * weight, minlength=count) / total
            for k in (0, 1)
        ]
    )
    middle = points - beside + mean[group]
    # what meets already is not moved by a rounding
    stays = meets & (np.hypot(*(middle - points).T) <= 10 * _EXACT)
    return group, np.where(stays[:, None], points, middle)
