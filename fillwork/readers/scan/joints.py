"""Strands that were cut in two at a crossing, and go on beyond it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.readers.scan.circles import far, misses

if TYPE_CHECKING:
    from fillwork.arrays import Floats
    from fillwork.readers.scan.model import Drawing, Piece

# Widths of the pen: how far off one crossing two parts of a strand may be joined, and
# how far their lines or circles may lie beside their ink there.
_REACH, _ASTRAY = 8.0, 1.0
# Cosine of the bend up to which two parts are one line that goes on.
_ONWARD = 0.8


def rejoin(drawing: Drawing, k: int, v: int) -> bool:
    """Join a piece to the one that goes on from it, beside the vertex that both left.

    A curve that changes its bend at a crossing is a circle up to it and a line, or
    another circle, beyond; where it crosses, the first may lie beside the ink.

    `drawing`: changed in place where that is so. `k`: number of the piece. `v`: the
    vertex, at one of its ends. Returns whether it was joined.
    """
    for other, tail in ((k + 1, -1), (k - 1, 0)):
        if not 0 <= other < len(drawing.pieces):
            continue
        piece, mate = drawing.pieces[k], drawing.pieces[other]
        head = -1 - tail
        if piece.vertices[tail] != v or mate.vertices[head] != v:
            continue
        at = _joint(piece, mate, tail, drawing.width)
        if at is None:
            continue
        place, before = at
        new = drawing.add(place)
        piece.vertices[tail] = new
        if before:
            mate.extend(head, new)
        else:
            mate.vertices[head] = new
        return True
    return False


def _joint(
    piece: Piece, mate: Piece, tail: int, width: float
) -> tuple[Floats, bool] | None:
    """Return where two parts of a strand join, and whether that is on the first.

    None where they are no parts of one, or nowhere run along the same ink.
    """
    own, next_ = (
        (piece.points, mate.points) if tail else (piece.points[::-1], mate.points[::-1])
    )
    back, on = (max(2, round(k * width)) for k in (3.0, _REACH))
    if min(len(own), len(next_)) <= back or far(own[-1], next_[0]) > width:
        return None
    in_, out = own[-1] - own[-1 - back], next_[back] - next_[0]
    if in_ @ out < _ONWARD * np.hypot(*in_) * np.hypot(*out):
        return None
    ink = np.vstack([own[-on:], next_[:on]])
    off = np.maximum(abs(misses(ink, piece.carrier)), abs(misses(ink, mate.carrier)))
    best = int(np.argmin(np.round(off, 6)))
    if off[best] > _ASTRAY * width:
        return None
    return ink[best].copy(), best < len(own[-on:])
