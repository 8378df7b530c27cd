"""Faces that translations carry onto each other.

Faces are compared by centre, root of the area and boundary length. Two faces of
one drawing do not overlap, so a face that lies where another is expected, and
is about as large, is that other one: the slack may be half the radius of the
circle inscribed in it, and noise far below that does not matter.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fillwork.geometry.parts import part_numbers
from fillwork.geometry.ranges import expand_ranges

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.symmetry.faces.measures import FaceMeasures
    from fillwork.symmetry.quotient import Quotient


# how much of the size and of the boundary length may differ between like faces
_SIZE_SHARE = 0.08
_LENGTH_SHARE = 0.08
# beyond this many faces the last ones are not compared pair by pair
_PAIRWISE = 6000
# references in an upright strip about a place, in the mean, that are gone through
_IN_STRIPS = 32


@dataclass(frozen=True, slots=True, eq=False)
class Marks:
    """Hold what faces are compared by, with the slack of each."""

    xy: NDArray[np.float64]  # (m, 2): centres, mm
    # size and length, (m,): root of the area and boundary length, mm
    size: NDArray[np.float64]
    length: NDArray[np.float64]
    # reach, size_slack and length_slack, (m,): largest differences of centre, size and
    # length, mm
    reach: NDArray[np.float64]
    size_slack: NDArray[np.float64]
    length_slack: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.size)

    def moved(self, linear: NDArray[np.float64], shift: NDArray[np.float64]) -> Marks:
        """Return the marks of the faces carried elsewhere by an isometry.

        `linear` (2, 2): linear part of the isometry. `shift` (2,), mm: what it adds.
        """
        return replace(self, xy=self.xy @ linear.T + shift)

    def take(self, index: NDArray[np.integer] | NDArray[np.bool_]) -> Marks:
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
    measures: FaceMeasures,
    faces: NDArray[np.integer],
    quotient: Quotient,
    noise: float,
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
        order = np.argsort(spread[:, 0], kind="stable")
        self._rows = rows.take(order)
        self._spread = spread.take(order, axis=0)
        self._x = self._spread[:, 0].copy()
        self._tree: Any = None  # made when first needed

    def _near(
        self, folded: NDArray[np.float64], reach: NDArray[np.float64]
    ) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Return pairs of places and references; all within reach are among them."""
        x, y = folded[:, 0], folded[:, 1]
        reach = reach * (1 + 1e-9)
        low = np.searchsorted(self._x, x - reach, "left")
        count = np.searchsorted(self._x, x + reach, "right") - low
        # few stand in the upright strip about a place, so that a tree costs more
        if int(count.sum()) <= _IN_STRIPS * (len(folded) + _IN_STRIPS):
            mark, near = expand_ranges(low, count)
            apart = np.abs(self._spread[:, 1].take(near) - y.take(mark))
            level = np.flatnonzero(apart <= reach.take(mark))
            return mark.take(level), near.take(level)
        if self._tree is None:
            self._tree = shapely.STRtree(np.asarray(shapely.points(self._spread)))
        mark, near = self._tree.query(
            shapely.points(folded), predicate="dwithin", distance=reach
        )
        return mark, near

    def match(self, marks: Marks) -> NDArray[np.int64]:
        """Return the reference that each face lies on; row of the references, or -1."""
        if len(marks) == 0 or len(self._rows) == 0:
            return np.full(len(marks), -1, dtype=np.int64)
        folded = self._quotient.fold(marks.xy)
        mark, near = self._near(folded, marks.reach)
        row = self._rows.take(near)
        ref = self._references
        gap = np.hypot(*(self._spread.take(near, axis=0) - folded.take(mark, axis=0)).T)
        size_slack = np.minimum(ref.size_slack[row], marks.size_slack[mark])
        length_slack = np.minimum(ref.length_slack[row], marks.length_slack[mark])
        a = gap / np.minimum(ref.reach[row], marks.reach[mark])
        b = np.abs(ref.size[row] - marks.size[mark]) / size_slack
        c = np.abs(ref.length[row] - marks.length[mark]) / length_slack
        fits = (a <= 1) & (b <= 1) & (c <= 1)
        score = (a * a + b * b + c * c)[fits]
        mark, row = mark[fits], row[fits]
        order = np.lexsort((row, score, mark))
        mark, row = mark.take(order), row.take(order)
        first = np.ones(len(mark), bool)
        first[1:] = mark[1:] != mark[:-1]
        found = np.full(len(marks), -1, dtype=np.int64)
        found[mark[first]] = row[first]
        return found


def place_classes(
    marks: Marks, quotient: Quotient, inner: NDArray[np.bool_]
) -> NDArray[np.int64]:
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
    cell = cell.reshape(-1)
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


def _pairwise(marks: Marks, quotient: Quotient) -> NDArray[np.int64]:
    m = len(marks)
    rows: list[NDArray[np.int64]] = []
    columns: list[NDArray[np.int64]] = []
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


def class_means(
    marks: Marks,
    labels: NDArray[np.int64],
    quotient: Quotient,
    inner: NDArray[np.bool_],
) -> Marks:
    """Return the mean marks of each class; one row a class.

    `labels` (m,): class of each face, numbers from 0 without gaps. `inner` (m,): faces
    that surely are whole: where a class has some, only they count.
    """
    classes = int(labels.max(initial=-1)) + 1
    some = np.bincount(labels, inner, classes) > 0
    weight = np.where(some[labels], inner, True).astype(np.float64)
    total = np.bincount(labels, weight, classes)
    _, head = np.unique(labels, return_index=True)

    def mean(values: NDArray[np.float64]) -> NDArray[np.float64]:
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
