"""Arcs as DXF states them, and polylines whose sides are lines or arcs."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from fillwork.geometry.curves import ARC, CUBIC, LINE

if TYPE_CHECKING:
    from collections.abc import Sequence

    Curve = tuple[int, tuple[float, ...]]


_TURN = 2 * math.pi
_ROUNDED = 1e-6  # of a radian: an arc that is less short of a turn is one
_OVER = 2e-4  # of a radian: an arc no further over turns is one; two decimals of 1°


def arc_span(first: float, last: float) -> tuple[float, float]:
    """Return where an arc begins and ends, counter-clockwise, a turn at most.

    `first` and `last`: angles as the file has them. The same angle again is a turn;
    angles that are further apart than one are told modulo a turn.

    Examples
    --------
    >>> arc_span(3.0, 4.0), arc_span(1.0, 1.0)[1] == 1.0 + 2 * math.pi
    ((3.0, 4.0), True)
    """
    sweep = last - first
    over = sweep % _TURN
    whole = not 1e-12 < over < _TURN - _ROUNDED or (sweep >= _TURN and over < _OVER)
    return first, first + (_TURN if whole else over)


def bulge_curves(points: Sequence[Sequence[float]], closed: bool) -> list[Curve]:
    """Return a polyline whose sides may be arcs.

    `points`: x, y and bulge, which belongs to the side that begins there: the tangent
    of a quarter of its angle, positive counter-clockwise. `closed`: whether the last
    point is joined to the first. Returns lines and arcs; sides of no length are left
    out.
    """
    curves: list[Curve] = []
    n = len(points)
    for k in range(n if closed else n - 1):
        x0, y0, bulge = points[k]
        x1, y1, _ = points[(k + 1) % n]
        dx, dy = x1 - x0, y1 - y0
        if dx == 0 and dy == 0:
            continue
        if bulge == 0:
            curves.append((LINE, (x0, y0, x1, y1, 0.0, 0.0, 0.0, 0.0)))
            continue
        sweep = 4 * math.atan(bulge)
        if abs(sweep) < 2e-3:
            # the centre is too far away to be true; a cubic is, to sweep^6 / 10^4
            f = math.tan(sweep / 4) / math.sin(sweep / 2) * 2 / 3
            c, s = f * math.cos(sweep / 2), f * math.sin(sweep / 2)
            curves.append(
                (
                    CUBIC,
                    (x0, y0, x0 + c * dx + s * dy, y0 + c * dy - s * dx,
                     x1 - c * dx + s * dy, y1 - c * dy - s * dx, x1, y1),
                )
            )  # fmt: skip
            continue
        # the centre lies beside the middle of the chord
        out = (1 - bulge * bulge) / (4 * bulge)
        cx, cy = (x0 + x1) / 2 - out * dy, (y0 + y1) / 2 + out * dx
        ux, uy = x0 - cx, y0 - cy
        curves.append((ARC, (cx, cy, ux, uy, -uy, ux, 0.0, sweep)))
    return curves
