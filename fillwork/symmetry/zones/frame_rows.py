"""Lines that look like frame lines and belong to a pattern: rows, rings, cells.

A pattern says itself again: parallel lines at equal distances, many circles of one
size, many loops of one size that touch each other. Frames are few, nested, or solid
where others have gaps.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Self

import numpy as np

from fillwork.symmetry.faces.measures import LONG

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.symmetry.zones.runs import Run

# sine of the angle up to which lines are parallel
PARALLEL = 0.03
# gaps of one width that rows of a pattern have, and nested frames have not
_MANY_ROWS = 6
# the same of walls between cells of one strip, and of all gaps between them
_MANY_WALLS, _OF_WALLS = 5, 0.7
# such widths, from which a gap is no row but a field with borders on both sides
_FIELD_WIDE = 3.0
# share of its extent that a frame line fills
_SOLID = 0.9
# how much farther a line reaches than most rows beside it that is none of them, and
# share of rows without gaps below which one without is none
_OUTREACHES, _FEW_SOLID = 2.0, 0.5
# how much smaller the regions beside it are than those of most rows then
_FINER = 0.5
# rows that may be missing between two of a pattern, and one
_MISSING = 4
# share of the meetings on a line of nested frames where lines go straight on across it
_CLEAR = 0.3
# share of gaps by which lines of nested frames are shorter at both ends
_NESTED = 0.8
# roots of the median area from which three gaps of one width are those of fields
_ROWS_APART = 6.0
# circles of one size that are no frames from so many on, by how much they may differ,
# and what those hold that may be, in median areas
_MANY_RINGS, _LIKE_RINGS, _HOLDS = 5, 0.05, 12.0
# how many of them touch or are one, where they are polygons
_TOUCHING = 2
# share of the faces along a row of a pattern that return on its other side
_SIDES_ALIKE = 0.3


def without_rings(frames: list[Run], unit: float) -> list[Run]:
    """Leave out many circles of one size that hold little or touch each other.

    They are beads of a border or rings of a pattern; medallions are large, or few.
    """
    rings = [r for r in frames if r.round]
    radius = np.array([r.radius for r in rings])
    centre = np.array([r.centre for r in rings]).reshape(-1, 2)
    dropped: set[int] = set()
    for k, ring in enumerate(rings):
        like = np.abs(radius - ring.radius) < _LIKE_RINGS * ring.radius
        if like.sum() < _MANY_RINGS:
            continue
        away = np.sort(np.hypot(*(centre[like] - ring.centre).T))[1]
        small = np.pi * ring.radius**2 < _HOLDS * unit**2
        if small or away < (2 + _LIKE_RINGS) * ring.radius:
            dropped.add(k)
    return [r for r in frames if not r.round] + [
        r for k, r in enumerate(rings) if k not in dropped
    ]


def without_rows(frames: list[Run], unit: float) -> list[Run]:
    """Leave out parallel lines at equal distances: they belong to a pattern."""
    lines = [r for r in frames if not r.round]
    drop: set[int] = set()
    direction = np.array([r.direction for r in lines]).reshape(-1, 2)
    for k, lead in enumerate(lines):
        normal = np.array([-lead.direction[1], lead.direction[0]])
        family = np.flatnonzero(np.abs(direction @ normal) < PARALLEL)
        if len(family) < 4 or family[0] != k:
            continue
        drop.update(_walls(lines, family, lead.direction, unit))
        rows = _Rows.of(lines, family, lead.direction, unit)
        for at in (*_by_turns(rows, unit), *_equal(rows, unit)):
            drop.update(rows.line[np.isin(rows.row, at)].tolist())
    dropped = {id(lines[k]) for k in drop}
    return [r for r in frames if id(r) not in dropped]


@dataclass(frozen=True, slots=True, eq=False)
class _Rows:
    """Hold parallel lines as rows, from one side to the other.

    Lines in line with each other lie in one row, but not those side by side.
    """

    line: Ints  # lines, row by row
    row: Ints  # the row of each
    low: Floats  # (n,): where each row begins, mm
    high: Floats  # and where it ends
    gap: Floats  # (n - 1,): from row to row, mm
    solid: Bools  # (n,): no gap in it, as rows of a pattern in a slanted square have
    lone: Bools  # no lines cross it, as they cross rows that end at a frame aslant
    mirrored: Bools  # with faces that return on its other side
    beside: Floats  # the unit of the faces beside it, mm

    @classmethod
    def of(cls, lines: list[Run], family: Ints, along: Floats, unit: float) -> Self:
        """Return the rows of parallel lines; `along`: their direction."""
        centre = np.array([lines[k].centre for k in family])
        offset = centre @ np.array([-along[1], along[0]])
        order = np.argsort(offset, kind="stable")
        family, offset = family[order], offset[order]
        own = [lines[k] for k in family]
        ends = np.array([line.ends @ along for line in own])
        start, stop = ends.min(axis=1), ends.max(axis=1)
        shared = np.minimum(stop[1:], stop[:-1]) - np.maximum(start[1:], start[:-1])
        apart = (np.diff(offset) > 0.15 * unit) | (shared > unit)
        row = np.concatenate([[0], np.cumsum(apart)])
        first = np.flatnonzero(np.diff(row, prepend=-1))
        low = np.minimum.reduceat(start, first)
        high = np.maximum.reduceat(stop, first)
        length = np.add.reduceat([line.length for line in own], first)
        crossed = np.maximum.reduceat([line.crossed for line in own], first)
        alike = np.maximum.reduceat([line.alike for line in own], first)
        return cls(
            line=family,
            row=row,
            low=low,
            high=high,
            gap=np.diff(offset[first]),
            solid=length > _SOLID * (high - low),
            lone=crossed < _CLEAR,
            mirrored=alike >= _SIDES_ALIKE,
            beside=np.minimum.reduceat([line.unit for line in own], first),
        )

    @property
    def clear(self) -> Bools:
        """Return which gaps lie beside a row that no lines cross, (n - 1,)."""
        return np.asarray(self.lone[1:] | self.lone[:-1])

    @property
    def level(self) -> Bools:
        """Return across which gaps rows begin or end alike, (n - 1,)."""
        shrinks = np.minimum(np.abs(np.diff(self.low)), np.abs(np.diff(self.high)))
        return np.asarray(shrinks < 0.5 * self.gap)

    @property
    def nested(self) -> Bools:
        """Return which gaps may be those of nested frames, (n - 1,).

        Their lines are shorter and shorter, by the gap at either end.
        """
        inset = [
            np.abs(np.abs(np.diff(end)) - self.gap) < 0.1 * self.gap
            for end in (self.low, self.high)
        ]
        solid = self.solid[1:] & self.solid[:-1]
        return np.asarray(inset[0] & inset[1] & solid & self.clear)


def _by_turns(rows: _Rows, unit: float) -> Iterator[Ints]:
    """Yield rows of a pattern that lie by turns nearer and farther apart."""
    pair = rows.gap[:-1] + rows.gap[1:]
    crossed = ~rows.clear[:-1] & ~rows.clear[1:]
    for width in np.unique(pair[pair > 2.4 * unit]):
        alike = np.abs(pair - width) < max(0.15 * unit, 0.04 * width)
        at = np.flatnonzero(alike & crossed)
        if len(at) >= _MANY_ROWS:
            yield np.concatenate([at, at + 1, at + 2])


def _equal(rows: _Rows, unit: float) -> Iterator[Ints]:
    """Yield rows of a pattern that lie at equal distances.

    They are many, or three in a row: the sides of nested frames are far apart, and
    those of fields side by side farther than rows of a pattern.
    """
    gap, clear, nested = rows.gap, rows.clear, rows.nested
    # the regions on both sides of fields' lines are unlike
    beside = rows.level & (gap < _ROWS_APART * unit)
    beside &= rows.mirrored[1:] | rows.mirrored[:-1]
    for width in np.unique(gap[gap > 1.2 * unit]):
        slack = max(0.15 * unit, 0.04 * width)
        alike = np.abs(gap - width) < slack
        # a medallion cuts rows, and too little is left of some
        steps = np.rint(gap / width)
        missing = (np.abs(gap - steps * width) < slack) & (steps <= _MISSING)
        if (alike & ~clear).any():
            alike |= missing & (steps > 0) & ~clear
        # a field between parts those of the border on its two sides
        side = np.cumsum(gap > _FIELD_WIDE * width)
        many = np.bincount(side[alike]).max() >= _MANY_ROWS
        if many and nested[alike].mean() <= _NESTED:
            at = np.flatnonzero(alike)
        else:
            three = alike & beside
            at = np.flatnonzero(three[:-2] & three[1:-1] & three[2:])
            at = np.union1d(at, at + 2)
        if len(at):
            at = np.union1d(at, at + 1)
            yield at[~(_other_than_rows(rows, at, unit) & rows.solid[at])]


def _other_than_rows(rows: _Rows, at: Ints, unit: float) -> Bools:
    """Return which rows lie by chance as far from the next as those of a pattern."""
    low, high, mirrored = rows.low[at], rows.high[at], rows.mirrored[at]
    other = high - low > _OUTREACHES * np.median(rows.high - rows.low)
    other |= _reaches_out(low, high, unit)
    other |= (rows.beside[at] < _FINER * np.median(rows.beside[at])) & ~mirrored
    # the last of rows that are alike on both sides of the others
    last = ((at == at[0]) | (at == at[-1])) & rows.lone[at]
    other |= last & ~mirrored & (np.mean(mirrored) > 0.5)
    other |= np.mean(rows.solid) < _FEW_SOLID
    return np.asarray(other)


def _reaches_out(low: Floats, high: Floats, unit: float) -> Bools:
    """Return which of some parallel lines go on at both ends, where most end as one.

    `low` and `high`: where each begins and ends, mm.
    """
    before, beyond = np.median(low) - low, high - np.median(high)
    as_one = (np.abs(before) < 0.5 * unit) & (np.abs(beyond) < 0.5 * unit)
    out = (before > 0.5 * unit) & (beyond > 0.5 * unit)
    return np.asarray(out & (as_one.mean() > 0.5), bool)


def _walls(frames: list[Run], family: Ints, along: Floats, unit: float) -> list[int]:
    """Return which of some parallel lines are walls between cells of one strip.

    They reach from one side of it to the other, at equal distances.
    """
    across = np.array([-along[1], along[0]])
    ends = np.array([np.sort(frames[k].ends @ along) for k in family])
    offset = np.array([frames[k].centre @ across for k in family])
    found: list[int] = []
    slack = 0.3 * unit
    for low, high in np.unique(np.round(ends / slack), axis=0):
        own = np.flatnonzero(
            (np.abs(ends - slack * np.array([low, high])) <= slack).all(axis=1)
        )
        if len(own) < _MANY_WALLS:
            continue
        own = own[np.argsort(offset[own], kind="stable")]
        gap = np.diff(offset[own])
        usual = float(np.median(gap))
        # courses of a field reach farther than they lie apart
        if gap.sum() < LONG * slack * (high - low):
            continue
        alike = np.abs(gap - usual) < max(0.15 * unit, 0.04 * usual)
        if usual > 0.5 * unit and alike.sum() >= max(_MANY_WALLS, _OF_WALLS * len(gap)):
            at = np.flatnonzero(alike)
            found += family[own[np.union1d(at, at + 1)]].tolist()
    return found


def without_cells(lines: list[Run], loops: list[list[int]]) -> list[list[int]]:
    """Leave out many loops of one size that touch each other, as rings that do.

    They are cells of a pattern. `loops`: of each the lines by their place among
    `lines`.
    """
    size = np.array([sum(lines[k].length for k in loop) for loop in loops])
    middle = np.array(
        [np.mean([lines[k].centre for k in loop], axis=0) for loop in loops]
    ).reshape(-1, 2)
    kept = []
    for k, loop in enumerate(loops):
        like = np.abs(size - size[k]) < _LIKE_RINGS * size[k]
        away = np.hypot(*(middle - middle[k]).T)
        touching = like & (away < (1 + _LIKE_RINGS) * size[k] / np.pi)
        if like.sum() < _MANY_RINGS or touching.sum() < _TOUCHING:
            kept.append(loop)
    return kept
