"""Lines and circles through points, and how far points miss them.

A line is a point and a unit direction (x, y, dx, dy); a circle is centre and
radius (x, y, r).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["fit_circle", "fit_line", "misses"]


def fit_line(
    points: NDArray[np.float64], weight: NDArray[np.float64] | None = None
) -> NDArray[np.float64]:
    """Return the line with the least squares of distances.

    Parameters
    ----------
    points : ndarray of shape (n, 2)
        At least two.
    weight : ndarray of shape (n,), optional
        How much each counts.

    Returns
    -------
    ndarray of shape (4,)
        x, y, dx, dy.
    """
    weight = np.ones(len(points)) if weight is None else weight
    middle = weight @ points / max(float(weight.sum()), 1e-12)
    off = points - middle
    cov = (off * weight[:, None]).T @ off
    _, vectors = np.linalg.eigh(cov)
    line: NDArray[np.float64] = np.r_[middle, vectors[:, 1]]
    return line


def fit_circle(
    points: NDArray[np.float64], weight: NDArray[np.float64] | None = None
) -> NDArray[np.float64] | None:
    """Return the circle with the least squares of distances.

    Parameters
    ----------
    points : ndarray of shape (n, 2)
        At least three.
    weight : ndarray of shape (n,), optional
        How much each counts.

    Returns
    -------
    ndarray of shape (3,) or None
        x, y, r; None where the points lie on a line.

    Notes
    -----
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
    table = np.stack([x, y, np.ones(len(x))], 1) * np.sqrt(weight)[:, None]
    right = (x * x + y * y) * np.sqrt(weight)
    solved, _, rank, values = np.linalg.lstsq(table, right, rcond=None)
    if rank < 3 or values[-1] < 1e-5 * values[0]:
        return None
    cx, cy = solved[0] / 2, solved[1] / 2
    r = np.sqrt(max(solved[2] + cx * cx + cy * cy, 1e-12))
    for _ in range(6):
        dx, dy = x - cx, y - cy
        d = np.maximum(np.hypot(dx, dy), 1e-9)
        jac = (
            np.stack([-dx / d, -dy / d, -np.ones(len(d))], 1) * np.sqrt(weight)[:, None]
        )
        step = np.linalg.lstsq(jac, -(d - r) * np.sqrt(weight), rcond=None)[0]
        if not np.isfinite(step).all() or abs(step).max() > 50:
            return None
        cx, cy, r = cx + step[0], cy + step[1], r + step[2]
        if abs(step).max() < 1e-8:
            break
    if not 0 < r < 500:
        return None
    return np.array([cx * size + middle[0], cy * size + middle[1], r * size])


def misses(
    points: NDArray[np.float64], carrier: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return signed distances from a line or a circle.

    Parameters
    ----------
    points : ndarray of shape (n, 2)
        px.
    carrier : ndarray of shape (4,) or (3,)
        Line or circle.

    Returns
    -------
    ndarray of shape (n,)
        px.
    """
    if len(carrier) == 4:
        off = points - carrier[:2]
        found: NDArray[np.float64] = off[:, 1] * carrier[2] - off[:, 0] * carrier[3]
        return found
    off = points - carrier[:2]
    radial: NDArray[np.float64] = np.hypot(off[:, 0], off[:, 1]) - carrier[2]
    return radial
