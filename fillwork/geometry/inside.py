"""Points well inside polygons, many polygons at once.

The *inscribed radius* of a point is its distance from the boundary. For convex
polygons of up to six sides the point with the largest is found exactly: the
best circle touches three sides, so all triples of sides are tried. For the
rest a point is moved away from what is nearest until it stops improving.
"""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.copies import shifted_copies
from fillwork.geometry.ranges import begins, expand_ranges

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fillwork.arrays import AnyInts, Bools, Floats, Ints

    Plane = tuple[Floats, Floats]

FEW = 256

ROUNDS = 12
_SOFT = (0.5, 0.15, 0.04)
_SETTLED = 0.1
# a point must lie deeper by so many times: of even ones the first is taken
_BETTER = 1 + 1e-9
CHUNK = 1 << 19


def deep_points(
    start: Floats, end: Floats, first_side: AnyInts
) -> tuple[Floats, Floats]:
    """Return a point well inside each polygon.

    `start` and `end` (n, 2): sides of all polygons, mm, polygon by polygon; outer rings
    run counter-clockwise, holes clockwise. `first_side` (m + 1,): polygon ``k`` owns
    sides ``first_side[k]:first_side[k + 1]``. Returns `point` (m, 2): points inside;
    `radius` (m,): their distances from the boundary, mm.
    """
    count = np.diff(first_side)
    point = np.full((len(count), 2), np.nan)
    radius = np.zeros(len(count))
    todo = []
    for k in np.unique(count).tolist():
        held = np.flatnonzero(count == k)
        if 3 <= k <= 6:
            corner = first_side[held] + np.arange(k)[:, None]
            x, y = start[:, 0][corner], start[:, 1][corner]
            last = end[first_side[held] + (k - 1)]
            exact = (last[:, 0] == x[0]) & (last[:, 1] == y[0]) & _convex(x, y)
            if not exact.all():
                x, y = x[:, exact], y[:, exact]
            done = held[exact]
            point[done, 0], point[done, 1], radius[done] = (
                _between_three(x, y) if k == 3 else _touching_three_sides(x, y)
            )
            held = held[~exact]
        todo.append(held)
    rest = np.concatenate(todo) if todo else np.empty(0, np.int64)
    sides = _Sides(start, end, first_side)
    lead, like = sides.copies(rest)
    # of polygons that are shifted copies one is worked out and the rest checked
    for part, a, b, origin in sides.groups(rest[lead]):
        point[part], radius[part] = _climb(a, b)
        point[part] += origin
    copied = np.ones(len(rest), dtype=bool)
    copied[lead] = False
    pattern, copy = rest[lead][like[copied]], rest[copied]
    point[copy] = point[pattern] + sides.corner(copy) - sides.corner(pattern)
    original = np.zeros(len(count), np.int64)
    original[copy] = pattern
    unlike = []
    for part, a, b, origin in sides.groups(copy):
        own = point[part] - origin
        radius[part] = _distance(a, b, own)
        wanted = radius[original[part]]
        sure = _inside(a, b, own) & (radius[part] > 0.98 * wanted)
        unlike.append(part[~sure])
    for part, a, b, origin in sides.groups(np.concatenate([copy[:0], *unlike])):
        point[part], radius[part] = _climb(a, b)
        point[part] += origin
    return point, radius


class _Sides:
    """Hold the sides of polygons and hand them out in even groups."""

    def __init__(self, start: Floats, end: Floats, first: AnyInts) -> None:
        self.start, self.end, self.first = start, end, np.asarray(first, np.int64)
        self.count = np.diff(self.first)

    def groups(self, polygons: Ints) -> Iterator[tuple[Ints, Plane, Plane, Floats]]:
        """Yield polygons of about as many sides; short ones are filled up.

        Sides come as x and y of their starts and of their ends, each (k, m),
        from each polygon's first corner, which is handed out as well.
        """
        count = self.count
        rank = np.ceil(np.log2(np.maximum(count[polygons], 4)) * 2).astype(np.int64)
        for r in np.unique(rank).tolist():
            held = polygons[rank == r]
            most = int(count[held].max())
            step = max(CHUNK // most, 1)
            for begin in range(0, len(held), step):
                part = held[begin : begin + step]
                row = np.arange(most)[:, None]
                side = np.minimum(row, count[part] - 1) + self.first[part]
                origin = self.start[self.first[part]]
                ax = self.start[:, 0][side] - origin[:, 0]
                ay = self.start[:, 1][side] - origin[:, 1]
                bx = self.end[:, 0][side] - origin[:, 0]
                by = self.end[:, 1][side] - origin[:, 1]
                filled = row >= count[part]
                bx[filled], by[filled] = ax[filled], ay[filled]
                yield part, (ax, ay), (bx, by), origin

    def corner(self, polygons: Ints) -> Floats:
        """Return the lower left corners of the boxes round polygons."""
        if len(polygons) == 0:
            return np.empty((0, 2))
        owner, side = expand_ranges(self.first[polygons], self.count[polygons])
        lead = np.flatnonzero(begins(owner))
        low = [np.minimum.reduceat(self.start[side, k], lead) for k in (0, 1)]
        return np.stack(low, axis=1)

    def copies(self, polygons: Ints) -> tuple[Ints, Ints]:
        """Return which polygons have unlike sets of sides, and whose each has.

        That two unlike polygons agree is found out afterwards.
        """
        if len(polygons) < FEW:
            return np.arange(len(polygons)), np.arange(len(polygons))
        count = self.count[polygons]
        _, side = expand_ranges(self.first[polygons], count)
        step = self.end.take(side, axis=0) - self.start.take(side, axis=0)
        return shifted_copies(step, np.r_[0, np.cumsum(count)])


def _convex(x: Floats, y: Floats) -> Bools:
    """Return which simple rings, given as (k, m) corners, are convex."""
    k = len(x)
    if k == 3:
        return np.ones(x.shape[1], dtype=bool)
    dx = [x[(i + 1) % k] - x[i] for i in range(k)]
    dy = [y[(i + 1) % k] - y[i] for i in range(k)]
    good = np.ones(x.shape[1], dtype=bool)
    for i in range(k):
        j = (i + 1) % k
        good &= dx[i] * dy[j] >= dy[i] * dx[j]
    return good


def _between_three(x: Floats, y: Floats) -> tuple[Floats, Floats, Floats]:
    """Return centres and radii of the circles in triangles."""
    a = np.hypot(x[1] - x[2], y[1] - y[2])
    b = np.hypot(x[2] - x[0], y[2] - y[0])
    c = np.hypot(x[0] - x[1], y[0] - y[1])
    around = a + b + c
    twice = (x[1] - x[0]) * (y[2] - y[0]) - (y[1] - y[0]) * (x[2] - x[0])
    px = (a * x[0] + b * x[1] + c * x[2]) / around
    py = (a * y[0] + b * y[1] + c * y[2]) / around
    return px, py, np.abs(twice) / around


def _touching_three_sides(x: Floats, y: Floats) -> tuple[Floats, Floats, Floats]:
    """Return centres and radii of the largest circles in convex polygons."""
    k = len(x)
    x0, y0 = x[0], y[0]
    x, y = x - x0, y - y0
    nx, ny, c = [], [], []
    for i in range(k):
        dx, dy = x[(i + 1) % k] - x[i], y[(i + 1) % k] - y[i]
        size = np.hypot(dx, dy)
        nx.append(-dy / size)
        ny.append(dx / size)
        c.append(nx[i] * x[i] + ny[i] * y[i])
    best = np.full(x.shape[1], -np.inf)
    best_x, best_y = np.zeros(x.shape[1]), np.zeros(x.shape[1])
    for i, j, m in combinations(range(k), 3):
        p, q, u = nx[j] - nx[i], ny[j] - ny[i], c[j] - c[i]
        r, s, v = nx[m] - nx[i], ny[m] - ny[i], c[m] - c[i]
        det = p * s - q * r
        with np.errstate(divide="ignore", invalid="ignore"):
            px, py = (u * s - v * q) / det, (p * v - r * u) / det
            inside = nx[i] * px + ny[i] * py - c[i]
            for other in range(k):
                if other not in (i, j, m):
                    gap = nx[other] * px + ny[other] * py - c[other]
                    inside = np.minimum(inside, gap)
        better = inside > np.maximum(best, 0.0) * _BETTER
        best = np.where(better, inside, best)
        best_x, best_y = np.where(better, px, best_x), np.where(better, py, best_y)
    return best_x + x0, best_y + y0, best


def _distance(a: Plane, b: Plane, points: Floats) -> Floats:
    """Return the distances of points from the nearest of their sides."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    square = dx * dx + dy * dy
    square[square == 0] = 1.0
    wx, wy = points[:, 0] - a[0], points[:, 1] - a[1]
    u = np.clip((wx * dx + wy * dy) / square, 0.0, 1.0)
    return np.asarray(np.hypot(wx - u * dx, wy - u * dy).min(axis=0))


def _climb(a: Plane, b: Plane) -> tuple[Floats, Floats]:
    """Move points away from the nearest sides; sides of shape (k, m)."""
    (ax, ay), (bx, by) = a, b
    around = _Surroundings(a, b)
    twist = ax * by - bx * ay
    area = twist.sum(axis=0) / 2
    safe = np.where(area != 0, area, 1.0)
    x = ((ax + bx) * twist).sum(axis=0) / (6 * safe)
    y = ((ay + by) * twist).sum(axis=0) / (6 * safe)
    inside = _inside(a, b, np.stack([x, y], axis=1))
    size, length = np.abs(area), around.length
    r, _, _ = around.look(slice(None), x, y, _SOFT[0])
    r[~inside] = 0.0
    # of shapes with arms the middles of some chords are tried too
    poor = np.flatnonzero(r * length < 1.5 * size)
    if len(poor):
        sides = ax[:, poor], ay[:, poor], bx[:, poor], by[:, poor]
        for turned in (False, True):
            for share in (0.5, 0.25, 0.75, 0.1, 0.9):
                nx, ny = _widest_chord(*sides, share, turned)
                nr, _, _ = around.look(poor, nx, ny, _SOFT[0])
                better = nr > _BETTER * r[poor]
                won = poor[better]
                x[won], y[won], r[won] = nx[better], ny[better], nr[better]
    for soft in _SOFT:
        r = _ascend(around, x, y, size, soft)
    return np.stack([x, y], axis=1), r


def _ascend(
    around: _Surroundings, x: Floats, y: Floats, size: Floats, soft: float
) -> Floats:
    """Move points, changed, as long as it takes them farther away; return how far.

    `size`: areas of the polygons.
    """
    r, fx, fy = around.look(slice(None), x, y, soft)
    pull = np.maximum(np.hypot(fx, fy), 1e-300)
    # pulled to no side, nothing near can be better, unless it is the waist of
    # an hourglass; there the circle is small for the area
    settled = (pull < _SETTLED) & (r * around.length > 1.5 * size)
    live = np.flatnonzero(~settled & (r > 1e-12 * np.sqrt(size)))
    step = 0.5 * r
    for _ in range(ROUNDS):
        if len(live) == 0:
            break
        # a step no longer than the distance stays inside
        s = np.minimum(step[live], 0.999 * r[live]) / pull[live]
        nx, ny = x[live] + s * fx[live], y[live] + s * fy[live]
        nr, nfx, nfy = around.look(live, nx, ny, soft)
        better = nr > _BETTER * r[live]
        won = live[better]
        x[won], y[won], r[won] = nx[better], ny[better], nr[better]
        fx[won], fy[won] = nfx[better], nfy[better]
        pull[won] = np.maximum(np.hypot(nfx[better], nfy[better]), 1e-300)
        step[won] *= 1.5
        step[live[~better]] *= 0.3
        live = live[step[live] > 0.03 * r[live]]
    return r


class _Surroundings:
    """Hold the sides of polygons, and look round from points in them."""

    def __init__(self, a: Plane, b: Plane) -> None:
        self.ax, self.ay = a
        self.dx, self.dy = b[0] - a[0], b[1] - a[1]
        self.length = np.hypot(self.dx, self.dy).sum(axis=0)
        self.square = self.dx * self.dx + self.dy * self.dy
        self.square[self.square == 0] = 1.0

    def look(
        self, held: AnyInts | slice, x: Floats, y: Floats, soft: float
    ) -> tuple[Floats, Floats, Floats]:
        """Return the distance to the boundary and the pull away from it."""
        ex, ey = self.dx[:, held], self.dy[:, held]
        wx, wy = x - self.ax[:, held], y - self.ay[:, held]
        u = wx * ex
        u += wy * ey
        u /= self.square[:, held]
        np.clip(u, 0.0, 1.0, out=u)
        wx -= u * ex
        wy -= u * ey
        gap = np.sqrt(wx * wx + wy * wy)
        np.maximum(gap, 1e-300, out=gap)
        least = gap.min(axis=0)
        # all that is about as near counts, so that ridges are followed
        weight = np.exp((1.0 - gap / least) / soft)
        total = weight.sum(axis=0)
        weight /= gap
        return (
            least,
            (weight * wx).sum(axis=0) / total,
            (weight * wy).sum(axis=0) / total,
        )


def _inside(a: Plane, b: Plane, points: Floats) -> Bools:
    x, y = points[:, 0], points[:, 1]
    above = (a[1] > y) != (b[1] > y)
    height = np.where(above, b[1] - a[1], 1.0)
    at = a[0] + (y - a[1]) * (b[0] - a[0]) / height
    return np.asarray((above & (at > x)).sum(axis=0) % 2 == 1)


def _widest_chord(
    ax: Floats, ay: Floats, bx: Floats, by: Floats, share: float, turned: bool
) -> tuple[Floats, Floats]:
    """Return the middle of the widest inner part of a chord at some height.

    The chord is level, or upright when `turned`.
    """
    if turned:
        y, x = _widest_chord(ay, ax, by, bx, share, False)
        return x, y
    bottom = np.minimum(ay, by).min(axis=0)
    top = np.maximum(ay, by).max(axis=0)
    level = bottom + share * (top - bottom)
    above = (ay > level) != (by > level)
    height = np.where(above, by - ay, 1.0)
    at = np.where(above, ax + (level - ay) * (bx - ax) / height, np.inf)
    at.sort(axis=0)
    pairs = len(at) // 2
    with np.errstate(invalid="ignore"):
        width = at[1 : 2 * pairs : 2] - at[0 : 2 * pairs : 2]
    width[~np.isfinite(width)] = -1.0
    widest = (width * _BETTER >= width.max(axis=0)).argmax(axis=0)
    column = np.arange(len(level))
    return (at[2 * widest, column] + at[2 * widest + 1, column]) / 2, level
