"""Lengths and directions; lines and circles through points, and who misses them.

A line is a point and a unit direction (x, y, dx, dy); a circle is centre and
radius (x, y, r).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from fillwork.arrays import Floats


def length(path: Floats) -> float:
    """Return how long the way along points is. `path` (n, 2): px."""
    step = np.diff(path, axis=0)
    return float(np.hypot(step[:, 0], step[:, 1]).sum())


def far(a: Floats, b: Floats) -> float:
    """Return the distance of two places. `a` and `b` (2,): px."""
    return float(np.hypot(*(b - a)))


def unit(way: Floats) -> Floats:
    """Return a direction, of length one. `way` (2,): as long as it is."""
    found: Floats = way / max(float(np.hypot(*way)), 1e-9)
    return found


def inward(side: Floats) -> Floats:
    """Return the direction to the right of a side as seen, of length one.

    `side` (2,): px, y down; the inside, round a figure taken clockwise.
    """
    x, y = unit(side)
    return np.array([-y, x])


def fit_line(points: Floats, weight: Floats | None = None) -> Floats:
    """Return the line with the least squares of distances.

    `points` (n, 2): at least two. `weight` (n,): how much each counts. Returns (4,): x,
    y, dx, dy.
    """
    weight = np.ones(len(points)) if weight is None else weight
    middle = weight @ points / max(float(weight.sum()), 1e-12)
    off = points - middle
    x, y = off.T
    u = weight * x
    # the main axis of the moments
    turn = 0.5 * math.atan2(2.0 * float(u @ y), float(u @ x) - float(weight @ (y * y)))
    return np.array([middle[0], middle[1], math.cos(turn), math.sin(turn)])


def fit_circle(points: Floats, weight: Floats | None = None) -> Floats | None:
    """Return the circle with the least squares of distances.

    `points` (n, 2): at least three. `weight` (n,): how much each counts. Returns (3,):
    x, y, r; None where the points lie on a line.

    The algebraic fit of Kåsa [1]_, then steps of Gauss and Newton on distances.

    References
    ----------
    .. [1] I. Kåsa, "A circle fitting procedure and its error analysis", IEEE
       Transactions on Instrumentation and Measurement 25, 8-14, 1976.
    """
    weight = np.ones(len(points)) if weight is None else weight
    middle = weight @ points / max(float(weight.sum()), 1e-12)
    off = points - middle
    size = max(float(np.sqrt(np.mean(off**2))), 1e-9)
    x, y = (off / size).T
    root = np.sqrt(weight)
    table = np.stack([x, y, np.ones(len(x))], 1) * root[:, None]
    right = (x * x + y * y) * root
    solved, _, rank, values = np.linalg.lstsq(table, right, rcond=None)
    if rank < 3 or values[-1] < 1e-5 * values[0]:
        return None
    cx, cy = solved[0] / 2, solved[1] / 2
    r = np.sqrt(max(solved[2] + cx * cx + cy * cy, 1e-12))
    for _ in range(6):
        dx, dy = x - cx, y - cy
        d = np.maximum(np.hypot(dx, dy), 1e-9)
        jac = np.stack([-dx / d, -dy / d, -np.ones(len(d))], 1) * root[:, None]
        step = np.linalg.lstsq(jac, -(d - r) * root, rcond=None)[0]
        if not np.isfinite(step).all() or abs(step).max() > 50:
            return None
        cx, cy, r = cx + step[0], cy + step[1], r + step[2]
        if abs(step).max() < 1e-8:
            break
    if not 0 < r < 500:
        return None
    return np.array([cx * size + middle[0], cy * size + middle[1], r * size])


def misses(points: Floats, carrier: Floats) -> Floats:
    """Return signed distances from a line or a circle.

    `points` (n, 2): px. `carrier` (4,) or (3,): line or circle. Returns (n,): px.
    """
    off = points - carrier[:2]
    if len(carrier) == 4:
        found: Floats = off[:, 1] * carrier[2] - off[:, 0] * carrier[3]
        return found
    radial: Floats = np.hypot(off[:, 0], off[:, 1]) - carrier[2]
    return radial


def stray(points: Floats, carrier: Floats) -> float:
    """Return by how much points miss a line or circle, root mean square, px.

    `points` (n, 2): px. `carrier` (4,) or (3,): line or circle.
    """
    return float(np.sqrt(np.mean(misses(points, carrier) ** 2)))


def crossings(one: Floats, two: Floats) -> list[Floats]:
    """Return where two carriers cross.

    `one` and `two` (4,) or (3,): lines or circles. Returns (2,): px; none, one or two.
    Circles and lines that miss each other by less than a hundredth of the smaller
    radius are said to touch.
    """
    if len(one) == 4 and len(two) == 4:
        cross = one[2] * two[3] - one[3] * two[2]
        if abs(cross) < 1e-6:
            return []
        off = two[:2] - one[:2]
        along = (off[0] * two[3] - off[1] * two[2]) / cross
        return [one[:2] + along * one[2:]]
    if len(one) == 4:
        one, two = two, one
    centre, radius = one[:2], float(one[2])
    if len(two) == 4:
        way = two[2:]
        foot = two[:2] + ((centre - two[:2]) @ way) * way
        half = radius**2 - float((foot - centre) @ (foot - centre))
        slack = 0.02 * radius**2
    else:
        between = two[:2] - centre
        apart = far(centre, two[:2])
        if apart < 1e-9:
            return []
        along = (apart**2 + radius**2 - float(two[2]) ** 2) / (2 * apart)
        foot = centre + along * between / apart
        way = np.array([-between[1], between[0]]) / apart
        half = radius**2 - along**2
        slack = 0.02 * min(radius, float(two[2])) ** 2
    if half < -slack:
        return []
    if half <= 0:
        return [foot]
    step = np.sqrt(half) * way
    return [foot - step, foot + step]


def nearest_crossing(one: Floats, two: Floats, place: Floats) -> Floats | None:
    """Return where two carriers cross nearest to a place, None where they do not.

    `one`, `two`: as `crossings` takes them. `place` (2,): px. Returns (2,): px.
    """
    return min(crossings(one, two), key=lambda q: (far(q, place), *q), default=None)
