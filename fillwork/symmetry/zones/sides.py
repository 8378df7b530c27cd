"""Borders in one piece, parted into their sides and corners.

A border runs round a polygon, or round some corners of it: two sides that hang together
at a corner square are an L.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import shapely

    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Floats, Ints32
    from fillwork.symmetry.faces.measures import FaceMeasures

# share of its polygon that a border, or the hole in it, fills; sides of that at most,
# and how far they may be bent, in the root of its area
_POLYGON, _MOST_SIDES, _BENT = 0.97, 12, 0.015
# how far the middles of corner pieces lie beyond the hole, in roots of an area
_BEYOND = 0.1


def ring_pieces(
    arrangement: Arrangement, measures: FaceMeasures, faces: Ints32
) -> tuple[list[Ints32], int]:
    """Part a border in one piece into its sides and corners.

    It runs round a polygon, or round some of its corners: two sides that hang together
    at one are an L.

    `faces`: the faces of a zone. Returns `pieces`: faces of each side and then of each
    corner; `sides`: how many sides there are. Empty and 0 when it is no such border.
    """
    import shapely

    whole = shapely.union_all(arrangement.polygons(faces, valid=True))
    if not isinstance(whole, shapely.Polygon):
        return [], 0
    closed = len(whole.interiors) > 0
    corners = _round_hole(whole) if closed else _along_pocket(whole)
    if not len(corners):
        return [], 0
    start = corners if closed else corners[:-1]
    step = (np.roll(corners, -1, axis=0) - corners)[: len(start)]
    sides, size = len(start), np.hypot(*step.T)
    way = step / size[:, None]
    away = measures.centroid[faces][:, None] - start
    # a face lies off the side that it is farthest beyond, or off one of its corners;
    # what runs round several has its middle within them
    beyond = (away * np.column_stack([way[:, 1], -way[:, 0]])).sum(axis=2)
    off, row = beyond.argmax(axis=1), np.arange(len(faces))
    along = (away * way).sum(axis=2)[row, off]
    slack = _BEYOND * measures.size[faces]
    label = 2 * off + (along > size[off] + slack) - (along < -slack)
    # at the ends of what does not close there is no corner
    label = label % (2 * sides) if closed else label.clip(0, 2 * sides - 2)
    label[beyond[row, off] <= slack] = 2 * sides
    there = np.unique(label).tolist()
    along_sides = range(0, 2 * sides, 2)
    if not set(along_sides) <= set(there):
        return [], 0
    ordered = [*along_sides, *(k for k in there if k not in along_sides)]
    return [faces[label == k] for k in ordered], sides


def goes_round(arrangement: Arrangement, faces: Ints32) -> bool:
    """Tell whether faces that hang together leave a hole in their midst."""
    import shapely

    whole = shapely.union_all(arrangement.polygons(faces, valid=True))
    return isinstance(whole, shapely.Polygon) and len(whole.interiors) > 0


def _round_hole(whole: shapely.Polygon) -> Floats:
    """Return the corners of the hole in a border, if its outside has as many."""
    import shapely

    hole = max((shapely.Polygon(r) for r in whole.interiors), key=lambda p: p.area)
    corners = _corners_of(hole)
    outer = _corners_of(shapely.Polygon(whole.exterior))
    return corners if len(outer) == len(corners) else corners[:0]


def _along_pocket(whole: shapely.Polygon) -> Floats:
    """Return the corners that a border without a hole bends round, and both its ends.

    Along them the border lies on the right. None of what has other corners: a strip
    turns back as often as it turns, and has two at each end.
    """
    import shapely

    none = np.zeros((0, 2))
    bent = _BENT * np.sqrt(shapely.convex_hull(whole).area)
    outline = shapely.simplify(whole, bent, preserve_topology=True)
    ring = shapely.get_coordinates(shapely.orient_polygons(outline).exterior)[-2::-1]
    ring = _without_straight(ring, bent)
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    inward = before[:, 0] * after[:, 1] > before[:, 1] * after[:, 0]
    turns = int(inward.sum())
    first = np.flatnonzero(inward & ~np.roll(inward, 1))
    if not 0 < turns < _MOST_SIDES or len(first) != 1 or len(ring) != 2 * turns + 4:
        return none
    ring = np.roll(ring, 1 - int(first[0]), axis=0)[: turns + 2]
    return np.asarray(ring)


def _corners_of(shape: shapely.Polygon) -> Floats:
    """Return the corners of a convex polygon counter-clockwise; none of what is none.

    Lines by hand may be bent a little, and a circle has too many corners.
    """
    import shapely

    hull = shapely.convex_hull(shape)
    box = shapely.oriented_envelope(hull)
    if not isinstance(box, shapely.Polygon):  # no wider than the last digits
        return np.zeros((0, 2))
    if shape.area < _POLYGON * box.area:
        bent = _BENT * np.sqrt(hull.area)
        box = shapely.simplify(hull, bent, preserve_topology=False)
        ring = _without_straight(shapely.get_coordinates(box)[:-1], bent)
        if not 3 <= len(ring) <= _MOST_SIDES:
            return np.zeros((0, 2))
        box = shapely.Polygon(ring)
        if shape.area < _POLYGON * hull.area or box.area < _POLYGON * hull.area:
            return np.zeros((0, 2))
    return shapely.get_coordinates(shapely.orient_polygons(box))[:-1]


def _without_straight(ring: Floats, bent: float) -> Floats:
    """Return a ring without corners that lie on the chord of those beside them.

    Where an outline begins there may be no corner. `bent`: how far off, mm.
    """
    import shapely

    while len(ring) > 3:
        before, after = np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0)
        chords = shapely.linestrings(np.stack([before, after], axis=1))
        off = shapely.distance(shapely.points(ring), chords)
        if off.min() > bent:
            break
        ring = np.delete(ring, off.argmin(), axis=0)
    return ring


def side_halves(measures: FaceMeasures, faces: Ints32) -> tuple[Ints32, Ints32, Ints32]:
    """Return the faces of a side before its middle, on it, and after it.

    `faces`: the faces of a long side of a border.
    """
    away = measures.centroid[faces] - measures.centroid[faces].mean(axis=0)
    _, axes = np.linalg.eigh(away.T @ away)
    along = away @ axes[:, 1]
    off = along - (along.min() + along.max()) / 2
    slack = _BEYOND * measures.size[faces]
    before, after = off < -slack, off > slack
    return faces[before], faces[~before & ~after], faces[after]
