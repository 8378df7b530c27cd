"""Openings: what a panel leaves free for a window or a handle is no region.

Their outlines stand on the layer `OPENING`. A face within them, by the even and odd
rule over all lines of that layer, becomes a part of face 0, so that it has no
number, takes no paint and meets no region.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.ranges import expand_ranges

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats, Ints32
    from fillwork.linework import LineWork

OPENING = "opening"
"""Layer of the outlines of what is open in a panel."""


def without_openings(arrangement: Arrangement, linework: LineWork) -> Arrangement:
    """Take the faces within openings for what lies outside all regions.

    The same where nothing stands on the layer.
    """
    named = np.array([layer == OPENING for layer, *_ in linework.styles], bool)
    if not named.any() or arrangement.face_count < 2:
        return arrangement
    drawn = named[linework.style][arrangement.curve_stroke[: arrangement.page_curves]]
    chords = linework.curves.take(np.flatnonzero(drawn)).flatten(1e-3)[0]
    if len(chords) == 0:
        return arrangement
    ends = chords.reshape(-1, 2)
    at = arrangement.vertices[arrangement.origin]
    near = ((at >= ends.min(axis=0)) & (at <= ends.max(axis=0))).all(axis=1)
    faces = np.unique(arrangement.face[near])
    faces = faces[faces > 0]
    points, room = arrangement.points_inside(faces)
    # ends that meet may differ in their last bit, level with a middle: two of three say
    levels = points[:, None] + np.multiply.outer(room, [[0, 0.1], [0, -0.3], [0, 0.5]])
    said = _within(levels.reshape(-1, 2), chords).reshape(-1, 3)
    gone = faces[said.sum(axis=1) > 1]
    return _merged(arrangement, gone) if len(gone) else arrangement


def _within(points: Floats, chords: Floats) -> Bools:
    """Return which points an odd number of crossings parts from the far right."""
    inside = np.zeros(len(points), bool)
    for x0, y0, x1, y1 in chords.tolist():
        across = (y0 > points[:, 1]) != (y1 > points[:, 1])
        if across.any():
            x = x0 + (points[:, 1] - y0) * (x1 - x0) / (y1 - y0 if y1 != y0 else 1.0)
            inside ^= across & (x > points[:, 0])
    return inside


def _merged(arrangement: Arrangement, gone: Ints32) -> Arrangement:
    """Return faces numbered without some, whose rings become rings of face 0."""
    count = arrangement.face_count
    kept = np.ones(count, bool)
    kept[gone] = False
    number = np.where(kept, np.cumsum(kept) - 1, 0).astype(np.int32)
    rings = np.diff(arrangement.face_ring_start)
    face = number[np.repeat(np.arange(count), rings)]
    order = np.argsort(face, kind="stable")
    size = np.diff(arrangement.ring_start)[order]
    _, held = expand_ranges(arrangement.ring_start[:-1][order], size)
    per_face = np.bincount(face, minlength=int(kept.sum()))
    return replace(
        arrangement,
        face=number[arrangement.face],
        ring_start=np.r_[0, np.cumsum(size)].astype(np.int64),
        ring_half_edge=arrangement.ring_half_edge[held],
        face_ring_start=np.r_[0, np.cumsum(per_face)].astype(np.int64),
        area=arrangement.area[kept],
        cut=arrangement.cut[kept],
        openings=len(gone),
        open_sides=np.flatnonzero(~kept[arrangement.face]).astype(np.int32),
        inside=None,
    )
