"""Tolerances chosen from the drawing itself, with the reason in words."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.vertices import chained
from fillwork.geometry.curves import ARC, LINE
from fillwork.geometry.rounding import rounding_of_points
from fillwork.tolerance import Tolerance

if TYPE_CHECKING:
    from fillwork.arrays import Floats
    from fillwork.linework import LineWork

# curves that come nearer than this share of the usual piece of line all but touch
_SHALLOW = 0.03
_SAMPLE = 2000  # lines
# two curves touch as nearly as ends and radii of both are known, in times of rounding
_EXPLAINED = 3.0
# touches that miss by less than this share of others' are of another sort
_SORT = 0.1
# few touches are of one sort where the next misses by so many times as much
_CLEAR = 8.0
# of a pen's width: lines nearer show no ground between them, for sure
_OF_PEN = 0.9
# lines overlap in so many places where they all but touch, and in so many they stay
# apart, each a share of both, and both one of all pieces, where neither is meant
_MISSES, _EITHER, _COMMON = 3, 0.15, 0.05
_STEADY = 0.02  # of what a pen hides: by less no hand misses
# what is smaller than this share of it is noise even if it is seldom
_TINY = 3e-4


@dataclass(frozen=True, slots=True)
class Asked:
    """Hold what is known of the slacks before the drawing is looked at."""

    tolerance: Tolerance | None = None  # all slacks
    join_within: float | None = None  # join_within and close_gaps: single slacks, mm
    close_gaps: float | None = None
    line_width: float | None = None  # usual width of the drawn lines, mm
    # how far the decimals of the file may move a point, mm; infinite if not known
    rounding: float = math.inf
    crowd: float = 0.0  # how near each other all along many curves lie that are one, mm
    step: float = 0.0  # what places are settled to, mm


def rounding_of(linework: LineWork) -> float:
    """Return how far the decimals of a file may have moved a point, mm.

    As `rounding_of_points` has it, of ends of straight lines; else as the reader has it
    of ends of all curves; of arcs alone their centres tell too.
    """
    curves, known = linework.curves, linework.rounding
    straight = np.flatnonzero(curves.kind == LINE)
    lines = curves.take(straight[:: len(straight) // _SAMPLE + 1])
    ends = np.concatenate([lines.starts(), lines.ends()])
    if len(ends) == 0:
        middles = curves.data[curves.kind == ARC, :2][: 2 * _SAMPLE]
        told = rounding_of_points(middles, linework.frame.to_mm)
        return max(told, known) if math.isfinite(told + known) else min(told, known)
    told = rounding_of_points(ends, linework.frame.to_mm)
    return told if math.isfinite(told) else known


def line_spacing(low: Floats, high: Floats, length: float) -> float:
    """Return the mean distance of neighbouring lines.

    2 A / L, mm: exact for a square grid. `low` and `high` (2,): corners of the box of
    all lines, mm. `length`: length of all lines together, mm.
    """
    size = high - low
    area = float(max(size[0], 0.02 * size[1]) * max(size[1], 0.02 * size[0]))
    return 2.0 * area / max(length, 1e-300)


def choose_tolerance(
    size: float,
    pieces: Floats,
    misses: Floats,
    touches: Floats,
    reach: float,
    flatten: float,
    asked: Asked,
    ends: Floats,
    narrow: float,
) -> Tolerance:
    """Choose the slacks from lengths of pieces and from near misses.

    With the reason in `why`. `size`: diagonal of the drawing, mm. `pieces`: lengths
    between neighbouring meeting points along the lines, mm. `misses`: distances of ends
    from lines and ends near by, within `reach`, mm. `touches`: how far curves that all
    but touch overlap or stay apart, mm. `reach`: largest tolerance that the search
    allows, mm. `flatten`: chord error used, mm. `asked`: what the user gave, and the
    width of lines. `ends` (n, 2): where lines end or have corners, mm. `narrow`: height
    of the flattest triangle of three lines, mm; infinite without any.
    """
    join_within, close_gaps = asked.join_within, asked.close_gaps
    floor = 1e-7 * size
    typical = _typical_length(pieces, 0.01 * size)
    noise, clear = _noise(pieces, misses, floor, typical, reach)
    slack = min(3 * noise, reach, clear / 3)
    if slack > 0.5 * (asked.line_width or 0.0) and chained(ends, slack):
        # ends in a row, each so near the next, were drawn so: each gap is closed alone
        noise, clear = floor, typical
    deep = touches[touches > floor]
    touch, beyond = _touch_noise(pieces, deep, typical, reach, asked.rounding)
    if touch > noise:
        noise, clear = touch, beyond
    why = []
    if join_within is None:
        ceiling = max(min(reach, clear / 3), floor)
        # a triangle that is drawn is a region: its corner is not on its side
        ceiling = min(ceiling, max(narrow / 3, noise if noise > floor else 0.0))
        # the largest of so many misses is not far from all that there are
        room = 1.5 if is_rough(pieces, misses, reach) else 3.0
        join = float(min(max(room * noise, floor), ceiling))
        if noise <= 1.01 * floor:
            why.append(f"lines meet exactly, so points within {join:.2g} mm are one")
        else:
            why.append(
                f"ends miss each other by up to {noise:.2g} mm and the next larger "
                f"distance is {clear:.2g} mm, so points within {join:.2g} mm are one"
            )
    else:
        join = float(join_within)
        why.append(f"points within {join:.4g} mm are one, as asked")
    if close_gaps is None:
        close = max(min(0.12 * typical, 0.008 * size), 3 * join)
        why.append(
            f"most pieces of line between meeting points are longer than "
            f"{typical:.3g} mm, so gaps and overshoots up to {close:.2g} mm are mended"
        )
    else:
        close = float(close_gaps)
        why.append(f"gaps and overshoots up to {close:.4g} mm are mended, as asked")
    if asked.line_width is None:
        sliver = max(0.1 * close, 0.5 * join)
    else:
        # lines nearer than their width leave nothing to see between them
        sliver = max(0.5 * min(0.5 * close, asked.line_width), 0.5 * join)
    return Tolerance(
        join_within=join,
        close_gaps=close,
        flatten=flatten,
        sliver=sliver,
        why="; ".join(why),
    )


def with_touches(
    tolerance: Tolerance, touches: tuple[Floats, Floats], pieces: int, asked: Asked
) -> Tolerance:
    """Let lines touch whose ink runs together, where lines miss each other so.

    Circles set by hand miss each other by more than decimals explain and by all
    amounts, to either side. Where the ink of both runs together, or the lens between
    them lies under it, nobody sees that they miss. Where all overlap, or all stay
    apart, they are drawn so. What stays apart is a gap: it is closed as far as others.

    With the reason in `why`. `tolerance`: as it was chosen. `touches`: by how much
    curves that all but touch overlap, and stay apart, mm. `pieces`: how many pieces of
    line there are; among many that cross chance lays a few so.
    """
    # a pen may be wider than what it draws is fine
    most = min(_OF_PEN * (asked.line_width or 0.0), tolerance.close_gaps)
    if most <= tolerance.join_within:
        return tolerance
    known = _EXPLAINED * asked.rounding if math.isfinite(asked.rounding) else 0.0
    least = max(known, _STEADY * most)
    lenses, gaps = (int(((e > least) & (e <= most)).sum()) for e in touches)
    both = min(lenses, gaps) >= max(_MISSES, _EITHER * (lenses + gaps))
    if not both or lenses + gaps < _COMMON * pieces:
        return tolerance
    why = (
        f"{tolerance.why}; lines that all but touch miss each other to either side, so "
        f"those nearer than {most:.2g} mm, less than a pen's width, touch"
    )
    return replace(tolerance, touch=most, why=why)


def with_gaps(tolerance: Tolerance, meant: float, *, missed: bool) -> Tolerance:
    """Lower the longest gap that is closed to what the ends of a drawing ask for.

    With the reason in `why`. `tolerance`: as it was chosen from the lengths of pieces.
    `meant`: usual size of gaps that are left on purpose, mm; 0 when none is. `missed`:
    whether any end stops short of a line or runs over it by so little.
    """
    if not missed:
        why = f"{tolerance.why}; no end misses by so little, so none is moved"
        return replace(tolerance, close_gaps=0.0, why=why)
    # halfway between nothing and a gap that is meant
    limit = meant / 2
    if meant == 0 or limit >= tolerance.close_gaps:
        return tolerance
    why = (
        f"{tolerance.why}; but gaps of about {meant:.2g} mm are so alike that they are "
        f"meant, so only those up to {limit:.2g} mm are"
    )
    return replace(tolerance, close_gaps=limit, why=why)


def _typical_length(pieces: Floats, otherwise: float) -> float:
    """Return the length that pieces with 85 % of all line have or exceed.

    Weighing by length keeps the many tiny pieces of inexact joints out.
    """
    ordered = np.sort(pieces)
    total = np.cumsum(ordered)
    if len(total) == 0 or total[-1] <= 0:
        return otherwise
    return float(ordered[np.searchsorted(total, 0.15 * total[-1])])


def is_rough(pieces: Floats, misses: Floats, reach: float) -> bool:
    """Return whether ends miss everywhere, as those of lines set by eye do.

    Whether there is a miss of a tenth of the reach for each piece. `pieces`: lengths
    between neighbouring meeting points along the lines, mm. `misses`: distances of ends
    from lines and ends near by, within `reach`, mm. `reach`: how far they were looked
    for, mm.
    """
    return int((misses > 0.1 * reach).sum()) >= max(len(pieces), 30)


def _noise(
    pieces: Floats, misses: Floats, floor: float, typical: float, reach: float
) -> tuple[float, float]:
    """Return the size of the noise and the next larger distance.

    Noise shows as many small distances below a wide empty range. A few faults
    of a larger size are not noise: they are left for the closing of gaps.
    """
    small = np.concatenate([pieces, misses])
    small = np.sort(np.maximum(small[small < typical], floor))
    raised = int(np.searchsorted(small, 1.5 * floor, side="right"))
    small = np.r_[small, typical]
    exact = float(small[raised]) if raised < len(small) else typical
    # a few odd values do not close a gap
    stray = len(pieces) // 2000
    rank = np.arange(raised, len(small) - 1 - stray)
    if len(rank) == 0:
        return floor, exact
    ratio = small[rank + 1 + stray] / small[rank]
    count = rank + 1 - raised
    tenth = small[raised + count // 10]
    share, value = count / max(len(pieces), 1), small[rank]
    # what is tiny is noise even if seldom; what is larger must be common, and
    # spread from small to large, as noise is and drawn detail is not
    good = value < _TINY * typical
    good |= (value < 3e-3 * typical) & (share >= 0.02) & (count >= 4)
    spread = value > 3.0 * tenth
    good |= (value < 2e-2 * typical) & (share >= 0.1) & (count >= 16) & spread
    good |= (value < 5e-2 * typical) & (share >= 0.3) & (count >= 30) & spread
    good &= ratio > 8.0
    if is_rough(pieces, misses, reach):
        # it may be larger still, and the next larger distance nearer
        most = (value < 0.25 * typical) & (share >= 0.3) & (count >= 30)
        good |= most & spread & (ratio > 3.0)
    if not good.any():
        return _common_miss(pieces, misses, floor, exact, reach)
    best = rank[int(np.flatnonzero(good)[-1])]
    return float(small[best]), float(small[best + 1 + stray])


def _touch_noise(
    pieces: Floats, touches: Floats, typical: float, reach: float, rounding: float
) -> tuple[float, float]:
    """Return by how much curves meant to touch miss, and the next larger distance.

    A lens or a gap of some hundredths of the lines beside it is many times
    longer than wide, so few draw one on purpose. Chance makes one here and
    there, though: the larger they are, the more of them there must be. An empty
    range parts them from curves that stay apart by intent and from fine work.
    Where one arc is drawn again as a part of another, the two cross anywhere, and
    pieces of all lengths lie between: they are no fine work. Nor is what the decimals
    of the file explain.
    """
    depth = np.sort(touches[touches < _SHALLOW * typical])
    if len(depth) == 0:
        return 0.0, typical
    # what is smaller by far is noise of another sort, and makes this no commoner
    count = np.arange(1, len(depth) + 1) - np.searchsorted(depth, _SORT * depth)
    share = count / max(len(pieces), 1)
    tiny = depth < _TINY * typical
    good = tiny.copy()
    common = (depth < 3e-3 * typical) & (share >= 0.02) & (count >= 4)
    good |= common | ((share >= 0.2) & (count >= 4))
    longer = np.r_[np.sort(pieces), np.inf]
    # pieces hardly longer are of the same noise
    longer = longer[np.searchsorted(longer, 1.5 * depth, side="right")]
    beyond = np.minimum(np.r_[depth[1:], np.inf], np.where(tiny, typical, longer))
    # few that decimals explain are told by an empty range; chance leaves none
    few = (depth < 3e-3 * typical) & (count >= 4)
    few &= np.r_[depth[1:], np.inf] >= _CLEAR * depth
    told = (common | few) & (depth <= _EXPLAINED * rounding) & math.isfinite(rounding)
    beyond[told] = typical
    good |= told
    good &= (beyond >= 3 * depth) & (depth <= reach)
    if not good.any():
        return 0.0, typical
    last = int(np.flatnonzero(good)[-1])
    return float(depth[last]), float(min(beyond[last], typical))


def _common_miss(
    pieces: Floats, misses: Floats, floor: float, exact: float, reach: float
) -> tuple[float, float]:
    """Return the size of noise that nearly all ends show.

    Where lines drawn twice cross their doubles anywhere, pieces of all lengths
    hide it; the distances by which ends miss do not.
    """
    missed = np.sort(misses[misses > 1.5 * floor])
    if len(missed) < max(0.3 * len(pieces), 30):
        return floor, exact
    largest = float(missed[-1 - len(missed) // 1000])
    tenth = float(missed[len(missed) // 10])
    if largest > 0.5 * reach or largest < 2.0 * tenth:
        return floor, exact
    return largest, 2.0 * largest + reach
