"""Regions that are ink: narrower than the line that bounds them.

Two lines drawn beside each other, or three that miss one point by a hair, leave
regions that no pen shows. Such a region is absorbed by the neighbour with which it
shares most of its outline; only what parts the two is taken out, so that no other
region is opened, joined or lost.

A *corner* is where a region's outline does not go straight on. A line *runs on*
through a corner when it goes on beyond the region there. Thin triangles and tips of
stars whose corners are the ends of every line, or whose long sides part, are drawn
and stay.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fillwork.arrangement.model import Defect
from fillwork.arrangement.scraps import left_by_points
from fillwork.arrangement.slivers import between_doubled_lines, straight_on
from fillwork.arrangement.tiled import find_between
from fillwork.geometry.ranges import (
    begins,
    distinct,
    distinct_pairs,
    expand_ranges,
    marked,
)

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Bools, Floats, Ints
    from fillwork.tolerance import Tolerance


# cosine of the turn of lines of two strokes that are one straight line
_EXACT = 1.0 - 1e-6
# times that rounding moves a point, by which three points may be off one line
_ROUNDED = 3.0
# of 2 A / P, whose P by chords may fall short by a third
_HALF = 1 / 3
# times that two strokes part and meet again, beyond which they run as one line
_TOGETHER = 3
# no region wider than this share of the usual one is ink
_FINE = 0.2
# extent of a speck, of the line's width, the usual region's, what is one point, and
# what the decimals of the file leave open
_SPECK = (0.08, 4e-3, 50.0, 40.0)
# a sliver is so many times longer than its radius
_SLENDER = 8.0
# gaps between tiles are so many lines wide at most; where lines have no width, no
# wider than that share of the usual region
_JOINT, _NARROW = 1.25, 0.02
# where circles touch, what they leave between is 8.5 times as long as its radius
_LONG = 24.0
# what gaps closed at one place leave between is so many times as large as the longest
_SCRAP = 1.5
# lines traced through the middle of ink hide what is no wider than this share of it
_COVERED = 0.6
# shares of the outline that differ by less than this are alike
_ALIKE = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class Ink:
    """Hold the regions that are absorbed."""

    # (E,): True for what parts an absorbed region from the one that takes it
    edges: Bools
    # an edge that stays, and one beside it that goes and whose lines it stands for
    heirs: tuple[tuple[int, int], ...]
    # one for each set of strokes, where the absorbed region is widest
    defects: tuple[Defect, ...]


def find_ink(
    arrangement: Arrangement,
    line_width: float | None,
    rounding: float,
    closings: Bools,
    *,
    by_hand: bool,
    traced: bool,
) -> Ink:
    """Find regions that the drawn line covers, and what to take out for them.

    No edges when every region is one. `line_width`: usual width of the drawn lines, mm.
    `rounding`: how far the decimals of the file may have moved a point, mm. `closings`
    (curves,): which curves were added to close a gap. `by_hand`: whether corners stop
    short of lines: others then run over them. `traced`: whether the lines are the
    middles of ink in a picture.
    """
    nothing = Ink(np.zeros(arrangement.edge_count, bool), (), ())
    if arrangement.face_count < 2:
        return nothing
    tolerance = arrangement.tolerance
    mean, around = _mean_widths(arrangement)
    mended = _mended(arrangement, closings)
    told = rounding if math.isfinite(rounding) else 0.0
    width = line_width or 0.0
    least = _least(
        width,
        _FINE * _usual(mean, arrangement.area[1:]),
        told,
        tolerance,
        mended=0.5 * float(mended.max()),
        covered=0.5 * _COVERED * width if traced else 0.0,
    )
    lens = 0.5 * tolerance.touch
    most = max(least.rounded, least.slack, least.joint, least.scrap, least.covered)
    most = max(most, lens)
    faces, radius, extent = _thin(arrangement, mean, around, most)
    if len(faces) == 0:
        return nothing
    looks = _looks(arrangement, faces, max(_ROUNDED * told, tolerance.join_within))
    doomed = _slivers(arrangement, faces, radius, extent, looks, least, width)
    # nor what lies between two lines that touch in ink
    doomed |= (
        (looks.strokes == 2) & (looks.corners <= 2) & ~looks.own & (radius <= lens)
    )
    # what the slack cannot tell from a point or a line is no region at all
    doomed |= (radius <= least.slack) | (mean[faces - 1] <= least.slack)
    # nor is what is a speck beside the line and beside the other regions, whatever its
    # shape: three lines that miss one point by the last decimal of the file
    doomed |= extent <= least.speck
    # what points that a hand set at one place leave there, where the pen covers it
    left, crossing = left_by_points(
        arrangement, ~closings, looks.drawn_by, looks.points, len(faces), 2 * least.pen
    )
    doomed |= left & (radius <= least.pen)
    # a corner that ran over a line, or another corner, by less than the pen shows
    if by_hand or crossing:
        doomed |= looks.over & (radius <= least.pen)
    # no paper was seen there, so whatever parts the middles is not what was drawn
    doomed |= radius <= least.covered
    # closing gaps at one place makes scraps between the lines that it adds
    doomed |= (extent <= mended[faces]) & (radius <= least.scrap)
    if not doomed.any():
        return nothing
    return _absorb(arrangement, faces[doomed], radius[doomed])


class _Least(NamedTuple):
    """Hold which regions are none: radii of the largest circles in them, mm."""

    pen: float  # those that the line covers
    beside: float  # between lines that run side by side
    slack: float  # those that are as narrow as points
    joint: float  # long ones, such as gaps between tiles
    scrap: float  # beside lines that close gaps
    rounded: float  # those that decimals leave
    covered: float  # under the ink of a picture
    speck: float  # how large they are on the whole, whatever their shape


def _least(
    width: float,
    fine: float,
    told: float,
    tolerance: Tolerance,
    *,
    mended: float,
    covered: float,
) -> _Least:
    """Return which regions are none, beside the line and beside the others.

    `width`: of the line; 0 if not known. `fine`: none wider than that is ink. `told`:
    how far decimals move a point. `mended`: half the longest gap that was closed.
    `covered`: what the ink of a picture covers.
    """
    beside = min(tolerance.sliver, fine)
    pen = max(min(0.5 * width, fine), beside)
    speck = min(_SPECK[0] * width, _SPECK[1] * fine / _FINE)
    return _Least(
        pen,
        beside,
        slack=0.5 * min(tolerance.join_within, fine),
        joint=min(0.5 * _JOINT * width, fine) if width else _NARROW * fine / _FINE,
        scrap=min(mended, fine),
        rounded=max(pen, min(told, fine)),
        covered=min(covered, fine),
        speck=min(speck, max(_SPECK[2] * tolerance.join_within, _SPECK[3] * told)),
    )


def _slivers(
    arrangement: Arrangement,
    faces: Ints,
    radius: Floats,
    extent: Floats,
    looks: _Looks,
    least: _Least,
    width: float,
) -> Bools:
    """Return which narrow faces lie between lines that were to be one."""
    sliver = (looks.strokes >= 2) & (extent > _SLENDER * radius)
    sliver &= looks.runs_on | (looks.corners <= 2)
    # what a stroke goes round, and nothing else, was drawn for itself
    sliver &= ~looks.own
    # two outlines of one border part and meet again many times; where outlines are
    # drawn so, what is left between three of them is of the same sort
    thin = radius <= least.pen
    often = sliver & thin & (looks.pairs >= _TOGETHER)
    doomed = looks.runs_on & thin & looks.bounded_by(often) & ~looks.own
    # a line that runs beside another throughout, nearer than the pen is wide, is one
    # drawn twice; where such lines meet, what the ink covers is left by chance
    twice = np.zeros(len(faces), bool)
    for most, both in ((least.beside, False), (least.pen, True)):
        near = np.flatnonzero(sliver & (radius <= most) & ~doomed & ~twice)
        twice[near] = between_doubled_lines(arrangement, faces[near], most, both=both)
    scraps = (extent <= width) & (radius <= least.beside)
    scraps |= looks.runs_on & thin
    doomed |= twice | (scraps & looks.bounded_by(twice) & ~looks.own)
    # what is wider than the pen is seen: only along a border is it left by rounding
    narrow = radius <= least.rounded
    narrow |= (radius <= least.joint) & (extent > _LONG * radius)
    between = np.flatnonzero(narrow & ~looks.own & ~doomed)
    doomed[between] = find_between(arrangement, faces[between])
    return np.asarray(doomed)


def _mended(arrangement: Arrangement, closings: Bools) -> Floats:
    """Return how large what the gaps closed round each face leave may be, mm."""
    size = np.zeros(arrangement.face_count)
    edge = np.flatnonzero(closings[arrangement.edge_curve])
    short = arrangement.curves.take(arrangement.edge_curve[edge])
    gap = np.hypot(*(short.ends() - short.starts()).T)
    for face in arrangement.face.reshape(-1, 2)[edge].T:
        np.maximum.at(size, face, _SCRAP * gap)
    return size


def _mean_widths(arrangement: Arrangement) -> tuple[Floats, Floats]:
    """Return 2 A / P and P of each face from 1 on: the first is a circle's radius."""
    first = arrangement.ring_start[arrangement.face_ring_start[1:]]
    half = arrangement.ring_half_edge[first[0] :]
    step = arrangement.vertices.take(arrangement.origin[half], axis=0)
    step -= arrangement.vertices.take(arrangement.origin[half ^ 1], axis=0)
    around = np.add.reduceat(np.hypot(step[:, 0], step[:, 1]), first[:-1] - first[0])
    area = np.maximum(arrangement.area[1:], 0.0)
    return 2.0 * area / np.maximum(around, 1e-300), around


def _usual(mean: Floats, area: Floats) -> float:
    """Return the width of the region in which the middle of the area lies.

    Weighed so, many slivers do not count.
    """
    order = np.argsort(mean, kind="stable")
    total = np.cumsum(np.maximum(area, 0.0)[order])
    return float(mean[order[np.searchsorted(total, 0.5 * total[-1])]])


def _thin(
    arrangement: Arrangement, mean: Floats, around: Floats, most: float
) -> tuple[Ints, Floats, Floats]:
    """Return faces no wider than a radius, their inscribed radius and extent.

    No point of a face is farther from its boundary than its inscribed radius, so its
    area is at most the boundary's length times the radius, and a circle for each hole.
    """
    rings = np.diff(arrangement.face_ring_start[1:])
    # chords are a little shorter than the curves that they stand for
    bound = 1.5 * (2.0 * most + 8.0 * most**2 * rings / np.maximum(around, 1e-300))
    faces = np.flatnonzero(mean <= bound) + 1
    _, radius = arrangement.points_inside(faces)
    # nor is it less than A / P, though the chords of a lens may lie on each other
    radius = np.maximum(radius, _HALF * mean[faces - 1])
    kept = radius <= most
    faces, radius = faces[kept], radius[kept]
    owner, start, _ = arrangement.sides(faces)
    lead = np.flatnonzero(begins(owner))
    if len(faces) == 0:
        return faces, radius, radius
    low, high = np.minimum.reduceat(start, lead), np.maximum.reduceat(start, lead)
    return faces, radius, np.hypot(*(high - low).T)


@dataclass(frozen=True, slots=True, eq=False)
class _Looks:
    """Hold how faces are bounded: strokes, corners, and lines that run on."""

    strokes: Ints
    corners: Ints
    runs_on: Bools
    # the point of a corner beyond a line that both its sides cross, or two such points
    # that overlap
    over: Bools
    own: Bools  # the outline of one stroke, all of it
    pairs: Ints  # of these faces, how many are bounded by the same two strokes
    drawn_by: Ints  # rows of face and stroke, shape (n, 2)
    points: Ints  # rows of face and a vertex at which nothing but it turns, (n, 2)

    def bounded_by(self, faces: Bools) -> Bools:
        """Return which faces strokes bound that all bound some of given faces too."""
        face, stroke = self.drawn_by.T
        other = ~np.isin(stroke, stroke[faces[face]])
        return np.asarray(np.bincount(face, other, len(self.strokes)) == 0)


def _looks(arrangement: Arrangement, faces: Ints, exact: float) -> _Looks:
    """Return how some faces are bounded; lines in line are off by so little, mm."""
    first = arrangement.ring_start[arrangement.face_ring_start[faces]]
    last = arrangement.ring_start[arrangement.face_ring_start[faces + 1]]
    owner, member = expand_ranges(first, last - first)
    half = arrangement.ring_half_edge[member].astype(np.int64)
    stroke = arrangement.curve_stroke[arrangement.edge_curve[half >> 1]]
    pair = distinct_pairs(np.stack([owner, stroke], axis=1))
    # rings may be parted where a face touches itself: what follows is looked up
    after = arrangement.next[half].astype(np.int64)
    partner = _partners(arrangement, distinct(arrangement.origin[half]), exact)
    arriving, leaving = partner[half ^ 1], partner[after]
    corner = arriving != after
    runs = corner & ((arriving >= 0) | (leaving >= 0))
    alone = np.bincount(arrangement.origin)[arrangement.origin[after]] == 2
    count = len(faces)
    corners = np.bincount(owner, corner, count).astype(np.int64)
    point = corner & alone & ~runs
    points = np.bincount(owner, point, count)
    crossings = np.bincount(owner, runs, count)
    over = (crossings == 2) & (corners == crossings + points)
    over &= (points == 1) | (points == 2)
    strokes = np.bincount(pair[:, 0], minlength=len(faces))
    two = np.flatnonzero(strokes == 2)
    drawn_by = pair[np.isin(pair[:, 0], two), 1].reshape(-1, 2)
    pairs = np.zeros(len(faces), np.int64)
    if len(two):
        _, which, times = np.unique(
            drawn_by, axis=0, return_inverse=True, return_counts=True
        )
        pairs[two] = times[which.reshape(-1)]
    return _Looks(
        strokes,
        corners,
        np.bincount(owner, runs, len(faces)) > 0,
        over,
        _own_outlines(arrangement, owner, half >> 1, len(faces)),
        pairs,
        pair,
        np.stack([owner[point], arrangement.origin[after[point]]], axis=1),
    )


def _own_outlines(
    arrangement: Arrangement, owner: Ints, edge: Ints, count: int
) -> Bools:
    """Return which faces are bounded by the whole of one stroke, all round."""
    start = arrangement.source_start.astype(np.int64)
    drawn = arrangement.curve_stroke[arrangement.source_curve].astype(np.int64) + 1
    strokes = int(arrangement.curve_stroke.max(initial=0)) + 2
    edges = np.repeat(np.arange(arrangement.edge_count), np.diff(start))
    once = distinct(edges * strokes + drawn)
    total = np.bincount(once % strokes, minlength=strokes)
    row, member = expand_ranges(start[edge], start[edge + 1] - start[edge])
    side = distinct(row.astype(np.int64) * strokes + drawn[member])
    key, held = np.unique(
        owner[side // strokes] * strokes + side % strokes, return_counts=True
    )
    face, stroke = np.divmod(key, strokes)
    round_it = np.bincount(owner, minlength=count)
    own = np.zeros(count, bool)
    own[face[(held == round_it[face]) & (held == total[stroke]) & (stroke > 0)]] = True
    return own


def _partners(arrangement: Arrangement, vertices: AnyInts, exact: float) -> Ints:
    """Return for each half-edge the one with which its line goes on; or -1.

    Lines in line by chance are two: one line is drawn by one stroke, or exactly
    straight, so that no end is off by more than the file's decimals explain, and
    there no more than one other line ends.
    """
    half, other, cosine = straight_on(arrangement, vertices)
    stroke = arrangement.curve_stroke[arrangement.edge_curve]
    curves, whole = arrangement.curves, arrangement.edge_curve[[half >> 1, other >> 1]]
    chord = np.hypot(*(curves.ends() - curves.starts()).T)[whole]
    off = np.sqrt(np.maximum(1.0 - cosine**2, 0.0)) * chord.min(axis=0)
    drawn = stroke[half >> 1] == stroke[other >> 1]
    one = drawn | ((cosine > _EXACT) & (off <= exact))
    at = arrangement.origin
    ending = np.bincount(at) - np.bincount(at[half[one]], minlength=at.max() + 1)
    one &= drawn | (ending[at[half]] <= 1)
    partner = np.full(len(at), -1, np.int64)
    partner[half[one]] = other[one]
    return partner


def _absorb(arrangement: Arrangement, doomed: Ints, radius: Floats) -> Ink:
    """Return the edges between doomed faces and those that take them."""
    gone = marked(doomed, arrangement.face_count)
    # shared outline of each doomed face with each of its neighbours
    half = np.flatnonzero(gone[arrangement.face])
    own, other = arrangement.face[half], arrangement.face[half ^ 1]
    ends = [arrangement.vertices[arrangement.origin[h]] for h in (half, half ^ 1)]
    size = np.hypot(*(ends[1] - ends[0]).T)
    key = own.astype(np.int64) * arrangement.face_count + other
    pairs, place = np.unique(key, return_inverse=True)
    shared = np.bincount(place, size)
    # where on a doomed face each neighbour lies, so that copies choose alike
    middle = (ends[0] + ends[1]) / 2
    count = np.bincount(place)
    at = np.stack([np.bincount(place, middle[:, k]) / count for k in (0, 1)], axis=1)
    own, other = np.divmod(pairs, arrangement.face_count)
    heart = (
        np.stack(
            [np.bincount(own, at[:, k], arrangement.face_count) for k in (0, 1)], axis=1
        )
        / np.maximum(np.bincount(own, minlength=arrangement.face_count), 1)[:, None]
    )
    x, y = (at - heart[own]).round(6).T
    large = _tiers(arrangement.area)
    label = np.arange(arrangement.face_count)
    left = gone.copy()
    # doomed faces beside others first, then those enclosed by doomed ones
    while left.any():
        open_to = left[own] & ~left[other]
        if not open_to.any():
            # nothing but doomed faces: the largest of each cluster stays
            area = np.where(left, arrangement.area, -np.inf)
            stays = int(area.argmax())
            left[stays] = False
            continue
        a, b, s = own[open_to], other[open_to], shared[open_to]
        longest = np.zeros(arrangement.face_count)
        np.maximum.at(longest, a, s)
        near = s >= (1 - _ALIKE) * longest[a]
        rows = np.flatnonzero(open_to)[near]
        a, b = a[near], b[near]
        # among shares alike the larger neighbour; the outside comes last
        order = np.lexsort((b, x[rows], y[rows], -large[b], b == 0, a))
        lead = order[begins(a[order])]
        label[a[lead]] = label[b[lead]]
        left[a[lead]] = False
    edges = label[arrangement.face[0::2]] == label[arrangement.face[1::2]]
    heirs = _heirs(arrangement, doomed, radius, edges)
    return Ink(edges, heirs, _told(arrangement, doomed, radius))


def _tiers(values: Floats) -> Ints:
    """Return ranks of values in which those alike but for rounding share one."""
    order = np.argsort(values, kind="stable")
    step = np.diff(values[order]) > 1e-6 * np.abs(values[order][1:])
    tiers = np.empty(len(values), np.int64)
    tiers[order] = np.r_[0, np.cumsum(step)]
    return tiers


def _heirs(
    arrangement: Arrangement, doomed: Ints, radius: Floats, gone: Bools
) -> tuple[tuple[int, int], ...]:
    """Return pairs of an edge that stays and one beside it that goes."""

    def drawn_by(edge: int) -> tuple[int, ...]:
        begin, end = arrangement.source_start[edge : edge + 2]
        return tuple(arrangement.source_curve[begin:end].tolist())

    pairs = []
    for face, r in zip(doomed.tolist(), radius.tolist(), strict=True):
        edge = np.concatenate(arrangement.face_half_edges(face)) >> 1
        ends = arrangement.vertices[arrangement.origin.reshape(-1, 2)[edge]]
        long = np.hypot(*(ends[:, 1] - ends[:, 0]).T) > 4 * r
        # one edge for all that the same lines drew
        lost = {drawn_by(e): e for e in edge[gone[edge] & long].tolist()[::-1]}
        stays = edge[~gone[edge] & long].tolist() if lost else []
        pairs += [(kept, one) for kept in stays for one in lost.values()]
    return tuple(sorted(set(pairs)))


def _told(arrangement: Arrangement, doomed: Ints, radius: Floats) -> tuple[Defect, ...]:
    """Say where regions were absorbed: one place for each set of strokes."""
    points, _ = arrangement.points_inside(doomed)
    told: dict[tuple[int, ...], Defect] = {}
    for k in np.argsort(-radius, kind="stable").tolist():
        edge = np.concatenate(arrangement.face_half_edges(int(doomed[k]))) >> 1
        ends = arrangement.vertices[arrangement.origin.reshape(-1, 2)[edge]]
        long = np.hypot(*(ends[:, 1] - ends[:, 0]).T) > 4 * radius[k]
        edge = edge[long] if long.any() else edge
        strokes = arrangement.curve_stroke[arrangement.edge_curve[edge]]
        key = tuple(np.unique(strokes[strokes >= 0]).tolist())
        if key not in told:
            at = (float(points[k, 0]), float(points[k, 1]))
            size = float(2 * radius[k])
            mend = "draw the lines beside it as one"
            told[key] = Defect("sliver", at, size, "merged", mend, key)
    return tuple(told.values())
