"""Quarters of ellipses that programs write as Béziers, made arcs again.

A program that knows no arcs writes a circle as four Béziers, whose control points lie
κ = 4 (√2 - 1) / 3 of a half-diameter along the tangents. They leave the circle by up to
2.7e-4 of its radius (T. Goodman, "Properties of β-splines", Journal of Approximation
Theory 44, 1985, gives κ; the error is that of the usual approximation), which is
enough to part lines that touch it. Ends stay where they are.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.curves import ARC, CUBIC, Curves

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["quarters_as_arcs"]

_KAPPA = 4.0 / 3.0 * (math.sqrt(2.0) - 1.0)
# κ is rounded in many ways, and so are coordinates; of a half-diameter
_OFF = 4e-3
_FLAT = 0.05  # sine between half-diameters: a flatter ellipse says nothing


def quarters_as_arcs(curves: Curves) -> Curves:
    """Return curves with each Bézier that stands for a quarter of an ellipse as an arc.

    Parameters
    ----------
    curves : Curves
        Curves.

    Returns
    -------
    Curves
        As many, with the same ends.
    """
    rows = np.flatnonzero(curves.kind == CUBIC)
    p = curves.data[rows].reshape(-1, 4, 2)
    first, second = p[:, 3] - (p[:, 1] - p[:, 0]) / _KAPPA, p[:, 0]
    second = second - (p[:, 2] - p[:, 3]) / _KAPPA
    centre = (first + second) / 2
    u, v = _half_diameters(p, centre)
    size = np.maximum(np.hypot(*u.T), np.hypot(*v.T))
    area = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    good = np.hypot(*(first - second).T) <= _OFF * size
    good &= np.abs(area) > _FLAT * size**2
    # of a circle both are equal and upright, whatever rounding did
    step = p[:, 3] - p[:, 0]
    turned = np.stack([-step[:, 1], step[:, 0]], axis=1) * np.sign(area)[:, None]
    middle = (p[:, 0] + p[:, 3] + turned) / 2
    round_ = np.hypot(*(middle - centre).T) <= _OFF * size
    centre[round_] = middle[round_]
    u, v = _half_diameters(p, centre)
    if not good.any():
        return curves
    quarter = np.full(len(rows), math.pi / 2)
    arcs = np.column_stack([centre, u, v, 0 * quarter, quarter])
    kind, data = curves.kind.copy(), curves.data.copy()
    kind[rows[good]], data[rows[good]] = ARC, arcs[good]
    return Curves(kind, data)


def _half_diameters(
    p: NDArray[np.float64], centre: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    return p[:, 0] - centre, p[:, 3] - centre
