"""Ink that draws no region: lettering beside or between the lines, and hatching."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.readers.scan.check import draw_lines
from fillwork.readers.scan.pixels import boxes_of, depth_at

if TYPE_CHECKING:
    from fillwork.arrays import AnyInts, Bools, Floats
    from fillwork.readers.scan.model import Network, Strand


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

    at: tuple[float, float]  # a place, px
    size: float  # px
    what: str  # what it is taken for
    # (h, w): its ink, which is left out; None where it stays
    left: Bools | None
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
        way = points[0] - back
        found.append((points[0], way / max(float(np.hypot(*way)), 1e-9)))
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
    from scipy import ndimage
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    labels, _ = ndimage.label(mask, np.ones((3, 3), bool))
    boxes = np.array(
        [[b[1].start, b[0].start, b[1].stop, b[0].stop] for b in boxes_of(labels)]
    ).reshape(-1, 4)
    side = (boxes[:, 2:] - boxes[:, :2]).max(axis=1)
    small = np.r_[False, side <= _LETTER * scale]
    letters, open_ = _drawn_as_letters(labels, small, width, strands, met, scale)
    if not letters.any():
        return []
    typical = float(np.median(side[np.flatnonzero(letters) - 1]))
    near_size = np.flatnonzero(small & (letters | np.r_[False, side < 1.6 * typical]))
    beside = [
        [_beside(boxes[k - 1], boxes[m - 1]) < typical for m in near_size]
        for k in near_size
    ]
    count, row_of = connected_components(coo_matrix(np.array(beside)), directed=False)
    rows = [near_size[row_of == k] for k in range(count)]
    rest = [int(k) for row in rows if not letters[row].any() for k in row]
    rows = [row for row in rows if letters[row].any()]
    marks = []
    for row in rows:
        box = boxes[row - 1]
        middle = (box[:, :2].min(axis=0) + box[:, 2:].max(axis=0)) / 2
        size = float((box[:, 2:].max(axis=0) - box[:, :2].min(axis=0)).max())
        left = np.isin(labels, row)
        # of one or two a closed one may be a motif beside a letter
        closed = len(row) < 3 and not open_[row].all()
        place = (float(middle[0]), float(middle[1]))
        marks.append(Mark(place, size, "lettering that was left out", left, closed))
    for k in rest:
        if side[k - 1] > 0.6 * typical and not open_[k]:
            x, y = (boxes[k - 1][:2] + boxes[k - 1][2:]) / 2
            what = "a small closed shape: a figure, or part of the pattern"
            place = (float(x), float(y))
            marks.append(Mark(place, float(side[k - 1]), what, None, True))
    return marks


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
    limit = np.array(labels.shape[::-1]) - 1
    strokes, ends, aiming = (np.zeros(len(small), int) for _ in range(3))
    bent = np.zeros(len(small), bool)

    def at(place: Floats) -> AnyInts:
        """Return the pieces at places."""
        x, y = np.clip(np.rint(place).astype(int), 0, limit).T
        found: AnyInts = labels[y, x]
        return found

    reach = np.arange(width, _GAP * scale)[:, None]
    near = reach[:, 0] < 0.35 * _GAP * scale
    for strand in strands:
        own = int(np.bincount(at(strand.points)).argmax())
        if not small[own]:
            continue
        long, off = _strays(strand.points)
        strokes[own] += 1
        bent[own] |= off > max(0.15 * long, 0.5 * width)
        for tip, way in _tips(strand, met, width):
            seen = at(tip + reach * way)
            other = (seen > 0) & (seen != own) & ~small[seen]
            ends[own] += 1
            aiming[own] += bool(other.any() or (seen[near] == own).any())
    # where a hand slipped, each end points at what it should have met
    open_ = ends > 0
    return small & open_ & (bent | (strokes > 1)) & (aiming < ends), open_


def _beside(one: AnyInts, two: AnyInts) -> float:
    """Return the gap between two boxes of one row; none where they are of two."""
    if min(one[3], two[3]) - max(one[1], two[1]) < 0.3 * (two[3] - two[1]):
        return np.inf
    return float(max(one[0], two[0]) - min(one[2], two[2]))


def _hatching(
    mask: Bools, width: float, strands: list[Strand], met: dict[int, int], scale: float
) -> list[Mark]:
    """Find straight strokes side by side that cross no line."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

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
    linked, off = _side_by_side(tips, pens[strokes], width, scale)
    count, family = connected_components(coo_matrix(linked | linked.T), directed=False)
    marks: list[Mark] = []
    if np.bincount(family).max() < _STROKES:
        return marks
    ends = np.array([len(_tips(s, met, width)) for s in strands])
    for f in range(count):
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
            sides = [
                (linked[member] & (off[member] * s > 0)).any(axis=1) for s in (1, -1)
            ]
            own = own[(ends[own] > 0) | (sides[0] & sides[1])]
        elif thin:
            own = own[pens[own] < _THIN * usual]
        points = [strands[k].points for k in own]
        if free or thin:
            what = "hatching that was left out"
            trim = round(0.5 * width) + 1
            inner = [p[trim:-trim] if len(p) > 3 * trim else p for p in points]
            broad = 2.0 * float(np.percentile(pens[own], 90)) + 3.0
            left = mask & draw_lines(inner, (mask.shape[0], mask.shape[1]), broad)
        x, y = np.median(np.vstack(points), axis=0)
        size = float(np.ptp(np.vstack(points), axis=0).max())
        sure = bool(free and (ends[own] == 2).all())
        marks.append(Mark((float(x), float(y)), size, what, left, not sure))
    return marks


def _pens(mask: Bools, strands: list[Strand]) -> Floats:
    """Return how deep the ink of each strand is, away from its ends, px."""
    inner = [
        s.points[len(s.points) // 4 : -(len(s.points) // 4) or None] for s in strands
    ]
    limit = np.array(mask.shape[::-1]) - 1
    x, y = np.clip(np.rint(np.vstack(inner)).astype(int), 0, limit).T
    deep = np.split(depth_at(mask, y, x), np.cumsum([len(i) for i in inner]))
    return np.array([float(np.median(d)) for d in deep[:-1]])


def _side_by_side(
    tips: Floats, pens: Floats, width: float, scale: float
) -> tuple[Bools, Floats]:
    """Return which strokes lie side by side, and how far off each lies from each.

    `tips` (n, 2, 2): their ends, px. `pens` (n,): how deep their ink is, px.
    """
    way = tips[:, 1] - tips[:, 0]
    long = np.hypot(way[:, 0], way[:, 1])
    way /= long[:, None]
    middle = tips.mean(axis=1)
    gap = middle[None] - middle[:, None]
    along = np.abs(np.einsum("ijk,ik->ij", gap, way))
    off = gap[..., 1] * way[:, None, 0] - gap[..., 0] * way[:, None, 1]
    apart = np.abs(off)
    turn = np.abs(way[:, None, 0] * way[None, :, 1] - way[:, None, 1] * way[None, :, 0])
    short = np.minimum(long[:, None], long[None])
    overlap = (long[:, None] + long[None]) / 2 - along
    linked = (turn < 0.14) & (apart < _APART * scale) & (apart > 0.5 * width)
    linked &= overlap > 0.3 * short
    # short strokes along a frame lie beside it, not beside each other
    linked &= short > _LIKE * np.maximum(long[:, None], long[None])
    linked &= np.minimum(pens[:, None], pens) > _THIN * np.maximum(pens[:, None], pens)
    return linked, off


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
            for place, node in strand.stops[1:-1]:
                if min(place, last - place) > slip and not kept.issuperset(at[node]):
                    gone.add(k)
                    break
        if not gone:
            return sorted(kept)
        kept -= gone
