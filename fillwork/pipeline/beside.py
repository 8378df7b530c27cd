"""Pieces that stand beside the drawing: marks, a scale, a title block left in.

A piece is what hangs together. One piece holds nearly all of the painted area; those
that lie beyond its box are told, since they would be painted too. A
plain border round everything is no piece that counts; a figure within a border's
square is a part of the border.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.parts import components
from fillwork.notes import Note

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.linework import LineWork
    from fillwork.plans.model import Plan


# common practice, no source: of the drawing's regions what is left in makes up so much
# in area at most
_AREA = 0.25
# a border has so many regions at most, lines within lines
_BORDER = 2
# marks are so many at most where they stand on two opposite sides, two at each corner;
# more are the loose figures of a border
_MARKS = 8


def beside_notes(
    linework: LineWork, arrangement: Arrangement, plan: Plan
) -> tuple[Note, ...]:
    """Say which pieces with regions stand beside the drawing.

    `linework`, `arrangement`: its lines and regions. `plan`: where it names lines, the
    user has looked already. Returns one note, or none.
    """
    looked = plan.lines or plan.leave or plan.laying.wanted or linework.trace
    if looked or arrangement.face_count < 3:
        return ()
    piece, faces, area, low, high = _pieces(arrangement)
    beside = _beside(faces, area, low, high, _holders(arrangement, piece))
    if not beside.any():
        return ()
    count, pieces = int(faces[beside].sum()), int(beside.sum())
    across, up = (high - low)[beside].max(axis=0)
    many, several = "s" * (count != 1), "s" * (pieces != 1)
    text = (
        f"{count} region{many} beside the drawing, in {pieces} piece{several} of up to "
        f"{across:.3g} by {up:.3g} mm, would be painted too: marks, a scale or a title "
        "block may have been left in"
    )
    mend = _selector(linework, arrangement, beside[piece])
    return (Note("readers", "beside the drawing", text, remedy=mend),)


def _pieces(arrangement: Arrangement) -> tuple[Ints, Ints, Floats, Floats, Floats]:
    """Return the piece of each edge; of pieces their regions, area and box."""
    origin = arrangement.origin.astype(np.int64)
    root = components(origin[0::2], origin[1::2], len(arrangement.vertices))
    name, piece = np.unique(root[origin[0::2]], return_inverse=True)
    piece = piece.reshape(-1).astype(np.int64)
    n = len(name)
    first = arrangement.ring_start[arrangement.face_ring_start[1:-1]]
    owner = piece[arrangement.ring_half_edge[first] >> 1]
    faces = np.bincount(owner, minlength=n).astype(np.int64)
    area: Floats = np.zeros(n)
    np.add.at(area, owner, arrangement.area[1:])
    low: Floats = np.full((n, 2), np.inf)
    high: Floats = np.full((n, 2), -np.inf)
    at = arrangement.vertices[origin]
    np.minimum.at(low, np.repeat(piece, 2), at)
    np.maximum.at(high, np.repeat(piece, 2), at)
    return piece, faces, area, low, high


def _holders(arrangement: Arrangement, piece: Ints) -> Ints:
    """Return in a region of which piece each piece lies, -1 for none.

    `piece` (E,): of each edge.
    """
    ring = piece[arrangement.ring_half_edge[arrangement.ring_start[:-1]] >> 1]
    first = arrangement.face_ring_start[1:-1]
    holder = np.full(int(piece.max()) + 1, -1, np.int64)
    # of a face the first ring is round it, the others are round what lies in it
    own = np.repeat(ring[first], np.diff(arrangement.face_ring_start[1:]))
    inner = np.ones(len(ring), bool)
    inner[first] = False
    inner[: first[0]] = False
    holder[ring[inner]] = own[inner[first[0] :]]
    return holder


def _beside(
    faces: Ints, area: Floats, low: Floats, high: Floats, holder: Ints
) -> Bools:
    """Return which pieces stand beside the one that holds nearly all.

    `holder`: in a region of which piece each lies, -1 for none.
    """
    inner = np.ones(len(faces), bool)
    while True:
        size = np.where(inner, (high - low).prod(axis=1), -1.0)
        outer = int(size.argmax())
        around = (low[inner] >= low[outer]).all() and (high[inner] <= high[outer]).all()
        if faces[outer] > _BORDER or not around or inner.sum() < 3:
            break
        inner[outer] = False
    main = int(np.where(inner, area, -1.0).argmax())
    after, before = low > high[main], high < low[main]
    beside = inner & (after | before).any(axis=1) & (faces > 0)
    # what lies in a piece of the design is a part of it, however deep
    framed = (holder >= 0) & inner[holder]
    while (within := beside & framed & ~beside[holder]).any():
        beside &= ~within
    # what stands off a corner is on no side
    aside = beside & ((after | before).sum(axis=1) == 1)
    opposite = (after[aside].any(axis=0) & before[aside].any(axis=0)).any()
    border = opposite and beside.sum() > _MARKS
    if border or faces[main] < 3 or area[beside].sum() > _AREA * area[main]:
        return np.zeros(len(faces), bool)
    return np.asarray(beside, bool)


def _selector(linework: LineWork, arrangement: Arrangement, beside: Bools) -> str:
    """Return the option that names the lines of those edges and no others."""
    stroke = arrangement.curve_stroke[arrangement.edge_curve]
    drawn = stroke >= 0
    style = linework.style[np.maximum(stroke, 0)]
    theirs, others = (
        [linework.styles[k] for k in np.unique(style[drawn & side])]
        for side in (beside, ~beside)
    )
    for k, word in ((0, "layer"), (1, "colour")):
        named = {one[k] for one in theirs}
        alone = named.isdisjoint(one[k] for one in others)
        if alone and len(named) == 1 and None not in named:
            return f'--leave "{word}={named.pop()}" leaves them out'
    return "on a layer of their own --leave layer=NAME leaves them out"
