"""Cut curves where an outline crosses them and keep what lies inside."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.curves import ARC, CUBIC, Curves
from fillwork.geometry.polygons import ring_curves
from fillwork.readers.strokes.cutting import split_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrays import Floats, Ints

_SAMPLES = np.array([0.13, 0.5, 0.87])


def curve_boxes(curves: Curves) -> Floats:
    """Return the box round each curve.

    Returns (N, 4): left, bottom, right, top, mm; exact for lines and arcs, and round
    the control points for Béziers.
    """
    ends = np.stack([curves.starts(), curves.ends()], axis=1)
    low, high = ends.min(axis=1), ends.max(axis=1)
    bent = np.flatnonzero(curves.kind == CUBIC)
    if len(bent):
        points = curves.data[bent].reshape(-1, 4, 2)
        low[bent], high[bent] = points.min(axis=1), points.max(axis=1)
    arcs = np.flatnonzero(curves.kind == ARC)
    d = curves.data[arcs]
    first, last = np.minimum(d[:, 6], d[:, 7]), np.maximum(d[:, 6], d[:, 7])
    for k in (0, 1):
        reach, top = (
            np.hypot(d[:, 2 + k], d[:, 4 + k]),
            np.arctan2(d[:, 4 + k], d[:, 2 + k]),
        )
        for angle, box, far, most in (
            (top, high, np.maximum, d[:, k] + reach),
            (top + np.pi, low, np.minimum, d[:, k] - reach),
        ):
            seen = first + (angle - first) % (2 * np.pi) <= last
            box[arcs[seen], k] = far(box[arcs[seen], k], most[seen])
    return np.hstack([low, high])


def box_round(curves: Curves) -> tuple[Floats, Floats]:
    """Return the lower left and upper right corner of the box round all curves.

    At least one; as `curve_boxes` has it. Returns `low` and `high` (2,), mm.
    """
    box = curve_boxes(curves)
    return box[:, :2].min(axis=0), box[:, 2:].max(axis=0)


def clip_to_ring(
    curves: Curves, ring: Floats, *, near: float = 1e-6, along: bool = False
) -> tuple[Curves, Ints]:
    """Return the parts of curves inside straight sides, as `clip_curves` does."""
    return clip_curves(curves, ring_curves(ring), [ring], near=near, along=along)


def clip_curves(
    curves: Curves,
    edge: Curves,
    rings: Sequence[Floats],
    *,
    near: float = 1e-6,
    along: bool = False,
) -> tuple[Curves, Ints]:
    """Return the parts of curves inside an outline.

    `edge`: the outline and the outlines of its holes. `rings` (n, 2): the same as
    chords, the outer ring first. `near`: a part this near the outline all along lies on
    it, mm. `along`: whether parts on the outline are kept. Returns `parts`: exact parts
    of the curves; `origin`: the curve that each is part of, rising.
    """
    import shapely

    if len(curves) == 0:
        return curves, np.empty(0, np.int64)
    size = max(float(np.ptp(edge.starts(), axis=0).max()), 1e-6)
    chords = edge.flatten(1e-5 * size)
    every = np.arange(len(curves))
    index, t0, t1 = split_at(curves, every, edge, chords, lambda _: None)
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
    cut = np.flatnonzero((t0 != 0.0) | (t1 != 1.0))
    parts = curves.take(index)
    data = parts.data.copy()
    data[cut] = curves.part(index[cut], t0[cut], t1[cut]).data
    return Curves(parts.kind.copy(), data), index.astype(np.int64)
