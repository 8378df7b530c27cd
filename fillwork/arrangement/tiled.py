"""Faces between outlines that were drawn side by side, each with its own rounding.

Where every tile is drawn with a closed outline of its own, neighbours leave gaps along
their border and overlap. Nearly all of such a drawing lies within one outline, or in an
odd number where an outline lies in the hole of another; a gap lies in none, an overlap
in two, or at a corner in three and more. That tells them apart, whatever their shape;
so does a scrap that an overlap cuts off from the rest of its tile.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.ranges import begins

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats, Ints

_TILED = 0.9  # share of the area of other faces that lies in an odd number of outlines
_SAMPLE = 200  # so many other faces tell
_MAIN = 0.5  # share of its tile that a tile's own face has


def find_between(arrangement: Arrangement, faces: Ints) -> Bools:
    """Return which faces the outlines of tiles leave between, share or cut off.

    `faces` (n,): faces in question. Returns (n,): all False where the drawing is not
    one of outlines side by side.
    """
    closed = _closed(arrangement)
    if len(faces) == 0 or closed.sum() < 2:
        return np.zeros(len(faces), bool)
    others = np.setdiff1d(np.arange(1, arrangement.face_count), faces)
    others = others[:: len(others) // _SAMPLE + 1]
    points, _ = arrangement.points_inside(np.r_[others, faces])
    outlines, least = _outlines_round(arrangement, closed, points)
    area = arrangement.area[others]
    odd = float(area[outlines[: len(others)] % 2 == 1].sum())
    if odd < _TILED * float(area.sum()):
        return np.zeros(len(faces), bool)
    outlines, least = outlines[len(others) :], least[len(others) :]
    between = (outlines != 1) | (arrangement.area[faces] < _MAIN * least)
    # what a line within a tile parts off was drawn
    sources = closed[arrangement.curve_stroke[arrangement.source_curve]]
    open_line = ~np.logical_or.reduceat(sources, arrangement.source_start[:-1])
    drawn = np.zeros(arrangement.face_count, bool)
    drawn[arrangement.face[np.repeat(open_line, 2)]] = True
    return np.asarray(between & ~drawn[faces])


def _outlines_round(
    arrangement: Arrangement, closed: Bools, points: Floats
) -> tuple[Ints, Floats]:
    """Return how many outlines points lie in, and the least area of one, mm²."""
    import shapely

    curves = arrangement.curves
    wanted = np.flatnonzero(closed[arrangement.curve_stroke])
    chords, owner, _ = curves.take(wanted).flatten(arrangement.tolerance.flatten)
    stroke = arrangement.curve_stroke[wanted[owner]]
    loop = np.cumsum(np.r_[False, stroke[1:] != stroke[:-1]])
    whole = (np.bincount(loop) >= 3)[loop]
    _, loop = np.unique(loop[whole], return_inverse=True)
    rings = shapely.linearrings(chords[whole, :2], indices=loop)
    tiles = np.asarray(shapely.polygons(rings), object)
    at = np.asarray(shapely.points(points), object)
    inside, tile = shapely.STRtree(tiles).query(at, predicate="intersects")
    least = np.full(len(points), np.inf)
    np.minimum.at(least, inside, shapely.area(tiles)[tile])
    return np.bincount(inside, minlength=len(points)), least


def _closed(arrangement: Arrangement) -> Bools:
    """Return which strokes end where they begin; the page's sides, last, do not."""
    stroke = arrangement.curve_stroke.astype(np.int64)
    drawn = np.flatnonzero(stroke >= 0)
    closed = np.zeros(int(stroke.max(initial=-1)) + 2, bool)
    first = drawn[begins(stroke[drawn])]
    last = drawn[np.r_[np.diff(stroke[drawn]) != 0, True]]
    curves = arrangement.curves
    miss = curves.point(first, np.zeros(len(first)))
    miss = miss - curves.point(last, np.ones(len(last)))
    near = np.hypot(*miss.T) <= arrangement.tolerance.join_within
    closed[stroke[first]] = near
    return closed
