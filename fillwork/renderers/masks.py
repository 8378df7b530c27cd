"""Compose masks: the closed outlines of one paint, for stencil, frisket or cutter."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.renderers.chains import ring_paths
from fillwork.renderers.hatching import hatch_lines
from fillwork.renderers.scene import (
    BLACK,
    GREY_45,
    OUTLINES,
    Item,
    Picture,
    Placed,
    Strokes,
    segments,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrangement.model import Arrangement
    from fillwork.renderers.parts import Parts

__all__ = ["find_islands", "mask_items"]

CUT_LINE = 0.1
"""Width of a line to cut along, mm on paper."""


def find_islands(
    arrangement: Arrangement, cut_out: NDArray[np.bool_]
) -> tuple[NDArray[np.bool_], int]:
    """Return which regions fall out of a mask although they should stay.

    Parameters
    ----------
    arrangement : Arrangement
        The regions.
    cut_out : ndarray of bool, shape (F,)
        Regions that are cut out.

    Returns
    -------
    faces : ndarray of bool, shape (F,)
        Regions that hang on nothing: no edge joins them, however far round, to
        the sheet outside. Corners do not hold.
    count : int
        Pieces that fall out.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    left, right = arrangement.face[0::2], arrangement.face[1::2]
    stay = ~cut_out
    joined = stay[left] & stay[right]
    n = arrangement.face_count
    graph = coo_array((np.ones(joined.sum()), (left[joined], right[joined])), (n, n))
    _, part = connected_components(graph, directed=False)
    loose = stay & (part != part[0])
    loose[0] = False
    return loose, len(np.unique(part[loose]))


def mask_items(
    parts: Parts, place: int, scale: float, mirror: bool
) -> tuple[list[Item], int]:
    """Return the outlines to cut for one swatch, and its islands hatched.

    Parameters
    ----------
    parts : Parts
        The drawing.
    place : int
        Swatch.
    scale : float
        Paper mm for one mm of the drawing.
    mirror : bool
        Whether the drawing is turned round.

    Returns
    -------
    items : list of items
        On paper, from the lower left corner of the drawing's box.
    islands : int
        Pieces that would fall out.
    """
    arrangement = parts.arrangement
    cut_out = parts.colouring.of_face == place
    cut_out[0] = False
    curves, start = ring_paths(arrangement, cut_out)
    closed = np.ones(len(start) - 1, bool)
    line = Strokes(curves, start, closed, CUT_LINE / scale, BLACK, layer=OUTLINES)
    islands, count = find_islands(arrangement, cut_out)
    inner: list[Item] = [line]
    if count:
        sides = parts.sides()
        faces = np.flatnonzero(islands)
        n = np.diff(sides.start)[faces]
        index = np.repeat(sides.start[faces] - (np.cumsum(n) - n), n)
        index = index + np.arange(n.sum())
        lines = hatch_lines(sides.segments[index], 45.0, 1.6 / scale)
        inner.insert(0, segments(lines, 0.1 / scale, GREY_45, layer="islands"))
    picture = Picture(tuple(inner), parts.box)
    items: list[Item] = [Placed(picture, parts.map_to_paper(scale, mirror))]
    # corner marks, so that masks of all paints are laid alike
    width, height = (v * scale for v in parts.size)
    marks = [
        [x, y, x + dx, y + dy]
        for x, sx in ((-1.0, -1), (width + 1.0, 1))
        for y, sy in ((-1.0, -1), (height + 1.0, 1))
        for dx, dy in ((-3.0 * sx, 0.0), (0.0, -3.0 * sy))
    ]
    items.append(segments(marks, CUT_LINE, GREY_45, layer="marks"))
    return items, count
