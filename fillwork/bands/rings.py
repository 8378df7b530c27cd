"""Rings round points where three lines or more meet: a small knot at each.

A ring crosses every line that comes to the point once, so that over and under take
turns round it, and what lies within stays a plain node.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.bands.strands import Lines
from fillwork.errors import LineWorkError
from fillwork.geometry.curves import ARC, Curves
from fillwork.geometry.ranges import begins

if TYPE_CHECKING:
    from fillwork.arrays import Floats, Ints


# free space between the corners of a node and the ring's inner edge, in widths
_SPARE = 0.7
_HALVINGS = 50  # to the last bit of a parameter


def add_rings(lines: Lines, nodes: Ints, width: float) -> Lines:
    """Return lines with a ring round some of their points.

    The same lines, parted where they cross rings, and the rings. `nodes` (n,): vertices
    to go round. `width`: of the bands, mm. The ring leaves the corners at which bands
    meet free. Raises `LineWorkError` if a line that comes to such a point is too short
    for its ring.
    """
    half = np.flatnonzero(np.isin(lines.origin, nodes))
    if not len(half):
        return lines
    half = half[np.lexsort((lines.headings()[half], lines.origin[half]))]
    node, heading = lines.origin[half], lines.headings()[half]
    first = np.flatnonzero(begins(node))
    after = np.arange(len(half)) + 1
    after[np.r_[first[1:], len(half)] - 1] = first
    between = np.mod(heading[after] - heading, 2 * np.pi)
    # bands meet beside a node at half their width over the sine of half their angle
    corner = width / 2 / np.sin(np.minimum(between, np.pi) / 2).clip(0.1)
    reach = np.maximum.reduceat(corner, first) + (0.5 + _SPARE) * width
    radius = np.repeat(reach, np.diff(np.r_[first, len(half)]))
    away = _met(lines, half, radius)
    point = lines.pieces.point(half >> 1, np.where(half & 1, 1.0 - away, away))
    # lines parted at their rings
    cut = np.full((len(lines.pieces), 2), np.nan)
    cut[half >> 1, half & 1] = np.where(half & 1, 1.0 - away, away)
    if (cut[:, 0] >= cut[:, 1]).any() or (away > 0.9).any():
        worst = half[np.argmax(away)]
        x, y = (float(v) for v in lines.vertices[lines.origin[worst]])
        what = f"no ring for bands {width:g} mm wide fits round a point of three lines"
        mend = "take narrower bands, or --nodes plain"
        raise LineWorkError(what, f"near ({x:.1f}, {y:.1f}) mm", mend)
    at = np.full((len(lines.pieces), 2), -1, np.int64)
    at[half >> 1, half & 1] = len(lines.vertices) + np.arange(len(half))
    steps = np.column_stack([np.zeros(len(cut)), cut, np.ones(len(cut))])
    ends = np.column_stack([lines.origin[0::2], at, lines.origin[1::2]])
    row, place = np.nonzero(~np.isnan(steps))
    t, vertex = steps[row, place], ends[row, place]
    go = np.flatnonzero(row[:-1] == row[1:])
    parts = lines.pieces.part(row[go], t[go], t[go + 1])
    # arcs from each line to the next round its point
    middle = lines.vertices[node]
    angle = np.arctan2(*(point - middle).T[::-1])
    sweep = np.mod(angle[after] - angle, 2 * np.pi)
    data = np.zeros((len(half), 8))
    data[:, 0:2], data[:, 2], data[:, 5] = middle, radius, radius
    data[:, 6], data[:, 7] = angle, angle + sweep
    rings = Curves(np.full(len(half), ARC, np.uint8), data)
    here = len(lines.vertices) + np.arange(len(half))
    origin = np.concatenate(
        [
            np.column_stack([vertex[go], vertex[go + 1]]),
            np.column_stack([here, here[after]]),
        ]
    )
    return Lines(
        np.concatenate([lines.vertices, point]),
        Curves.concatenate([parts, rings]),
        origin.reshape(-1),
    )


def _met(lines: Lines, half: Ints, radius: Floats) -> Floats:
    """Return how far along its piece each half leaves a circle round its vertex."""
    near, far = np.zeros(len(half)), np.ones(len(half))
    middle = lines.vertices[lines.origin[half]]
    for _ in range(_HALVINGS):
        at = (near + far) / 2
        point = lines.pieces.point(half >> 1, np.where(half & 1, 1.0 - at, at))
        inside = np.hypot(*(point - middle).T) < radius
        near, far = np.where(inside, at, near), np.where(inside, far, at)
    return (near + far) / 2
