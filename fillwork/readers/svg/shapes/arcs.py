"""Elliptical arcs of path data: from end points to the centre form.

The formulas are those of the SVG standard's implementation notes (SVG 1.1,
appendix F.6; SVG 2, appendix B.2), worked on arrays.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats

_ROUNDED = 3e-3  # of a radius: what rounding leaves of a chord through the middle


def centre_arcs(start: Floats, arguments: Floats, end: Floats) -> Floats:
    """Return the rows of arcs given by their end points.

    `start` (n, 2): first points. `arguments` (n, 5): rx, ry (neither 0),
    x-axis-rotation in degrees, large-arc flag, sweep flag. `end` (n, 2): last points,
    unlike the first ones. Returns (n, 8): cx cy ux uy vx vy s0 s1 of each arc, as in
    `Curves`.
    """
    rx, ry = np.abs(arguments[:, 0]), np.abs(arguments[:, 1])
    phi = np.radians(np.fmod(arguments[:, 2], 360.0))
    large, sweep = arguments[:, 3] != 0, arguments[:, 4] != 0
    cos, sin = np.cos(phi), np.sin(phi)
    # step 1 (F.6.5.1): half the chord in the ellipse's own axes
    half = (start - end) / 2
    x = cos * half[:, 0] + sin * half[:, 1]
    y = -sin * half[:, 0] + cos * half[:, 1]
    # radii that are too small grow until they just reach (F.6.6.3)
    px, py = x / rx, y / ry
    reach = np.hypot(px, py)
    # two arcs there and back are one ellipse, though rounding made its radii longer
    # than half of the chord: then they would bend where they join
    whole = _there_and_back(start, arguments, end) & (reach > 1.0 - _ROUNDED)
    grow = np.where(whole, reach, np.maximum(reach, 1.0))
    rx, ry, px, py = rx * grow, ry * grow, px / grow, py / grow
    # step 2 (F.6.5.2), with x/rx and y/ry, where the ellipse is the unit circle
    square = px * px + py * py
    root = np.sqrt(np.maximum(1.0 / square - 1.0, 0.0))
    root[(reach >= 1.0) | whole] = 0.0
    root = np.where(large == sweep, -root, root)
    cx, cy = root * py, -root * px
    # step 3 (F.6.5.3)
    centre = (start + end) / 2
    centre = centre + np.stack(
        [cos * rx * cx - sin * ry * cy, sin * rx * cx + cos * ry * cy], axis=1
    )
    # step 4 (F.6.5.5 and F.6.5.6)
    first = np.arctan2(py - cy, px - cx)
    last = np.arctan2(-py - cy, -px - cx)
    turn = np.mod(last - first, 2 * np.pi)
    turn = np.where(turn == 0.0, 2 * np.pi, turn)
    turn = np.where(sweep, turn, turn - 2 * np.pi)
    # half turns go the way the flag says, whatever rounding did
    turn = np.where(root == 0.0, np.where(sweep, np.pi, -np.pi), turn)
    return np.stack(
        [
            centre[:, 0], centre[:, 1], rx * cos, rx * sin, -ry * sin, ry * cos,
            first, first + turn,
        ],
        axis=1,
    )  # fmt: skip


def _there_and_back(start: Floats, arguments: Floats, end: Floats) -> Bools:
    """Return which arcs are one of two with like arguments that make a closed line."""
    slack = 1e-9 * np.abs(arguments[:-1, :2]).max(axis=1, initial=0.0)
    pair = np.abs(start[:-1] - end[1:]).max(axis=1, initial=0.0) <= slack
    pair &= np.abs(end[:-1] - start[1:]).max(axis=1, initial=0.0) <= slack
    like = arguments[:-1, [0, 1, 2, 4]] == arguments[1:, [0, 1, 2, 4]]
    pair &= like.all(axis=1)
    whole = np.zeros(len(start), bool)
    whole[:-1] |= pair
    whole[1:] |= pair
    return whole
