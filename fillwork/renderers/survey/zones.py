"""One zone of a drawing: its repeat with centres and axes, and a small picture."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.geometry.polygons import ring_sides
from fillwork.renderers.coloured import drawing_box, outline_strokes
from fillwork.renderers.scene import (
    BLACK,
    GREY_60,
    WHITE,
    Box,
    Fills,
    Item,
    Picture,
    Placed,
    Scene,
    segments,
)
from fillwork.renderers.sheets.repeat import cell_corners, on_paper
from fillwork.renderers.symbols import (
    Elements,
    compose_elements,
    find_elements,
    wedge_of,
)
from fillwork.renderers.tints import kind_tints

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement, Outlines
    from fillwork.arrays import Floats
    from fillwork.symmetry.model import Orbits, Zone

SIDE = 60.0
"""Side of the small picture, mm: symbols of printed size are seen in it."""

_REPEATS = 2.6
"""Repeats that the small picture shows at most each way: two whole ones, which show
how the pattern goes on."""


def compose_zone(
    arrangement: Arrangement, outlines: Outlines, orbits: Orbits, index: int
) -> Scene:
    """Return a small picture of one zone: kinds tinted, one repeat with its centres.

    A square; of a pattern of many repeats a part.
    """
    (zone,) = (z for z in orbits.zones if z.index == index)
    window = zone_window(arrangement, zone, drawing_box(arrangement))
    sides = np.isin(arrangement.face, zone.faces)
    points = arrangement.vertices[arrangement.origin[sides]]
    low, high = points.min(axis=0), points.max(axis=0)
    middle, side = (low + high) / 2, float((high - low).max()) * 1.04
    if zone.symmetry.lattice is not None:
        most = _REPEATS * float(np.ptp(window, axis=0).max())
        if most < side:
            middle, side = window.mean(axis=0), most
    box = (*(middle - side / 2).tolist(), *(middle + side / 2).tolist())
    scale = SIDE / side
    place = (scale, 0.0, 0.0, scale, -box[0] * scale, -box[1] * scale)
    inside = np.unique(orbits.of_face[zone.faces])
    tints = kind_tints(np.arange(len(inside)))
    fills: list[Item] = [
        Fills(outlines, np.intersect1d(orbits.orbits[kind].faces, zone.faces), tint)
        for kind, tint in zip(inside.tolist(), tints, strict=True)
    ]
    lines = outline_strokes(arrangement, 0.15 / scale, GREY_60, loose=False)
    page: list[Item] = [Placed(Picture((*fills, lines), box), place)]
    if zone.symmetry.group.family != "none":
        frame = affine.apply(
            place, zone_sides(arrangement, zone, window).reshape(-1, 2)
        )
        page.append(segments(frame.reshape(-1, 4), 0.4, BLACK, cap="round"))
        page += compose_elements(on_paper(zone_elements(zone, window), place))
    return Scene(SIDE, SIDE, tuple(page), "", "zone", WHITE)


def zone_window(arrangement: Arrangement, zone: Zone, box: Box) -> Floats:
    """Return the corners of one repeat, counter-clockwise, or of the whole zone.

    `box`: left, bottom, right, top of what is drawn, mm. Returns (4, 2), mm: corners.
    """
    symmetry = zone.symmetry
    points = arrangement.witness[zone.faces]
    reach = float(np.sqrt(arrangement.area[zone.faces].max()))
    low, high = points.min(axis=0) - reach / 2, points.max(axis=0) + reach / 2
    low = np.maximum(low, box[0:2])
    high = np.minimum(high, box[2:4])
    zone_box = (*low.tolist(), *high.tolist())
    corners = cell_corners(symmetry, zone_box, arrangement, zone.faces)
    if corners is not None:
        return corners
    return np.array([low, (high[0], low[1]), high, (low[0], high[1])])


def zone_elements(zone: Zone, window: Floats) -> Elements:
    """Return the elements of a zone; of a rosette of high order the centre alone.

    `window` (n, 2), mm: where they are sought.
    """
    elements = find_elements(zone.symmetry, window)
    if wedge_of(zone.symmetry, 1.0) is None:
        return elements
    return replace(elements, mirrors=np.empty((0, 4)))


def zone_sides(arrangement: Arrangement, zone: Zone, window: Floats) -> Floats:
    """Return the sides of one repeat, or of a rosette's wedge where it is drawn.

    `window` (4, 2), mm: as `zone_window`. Returns (n, 4), mm: there may be none.
    """
    if zone.symmetry.lattice is not None:
        return ring_sides(window)
    wedge = wedge_of(zone.symmetry, 1.0)
    if wedge is None:
        return np.empty((0, 4))
    mine = np.isin(arrangement.face, zone.faces)
    points = arrangement.vertices[arrangement.origin[mine]]
    reach = float(np.linalg.norm(points - wedge[1], axis=1).max())
    ends = wedge[1] + (wedge - wedge[1]) * reach
    return np.hstack([ends[:2], ends[1:]])
