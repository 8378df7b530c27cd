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

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["deep_points"]

ROUNDS = 12
SOFT = (0.5, 0.15, 0.04)
CHUNK = 1 << 19


def deep_points(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    first_side: NDArray[np.integer],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return a point well inside each polygon.

    Parameters
    ----------
    start, end : ndarray of shape (n, 2)
        Sides of all polygons, mm, polygon by polygon; outer rings run
        counter-clockwise, holes clockwise.
    first_side : ndarray of int, shape (m + 1,)
        Polygon ``k`` owns sides ``first_side[k]:first_side[k + 1]``.

    Returns
    -------
    point : ndarray of shape (m, 2)
        Points inside.
    radius : ndarray of shape (m,)
        Their distances from the boundary, mm.
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
    # polygons with about as many sides go together, short ones filled up
    rank = 1 << np.ceil(np.log2(np.maximum(count[rest], 4)) * 2).astype(np.int64)
    for r in np.unique(rank).tolist():
        held = rest[rank == r]
        most = int(count[held].max())
        step = max(CHUNK // most, 1)
        for begin in range(0, len(held), step):
            part = held[begin : begin + step]
            side = np.minimum(np.arange(most), count[part][:, None] - 1)
            side = side + first_side[part][:, None]
            a, b = start[side], end[side]
            filled = np.arange(most) >= count[part][:, None]
            b[filled] = a[filled]
            point[part], radius[part] = _climb(a, b)
    return point, radius


def _convex(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.bool_]:
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


def _between_three(
    x: NDArray[np.float64], y: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return centres and radii of the circles in triangles."""
    a = np.hypot(x[1] - x[2], y[1] - y[2])
    b = np.hypot(x[2] - x[0], y[2] - y[0])
    c = np.hypot(x[0] - x[1], y[0] - y[1])
    around = a + b + c
    twice = (x[1] - x[0]) * (y[2] - y[0]) - (y[1] - y[0]) * (x[2] - x[0])
    px = (a * x[0] + b * x[1] + c * x[2]) / around
    py = (a * y[0] + b * y[1] + c * y[2]) / around
    return px, py, np.abs(twice) / around


def _touching_three_sides(
    x: NDArray[np.float64], y: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
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
        better = inside > best
        best = np.where(better, inside, best)
        best_x, best_y = np.where(better, px, best_x), np.where(better, py, best_y)
    return best_x + x0, best_y + y0, best


def _climb(
    a: NDArray[np.float64], b: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Move points away from the nearest side; polygons of shape (m, k, 2)."""
    shift = a[:, :1]
    ax, ay = (a - shift)[..., 0], (a - shift)[..., 1]
    dx, dy = (b - a)[..., 0], (b - a)[..., 1]
    bx, by = ax + dx, ay + dy
    twist = ax * by - bx * ay
    area = twist.sum(axis=1) / 2
    safe = np.where(area != 0, area, 1.0)
    x = ((ax + bx) * twist).sum(axis=1) / (6 * safe)
    y = ((ay + by) * twist).sum(axis=1) / (6 * safe)
    away = ~_inside(ax, ay, bx, by, x, y)
    if away.any():
        x[away], y[away] = _widest_chord(
            ax[away], ay[away], bx[away], by[away], y[away]
        )
    square = dx * dx + dy * dy
    square[square == 0] = 1.0
    row = np.arange(len(a))

    def look_round(
        held: NDArray[np.integer],
        x: NDArray[np.float64],
        y: NDArray[np.float64],
        soft: float,
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Return the distance to the boundary and the direction away from it."""
        wx, wy = x[:, None] - ax[held], y[:, None] - ay[held]
        u = (wx * dx[held] + wy * dy[held]) / square[held]
        np.clip(u, 0.0, 1.0, out=u)
        wx -= u * dx[held]
        wy -= u * dy[held]
        gap = np.maximum(np.hypot(wx, wy), 1e-300)
        least = gap.min(axis=1)
        # all that is about as near counts, so that ridges are followed
        weight = np.exp((least[:, None] - gap) / (soft * least[:, None])) / gap
        fx, fy = (weight * wx).sum(axis=1), (weight * wy).sum(axis=1)
        size = np.maximum(np.hypot(fx, fy), 1e-300)
        return least, fx / size, fy / size

    for soft in SOFT:
        r, fx, fy = look_round(row, x, y, soft)
        step = 0.5 * r
        live = np.flatnonzero(r > 1e-12 * np.sqrt(np.abs(area)))
        for _ in range(ROUNDS):
            if len(live) == 0:
                break
            # a step no longer than the distance stays inside
            s = np.minimum(step[live], 0.999 * r[live])
            nx, ny = x[live] + s * fx[live], y[live] + s * fy[live]
            nr, nfx, nfy = look_round(live, nx, ny, soft)
            better = nr > r[live]
            won = live[better]
            x[won], y[won], r[won] = nx[better], ny[better], nr[better]
            fx[won], fy[won] = nfx[better], nfy[better]
            step[won] *= 1.5
            step[live[~better]] *= 0.35
            live = live[step[live] > 0.02 * r[live]]
    return np.stack([x, y], axis=1) + shift[:, 0], r


def _inside(
    ax: NDArray[np.float64],
    ay: NDArray[np.float64],
    bx: NDArray[np.float64],
    by: NDArray[np.float64],
    x: NDArray[np.float64],
    y: NDArray[np.float64],
) -> NDArray[np.bool_]:
    above = (ay > y[:, None]) != (by > y[:, None])
    height = np.where(above, by - ay, 1.0)
    at = ax + (y[:, None] - ay) * (bx - ax) / height
    return np.asarray((above & (at > x[:, None])).sum(axis=1) % 2 == 1)


def _widest_chord(
    ax: NDArray[np.float64],
    ay: NDArray[np.float64],
    bx: NDArray[np.float64],
    by: NDArray[np.float64],
    level: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the middle of the widest part that lies inside on some levels."""
    bottom = np.minimum(ay, by).min(axis=1)
    top = np.maximum(ay, by).max(axis=1)
    best = np.full(len(ax), -1.0)
    x, y = np.zeros(len(ax)), level.copy()
    row = np.arange(len(ax))
    for share in (-1.0, 0.5, 0.27, 0.73, 0.11, 0.89):
        at_y = level if share < 0 else bottom + share * (top - bottom)
        above = (ay > at_y[:, None]) != (by > at_y[:, None])
        height = np.where(above, by - ay, 1.0)
        at = ax + (at_y[:, None] - ay) * (bx - ax) / height
        at = np.sort(np.where(above, at, np.inf), axis=1)
        if at.shape[1] % 2:
            at = np.pad(at, ((0, 0), (0, 1)), constant_values=np.inf)
        with np.errstate(invalid="ignore"):
            width = at[:, 1::2] - at[:, 0::2]
        width = np.where(np.isfinite(width), width, -1.0)
        widest = width.argmax(axis=1)
        better = width[row, widest] > best
        r, w = row[better], widest[better]
        best[r] = width[r, w]
        x[r], y[r] = (at[r, 2 * w] + at[r, 2 * w + 1]) / 2, at_y[r]
    return x, y
