"""Hatch regions for sheets that are copied in black only."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.polygons import ring_sides
from fillwork.geometry.ranges import expand_ranges
from fillwork.renderers.scene import BLACK, COLOURS, Strokes, segments

if TYPE_CHECKING:
    from fillwork.arrays import AnyInts, Floats
    from fillwork.renderers.sheets.parts import Parts


PATTERNS: tuple[tuple[tuple[float, ...], float], ...] = (
    ((45.0,), 1.2),
    ((-45.0,), 1.2),
    ((0.0,), 1.2),
    ((90.0,), 1.2),
    ((45.0, -45.0), 1.8),
    ((0.0, 90.0), 1.8),
    ((45.0,), 0.7),
    ((-45.0,), 0.7),
    ((0.0,), 0.7),
    ((90.0,), 0.7),
    ((45.0, -45.0), 1.0),
    ((0.0, 90.0), 1.0),
    ((22.5,), 1.8),
    ((-22.5,), 1.8),
    ((67.5,), 1.8),
    ((-67.5,), 1.8),
)
"""Angles in degrees and distance of lines on paper in mm, in turn."""

_PEN = 0.15


def patterns_by_density(count: int) -> list[int]:
    """Return patterns for some paints, the lightest first.

    Rows of `PATTERNS`; beyond their number they come again. `count`: how many paints.
    """
    rows = [k % len(PATTERNS) for k in range(count)]
    return sorted(rows, key=lambda k: len(PATTERNS[k][0]) / PATTERNS[k][1])


def hatch_lines(sides: Floats, angle: float, distance: float) -> Floats:
    """Return parallel lines inside shapes, by the even-odd rule.

    `sides` (n, 4): all sides of shapes that do not overlap, mm. `angle`: direction of
    the lines, degrees. `distance`: from line to line, mm. Returns (m, 4): x0 y0 x1 y1
    of each line.
    """
    if len(sides) == 0:
        return np.empty((0, 4))
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    turn = np.array([[c, -s], [s, c]])  # row vectors: turned by -angle
    a, b = sides[:, 0:2] @ turn, sides[:, 2:4] @ turn
    low, high = np.minimum(a[:, 1], b[:, 1]), np.maximum(a[:, 1], b[:, 1])
    # scan lines lie half a step off the origin's
    first = np.ceil(low / distance - 0.5).astype(np.int64)
    last = np.ceil(high / distance - 0.5).astype(np.int64)
    count = last - first
    side, line = expand_ranges(first, count)
    y = (line + 0.5) * distance
    t = (y - a[side, 1]) / (b[side, 1] - a[side, 1])
    x = a[side, 0] + t * (b[side, 0] - a[side, 0])
    order = np.lexsort((x, line))
    x, y = x[order], y[order]
    x0, x1, y0 = x[0::2], x[1::2], y[0::2]
    real = x1 - x0 > 1e-9
    x0, x1, y0 = x0[real], x1[real], y0[real]
    back = turn.T
    start = np.stack([x0, y0], axis=1) @ back
    end = np.stack([x1, y0], axis=1) @ back
    return np.hstack([start, end])


def hatch_strokes(parts: Parts, faces: AnyInts, pattern: int, scale: float) -> Strokes:
    """Return the hatch of some regions, in the drawing's mm.

    Lines at one distance on paper. `pattern`: row of `PATTERNS`; taken in turn.
    `scale`: paper mm for one mm of the drawing.
    """
    sides = parts.sides.only(faces).segments
    angles, distance = PATTERNS[pattern % len(PATTERNS)]
    lines = [hatch_lines(sides, a, distance / scale) for a in angles]
    return segments(np.concatenate(lines), _PEN / scale, BLACK, layer=COLOURS)


def hatch_swatch(pattern: int, x: float, y: float, size: float) -> Strokes:
    """Return the hatch of a square, for a key.

    `pattern`: row of `PATTERNS`; taken in turn. `x` and `y`: lower left corner, mm.
    `size`: side, mm.
    """
    corners = np.array([[x, y], [x + size, y], [x + size, y + size], [x, y + size]])
    sides = ring_sides(corners)
    angles, distance = PATTERNS[pattern % len(PATTERNS)]
    lines = [hatch_lines(sides, a, distance) for a in angles]
    return segments(np.concatenate(lines), _PEN, BLACK)
