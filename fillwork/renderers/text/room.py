"""Measure how large a number can stand at a point of a region, and where largest.

A number's ink is held by a convex *body*: the smallest sixteen-sided outline with
fixed directions around all its glyphs, grown by a little air. For a point p inside
a region, the largest body about p that meets no side of the region is found
exactly: a convex body and a line segment are apart when one of the body's
directions, or the segment's own normal, keeps them apart (the separating axis
theorem). A search then moves p to where that size is largest.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.ranges import distinct, expand_ranges
from fillwork.renderers.text.bars import BAR_BELOW, BAR_WIDTH, needs_bar

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fillwork.arrangement.model import Outlines
    from fillwork.arrays import AnyInts, Bools, Floats, Ints
    from fillwork.renderers.text.typeset import FontSet

_DIRECTIONS = 16
"""Sides of a number's body; `_Gauge` holds a row of sides for each."""

_AIR = 0.10
"""Air round a number, as a share of its height."""

_CHUNK = 40_000
"""Sides measured at once, which bounds memory: 5 MB for all directions."""

_LONG = 250
"""Sides of a region from which on only those near a number are asked."""


@dataclass(frozen=True, slots=True, eq=False)
class Sides:
    """Hold the straight sides of regions, curves as chords."""

    segments: Floats  # (n, 4): x0 y0 x1 y1, region by region, mm
    # (F + 1,): region ``f`` owns ``segments[start[f]:start[f + 1]]``
    start: Ints

    @classmethod
    def of(cls, outlines: Outlines, chord_error: float) -> Sides:
        """Return the sides of all faces.

        `chord_error`: largest distance of a chord from its curve, mm.
        """
        steps = outlines.pieces.chord_counts(chord_error).astype(np.int64)
        before = np.concatenate([[0], np.cumsum(steps)])
        chords, _, _ = outlines.pieces.flatten(chord_error)
        return cls(chords, before[outlines.ring_start[outlines.face_ring_start]])

    def mapped(self, scale: float, mirror: bool, shift: tuple[float, float]) -> Sides:
        """Return the sides on paper; the same regions.

        `scale`: paper mm for one mm. `mirror`: whether x is turned round. `shift`:
        added last, mm.
        """
        way = np.array([-scale if mirror else scale, scale] * 2)
        return Sides(self.segments * way + np.array([*shift, *shift]), self.start)

    def only(self, faces: AnyInts) -> Sides:
        """Return the sides of some regions.

        Region ``i`` of it is ``faces[i]`` of these. `faces` (n,): regions.
        """
        owner, index = self.rows(faces)
        size = np.bincount(owner, minlength=len(faces))
        rows = self.segments.take(index, axis=0)
        return Sides(rows, np.concatenate([[0], np.cumsum(size)]))

    def rows(self, faces: AnyInts) -> tuple[Ints, Ints]:
        """Return all sides of some regions: place in `faces`, row of `segments`."""
        return expand_ranges(self.start[faces], np.diff(self.start)[faces])

    def kept(self, faces: AnyInts) -> Sides:
        """Return all regions, those that are not asked for without sides.

        Regions by the same numbers. `faces` (n,): regions that keep their sides.
        """
        size = np.zeros(len(self.start) - 1, np.int64)
        size[faces] = np.diff(self.start)[faces]
        _, index = expand_ranges(self.start[:-1], size)
        rows = self.segments.take(index, axis=0)
        return Sides(rows, np.concatenate([[0], np.cumsum(size)]))

    def boxes(self) -> tuple[Floats, Floats]:
        """Return the lower left and upper right corners of each region's box."""
        count = len(self.start) - 1
        low, high = np.full((count, 2), np.nan), np.full((count, 2), np.nan)
        filled = np.diff(self.start) > 0
        if filled.any():
            at = self.start[:-1][filled]
            # column by column: numpy is slow along rows of two
            for axis in (0, 1):
                one, two = self.segments[:, axis], self.segments[:, axis + 2]
                low[filled, axis] = np.minimum.reduceat(np.minimum(one, two), at)
                high[filled, axis] = np.maximum.reduceat(np.maximum(one, two), at)
        return low, high

    def centroids(self) -> Floats:
        """Return the centroid of each region, NaN where it has none."""
        x0, y0, x1, y1 = self.segments.T
        cross = x0 * y1 - x1 * y0
        count = len(self.start) - 1
        owner = np.repeat(np.arange(count), np.diff(self.start))
        area = np.bincount(owner, cross, count) / 2
        with np.errstate(divide="ignore", invalid="ignore"):
            cx = np.bincount(owner, (x0 + x1) * cross, count) / (6 * area)
            cy = np.bincount(owner, (y0 + y1) * cross, count) / (6 * area)
        return np.stack([cx, cy], axis=1)


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """Hold the outline of a number about the centre of its ink, height 1."""

    # (_DIRECTIONS,): how far it reaches in each direction, air included
    reach: Floats
    corners: Floats  # (_DIRECTIONS, 2): its corners
    half: tuple[float, float]  # half the width and height of the ink, a bar included


@cache
def _directions() -> Floats:
    angle = np.arange(_DIRECTIONS) * 2 * np.pi / _DIRECTIONS
    ways = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    ways.setflags(write=False)
    return ways


def ink_points(text: str, fonts: FontSet, weight: str = "regular") -> Floats:
    """Return points all along the outlines of a text's glyphs.

    `text`: the number. `weight`: ``regular`` or ``medium``. Returns (n, 2): about the
    centre of the ink's box, in heights of a figure.
    """
    from fillwork.renderers.text.typeset import CAP_HEIGHT

    shaped = fonts.shape(text, weight)
    points = []
    for font, glyph, x, y in shaped.glyphs():
        curves, _ = font.outline(glyph)
        if len(curves):
            chords, _, _ = curves.flatten(0.002)
            points.append(chords[:, :2] + (x, y))
    if not points:
        return np.zeros((1, 2))
    ink: Floats = (np.concatenate(points) - shaped.middle) / CAP_HEIGHT
    return ink


@lru_cache(maxsize=1024)
def number_body(text: str, fonts: FontSet, weight: str = "regular") -> Body:
    """Return the body of a number; for figures of height 1.

    `weight`: ``regular`` or ``medium``.
    """
    points = ink_points(text, fonts, weight)
    if needs_bar(text):
        wide, high = np.abs(points).max(axis=0)
        y = -high - BAR_BELOW - BAR_WIDTH / 2
        points = np.concatenate([points, [(-wide, y), (wide, y)]])
    ways = _directions()
    # chords of glyphs miss their curves by 0.002 em at most
    reach = (points @ ways.T).max(axis=0) + 0.003 + _AIR
    after = np.roll(np.arange(_DIRECTIONS), -1)
    turn = 2 * np.pi / _DIRECTIONS
    sine = np.sin(turn)
    x = (reach * ways[after, 1] - reach[after] * ways[:, 1]) / sine
    y = (reach[after] * ways[:, 0] - reach * ways[after, 0]) / sine
    half = np.abs(points).max(axis=0)
    corners = np.stack([x, y], axis=1)
    reach.setflags(write=False)
    corners.setflags(write=False)
    return Body(reach, corners, (float(half[0]), float(half[1])))


def fit_at(
    sides: Sides,
    faces: AnyInts,
    at: Floats,
    body: Body,
    clearance: float,
    height: float,
) -> Bools:
    """Tell at which points a number of a height can stand.

    `faces` (n,): which region each point is in. `at` (n, 2): the points, inside their
    regions. `clearance`: distance to keep from every side, mm. `height`: its height,
    mm. Returns (n,): as `sizes_at` says; in long regions that are not convex only the
    sides near each point are asked, since no other can touch the number.
    """
    fits = np.zeros(len(faces), bool)
    one = np.zeros(len(faces), np.int64)
    long = np.flatnonzero(np.diff(sides.start)[faces] > _LONG)
    long = long[~_are_convex(sides, faces[long])]
    rest = np.setdiff1d(np.arange(len(faces)), long)
    fits[rest] = height <= sizes_at(
        sides, faces[rest], at[rest], (body,), one[rest], clearance
    )
    reach = 1.1 * (height * np.hypot(*body.corners.T).max() + clearance)
    for face in distinct(faces[long]).tolist():
        mine = long[faces[long] == face]
        points = at[mine]
        segments = sides.segments[sides.start[face] : sides.start[face + 1]]
        ax, ay, bx, by = segments.T
        local = np.flatnonzero(_beside(ax, bx, points[:, 0], reach))
        local = local[_beside(ay[local], by[local], points[:, 1], reach)]
        ends = segments[local]
        near = _beside(ends[:, 0], ends[:, 2], points[:, :1], reach)
        near &= _beside(ends[:, 1], ends[:, 3], points[:, 1:], reach)
        point, side = np.nonzero(near)
        size = np.bincount(point, minlength=len(points))
        gauge = _Gauge(
            Sides(segments[local[side]], np.concatenate([[0], np.cumsum(size)])),
            points,
            (body,),
            one[mine],
            clearance,
            convex=False,
        )
        fits[mine] = (gauge.sizes(points) >= height) | (size == 0)
    return fits


def _beside(one: Floats, two: Floats, points: Floats, reach: float) -> Bools:
    """Tell which sides come within reach of points in one coordinate.

    Of a row of points in each row, or of any where there is one row of them.
    """
    low, high = (points, points) if points.ndim == 2 else (points.min(), points.max())
    return np.asarray(
        (np.minimum(one, two) - reach < high) & (np.maximum(one, two) + reach > low)
    )


class _Gauge:
    """Measure how large numbers can stand in some regions, at many points each.

    `sides` are those of these regions alone, which have a base and a number each.
    What does not change with the point is measured once: how far each side lies
    along each direction of its number's body, and along its own normal, from a
    base point of its region. A number elsewhere shifts these by its own way from
    the base. In convex regions the normals say all.
    """

    def __init__(
        self,
        sides: Sides,
        base: Floats,
        bodies: Sequence[Body],
        which: AnyInts,
        clearance: float,
        *,
        convex: bool,
    ) -> None:
        self.base, self.clearance, self.convex = base, clearance, convex
        segments, self.size = sides.segments, np.diff(sides.start)
        self.row = row = np.repeat(np.arange(len(self.size)), self.size)
        ax, ay = (segments[:, k] - base[row, k] for k in (0, 1))
        bx, by = (segments[:, k + 2] - base[row, k] for k in (0, 1))
        of_side = which.take(row)
        if not convex:
            ways = _directions()
            # one row a direction: numpy runs along it
            grip = np.stack([1.0 / body.reach for body in bodies], axis=1)
            self.ways = ways[:, :, None] * grip.take(which, axis=1)[:, None, :]
            self.near = np.empty((_DIRECTIONS, len(row)))
            for k, (x, y) in enumerate(ways):
                np.minimum(ax * x + ay * y, bx * x + by * y, out=self.near[k])
                self.near[k] -= clearance
                self.near[k] *= grip[k].take(of_side)
        sx, sy = bx - ax, by - ay
        length = np.maximum(np.hypot(sx, sy), 1e-300)
        self.nx, self.ny = sy / length, -sx / length
        self.off = ax * self.nx + ay * self.ny
        self.ahead, self.behind = np.empty(len(row)), np.empty(len(row))
        for number in np.unique(which).tolist():
            mine = np.flatnonzero(of_side == number)
            nx, ny = self.nx[mine], self.ny[mine]
            # corner k is the farthest of all between directions k and k + 1
            angle = np.arctan2(ny, nx) * (_DIRECTIONS / (2 * np.pi))
            far = np.floor(angle).astype(np.int64) % _DIRECTIONS
            x, y = bodies[number].corners.T
            self.ahead[mine] = x[far] * nx + y[far] * ny
            far = (far + _DIRECTIONS // 2) % _DIRECTIONS
            self.behind[mine] = -(x[far] * nx + y[far] * ny)

    def keep(self, rows: AnyInts) -> _Gauge:
        """Return the gauge of some of the regions."""
        part = object.__new__(_Gauge)
        part.base, part.clearance = self.base[rows], self.clearance
        part.convex = self.convex
        part.size = self.size[rows]
        start = np.cumsum(self.size) - self.size
        part.row, index = expand_ranges(start[rows], part.size)
        if not self.convex:
            part.ways = self.ways.take(rows, axis=2)
            part.near = self.near.take(index, axis=1)
        for name in ("nx", "ny", "off", "ahead", "behind"):
            setattr(part, name, getattr(self, name).take(index))
        return part

    def sizes(self, at: Floats) -> Floats:
        """Return the largest heights at one point a region."""
        filled = self.size > 0
        out = np.zeros(len(self.size))
        if not filled.any():
            return out
        dx, dy = (at[:, k] - self.base[:, k] for k in (0, 1))
        off = self.off - (dx.take(self.row) * self.nx + dy.take(self.row) * self.ny)
        reach = np.where(off < 0, self.behind, self.ahead)
        best = (np.abs(off) - self.clearance) / reach
        if not self.convex:
            moved = self.ways[:, 0] * dx + self.ways[:, 1] * dy
            apart = self.near - moved.take(self.row, axis=1)
            np.maximum(best, apart.max(axis=0), out=best)
        begin = np.cumsum(self.size) - self.size
        out[filled] = np.minimum.reduceat(best, begin[filled])
        return out


def _are_convex(sides: Sides, faces: AnyInts) -> Bools:
    """Return which regions are bounded by one ring that turns one way all along."""
    row, index = sides.rows(faces)
    size = np.diff(sides.start)[faces]
    begin = np.cumsum(size) - size
    after = np.arange(len(row)) + 1
    after[(begin + size - 1)[size > 0]] = begin[size > 0]
    ax, ay, bx, by = sides.segments.take(index, axis=0).T
    goes_on = (ax[after] == bx) & (ay[after] == by)
    dx, dy = bx - ax, by - ay
    turn = dx * dy[after] - dy * dx[after]
    ahead = dx * dx[after] + dy * dy[after] > 0
    left = np.bincount(row, goes_on & ((turn > 0) | ((turn == 0) & ahead)), len(faces))
    right = np.bincount(row, goes_on & ((turn < 0) | ((turn == 0) & ahead)), len(faces))
    return np.asarray((left == size) | (right == size))


def _batches(sides: Sides, faces: AnyInts) -> Iterator[tuple[Ints, bool]]:
    """Yield rows of regions that together have some thousands of sides.

    Convex regions come apart from others, and are said to be.
    """
    is_convex = _are_convex(sides, faces)
    size = np.diff(sides.start)[faces]
    for convex in (True, False):
        rows = np.flatnonzero(is_convex == convex)
        total = np.cumsum(size[rows])
        first = 0
        while first < len(rows):
            base = total[first - 1] if first else 0
            last = max(int(np.searchsorted(total, base + _CHUNK, "right")), first + 1)
            yield rows[first:last], convex
            first = last


def sizes_at(
    sides: Sides,
    faces: AnyInts,
    at: Floats,
    bodies: Sequence[Body],
    which: AnyInts,
    clearance: float,
) -> Floats:
    """Return the largest heights of numbers of several bodies at given points.

    `faces` (n,): which region each point is in. `at` (n, 2): the points, inside their
    regions, mm. `which` (n,): whose row in `bodies` is wanted at each point.
    `clearance`: distance to keep from every side, mm. Returns (n,): heights, mm; 0 or
    less where it does not fit.
    """
    out = np.zeros(len(faces))
    for rows, convex in _batches(sides, faces):
        points, body = at[rows], which[rows]
        gauge = _Gauge(
            sides.only(faces[rows]), points, bodies, body, clearance, convex=convex
        )
        out[rows] = gauge.sizes(points)
    return out


def place_best(
    sides: Sides,
    faces: AnyInts,
    start: Floats,
    body: Body,
    clearance: float,
    *,
    enough: float,
) -> tuple[Floats, Floats]:
    """Return where a number can stand largest in each region.

    `faces` (n,): regions. `start` (n, 2): a point inside each. `clearance`: distance to
    keep from every side, mm. `enough`: height at which the search may stop, mm. Returns
    `at` (n, 2): the points; `height` (n,): heights, mm; 0 or less where the number does
    not fit.
    """
    one = np.zeros(len(faces), np.int64)
    faces = np.asarray(faces)
    return place_each(sides, faces, start, (body,), one, clearance, enough, True)


def place_each(
    sides: Sides,
    faces: AnyInts,
    start: Floats,
    bodies: Sequence[Body],
    which: AnyInts,
    clearance: float,
    enough: float,
    fine: bool,
) -> tuple[Floats, Floats]:
    """Return where numbers of several bodies can stand largest.

    `faces` (n,): regions. `start` (n, 2): a point inside each, mm. `which` (n,): whose
    row in `bodies` each region gets. `clearance`: distance to keep from every side, mm.
    `enough`: height at which the search may stop, mm. `fine`: eight ways and many steps
    instead of four ways and few. Returns `at` (n, 2): the points; `height` (n,):
    heights, mm; 0 or less where the number does not fit.
    """
    at, height = start.copy(), np.zeros(len(faces))
    # steps stay inside the body that is known to fit, and so inside the region
    steps = [0.9, 0.9, 0.7, 0.7, 0.5, 0.35, 0.25, 0.15, 0.1, 0.05]
    ways = [(1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)]
    if fine:
        ways += [(0.7, 0.7), (-0.7, 0.7), (0.7, -0.7), (-0.7, -0.7)]
        steps = [0.9] * 6 + steps + [0.025]
    else:
        steps = steps[1::2]
    halves = np.array([body.half for body in bodies]).reshape(-1, 2)
    for rows, convex in _batches(sides, faces):
        mine, body_of = faces[rows], which[rows]
        own = sides.only(mine)
        gauge = _Gauge(own, start[rows], bodies, body_of, clearance, convex=convex)
        here, size = start[rows].copy(), gauge.sizes(start[rows])
        reach = halves[body_of]
        kept = np.arange(len(mine))
        before, still = 0.0, np.zeros(len(mine), bool)
        for step in steps:
            open_ = np.flatnonzero((size < enough) & (size > -0.5 * clearance))
            if len(open_) == 0:
                break
            if len(open_) < len(kept):
                # regions that are done stay so: their size only grows
                gauge = gauge.keep(np.searchsorted(kept, open_))
                kept = open_
            asked = gauge
            if step == before:
                # where no way was better, none of the same length is
                moving = np.flatnonzero(~still[open_])
                open_, asked = open_[moving], gauge.keep(moving)
            grip = np.maximum(size[open_], 0)[:, None] * reach[open_] + clearance / 2
            best, best_at = size[open_].copy(), here[open_].copy()
            for way in ways:
                trial = here[open_] + grip * step * way
                found = asked.sizes(trial)
                better = found > best + 1e-4 * np.maximum(best, 0) + 1e-9
                best[better], best_at[better] = found[better], trial[better]
            still[open_] = best == size[open_]
            before = step
            size[open_], here[open_] = best, best_at
        at[rows], height[rows] = here, size
    return at, height
