"""What the points of figures leave where a hand set them at one place.

Petals that are drawn one by one end in one point, but for what the hand missed: each
point crosses the sides of the others, and tangent sides cross once more farther out.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.corners import BLUNT, LONG
from fillwork.arrangement.vertices import join_points
from fillwork.geometry.near import pairs_within
from fillwork.geometry.parts import components
from fillwork.geometry.ranges import begins, distinct_pairs, expand_ranges, marked

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats, Ints

_EXACT = 1e-7  # of the drawing: what is nearer is the same point
_MOST = (
    64  # points in a square as wide as their ink: more are fine work, set by no hand
)


def left_by_points(
    arrangement: Arrangement,
    drawn: Bools,
    drawn_by: Ints,
    corners: Ints,
    count: int,
    reach: float,
) -> tuple[Bools, bool]:
    """Return which of some faces points that were set at one place leave there.

    `drawn` (curves,): those that a hand drew. `drawn_by` (n, 2): rows of a face and a
    stroke that bounds it. `corners` (m, 2): rows of a face and a vertex at which it
    turns where nothing else meets. `count`: how many faces there are. `reach`: how near
    points under one ink are, mm. Returns (count,): those that only lines from one such
    place bound, and that turn at no point elsewhere; and whether there are such places.
    """
    strokes = marked(drawn_by[:, 1] + 1, int(arrangement.curve_stroke.max()) + 2)
    strokes[0] = False
    curve = np.flatnonzero(drawn & strokes[arrangement.curve_stroke + 1])
    at, sides = _points(arrangement, curve, LONG * reach)
    square = np.rint(at / max(reach, _EXACT))
    _, cell, many = np.unique(square, axis=0, return_inverse=True, return_counts=True)
    few = many[cell.ravel()] <= _MOST
    at, sides = at[few], sides[few]
    row, other = pairs_within(at, at, reach)
    place = components(row, other, len(at))
    shared = np.bincount(place, minlength=len(at))[place] > 1
    found = np.zeros(count, dtype=bool)
    if not shared.any():
        return found, False
    at, place = at[shared], place[shared]
    own = arrangement.curve_stroke[sides[shared]].reshape(-1)
    ends = distinct_pairs(np.stack([own, np.repeat(place, 2)], axis=1))
    face, stroke = drawn_by.T
    first, last = (np.searchsorted(ends[:, 0], stroke, s) for s in ("left", "right"))
    owner, member = expand_ranges(first, last - first)
    row, tip = pairs_within(arrangement.vertices[corners[:, 1]], at, reach)
    near = distinct_pairs(np.stack([row, place[tip]], axis=1))
    # all of a face's lines and corners belong to one place
    lines = np.stack([face[owner], ends[member, 1]], axis=1)
    turns = np.stack([corners[near[:, 0], 0], near[:, 1]], axis=1)
    held = np.concatenate([lines, turns])
    pair, known = np.unique(held, axis=0, return_counts=True)
    wanted = np.bincount(np.r_[face, corners[:, 0]], minlength=count)
    found[pair[known == wanted[pair[:, 0]], 0]] = True
    return found, True


def _points(arrangement: Arrangement, curve: Ints, long: float) -> tuple[Floats, Ints]:
    """Return where two curves end in a sharp corner, (n, 2) mm, and these, (n, 2).

    `long`: those of a corner that points somewhere are no shorter, mm.
    """
    curves = arrangement.curves
    both = [curves.evaluate(curve, np.full(len(curve), t)) for t in (0.0, 1.0)]
    ends = np.concatenate([at for at, _ in both])
    leaving = np.concatenate([both[0][1], -both[1][1]])
    leaving /= np.maximum(np.hypot(*leaving.T), 1e-300)[:, None]
    far = np.hypot(*(both[1][0] - both[0][0]).T) < long
    # of points that lie right on each other, each was meant to: no hand missed
    size = float(np.hypot(*np.ptp(arrangement.vertices, axis=0)))
    vertex, _ = join_points(ends, min(_EXACT * size, arrangement.tolerance.join_within))
    order = np.argsort(vertex, kind="stable")
    head = np.flatnonzero(begins(vertex[order]))
    pair = head[np.diff(np.r_[head, len(order)]) == 2]
    one, two = order[pair], order[pair + 1]
    n = max(len(curve), 1)
    sharp = (leaving[one] * leaving[two]).sum(axis=1) > BLUNT
    sharp &= ~(far[one % n] | far[two % n])
    return ends[one[sharp]], curve[np.stack([one[sharp] % n, two[sharp] % n], axis=1)]
