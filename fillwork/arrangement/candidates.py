"""Which boxes overlap: pairs of near pieces by a grid that refines itself.

Cells that hold many boxes are divided again, so line work whose detail is
gathered in one corner costs no more than an even one. A pair that shares
several cells is given once: by the cell that holds the lower left corner of
the overlap of its two boxes. Where dividing does not help, as among long thin boxes
side by side, a cell is swept across them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.boxes import bounds
from fillwork.geometry.ranges import expand_ranges

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray


CROWDED = 48
DEEPEST = 7
CHUNK = 1 << 20
SPLIT = 4
SWEPT = 512  # boxes in a cell that is swept, where that leaves a quarter of the pairs


def overlapping_pairs(
    low: NDArray[np.float64],
    high: NDArray[np.float64],
    check: Callable[[int], None] | None = None,
    apart: NDArray[np.bool_] | None = None,
) -> Iterator[tuple[NDArray[np.int32], NDArray[np.int32]]]:
    """Yield all pairs of boxes that overlap, each once, in chunks.

    `low` and `high` (n, 2): lower left and upper right corners. `check`: told
    beforehand how many pairs will be looked at; may raise. `apart` (n,): boxes of which
    no two are paired with each other. Yields `first` and `second`: boxes that overlap.
    """
    n = len(low)
    if n < 2:
        return
    origin = bounds(low)[0]
    extent = np.maximum(bounds(high)[1] - origin, 1e-300)
    size = high - low
    mean = float(size.sum() / (2 * n))
    cell = max(1.6 * float(np.sqrt(extent[0] * extent[1] / n)), mean, 1e-300)
    cell = max(cell, float(extent.max()) / (1 << 20))
    if apart is None:
        apart = np.zeros(n, dtype=bool)
    # those go last in each cell
    box = np.argsort(apart, kind="stable").astype(np.int32)
    sides = np.concatenate([low.T, high.T])
    yield from _in_cells(sides, box, apart, origin, cell, 0, check=check)


def _in_cells(
    sides: NDArray[np.float64],
    box: NDArray[np.int32],
    apart: NDArray[np.bool_],
    origin: NDArray[np.float64],
    cell: float,
    depth: int,
    inside: NDArray[np.int64] | None = None,
    check: Callable[[int], None] | None = None,
) -> Iterator[tuple[NDArray[np.int32], NDArray[np.int32]]]:
    """Yield pairs of entries (box, cell region) on one level of the grid.

    `sides` are left, bottom, right and top of all boxes, each a row, and `inside`
    holds, for each entry, the cell of the level above as x, y, each a row.
    """
    first, last = _cells(sides, box, origin, cell, inside)
    width, height = last - first + 1
    shift = first.min(axis=1) if depth else np.zeros(2, np.int64)
    stride = int(last[1].max() - shift[1]) + 1
    single = (width == 1) & (height == 1)
    if single.all():
        entry = np.arange(len(box))
        cx, cy = first
    else:
        entry, k = expand_ranges(np.zeros(len(box), np.int64), width * height)
        cx, cy = np.divmod(k, height[entry])
        cx += first[0][entry]
        cy += first[1][entry]
    key = (cx - shift[0]) * stride + (cy - shift[1])
    order = np.argsort(key, kind="stable")
    key, member = key[order], box[entry[order]]
    starts = np.flatnonzero(np.r_[True, key[1:] != key[:-1]])
    count = np.diff(np.r_[starts, len(key)])
    # of how many boxes pairs are looked for, with all that come after them in the cell
    leads = np.add.reduceat(~apart[member], starts, dtype=np.int64)
    crowded = (count > CROWDED) & (depth < DEEPEST) & (leads > 0)
    if crowded.any():
        held = np.repeat(crowded, count)
        again = order[held]
        parent = np.stack([cx[again], cy[again]])
        # dividing helps only where boxes are smaller than the cell: k boxes that
        # take m of the 16 smaller cells on average leave m²/16 of the pairs
        low, high = _cells(sides, member[held], origin, cell / SPLIT, parent)
        taken = (high - low + 1).prod(axis=0)
        first_held = np.cumsum(count[crowded]) - count[crowded]
        helps = np.add.reduceat(taken, first_held) < 2.8 * count[crowded]
        crowded[crowded] = helps
        parent = parent[:, np.repeat(helps, np.diff(np.r_[first_held, len(taken)]))]
        held = np.repeat(crowded, count)
    if crowded.any():
        yield from _in_cells(
            sides,
            member[held],
            apart,
            origin,
            cell / SPLIT,
            depth + 1,
            parent,
            check,
        )
        starts, count, leads = (v[~crowded] for v in (starts, count, leads))
    plain = (count > 1) & (leads > 0)
    starts, count, leads = (v[plain] for v in (starts, count, leads))
    del order, cx, cy, entry
    pairs = leads * (2 * count - leads - 1) // 2
    many, swept = np.zeros(len(starts), bool), []
    for full in np.flatnonzero(count >= SWEPT).tolist():
        at = int(starts[full])
        one = _sweep(sides, member[at : at + count[full]])
        if 4 * int(one[1].sum()) < pairs[full]:
            many[full], pairs[full] = True, one[1].sum()
            swept.append((key[at], one))
    if check is not None and len(pairs):
        check(int(pairs.sum()))
    for of_cell, (row, later) in swept:
        place, own = np.arange(len(row)), np.full(len(row), of_cell)
        for a, b in _met(sides, origin, cell, own, row, place, later, stride, shift):
            # as in other cells: of each pair that comes first which does in all boxes
            turned = (apart[a] > apart[b]) | ((apart[a] == apart[b]) & (a > b))
            kept = ~(apart[a] & apart[b])
            yield np.where(turned, b, a)[kept], np.where(turned, a, b)[kept]
    starts, count, leads, pairs = (v[~many] for v in (starts, count, leads, pairs))
    ends = np.cumsum(pairs)
    begin = 0
    while begin < len(starts):
        done = ends[begin - 1] if begin else 0
        stop = int(np.searchsorted(ends, done + CHUNK, side="right"))
        stop = max(stop, begin + 1)
        s, c = starts[begin:stop], count[begin:stop]
        owner, position = expand_ranges(s, leads[begin:stop])
        later = s[owner] + c[owner] - 1 - position
        yield from _met(
            sides, origin, cell, key[position], member, position, later, stride, shift
        )
        begin = stop


def _sweep(
    sides: NDArray[np.float64], boxes: NDArray[np.int32]
) -> tuple[NDArray[np.int32], NDArray[np.int64]]:
    """Return boxes in order along x or y, and with how many that follow each overlaps.

    Along the axis in which fewer do.
    """
    found = []
    for axis in (0, 1):
        low, high = sides[axis, boxes], sides[axis + 2, boxes]
        order = np.argsort(low, kind="stable")
        stop = np.searchsorted(low[order], high[order], side="right")
        found.append((boxes[order], stop - np.arange(len(boxes)) - 1))
    return min(found, key=lambda one: int(one[1].sum()))


def _cells(
    sides: NDArray[np.float64],
    box: NDArray[np.int32],
    origin: NDArray[np.float64],
    cell: float,
    inside: NDArray[np.int64] | None,
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the first and last cell of each entry, x and y as rows."""
    at = sides.take(box, axis=1)
    at -= np.tile(origin, 2)[:, None]
    at /= cell
    cells = np.floor(at).astype(np.int64)
    first, last = cells[:2], cells[2:]
    if inside is not None:
        np.maximum(first, inside * SPLIT, out=first)
        np.minimum(last, inside * SPLIT + (SPLIT - 1), out=last)
    return first, last


def _met(
    sides: NDArray[np.float64],
    origin: NDArray[np.float64],
    cell: float,
    key: NDArray[np.int64],
    member: NDArray[np.int32],
    position: NDArray[np.int64],
    later: NDArray[np.int64],
    stride: int,
    shift: NDArray[np.int64],
) -> Iterator[tuple[NDArray[np.int32], NDArray[np.int32]]]:
    """Yield which boxes overlap which of those that follow, where their cell gives it.

    `key` (n,): cells of the boxes at `position` in `member`. `later` (n,): how many
    that follow each are looked at.
    """
    left, bottom, right, top = sides
    # a very crowded cell is worked through in parts
    total = np.cumsum(later)
    begin = 0
    while begin < len(position):
        done = total[begin - 1] if begin else 0
        stop = max(
            int(np.searchsorted(total, done + 4 * CHUNK, side="right")), begin + 1
        )
        mine, other = expand_ranges(position[begin:stop] + 1, later[begin:stop])
        a, b = member[position[begin:stop]][mine], member[other]
        x = np.maximum(left[a], left[b])
        meets = np.flatnonzero(x <= np.minimum(right[a], right[b]))
        a, b, x, mine = a[meets], b[meets], x[meets], mine[meets]
        y = np.maximum(bottom[a], bottom[b])
        meets = np.flatnonzero((y <= np.minimum(top[a], top[b])) & (a != b))
        a, b, x, y, mine = a[meets], b[meets], x[meets], y[meets], mine[meets]
        place = np.floor((x - origin[0]) / cell).astype(np.int64) - shift[0]
        place *= stride
        place += np.floor((y - origin[1]) / cell).astype(np.int64) - shift[1]
        once = place == key[begin:stop][mine]
        yield a[once], b[once]
        begin = stop
