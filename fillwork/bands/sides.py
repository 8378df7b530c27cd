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

from fillwork.arrangement.vertices import components
from fillwork.bands.pieces import rails_of, tangents
from fillwork.bands.strands import straight_on

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.bands.links import Pieces

    Ints = NDArray[np.int64]

# a side has bands on so much more of its length than the other one
_MOST = 0.8

__all__ = ["links_by_sides"]


def links_by_sides(pieces: Pieces, strand: Ints) -> tuple[Ints, Ints, Ints, Ints]:
    """Return which strands share a side of a line, and faces on sides of strands.

    Parameters
    ----------
    pieces : Pieces
        Readings that hold.
    strand : ndarray of int64, shape (R,)
        Strand of each reading, -1 for none.

    Returns
    -------
    one, other : ndarray of int64, shape (n,)
        Strands that are one by a line that both lie on the same side of.
    face, of : ndarray of int64, shape (m,)
        Faces, each with a strand on the side of whose rail it lies.
    """
    arrangement, runs, r = pieces.arrangement, pieces.runs, pieces.readings
    half = np.arange(2 * arrangement.edge_count)
    leaving, _ = tangents(arrangement, half)
    heading = np.arctan2(leaving[:, 1], leaving[:, 0])
    onward = straight_on(arrangement.origin, heading)
    following = onward[half ^ 1]
    on = np.flatnonzero(following >= 0)
    side = components(on, following[on], len(half))
    # a frame has bands of all strands on its side
    frame = np.zeros(len(half), bool)
    outer = runs.half[np.repeat(runs.outer, np.diff(runs.start))]
    frame[side[outer]] = True
    frame[side[outer ^ 1]] = True
    framed = np.zeros(arrangement.face_count, bool)
    framed[runs.face[runs.outer]] = True
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
    key = np.unique(key[held[key[:, 0]]], axis=0)
    same = np.flatnonzero(key[1:, 0] == key[:-1, 0])
    one, other = key[same, 1], key[same + 1, 1]
    name = np.full(len(half), -1, np.int64)
    name[key[:, 0]] = key[:, 1]
    inner = np.flatnonzero((name[side] >= 0) & (arrangement.face > 0))
    found = np.stack([arrangement.face[inner], name[side[inner]]], axis=1)
    face, of = np.unique(found, axis=0).T
    return one, other, face.astype(np.int64), of.astype(np.int64)
