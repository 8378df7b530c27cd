"""How many decimals numbers were written with, told from the numbers themselves."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.geometry.affine import Affine

# so many decimals are looked for; so near a whole step, and so many of all numbers
_DECIMALS, _WHOLE, _ROUNDED = 7, 1e-3, 0.95
_FEW = 100  # steps of the last decimal across a drawing, fewer than one rounds to


def rounding_of_points(
    points: NDArray[np.float64], to_mm: Affine, *, as_written: bool = False
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


def _are_chosen(steps: NDArray[np.float64]) -> bool:
    """Return whether nearly all numbers are even or fives, as rounded ones are not."""
    distinct = np.unique(np.round(steps))
    return any(np.mean(distinct % by == 0) > _ROUNDED for by in (2, 5))
