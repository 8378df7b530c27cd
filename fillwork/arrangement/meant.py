"""Gaps that are left on purpose.

Where a strand runs under another, many draw it stopping short on both sides of the
line above: ends that face each other across a line, all short by about the same.
Other drawings leave one gap in every repeat. Faults of a hand differ from end to
end, and run over as often as they stop short; a gap that the line's own width
covers is seen by nobody, and meant by nobody.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.near import pairs_within

if TYPE_CHECKING:
    from fillwork.arrangement.closings import Closings
    from fillwork.arrangement.ends import Tips
    from fillwork.arrays import Bools, Floats


# faults run over about as often as they stop short; so many of a hundred may by chance
_OVER = 0.1
# standard deviation over mean of gaps across a line that a hand leaves on purpose;
# sizes of faults spread by half of their mean and more
_SPREAD = 0.2
# ends that face each other across lines, two at each
_FACING = 4
# largest over smallest of gaps that are alike, how many, and their share of all
_ALIKE, _MANY, _MOST = 1.1, 6, 0.6
# how far across, in gaps, the other end is looked for, how much its line may turn on
# the way (cosine), and how far off it may lie: a share of the way, and in gaps
_ACROSS, _ON, _ASIDE = 30.0, -0.9, (0.1, 0.3)
# share of its width from a line's middle within which it covers a gap
_COVERED = 0.6
# points within the slack are one; it is thrice the noise where there is any
_ABOVE_NOISE = 5.0


def meant_gap(
    tips: Tips,
    place: Floats,
    closings: Closings,
    overshoots: int,
    width: float | None,
    join_within: float,
) -> float:
    """Return the usual size of the gaps that a drawing means.

    What is left of noise above the slack is alike as well: a gap that is meant is
    several times as long as what is one point.

    Their median, mm; 0 when none is meant. `place` (tips, 2): where they are, mm.
    `overshoots`: how many ends run over by as little. `width`: usual width of the
    lines, mm. `join_within`: ends nearer than this are one, mm.
    """
    usual = _usual_gap(tips, place, closings, overshoots, width)
    return usual if usual > _ABOVE_NOISE * join_within else 0.0


def _usual_gap(
    tips: Tips, place: Floats, closings: Closings, overshoots: int, width: float | None
) -> float:
    covered = _COVERED * (width or 0.0)
    seen = closings.size > covered
    size, tip = closings.size[seen], closings.tip[seen]
    if len(size) < _FACING or overshoots > _OVER * len(size):
        return 0.0
    facing = size[_face_each_other(place[tip], tips.outward[tip], size)]
    enough = len(facing) >= max(_FACING, len(size) / 2)
    if enough and facing.std() <= _SPREAD * facing.mean():
        return float(np.median(facing))
    ordered = np.sort(size)
    count = np.searchsorted(ordered, _ALIKE * ordered, side="right")
    count -= np.arange(len(ordered))
    best = int(np.argmax(count))
    # those just covered tell as well that gaps differ
    of = len(ordered) + int((~seen & (closings.size > covered / 2)).sum())
    if count[best] >= max(_MANY, _MOST * of):
        return float(np.median(ordered[best : best + count[best]]))
    return 0.0


def _face_each_other(place: Floats, outward: Floats, size: Floats) -> Bools:
    """Tell which ends have another one that goes on across the line before them."""
    a, b = pairs_within(place, place, _ACROSS * size)
    a, b = a[a != b], b[a != b]
    step = place[b] - place[a]
    ahead = (step * outward[a]).sum(axis=1)
    aside = np.abs(step[:, 0] * outward[a, 1] - step[:, 1] * outward[a, 0])
    good = (outward[a] * outward[b]).sum(axis=1) <= _ON
    # beyond the line: farther than the gap on this side
    good &= ahead > size[a]
    good &= aside <= _ASIDE[0] * ahead + _ASIDE[1] * size[a]
    faces = np.zeros(len(place), dtype=bool)
    faces[a[good]] = True
    return faces
