"""The turns of a few figures that lie free in one ground, such as circles in a square.

A circle is kept by every turn about its middle: its lines tell no group, and the few
of the square about it are too little evidence. The outline of the ground and the places
of the figures tell it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.symmetry.lines.assemble import rosette_symmetry
from fillwork.symmetry.lines.mirrors import RosetteFit

if TYPE_CHECKING:
    from shapely import Polygon

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Ints32
    from fillwork.symmetry.faces.measures import FaceMeasures
    from fillwork.symmetry.model import Symmetry

# faces up to which figures are few
_FEW = 12
# orders that outlines of panels and corner pieces have
_ORDERS = (12, 10, 8, 6, 5, 4, 3)
# how far figures may lie from their places, in roots of their areas, and by how much
# areas and boundaries of like ones differ
_OFF, _SAME = 0.06, 0.03
# how far an outline may lie from its image, in its width
_OUTLINE = 0.01


def turned_in_ground(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32
) -> Symmetry | None:
    """Return the dihedral group of an outline that carries the figures within it along.

    None where the faces are many, no single one of them is the ground that the others
    lie in, or no turn by a third or less keeps them.

    `faces`: the faces of a part.
    """
    import shapely

    if not 2 <= len(faces) <= _FEW:
        return None
    own = np.isin(arrangement.face, faces)
    outer = own & ~own[np.arange(len(own)) ^ 1]
    rim = np.unique(arrangement.face[outer])
    if len(rim) != 1:
        return None
    whole = arrangement.polygons(rim, valid=True)[0]
    if not isinstance(whole, shapely.Polygon):
        return None
    ground = shapely.Polygon(whole.exterior)
    centre = np.array(ground.centroid.coords[0])
    ring = np.asarray(ground.exterior.coords)[:-1]
    away = np.hypot(*(ring - centre).T)
    tip = ring[int(np.argmax(away >= away.max() * (1 - 1e-9)))] - centre
    angle = float(np.arctan2(tip[1], tip[0]))
    figures = faces[faces != rim[0]]
    for n in _ORDERS:
        found = rosette_symmetry(RosetteFit(n, angle, centre, 0, 1.0, 0.0))
        miss = _miss(arrangement, measures, ground, figures, found)
        if miss is not None:
            return rosette_symmetry(RosetteFit(n, angle, centre, 0, 1.0, miss))
    return None


def _miss(
    arrangement: Arrangement,
    measures: FaceMeasures,
    ground: Polygon,
    figures: Ints32,
    found: Symmetry,
) -> float | None:
    """Return how far figures lie from like ones under a group, or None if one does.

    None also where an operation does not keep the outline of their ground.
    """
    import shapely

    ring = ground.exterior
    corners = shapely.get_coordinates(ring)
    wide = float(np.ptp(corners, axis=0).max())
    area, length = arrangement.area[figures], measures.length[figures]
    like = np.abs(area[:, None] / area - 1) < _SAME
    like &= np.abs(length[:, None] / length - 1) < _SAME
    places = measures.centroid[figures]
    worst = 0.0
    for operation in found.operations[1:]:
        a, b, c, d, e, f = operation.map
        linear, shift = np.array([[a, c], [b, d]]), np.array([e, f])
        image = shapely.points(corners @ linear.T + shift)
        if float(shapely.distance(ring, image).max()) > _OUTLINE * wide:
            return None
        moved = places @ linear.T + shift
        apart = np.hypot(*np.moveaxis(moved[:, None] - places[None], -1, 0))
        least = np.where(like, apart, np.inf).min(axis=1)
        if (least > _OFF * np.sqrt(area)).any():
            return None
        worst = max(worst, float(least.max()))
    return worst
