"""B-splines, also rational ones, as lines, arcs and cubic Béziers.

Knots are inserted until every span is a Bézier curve of its own (Boehm's way).
Spans of degree 1 to 3 without weights, and conics that are parts of ellipses, come
out exactly; others as cubics that keep to a given distance.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np

from fillwork.geometry.curves import ARC, CUBIC, LINE

if TYPE_CHECKING:
    from fillwork.arrays import Floats

    Curve = tuple[int, tuple[float, ...]]

MOST_DEGREE = 15
_MOST_PARTS = 512
_MOST_SPANS = 20_000
_MOST_CURVES = 400_000  # of a spline
_MISS = 1e-5
"""Largest distance of curves that are not exact, as a share of the spline's size."""


def spline_curves(
    degree: int, knots: Floats, points: Floats, weights: Floats | None
) -> list[Curve]:
    """Return a B-spline as curves.

    `degree`, 1 to 15. `knots` (n + degree + 1,): knots, not falling. `points` (n, 2):
    control points. `weights` (n,): weights above 0; None for all alike. Returns kind
    and row of each curve. Raises `ValueError` if the numbers make no spline.

    Examples
    --------
    >>> knots = np.array([0.0, 0, 0, 1, 1, 1])
    >>> corner = np.array([[1.0, 0], [1, 1], [0, 1]])
    >>> (kind, row), = spline_curves(2, knots, corner, np.array([1, 0.5**0.5, 1]))
    >>> kind == ARC, [round(v, 12) + 0.0 for v in row[:2]]
    (True, [0.0, 0.0])
    """
    n = len(points)
    if not 1 <= degree <= MOST_DEGREE:
        what = f"a spline of degree {degree}"
        raise ValueError(what)
    if n < degree + 1 or len(knots) != n + degree + 1:
        what = f"a spline of {n} points and {len(knots)} knots"
        raise ValueError(what)
    if not (np.isfinite(points).all() and np.isfinite(knots).all()):
        what = "a spline with numbers that are none"
        raise ValueError(what)
    if (np.diff(knots) < 0).any():
        what = "a spline whose knots fall"
        raise ValueError(what)
    if weights is not None:
        if len(weights) != n or not (np.isfinite(weights) & (weights > 0)).all():
            what = "a spline whose weights are not all above 0"
            raise ValueError(what)
        if np.ptp(weights) <= 1e-12 * weights.max():
            weights = None
    size = float(np.ptp(points, axis=0).max())
    poles = np.ones((n, 3))
    poles[:, :2] = points
    if weights is not None:
        poles *= weights[:, None]
    spans = bezier_spans(degree, knots, poles)
    if not len(spans):
        what = "a spline whose knots are all the same"
        raise ValueError(what)
    if degree <= 3 and weights is None:
        return _exact(spans[:, :, :2])
    most = min(_MOST_PARTS, _MOST_CURVES // len(spans))
    if len(spans) > _MOST_SPANS:
        what = f"a spline of {len(spans):,} spans"
        raise ValueError(what)
    return [
        curve
        for span in spans
        for curve in bezier_curves(span, weights is not None, _MISS * size, most)
    ]


def _exact(spans: Floats) -> list[Curve]:
    # of degree 1 to 3 and without weights, all at once
    degree = spans.shape[1] - 1
    if degree == 1:
        rows = np.zeros((len(spans), 8))
        rows[:, :4] = spans.reshape(-1, 4)
        return [(LINE, tuple(row)) for row in rows.tolist()]
    if degree == 2:
        a, b, c = spans[:, 0], spans[:, 1], spans[:, 2]
        spans = np.stack([a, (a + 2 * b) / 3, (2 * b + c) / 3, c], axis=1)
    return [(CUBIC, tuple(row)) for row in spans.reshape(-1, 8).tolist()]


def bezier_spans(degree: int, knots: Floats, poles: Floats) -> Floats:
    """Return the Bézier curves that a B-spline is made of.

    `knots` (n + degree + 1,): knots, not falling. `poles` (n, d): control points,
    homogeneous where there are weights. Returns (spans, degree + 1, d): control points
    of each span that is not empty.

    Each span comes from blossoms: control point j of the span from a to b is the
    value of the polar form at j times b and degree - j times a.

    References
    ----------
    .. [1] L. Ramshaw, "Blossoms are polar forms", Computer Aided Geometric Design
       6(4), 323-358, 1989.
    """
    p, n = degree, len(poles)
    first = np.flatnonzero(knots[p + 1 : n + 1] > knots[p:n])
    local = poles[first[:, None] + np.arange(p + 1)]
    t = knots[first[:, None] + np.arange(1, 2 * p + 1)]
    a, b = knots[first + p, None], knots[first + p + 1, None]
    spans = np.empty(local.shape)
    for j in range(p + 1):
        d = local
        for r in range(p):
            low, high = t[:, r:p], t[:, p : 2 * p - r]
            f = (((b if r < j else a) - low) / (high - low))[:, :, None]
            d = (1 - f) * d[:, :-1] + f * d[:, 1:]
        spans[:, j] = d[:, 0]
    return spans


def bezier_curves(
    span: Floats, rational: bool, error: float, most: int = _MOST_PARTS
) -> list[Curve]:
    """Return one Bézier curve of any degree as curves.

    `span` (degree + 1, 3): control points x w, y w, w. `rational`: whether the weights
    differ. `error`: largest distance of curves that are not exact. `most`: curves that
    are never exceeded twofold to keep to it. Returns kind and row of each curve.
    """
    points, degree = span[:, :2] / span[:, 2:], len(span) - 1
    weight = span[:, 2]
    rational = rational and bool(np.ptp(weight) > 1e-12 * weight.max())
    if degree <= 3 and not rational:
        return _exact(points[None])
    if degree == 2:
        arc = _conic(points, float(weight[1] / math.sqrt(weight[0] * weight[2])))
        if arc is not None:
            return [arc]
    return _cubics(span, error, most)


def _conic(points: Floats, weight: float) -> Curve | None:
    """Return a conic whose outer weights are 1 as an arc of an ellipse.

    With weight = cos a it is the affine image of the circle's arc from -a to a, whose
    tangents meet at 1 / cos a.
    """
    if not 0.0 < weight < 1.0 - 1e-9:
        return None
    (x0, y0), (x1, y1), (x2, y2) = points.tolist()
    angle = math.acos(weight)
    mx, my = (x0 + x2) / 2, (y0 + y2) / 2
    reach = 1 / weight - weight
    ux, uy = (x1 - mx) / reach, (y1 - my) / reach
    half = 2 * math.sin(angle)
    vx, vy = (x2 - x0) / half, (y2 - y0) / half
    row = (mx - ux * weight, my - uy * weight, ux, uy, vx, vy, -angle, angle)
    return ARC, row


def _values(span: Floats, t: Floats) -> tuple[Floats, Floats]:
    # points and derivatives by de Casteljau's steps, all parameters at once
    d = np.repeat(span[None], len(t), axis=0)
    s = t[:, None, None]
    degree = len(span) - 1
    last = d
    for _ in range(degree):
        last = d
        d = (1 - s) * d[:, :-1] + s * d[:, 1:]
    homogeneous, slope = d[:, 0], degree * (last[:, 1] - last[:, 0])
    w = homogeneous[:, 2:]
    point = homogeneous[:, :2] / w
    return point, (slope[:, :2] - slope[:, 2:] * point) / w


def _cubics(span: Floats, error: float, most: int) -> list[Curve]:
    count = 1
    while True:
        t = np.linspace(0.0, 1.0, count + 1)
        point, slope = _values(span, t)
        third = slope / (3 * count)
        rows = np.concatenate(
            [point[:-1], point[:-1] + third[:-1], point[1:] - third[1:], point[1:]],
            axis=1,
        )
        worst = 0.0
        for share in (0.25, 0.5, 0.75):
            true, _ = _values(span, t[:-1] + share / count)
            r = 1 - share
            near = (
                r**3 * rows[:, 0:2]
                + 3 * r * r * share * rows[:, 2:4]
                + 3 * r * share**2 * rows[:, 4:6]
                + share**3 * rows[:, 6:8]
            )
            worst = max(worst, float(np.hypot(*(true - near).T).max()))
        if worst <= error or count >= most:
            return [(CUBIC, tuple(row)) for row in rows.tolist()]
        count *= 2


def fit_curves(
    points: Floats,
    closed: bool,
    first: tuple[float, float] | None,
    last: tuple[float, float] | None,
) -> list[Curve]:
    """Return the smooth cubic spline through points.

    `points` (n, 2): points in order, two or more. `closed`: whether it runs back to the
    first point. `first` and `last`: directions at the ends, where they are given.
    Returns cubics, one between neighbouring points.

    Parameters are distances between the points, as common for fitted splines; without
    a direction the end is not bent.
    """
    from scipy.interpolate import CubicSpline

    if closed and (points[0] != points[-1]).any():
        points = np.concatenate([points, points[:1]])
    keep = np.append(True, (np.diff(points, axis=0) != 0).any(axis=1))
    points = points[keep]
    if len(points) < 2:
        return []
    t = np.append(0.0, np.cumsum(np.hypot(*np.diff(points, axis=0).T)))
    if closed and len(points) > 3:
        spline = CubicSpline(t, points, bc_type="periodic")
    else:
        spline = CubicSpline(t, points, bc_type=(_end(first), _end(last)))
    slope = spline(t, 1)
    third = np.diff(t)[:, None] / 3
    rows = np.concatenate(
        [
            points[:-1],
            points[:-1] + third * slope[:-1],
            points[1:] - third * slope[1:],
            points[1:],
        ],
        axis=1,
    )
    return [(CUBIC, tuple(row)) for row in rows.tolist()]


def _end(d: tuple[float, float] | None) -> tuple[Literal[1, 2], list[float]]:
    # of scipy: 1 the slope, here a direction; 2 the bend, here none
    if d is None or not any(d):
        return (2, [0.0, 0.0])
    length = math.hypot(*d)
    return (1, [d[0] / length, d[1] / length])
