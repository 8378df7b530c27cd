"""Corners whose ink reaches a line that they were drawn to touch.

A zigzag between two rails is drawn to touch them. By hand its points run over by a
hair, which is a sliver, or stop short by one, which leaves the regions on both sides
open to each other: no end is loose there. Where the ink of the corner meets that of the
line, the eye sees it closed, and so it is closed here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.closings import find_closings
from fillwork.arrangement.ends import Tips
from fillwork.geometry.curves import LINE
from fillwork.geometry.near import pairs_within
from fillwork.geometry.ranges import distinct

if TYPE_CHECKING:
    from fillwork.arrangement.closings import Closings
    from fillwork.arrangement.edges import Edges
    from fillwork.arrays import Floats, Ints
    from fillwork.geometry.curves import Curves

# cosine of the angle between the sides of a corner that points somewhere: 120°
_BLUNT = -0.5
# how many times its reach the sides of a corner are long; those of a bend are not
_LONG = 10.0
# times its reach within which a corner that touches has no other
_ALONE = 2.0
# how fast both sides lead away from the line that a corner touches
_AWAY = 0.25


def find_corners(
    curves: Curves, vertices: Floats, edges: Edges, reach: float
) -> tuple[Tips, Floats]:
    """Find the places where a line turns sharply and meets no other.

    Corners come as if they were ends that point away from both sides, of infinite
    length, for nothing of them can be trimmed; beside them stands half the angle
    between the sides. `reach` is how far the ink of two lines reaches together, mm; 0
    finds none.
    """
    flat = edges.vertex.reshape(-1)
    degree = np.bincount(flat, minlength=len(vertices))
    half = np.flatnonzero(degree[flat] == 2) if reach > 0 else np.empty(0, np.int64)
    half = half[np.argsort(flat[half], kind="stable")]
    one, two = half[0::2], half[1::2]
    far = vertices[edges.vertex[half // 2, 1 - half % 2]] - vertices[flat[half]]
    long = np.hypot(*far.T) >= _LONG * reach
    kept = long[0::2] & long[1::2] & (one // 2 != two // 2)
    one, two = one[kept], two[kept]
    first, second = _leaving(curves, edges, one), _leaving(curves, edges, two)
    kept = (first * second).sum(axis=1) > _BLUNT
    # where other lines end, turn or cross, more than a touch was meant
    at = vertices[flat[one]]
    row, _ = pairs_within(at, vertices[distinct(flat)], _ALONE * reach)
    kept &= np.bincount(row, minlength=len(at)) == 1
    outward = -(first + second)[kept]
    size = np.hypot(*outward.T)
    outward /= np.maximum(size, 1e-300)[:, None]
    none = np.full(len(outward), -1, np.int64)
    corners = Tips(
        flat[one[kept]].astype(np.int64),
        one[kept] // 2,
        outward,
        np.full(len(outward), np.inf),
        np.zeros(len(outward), dtype=bool),
        none,
        np.full(len(edges), -1, np.int64),
    )
    return corners, np.arccos(np.clip(size / 2, 0.0, 1.0))


def points_at_lines(
    curves: Curves,
    vertices: Floats,
    edges: Edges,
    corners: Tips,
    spread: Floats,
    within: Floats,
) -> Closings:
    """Find the lines that corners touch with their points alone.

    Both sides of the corner lead away from the line: a tile's side runs along that of
    its neighbour, and two corners that face each other are two outlines.
    """
    found = find_closings(curves, vertices, edges, corners, within, strict=True)
    # a corner may run on askew to a line that lies square to another way
    toward = found.target - vertices[corners.vertex[found.tip]]
    straight = np.flatnonzero(curves.kind[found.curve] == LINE)
    line = curves.take(found.curve[straight])
    along = line.ends() - line.starts()
    toward[straight] = np.stack([-along[:, 1], along[:, 0]], axis=1)
    ahead = np.abs((toward * corners.outward[found.tip]).sum(axis=1))
    ahead /= np.maximum(np.hypot(*toward.T), 1e-300)
    turned = np.arccos(np.clip(ahead, -1.0, 1.0))
    away = np.cos(spread[found.tip] + turned) >= _AWAY
    return found.take(away & (found.other_tip < 0))


def _leaving(curves: Curves, edges: Edges, half: Ints) -> Floats:
    """Return unit vectors in which half-edges leave their vertex."""
    edge, side = half // 2, half % 2
    start, end = edges.span[edge, side], edges.span[edge, 1 - side]
    slope = curves.derivative(edges.curve[edge], start) * np.sign(end - start)[:, None]
    size = np.maximum(np.hypot(*slope.T), 1e-300)
    return np.asarray(slope / size[:, None])
