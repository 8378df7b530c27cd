"""Affine maps of the plane as six numbers (a, b, c, d, e, f).

x' = a x + c y + e and y' = b x + d y + f: the order of the SVG standard
(SVG 2, section 8.5, "The transform property").
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


Affine = tuple[float, float, float, float, float, float]

IDENTITY: Affine = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)


def compose(outer: Affine, inner: Affine) -> Affine:
    """Return the map that applies `inner` first and `outer` after it.

    The product outer · inner.

    `outer` and `inner`: affine maps.

    Examples
    --------
    >>> compose(translation(5, 0), scaling(2, 2))
    (2.0, 0.0, 0.0, 2.0, 5.0, 0.0)
    """
    a, b, c, d, e, f = outer
    p, q, r, s, t, u = inner
    return (
        a * p + c * q,
        b * p + d * q,
        a * r + c * s,
        b * r + d * s,
        a * t + c * u + e,
        b * t + d * u + f,
    )


def invert(m: Affine) -> Affine:
    """Return the inverse map.

    `m`: an affine map that is not singular. Raises `ZeroDivisionError` if the map is
    singular.
    """
    a, b, c, d, e, f = m
    det = a * d - b * c
    p, q, r, s = d / det, -b / det, -c / det, a / det
    return (p, q, r, s, -(p * e + r * f), -(q * e + s * f))


def determinant(m: Affine) -> float:
    """Return the determinant of the linear part.

    Signed area factor; negative for a mirror image. `m`: an affine map.
    """
    return m[0] * m[3] - m[1] * m[2]


def mean_scale(m: Affine) -> float:
    """Return the length factor of the map, averaged over directions.

    Square root of the absolute determinant. `m`: an affine map.
    """
    return math.sqrt(abs(determinant(m)))


def linear(m: Affine) -> NDArray[np.float64]:
    """Return the linear part as a matrix for column vectors.

    `m`: an affine map. Returns (2, 2): ((a, c), (b, d)).
    """
    return np.array([[m[0], m[2]], [m[1], m[3]]], dtype=np.float64)


def apply(m: Affine, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Map points.

    `m`: an affine map. `points` (..., 2): points; not changed. Returns (..., 2): the
    images.
    """
    pts = np.asarray(points, dtype=np.float64)
    out = np.empty_like(pts)
    x, y = pts[..., 0], pts[..., 1]
    out[..., 0] = m[0] * x + m[2] * y + m[4]
    out[..., 1] = m[1] * x + m[3] * y + m[5]
    return out


def translation(dx: float, dy: float) -> Affine:
    """Return the map of a shift."""
    return (1.0, 0.0, 0.0, 1.0, float(dx), float(dy))


def scaling(sx: float, sy: float) -> Affine:
    """Return a scaling about the origin.

    `sx` and `sy`: factors along x and y.
    """
    return (float(sx), 0.0, 0.0, float(sy), 0.0, 0.0)


def rotation(angle: float, centre: tuple[float, float] = (0.0, 0.0)) -> Affine:
    """Return a counter-clockwise rotation about a point.

    `angle`: angle in radians. `centre`: the point that stays.
    """
    c, s = math.cos(angle), math.sin(angle)
    x, y = centre
    return (c, s, -s, c, x - c * x + s * y, y - s * x - c * y)
