"""Smooth lines: strokes followed through joints without a corner.

A smooth line is a stroke, or a part of one, that goes on without a corner, however many
curves it was drawn as.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fillwork.geometry.curves import LINE

if TYPE_CHECKING:
    from fillwork.arrays import AnyInts, Bools, Floats, Ints, Ints32
    from fillwork.geometry.curves import Curves

ROUNDING = 1e-9  # of a line: places nearer are the same
_SMOOTH = 0.85  # cosine: a line goes on from one curve to the next
_CHORDS = 0.95  # straight ones turn less: those of a dodecagon have corners


@dataclass(frozen=True, slots=True, eq=False)
class SmoothLines:
    """Hold which curves make up smooth lines."""

    run: Ints  # (curves,): the smooth line of each curve, R in all
    first: Ints  # first and last, (R,): first and last curve of each line
    last: Ints
    # (R,): whether it goes on smoothly from its end to its start
    closed: Bools
    total: Floats  # (R,): its length, mm
    # offset and length, (curves,): where along it a curve begins, and the length of the
    # curve, mm
    offset: Floats
    length: Floats

    def keys(self, curve: AnyInts, t: Floats) -> Floats:
        """Return numbers that sort points of curves along the smooth lines.

        Number of the smooth line plus the share of its length before the point; below
        the next number also at its end.

        `t`: parameters on them.
        """
        run = self.run[curve]
        share = self.places(curve, t) / np.maximum(self.total[run], 1e-300)
        return np.asarray(run + np.minimum(share, 1.0) * (1.0 - ROUNDING))

    def places(self, curve: AnyInts, t: Floats) -> Floats:
        """Return where along the smooth lines points of curves lie.

        Distances from the start of the smooth line, mm. `t`: parameters on them.
        """
        along = np.clip(t, 0.0, 1.0) * self.length[curve]
        return np.asarray(self.offset[curve] + along)


def find_smooth_lines(curves: Curves, stroke: Ints32, length: Floats) -> SmoothLines:
    """Follow strokes through joints without a corner; every curve belongs to one.

    `stroke` (curves,): stroke of each. `length` (curves,): length of each, mm.
    """
    n = len(curves)
    index = np.arange(n)
    start, onward = curves.evaluate(index, np.zeros(n))
    end, out = curves.evaluate(index, np.ones(n))
    # ends of arcs follow from angles, so they meet the next curve but nearly
    rounding = 1e-9 * float(np.abs(start).max())

    def goes_on(one: Ints, other: Ints) -> Any:
        """Tell where one curve ends as the other begins."""
        cosine = (out[one] * onward[other]).sum(axis=1)
        straight = (curves.kind[one] == LINE) & (curves.kind[other] == LINE)
        least = np.where(straight, _CHORDS, _SMOOTH)
        smooth = cosine > least * np.hypot(*out[one].T) * np.hypot(*onward[other].T)
        off = np.abs(end[one] - start[other])
        return smooth & (off <= rounding).all(axis=1)

    corner = np.ones(n, dtype=bool)
    corner[1:] = ~(goes_on(index[:-1], index[1:]) & (stroke[1:] == stroke[:-1]))
    run = np.cumsum(corner) - 1
    first = np.flatnonzero(corner)
    last = np.r_[first[1:], n] - 1
    before = np.cumsum(length) - length
    return SmoothLines(
        run,
        first,
        last,
        goes_on(last, first),
        np.add.reduceat(length, first),
        before - before[first][run],
        length,
    )
