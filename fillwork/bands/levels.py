"""Which strand passes over: levels that alternate along every strand.

Along a strand, over and under take turns. Each point where two strands cross has one
free choice, and each stretch of a strand between two such points asks that they be
chosen alike or unlike; the choices follow from one point to the next. Closed lines
that cross in points of their own can always alternate (P. G. Tait, "On knots",
Transactions of the Royal Society of Edinburgh 28, 1877, pages 145-190); ends inside
the drawing and points of three lines can stand in the way, and are told.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order

from fillwork.bands.model import Crossings
from fillwork.geometry.parts import components
from fillwork.geometry.ranges import begins, distinct

if TYPE_CHECKING:
    from fillwork.arrays import Ints
    from fillwork.bands.strands import Strands


# level lines come first, also when they are a little off
_LEAN = np.radians(5.0)


def choose_levels(strands: Strands, *, start: str = "over") -> Crossings:
    """Choose for each point which strand is over.

    The levels, and where they cannot alternate. `start`: ``over`` or ``under``: the
    other way round everywhere.
    """
    vertex, halves = _passes(strands)
    first = np.flatnonzero(begins(vertex))
    count = np.diff(np.r_[first, len(vertex)])
    level = np.arange(len(vertex)) - np.repeat(first, count)
    crossed = (count == 2) & ~strands.touching[vertex[first]]
    double = first[crossed][:, None] + np.arange(2)
    piled = vertex[first[count > 2]]
    crossing_of = np.full(len(vertex), -1, np.int64)
    crossing_of[double] = np.arange(len(double))[:, None]
    pass_of = np.full(len(strands.onward), -1, np.int64)
    for k in (0, 1):
        known = halves[:, k] >= 0
        pass_of[halves[known, k]] = np.flatnonzero(known)
    # where strands touch, over and under do not take turns
    counted = np.where(strands.touching[vertex], -2, crossing_of)
    links = _links(strands, pass_of, counted)
    side = np.zeros(len(vertex), np.int64)
    side[double[:, 1]] = 1 if len(double) else 0
    choice = _spread(len(double), crossing_of, side, links, start == "under")
    level[double] = np.stack([choice, 1 - choice], axis=1)
    a, b = links[:, 0], links[:, 1]
    stuck = distinct(vertex[b[level[a] == level[b]]])
    _pile(strands, halves, level, first[count > 2], count[count > 2])
    return Crossings(vertex, halves, level, double, stuck, piled)


def _passes(strands: Strands) -> tuple[Ints, Ints]:
    """Return the vertex and halves of passes at points where strands cross.

    At a border line the strands that end there cross each other, beyond it in
    thought; the border line itself makes no pass.
    """
    onward, origin = strands.onward, strands.lines.origin
    border = np.array([s.border for s in strands.strands], bool)
    woven = np.flatnonzero(~border[strands.of_piece[np.arange(len(onward)) >> 1]])
    lead = woven[(onward[woven] < 0) | (woven < onward[woven])]
    halves = np.stack([lead, onward[lead]], axis=1)
    order = np.lexsort((lead, origin[lead]))
    vertex, halves = origin[lead[order]], halves[order]
    degree = np.bincount(vertex, minlength=len(strands.lines.vertices))
    through = np.bincount(
        vertex[halves[:, 1] >= 0], minlength=len(strands.lines.vertices)
    )
    on_border = np.zeros(len(strands.lines.vertices), bool)
    on_border[origin[border[strands.of_piece[np.arange(len(onward)) >> 1]]]] = True
    # strands end under one that goes on: no choice there
    chosen = np.where(halves[:, 1] >= 0, through[vertex] > 1, False)
    chosen |= on_border[vertex] & (degree[vertex] > 1)
    return vertex[chosen], halves[chosen]


def _links(strands: Strands, pass_of: Ints, crossing_of: Ints) -> Ints:
    """Return pairs of passes that follow each other along a strand.

    A strand that ends under another is under there: no link, no wish.
    """
    links: list[tuple[int, int]] = []
    for strand in strands.strands:
        if strand.border:
            continue
        # a pass is met where its half leaves, and at the far end of an open strand
        met = pass_of[strand.halves]
        if not strand.closed:
            met = np.r_[met, pass_of[strand.halves[-1] ^ 1]]
        met = met[met >= 0]
        met = met[crossing_of[met] > -2]
        met = np.where(crossing_of[met] >= 0, met, -1)
        if strand.closed and len(met):
            met = np.r_[met, met[0]]
        both = (met[:-1] >= 0) & (met[1:] >= 0) if len(met) > 1 else np.empty(0, bool)
        at = np.flatnonzero(both)
        links += zip(met[at].tolist(), met[at + 1].tolist(), strict=True)
    return np.array(links, np.int64).reshape(-1, 2)


def _spread(
    count: int, crossing_of: Ints, side: Ints, links: Ints, flipped: bool
) -> Ints:
    """Return which of its two passes is under at each crossing, by its level."""
    i, j = crossing_of[links].T
    unlike = 1 - (side[links[:, 0]] ^ side[links[:, 1]])
    # all begin from a point of their own, joined to the first crossing of each part
    roots = np.unique(components(i, j, count))
    begin = np.full(len(roots), count)
    one, other = np.r_[i, j, begin], np.r_[j, i, roots]
    wish = np.r_[unlike, unlike, np.full(len(roots), int(flipped))]
    key, where = np.unique(one * (count + 1) + other, return_index=True)
    graph = csr_array(
        (np.ones(len(key)), (one[where], other[where])), (count + 1, count + 1)
    )
    order, before = breadth_first_order(graph, count, directed=True)
    order = order[1:].astype(np.int64)
    before = before[order].astype(np.int64)
    at = np.searchsorted(key, before * (count + 1) + order)
    steps = zip(order.tolist(), before.tolist(), wish[where][at].tolist(), strict=True)
    choice = [0] * (count + 1)
    for node, ahead, unlike_it in steps:
        choice[node] = choice[ahead] ^ unlike_it
    return np.array(choice[:count], np.int64)


def _pile(
    strands: Strands, halves: Ints, level: Ints, first: Ints, count: Ints
) -> None:
    """Lay the strands of points of three or more on each other by their direction.

    The same direction is on top everywhere, so that a regular pattern stays regular.
    """
    heading = strands.lines.headings()
    for f, c in zip(first.tolist(), count.tolist(), strict=True):
        rows = np.arange(f, f + c)
        along = np.mod(heading[halves[rows, 0]] + _LEAN, np.pi).round(3)
        level[rows[np.lexsort((rows, along))]] = np.arange(c)
