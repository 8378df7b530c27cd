"""Joints of smooth lines at which others all but touch them.

Circles that are drawn in quarters are set beside each other so that they touch at their
quarters. Nearest to each other are then the end of a curve and another curve, which
meet like an end that lies beside a line.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from fillwork.arrangement.found import Meetings
    from fillwork.arrangement.smooth_lines import SmoothLines
    from fillwork.arrays import Bools, Ints32


def with_joints(
    meetings: Meetings,
    lines: SmoothLines,
    start: Ints32,
    ends: Bools,
    least: float,
) -> Meetings:
    """Return the meetings, and those of joints near another line.

    `start` (points,): the curve that begins at each; -1 for none. `ends` (points,):
    where lines end. `least`: what is nearer is the same point, mm.
    """
    point, other, t = meetings.on_point, meetings.on_curve, meetings.on_t
    own, off = start[point], meetings.on_distance
    beside = (own >= 0) & ~ends[point] & (off > least) & (t >= 0) & (t <= 1)
    rows = np.flatnonzero(beside & (lines.run[own] != lines.run[other]))
    pair = np.stack([own[rows], other[rows]], axis=1)
    place = np.stack([np.zeros(len(rows)), t[rows]], axis=1)
    return replace(
        meetings,
        cross_curve=np.concatenate([meetings.cross_curve, pair.astype(np.int32)]),
        cross_t=np.concatenate([meetings.cross_t, place]),
        clearance=np.r_[meetings.clearance, np.full(len(rows), np.inf)],
        apart=np.r_[meetings.apart, off[rows]],
    )
