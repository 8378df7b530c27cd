"""Vertices that curves pass by within the slack without meeting anything there."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from fillwork.geometry.crossings import nearest_parameter

if TYPE_CHECKING:
    from fillwork.arrangement.segments import Chords
    from fillwork.arrays import Floats, Ints, Ints32
    from fillwork.geometry.curves import Curves


def find_passes(
    curves: Curves,
    chords: Chords,
    chosen: Ints,
    place: Floats,
    vertex: Ints32,
    join: float,
) -> tuple[Ints32, Ints32, Floats]:
    """Return where curves pass by vertices nearer than what is one point.

    Where three curves run on each other and two of them cross, the third knows
    nothing of the vertex: it would go by on either side.

    `chosen`: chords that are looked at. `place` (V, 2): places of vertices, mm.
    `vertex`: vertices that are used, in any number. `join`: points nearer than this are
    one, mm. Returns `vertex` and `curve` (n,): vertices and the curves that pass by
    them, known meetings among them; `t` (n,): parameters where they do.
    """
    used = np.unique(vertex)
    tree = shapely.STRtree(np.asarray(shapely.points(place[used])))
    lines = shapely.linestrings(chords.ends[chosen].reshape(-1, 2, 2))
    reach = join + 1.01 * chords.sagitta[chosen]
    row, hit = tree.query(lines, predicate="dwithin", distance=reach)
    chord, at = chosen[row], used[hit]
    curve = chords.curve[chord]
    ends = chords.ends[chord]
    d, w = ends[:, 2:] - ends[:, :2], place[at] - ends[:, :2]
    along = (w * d).sum(axis=1) / np.maximum((d * d).sum(axis=1), 1e-300)
    span = chords.span[chord]
    guess = span[:, 0] + np.clip(along, 0.0, 1.0) * (span[:, 1] - span[:, 0])
    t, distance = nearest_parameter(curves, curve, place[at], guess)
    slack = 1e-6 * (span[:, 1] - span[:, 0])
    near = (t >= span[:, 0] - slack) & (t <= span[:, 1] + slack) & (distance <= join)
    return (
        at[near].astype(np.int32),
        curve[near].astype(np.int32),
        np.clip(t[near], 0.0, 1.0),
    )
