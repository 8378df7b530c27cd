"""Where arcs of circles meet, in closed form.

Two circles cross where the line of their centres and half of their common chord
say, and all but touch on that line. One pair is one row, however long it is drawn.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.curves import ARC

if TYPE_CHECKING:
    from fillwork.arrays import AnyInts, Bools, Floats, Ints
    from fillwork.geometry.curves import Curves

_ROUND = 1e-12  # of a half-diameter: how nearly two are equal and upright
_TURN = 2.0 * np.pi
_PARALLEL = 1e-9  # sines below it: circles that run on each other do not cross
_CONCENTRIC = 1e-7  # of the radius: centres nearer are one


def are_circular(curves: Curves) -> Bools:
    """Return which curves are arcs of circles.

    Returns (n,): arcs of ellipses, lines and Béziers are none.
    """
    d = curves.data
    size = d[:, 2] ** 2 + d[:, 3] ** 2
    other = d[:, 4] ** 2 + d[:, 5] ** 2
    upright = np.abs(d[:, 2] * d[:, 4] + d[:, 3] * d[:, 5]) <= _ROUND * size
    round_ = upright & (np.abs(size - other) <= _ROUND * size) & (size > 0)
    swept = (d[:, 7] != d[:, 6]) & (np.abs(d[:, 7] - d[:, 6]) <= _TURN * (1 + 1e-12))
    return np.asarray((curves.kind == ARC) & round_ & swept)


def parameters_at(curves: Curves, index: AnyInts, off: Floats) -> Floats:
    """Return where on arcs of circles the rays from their centres lie.

    `index` (n,): arcs of circles. `off` (n, 2): directions from their centres. Returns
    (n,): parameters; outside 0 to 1, on the nearer side, where the arc is not there.
    """
    d = curves.data.take(index, axis=0)
    angle = np.arctan2(
        off[:, 0] * d[:, 4] + off[:, 1] * d[:, 5],
        off[:, 0] * d[:, 2] + off[:, 1] * d[:, 3],
    )
    sweep = d[:, 7] - d[:, 6]
    # from the middle of the arc at most half a turn to either side
    off_middle = angle - d[:, 6] - sweep / 2
    off_middle -= _TURN * np.round(off_middle / _TURN)
    return np.asarray(0.5 + off_middle / sweep)


def circles_meet(
    curves: Curves, first: AnyInts, second: AnyInts
) -> tuple[Ints, Floats, Floats, Floats]:
    """Return where pairs of circles cross and where they are nearest.

    `first` and `second` (n,): pairs of arcs of circles, taken for the whole circles.
    Returns `row` (m,): the pair; `off` and `other` (m, 2): from the centres of both
    circles to the place; `apart` (m,): distance of the circles there, mm: 0 where they
    cross, else where they run side by side on the line of their centres.
    """
    a, b = curves.data.take(first, axis=0), curves.data.take(second, axis=0)
    r, q = np.hypot(a[:, 2], a[:, 3]), np.hypot(b[:, 2], b[:, 3])
    way = b[:, :2] - a[:, :2]
    d = np.hypot(*way.T)
    row = np.flatnonzero(d > _CONCENTRIC * np.maximum(r, q))
    r, q, d = r[row], q[row], d[row]
    way = way[row] / d[:, None]
    outer, inner = d - (r + q), d - np.abs(r - q)
    # half of the common chord, in factors that lose no digits
    chord = -outer * (d + r + q) * inner * (d + np.abs(r - q))
    sine = np.sqrt(np.maximum(chord, 0.0)) / (2.0 * r * q)
    y = np.flatnonzero((chord > 0) & (sine > _PARALLEL))
    foot = (0.5 * (d + (r - q) * (r + q) / d))[y]
    half = (0.5 * np.sqrt(chord[y]) / d[y])[:, None]
    along = way[y] * foot[:, None]
    across = np.stack([-way[y, 1], way[y, 0]], axis=1) * half
    back = way[y] * d[y, None]
    rows = [row[y], row[y]]
    offs = [along + across, along - across]
    others = [o - back for o in offs]
    gaps = [np.zeros(len(y)), np.zeros(len(y))]
    # side by side: between the centres, and beyond either
    for s, t, gap in ((1, -1, outer), (1, 1, d + q - r), (-1, -1, d + r - q)):
        rows.append(row)
        offs.append(s * way * r[:, None])
        others.append(t * way * q[:, None])
        gaps.append(np.abs(gap))
    return (
        np.concatenate(rows),
        np.concatenate(offs),
        np.concatenate(others),
        np.concatenate(gaps),
    )


def distances_from(
    curves: Curves, index: AnyInts, points: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return how far points are from circles, and where on the arcs they are nearest.

    `index` (n,): arcs of circles. `points` (n, 2): points, mm. Returns `distance` (n,):
    from the whole circle, mm; `t` (n,): parameter of the nearest point, as
    `parameters_at` has it; `off` (n, 2): from the centre to the point, mm.
    """
    d = curves.data.take(index, axis=0)
    off = points - d[:, :2]
    distance = np.abs(np.hypot(*off.T) - np.hypot(d[:, 2], d[:, 3]))
    return distance, parameters_at(curves, index, off), off
