"""Sides of outlines that another stroke repeats from end to end.

Where every tile is drawn with a closed outline of its own, two strokes run beside each
other along each border, cross there at random, and leave crumbs at the corners. A
*side* is the part of one outline from bend to bend. It is doubled when every point of
it has another outline near by that runs the same way. Lines that only cross are far
apart at their ends, so needles between them are not touched; nor is line work whose
strokes are open, since a short stroke is near whatever it crosses.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.slivers import straight_on
from fillwork.arrangement.vertices import components
from fillwork.geometry.ranges import distinct, expand_ranges

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement

__all__ = ["find_doubled"]

_BEND = 0.9  # cosine of the turn at which a stroke's side ends
_ALONG = 0.9  # cosine of the angle between lines that run the same way
_LONG = 2 * np.pi  # lengths of `near` that a side has at least: a circle round it
_LOOKS = 5  # at most so many along each edge, one in each stretch of `near`


def find_doubled(
    arrangement: Arrangement, strokes: NDArray[np.int64], near: float
) -> NDArray[np.bool_]:
    """Return which edges belong to sides that other strokes repeat.

    Parameters
    ----------
    arrangement : Arrangement
        The regions as drawn.
    strokes : ndarray of int64
        Strokes to look at.
    near : float
        How near the other stroke is, mm.

    Returns
    -------
    ndarray of bool, shape (E,)
        True along doubled sides.
    """
    import shapely

    curve = arrangement.edge_curve
    stroke = arrangement.curve_stroke[curve].astype(np.int64)
    doubled = np.zeros(len(curve), bool)
    closed = _closed(arrangement)
    wanted = np.isin(stroke, strokes) & (stroke >= 0) & closed[stroke]
    if not wanted.any():
        return doubled
    side = _sides(arrangement, stroke)
    edges = np.flatnonzero(np.isin(side, distinct(side[wanted])))
    chords, owner, _ = arrangement.curves.flatten(max(0.1 * near, 1e-9))
    step = chords[:, 2:] - chords[:, :2]
    length = np.hypot(*step.T)
    step /= np.maximum(length, 1e-300)[:, None]
    tree = shapely.STRtree(
        np.asarray(shapely.linestrings(chords.reshape(-1, 2, 2)), object).reshape(-1)
    )
    ends = arrangement.vertices[arrangement.origin.reshape(-1, 2)[edges]]
    long = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    looks = np.clip(np.ceil(long / near), 1, _LOOKS).astype(np.int64)
    row, k = expand_ranges(np.zeros(len(edges), np.int64), looks)
    edge = edges[row]
    first, last = arrangement.edge_span[edge].T
    t = first + (k + 0.5) / looks[row] * (last - first)
    points = arrangement.curves.point(curve[edge], t)
    slope = arrangement.curves.derivative(curve[edge], t)
    slope /= np.maximum(np.hypot(*slope.T), 1e-300)[:, None]
    point, chord = tree.query(
        np.asarray(shapely.points(points), object), predicate="dwithin", distance=near
    )
    other = arrangement.curve_stroke[owner[chord]].astype(np.int64)
    along = np.abs((slope[point] * step[chord]).sum(axis=1)) > _ALONG
    good = (other >= 0) & (other != stroke[edge[point]]) & closed[other]
    good &= along | (length[chord] < near)
    away = np.full(len(points), np.inf)
    np.minimum.at(
        away, point[good], _distance(points[point[good]], chords[chord[good]])
    )
    largest = np.zeros(side.max() + 1)
    np.maximum.at(largest, side[edge], away)
    # a line drawn twice over at one place is one line
    beside = (largest > 2 * arrangement.tolerance.join_within) & (largest < np.inf)
    # a figure as small as that is near whatever stands round it
    beside &= np.bincount(side[edges], long, len(beside)) >= _LONG * near
    doubled[edges] = beside[side[edges]]
    return doubled


def _distance(
    points: NDArray[np.float64], chords: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the distance of each point from its chord, mm."""
    a, d = chords[:, :2], chords[:, 2:] - chords[:, :2]
    square = np.maximum((d * d).sum(axis=1), 1e-300)
    u = np.clip(((points - a) * d).sum(axis=1) / square, 0.0, 1.0)
    return np.asarray(np.hypot(*(points - a - u[:, None] * d).T))


def _closed(arrangement: Arrangement) -> NDArray[np.bool_]:
    """Return which strokes end where they begin; the page's sides, last, do not."""
    stroke = arrangement.curve_stroke.astype(np.int64)
    drawn = np.flatnonzero(stroke >= 0)
    closed = np.zeros(int(stroke.max(initial=-1)) + 2, bool)
    first = drawn[np.r_[True, np.diff(stroke[drawn]) != 0]]
    last = drawn[np.r_[np.diff(stroke[drawn]) != 0, True]]
    curves = arrangement.curves
    miss = curves.point(first, np.zeros(len(first)))
    miss = miss - curves.point(last, np.ones(len(last)))
    near = np.hypot(*miss.T) <= arrangement.tolerance.join_within
    closed[stroke[first]] = near
    return closed


def _sides(arrangement: Arrangement, stroke: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the number of the side of each edge."""
    half, other, _ = straight_on(arrangement, least=_BEND)
    one, two = half >> 1, other >> 1
    same = stroke[one] == stroke[two]
    root = components(one[same], two[same], arrangement.edge_count)
    return np.unique(root, return_inverse=True)[1].reshape(-1)
