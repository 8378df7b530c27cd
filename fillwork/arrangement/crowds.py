"""Curves that lie on each other in crowds, told before they are made to meet.

Two or three lines drawn over each other meet as all do. Where many do so, each pair
crosses in places that no pen could show, and there are as many pairs as their number
times itself.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.circles import are_circular
from fillwork.geometry.ranges import begins

if TYPE_CHECKING:
    from fillwork.arrays import AnyInts, Ints
    from fillwork.geometry.curves import Curves

_CROWD = 8  # more than so many within four times the width are one
_OF_PEN, _OF_SIZE = 0.1, 1e-6  # how near, of a pen's width, or of the whole drawing
_OF_CURVE = 1e-3  # and at most so much of the curve itself
_PLACES = (0.0, 0.25, 0.5, 0.75, 1.0)


def crowd_width(size: float, width: float | None) -> float:
    """Return how near each other all along the curves of a crowd lie, mm.

    A tenth of the pen, or next to nothing of the drawing. `size`: diagonal of the
    drawing, mm. `width`: usual width of the lines, mm.
    """
    return max(_OF_SIZE * size, _OF_PEN * (width or 0.0))


def find_crowds(curves: Curves, index: AnyInts, within: float) -> tuple[Ints, Ints]:
    """Return curves that run on another of a crowd, and that one.

    `index`: those that are compared, in drawing order. `within`: how near each other
    they lie all along, mm. Returns `again` and `lead` (n,): rows of `index`: a curve,
    and the first of those that it lies on.
    """
    none = np.empty(0, np.int64)
    if within <= 0 or len(index) <= _CROWD:
        return none, none
    places = [curves.point(index, np.full(len(index), t)) for t in _PLACES]
    shape = np.concatenate(places, axis=1)
    # a whole circle may begin anywhere
    d = curves.data.take(index, axis=0)
    whole = are_circular(curves)[index]
    whole &= np.abs(d[:, 7] - d[:, 6]) >= 2 * np.pi * (1 - 1e-9)
    radius = np.hypot(d[whole, 2], d[whole, 3])
    shape[whole] = 0.0
    shape[whole, :3] = np.stack([d[whole, 0], d[whole, 1], radius], axis=1)
    extent = np.ptp(np.stack(places), axis=0).max(axis=1)
    large = extent * _OF_CURVE >= within
    cell = np.floor(shape / (4 * within) + 0.37).astype(np.int64).astype(np.uint64)
    key = whole.astype(np.uint64)
    for k in range(cell.shape[1]):
        key = (key ^ cell[:, k]) * np.uint64(0x9E3779B97F4A7C15)
        key ^= key >> np.uint64(29)
    rows = np.flatnonzero(large)
    order = rows[np.argsort(key[rows], kind="stable")]
    start = np.flatnonzero(begins(key[order]))
    count = np.diff(np.r_[start, len(order)])
    again, lead = [none], [none]
    for first, many in zip(start, count, strict=True):
        if many <= _CROWD:
            continue
        left = order[first : first + many]
        while len(left):
            near = np.abs(shape[left] - shape[left[0]]).max(axis=1) <= within
            near &= whole[left] == whole[left[0]]
            again.append(left[near][1:])
            lead.append(np.full(int(near.sum()) - 1, left[0]))
            left = left[~near]
    return np.concatenate(again), np.concatenate(lead)
