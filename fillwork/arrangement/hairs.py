"""Regions that are narrower than points are told apart: no pen can fill them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.ranges import begins

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats, Ints, Ints32


def find_hairs(
    area: Floats,
    face: Ints32,
    length: Floats,
    join_within: float,
    whole: Bools,
) -> tuple[Ints, float]:
    """Return one edge of each region that is none; without it a neighbour has it.

    Twice its area over the length of its boundary is the mean width of a strip and the
    radius of the circle inside a triangle. Below `join_within` its sides are one line,
    on the whole. Each such region goes to the
    neighbour along its longest side, a real region rather than the outside; those
    that only touch others of their kind follow when these have gone. One side each
    is taken, so that no two real regions are ever joined. A triangle of three whole
    straight lines is one only if its corner lies nearer its longest side than that.

    `area` (F,): areas of faces, mm²; face 0 is the unbounded one. `face` (2 E,): face
    on the left of each half-edge. `length` (E,): distance between the ends of each
    edge, mm. `join_within`: points nearer than this are one, mm. `whole` (E,): edges
    that are straight lines from end to end. Returns `edges`: edges to take out, one for
    each region that goes; `turned`: largest area by which such a region lies inside
    out, mm², beyond what a line of the width `join_within` covers; 0 where there is
    none.
    """
    around = np.bincount(face, np.repeat(length, 2), len(area))
    hair = 2.0 * area < join_within * around
    if hair.any():
        sides = np.bincount(face, minlength=len(area))
        drawn = np.bincount(face, np.repeat(whole, 2), len(area))
        hair &= (sides != 3) | (drawn != 3) | (4.0 * area < join_within * around)
    hair[0] = False
    if not hair.any():
        return np.empty(0, np.int64), 0.0
    turned = float((-area - join_within * around)[hair].max())
    left, right = face[0::2], face[1::2]
    beside = np.flatnonzero((left != right) & (hair[left] | hair[right]))
    one, other = left[beside], right[beside]
    settled = ~hair
    settled[0] = False
    taken: list[Ints] = []
    while True:
        # the longest side of each hair that leads to what is settled
        ready = settled[one] != settled[other]
        gone = np.where(settled[one], other, one)
        rows = np.flatnonzero(ready & hair[gone] & ~settled[gone])
        if len(rows) == 0:
            if settled[0]:
                break
            settled[0] = True
            continue
        order = rows[np.lexsort((rows, -length[beside[rows]], gone[rows]))]
        lead = begins(gone[order])
        taken.append(beside[order[lead]])
        settled[gone[order[lead]]] = True
    return np.concatenate(taken) if taken else np.empty(0, np.int64), max(turned, 0.0)
