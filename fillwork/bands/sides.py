"""Sides of lines on which bands run.

A rail is a line that goes straight on where others cross it, and on one of its sides
runs one band from end to end. Once most pieces are known, each *side* of a line with
a piece on it belongs to the strand of that piece: whatever else lies there, however
little a frame leaves of it, is of this strand as well, and what lies on sides of two
strands is where they cross.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.bands.runs import outside, rails_of, stretch_lengths, tangents
from fillwork.bands.strands import straight_on
from fillwork.geometry.parts import components
from fillwork.geometry.ranges import distinct, distinct_pairs, expand_ranges, marked

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Ints
    from fillwork.bands.links import Pieces


# a side has bands on so much more of its length than the other one
_MOST = 0.8


def find_sides(arrangement: Arrangement, crumb: float) -> tuple[Ints, Bools]:
    """Return the side of a line on which each half-edge has its face.

    `crumb`: edges shorter than this are a fault of the hand, and their ends one, mm.
    Returns `side` (2 E,): the same number all along one side of a line that goes
    straight on; `ends` (2 E,): which half-edges arrive where their line ends.
    """
    half = np.arange(2 * arrangement.edge_count)
    origin = arrangement.origin.astype(np.int64)
    crumbs, one = join_crumbs(arrangement, crumb)
    rows = np.flatnonzero(~np.repeat(crumbs, 2))
    leaving, _ = tangents(arrangement, rows)
    heading = np.arctan2(leaving[:, 1], leaving[:, 0])
    # halves of an edge stay next to each other
    outer = outside(arrangement)[arrangement.face[rows]]
    onward = straight_on(one[origin[rows]], heading, outer)
    following = np.full(len(half), -1, np.int64)
    on = np.flatnonzero(onward >= 0)
    following[rows[on] ^ 1] = rows[onward[on]]
    on = np.flatnonzero(following >= 0)
    return components(on, following[on], len(half)), following < 0


def join_crumbs(arrangement: Arrangement, crumb: float) -> tuple[Bools, Ints]:
    """Return which edges are a fault of the hand, and vertices that they make one.

    `crumb`: edges of lines shorter than this are, and edges between vertices that they
    join, mm. Returns `crumbs` (E,) and `one` (V,): the same number for vertices joined.
    """
    ends = arrangement.origin.astype(np.int64).reshape(-1, 2)
    crumbs = stretch_lengths(arrangement) < crumb
    short = np.flatnonzero(crumbs)
    one = components(ends[short, 0], ends[short, 1], len(arrangement.vertices))
    crumbs |= (one[ends[:, 0]] == one[ends[:, 1]]) & (ends[:, 0] != ends[:, 1])
    return np.asarray(crumbs), one


def share_a_side(side: Ints, rails: tuple[Ints, Ints], a: Ints, b: Ints) -> Bools:
    """Return which readings have a rail on one side of a line.

    `side` (2 E,): of each half-edge. `rails`: readings, and half-edges of rails of
    theirs. `a` and `b` (n,): readings, in pairs. Returns (n,): which pairs do.
    """
    reading, half = rails
    key = distinct(reading * len(side) + side[half])
    owner = key // max(len(side), 1)
    low, high = (np.searchsorted(owner, a, where) for where in ("left", "right"))
    pair, place = expand_ranges(low, high - low)
    sought = b[pair] * len(side) + key[place] % max(len(side), 1)
    at = np.minimum(np.searchsorted(key, sought), len(key) - 1)
    found = np.zeros(len(a), bool)
    found[pair[key[at] == sought]] = True
    return found


def links_by_sides(pieces: Pieces, strand: Ints) -> tuple[Ints, Ints, Ints, Ints]:
    """Return which strands share a side of a line, and faces on sides of strands.

    `strand` (R,): strand of each reading, -1 for none. Returns `one` and `other` (n,):
    strands that are one by a line that both lie on the same side of; `face` and `of`
    (m,): faces, each with a strand on the side of whose rail it lies.
    """
    arrangement, runs, r = pieces.arrangement, pieces.runs, pieces.readings
    half, side = np.arange(2 * arrangement.edge_count), pieces.side
    # a frame has bands of all strands on its side
    frame = np.zeros(len(half), bool)
    outer = runs.half[np.repeat(runs.outer, np.diff(runs.start))]
    frame[side[outer]] = True
    frame[side[outer ^ 1]] = True
    framed = marked(runs.face[runs.outer], arrangement.face_count)
    rows = np.flatnonzero(pieces.alive & ~r.ring & (strand >= 0) & ~framed[r.face])
    rail, of = rails_of(runs, r.caps[rows])
    p, q = (arrangement.vertices[arrangement.origin[h]] for h in (of, of ^ 1))
    size = np.hypot(*(q - p).T)
    long = np.bincount(side[of], size, len(half))
    # beyond a rail is ground: of two sides of a line one at most has a band
    beyond = np.zeros(len(half))
    beyond[side] = long[side[half ^ 1]]
    held = ~frame & (long > _MOST * (long + beyond))
    key = np.stack([side[of], strand[rows[rail >> 1]]], axis=1)
    key = distinct_pairs(key[held[key[:, 0]]])
    same = np.flatnonzero(key[1:, 0] == key[:-1, 0])
    one, other = key[same, 1], key[same + 1, 1]
    name = np.full(len(half), -1, np.int64)
    name[key[:, 0]] = key[:, 1]
    inner = np.flatnonzero((name[side] >= 0) & (arrangement.face > 0))
    found = np.stack([arrangement.face[inner], name[side[inner]]], axis=1)
    face, of = distinct_pairs(found).T
    return one, other, face.astype(np.int64), of.astype(np.int64)
