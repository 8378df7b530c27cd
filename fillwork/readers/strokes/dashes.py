"""Dashes that a program wrote one by one: pieces in line, with gaps alike, ends free.

Programs that plot a dashed line often write each dash as a line of its own. Such runs
are known by the order in which they stand in the file. Pieces whose ends lie on other
lines are no dashes: a line that passes under bands, joints between bricks.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.readers.strokes.outlines import measure_lengths, size_of

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.readers.strokes.collect import Collector, StrokeTable

_FEWEST = 6  # pieces in line that are a dashed line
_AHEAD = 0.97  # cosine of the most that a line bends from one piece to the next
_ALIKE = 0.1  # of the usual gap: how far gaps that are alike differ
_MOST = 0.8  # the share of gaps that are alike, and of ends that are free
_OPEN = 1.5  # of the longest piece: a gap is no longer
_ON = 1e-4  # of the drawing's size: an end so near a line lies on it


def rounded_width(width: float) -> float:
    """Return a width by which those that differ by rounding only belong together."""
    return float(f"{width:.4g}")


def know_dashes(strokes: StrokeTable, collector: Collector) -> None:
    """Note which items are dashes, where some colour may be that of guides.

    `strokes`: in mm, in drawing order. `collector`: what they were gathered by;
    changed.
    """
    contexts = collector.contexts
    if len({c.colour for c in contexts if c.stroked}) < 2:
        return
    context = collector.of_item[strokes.item]
    looks = [(c.colour, c.layer, c.clip, rounded_width(c.width)) for c in contexts]
    number = {look: k for k, look in enumerate(dict.fromkeys(looks))}
    style = np.array([number[look] for look in looks])[context]
    lines = np.array([c.stroked and not (c.filled or c.dash) for c in contexts], bool)
    some = lines[context] & ~strokes.closed
    collector.dash(_dashed_items(strokes, style, some).tolist())


def _dashed_items(strokes: StrokeTable, style: Ints, some: Bools) -> Ints:
    # the items that are dashes of a line, and no more, of those that may be
    run = _runs(strokes, style, some)
    if not (run >= 0).any():
        return np.empty(0, np.int64)
    run = _free_runs(strokes, run)
    all_of = np.bincount(strokes.item)
    mine = np.bincount(strokes.item[run >= 0], minlength=len(all_of))
    return np.flatnonzero((mine == all_of) & (mine > 0))


def _runs(strokes: StrokeTable, style: Ints, some: Bools) -> Ints:
    # the run of pieces in line that each stroke is one of, -1 for none
    curves = strokes.curves()
    first, last = strokes.start[:-1], strokes.start[1:] - 1
    begin, end = (
        curves.point(rows, np.full(len(rows), t)) for rows, t in ((first, 0), (last, 1))
    )
    leave, come = (
        _unit(curves.derivative(rows, np.full(len(rows), float(t))))
        for rows, t in ((last[:-1], 1), (first[1:], 0))
    )
    length = np.add.reduceat(measure_lengths(strokes.kind, strokes.data), first)
    gap = begin[1:] - end[:-1]
    wide = np.hypot(*gap.T)
    ahead = _unit(gap)
    linked = some[1:] & some[:-1] & (style[1:] == style[:-1]) & (wide > 0)
    linked &= np.minimum((leave * ahead).sum(1), (come * ahead).sum(1)) > _AHEAD
    run = np.full(len(some), -1)
    edge = np.flatnonzero(np.diff(np.concatenate([[0], linked.astype(int), [0]])))
    for number, (a, b) in enumerate(edge.reshape(-1, 2).tolist()):
        if b - a + 1 < _FEWEST:
            continue
        usual = np.median(wide[a:b])
        alike = np.abs(wide[a:b] - usual) <= _ALIKE * usual
        if alike.mean() >= _MOST and usual <= _OPEN * length[a : b + 1].max():
            run[a : b + 1] = number
    return run


def _free_runs(strokes: StrokeTable, run: Ints) -> Ints:
    """Return the runs whose gaps lie between ends that touch no other line."""
    import shapely

    curves = strokes.curves()
    within = _ON * size_of(strokes)
    k = np.flatnonzero((run[1:] == run[:-1]) & (run[1:] >= 0))
    last, first = strokes.start[1:][k] - 1, strokes.start[k + 1]
    points = np.concatenate(
        [curves.point(last, np.ones(len(k))), curves.point(first, np.zeros(len(k)))]
    )
    own = np.concatenate([k, k + 1])
    chords, curve, _ = curves.flatten(max(within, 1e-12))
    of = strokes.owner()[curve]
    lines: Any = shapely.linestrings(chords.reshape(-1, 2, 2))
    tree = shapely.STRtree(lines)
    at, met = tree.query(shapely.points(points), predicate="dwithin", distance=within)
    touched = np.zeros(len(points), bool)
    touched[at[of[met] != own[at]]] = True
    number = run[own]
    ends = np.bincount(number)
    share = np.bincount(number, touched) / np.maximum(ends, 1)
    return np.where((run >= 0) & (share[run] <= 1 - _MOST), run, -1)


def _unit(vectors: Floats) -> Floats:
    length: Floats = np.maximum(np.hypot(*vectors.T), 1e-300)
    return vectors / length[:, None]
