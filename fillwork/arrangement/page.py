"""Where the page's edge closes regions.

Line work *runs off* the page where a line crosses one of its sides or ends on
it. Only then can the page's edge be meant as the end of the pattern.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.segments import cut_into_chords
from fillwork.geometry.curves import Curves

if TYPE_CHECKING:
    from fillwork.arrangement.edges import Edges
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats
    from fillwork.linework import Frame


# true regions that the page cuts hold less than half of its rim; the ground, with a
# few figures running off it, about nine tenths
_MOST_RIM = 0.75


def page_sides(frame: Frame) -> Curves:
    """Return the four sides of the page, counter-clockwise; four lines in mm."""
    w, h = frame.width, frame.height
    return Curves.from_segments(
        np.array([[0, 0, w, 0], [w, 0, w, h], [w, h, 0, h], [0, h, 0, 0]], float)
    )


def count_run_offs(curves: Curves, frame: Frame, slack: float) -> int:
    """Return at how many places the line work runs off the page.

    Crossings of the page's sides and ends on them; lines that run along a side do not
    count, nor do ends on such a line: it closes what is there.

    `curves`: the line work, mm. `slack`: an end this near to a side lies on it, mm.
    """
    ends = cut_into_chords(curves, 1e9).ends
    a, b = ends[:, :2], ends[:, 2:]
    size = (frame.width, frame.height)
    places = []
    for axis in (0, 1):
        other = 1 - axis
        for side in (0.0, size[axis]):
            p, q = a[:, axis] - side, b[:, axis] - side
            along = (np.abs(p) <= slack) & (np.abs(q) <= slack)
            through = (np.minimum(p, q) <= slack) & (np.maximum(p, q) >= -slack)
            through &= ~along
            row = np.flatnonzero(through)
            share = np.clip(p[row] / (p[row] - q[row]), 0.0, 1.0)
            at = a[row, other] + share * (b[row, other] - a[row, other])
            on = (at >= -slack) & (at <= size[other] + slack)
            on &= ~_covered(at, a[along, other], b[along, other], slack)
            place = np.empty((int(on.sum()), 2))
            place[:, axis], place[:, other] = side, at[on]
            places.append(place)
    found = np.concatenate(places)
    step = max(4 * slack, 1e-12)
    return len(np.unique(np.round(found / step), axis=0))


def sides_of_ground(arrangement: Arrangement) -> Bools:
    """Return the page's sides that close the ground and no region.

    `arrangement`: the regions with those that the page's edge closes. Returns (E,):
    True for edges along the page of a face that holds most of its rim.
    """
    on_page = np.repeat(arrangement.edge_curve >= arrangement.page_curves, 2)
    half = np.flatnonzero(on_page & (arrangement.face > 0))
    face = arrangement.face[half]
    ends = [arrangement.vertices[arrangement.origin[h]] for h in (half, half ^ 1)]
    size = np.hypot(*(ends[1] - ends[0]).T)
    held = np.bincount(face, size, arrangement.face_count)
    around = 2 * (arrangement.frame.width + arrangement.frame.height)
    ground = held > _MOST_RIM * around
    result = np.zeros(arrangement.edge_count, bool)
    result[half[ground[face]] >> 1] = True
    return result


def _covered(at: Floats, start: Floats, end: Floats, slack: float) -> Bools:
    """Return which places on a side lie on the lines that run along it."""
    low, high = np.minimum(start, end) - slack, np.maximum(start, end) + slack
    starts, ends = np.sort(low), np.sort(high)
    begun = np.searchsorted(starts, at, side="right")
    return np.asarray(begun > np.searchsorted(ends, at, side="left"))


def outside_page(
    curves: Curves, edges: Edges, frame: Frame, shift: Floats, slack: float
) -> Bools:
    """Return the edges that lie beyond the page's sides.

    `shift` (2,): what to add to come to page coordinates, mm. `slack`: farther out than
    this is outside, mm. Returns (E,): True for edges outside.
    """
    middle = curves.point(edges.curve, edges.span.mean(axis=1)) + shift
    high = np.array([frame.width, frame.height])
    return np.asarray(((middle < -slack) | (middle > high + slack)).any(axis=1))
