"""Join a cell's lines to those of its copies, and keep each line once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.geometry.crossings import cross
from fillwork.geometry.curves import LINE, Curves
from fillwork.geometry.polygons import ring_sides
from fillwork.laying.clip import clip_curves
from fillwork.laying.ends import TOLD, Ends
from fillwork.laying.model import Misfit, Motif
from fillwork.laying.moves import as_point, lattice_cells, shift_curves, with_copies

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
    ends = Ends(drawn, way, slack)
    moved, misfits = ends.close()
    moved, style = moved.take(np.flatnonzero(ends.kept)), style[ends.kept]
    copies = [moved.transform(g) for g in way.operations]
    laid = Curves.concatenate(copies)
    styles = np.tile(style, len(copies))
    laid = _gather(laid, way.basis)
    keep = _once(laid, way.basis, slack)
    back = affine.invert(way.mend)
    told = tuple(
        Misfit(as_point(affine.apply(back, np.array(m.at))), m.size, m.closed)
        for m in misfits
    )
    closed = [m.size for m in misfits if m.closed]
    return Motif(
        curves=laid.take(keep),
        style=styles[keep],
        basis=way.basis.copy(),
        operations=way.operations,
        outline=way.outline.copy(),
        way=way.name,
        misfits=told,
        slip=max(way.miss, _usual(closed)),
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
    ends = Ends(drawn, way, slack)
    _, misfits = ends.close()
    left = sum(not m.closed for m in misfits)
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


def _edge(ring: Floats) -> Curves:
    return Curves.from_segments(ring_sides(ring))


def _inside(cell: Cell, way: Way, slack: float) -> tuple[Curves, Ints32]:
    """Return the cell's lines on the outline as it must be, and inside it."""
    curves = cell.curves
    if np.abs(np.subtract(way.mend, affine.IDENTITY)).max() > 1e-9:
        curves = curves.transform(way.mend)
    curves = _on_sides(curves, way.outline, slack)
    parts, origin = clip_curves(curves, _edge(way.outline), [way.outline], along=True)
    return parts, cell.style[origin]


def _on_sides(curves: Curves, ring: Floats, slack: float) -> Curves:
    """Lay straight lines that run along a side of the outline onto it."""
    line = np.flatnonzero(curves.kind == LINE)
    data = curves.data.copy()
    for p, q in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        side = (q - p) / np.hypot(*(q - p))
        ends = data[line, :4].reshape(-1, 2, 2)
        off = cross(np.broadcast_to(side, ends.shape), ends - p)
        reach = np.abs(((ends[:, 1] - ends[:, 0]) * side).sum(axis=1))
        along = (np.abs(off) <= slack).all(axis=1) & (reach > 2 * slack)
        if not along.any():
            continue
        rows = line[along]
        share = (ends[along] - p) @ side
        length = float(np.hypot(*(q - p)))
        share = np.where(np.abs(share) <= slack, 0.0, share)
        share = np.where(np.abs(share - length) <= slack, length, share)
        data[rows, :4] = (p + share[..., None] * side).reshape(-1, 4)
    return Curves(curves.kind.copy(), data)


def _gather(curves: Curves, basis: Floats) -> Curves:
    """Shift each curve so that its middle lies in the first repeat."""
    if len(basis) == 0 or len(curves) == 0:
        return curves
    middle = curves.point(np.arange(len(curves)), np.full(len(curves), 0.5))
    shift = -lattice_cells(middle, basis) @ basis
    return shift_curves(curves, shift)


def _once(curves: Curves, basis: Floats, slack: float) -> Ints:
    """Return the rows to keep so that no line is there twice.

    Two curves are one when ends meet ends and middles lie within the slack, or a
    hundredth of the chord where that is less.
    """
    from scipy.spatial import cKDTree

    n = len(curves)
    if n < 2:
        return np.arange(n)
    every = np.arange(n)
    middle = curves.point(every, np.full(n, 0.5))
    wrapped = middle - lattice_cells(middle, basis) @ basis if len(basis) else middle
    chord = curves.ends() - curves.starts()
    reach = np.maximum(np.minimum(slack, 0.01 * np.hypot(*chord.T)), 1e-6)
    most = float(reach.max())
    padded, back = with_copies(wrapped, basis, most)
    pairs = cKDTree(padded).query_pairs(most, output_type="ndarray")
    a, b = back[pairs[:, 0]], back[pairs[:, 1]]
    apart = np.hypot(*(padded[pairs[:, 0]] - padded[pairs[:, 1]]).T)
    shift = padded[pairs[:, 0]] - padded[pairs[:, 1]]
    shift = (middle[a] - middle[b]) - shift  # b + shift lies beside a
    start, end = curves.starts(), curves.ends()
    same = (apart <= np.minimum(reach[a], reach[b])) & (a != b)
    ends_a = np.stack([start[a], end[a]], axis=1)
    for_b = np.stack([start[b], end[b]], axis=1) + shift[:, None]
    straight = np.hypot(*(np.moveaxis(ends_a - for_b, -1, 0))).max(axis=1)
    crossed = np.hypot(*(np.moveaxis(ends_a - for_b[:, ::-1], -1, 0))).max(axis=1)
    same &= np.minimum(straight, crossed) <= 1e-5
    # between the ends as well
    quarter = curves.point(a, np.full(len(a), 0.25))
    off = np.full(len(a), np.inf)
    for t in (0.25, 0.75):
        other = curves.point(b, np.full(len(b), t)) + shift
        off = np.minimum(off, np.hypot(*(quarter - other).T))
    same &= off <= np.minimum(reach[a], reach[b])
    drop = np.maximum(a, b)[same]
    keep = np.ones(n, dtype=bool)
    keep[drop] = False
    return np.flatnonzero(keep)
