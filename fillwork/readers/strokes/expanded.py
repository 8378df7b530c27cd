"""Fills that are expanded strokes, read by the middle lines of their bands.

A program that makes strokes into shapes leaves one shape, or several that touch, whose
holes are the drawn regions, smaller by half of the line on every side. Each hole grown
by half of the line's width is its region again, and neighbours meet in the middle line.
Together they fill the shape's border but for half of the width all round. Where the
width varies they do not meet, and the shape is left as it is, as are shapes with
curves. Ends that stand free of all holes are lost.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.geometry.curves import LINE
from fillwork.geometry.parts import gathered
from fillwork.readers.strokes.collect import StrokeTable
from fillwork.readers.strokes.hidden import find_fills

if TYPE_CHECKING:
    from fillwork.arrays import Bools

_MITRE = 20.0  # half widths that a sharp corner may reach
_OFF = 0.02  # of the bands' area: as much may regions miss each other or overlap
_GRID = 0.01  # of the width: points nearer to each other than this are one
_NODE = 0.05  # of the width: corners of regions nearer to each other are one
_MOST = 100_000  # sides that are looked at


def middle_lines(
    table: StrokeTable, even_odd: Bools, width: float
) -> StrokeTable | None:
    """Return the middle lines of shapes that are strokes of one width.

    `table`: the edges of the shapes, closed, mm. `even_odd` (items,): fill rule of each
    item. `width`: width of the bands, mm. Returns borders of the regions, of the first
    item; None where the shapes are not such strokes.
    """
    import shapely
    from scipy.spatial import cKDTree

    if (table.kind != LINE).any() or len(table.kind) > _MOST:
        return None
    fine = _GRID * width
    shapes, _ = find_fills(table, fine, even_odd)
    material = shapely.union_all(shapes, grid_size=0.1 * fine)
    parts = shapely.get_parts(material)
    parts = parts[shapely.get_type_id(parts) == 3]  # polygons
    holes: Any = shapely.polygons(
        np.concatenate([np.array(part.interiors, object) for part in parts])
    ) if len(parts) else np.empty(0, object)  # fmt: skip
    holes = holes[shapely.area(holes) > fine**2]
    if len(holes) < 2:
        return None
    mitred: Any = {"join_style": "mitre", "mitre_limit": _MITRE}
    regions = shapely.buffer(holes, width / 2, **mitred)
    borders = shapely.buffer(
        shapely.polygons(shapely.get_exterior_ring(parts)), -width / 2, **mitred
    )
    inside, together = shapely.union_all(borders), shapely.union_all(regions)
    over = float(shapely.area(regions).sum() - together.area)
    apart = float(shapely.symmetric_difference(inside, together).area)
    if over + apart > _OFF * material.area:
        return None
    # their own borders are the outermost lines, whose corners a join may have cut
    chains = shapely.get_parts(shapely.boundary(regions))
    chains = shapely.simplify(chains, fine)
    points, index = shapely.get_coordinates(chains, return_index=True)
    near = cKDTree(points).query_pairs(_NODE * width, output_type="ndarray")
    points, _ = gathered(points, *near.T)
    inner = np.flatnonzero(index[1:] == index[:-1])
    data = np.zeros((len(inner), 8))
    data[:, 0:2], data[:, 2:4] = points[inner], points[inner + 1]
    start = np.searchsorted(index[inner], np.arange(len(chains) + 1))
    return StrokeTable.of_lines(data, table.item[0], start)
