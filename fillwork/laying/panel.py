"""The outline of a panel: a rectangle, or any outline with holes from a drawing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.build import build_arrangement
from fillwork.arrangement.outlines import build_outlines
from fillwork.errors import LineWorkError
from fillwork.geometry import affine
from fillwork.geometry.boxes import box_ring
from fillwork.geometry.curves import LINE, Curves
from fillwork.geometry.polygons import ring_curves
from fillwork.laying.clip import box_round
from fillwork.laying.model import Panel

if TYPE_CHECKING:
    from fillwork.linework import LineWork


def rectangle_panel(width: float, height: float) -> Panel:
    """Return a rectangular panel; its lower left corner is the origin.

    `width` and `height`: size, mm.
    """
    ring = box_ring(np.zeros(2), np.array([width, height]))
    return Panel(width, height, ring_curves(ring), (0, 4), (ring,), True)


def panel_from_outline(drawing: LineWork) -> Panel:
    """Return the panel that the lines of a drawing bound.

    Moved so that its box begins at the origin. `drawing`: its outer outline with the
    outlines of holes in it. Raises `LineWorkError` if the lines close nothing.

    A closed line inside the outer one is a hole, one inside a hole an island of
    the panel no more: only the largest region with its holes is taken.
    """
    arrangement = build_arrangement(drawing, page_edge="open")
    if arrangement.face_count < 2:
        what = "the outline of the panel is not closed"
        raise LineWorkError(what, drawing.file, "join its ends in the drawing")
    face = int(np.argmax(arrangement.area))
    outlines = build_outlines(arrangement)
    first, last = outlines.face_ring_start[face : face + 2]
    rings = [
        outlines.pieces.take(
            slice(int(outlines.ring_start[r]), int(outlines.ring_start[r + 1]))
        )
        for r in range(first, last)
    ]
    return panel_from_curves(rings)


def panel_from_curves(rings: list[Curves]) -> Panel:
    """Return a panel bounded by rings of curves.

    Moved so that its box begins at the origin. `rings`: end to end, the outer ring
    first.
    """
    low, high = box_round(rings[0])
    moved = [r.transform(affine.translation(*-low)) for r in rings]
    size = high - low
    fine = max(1e-5 * float(size.max()), 1e-6)
    chords = tuple(r.flatten(fine)[0][:, :2] for r in moved)
    outer = moved[0]
    lean = np.abs(outer.ends() - outer.starts()).min(axis=1)
    level = (outer.kind == LINE) & (lean < 1e-6 * size.max())
    rectangle = len(moved) == 1 and len(outer) == 4 and bool(level.all())
    start = tuple(np.cumsum([0, *map(len, moved)]).tolist())
    edge = Curves.concatenate(moved)
    return Panel(float(size[0]), float(size[1]), edge, start, chords, rectangle)
