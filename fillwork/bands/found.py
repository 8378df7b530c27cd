"""Strapwork found in a drawing that comes as bands.

With or without lines along the middle of its bands: pieces by their shape, which of
them hold, and the chains that they form.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.bands.chains import CROSSINGS, SLENDER, Chains
from fillwork.bands.lined import follow_middle_lines
from fillwork.bands.links import Pieces
from fillwork.bands.middles import without_middle_lines
from fillwork.bands.model import GROUND
from fillwork.bands.pieces import read_faces
from fillwork.bands.runs import find_runs
from fillwork.geometry.parts import part_numbers

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Bools
    from fillwork.bands.lined import Bare
    from fillwork.bands.model import Bands


# a band is twice as wide as halves beside its middle line, which may be off by so much;
# so many of its strands are
_HALF, _MOST = 0.15, 0.6


def find_bands(
    arrangement: Arrangement,
    *,
    width: float | None = None,
    kind_of_face: AnyInts | None = None,
    cut: Bools | None = None,
) -> Bands | None:
    """Return the strands of strapwork that a drawing shows, if it does.

    None where nothing looks like strapwork. `width`: width of the bands, mm, when it is
    known: then nothing else is a band, and the least evidence counts. `kind_of_face`
    (F,): kind of each face, -1 for none. What most faces of a kind are, all are. `cut`
    (F,): which faces a frame or the page cuts.

    Time is n log n in the number of sides; where most faces are no pieces it is
    little more than that of finding corners.
    """
    runs = find_runs(arrangement)
    readings = read_faces(arrangement, runs)
    bare = without_middle_lines(arrangement, runs, readings)
    if bare is not None:
        found = _in_halves(bare, width, kind_of_face, cut)
        if found is not None:
            return found
    if width is not None:
        close = np.abs(readings.width - width) <= 0.15 * width
        readings = readings.take(np.flatnonzero(close))
    if len(readings.face) < 3 or readings.ring.all():
        return None
    slender = readings.length / readings.width
    if width is None and float(slender.max()) < SLENDER:
        return None  # as in grids of squares, which are many and go on everywhere
    pieces = Pieces(arrangement, runs, readings, cut)
    pieces.settle()
    if not pieces.alive.any():
        return None
    least = 1 if width is not None else CROSSINGS
    return Chains(pieces, kind_of_face, cut).result(least)


def _in_halves(
    bare: Bare, width: float | None, kind: AnyInts | None, cut: Bools | None
) -> Bands | None:
    """Return what is strapwork for certain without middle lines, in all its halves."""
    merged, into, halves = bare.merged, bare.into, bare.halves
    if kind is not None:
        # kinds of halves that lie in one piece are one kind
        own = np.asarray(kind, np.int64) + 1
        order = np.argsort(into, kind="stable")
        pair = np.flatnonzero(np.diff(into[order]) == 0)
        one, other = order[pair], order[pair + 1]
        known = (into[one] > 0) & (own[one] > 0) & (own[other] > 0)
        one, other = own[one[known]], own[other[known]]
        as_one = part_numbers(one, other, int(own.max()) + 1)
        kind = np.full(merged.face_count, -1, np.int64)
        kind[into] = np.where(own > 0, as_one[own], -1)
        kind[0] = -1
    if cut is not None:
        parts, cut = cut, np.zeros(merged.face_count, bool)
        cut[into[parts]] = True
    bands = find_bands(merged, width=width, kind_of_face=kind, cut=cut)
    if bands is None or not bands.sure:
        return None
    # bands that middle lines run along, not strips that they part
    wide = np.array([s.width for s in bands.strands]) / 2
    low = np.searchsorted(halves, (1 - _HALF) * wide)
    twice = np.searchsorted(halves, (1 + _HALF) * wide, "right") > low
    if twice.mean() < _MOST:
        return None
    bands = follow_middle_lines(bands, bare)
    bands.strand[0], bands.part[0] = -1, GROUND
    through = np.zeros((merged.face_count, 2), np.int64) - 1
    through[bands.through[:, 0]] = bands.through[:, 1:]
    face = np.flatnonzero(through[into, 0] >= 0)
    return replace(
        bands,
        strand=bands.strand[into],
        part=bands.part[into],
        through=np.column_stack([face, through[into[face]]]),
    )
