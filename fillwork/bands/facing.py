"""Ends of lines that face each other, straight ahead or on an arc."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.crossings import cross
from fillwork.geometry.near import pairs_within
from fillwork.geometry.ranges import begins, distinct

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats, Ints

REACH = 0.35
"""How far an end looks for the one it faces, as a share of the drawing's size."""

ON = np.cos(np.radians(40.0))
"""What goes on in line, as far as curved bands do, turns by no more, as a cosine."""

# and is off by this share of the way
_ASIDE = 0.25
# or on an arc, which turns by so much at most and is off both by no more
_ROUND = np.radians(100.0)
# the end that faces one is among so many nearest to it, on the average, but where all
# pairs are few
_NEAR, _FEW_PAIRS = 32, 20_000


def facing_ends(
    at: Floats,
    out: Floats,
    reach: float,
    asked: Bools | None = None,
    *,
    arcs: bool = True,
) -> tuple[Ints, Ints, Floats]:
    """Return ends that face each other in line, each the nearest for the other.

    `at` (n, 2): where lines end, mm. `out` (n, 2): unit directions in which they would
    go on. `reach`: how far they may be from each other, mm. `asked` (n,): ends that are
    asked about; the others are only what these may face. `arcs`: whether they may face
    each other on an arc too. Returns `one` and `other` (m,): rows of ends; each pair
    comes both ways round; `apart` (m,): how far they are from each other, mm.

    Where ends lie so close that some dozens of them are within reach of each, the
    reach is less: time and memory are in proportion to their number.
    """
    if asked is not None:
        mine = np.flatnonzero(asked)
        _, near = pairs_within(at[mine], at, bounded(at, asked, reach))
        some = distinct(np.r_[mine, near])
        one, other, apart = facing_ends(at[some], out[some], reach, arcs=arcs)
        return some[one], some[other], apart
    reach = bounded(at, np.ones(len(at), bool), reach)
    one, other = pairs_within(at, at, reach)
    step = at[other] - at[one]
    ahead = np.hypot(*step.T)
    good = -(out[one] * out[other]).sum(axis=1) > ON
    good &= np.abs(cross(out[one], step)) <= _ASIDE * ahead
    good &= (step * out[one]).sum(axis=1) > 0
    if arcs:
        good |= (ahead > 0) & on_an_arc(*turns_of(step, out[one], out[other]))
    one, other, ahead = one[good], other[good], ahead[good]
    order = np.lexsort((other, ahead, one))
    order = order[begins(one[order])]
    one, other, ahead = one[order], other[order], ahead[order]
    mate = np.full(len(at), -1, np.int64)
    mate[one] = other
    mutual = mate[other] == one
    return one[mutual], other[mutual], ahead[mutual]


def turns_of(step: Floats, out: Floats, facing: Floats) -> tuple[Floats, Floats]:
    """Return by how much ways turn where they set out, and where they come in.

    `step` (n, 2): from one end to the other. `out`, `facing` (n, 2): unit directions
    in which these two would go on. Returns angles (n,), anticlockwise ones above 0.
    """
    first = np.arctan2(cross(out, step), (out * step).sum(axis=1))
    last = np.arctan2(cross(facing, step), -(facing * step).sum(axis=1))
    return first, last


def on_an_arc(first: Floats, last: Floats) -> Bools:
    """Return whether ways that turn so at their ends are arcs of circles."""
    on = np.abs(first + last) <= _ROUND
    return np.asarray(on & (np.abs(first - last) <= np.arcsin(_ASIDE)))


def bounded(at: Floats, asked: Bools, reach: float) -> float:
    """Return a reach that leaves a bounded number of ends near each, on the average."""
    if not len(at):
        return reach
    for _ in range(64):
        cells = np.floor((at - at.min(axis=0)) / reach) @ (1.0, 2.0**26)
        _, cell = np.unique(cells, return_inverse=True)
        near = np.bincount(cell)[cell[asked]].sum()
        if 3.0 * near <= max(_NEAR * len(at), _FEW_PAIRS):
            break
        reach /= 2
    return reach
