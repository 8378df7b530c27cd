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

from fillwork.geometry.crossings import cross
from fillwork.geometry.curves import Curves
from fillwork.geometry.near import pairs_within
from fillwork.geometry.ranges import begins, distinct
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
REACH = 0.35
"""How far an end looks for the one it faces, as a share of the drawing's size."""

# in line, as far as curved bands are: turned by so little, and off by this share of
# the way
_ON, _ASIDE = np.cos(np.radians(40.0)), 0.25
# other ends stop at most so many times as short as those do, since rails cross aslant
_AS_SHORT = 2.0
_LINES_ABOVE = (2, 3)
# a line so flat to a rail (sine) is none that it ends at; and lines so near are one, mm
_ASLANT, _SAME = 0.1, 1e-3
# the end that faces one is among so many nearest to it, on the average, but where all
# pairs are few
_NEAR, _FEW_PAIRS = 32, 20_000


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
    at_line, out_there = at[touching], _leaving(curves, rows, touching)
    out = _leaving(curves, rows, ends)
    at, rows = at[ends], rows[ends]
    reach = REACH * float(np.ptp(chords.reshape(-1, 2), axis=0).max())
    end, far = _hits(tree, chords, owner, rows, (at, reach * out))
    near = np.full(len(at), np.inf)
    np.minimum.at(near, end, far)
    # one that ran over a line, by less than it has before it, stops short of none; a
    # line at its other end is one it bends into
    behind = np.minimum(np.minimum(near, reach), curves.lengths()[rows] - slack)
    back = -np.maximum(behind, slack)[:, None] * out
    ran, past = _hits(tree, chords, owner, rows, (at, back))
    ran = distinct(ran[past < behind[ran]])
    near[ran] = np.inf
    # the gap may be on one side alone: the end beyond it touches the band above
    count = len(at)
    asked = np.arange(count + len(at_line)) < count
    one, other, apart = facing_ends(
        np.concatenate([at, at_line]), np.concatenate([out, out_there]), reach, asked
    )
    one, other, apart = one[one < count], other[one < count], apart[one < count]
    near = np.r_[near, np.zeros(len(at_line))]
    # between them lie the two rails of the band above, or three lines
    way = np.concatenate([at, at_line])[other] - at[one]
    spare = np.where(other < count, -near[other] / 2, slack)
    ray = way * (1.0 + 2.0 * slack / apart)[:, None]
    pair, past = _hits(tree, chords, owner, rows[one], (at[one], ray))
    inside = past < apart[pair] + spare[pair]
    between = np.bincount(pair[inside], minlength=len(one))
    held = np.isin(between, _LINES_ABOVE)
    short = np.maximum(near[one], near[other])
    held &= short < apart - near[one] - near[other]
    # a curved band runs on towards the end that faces it
    first = np.full(len(one), np.inf)
    np.minimum.at(first, pair, past)
    facing = one[held]
    near[facing] = first[held]
    out[facing] = way[held] / apart[held, None]
    if len(facing) < max(2 * _FACING, _MOST * len(ends), len(ran) / _OVER):
        return None
    rest = np.flatnonzero(near[:count] <= _AS_SHORT * near[facing].max())
    on = np.concatenate([at[rest], at[rest] + near[rest, None] * out[rest]], 1)
    return _led_on(linework, rows[rest], on, float(np.median(near[facing])))


def _leaving(curves: Curves, rows: Ints, ends: Ints) -> Floats:
    """Return unit directions in which curves would go on at ends of theirs."""
    last = (ends & 1).astype(np.float64)
    out = curves.derivative(rows[ends], last) * np.where(last, 1.0, -1.0)[:, None]
    return np.asarray(out / np.maximum(np.hypot(*out.T), 1e-300)[:, None])


def _lone_ends(
    tree: STRtree, at: Floats, rows: Ints, owner: Ints32, slack: float
) -> tuple[Ints, Ints]:
    """Return ends that touch nothing, and those that touch a curve where none ends."""
    import shapely

    end, chord = tree.query(shapely.points(at), "dwithin", distance=slack)
    free = np.ones(len(at), bool)
    free[end[owner[chord] != rows[end]]] = False
    ends = np.flatnonzero(free)
    if len(ends) < 2 * _FACING:
        return ends, ends[:0]
    place = np.round((at - at.min(axis=0)) / (2 * slack)) @ (2.0**26, 1.0)
    _, cell, count = np.unique(place, return_inverse=True, return_counts=True)
    return ends, np.flatnonzero(~free & (count[cell] == 1))


def _hits(
    tree: STRtree,
    chords: Floats,
    owner: Ints32,
    rows: Ints,
    rays: tuple[Floats, Floats],
) -> tuple[Ints, Floats]:
    """Return which rays meet chords of other curves, and how far on, in order."""
    import shapely

    at, step = rays
    ways = np.asarray(shapely.linestrings(np.stack([at, at + step], axis=1)))
    end, chord = tree.query(ways, "intersects")
    end, chord = end[owner[chord] != rows[end]], chord[owner[chord] != rows[end]]
    p, d = chords[chord, :2], chords[chord, 2:] - chords[chord, :2]
    area = cross(step[end], d)
    across = np.abs(area) > _ASLANT * np.hypot(*step[end].T) * np.hypot(*d.T)
    end, chord, p, d, area = (v[across] for v in (end, chord, p, d, area))
    far = cross(p - at[end], d) / area * np.hypot(*step[end].T)
    order = np.lexsort((far, end))
    end, far = end[order].astype(np.int64), np.maximum(far[order], 0.0)
    # two chords of one curve that meet on a ray are one line
    fresh = np.ones(len(end), bool)
    fresh[1:] = (np.diff(end) > 0) | (np.diff(far) > _SAME)
    return end[fresh], far[fresh]


def _bounded(at: Floats, asked: Bools, reach: float) -> float:
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


def facing_ends(
    at: Floats, out: Floats, reach: float, asked: Bools | None = None
) -> tuple[Ints, Ints, Floats]:
    """Return ends that face each other in line, each the nearest for the other.

    `at` (n, 2): where lines end, mm. `out` (n, 2): unit directions in which they would
    go on. `reach`: how far they may be from each other, mm. `asked` (n,): ends that are
    asked about; the others are only what these may face. Returns `one` and `other`
    (m,): rows of ends; each pair comes both ways round; `apart` (m,): how far they are
    from each other, mm.

    Where ends lie so close that some dozens of them are within reach of each, the
    reach is less: time and memory are in proportion to their number.
    """
    if asked is not None:
        mine = np.flatnonzero(asked)
        _, near = pairs_within(at[mine], at, _bounded(at, asked, reach))
        some = distinct(np.r_[mine, near])
        one, other, apart = facing_ends(at[some], out[some], reach)
        return some[one], some[other], apart
    reach = _bounded(at, np.ones(len(at), bool), reach)
    one, other = pairs_within(at, at, reach)
    step = at[other] - at[one]
    ahead = np.hypot(*step.T)
    good = -(out[one] * out[other]).sum(axis=1) > _ON
    good &= np.abs(cross(out[one], step)) <= _ASIDE * ahead
    good &= (step * out[one]).sum(axis=1) > 0
    one, other, ahead = one[good], other[good], ahead[good]
    order = np.lexsort((other, ahead, one))
    order = order[begins(one[order])]
    one, other, ahead = one[order], other[order], ahead[order]
    mate = np.full(len(at), -1, np.int64)
    mate[one] = other
    mutual = mate[other] == one
    return one[mutual], other[mutual], ahead[mutual]


def _led_on(linework: LineWork, rows: Ints, on: Floats, gap: float) -> LineWork:
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
        curves=Curves.concatenate([linework.curves, Curves.from_segments(on)]),
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
