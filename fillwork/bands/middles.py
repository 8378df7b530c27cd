"""Bands with a line along their middle, seen without it.

Such a line parts each piece of a band into two halves as wide as each other, with
ground beyond both. Lines that do so for most of their length are middle lines; strips
in greater number, as in a grid, have others of their width on either side. Without its
middle lines a band is twice as wide as its halves were. Two such lines leave three
strips, the inner one no wider than the others, which would else be ground between two
bands.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.build import build_arrangement
from fillwork.arrangement.outlines import half_edge_curves
from fillwork.bands.facing import REACH, facing_ends
from fillwork.bands.lined import Bare
from fillwork.bands.pieces import along_frames
from fillwork.bands.runs import outside, rails_of
from fillwork.bands.sides import join_crumbs
from fillwork.bands.strands import Lines, follow_strands
from fillwork.geometry.crossings import cross
from fillwork.geometry.ranges import begins, distinct, expand_ranges, marked
from fillwork.linework import LineWork

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.bands.pieces import Readings
    from fillwork.bands.runs import Runs
    from fillwork.bands.strands import Strands


# halves differ in width by no more
_EVEN = 0.1
# a middle line runs between halves for so much of its length, the rest at crossings
_MOST = 0.5
# strapwork has pieces by the dozen, and such lines are a third of what is drawn
_FEWEST, _LEAST = 12, 0.1
# an edge shorter than this share of a half's width is a fault of the hand
_CRUMB = 0.12
# where on an edge its sides are looked at, and what is side by side (sine)
_PLACES, _PARALLEL = np.array([1, 3, 5]) / 6, 0.15
# what is seen to lie on the left or right of a line
_NOTHING, _OTHER, _RAIL, _FRAME = 0, 1, 2, 3


def without_middle_lines(
    arrangement: Arrangement, runs: Runs, readings: Readings
) -> Bare | None:
    """Return a drawing without the middle lines of its bands.

    None where no line is a middle line.
    """
    between, beside, widths = _between_halves(arrangement, runs, readings)
    half = 2 * np.arange(arrangement.edge_count)
    p, q = (arrangement.vertices[arrangement.origin[h]] for h in (half, half + 1))
    size = np.hypot(*(q - p).T)
    # lines that lie between for half of their length lead few others on
    if between.sum() < _FEWEST or size[between].sum() < _LEAST / 4 * size.sum():
        return None
    # edges that are a fault of the hand lead no line on
    crumb, one = join_crumbs(arrangement, _CRUMB * widths[0])
    ends = arrangement.origin.astype(np.int64).reshape(-1, 2)
    long = np.flatnonzero(~crumb)
    parts = half_edge_curves(arrangement, half)
    lines = follow_strands(
        Lines(arrangement.vertices, parts.take(long), one[ends[long]].reshape(-1)),
        outside(arrangement)[arrangement.face].reshape(-1, 2)[long].reshape(-1),
    )
    line, size = lines.of_piece, size[long]
    total = np.bincount(line, size)
    middle = np.bincount(line, size * between[long]) >= _MOST * total
    rail = np.bincount(line, size * beside[long]) >= _MOST * total
    out = np.asarray(outside(arrangement)[arrangement.face].reshape(-1, 2).any(axis=1))
    framing = marked(line[out[long]], len(middle))
    middle = _led_on(lines, middle, rail, framing)
    led = _at_frames(arrangement, lines, long, middle, widths)
    middle = led[line]
    held = marked(ends[long[~middle]], len(arrangement.vertices))
    kept = np.r_[long[~middle], _between_held(ends, np.flatnonzero(crumb), held)]
    # a band that runs along a frame, as far from it as it is wide, has such a rail
    if size[middle].sum() < _LEAST * size.sum() or not len(kept):
        return None
    count = len(kept)
    bare = LineWork(
        curves=parts.take(kept),
        stroke_start=np.arange(count + 1, dtype=np.int32),
        closed=np.zeros(count, bool),
        style=np.zeros(count, np.int32),
        styles=((None, None, None, False),),
        source_line=np.zeros(count, np.int32),
        source_name=("",) * count,
        frame=arrangement.frame,
    )
    merged = build_arrangement(
        bare, arrangement.tolerance, close_gaps=0.0, page_edge="open"
    )
    into = _into(arrangement, merged)
    rows = np.flatnonzero(middle)
    sides = into[arrangement.face[2 * long[rows, None] + np.arange(2)]]
    rows = rows[(sides[:, 0] == sides[:, 1]) & (sides[:, 0] > 0)]
    where = np.stack([into[arrangement.face[2 * long[rows]]], line[rows]])
    facing = _facing(lines, led)
    (face, of), back = np.unique(where, axis=1, return_inverse=True)
    return Bare(
        merged,
        into,
        widths,
        face,
        of,
        np.asarray(np.bincount(back.reshape(-1), size[rows], len(face)), np.float64),
        facing[led[facing].all(axis=1)],
    )


def _between_held(ends: Ints, crumbs: Ints, held: Bools) -> Ints:
    """Return crumbs that lead, be it one after another, from a held point to one."""
    while len(crumbs):
        fixed = held.copy()
        point, count = np.unique(ends[crumbs], return_counts=True)
        fixed[point[count > 1]] = True
        on = fixed[ends[crumbs]].all(axis=1)
        if on.all():
            break
        crumbs = crumbs[on]
    return crumbs


def _between_halves(
    arrangement: Arrangement, runs: Runs, r: Readings
) -> tuple[Bools, Bools, Floats]:
    """Return which edges lie between two readings of one width, with none beside.

    The second are the other rails of those readings, the third their widths, ascending.
    """
    rows = np.flatnonzero(~r.ring)
    rail, half = rails_of(runs, r.caps[rows])
    width = r.width[rows[rail >> 1]]
    # the reading on each side of an edge, every pair of them where there are more
    order = np.argsort(half, kind="stable")
    low, high = (np.searchsorted(half[order], half ^ 1, s) for s in ("left", "right"))
    one, place = expand_ranges(low, high - low)
    other = order[place]
    every = one, other
    alike = np.abs(width[one] - width[other]) <= _EVEN * width[one]
    one, other = one[alike], other[alike]
    # a half has another half on one side alone, be it as far from a frame as it is wide
    framed = along_frames(arrangement, runs, r.caps[rows])
    inner = ~framed[rail[one] >> 1] & ~framed[rail[other] >> 1]
    whole = marked(rail[one[inner]] >> 1, len(rows))
    inner |= ~whole[rail[one] >> 1] & ~whole[rail[other] >> 1]
    one, other = one[inner], other[inner]
    shared = marked(rail[one], 2 * len(rows))
    single = shared.reshape(-1, 2).sum(axis=1) == 1
    held = single[rail[one] >> 1] & single[rail[other] >> 1]
    between = marked(half[one[held]] >> 1, arrangement.edge_count)
    far = marked(rail[one[held]] ^ 1, 2 * len(rows))
    p, q = (arrangement.vertices[arrangement.origin[h]] for h in (half, half ^ 1))
    size = np.hypot(*(q - p).T)
    long = np.asarray(np.bincount(rail, size, 2 * len(rows)), np.float64)
    inner_rail, outer_rail, wide = _between_thirds(
        _along_each_other(rail[every[0]], rail[every[1]], size[every[0]], long),
        r.width[rows],
        single,
    )
    shared[:] = False
    shared[inner_rail] = True
    between[half[shared[rail]] >> 1] = True
    far[outer_rail] = True
    beside = marked(half[far[rail]] >> 1, arrangement.edge_count)
    return between, beside, np.sort(np.r_[width[one[held]], wide])


def _along_each_other(one: Ints, other: Ints, size: Floats, long: Floats) -> Ints:
    """Return (2, n) rails that share the most of the longer one, both ways round.

    `one`, `other` (m,): rails that share an edge. `size` (m,): its length, mm. `long`
    (2 R,): lengths of rails, mm.
    """
    key, back = np.unique(one * len(long) + other, return_inverse=True)
    shared = np.bincount(back, size, len(key))
    pair = np.stack(np.divmod(key, max(len(long), 1)))
    return pair[:, shared >= _MOST * long[pair].max(axis=0)]


def _between_thirds(
    pairs: Ints, width: Floats, halved: Bools
) -> tuple[Ints, Ints, Floats]:
    """Return rails between strips, three side by side with no others of their width.

    `pairs` (2, n): rails of readings that lie along each other, ``2 k`` and ``2 k + 1``
    of reading ``k``. `width` (R,): of readings, mm. `halved` (R,): which are halves.
    Returns the rails between, those on the far sides, and half of the width of all
    three, mm.
    """
    one, other = pairs
    # of the outer two the one inner rail alone has a strip beside it, as wide or less
    less = width[other >> 1] <= (1 + _EVEN) * width[one >> 1]
    beyond = marked(one[less], 2 * len(width))
    key = np.unique(np.stack([other, one])[:, less & ~beyond[one ^ 1]], axis=1)
    count = np.bincount(key[0], minlength=2 * len(width))
    beside = np.full(2 * len(width), -1, np.int64)
    beside[key[0]] = key[1]
    beside[count != 1] = -1
    left, right = beside.reshape(-1, 2).T
    middle = np.flatnonzero((left >= 0) & (right >= 0) & ~halved)
    left, right = left[middle], right[middle]
    even = np.abs(width[left >> 1] - width[right >> 1]) <= _EVEN * width[left >> 1]
    even &= left >> 1 != right >> 1
    # strapwork has pieces by the dozen
    even &= int(even.sum()) >= _FEWEST
    middle, left, right = middle[even], left[even], right[even]
    wide = (width[left >> 1] + width[middle] + width[right >> 1]) / 2
    inner = np.r_[2 * middle, 2 * middle + 1, left, right]
    return inner, np.r_[left ^ 1, right ^ 1], np.r_[wide, wide]


def _led_on(lines: Strands, middle: Bools, rail: Bools, framing: Bools) -> Bools:
    """Return which lines are middle lines, or face one in line under a band.

    `framing`: lines of the outside, which no band runs along both sides of.
    """
    one, other = _facing(lines, middle).T
    middle = middle.copy()
    middle[other[middle[one] & ~framing[other]]] = True
    return middle & ~rail


def _facing(lines: Strands, asked: Bools) -> Ints:
    """Return (n, 2) lines that face each other in line, one of them at least asked."""
    ends = np.flatnonzero(lines.onward < 0)
    heading = lines.lines.headings()[ends]
    out = -np.stack([np.cos(heading), np.sin(heading)], axis=1)
    at = lines.lines.vertices[lines.lines.origin[ends]]
    reach = REACH * float(np.ptp(lines.lines.vertices, axis=0).max())
    line = lines.of_piece[ends >> 1]
    one, other, _ = facing_ends(at, out, reach, asked[line], arcs=False)
    return np.stack([line[one], line[other]], axis=1)


def _at_frames(
    arrangement: Arrangement, lines: Strands, edge: Ints, middle: Bools, widths: Floats
) -> Bools:
    """Return which lines are middle lines, those of bands that a frame cuts too.

    Little is left of their halves there, but on both sides runs a rail at one distance,
    that of halves elsewhere, wherever a rail is in sight; or on one side, and on the
    other the frame is nearer.

    `edge`: of each piece of `lines`. `widths`: of halves, ascending, mm.
    """
    out = np.asarray(outside(arrangement)[arrangement.face].reshape(-1, 2).any(axis=1))
    ends = arrangement.origin.reshape(-1, 2)
    framed = marked(ends[out], len(arrangement.vertices))
    line = lines.of_piece
    asked = np.zeros(len(middle), bool)
    asked[line[framed[ends[edge]].any(axis=1)]] = True
    asked[line[out[edge]]] = False
    asked &= ~middle
    row = np.flatnonzero(asked[line])
    if not len(row):
        return middle
    of_line = np.full(arrangement.edge_count, -1, np.int64)
    of_line[edge] = line
    side, far, hit = _beside(arrangement, edge[row], out, widths[-1] * (1 + _EVEN))
    met = np.where(side == _RAIL, of_line[hit], -1)
    size = np.repeat(lines.lines.pieces.lengths()[row], len(_PLACES)) / len(_PLACES)
    owner = np.repeat(line[row], len(_PLACES))
    count = len(middle)

    def total(some: Bools) -> Floats:
        return np.bincount(owner[some], size[some], count).astype(np.float64)

    def held(known: Bools, seen: Bools) -> Bools:
        """Return which lines have rails of halves beside them, and no middle line."""
        found = asked & ~middle & (total(seen) > 2 * widths[0])
        found &= total(seen) >= _MOST * np.maximum(total(known | seen), 1e-300)
        by = np.append(middle | found, False)[met].any(axis=1) & seen
        return np.asarray(found & (total(by) == 0))

    known = (side == _RAIL) | (side == _NOTHING)
    even = np.abs(far[:, 0] - far[:, 1]) <= _EVEN * far.mean(axis=1)
    both = (side == _RAIL).all(axis=1) & even & _among(widths, far.mean(axis=1))
    middle = middle | held(known.all(axis=1), both)
    # or of the one half the frame leaves a part alone
    rail, cut = (side == _RAIL) & _among(widths, far), side == _FRAME
    cut &= far <= (1 + _EVEN) * far[:, ::-1]
    one = (rail & cut[:, ::-1]).any(axis=1)
    return np.asarray(middle | held(known.all(axis=1), both | one))


def _among(widths: Floats, far: Floats) -> Bools:
    """Return which distances are like some of those widths, ascending."""
    low, high = (np.searchsorted(widths, far * f) for f in (1 - _EVEN, 1 + _EVEN))
    return np.asarray(high > low)


def _beside(
    arrangement: Arrangement, edges: Ints, out: Bools, reach: float
) -> tuple[Ints, Floats, Ints]:
    """Return what lies left and right of edges, at three places of each.

    `out` (E,): edges of the outside, which are no rails. `reach`: looked no farther,
    mm. Returns (3 n, 2) each: nothing, a line aslant, a rail side by side or a line of
    the outside; how far off; and which edge it is.
    """
    import shapely

    faces = distinct(arrangement.face[np.r_[2 * edges, 2 * edges + 1]])
    near = distinct(np.flatnonzero(np.isin(arrangement.face, faces)) >> 1)
    chords, owner, _ = half_edge_curves(arrangement, 2 * near).flatten(0.01 * reach)
    p, d = chords[:, :2], chords[:, 2:] - chords[:, :2]
    rows = np.repeat(np.arange(len(edges)), len(_PLACES))
    curves = half_edge_curves(arrangement, 2 * edges)
    at, slope = curves.evaluate(rows, np.tile(_PLACES, len(edges)))
    slope /= np.maximum(np.hypot(*slope.T), 1e-300)[:, None]
    normal = np.stack([-slope[:, 1], slope[:, 0]], axis=1)
    at = np.repeat(at, 2, axis=0)
    ray = np.stack([normal, -normal], axis=1).reshape(-1, 2) * reach
    tree = shapely.STRtree(np.asarray(shapely.linestrings(chords.reshape(-1, 2, 2))))
    ways = np.asarray(shapely.linestrings(np.stack([at, at + ray], axis=1)))
    way, chord = tree.query(ways, "intersects")
    other = near[owner[chord]] != edges[rows[way >> 1]]
    way, chord = way[other], chord[other]
    area = cross(ray[way], d[chord])
    some = np.abs(area) > 1e-9 * reach * np.hypot(*d[chord].T)
    way, chord, area = way[some], chord[some], area[some]
    far = cross(p[chord] - at[way], d[chord]) / area * reach
    order = np.lexsort((chord, far.round(9), way))
    order = order[begins(way[order])]
    way, chord, area, far = way[order], chord[order], area[order], far[order]
    hit = near[owner[chord]]
    square = np.abs(area) >= np.sqrt(1 - _PARALLEL**2) * reach * np.hypot(*d[chord].T)
    side, long = np.full(len(ray), _NOTHING), np.zeros(len(ray))
    of = np.full(len(ray), -1, np.int64)
    side[way] = np.where(square, _RAIL, _OTHER)
    side[way[out[hit]]] = _FRAME
    long[way], of[way] = far, hit
    return side.reshape(-1, 2), long.reshape(-1, 2), of.reshape(-1, 2)


def _into(arrangement: Arrangement, merged: Arrangement) -> Ints:
    """Return the face of the one drawing that holds each face of the other."""
    import shapely

    into = np.zeros(arrangement.face_count, np.int64)
    if merged.face_count > 1:
        points = np.asarray(shapely.points(arrangement.witness[1:]), object)
        tree = shapely.STRtree(merged.polygons())
        face, holder = tree.query(points, "within")
        into[face + 1] = holder + 1
    return into
