"""How often faces cover one repeat, and which are the ground of several."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import AnyInts, Bools, Ints
    from fillwork.symmetry.quotient import Quotient

# repeats of a strip from which a face is their ground: a missing line makes one of two
_SEVERAL = 2.5


def layers(
    arrangement: Arrangement, faces: AnyInts, head: Ints, quotient: Quotient
) -> float:
    """Return how often faces of all places cover one repeat; in a pattern once.

    `head`: rows of `faces`, one for each place. Faces that are larger than a repeat,
    as grounds and those that lack lines are, count as one.
    """
    if len(quotient.basis) == 0:
        return 1.0
    repeat = _repeat(arrangement, faces, quotient)
    area = arrangement.area[faces[head]]
    return float(np.minimum(area, repeat).sum() / repeat)


def _repeat(arrangement: Arrangement, faces: AnyInts, quotient: Quotient) -> float:
    """Return the area of one repeat of a pattern or strip, mm², roughly."""
    if len(quotient.basis) == 2:
        return abs(float(np.linalg.det(quotient.basis)))
    step = float(np.hypot(*quotient.basis[0]))
    across = np.array([-quotient.basis[0][1], quotient.basis[0][0]]) / step
    aside = arrangement.witness[faces] @ across
    return step * max(float(np.ptp(aside)), step)


def grounds(
    arrangement: Arrangement, faces: AnyInts, head: Ints, quotient: Quotient
) -> Bools:
    """Return which places of a strip are the ground of several of its repeats.

    Such a face is no piece of a figure, nor one that is spoiled. `head`: as `layers`
    has it.
    """
    if len(quotient.basis) != 1:
        return np.zeros(len(head), dtype=bool)
    repeat = _repeat(arrangement, faces, quotient)
    return np.asarray(arrangement.area[faces[head]] > _SEVERAL * repeat)
