"""Edges inside one fill: where its outlines cross, the non-zero rule fills both sides.

A star drawn in one go and filled shows its rim alone; so do rings that overlap in one
shape. Sides that two parts of a shape share stay: they may be cells beside each other.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.readers.strokes.collect import merge_tables
from fillwork.readers.strokes.cutting import Region, look_inside, rebuild, split_at
from fillwork.readers.strokes.hidden import find_fills
from fillwork.readers.strokes.outlines import size_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from fillwork.arrays import Bools, Floats, Ints, Ints32
    from fillwork.readers.strokes.collect import StrokeTable

_FINE = 1e-5  # error of chords, of a shape's size
_OFF = 4.0  # such errors: how far beside an edge its two sides are looked at
_OVER = 1e-6  # of a shape's area: rings that turn round more than that overlap


def drop_inner_edges(
    table: StrokeTable,
    fills: Bools,
    even_odd: Bools,
    spend: Callable[[int], None],
) -> StrokeTable:
    """Return the strokes without edges that have the shape's own fill on both sides.

    `table`: strokes in mm. `fills` (S,): edges of fills, closed. `even_odd` (items,):
    fill rule of each item. `spend`: told how many comparisons are about to be made.
    Returns the table itself where there is none.
    """
    some = fills & ~even_odd[table.item]
    if not some.any():
        return table
    crossed = _crossed_items(table.take(some), even_odd, spend)
    if not len(crossed):
        return table
    rows = np.flatnonzero(some & np.isin(table.item, crossed))
    rest = np.ones(len(some), bool)
    rest[rows] = False
    each = np.split(rows, np.flatnonzero(np.diff(table.item[rows])) + 1)
    rims = [_rim(table.pick(mine), spend) for mine in each]
    return merge_tables([table.take(rest), *rims])


def _crossed_items(
    table: StrokeTable, even_odd: Bools, spend: Callable[[int], None]
) -> Ints:
    """Return the items whose rings turn round some of their area more than once."""
    import shapely

    fine = max(_FINE * size_of(table), 1e-12)
    chords, curve, _ = table.curves().flatten(fine)
    x0, y0, x1, y1 = (chords - np.tile(chords[0, :2], 2)).T
    of = table.item[table.owner()[curve]]
    turned = np.bincount(of, (x0 * y1 - x1 * y0) / 2)
    shapes, items = find_fills(table, fine, even_odd, spend)
    area = shapely.area(shapes)
    over = np.abs(np.abs(turned[items]) - area) > _OVER * area
    return items[over]


def _rim(one: StrokeTable, spend: Callable[[int], None]) -> StrokeTable:
    """Return the edges of one shape that have its fill on one side only."""
    curves = one.curves()
    owner = one.owner()
    region = Region(curves, owner, np.zeros(len(owner), np.int64), np.zeros(1, bool))
    chord = max(_FINE * size_of(one), 1e-12)
    chords = region.walls(chord)
    walls, wall_curve, _ = chords
    curve, t0, t1 = split_at(curves, np.arange(len(curves)), curves, chords, spend)
    shape = np.zeros(len(walls), np.int64)
    inner = np.ones(len(curve), bool)
    for share in (0.25, 0.5, 0.75):
        t = t0 + share * (t1 - t0)
        at, ahead = curves.point(curve, t), curves.derivative(curve, t)
        length = np.maximum(np.hypot(*ahead.T), 1e-300)
        aside = (
            _OFF * chord * np.stack([-ahead[:, 1], ahead[:, 0]], 1) / length[:, None]
        )
        for side in (at + aside, at - aside):
            inner &= look_inside(side, walls, shape, region.even_odd, spend)[0]
    asked = np.flatnonzero(inner)
    middle = curves.point(curve[asked], (t0 + t1)[asked] / 2)
    shared = _on_other_curves(middle, curve[asked], walls, wall_curve, 2 * chord)
    inner[asked[shared]] = False
    return rebuild(one, curves, curve, t0, t1, ~inner)[0] if inner.any() else one


def _on_other_curves(
    points: Floats, curve: Ints, walls: Floats, wall_curve: Ints32, within: float
) -> Bools:
    # which points of curves lie on another curve as well
    import shapely

    sides: Any = shapely.linestrings(walls.reshape(-1, 2, 2))
    tree = shapely.STRtree(sides)
    k, j = tree.query(shapely.points(points), predicate="dwithin", distance=within)
    found = np.zeros(len(points), bool)
    found[k[wall_curve[j] != curve[k]]] = True
    return found
