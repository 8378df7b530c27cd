"""Cut curves where an outline crosses them and keep what lies inside."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.crossings import cross, refine_crossing
from fillwork.geometry.curves import ARC, CUBIC, LINE, Curves

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray


_SAMPLES = np.array([0.13, 0.5, 0.87])


def curve_boxes(curves: Curves) -> NDArray[np.float64]:
    """Return the box round each curve.

    Returns
    -------
    ndarray of shape (N, 4)
        Left, bottom, right, top, mm; exact for lines and arcs, and round the
        control points for Béziers.
    """
    ends = np.stack([curves.starts(), curves.ends()], axis=1)
    low, high = ends.min(axis=1), ends.max(axis=1)
    bent = np.flatnonzero(curves.kind == CUBIC)
    if len(bent):
        points = curves.data[bent].reshape(-1, 4, 2)
        low[bent], high[bent] = points.min(axis=1), points.max(axis=1)
    arcs = np.flatnonzero(curves.kind == ARC)
    if len(arcs):
        d = curves.data[arcs]
        s0 = np.minimum(d[:, 6], d[:, 7])
        s1 = np.maximum(d[:, 6], d[:, 7])
        for k in (0, 1):
            u, v, c = d[:, 2 + k], d[:, 4 + k], d[:, k]
            reach = np.hypot(u, v)
            top = np.arctan2(v, u)
            for angle, sign in ((top, 1.0), (top + np.pi, -1.0)):
                first = s0 + (angle - s0) % (2 * np.pi)
                seen = first <= s1
                extreme = c + sign * reach
                if sign > 0:
                    high[arcs, k] = np.where(
                        seen, np.maximum(high[arcs, k], extreme), high[arcs, k]
                    )
                else:
                    low[arcs, k] = np.where(
                        seen, np.minimum(low[arcs, k], extreme), low[arcs, k]
                    )
    return np.hstack([low, high])


def clip_curves(
    curves: Curves,
    edge: Curves,
    rings: Sequence[NDArray[np.float64]],
    *,
    near: float = 1e-6,
    along: bool = False,
) -> tuple[Curves, NDArray[np.int64]]:
    """Return the parts of curves inside an outline.

    Parameters
    ----------
    edge : Curves
        The outline and the outlines of its holes.
    rings : sequence of ndarray of shape (n, 2)
        The same as chords, the outer ring first.
    near : float
        A part this near the outline all along lies on it, mm.
    along : bool
        Whether parts on the outline are kept.

    Returns
    -------
    parts : Curves
        Exact parts of the curves.
    origin : ndarray of int64
        The curve that each is part of, rising.
    """
    import shapely

    if len(curves) == 0:
        return curves, np.empty(0, np.int64)
    index, t0, t1 = _split(curves, edge)
    area = shapely.Polygon(rings[0], list(rings[1:]))
    rim = shapely.boundary(area)
    shapely.prepare(area)
    shapely.prepare(rim)
    points = [curves.point(index, t0 + f * (t1 - t0)) for f in _SAMPLES]
    away = np.max([shapely.distance(rim, shapely.points(p)) for p in points], axis=0)
    inside = shapely.contains_xy(area, points[1])
    on_edge = away <= near
    keep = np.where(on_edge, along, inside)
    index, t0, t1 = index[keep], t0[keep], t1[keep]
    whole = (t0 == 0.0) & (t1 == 1.0)
    parts = curves.take(index)
    if not whole.all():
        cut = np.flatnonzero(~whole)
        pieces = curves.part(index[cut], t0[cut], t1[cut])
        data = parts.data.copy()
        data[cut] = pieces.data
        parts = Curves(parts.kind.copy(), data)
    return parts, index.astype(np.int64)


def _split(
    curves: Curves, edge: Curves
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
    """Return the parts of curves between their crossings with an outline."""
    import shapely

    size = float(np.ptp(edge.starts(), axis=0).max())
    size = max(size, 1e-6)
    ours, our_curve, our_span = curves.flatten(1e-3 * size)
    theirs, their_curve, their_span = edge.flatten(1e-3 * size)
    tree = shapely.STRtree(np.asarray(shapely.linestrings(theirs.reshape(-1, 2, 2))))
    # chords leave their curves by a thousandth of the size at most
    lines = shapely.linestrings(ours.reshape(-1, 2, 2))
    straight = (curves.kind == LINE).all() and (edge.kind == LINE).all()
    slack = 1e-9 * size if straight else 3e-3 * size
    a, b = tree.query(lines, predicate="dwithin", distance=slack)
    p, q = ours[a, :2], theirs[b, :2]
    d, e = ours[a, 2:] - p, theirs[b, 2:] - q
    det = cross(d, e)
    scale = np.hypot(*d.T) * np.hypot(*e.T)
    sure = np.abs(det) > 1e-9 * np.maximum(scale, 1e-300)
    det = np.where(sure, det, 1.0)
    u = np.where(sure, cross(q - p, e) / det, 0.5)
    v = np.where(sure, cross(q - p, d) / det, 0.5)
    bent = ~((curves.kind[our_curve[a]] == LINE) & (edge.kind[their_curve[b]] == LINE))
    sure |= bent
    a, b, u, v, bent = a[sure], b[sure], u[sure], v[sure], bent[sure]
    u, v = np.clip(u, -1.0, 2.0), np.clip(v, -1.0, 2.0)
    s = our_span[a, 0] + u * (our_span[a, 1] - our_span[a, 0])
    t = their_span[b, 0] + v * (their_span[b, 1] - their_span[b, 0])
    both = Curves.concatenate([curves, edge])
    s, t, miss = refine_crossing(
        both, our_curve[a], their_curve[b].astype(np.int64) + len(curves), s, t
    )
    slip = 1e-9
    good = (miss < 1e-7 * size) & (t > -slip) & (t < 1 + slip)
    good &= (s > slip) & (s < 1 - slip)
    at_curve, at = our_curve[a[good]].astype(np.int64), s[good]
    every = np.arange(len(curves))
    owner = np.concatenate([every, every, at_curve])
    place = np.concatenate([np.zeros(len(curves)), np.ones(len(curves)), at])
    order = np.lexsort((place, owner))
    owner, place = owner[order], place[order]
    same = owner[1:] == owner[:-1]
    index, t0, t1 = owner[:-1][same], place[:-1][same], place[1:][same]
    real = t1 - t0 > 1e-9
    return index[real], t0[real], t1[real]
