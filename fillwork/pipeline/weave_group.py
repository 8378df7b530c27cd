"""The group that a weave has: what of the lines' symmetry keeps over and under.

Where lines cross two by two and hang together, an operation of their group carries an
alternating weave onto itself or onto the one with over and under exchanged. Those that
keep it are the whole group, or a subgroup of index 2.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.counterchange.subgroups import (
    PatternGroup,
    Subgroup,
    read_pattern_group,
    subgroup_name,
)
from fillwork.errors import SymmetryError
from fillwork.geometry import affine
from fillwork.geometry.near import nearest_points

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.arrays import Floats
    from fillwork.bands.model import Woven
    from fillwork.symmetry.model import Symmetry, Zone


# beside loose ends a strand may pass twice over: this share of the crossings decides
_MOST = 0.8


def group_of_weave(symmetry: Symmetry, woven: Woven) -> str | None:
    """Return the group of a woven drawing.

    IUC short name, ``Cn`` or ``Dn``; None where operations neither keep the weave nor
    exchange over and under all over, as beside bands that are piled.

    `symmetry`: of its middle lines.
    """
    level = woven.crossings
    if not len(level.double) or not symmetry.operations:
        return symmetry.group.short
    if len(level.piled) and woven.nodes == "piled":
        return None
    basis = np.empty((0, 2)) if symmetry.lattice is None else symmetry.lattice.basis
    try:
        group = read_pattern_group([op.map for op in symmetry.operations], basis)
    except SymmetryError:
        return None
    heading = woven.strands.lines.headings()
    rows = np.take_along_axis(
        level.double, np.argsort(level.level[level.double], axis=1), axis=1
    )
    at = woven.strands.lines.vertices[level.vertex[rows[:, 0]]]
    turn = heading[level.halves[rows, 0]]
    ways = np.stack([np.cos(turn), np.sin(turn)], axis=2)  # of what is over, and under
    shifts = [(1.0, 0.0, 0.0, 1.0, x, y) for x, y in basis.tolist()]
    near = max(2.0 * symmetry.residual, 0.25 * woven.width)
    signs = [
        _sign(at, ways, m, near)
        for m in (*(op.map for op in symmetry.operations), *shifts)
    ]
    if 0 in signs:
        return None
    count = len(symmetry.operations)
    if min(signs) > 0:
        return symmetry.group.short
    return subgroup_name(group, _keeping(group, signs[:count], signs[count:]))


def zones_of_weave(
    arrangement: Arrangement,
    zones: tuple[Zone, ...],
    woven: Woven,
    middle: Arrangement,
) -> tuple[Zone, ...]:
    """Return zones of a woven drawing with the group that its middle lines tell.

    On rails a mirror shows little of what it exchanges, the ends of bands that are
    under; and few repeats without a frame end in strands that cross fewer others, which
    no shift carries onto those within.

    `zones`: as the rails have them. `middle`: regions of the middle lines.
    """
    from fillwork.symmetry.zones.find import find_zones

    if len(zones) != 1 or middle.face_count < 2:
        return zones
    plain = find_zones(middle)
    if len(plain) != 1 or not plain[0].symmetry.certain:
        return zones
    symmetry = plain[0].symmetry
    group = group_of_weave(symmetry, woven)
    rails = zones[0].symmetry
    if group is None or (rails.certain and group == rails.group.short):
        return zones
    rank = 0 if symmetry.lattice is None else len(symmetry.lattice.basis)
    kind = ("rosette", "frieze", "plane")[rank]
    try:
        return find_zones(arrangement, stated=f"{kind}:{group}")
    except SymmetryError:
        return zones


def _sign(at: Floats, ways: Floats, m: affine.Affine, near: float) -> int:
    """Return 1 where a map keeps over and under, -1 where it exchanges them, else 0."""
    apart, other = nearest_points(affine.apply(m, at), at)
    met = np.flatnonzero(apart <= near)
    if not len(met):
        return 0
    over = ways[met, 0] @ affine.linear(m).T
    along = np.abs(np.einsum("nd,nkd->nk", over, ways[other[met]]))
    kept = float((along[:, 0] > along[:, 1]).mean())
    return 1 if kept >= _MOST else -1 if 1.0 - kept >= _MOST else 0


def _keeping(group: PatternGroup, of_part: list[int], of_shift: list[int]) -> Subgroup:
    """Return the subgroup of index 2 of the operations whose sign is 1."""
    odd = [k for k, sign in enumerate(of_shift) if sign < 0]
    none = (0,) * group.rank
    lattice: tuple[tuple[int, ...], ...] = ()  # in Hermite form
    if group.rank == 1:
        lattice = ((1 + len(odd),),)
    elif group.rank == 2:
        first, second = (int(k in odd) for k in (0, 1))
        lattice = ((1 + first - first * second, first * second), (0, 1 + second))
    whole = Subgroup(2, lattice, ())
    step = none
    if odd:
        step = tuple(int(k == odd[0]) for k in range(group.rank))
    parts = [
        (g, whole.reduce(none if sign > 0 else step))
        for g, sign in enumerate(of_part)
        if sign > 0 or odd
    ]
    return Subgroup(2, lattice, tuple(sorted(parts)))
