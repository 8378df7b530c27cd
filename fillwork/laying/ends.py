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


@dataclass(frozen=True, slots=True, eq=False)
class Closed:
    """Hold the lines of a cell after boundary ends that belong together were joined."""

    curves: Curves
    kept: Bools  # (N,): which are lines still, and no rest between ends that are one
    misfits: list[Misfit]  # what was closed, largest of each join, and what was not
    met: float  # ends that meet some from elsewhere in the cell, less where they miss
    touching: int  # ends that meet those of their own cell alone
    stopping: int  # ends on sides beyond which no copy lies


def close_ends(curves: Curves, way: Way, slack: float) -> Closed:
    """Return a cell's lines with their boundary ends moved together.

    `way`: how the cell goes on. `slack`: largest misfit that is closed, mm.
    """
    ends = _Ends(curves, way, slack)
    rows = np.flatnonzero(ends.boundary)
    if len(rows) == 0:
        whole = np.ones(len(curves), dtype=bool)
        return Closed(curves, whole, ends.left_open(ends.far), 0.0, 0, ends.stopping)
    drawn, points, n = ends.drawn[rows], ends.points[rows], len(rows)
    copies = len(way.operations)
    images = np.vstack([affine.apply(g, points) for g in way.operations])
    near = _near_pairs(images, way.basis, slack)
    alone = ~_touched(near, near.apart <= _EXACT, len(images))[:n]
    on_line, line_off = ends.on_lines(rows, alone)
    led = _apart(points, drawn) > _EXACT
    far, held = np.tile(line_off, copies), np.tile(ends.held(rows), copies)
    group, mean = _meet(images, way.basis, near, far, held, led)
    several = np.bincount(group)[group[:n]] > 1
    off = 2 * np.where(several, _apart(mean[:n], drawn), line_off)
    off = off[np.isfinite(off)]
    noise = _NOISE * float(np.percentile(off, 75)) if len(off) else 0.0
    noise = min(noise, slack)
    if noise > _EXACT:
        group, mean = _meet(images, way.basis, near, far, held, led, noise)
        several = np.bincount(group)[group[:n]] > 1
    moved = several | np.isfinite(line_off)
    target = np.where(several[:, None], mean[:n], on_line)
    wanted = ends.drawn.copy()
    free = moved & ends.free[rows]
    wanted[rows[free]] = target[free]
    # an end well inside a cell of good joins is meant to end there
    told = ends.stops[rows] | (ends.off[rows] <= max(noise, _MEANT * slack))
    # a join is one place, however many of its copies the cell shows
    place = np.full(int(group.max()) + 1, n)
    np.minimum.at(place, group, np.tile(np.arange(n), copies))
    join = place[group[:n]]
    miss = np.where(moved, 2 * _apart(target, drawn), 0.0)
    misfits = [
        Misfit(as_point(drawn[k]), float(miss[k]), True) for k in _worst(miss, join)
    ]
    left = np.unique(join[~moved & told])
    misfits += ends.left_open(np.concatenate([rows[left], ends.far]))
    met, touching = _rate(group, mean, points, near, slack)
    kept = ends.kept(rows, group[:n])
    moved_curves = move_ends(curves, wanted)
    return Closed(moved_curves, kept, misfits, met, touching, ends.stopping)


def _apart(points: Floats, others: Floats) -> Floats:
    return np.asarray(np.hypot(*(points - others).T))


def _worst(miss: Floats, join: Ints) -> list[int]:
    """Return the row of the largest miss of each join, in the order of the joins.

    Joins whose misses are told as none are left out.
    """
    rows = np.flatnonzero(miss > TOLD)
    _, first, count = np.unique(join[rows], return_index=True, return_counts=True)
    order = np.lexsort((miss[rows], join[rows]))
    worst: list[int] = rows[order[np.cumsum(count) - 1]][np.argsort(first)].tolist()
    return worst


def _rate(
    group: Ints, mean: Floats, points: Floats, near: _Pairs, slack: float
) -> tuple[float, int]:
    """Return how well ends meet those of copies, and how many touch their own alone.

    `group`: the place of each image of the ends. `mean` (n, 2): where that lies, mm.
    """
    n = len(points)
    others = _others(group, points, slack)
    gap = _apart(mean[:n], points)[others]
    share = gap / slack if slack > 0 else (gap > 0).astype(float)
    met = float((1.0 - np.minimum(share, 1.0)).sum())
    across = (near.a < n) != (near.b < n)
    beyond = _touched(near, across, len(group))[:n]
    several = np.bincount(group)[group[:n]] > 1
    return met, int((several & ~beyond & ~others).sum())


class _Ends:
    """Find the boundary ends of one cell; starts of its lines, then their ends."""

    def __init__(self, curves: Curves, way: Way, slack: float) -> None:
        self.curves, self.way, self.slack = curves, way, slack
        self.drawn = np.vstack([curves.starts(), curves.ends()])
        self.owner = np.tile(np.arange(len(curves)), 2)
        ahead, self.short = _reach_sides(curves, way.outline, slack)
        # half of what is closed lies on either side of a join, but ends that touch
        # nothing are drawn on farther
        self.stops = (self.short > slack / 2) & (self.short <= _SHORT * slack)
        self.stops[self.stops] = self._alone(np.flatnonzero(self.stops))
        led = (self.short <= slack / 2) | (self.stops & (self.short <= _LED * slack))
        self.points = np.where(led[:, None], ahead, self.drawn)
        start, end = self.points.reshape(2, -1, 2)
        can = (curves.lengths() > 2 * slack) & ~(_apart(start, end) < 1e-9)
        self.sides = _joined_sides(way, slack)
        self.off = _distance(self.drawn, self.sides)
        self.boundary = _distance(self.points, self.sides) <= slack
        self.free = self.boundary & can[self.owner]
        far = np.flatnonzero(self.stops & ~self.boundary)
        self.far = far[_distance(ahead[far], self.sides) <= _EXACT]
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

    def left_open(self, rows: Ints) -> list[Misfit]:
        """Return joins left open, with how far lines not drawn on stop short."""
        far = self.stops & (self.short > _LED * self.slack)
        short = np.where(far, self.short, 0.0)
        return [Misfit(as_point(self.drawn[k]), float(short[k]), False) for k in rows]

    def kept(self, rows: Ints, place: Ints) -> Bools:
        """Return which lines stay, where these ends come to these places.

        What runs between ends that are one now is the rest of a line beyond.
        """
        at = np.full(len(self.points), -1)
        at[rows] = place
        start, end = at.reshape(2, -1)
        held = self.free.reshape(2, -1).any(axis=0)
        return np.asarray(held | (start < 0) | (start != end))

    def held(self, rows: Ints) -> Ints:
        """Return 2 for ends at a corner of the outline, 1 on a side, else 0."""
        points, ring = self.points[rows], self.way.outline
        corner = np.hypot(*np.moveaxis(points[:, None] - ring, -1, 0)).min(axis=1)
        side = _distance(points, self.sides)
        held = (side <= _EXACT).astype(np.int64) + (corner <= _EXACT)
        return np.asarray(held, dtype=np.int64)

    def on_lines(self, rows: Ints, lonely: Bools) -> tuple[Floats, Floats]:
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


def _together(points: Floats, near: _Pairs, exact: Bools, led: Bools) -> Bools:
    """Return which pairs are of points that are near each other and near no more.

    Not where two lines each go on exactly beyond the join, beside each other. That an
    end which was `led` onto the side meets its own image there says nothing.
    """
    n = len(points)
    group = part_numbers(near.a, near.b, n)
    size = np.bincount(group)
    pairs = np.unique(np.sort(np.column_stack([near.a, near.b]), axis=1), axis=0)
    pairs = pairs[pairs[:, 0] != pairs[:, 1]]
    full = (
        np.bincount(group[pairs[:, 0]], minlength=len(size)) == size * (size - 1) // 2
    )
    apart = _apart(points[near.a], points[near.b])
    drawn = len(led)
    one, two = near.a % drawn, near.b % drawn
    told = (near.a // drawn != near.b // drawn) | (apart > 2 * _EXACT)
    told &= (one != two) | ~led[one]
    met = part_numbers(near.a[exact], near.b[exact], n)
    goes_on = np.unique(met[near.a[exact & told]])
    joins = np.unique(np.column_stack([group, met]), axis=0)
    joins = joins[np.isin(joins[:, 1], goes_on), 0]
    many = np.bincount(joins, minlength=len(size)) > 1
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
    group = part_numbers(a[used], b[used], n)
    weight = np.where(meets, 1.0, 0.0)
    weight += np.bincount(group, weight)[group] == 0
    for least in (1, 2):
        firm = np.bincount(group, weight * (held >= least))[group] > 0
        weight[firm & (held < least)] = 0.0
    _, lead = np.unique(group, return_index=True)
    beside = points - points[lead[group]]
    beside -= nearest_shifts(beside, basis)
    sums = [np.bincount(group, axis * weight) for axis in beside.T]
    mean = np.column_stack(sums) / np.bincount(group, weight)[:, None]
    middle = points - beside + mean[group]
    # what meets already is not moved by a rounding
    stays = meets & (_apart(middle, points) <= 10 * _EXACT)
    return group, np.where(stays[:, None], points, middle)
