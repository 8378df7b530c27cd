"""How many decimals numbers were written with, and numbers without their last bits."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.geometry.curves import ARC, Curves

if TYPE_CHECKING:
    from fillwork.arrays import Floats
    from fillwork.geometry.affine import Affine

# so many decimals are looked for; so near a whole step, and so many of all numbers
_DECIMALS, _WHOLE, _ROUNDED = 7, 1e-3, 0.95
_FEW = 100  # steps of the last decimal across a drawing, fewer than one rounds to
# halvings of a drawing's size, and of a radian, down to a step that no last bit reaches
_HALVINGS = 36
_FINE = 2.0**-_HALVINGS
# and of what is one point, where that is stated
_WITHIN = 12
# halvings of the square of a size; sums of areas in such steps are free of rounding
_AREA_HALVINGS = 44
# and of the smallest region, which must not be rounded away
_LEAST_HALVINGS = 30


def rounding_of_points(
    points: Floats, to_mm: Affine, *, as_written: bool = False
) -> float:
    """Return how far the decimals of a file may have moved a point.

    Half the diagonal of a step of the last decimal, mm; infinite when the points are no
    round numbers, as below a transform, and when they are chosen, not rounded: all even
    steps or fives, or a drawing of a few steps, such as a panel in metres.

    `points` (n, 2): mm. `to_mm`: from the file's coordinates to mm. `as_written`:
    whether the file has these very numbers, so that no round ones are more decimals
    than are looked for.
    """
    if len(points) == 0:
        return math.inf
    own = affine.apply(affine.invert(to_mm), points)
    step = affine.mean_scale(to_mm) * 0.5 * math.sqrt(2)
    for decimals in range(_DECIMALS):
        steps = own * 10.0**decimals
        if np.mean(np.abs(steps - np.round(steps)) < _WHOLE) >= _ROUNDED:
            if np.ptp(steps, axis=0).max() < _FEW or _are_chosen(steps):
                return math.inf
            return step / 10.0**decimals
    return step / 10.0**_DECIMALS if as_written else math.inf


def _are_chosen(steps: Floats) -> bool:
    """Return whether nearly all numbers are even or fives, as rounded ones are not."""
    distinct = np.unique(np.round(steps))
    return any(np.mean(distinct % by == 0) > _ROUNDED for by in (2, 5))


def step_of(size: float, within: float | None = None) -> float:
    """Return the step, mm, that numbers of a drawing are settled to.

    A transform, a sine or a sum ends in other bits on another processor. In such steps
    what was one number in the file is one number again, so that equal ends, lines drawn
    twice and rows of points are seen as such everywhere.

    `size`: diagonal of the drawing, mm. `within`: how near points are one, mm, where it
    is stated.
    """
    step = _power_below(size) * _FINE
    if within:
        step = min(step, _power_below(within) * 2.0**-_WITHIN)
    return step


def settled(numbers: Floats, step: float) -> Floats:
    """Return numbers in whole steps; as they are where the step is 0."""
    return np.round(numbers / step) * step if step else numbers


def settled_curves(curves: Curves, step: float) -> Curves:
    """Return curves whose numbers are whole steps, mm, and angles as fine ones."""
    data = settled(curves.data, step)
    arcs = curves.kind == ARC
    begin, end = curves.data[arcs, 6], curves.data[arcs, 7]
    # whole turns stay whole
    turn = np.copysign(2 * np.pi, end - begin)
    whole = np.abs(end - begin - turn) < _FINE
    data[arcs, 6] = settled(begin, _FINE)
    sweep = np.where(whole, turn, settled(end - begin, _FINE))
    data[arcs, 7] = data[arcs, 6] + sweep
    return Curves(curves.kind, data)


def settled_areas(area: Floats, size: float) -> Floats:
    """Return areas, mm², without their last bits: sums in any order are the same.

    `size`: diagonal of the drawing, mm.
    """
    step = _power_below(size) ** 2 * 2.0**-_AREA_HALVINGS
    least = float(np.min(area[area > 0], initial=math.inf))
    if math.isfinite(least):
        step = min(step, _power_below(least) * 2.0**-_LEAST_HALVINGS)
    return settled(area, step)


def _power_below(size: float) -> float:
    """Return the largest power of two that is no larger; 1 for nothing."""
    return 2.0 ** math.floor(math.log2(size)) if size > 0 else 1.0
