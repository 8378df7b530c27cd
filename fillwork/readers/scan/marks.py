"""Ink that draws no region: lettering beside or between the lines, and hatching."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.crossings import cross
from fillwork.geometry.near import pairs_within
from fillwork.geometry.parts import part_numbers
from fillwork.geometry.ranges import distinct_pairs
from fillwork.readers.scan.check import draw_lines
from fillwork.readers.scan.circles import unit
from fillwork.readers.scan.pixels import depth_at, nearest, patches, place, seen_at

if TYPE_CHECKING:
    from fillwork.arrays import AnyInts, Bools, Floats, Ints
    from fillwork.readers.scan.model import Network, Strand
    from fillwork.readers.scan.pixels import Place


# mm: letters are no larger, and the next one no farther than its own size; an end that
# points at other ink so near stops short of it.
_LETTER, _GAP = 9.0, 3.5
# mm and count: strokes of one hatching are so near each other, and at least so many.
_APART, _STROKES = 2.6, 5
# Neighbours are no shorter than this share of each other.
_LIKE = 0.2
# Lines of a pattern end free where a hand slipped; strokes of hatching, often.
_FREE = 0.25
# A pen for hatching is thinner than the one for lines by a step of pens: 0.7, from
# memory.
_THIN = 0.78
_MOST = 4000


@dataclass(frozen=True, slots=True, eq=False)
class Mark:
    """Hold lettering or hatching."""

    at: Place  # px
    size: float  # px
    what: str  # what it is taken for
    # (n,): the pixels of its ink, row after row, which is left out; None where it stays
    left: Ints | None
    weighs: bool  # whether regions may be wrong for it


def find_marks(
    mask: Bools, network: Network, strands: list[Strand], scale: float
) -> list[Mark]:
    """Return lettering and hatching among the ink.

    What draws no region is left out, what may draw one stays and weighs. `mask` (h, w):
    inked pixels. `scale`: px a mm.
    """
    met = {node: len(ends) for node, ends in network.at_node().items()}
    marks = _lettering(mask, network.width, strands, met, scale)
    return marks + _hatching(mask, network.width, strands, met, scale)


def _tips(
    strand: Strand, met: dict[int, int], width: float
) -> list[tuple[Floats, Floats]]:
    """Return the free ends of a strand and where they point."""
    found = []
    for end in (0, -1):
        if strand.closed or met.get(strand.stops[end][1], 0) != 1:
            continue
        points = strand.points if end == 0 else strand.points[::-1]
        back = points[min(len(points) - 1, round(2.0 * width))]
        found.append((points[0], unit(points[0] - back)))
    return found


def _strays(points: Floats) -> tuple[float, float]:
    """Return the length of the chord and how far the points lie from it."""
    chord = points[-1] - points[0]
    long = max(float(np.hypot(*chord)), 1e-9)
    off = (points - points[0]) @ np.array([-chord[1], chord[0]]) / long
    return long, float(np.abs(off).max())


def _lettering(
    mask: Bools, width: float, strands: list[Strand], met: dict[int, int], scale: float
) -> list[Mark]:
    """Find what stands alone, is small, and has ends that point at no line."""
    labels, found = patches(mask)
    boxes = np.array([[b[1].start, b[0].start, b[1].stop, b[0].stop] for b in found])
    side = (boxes[:, 2:] - boxes[:, :2]).max(axis=1)
    small = np.r_[False, side <= _LETTER * scale]
    letters, open_ = _drawn_as_letters(labels, small, width, strands, met, scale)
    if not letters.any():
        return []
    typical = float(np.median(side[np.flatnonzero(letters) - 1]))
    near_size = np.flatnonzero(small & (letters | np.r_[False, side < 1.6 * typical]))
    first, second = _in_a_row(boxes[near_size - 1], typical)
    row_of = part_numbers(first, second, len(near_size))
    marks, rest = [], []
    for number in range(row_of.max() + 1):
        row = near_size[row_of == number]
        low, high = boxes[row - 1, :2].min(axis=0), boxes[row - 1, 2:].max(axis=0)
        if letters[row].any():
            what = "lettering that was left out"
            # of one or two a closed one may be a motif beside a letter
            closed = len(row) < 3 and not open_[row].all()
            at, size = place((low + high) / 2), float((high - low).max())
            own = np.isin(labels[low[1] : high[1], low[0] : high[0]], row)
            left = np.ravel_multi_index(
                tuple(np.argwhere(own).T + low[::-1, None]), mask.shape
            )
            marks.append(Mark(at, size, what, left, closed))
            continue
        for k in row[(side[row - 1] > 0.6 * typical) & ~open_[row]]:
            what = "a small closed shape: a figure, or part of the pattern"
            at = place((boxes[k - 1, :2] + boxes[k - 1, 2:]) / 2)
            rest.append(Mark(at, float(side[k - 1]), what, None, True))
    return marks + rest


def _drawn_as_letters(
    labels: AnyInts,
    small: Bools,
    width: float,
    strands: list[Strand],
    met: dict[int, int],
    scale: float,
) -> tuple[Bools, Bools]:
    """Return which pieces of ink are drawn as letters are, and which have free ends.

    `labels` (h, w): the piece of each pixel, from 1. `small`: whether each is.
    """
    strokes, ends, aiming = (np.zeros(len(small), int) for _ in range(3))
    bent = np.zeros(len(small), bool)

    reach = np.arange(width, _GAP * scale)[:, None]
    near = reach[:, 0] < 0.35 * _GAP * scale
    for strand in strands:
        own = int(np.bincount(seen_at(labels, strand.points)).argmax())
        if not small[own]:
            continue
        long, off = _strays(strand.points)
        strokes[own] += 1
        bent[own] |= off > max(0.15 * long, 0.5 * width)
        for tip, way in _tips(strand, met, width):
            seen = seen_at(labels, tip + reach * way)
            other = (seen > 0) & (seen != own) & ~small[seen]
            ends[own] += 1
            aiming[own] += bool(other.any() or (seen[near] == own).any())
    # where a hand slipped, each end points at what it should have met
    open_ = ends > 0
    return small & open_ & (bent | (strokes > 1)) & (aiming < ends), open_


def _in_a_row(boxes: AnyInts, most: float) -> tuple[Ints, Ints]:
    """Return which boxes stand side by side, with less than that between them."""
    left, top, right, low = boxes.T
    common = np.minimum(low[:, None], low) - np.maximum(top[:, None], top)
    gap = np.maximum(left[:, None], left) - np.minimum(right[:, None], right)
    first, second = np.nonzero((common >= 0.3 * (low - top)) & (gap < most))
    return first, second


def _hatching(
    mask: Bools, width: float, strands: list[Strand], met: dict[int, int], scale: float
) -> list[Mark]:
    """Find straight strokes side by side that cross no line."""
    strokes = []
    for k, strand in enumerate(strands):
        reach, stray = _strays(strand.points)
        straight = stray < max(width, 0.03 * reach)
        if not strand.closed and reach > 3.0 * width and straight:
            strokes.append(k)
    strokes = _uncrossed(strands, strokes, _APART * scale)
    if not _STROKES <= len(strokes) <= _MOST:
        return []
    pens = _pens(mask, strands)
    tips = np.array([strands[k].points[[0, -1]] for k in strokes])
    first, second, off = _side_by_side(tips, pens[strokes], width, scale)
    family = part_numbers(first, second, len(strokes))
    ends = np.array([len(_tips(s, met, width)) for s in strands])
    marks = []
    for f in range(family.max() + 1):
        member = np.flatnonzero(family == f)
        if len(member) < _STROKES:
            continue
        own = np.array(strokes)[member]
        what, left = "narrow regions, or hatching", None
        free = bool(ends[own].sum() > _FREE * 2 * len(own))
        usual = float(np.median(np.delete(pens, own))) if len(own) < len(pens) else 0.0
        usual = max(usual, float(pens[own].max()))
        thin = bool(np.median(pens[own]) < _THIN * usual)
        # a line beside hatching has strokes on one side, is broader, or ends nowhere
        if free:
            between = np.isin(member, first[off > 0]) & np.isin(member, first[off < 0])
            own = own[(ends[own] > 0) | between]
        elif thin:
            own = own[pens[own] < _THIN * usual]
        points = [strands[k].points for k in own]
        if free or thin:
            what = "hatching that was left out"
            trim = round(0.5 * width) + 1
            inner = [p[trim:-trim] if len(p) > 3 * trim else p for p in points]
            broad = 2.0 * float(np.percentile(pens[own], 90)) + 3.0
            left = np.flatnonzero(mask & draw_lines(inner, mask.shape, broad))
        ink = np.vstack(points)
        size = float(np.ptp(ink, axis=0).max())
        sure = bool(free and (ends[own] == 2).all())
        marks.append(Mark(place(np.median(ink, axis=0)), size, what, left, not sure))
    return marks


def _pens(mask: Bools, strands: list[Strand]) -> Floats:
    """Return how deep the ink of each strand is, away from its ends, px."""
    inner = [
        s.points[len(s.points) // 4 : -(len(s.points) // 4) or None] for s in strands
    ]
    x, y = nearest(mask, np.vstack(inner)).T
    deep = np.split(depth_at(mask, y, x), np.cumsum([len(i) for i in inner]))
    return np.array([float(np.median(d)) for d in deep[:-1]])


def _side_by_side(
    tips: Floats, pens: Floats, width: float, scale: float
) -> tuple[Ints, Ints, Floats]:
    """Return which strokes lie beside which, and how far off the second is, px.

    `tips` (n, 2, 2): their ends, px. `pens` (n,): how deep their ink is, px.
    """
    way = tips[:, 1] - tips[:, 0]
    long = np.hypot(way[:, 0], way[:, 1])
    way /= long[:, None]
    middle = tips.mean(axis=1)
    # the longer of two that overlap has the other's middle so near its own
    one, two = pairs_within(middle, middle, long + _APART * scale)
    a, b = distinct_pairs(np.stack([np.r_[one, two], np.r_[two, one]], 1)).T
    gap = middle[b] - middle[a]
    along, off = np.abs((gap * way[a]).sum(axis=1)), cross(way[a], gap)
    short, longer = np.minimum(long[a], long[b]), np.maximum(long[a], long[b])
    apart = np.abs(off)
    beside = np.abs(cross(way[a], way[b])) < 0.14
    beside &= (apart < _APART * scale) & (apart > 0.5 * width)
    beside &= (long[a] + long[b]) / 2 - along > 0.3 * short
    # short strokes along a frame lie beside it, not beside each other
    beside &= short > _LIKE * longer
    beside &= np.minimum(pens[a], pens[b]) > _THIN * np.maximum(pens[a], pens[b])
    return a[beside], b[beside], off[beside]


def _uncrossed(strands: list[Strand], strokes: list[int], slip: float) -> list[int]:
    """Return strokes that only others of them cross, but for a slip at an end."""
    at: dict[int, list[int]] = {}
    for k, strand in enumerate(strands):
        for _, node in strand.stops:
            at.setdefault(node, []).append(k)
    kept = set(strokes)
    while True:
        gone = set()
        for k in kept:
            strand = strands[k]
            last = len(strand.points) - 1
            for passed, node in strand.stops[1:-1]:
                if min(passed, last - passed) > slip and not kept.issuperset(at[node]):
                    gone.add(k)
                    break
        if not gone:
            return sorted(kept)
        kept -= gone
