"""Lay a motif over a panel: shift it, cut it at the edge, join what runs on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import LineWorkError
from fillwork.geometry import affine
from fillwork.geometry.curves import Curves
from fillwork.laying.clip import box_round, clip_curves, curve_boxes
from fillwork.laying.moves import MOST_PIECES, shift_curves, shifts_over
from fillwork.laying.runs import join_runs

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats, Ints, Ints32
    from fillwork.geometry.affine import Affine
    from fillwork.laying.model import Motif, Panel

_COUNTED = 1e12  # repeats that are told one by one
_TINY = 1e-30  # below any length or area that a cell has


def refuse_many(motif: Motif, panel: Panel, scale: float) -> None:
    """Raise, before places are looked for, where a panel would take too many lines.

    `scale`: panel length / drawn length. Raises `LineWorkError`.
    """
    basis = motif.basis * scale
    if len(basis) == 0:
        return
    if len(basis) == 1:
        # a strip through the panel, or round it
        size, one = 2 * (panel.width + panel.height), float(np.hypot(*basis[0]))
    else:
        size, one = panel.width * panel.height, abs(float(np.linalg.det(basis)))
    _refuse(size / max(one, _TINY), len(motif.curves))


def _refuse(repeats: float, lines: int) -> None:
    if repeats * max(lines, 1) > MOST_PIECES:
        count = f"{repeats:,.0f}" if repeats < _COUNTED else f"{repeats:.0e}"
        what = (
            f"{count} repeats of {lines:,} lines are more than {MOST_PIECES:,} pieces"
        )
        mend = "take a smaller panel, or lay the cell larger by --scale or --real-width"
        raise LineWorkError(what, mend=mend)


def lay_motif(motif: Motif, panel: Panel, place: Affine) -> tuple[Curves, Ints32]:
    """Return the lines of a motif over a whole panel, each once.

    `motif`: the lines of one repeat. `place`: from the motif's mm to the panel's.
    Returns `curves`: lines on the panel, without its edge; `style`: their styles.
    Raises `LineWorkError` if that would be too many pieces.
    """
    curves = motif.curves.transform(place)
    if len(curves) == 0:
        return curves, motif.style
    basis = motif.basis @ affine.linear(place).T
    near = 1e-7 * max(panel.width, panel.height, 1.0)
    own, size = box_round(curves), np.array([panel.width, panel.height])
    shifts = shifts_over(own, basis, (np.zeros(2), size))
    _refuse(len(shifts), len(curves))
    inside, crosses = _at_edge(own, shifts, panel)
    whole, row = _copies(curves, shifts[inside])
    edge, edge_row = _copies(curves, shifts[crosses])
    box = curve_boxes(edge)
    meets = np.flatnonzero(((box[:, :2] <= size) & (box[:, 2:] >= 0)).all(axis=1))
    parts, origin = clip_curves(
        edge.take(meets), panel.curves, panel.rings, near=10 * near
    )
    laid = Curves.concatenate([whole, parts])
    style = motif.style[np.concatenate([row, edge_row[meets[origin]]])]
    return join_runs(laid, style, near=near)


def _copies(curves: Curves, shifts: Floats) -> tuple[Curves, Ints]:
    """Return all curves at each shift, and the curve that each is a copy of."""
    row = np.tile(np.arange(len(curves)), len(shifts))
    return shift_curves(curves.take(row), np.repeat(shifts, len(curves), axis=0)), row


def _at_edge(
    own: tuple[Floats, Floats], shifts: Floats, panel: Panel
) -> tuple[Bools, Bools]:
    """Return which shifts keep a box inside the panel, and which bring it over an edge.

    `own`: lower left and upper right corner, mm.
    """
    low, high = own[0] + shifts, own[1] + shifts
    if panel.rectangle:
        inside = (low > 1e-6) & (high < np.array([panel.width, panel.height]) - 1e-6)
        within = np.asarray(inside.all(axis=1))
        return within, ~within
    import shapely

    area = panel.area
    shapely.prepare(area)
    boxes = shapely.box(*low.T, *high.T)
    within = np.asarray(shapely.contains_properly(area, boxes))
    return within, np.asarray(shapely.intersects(area, boxes) & ~within)
