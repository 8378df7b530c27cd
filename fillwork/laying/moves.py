"""Curves moved by their ends or by shifts, and points taken modulo the shifts.

The *basis* holds the shifts of a pattern as rows: two for the plane, one for a strip,
none for a rosette. A point modulo the shifts is told by its *lattice cell*, whole
numbers along the basis, and by what is left; a *lattice shift* is the vector of such
whole numbers.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import LineWorkError
from fillwork.geometry.curves import ARC, LINE, Curves

if TYPE_CHECKING:
    from fillwork.arrays import Floats, Ints

MOST_PIECES = 4_000_000
"""A panel takes no more pieces of lines: with them it is laid within a minute."""

_MOST_SHIFTS = 4 * MOST_PIECES  # looked through in a box of which some part is met
_NEAR = 1e-9  # mm, and of a shift: what a last bit takes away is met
# of a shift, off any simple fraction, so that corners and middles lie on no border
_ASIDE = 0.3819660113
# how many of the four pairs of numbers of a line, an arc, a cubic are places
_PLACES = np.array([2, 1, 4])


def as_point(point: Floats) -> tuple[float, float]:
    """Return a point as two plain numbers."""
    return float(point[0]), float(point[1])


def move_ends(curves: Curves, wanted: Floats) -> Curves:
    """Return curves drawn between other ends, by the similarity of the ends.

    `wanted` (2N, 2): where they shall start, then where they shall end, mm.
    """
    plane = np.array([1, 1j])
    start, end = curves.starts() @ plane, curves.ends() @ plane
    new_start, new_end = (wanted @ plane).reshape(2, -1)
    rows = np.flatnonzero((start != new_start) | (end != new_end))
    if len(rows) == 0:
        return curves
    start, end, new_start, new_end = (z[rows] for z in (start, end, new_start, new_end))
    safe = np.abs(end - start) > 1e-9
    factor = np.where(safe, (new_end - new_start) / np.where(safe, end - start, 1), 1.0)
    data = curves.data.copy()
    points = data[rows].reshape(-1, 4, 2) @ plane
    arc, line = curves.kind[rows] == ARC, curves.kind[rows] == LINE
    image = new_start[:, None] + factor[:, None] * (points - start[:, None])
    image[arc, 1:3] = factor[arc, None] * points[arc, 1:3]
    image[arc, 3] = points[arc, 3]
    image[line, 1] = new_end[line]
    image[line, 2:] = 0
    data[rows] = np.stack([image.real, image.imag], axis=-1).reshape(-1, 8)
    return Curves(curves.kind.copy(), data)


def shift_curves(curves: Curves, shift: Floats) -> Curves:
    """Return curves, each shifted by its own vector. `shift` (N, 2): vectors, mm."""
    points = curves.data.reshape(-1, 4, 2)
    places = np.arange(4) < _PLACES[curves.kind][:, None]
    data = np.where(places[..., None], points + shift[:, None], points)
    return Curves(curves.kind.copy(), data.reshape(-1, 8))


def lattice_cells(points: Floats, basis: Floats) -> Floats:
    """Return the lattice cell of each point, as whole numbers along the basis."""
    return np.asarray(np.floor(points @ np.linalg.pinv(basis) + _ASIDE))


def lattice_steps(rank: int, reach: int) -> Floats:
    """Return all whole numbers along `rank` shifts up to `reach` either way."""
    return _whole_numbers(np.full(rank, -reach), np.full(rank, reach))


def nearest_shifts(vectors: Floats, basis: Floats) -> Floats:
    """Return the lattice shift that is nearest to each vector, along the basis."""
    return np.asarray(np.round(vectors @ np.linalg.pinv(basis)) @ basis)


def shifts_over(
    own: tuple[Floats, Floats], basis: Floats, other: tuple[Floats, Floats]
) -> Floats:
    """Return the lattice shifts by which a box meets another.

    `own`, `other`: lower left and upper right corner, mm. Raises `LineWorkError` if
    there are too many to look through.
    """
    least, most = other[0] - own[1], other[1] - own[0]
    corners = np.array(
        [[x, y] for x in (least[0], most[0]) for y in (least[1], most[1])]
    )
    along = corners @ np.linalg.pinv(basis)
    first = np.floor(along.min(axis=0) - _NEAR).astype(np.int64)
    last = np.ceil(along.max(axis=0) + _NEAR).astype(np.int64)
    count = float(np.prod((last - first + 1).astype(float)))
    if count > _MOST_SHIFTS:
        what = f"the panel would take some {count:,.0f} repeats"
        raise LineWorkError(what, mend="check the sizes of cell and panel, and --scale")
    shifts = _whole_numbers(first, last) @ basis
    meets = (shifts >= least - _NEAR) & (shifts <= most + _NEAR)
    return np.asarray(shifts[meets.all(axis=1)])


def _whole_numbers(first: Ints, last: Ints) -> Floats:
    """Return all rows of whole numbers between two rows, the last fastest."""
    rows = np.argwhere(np.ones(last - first + 1, dtype=bool)) + first
    return np.ascontiguousarray(rows, dtype=np.float64)


def near_pairs(
    points: Floats, basis: Floats, reach: float
) -> tuple[Ints, Ints, Floats]:
    """Return which points lie within a reach of each other modulo the shifts.

    Returns `a` and `b` (p,): pairs of points; `step` (p, 2): from b to a, less the
    shifts between them, mm.
    """
    from scipy.spatial import cKDTree

    inverse = np.linalg.pinv(basis)
    home = points - lattice_cells(points, basis) @ basis
    # copies on all sides of one repeat, as far as the reach
    margin = 1.5 * reach * np.linalg.norm(inverse, axis=0) + _NEAR
    steps = lattice_steps(len(basis), 1)
    place = home @ inverse + _ASIDE + steps[:, None]
    step, back = np.nonzero(((place > -margin) & (place < 1 + margin)).all(axis=2))
    copies = home[back] + (steps @ basis)[step]
    one, two = cKDTree(copies).query_pairs(reach, output_type="ndarray").T
    return back[one], back[two], copies[one] - copies[two]
