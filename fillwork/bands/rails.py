"""Rails: the two edges of a band, beside the line that runs along its middle.

Row ``2 e`` of a table of rails runs on the left of piece ``e``, row ``2 e + 1`` on
its right, both in the piece's direction and over the same parameter. A *half* looks
along its piece away from a vertex; what lies on its left is row ``2 e`` when it leaves
the start and row ``2 e + 1`` when it leaves the end.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.crossings import cross, refine_crossing
from fillwork.geometry.curves import ARC, CUBIC, LINE, Curves

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats, Ints

_ROUNDS = 6  # of four steps each


def rail_of(half: Ints, left: bool) -> Ints:
    """Return the rail on one side of halves; rows of the table of rails.

    `left`: on the left, looking away from the vertex; else on the right.
    """
    side = half & 1
    return np.asarray(2 * (half >> 1) + (side if left else 1 - side))


def build_rails(pieces: Curves, offset: Floats) -> Curves:
    """Return the rails of pieces.

    2 E rails: exact beside lines and circular arcs, elsewhere the cubic that leaves and
    arrives as the true parallel curve does.

    `pieces`: e middle lines that turn little, or circular arcs. `offset` (E,): distance
    of the rails from the middle, mm.
    """
    rows = np.repeat(np.arange(len(pieces)), 2)
    reach = np.repeat(offset, 2)
    reach[1::2] *= -1.0  # to the right
    kind, data = pieces.kind[rows].copy(), pieces.data[rows].copy()
    straight = kind == LINE
    d = data[straight, 2:4] - data[straight, 0:2]
    normal = np.stack([-d[:, 1], d[:, 0]], axis=1)
    normal *= (reach[straight] / np.maximum(np.hypot(*d.T), 1e-300))[:, None]
    data[straight, 0:2] += normal
    data[straight, 2:4] += normal
    u, v = data[:, 2:4], data[:, 4:6]
    radius = np.hypot(u[:, 0], u[:, 1])
    skew = np.abs((u * v).sum(axis=1))
    wide = np.abs(np.hypot(v[:, 0], v[:, 1]) - radius)
    circle = (kind == ARC) & (skew < 1e-9 * radius**2) & (wide < 1e-9 * radius)
    ahead = np.sign(cross(u, v) * (data[:, 7] - data[:, 6]))
    factor = 1.0 - ahead * reach / np.where(radius > 0, radius, 1.0)
    data[circle, 2:6] *= factor[circle, None]
    rest = np.flatnonzero(~straight & ~circle)
    if len(rest):
        data[rest] = _beside(pieces, rows[rest], reach[rest])
        kind[rest] = CUBIC
    return Curves(kind, data)


def _beside(pieces: Curves, rows: Ints, reach: Floats) -> Floats:
    """Return cubics at a signed distance on the left of curves."""
    ends = []
    step = 1e-4
    for t in (0.0, 1.0):
        at = np.full(len(rows), t)
        point, slope = pieces.evaluate(rows, at)
        inward = step if t == 0.0 else -step
        bend = (pieces.derivative(rows, at + inward) - slope) / inward
        speed = np.maximum(np.hypot(*slope.T), 1e-300)
        curvature = cross(slope, bend) / speed**3
        normal = np.stack([-slope[:, 1], slope[:, 0]], axis=1) / speed[:, None]
        ends.append(
            (point + reach[:, None] * normal, slope * (1 - reach * curvature)[:, None])
        )
    (p, dp), (q, dq) = ends
    return np.concatenate([p, p + dp / 3, q - dq / 3, q], axis=1)


def meet_rails(
    curves: Curves, first: Ints, second: Ints, t_first: Floats, t_second: Floats
) -> tuple[Floats, Floats, Bools]:
    """Return where pairs of curves meet near given parameters, beyond ends too.

    `first` and `second` (n,): pairs of rows. `t_first` and `t_second` (n,): parameters
    to begin from. Returns `s` and `t` (n,): parameters of the meetings; `found` (n,):
    False where they run side by side or never meet.
    """
    s, t = np.array(t_first, float), np.array(t_second, float)
    found = np.zeros(len(s), bool)
    straight = (curves.kind[first] == LINE) & (curves.kind[second] == LINE)
    if straight.any():
        p, q = (curves.data.take(side[straight], axis=0) for side in (first, second))
        d, e = p[:, 2:4] - p[:, 0:2], q[:, 2:4] - q[:, 0:2]
        between = q[:, 0:2] - p[:, 0:2]
        area = cross(d, e)
        sure = np.abs(area) > 1e-9 * np.hypot(*d.T) * np.hypot(*e.T)
        area = np.where(sure, area, 1.0)
        found[straight] = sure
        s[straight] = np.where(sure, cross(between, e) / area, s[straight])
        t[straight] = np.where(sure, cross(between, d) / area, t[straight])
    rest = np.flatnonzero(~straight)
    if len(rest):
        f, g = first[rest], second[rest]
        for _ in range(_ROUNDS):  # quarters of curves, so that few wander off
            s[rest], t[rest], miss = refine_crossing(curves, f, g, s[rest], t[rest], 4)
            near = np.abs(np.stack([s[rest], t[rest]]) - 0.5).max(axis=0) < 2.5
            met = miss <= 1e-9 * np.abs(curves.data[f]).max(axis=1)
            found[rest[met & near]] = True
            rest = rest[~met & near]
            if not len(rest):
                break
            f, g = first[rest], second[rest]
    return s, t, found
