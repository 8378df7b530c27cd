"""Faces that translations carry onto each other.

Faces are compared by centre, root of the area and boundary length. Two faces of
one drawing do not overlap, so a face that lies where another is expected, and
is about as large, is that other one: the slack may be half the radius of the
circle inscribed in it, and noise far below that does not matter.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.parts import part_numbers
from fillwork.geometry.ranges import expand_ranges

if TYPE_CHECKING:
    from fillwork.arrays import AnyInts, Bools, Floats, Ints
    from fillwork.symmetry.faces.measures import FaceMeasures
    from fillwork.symmetry.quotient import Quotient


# how much of the size and of the boundary length may differ between like faces
_SIZE_SHARE = 0.08
_LENGTH_SHARE = 0.08
# beyond this many faces the last ones are not compared pair by pair
_PAIRWISE = 6000
# cells that places are filed in, across a drawing at most
_ACROSS = 1 << 20
_WIDER = 1 + 1e-6  # what is filed, for rounding


@dataclass(frozen=True, slots=True, eq=False)
class Marks:
    """Hold what faces are compared by, with the slack of each."""

    xy: Floats  # (m, 2): centres, mm
    # size and length, (m,): root of the area and boundary length, mm
    size: Floats
    length: Floats
    # reach, size_slack and length_slack, (m,): largest differences of centre, size and
    # length, mm
    reach: Floats
    size_slack: Floats
    length_slack: Floats

    def __len__(self) -> int:
        return len(self.size)

    def moved(self, linear: Floats, shift: Floats) -> Marks:
        """Return the marks of the faces carried elsewhere by an isometry.

        `linear` (2, 2): linear part of the isometry. `shift` (2,), mm: what it adds.
        """
        return Marks(
            self.xy @ linear.T + shift,
            self.size,
            self.length,
            self.reach,
            self.size_slack,
            self.length_slack,
        )

    def take(self, index: AnyInts | Bools) -> Marks:
        """Return the chosen rows."""
        return Marks(
            self.xy[index],
            self.size[index],
            self.length[index],
            self.reach[index],
            self.size_slack[index],
            self.length_slack[index],
        )


def marks_of_faces(
    measures: FaceMeasures, faces: AnyInts, quotient: Quotient, noise: float
) -> Marks:
    """Return what faces are compared by; one row a face.

    `faces`: the faces to compare. `noise`: how far lines stray from their places, mm.
    """
    size = measures.size[faces]
    length = measures.length[faces]
    reach = 0.5 * measures.inscribed[faces] + 3.0 * noise
    if len(quotient.basis):
        shortest = float(np.linalg.norm(quotient.basis, axis=1).min())
        reach = np.minimum(reach, 0.2 * shortest)
    safe = np.maximum(size, 1e-300)
    # a boundary that strays by d changes the area by at most d times its length
    stray = noise * length / (2.0 * safe)
    return Marks(
        measures.centroid[faces],
        size,
        length,
        np.maximum(reach, 1e-300),
        np.maximum(_SIZE_SHARE * size + np.minimum(1.5 * stray, 0.2 * size), 1e-300),
        np.maximum(_LENGTH_SHARE * length + 4.0 * noise, 1e-300),
    )


def _octave(size: Floats) -> Ints:
    return np.frexp(size)[1].astype(np.int64)


class _Cells:
    """Places filed by size, and those of a size by the cells of a square grid.

    Each is filed under all sizes and cells at which one that lies on it may stand, so
    that who asks looks into one cell, however many places there are.
    """

    def __init__(self, xy: Floats, marks: Marks) -> None:
        # row by row where places lie, and what may lie on them
        slack = marks.size_slack * _WIDER
        low = _octave(np.maximum(marks.size - slack, 1e-300))
        owner, octave = expand_ranges(low, _octave(marks.size + slack) - low + 1)
        self._lowest = int(octave.min())
        octave = octave - self._lowest
        reach = marks.reach.take(owner) * _WIDER
        # a square of half side `reach` about a place meets two cells each way at most
        widest = np.zeros(int(octave.max()) + 1)
        np.maximum.at(widest, octave, reach)
        self._corner = xy.min(axis=0)
        least = max(float(np.ptp(xy, axis=0).max()) / _ACROSS, 1e-300)
        self._side = np.maximum(2.0 * _WIDER * widest, least)
        a, b, c, d = (
            self._keys(xy.take(owner, axis=0) + [dx, dy] * reach[:, None], octave)
            for dx in (-1.0, 1.0)
            for dy in (-1.0, 1.0)
        )
        # two corners in one cell count once
        fresh = np.concatenate([a == a, b != a, c != a, (d != b) & (d != c)])
        corner = np.flatnonzero(fresh)
        key = np.concatenate([a, b, c, d]).take(corner)
        order = np.argsort(key, kind="stable")
        self._member = owner.take(corner.take(order) % len(owner))
        key = key.take(order)
        start = np.flatnonzero(np.append(True, key[1:] != key[:-1]))
        self._key, self._start = key.take(start), np.append(start, len(key))

    def _keys(self, xy: Floats, octave: Ints) -> Ints:
        """Return one number for the size and the cell of each point."""
        side = self._side.take(octave)
        key = octave
        for k in (0, 1):
            at = np.floor((xy[:, k] - self._corner[k]) / side) + 2.0
            # what lies beyond all places is in a row of cells that holds none
            at = at.clip(0.0, _ACROSS + 3.0)
            key = key * (_ACROSS + 4) + at.astype(np.int64)
        return key

    def near(self, xy: Floats, size: Floats) -> tuple[Ints, Ints]:
        """Return pairs of points and places; all that may lie on each other are there.

        `xy` (m, 2) and `size` (m,), mm: the points and how large what lies there is.
        Pairs ascend by their points.
        """
        octave = _octave(size) - self._lowest
        known = (octave >= 0) & (octave < len(self._side))
        key = self._keys(xy, np.where(known, octave, 0))
        at = np.minimum(np.searchsorted(self._key, key), len(self._key) - 1)
        point = np.flatnonzero(known & (self._key.take(at) == key))
        at = at.take(point)
        start = self._start.take(at)
        row, place = expand_ranges(start, self._start.take(at + 1) - start)
        return point.take(row), self._member.take(place)


class Matcher:
    """Find which of some reference places faces lie on.

    `references`: the reference faces. `quotient`: lattice and operations.
    """

    def __init__(self, references: Marks, quotient: Quotient) -> None:
        self._quotient = quotient
        self._references = references
        reach = float(references.reach.max(initial=0.0))
        folded = quotient.fold(references.xy)
        shifts = quotient.copies(reach)
        rows = np.tile(np.arange(len(references)), len(shifts))
        spread = (shifts[:, None, :] + folded[None]).reshape(-1, 2)
        if len(quotient.basis):
            along = spread @ quotient.inverse_basis
            width = 1.0 / np.linalg.norm(quotient.inverse_basis, axis=0)
            slack = reach / width
            near = ((along > -slack) & (along < 1.0 + slack)).all(axis=1)
            spread, rows = spread[near], rows[near]
        self._rows = rows
        self._spread = spread
        if len(rows):
            self._cells = _Cells(spread, references.take(rows))

    def match(self, marks: Marks) -> Ints:
        """Return the reference that each face lies on; row of the references, or -1."""
        found = np.full(len(marks), -1, dtype=np.int64)
        if len(marks) == 0 or len(self._rows) == 0:
            return found
        folded = self._quotient.fold(marks.xy)
        mark, near = self._cells.near(folded, marks.size)
        row = self._rows.take(near)
        ref = self._references
        gap = np.hypot(
            *(self._spread[:, k].take(near) - folded[:, k].take(mark) for k in range(2))
        )
        a, b, c = (
            apart / np.minimum(theirs.take(row), own.take(mark))
            for apart, theirs, own in (
                (gap, ref.reach, marks.reach),
                (
                    np.abs(ref.size.take(row) - marks.size.take(mark)),
                    ref.size_slack,
                    marks.size_slack,
                ),
                (
                    np.abs(ref.length.take(row) - marks.length.take(mark)),
                    ref.length_slack,
                    marks.length_slack,
                ),
            )
        )
        fits = np.flatnonzero((a <= 1) & (b <= 1) & (c <= 1))
        score = (a * a + b * b + c * c).take(fits)
        mark, row = mark.take(fits), row.take(fits)
        if not (mark[1:] > mark[:-1]).all():
            order = np.lexsort((row, score, mark))
            mark, row = mark.take(order), row.take(order)
            first = np.ones(len(mark), bool)
            first[1:] = mark[1:] != mark[:-1]
            mark, row = mark[first], row[first]
        found[mark] = row
        return found


def place_classes(marks: Marks, quotient: Quotient, inner: Bools) -> Ints:
    """Return the translation class of each face.

    `inner` (m,): faces that surely are whole; they lead. Returns (m,): class numbers
    from 0.

    The faces of one unit cell serve as references for all others, so that the
    work is that of one look-up a face. Faces that match none of them are
    referred to another cell, and the last few compared pair by pair.
    """
    count = len(marks)
    labels = np.full(count, -1, dtype=np.int64)
    if len(quotient.basis) == 0:
        return np.arange(count)
    used = 0
    middle = np.median(marks.xy, axis=0) if count else np.zeros(2)
    along = np.rint((marks.xy - middle) @ quotient.inverse_basis).astype(np.int64)
    _, cell = np.unique(along, axis=0, return_inverse=True)
    cell = cell.ravel()
    spread = np.linalg.norm(along @ quotient.basis, axis=1)
    for _ in range(200):
        todo = np.flatnonzero(labels < 0)
        if len(todo) == 0:
            return labels
        leaders = todo[inner[todo]]
        if len(leaders) == 0:
            if len(todo) <= _PAIRWISE:
                break
            leaders = todo
        tally = np.bincount(cell[leaders])
        full = np.flatnonzero(tally == tally.max())
        # of equally full cells the one nearest to the middle
        first = np.full(len(tally), np.inf)
        np.minimum.at(first, cell[leaders], spread[leaders])
        chosen = full[np.argmin(first[full])]
        leaders = leaders[cell[leaders] == chosen]
        group = _pairwise(marks.take(leaders), quotient)
        _, head = np.unique(group, return_index=True)
        leaders = leaders[head]
        hit = Matcher(marks.take(leaders), quotient).match(marks.take(todo))
        labels[todo] = np.where(hit >= 0, hit + used, -1)
        labels[leaders] = used + np.arange(len(leaders))
        used += len(leaders)
    todo = np.flatnonzero(labels < 0)
    if len(todo) > _PAIRWISE:
        labels[todo] = used + np.arange(len(todo))
    elif len(todo):
        labels[todo] = used + _pairwise(marks.take(todo), quotient)
    return labels


def _pairwise(marks: Marks, quotient: Quotient) -> Ints:
    m = len(marks)
    rows: list[Ints] = []
    columns: list[Ints] = []
    for first in range(0, m, 256):
        last = min(first + 256, m)
        offset = quotient.nearest(marks.xy[first:last, None] - marks.xy[None])
        close = (
            (
                np.linalg.norm(offset, axis=2)
                <= np.minimum.outer(marks.reach[first:last], marks.reach)
            )
            & (
                np.abs(np.subtract.outer(marks.size[first:last], marks.size))
                <= np.minimum.outer(marks.size_slack[first:last], marks.size_slack)
            )
            & (
                np.abs(np.subtract.outer(marks.length[first:last], marks.length))
                <= np.minimum.outer(marks.length_slack[first:last], marks.length_slack)
            )
        )
        i, j = np.nonzero(close)
        rows.append(i + first)
        columns.append(j)
    if not rows:
        return np.zeros(0, dtype=np.int64)
    i, j = np.concatenate(rows), np.concatenate(columns)
    return part_numbers(i, j, m)


def class_means(marks: Marks, labels: Ints, quotient: Quotient, inner: Bools) -> Marks:
    """Return the mean marks of each class; one row a class.

    `labels` (m,): class of each face, numbers from 0 without gaps. `inner` (m,): faces
    that surely are whole: where a class has some, only they count.
    """
    classes = int(labels.max(initial=-1)) + 1
    some = np.bincount(labels, inner, classes) > 0
    weight = np.where(some[labels], inner, True).astype(np.float64)
    total = np.bincount(labels, weight, classes)
    _, head = np.unique(labels, return_index=True)

    def mean(values: Floats) -> Floats:
        """Return the weighted mean of each class."""
        return np.bincount(labels, values * weight, classes) / total

    start = quotient.fold(marks.xy)[head]
    offset = quotient.nearest(marks.xy - start[labels])
    middle = start + np.column_stack([mean(offset[:, 0]), mean(offset[:, 1])])
    return Marks(
        middle,
        mean(marks.size),
        mean(marks.length),
        mean(marks.reach),
        mean(marks.size_slack),
        mean(marks.length_slack),
    )
