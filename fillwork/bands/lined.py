"""Bands followed by the lines along their middles.

Where a frame leaves too little of a band to know it by its rails, the line along its
middle still tells which band it is: it goes straight on where bands cross, and faces
another one in line where its band passes under.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.bands.model import BAND, GROUND, BandStrand
from fillwork.geometry.parts import part_numbers
from fillwork.geometry.ranges import distinct

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Floats, Ints
    from fillwork.bands.model import Bands


# what lies along a middle line is no broader than its band by more, in widths
_BROADER = 1.25


@dataclass(frozen=True, slots=True, eq=False)
class Bare:
    """Hold a drawing without its middle lines, and where those ran."""

    merged: Arrangement  # the drawing without them
    into: Ints  # (F,): face there that holds each face of the drawing
    halves: Floats  # widths of halves beside middle lines, ascending, mm
    face: Ints  # face, line and size, (n,): which lines run in faces there, and how far
    line: Ints
    size: Floats
    facing: Ints  # (m, 2): lines that face each other in line


def follow_middle_lines(bands: Bands, bare: Bare) -> Bands:
    """Return strands, in the bare drawing, with all that lies along their middle lines.

    A strand most of which lies along a line of another one is a part of that; a line
    that runs along no strand is one.
    """
    part, strand = bands.part.copy(), bands.strand.copy()
    count = len(bands.strands)
    lone = np.bincount(bare.face, minlength=len(part))[bare.face] == 1
    known = lone & (part[bare.face] == BAND) & (strand[bare.face] >= 0)
    rows = np.flatnonzero(known)
    lines = 1 + int(np.r_[bare.line, bare.facing.reshape(-1)].max(initial=-1))
    key = bare.line[rows], strand[bare.face[rows]]
    name = _most(*key, bare.size[rows], lines)
    of_strand = _most(*key[::-1], bare.size[rows], count)
    some = np.flatnonzero(of_strand >= 0)
    group = part_numbers(some, name[of_strand[some]], count)
    name = _led_on(np.where(name >= 0, group[name], -1), bare.facing)
    fresh = np.flatnonzero(name < 0)
    one, other = (np.searchsorted(fresh, bare.facing[:, k]) for k in (0, 1))
    open_ = name[bare.facing[:, 0]] < 0  # and so is the other one
    name[fresh] = count + part_numbers(one[open_], other[open_], len(fresh))
    strand = np.where(strand >= 0, group[strand], -1)
    # the ground may have such a line across it
    mean = float(np.median([s.width for s in bands.strands]))
    wide = np.full(int(name.max(initial=-1)) + 1 + count, mean)
    wide[group] = [s.width for s in bands.strands]
    area = np.abs(bare.merged.area[bare.face])
    named = name[bare.line]
    most = _BROADER * wide[named] * (bare.size + wide[named])
    rows = np.flatnonzero(lone & (area <= most) & (strand[bare.face] != named))
    rows = rows[(part[bare.face[rows]] == GROUND) | (named[rows] < count)]
    taken = part[bare.face[rows]] == GROUND
    part[bare.face[rows]], strand[bare.face[rows]] = BAND, named[rows]
    through = bands.through.copy()
    through[:, 1:] = group[through[:, 1:]]
    more = np.zeros(len(wide))
    np.add.at(more, named[rows[taken]], bare.size[rows[taken]])
    kept = replace(bands, part=part, strand=strand, through=through)
    return _renumbered(kept, group, wide, more)


def _most(row: Ints, column: Ints, weight: Floats, rows: int) -> Ints:
    """Return the column of the greatest weight in each row, -1 where there is none."""
    columns = int(column.max(initial=-1)) + 1
    key, back = np.unique(row * max(columns, 1) + column, return_inverse=True)
    total = np.bincount(back.reshape(-1), weight, len(key)).round(9)
    found = np.full(rows, -1, np.int64)
    order = np.lexsort((-key, total))
    found[key[order] // max(columns, 1)] = key[order] % max(columns, 1)
    return found


def _led_on(name: Ints, facing: Ints) -> Ints:
    """Return names of lines, those without one taking that of a line they face."""
    pairs = np.concatenate([facing, facing[:, ::-1]])
    while True:
        fresh = pairs[(name[pairs[:, 0]] >= 0) & (name[pairs[:, 1]] < 0)]
        if not len(fresh):
            return name
        name[fresh[::-1, 1]] = name[fresh[::-1, 0]]


def _renumbered(bands: Bands, group: Ints, wide: Floats, more: Floats) -> Bands:
    """Return strands by falling length, those of a group as one.

    `group`: of each strand. `wide`, `more`: width and length that is new of each, mm.
    """
    length = more.copy()
    np.add.at(length, group, [s.length for s in bands.strands])
    closed = np.zeros(len(length), bool)
    closed[group] = [s.closed for s in bands.strands]
    closed &= np.bincount(group, minlength=len(length)) == 1
    some = bands.strand[bands.strand >= 0]
    left = distinct(np.r_[some, bands.through[:, 1:].reshape(-1)])
    order = left[np.lexsort((left, -length[left].round(6)))]
    rank = np.full(len(length), -1, np.int64)
    rank[order] = np.arange(len(order))
    through = bands.through.copy()
    through[:, 1:] = np.sort(rank[through[:, 1:]], axis=1)
    return replace(
        bands,
        strand=np.where(bands.strand >= 0, rank[bands.strand], -1),
        through=through,
        strands=tuple(
            BandStrand(float(length[k]), bool(closed[k]), float(wide[k])) for k in order
        ),
    )
