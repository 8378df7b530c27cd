"""Which boxes overlap: pairs of near pieces by a grid that refines itself.

Cells that hold many boxes are divided again, so line work whose detail is
gathered in one corner costs no more than an even one. A pair that shares
several cells is given once: by the cell that holds the lower left corner of
the overlap of its two boxes. Where dividing does not help, as among long thin boxes
side by side, a cell is swept across them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.boxes import bounds
from fillwork.geometry.ranges import begins, expand_ranges

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from fillwork.arrays import AnyInts, Bools, Floats, Ints, Ints32

    Pairs = Iterator[tuple[Ints32, Ints32]]

_CROWDED = 48
DEEPEST = 7
CHUNK = 1 << 20
_SPLIT = 4
# a place in more boxes than this is crowded; a turn must bring so many times fewer
_OVERLAP, _WORTH, _SLOTS = 20.0, 8.0, 64
_LEAN = 3  # boxes 2^3 times longer than wide on the average, or wider than long
_MOST_LEAN = 60  # they may have no width at all
_SWEPT = 512  # boxes in a cell that is swept, where that leaves a quarter of the pairs


def overlapping_pairs(
    low: Floats,
    high: Floats,
    check: Callable[[int], None] | None = None,
    apart: Bools | None = None,
) -> Pairs:
    """Yield all pairs of boxes that overlap, each once, in chunks.

    `low` and `high` (n, 2): lower left and upper right corners. `check`: told
    beforehand how many pairs will be looked at; may raise. `apart` (n,): boxes of which
    no two are paired with each other. Yields `first` and `second`: boxes that overlap.
    """
    n = len(low)
    if n < 2:
        return
    size = high - low
    usual = np.maximum(size.mean(axis=0), 1e-300)
    lean = round(float(np.clip(np.log2(usual[0] / usual[1]), -_MOST_LEAN, _MOST_LEAN)))
    if abs(lean) >= _LEAN:
        # cells as long as boxes are; a power of two keeps every order exact
        stretch = np.exp2([0, lean])
        low, high, size = low * stretch, high * stretch, size * stretch
    origin = bounds(low)[0]
    extent = np.maximum(bounds(high)[1] - origin, 1e-300)
    mean = float(size.sum() / (2 * n))
    cell = max(1.6 * float(np.sqrt(extent[0] * extent[1] / n)), mean, 1e-300)
    cell = max(cell, float(extent.max()) / (1 << 20))
    if apart is None:
        apart = np.zeros(n, dtype=bool)
    # those go last in each cell
    box = np.argsort(apart, kind="stable").astype(np.int32)
    boxes = _Boxes(np.concatenate([low.T, high.T]), apart, origin, check)
    yield from boxes.in_cells(box, cell)


def turn_of_crowd(ends: Floats) -> Floats | None:
    """Return the turn that lays a crowd of long lines of one direction level.

    Boxes round slanting lines side by side overlap though the lines lie apart; no grid
    mends that, and parts of such lines meet the same others again and again. `ends`
    (n, 4): both ends of each piece. Returns (2, 2): row vectors times it are turned;
    None where boxes overlap little as they are, or a turn helps little.
    """
    if len(ends) == 0:
        return None
    d = ends[:, 2:] - ends[:, :2]
    length, area = np.hypot(*d.T), np.abs(d).prod(axis=1).sum()
    low, high = bounds(ends.reshape(-1, 2))
    if area < _OVERLAP * (high - low).prod():
        return None
    # the direction most length has, told by twice its angle
    angle = np.arctan2(d[:, 1], d[:, 0]) % np.pi
    slot = np.minimum((angle * (_SLOTS / np.pi)).astype(np.int64), _SLOTS - 1)
    held = np.bincount(slot, length, _SLOTS)
    off = np.abs(slot - int(np.argmax(held + np.roll(held, 1) + np.roll(held, -1))))
    near = np.minimum(off, _SLOTS - off) <= 1
    x, y = ((length * f(2.0 * angle))[near].sum() for f in (np.cos, np.sin))
    way = 0.5 * np.arctan2(y, x)
    c, s = np.cos(way), np.sin(way)
    turn = np.array([[c, -s], [s, c]])
    return turn if _WORTH * np.abs(d @ turn).prod(axis=1).sum() < area else None


def boxes_along(
    ends: Floats, margin: Floats, straight: Bools
) -> tuple[Floats, Floats, Ints]:
    """Return boxes round pieces of line: several, end to end, round long slanting ones.

    It is the area of a box, not its length, that brings pairs of no use. `ends` (n, 4):
    both ends of each. `margin` (n,): how much wider boxes are on all sides. `straight`
    (n,): the others get one box each. Returns `low` and `high` (m, 2): corners; `row`
    (m,): the piece of each box.
    """
    low = np.minimum(ends[:, :2], ends[:, 2:])
    high = np.maximum(ends[:, :2], ends[:, 2:])
    size = high - low
    extent = np.maximum(bounds(high)[1] - bounds(low)[0], 1e-300)
    total = float(size.sum())
    spacing = 2.0 * float(extent[0] * extent[1]) / max(total, 1e-300)
    spacing = max(spacing, float(extent.max()) / 8192)
    parts = np.ceil(np.sqrt(size[:, 0] * size[:, 1]) / (1.5 * spacing))
    # long lines among short ones are worth cutting; a crowd of them alone is less so,
    # since its parts meet no fewer in all: never more parts than there are pairs
    most = 6.0 * len(ends) + min(300_000.0, len(ends) ** 2 / 8)
    parts *= min(1.0, most / max(float(parts.sum()), 1.0))
    parts = np.where(straight, np.clip(parts, 1, 4096), 1).astype(np.int64)
    wide = margin[:, None]
    if int(parts.max(initial=1)) == 1:
        return low - wide, high + wide, np.arange(len(ends))
    row = np.repeat(np.arange(len(ends)), parts)
    k = np.arange(len(row)) - (np.cumsum(parts) - parts)[row]
    own = ((ends[:, 2:] - ends[:, :2]) / parts[:, None]).take(row, axis=0)
    start = ends[:, :2].take(row, axis=0) + k[:, None] * own
    stop, wide = start + own, wide.take(row, axis=0)
    return np.minimum(start, stop) - wide, np.maximum(start, stop) + wide, row


def distinct_pairs(i: AnyInts, j: AnyInts, n: int) -> tuple[Ints32, Ints32]:
    """Return pairs of unlike numbers below `n`, each once and the lower first."""
    key = np.minimum(i, j).astype(np.int64) * n + np.maximum(i, j)
    key = np.sort(key[i != j])
    if len(key):
        key = key[begins(key)]
    first, second = np.divmod(key, n)
    return first.astype(np.int32), second.astype(np.int32)


class _Boxes:
    """Hold boxes, and find those that overlap, cell by cell.

    `sides` are left, bottom, right and top of all boxes, each a row.
    """

    def __init__(
        self,
        sides: Floats,
        apart: Bools,
        origin: Floats,
        check: Callable[[int], None] | None,
    ) -> None:
        self.sides, self.apart, self.origin, self.check = sides, apart, origin, check

    def in_cells(
        self, box: Ints32, cell: float, depth: int = 0, inside: Ints | None = None
    ) -> Pairs:
        """Yield pairs of entries (box, cell region) on one level of the grid.

        `inside` holds, for each entry, the cell of the level above as x, y, each a row.
        """
        apart = self.apart
        first, last = self._cells(box, cell, inside)
        width, height = last - first + 1
        shift = first.min(axis=1) if depth else np.zeros(2, np.int64)
        stride = int(last[1].max() - shift[1]) + 1
        if ((width == 1) & (height == 1)).all():
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
        level = _Level(cell, key, member, stride, shift)
        starts = np.flatnonzero(begins(key))
        count = np.diff(np.r_[starts, len(key)])
        # of how many boxes pairs are looked for, with all that come after them in the
        # cell
        leads = np.add.reduceat(~apart[member], starts, dtype=np.int64)
        crowded = (count > _CROWDED) & (depth < DEEPEST) & (leads > 0)
        if crowded.any():
            again = order[np.repeat(crowded, count)]
            held, parent = (
                member[np.repeat(crowded, count)],
                np.stack([cx[again], cy[again]]),
            )
            helps = self._helps(held, cell, parent, count[crowded])
            rows = np.repeat(helps, count[crowded])
            crowded[crowded] = helps
            held, parent = held[rows], parent[:, rows]
        del order, cx, cy, entry
        if crowded.any():
            yield from self.in_cells(held, cell / _SPLIT, depth + 1, parent)
        plain = ~crowded & (count > 1) & (leads > 0)
        yield from self._pairs(level, starts[plain], count[plain], leads[plain])

    def _cells(
        self, box: Ints32, cell: float, inside: Ints | None
    ) -> tuple[Ints, Ints]:
        """Return the first and last cell of each entry, x and y as rows."""
        at = self.sides.take(box, axis=1)
        at -= np.tile(self.origin, 2)[:, None]
        at /= cell
        cells = np.floor(at).astype(np.int64)
        first, last = cells[:2], cells[2:]
        if inside is not None:
            np.maximum(first, inside * _SPLIT, out=first)
            np.minimum(last, inside * _SPLIT + (_SPLIT - 1), out=last)
        return first, last

    def _helps(self, held: Ints32, cell: float, parent: Ints, count: Ints) -> Bools:
        """Return which cells, of so many boxes each, are worth dividing.

        Dividing helps only where boxes are smaller than the cell: k boxes that take m
        of the 16 smaller cells on average leave m²/16 of the pairs.
        """
        low, high = self._cells(held, cell / _SPLIT, parent)
        taken = (high - low + 1).prod(axis=0)
        first = np.cumsum(count) - count
        return np.asarray(np.add.reduceat(taken, first) < 2.8 * count)

    def _pairs(self, level: _Level, starts: Ints, count: Ints, leads: Ints) -> Pairs:
        """Yield pairs of the cells that begin at `starts` and hold `count` boxes."""
        apart, member = self.apart, level.member
        pairs = leads * (2 * count - leads - 1) // 2
        many, swept = np.zeros(len(starts), bool), []
        for full in np.flatnonzero(count >= _SWEPT).tolist():
            at = int(starts[full])
            one = self._sweep(member[at : at + count[full]])
            if 4 * int(one[1].sum()) < pairs[full]:
                many[full], pairs[full] = True, one[1].sum()
                swept.append((level.key[at], one))
        if self.check is not None and len(pairs):
            self.check(int(pairs.sum()))
        for of_cell, (row, later) in swept:
            own = replace(level, key=np.full(len(row), of_cell), member=row)
            for a, b in self._met(own, np.arange(len(row)), later):
                # as in other cells: of each pair that comes first which does in all
                # boxes
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
            yield from self._met(level, position, later)
            begin = stop

    def _sweep(self, boxes: Ints32) -> tuple[Ints32, Ints]:
        """Return boxes in order along x or y, with how many that follow each overlaps.

        Along the axis in which fewer do.
        """
        found = []
        for axis in (0, 1):
            low, high = self.sides[axis, boxes], self.sides[axis + 2, boxes]
            order = np.argsort(low, kind="stable")
            stop = np.searchsorted(low[order], high[order], side="right")
            found.append((boxes[order], stop - np.arange(len(boxes)) - 1))
        return min(found, key=lambda one: int(one[1].sum()))

    def _met(self, level: _Level, position: Ints, later: Ints) -> Pairs:
        """Yield which boxes overlap which that follow them, where their cell gives it.

        `position` (n,): places of boxes in the level. `later` (n,): how many that
        follow each are looked at.
        """
        left, bottom, right, top = self.sides
        member, key = level.member, level.key
        # a very crowded cell is worked through in parts
        total = np.cumsum(later)
        begin = 0
        while begin < len(position):
            done = total[begin - 1] if begin else 0
            stop = int(np.searchsorted(total, done + 4 * CHUNK, side="right"))
            stop = max(stop, begin + 1)
            at = position[begin:stop]
            mine, other = expand_ranges(at + 1, later[begin:stop])
            a, b = member[at][mine], member[other]
            x = np.maximum(left[a], left[b])
            meets = np.flatnonzero(x <= np.minimum(right[a], right[b]))
            a, b, x, mine = a[meets], b[meets], x[meets], mine[meets]
            y = np.maximum(bottom[a], bottom[b])
            meets = np.flatnonzero((y <= np.minimum(top[a], top[b])) & (a != b))
            a, b, x, y, mine = a[meets], b[meets], x[meets], y[meets], mine[meets]
            place = self._column(x, 0, level) * level.stride + self._column(y, 1, level)
            once = place == key[at][mine]
            yield a[once], b[once]
            begin = stop

    def _column(self, value: Floats, axis: int, level: _Level) -> Ints:
        """Return in which column, or row, of cells coordinates lie."""
        at = np.floor((value - self.origin[axis]) / level.cell).astype(np.int64)
        return np.asarray(at - level.shift[axis])


@dataclass(frozen=True, slots=True, eq=False)
class _Level:
    """Hold boxes in the order of their cells on one level of the grid."""

    cell: float  # side of a cell
    key: Ints  # (n,): number of each one's cell
    member: Ints32  # (n,): the boxes
    stride: int  # cells of a column
    shift: Ints  # (2,): column and row of the first cell
