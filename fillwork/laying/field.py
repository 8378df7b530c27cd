"""Lay a motif over a panel: shift it, cut it at the edge, join what runs on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import LineWorkError
from fillwork.geometry import affine
from fillwork.geometry.curves import Curves
from fillwork.geometry.ranges import expand_ranges
from fillwork.laying.clip import clip_curves, curve_boxes
from fillwork.laying.moves import shift_curves
from fillwork.laying.runs import join_runs

if TYPE_CHECKING:
    from fillwork.arrays import Floats, Ints32
    from fillwork.geometry.affine import Affine
    from fillwork.laying.model import Motif, Panel

MOST_PIECES = 4_000_000
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
        wide = 2 * (panel.width + panel.height)
        repeats = wide / max(float(np.hypot(*basis[0])), _TINY)
    else:
        cell = abs(float(np.linalg.det(basis)))
        repeats = panel.width * panel.height / max(cell, _TINY)
    _refuse(repeats, len(motif.curves))


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
    basis = motif.basis @ affine.linear(place).T
    near = 1e-7 * max(panel.width, panel.height, 1.0)
    shifts = _shifts(curve_boxes(curves), basis, panel)
    _refuse(len(shifts), len(curves))
    inner, outer = _sort_shifts(curve_boxes(curves), shifts, panel)
    n = len(curves)
    owner, row = expand_ranges(np.zeros(len(inner), np.int64), np.full(len(inner), n))
    whole = shift_curves(curves.take(row), inner[owner])
    owner, row2 = expand_ranges(np.zeros(len(outer), np.int64), np.full(len(outer), n))
    edge = shift_curves(curves.take(row2), outer[owner])
    box = curve_boxes(edge)
    meets = (box[:, 0] <= panel.width) & (box[:, 2] >= 0)
    meets &= (box[:, 1] <= panel.height) & (box[:, 3] >= 0)
    rows = np.flatnonzero(meets)
    parts, origin = clip_curves(
        edge.take(rows), panel.curves, panel.rings, near=10 * near
    )
    laid = Curves.concatenate([whole, parts])
    style = np.concatenate([motif.style[row], motif.style[row2[rows[origin]]]])
    return join_runs(laid, style, near=near)


def _shifts(boxes: Floats, basis: Floats, panel: Panel) -> Floats:
    """Return the shifts by which the motif's box meets the panel's."""
    rank = len(basis)
    if rank == 0 or len(boxes) == 0:
        return np.zeros((1, 2))
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    size = np.array([panel.width, panel.height])
    least, most = -high, size - low
    corners = np.array(
        [[x, y] for x in (least[0], most[0]) for y in (least[1], most[1])]
    )
    along = corners @ np.linalg.pinv(basis)
    first = np.floor(along.min(axis=0) - 1e-9).astype(np.int64)
    last = np.ceil(along.max(axis=0) + 1e-9).astype(np.int64)
    count = float(np.prod((last - first + 1).astype(float)))
    if count > 4 * MOST_PIECES:
        what = f"the panel would take some {count:,.0f} repeats"
        raise LineWorkError(what, mend="check the sizes of cell and panel, and --scale")
    axes = [np.arange(f, t + 1) for f, t in zip(first, last, strict=True)]
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, rank)
    shifts = grid @ basis
    meets = (shifts >= least - 1e-9).all(axis=1) & (shifts <= most + 1e-9).all(axis=1)
    return np.asarray(shifts[meets])


def _sort_shifts(boxes: Floats, shifts: Floats, panel: Panel) -> tuple[Floats, Floats]:
    """Return shifts that keep the motif inside, and those that cross the edge."""
    import shapely

    if len(boxes) == 0:
        return shifts[:0], shifts
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    if panel.rectangle:
        size = np.array([panel.width, panel.height])
        inside = (shifts + low > 1e-6).all(axis=1)
        inside &= (shifts + high < size - 1e-6).all(axis=1)
        return shifts[inside], shifts[~inside]
    area = shapely.Polygon(panel.rings[0], list(panel.rings[1:]))
    shapely.prepare(area)
    cells = shapely.box(*(low + shifts).T, *(high + shifts).T)
    inside = np.asarray(shapely.contains_properly(area, cells))
    meets = shapely.intersects(area, cells)
    return shifts[inside], shifts[~inside & meets]
