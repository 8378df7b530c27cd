"""Join a cell's lines to those of its copies, and keep each line once."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.geometry.crossings import cross
from fillwork.geometry.curves import LINE, Curves
from fillwork.geometry.polygons import ring_sides
from fillwork.laying.clip import clip_to_ring
from fillwork.laying.ends import TOLD, close_ends
from fillwork.laying.model import Motif
from fillwork.laying.moves import as_point, lattice_cells, near_pairs, shift_curves

if TYPE_CHECKING:
    from fillwork.arrays import Floats, Ints, Ints32
    from fillwork.laying.model import Cell, Way

_RAILED = 9.0  # what edges of a strip that are drawn count for, beside an open line's 3


def make_motif(cell: Cell, way: Way, *, slack: float) -> Motif:
    """Return the lines of one repeat, joined, each once.

    The lines with what was closed at the joins. `way`: how it goes on. `slack`: largest
    misfit that is closed, mm; lines are drawn on half as far again to the outline.
    """
    drawn, style = _inside(cell, way, slack)
    closed = close_ends(drawn, way, slack)
    moved, style = closed.curves.take(np.flatnonzero(closed.kept)), style[closed.kept]
    laid = Curves.concatenate([moved.transform(g) for g in way.operations])
    styles = np.tile(style, len(way.operations))
    laid = _gather(laid, way.basis)
    keep = _once(laid, way.basis, slack)
    back = affine.invert(way.mend)
    told = tuple(
        replace(m, at=as_point(affine.apply(back, np.array(m.at))))
        for m in closed.misfits
    )
    misses = [m.size for m in told if m.closed]
    return Motif(
        curves=laid.take(keep),
        style=styles[keep],
        basis=way.basis.copy(),
        operations=way.operations,
        outline=way.outline.copy(),
        way=way.name,
        misfits=told,
        slip=max(way.miss, _usual(misses)),
    )


def _usual(misses: list[float]) -> float:
    """Return the root mean square of misses, or the least of one or two: a blunder."""
    if len(misses) < 3:
        return min(misses, default=0.0)
    return float(np.sqrt(np.mean(np.square(misses))))


def weigh_way(cell: Cell, way: Way, *, slack: float) -> float:
    """Return how badly lines meet when a cell goes on in a way.

    `slack`: largest misfit that is closed, mm. Returns three for each line that ends at
    a join with nothing to go on to, one for each that only meets its neighbour in the
    cell there, as a tip that touches the guide, less one for each that meets an end
    from elsewhere in the cell, and less for one that misses it. Its own image in a
    mirror says nothing: every end has one. Where that is alike, fewer lines end where
    the pattern does.
    """
    drawn, _ = _inside(cell, way, slack)
    ends = close_ends(drawn, way, slack)
    left = sum(not m.closed for m in ends.misfits)
    score = 3.0 * left + ends.touching - ends.met + min(0.01 * ends.stopping, 0.3)
    return score + _RAILED * _open_rails(drawn, way)


def _open_rails(drawn: Curves, way: Way) -> float:
    """Return how much more is drawn of a strip's ends than of its edges; a share."""
    if len(way.basis) != 1 or len(way.outline) != 4:
        return 0.0
    sides = ring_sides(way.outline)
    step = sides[:, 2:] - sides[:, :2]
    size = np.hypot(*step.T)
    lines = drawn.take(np.flatnonzero(drawn.kind == LINE))
    ends = np.stack([lines.starts(), lines.ends()], axis=1)
    covered = np.zeros(4)
    for k, (side, along) in enumerate(zip(sides, step / size[:, None], strict=True)):
        off = cross(np.broadcast_to(along, ends.shape), ends - side[:2])
        on = (np.abs(off) <= TOLD).all(axis=1)
        covered[k] = np.abs((ends[on, 1] - ends[on, 0]) @ along).sum() / size[k]
    along = np.abs(step @ way.basis[0]) / size
    rails = along >= np.sort(along)[2]
    covered = np.minimum(covered, 1.0)
    return float(covered[~rails].mean() - covered[rails].mean())


def _inside(cell: Cell, way: Way, slack: float) -> tuple[Curves, Ints32]:
    """Return the cell's lines on the outline as it must be, and inside it."""
    mended = np.abs(np.subtract(way.mend, affine.IDENTITY)).max() > 1e-9
    curves = cell.curves.transform(way.mend) if mended else cell.curves
    curves = _on_sides(curves, way.outline, slack)
    parts, origin = clip_to_ring(curves, way.outline, along=True)
    return parts, cell.style[origin]


def _on_sides(curves: Curves, ring: Floats, slack: float) -> Curves:
    """Lay straight lines that run along a side of the outline onto it."""
    line = np.flatnonzero(curves.kind == LINE)
    data = curves.data.copy()
    for side in ring_sides(ring):
        p, step = side[:2], side[2:] - side[:2]
        length = np.hypot(*step)
        way = step / length
        ends = data[line, :4].reshape(-1, 2, 2)
        off = cross(np.broadcast_to(way, ends.shape), ends - p)
        reach = np.abs(((ends[:, 1] - ends[:, 0]) * way).sum(axis=1))
        along = (np.abs(off) <= slack).all(axis=1) & (reach > 2 * slack)
        place = (ends[along] - p) @ way
        for corner in (0.0, length):
            place[np.abs(place - corner) <= slack] = corner
        data[line[along], :4] = (p + place[..., None] * way).reshape(-1, 4)
    return Curves(curves.kind.copy(), data)


def _gather(curves: Curves, basis: Floats) -> Curves:
    """Shift each curve so that its middle lies in the first repeat."""
    cells = lattice_cells(_points(curves, 0.5), basis)
    return shift_curves(curves, -cells @ basis)


def _points(curves: Curves, share: float, rows: Ints | None = None) -> Floats:
    """Return a point of each curve, or of the chosen ones, at a share of the way."""
    rows = np.arange(len(curves)) if rows is None else rows
    return curves.point(rows, np.full(len(rows), share))


def _once(curves: Curves, basis: Floats, slack: float) -> Ints:
    """Return the rows to keep so that no line is there twice.

    Two curves are one when ends meet ends and middles lie within the slack, or a
    hundredth of the chord where that is less.
    """
    if len(curves) < 2:
        return np.arange(len(curves))
    middle = _points(curves, 0.5)
    ends = np.stack([curves.starts(), curves.ends()], axis=1)
    chord = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    reach = np.maximum(np.minimum(slack, 0.01 * chord), 1e-6)
    a, b, step = near_pairs(middle, basis, float(reach.max()))
    near = (np.hypot(*step.T) <= np.minimum(reach[a], reach[b])) & (a != b)
    a, b, step = a[near], b[near], step[near]
    shift = (middle[a] - middle[b]) - step  # b + shift lies beside a
    beside = ends[b] + shift[:, None]
    apart = [_lengths(ends[a] - way).max(axis=1) for way in (beside, beside[:, ::-1])]
    same = np.min(apart, axis=0) <= 1e-5
    # between the ends as well
    quarter = _points(curves, 0.25, a)
    off = [_lengths(quarter - (_points(curves, t, b) + shift)) for t in (0.25, 0.75)]
    same &= np.min(off, axis=0) <= np.minimum(reach[a], reach[b])
    keep = np.ones(len(curves), dtype=bool)
    keep[np.maximum(a, b)[same]] = False
    return np.flatnonzero(keep)


def _lengths(vectors: Floats) -> Floats:
    """Return the lengths of vectors (..., 2)."""
    return np.asarray(np.hypot(vectors[..., 0], vectors[..., 1]))
