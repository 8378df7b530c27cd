"""Rails that stop short of the band that lies over theirs.

Many draw a band that passes under another with a gap on both sides, so that nothing
closes it, or on one side alone, as in a shadow. Such an end faces another one in line,
beyond the two rails of the band above, or beyond three lines where one runs along its
middle. Where ends do so all over a drawing they are led on to the rail before them;
whether that makes bands is for `find_bands` to say.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.bands.facing import ON, REACH, bounded, facing_ends
from fillwork.bands.ways import Ways, rays_meet
from fillwork.geometry.curves import ARC, Curves
from fillwork.geometry.near import pairs_within
from fillwork.geometry.ranges import distinct, distinct_pairs, marked
from fillwork.linework import widths_of
from fillwork.notes import Note

if TYPE_CHECKING:
    from shapely import STRtree

    from fillwork.arrays import Bools, Floats, Ints, Ints32
    from fillwork.linework import LineWork


# two rails at each of four crossings face each other, and half of all free ends do
_FACING, _MOST = 8, 0.5
# faults of a hand run over as often as they stop short, and of two ends that face each
# other seldom neither does; ends at a frame do so beside gaps that are meant
_OVER = 0.5
# ends nearer than this share of the drawing's size touch, whatever else is joined
_CLOSE = 5e-4
# other ends stop at most so many times as short as those do, since rails cross aslant
_AS_SHORT = 2.0
_LINES_ABOVE = (2, 3)


def lead_on_short_rails(linework: LineWork, slack: float) -> LineWork | None:
    """Return line work in which rails reach the band that lies over them.

    With a short stroke on from each such end; None where ends do not face each other
    under bands.

    `slack`: points so near are one, mm, as far as gaps that are meant allow.

    Time is n log n in the number of lines, and little where few lines end freely.
    """
    import shapely

    curves = linework.curves
    box = np.concatenate([curves.starts(), curves.ends()])
    slack = max(min(slack, _CLOSE * float(np.ptp(box, axis=0).max())), 1e-3)
    chords, owner, _ = curves.flatten(slack / 2)
    lines = np.asarray(shapely.linestrings(chords.reshape(-1, 2, 2)), object).ravel()
    tree = shapely.STRtree(lines)
    rows = np.repeat(np.arange(len(curves)), 2)
    at = np.stack([curves.starts(), curves.ends()], axis=1).reshape(-1, 2)
    ends, touching = _lone_ends(tree, at, rows, owner, slack)
    if len(ends) < 2 * _FACING:
        return None
    out = _leaving(curves, rows)
    pen = widths_of(linework)[linework.stroke_of_curve()][rows[ends]]
    ends = ends[~_are_joints(at[ends], out[ends], pen)]
    at_line, out_there = at[touching], out[touching]
    at, out, rows = at[ends], out[ends], rows[ends]
    reach = REACH * float(np.ptp(chords.reshape(-1, 2), axis=0).max())
    end, far = rays_meet(tree, chords, owner, rows, (at, reach * out))
    near = np.full(len(at), np.inf)
    np.minimum.at(near, end, far)
    # one that ran over a line, by less than it has before it, stops short of none; a
    # line at its other end is one it bends into
    behind = np.minimum(np.minimum(near, reach), curves.lengths()[rows] - slack)
    back = -np.maximum(behind, slack)[:, None] * out
    ran, past = rays_meet(tree, chords, owner, rows, (at, back))
    ran = distinct(ran[past < behind[ran]])
    near[ran] = np.inf
    # the gap may be on one side alone: the end beyond it touches the band above
    count = len(at)
    asked = np.arange(count + len(at_line)) < count
    both, ways_out = np.concatenate([at, at_line]), np.concatenate([out, out_there])
    one, other, _ = facing_ends(both, ways_out, reach, asked)
    one, other = one[one < count], other[one < count]
    near = np.r_[near, np.zeros(len(at_line))]
    # between them lie the two rails of the band above, or three lines
    ways = Ways.between(both, ways_out, one, other)
    spare = np.where(other < count, -near[other] / 2, slack)
    pair, past = ways.hits(tree, chords, owner, rows[one], 2.0 * slack)
    inside = past < ways.length[pair] + spare[pair]
    between = np.bincount(pair[inside], minlength=len(one))
    under = np.isin(between, _LINES_ABOVE)
    # a curved band runs on towards the end that faces it
    first = np.full(len(one), np.inf)
    np.minimum.at(first, pair, past)
    stops = near.copy()
    stops[one[ways.round]] = first[ways.round]
    gap = np.maximum(stops[one], stops[other])
    held = under & (gap < ways.length - stops[one] - stops[other])
    if held.sum() < max(2 * _FACING, _MOST * len(ends), len(ran) / _OVER):
        return None
    usual, most = np.median(first[held]), _AS_SHORT * first[held].max()
    under &= first <= most
    near[one[under]] = first[under]
    out[one[under]] = ways.step[under] / np.hypot(*ways.step[under].T)[:, None]
    rest = np.flatnonzero(near[:count] <= most)
    led = Curves.from_segments(
        np.concatenate([at[rest], at[rest] + near[rest, None] * out[rest]], 1)
    )
    arcs = np.flatnonzero(under & ways.round)
    if len(arcs):
        led = _with_arcs(led, np.searchsorted(rest, one[arcs]), ways, arcs, first)
    return _led_on(linework, rows[rest], led, float(usual))


def _with_arcs(led: Curves, place: Ints, ways: Ways, arcs: Ints, far: Floats) -> Curves:
    """Return strokes with the beginning of some ways in the place of some of them."""
    kind, data = led.kind.copy(), led.data.copy()
    kind[place], data[place] = ARC, ways.arcs(arcs, far[arcs])
    return Curves(kind, data)


def _leaving(curves: Curves, rows: Ints) -> Floats:
    """Return unit directions in which curves would go on, at both ends of each.

    `rows`: of each end its curve; ends of a curve follow each other.
    """
    last = np.arange(len(rows)) & 1
    sign = np.where(last, 1.0, -1.0)[:, None]
    out = curves.derivative(rows, last.astype(np.float64)) * sign
    return np.asarray(out / np.maximum(np.hypot(*out.T), 1e-300)[:, None])


def _are_joints(at: Floats, out: Floats, pen: Floats) -> Bools:
    """Return which lone ends go on in another one under the ink.

    `at`, `out` (n, 2): where they lie, mm, and unit directions in which they would go
    on. `pen` (n,): width of the line, mm.
    """
    broadest = float(pen.max(initial=0.0))
    if not broadest:
        return np.zeros(len(at), bool)
    one, other = pairs_within(at, at, bounded(at, np.ones(len(at), bool), broadest))
    meet = np.hypot(*(at[one] - at[other]).T) <= (pen[one] + pen[other]) / 2
    meet &= -(out[one] * out[other]).sum(axis=1) > ON
    return marked(one[meet], len(at))


def _lone_ends(
    tree: STRtree, at: Floats, rows: Ints, owner: Ints32, slack: float
) -> tuple[Ints, Ints]:
    """Return ends that touch nothing, and those that touch a curve where none ends."""
    import shapely

    # ends at one point touch each other, and need not be compared all with all
    _, point = np.unique(at, axis=0, return_inverse=True)
    there = distinct_pairs(np.stack([point.ravel(), rows], axis=1))[:, 0]
    free = np.bincount(there)[point.ravel()] == 1
    asked = np.flatnonzero(free)
    found, chord = tree.query(shapely.points(at[asked]), "dwithin", distance=slack)
    end = asked[found]
    free[end[owner[chord] != rows[end]]] = False
    ends = np.flatnonzero(free)
    if len(ends) < 2 * _FACING:
        return ends, ends[:0]
    place = np.round((at - at.min(axis=0)) / (2 * slack)) @ (2.0**26, 1.0)
    _, cell, count = np.unique(place, return_inverse=True, return_counts=True)
    return ends, np.flatnonzero(~free & (count[cell] == 1))


def _led_on(linework: LineWork, rows: Ints, on: Curves, gap: float) -> LineWork:
    """Return line work with short strokes more, each of the style of its curve."""
    stroke = np.searchsorted(linework.stroke_start, rows, "right") - 1
    count = len(on)
    start = linework.stroke_start
    text = (
        f"{count} ends stop short of the band that lies over theirs, mostly by "
        f"{gap:.2g} mm; regions take them as going on up to it"
    )
    note = Note("bands", "short rails", text, remedy="--bands no leaves them as drawn")
    return replace(
        linework,
        curves=Curves.concatenate([linework.curves, on]),
        stroke_start=np.r_[start, start[-1] + 1 + np.arange(count)].astype(np.int32),
        closed=np.r_[linework.closed, np.zeros(count, bool)],
        style=np.r_[linework.style, linework.style[stroke]],
        source_line=np.r_[linework.source_line, linework.source_line[stroke]],
        source_name=(
            *linework.source_name,
            *(linework.source_name[k] for k in stroke.tolist()),
        ),
        notes=(*linework.notes, note),
    )
