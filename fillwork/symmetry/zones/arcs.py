"""Arcs among frame lines: the head of an arch, ends of a cartouche, half a medallion.

An arc that is no whole circle may be a line of any pattern. It frames something where
regions lie all along it, hardly a line reaches both of its sides, and both of its ends
lie on other lines of a frame, which may be such arcs again.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.ranges import distinct

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Floats
    from fillwork.symmetry.zones.runs import Run

# length of an arc, and of a straight line that goes on from it, in roots of the median
# area
_LONG, _LEG = 3.0, 1.5
# regions along one side of it at least: an arch of a border closes in one
_BESIDE = 3
# share of the meetings on it where lines reach both of its sides
_CLEAR = 0.2
# arcs of one size that are those of a pattern from so many on, and by how much they may
# differ
_MANY, _LIKE = 6, 0.05
# how far from a line an arc that ends on it may stop, in roots of the median area
_ENDS_ON = 0.25


def framing_arcs(
    arrangement: Arrangement, clear: list[Run], frames: list[Run], unit: float
) -> list[Run]:
    """Return arcs that close with lines of a frame, and what joins them to those.

    `clear`: runs that few lines cross. `frames`: those that are lines of a frame.
    `unit`: root of the median area of a face, mm.
    """
    arcs = [
        r
        for r in clear
        if r.round
        and not r.closed
        and r.length >= _LONG * unit
        and max(r.crossed, r.both) <= _CLEAR
        and _regions_beside(arrangement, r) >= _BESIDE
    ]
    radius = np.array([r.radius for r in arcs])
    like = np.abs(radius[:, None] - radius) < _LIKE * radius
    arcs = [r for r, n in zip(arcs, like.sum(axis=1), strict=True) if n < _MANY]
    if not arcs:
        return []
    tips = [_tips(arrangement, r) for r in arcs]
    near = _ENDS_ON * unit
    known = {id(r) for r in frames}
    legs = [
        r
        for r in clear
        if not r.round
        and id(r) not in known
        and r.length >= _LEG * unit
        and max(r.crossed, r.both) <= _CLEAR
        and _apart(r.ends, np.concatenate(tips)).min() <= near
    ]
    found, ends = arcs + legs, tips + [r.ends for r in legs]
    spots = [_vertices(arrangement, r) for r in found]
    fixed = np.concatenate(
        [np.zeros((0, 2)), *(_vertices(arrangement, r) for r in frames)]
    )
    kept = np.ones(len(found), dtype=bool)
    while True:
        left = kept.copy()
        for k in np.flatnonzero(kept):
            others = [spots[j] for j in np.flatnonzero(kept) if j != k]
            there = np.concatenate([fixed, *others])
            left[k] = len(there) > 0 and (_apart(ends[k], there) <= near).all()
        if (left == kept).all():
            return [r for r, k in zip(found, kept.tolist(), strict=True) if k]
        kept = left


def _regions_beside(arrangement: Arrangement, run: Run) -> int:
    """Return how many regions lie along that side of an arc that has more of them."""
    face = arrangement.face.reshape(-1, 2)[run.edges]
    ends = arrangement.vertices[arrangement.origin.reshape(-1, 2)[run.edges]]
    away, step = ends[:, 0] - run.centre, ends[:, 1] - ends[:, 0]
    back = away[:, 0] * step[:, 1] < away[:, 1] * step[:, 0]
    face[back] = face[back][:, ::-1]
    return max(len(distinct(face[:, k])) for k in (0, 1))


def _vertices(arrangement: Arrangement, run: Run) -> Floats:
    """Return where the edges of a run end, mm."""
    own = distinct(arrangement.origin.reshape(-1, 2)[run.edges].ravel())
    return arrangement.vertices[own]


def _tips(arrangement: Arrangement, run: Run) -> Floats:
    """Return both ends of an arc: the widest gap between its vertices lies there."""
    points = _vertices(arrangement, run)
    angle = np.arctan2(*(points - run.centre).T[::-1])
    order = np.argsort(angle, kind="stable")
    gap = np.diff(angle[order], append=angle[order[0]] + 2 * np.pi)
    at = int(gap.argmax())
    return points[order[[at, (at + 1) % len(order)]]]


def _apart(points: Floats, others: Floats) -> Floats:
    """Return how far each of some points lies from the nearest of others, mm."""
    away = points[:, None] - others[None]
    return np.asarray(np.hypot(*np.moveaxis(away, -1, 0)).min(axis=1))
