"""What stands in the middle of a field: a medallion, taken out and set in again."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.arrangement.outlines import half_edge_curves
from fillwork.geometry import affine
from fillwork.laying.runs import join_runs

if TYPE_CHECKING:
    from collections.abc import Collection

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Floats, Ints, Ints32
    from fillwork.geometry.affine import Affine
    from fillwork.geometry.curves import Curves
    from fillwork.laying.model import Panel
    from fillwork.linework import LineWork


@dataclass(frozen=True, slots=True, eq=False)
class Medallion:
    """Hold the lines of a medallion, with its rim."""

    curves: Curves  # mm of the drawing
    style: Ints32  # (N,): row of the drawing's table of styles for each
    rim: Curves  # the outline where the field ends, end to end, counter-clockwise
    centre: tuple[float, float]  # mm

    def at(self, point: tuple[float, float], scale: float) -> Medallion:
        """Return it with its centre at a point of the panel, mm."""
        place = placed(self.centre, point, scale)
        return Medallion(
            self.curves.transform(place), self.style, self.rim.transform(place), point
        )

    def fits(self, field: Panel) -> bool:
        """Return whether the rim lies within a field."""
        import shapely

        rim = shapely.Polygon(self._ring(field))
        return bool(shapely.contains_properly(field.area, rim))

    def open_in(self, field: Panel) -> Panel:
        """Return a field with this medallion's rim as a hole."""
        turned, n = np.arange(len(self.rim))[::-1], len(self.rim)
        back = self.rim.part(turned, np.ones(n), np.zeros(n))
        return field.with_hole(back, self._ring(field)[::-1])

    def _ring(self, field: Panel) -> Floats:
        return self.rim.flatten(1e-5 * max(field.width, field.height))[0][:, :2]


def placed(
    centre: tuple[float, float], point: tuple[float, float], scale: float
) -> Affine:
    """Return the map that enlarges and brings a point of the drawing to another."""
    x, y = (p - scale * c for p, c in zip(point, centre, strict=True))
    return affine.compose(affine.translation(x, y), affine.scaling(scale, scale))


def take_medallion(
    arrangement: Arrangement,
    drawn: LineWork,
    shape: Any,
    centre: tuple[float, float],
    ground: Collection[int] = (),
) -> Medallion | None:
    """Return what a shape holds of a drawing; None where its rim is not one ring.

    `shape` (shapely polygon): regions of the drawing, holes filled. `ground`: those on
    which the field's figures stand.
    """
    import shapely

    inside = shapely.contains_xy(shape, arrangement.witness)
    inside[0] = False
    pairs = arrangement.face.reshape(-1, 2)
    while True:
        sides = inside[pairs]
        round_it = np.unique(pairs[sides[:, 0] != sides[:, 1]])
        round_it = round_it[~inside[round_it]]
        # one region all round it, and no field, is a part of it
        if len(round_it) != 1 or round_it[0] == 0 or round_it[0] in ground:
            break
        inside[round_it] = True
    edges = np.flatnonzero(sides.any(axis=1))
    stroke = arrangement.curve_stroke[arrangement.edge_curve[edges]]
    style = drawn.style[np.maximum(stroke, 0)].astype(np.int32)
    near = 1e-7 * float(np.sqrt(shape.area))
    curves, style = join_runs(
        half_edge_curves(arrangement, 2 * edges), style, near=near
    )
    rim = np.flatnonzero(sides[:, 0] != sides[:, 1])
    half = 2 * rim + ~sides[rim, 0]
    ring = _in_turn(arrangement, half)
    if ring is None:
        return None
    return Medallion(curves, style, half_edge_curves(arrangement, ring), centre)


def _in_turn(arrangement: Arrangement, half: Ints) -> Ints | None:
    """Return half-edges in the order in which they follow each other round a ring."""
    start = arrangement.origin[half]
    end = arrangement.origin[half ^ 1]
    after = dict(zip(start.tolist(), range(len(half)), strict=True))
    if len(half) == 0 or len(after) < len(half):
        return None
    order = [0]
    while len(order) < len(half):
        row = after.get(int(end[order[-1]]))
        if row is None or row == 0:
            return None
        order.append(row)
    return half[order] if end[order[-1]] == start[0] else None
