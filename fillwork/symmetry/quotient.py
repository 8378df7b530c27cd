"""The plane folded up by a symmetry group.

Two points are one *place* when a translation of the lattice carries one to the
other. `Quotient` folds points into one unit cell (a strip for a frieze, the
plane itself for a rosette) and knows how the operations, one a coset of the
translations, multiply.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats, Ints, Ints32
    from fillwork.symmetry.model import Symmetry


@dataclass(frozen=True, slots=True, eq=False)
class Quotient:
    """Hold lattice and operations of a group as arrays."""

    basis: Floats  # (k, 2): translation vectors as rows, mm; k = 0, 1 or 2
    # (2, k): points times this are coordinates along the basis
    inverse_basis: Floats
    # (n, 2, 2): linear parts of the operations, the identity first
    linear: Floats
    shift: Floats  # (n, 2): what the operations add, mm
    turns: Bools  # (n,): True for operations that keep orientation
    product: Ints32  # (n, n): ``product[i, j]``: the coset of i after j
    inverse: Ints32  # (n,): the coset of the inverse

    @property
    def order(self) -> int:
        """Return the number of cosets."""
        return len(self.linear)

    def fold(self, points: Floats) -> Floats:
        """Return points moved into the unit cell by translations.

        `points` (..., 2), mm: points. Returns (..., 2), mm: the same places with
        coordinates from 0 to 1 along the basis.
        """
        if len(self.basis) == 0:
            return points
        along = points @ self.inverse_basis
        return np.asarray(points - np.floor(along) @ self.basis)

    def nearest(self, offsets: Floats) -> Floats:
        """Return differences of points reduced by the nearest translation.

        `offsets` (..., 2), mm: differences of points. Returns (..., 2), mm: differences
        with coordinates from -1/2 to 1/2 along the basis: the shortest ones wherever
        these are short beside the basis.
        """
        if len(self.basis) == 0:
            return offsets
        along = offsets @ self.inverse_basis
        return np.asarray(offsets - np.rint(along) @ self.basis)

    def copies(self, reach: float) -> Floats:
        """Return translations that carry the unit cell's surroundings into it.

        `reach`: how far beyond the cell, mm. Returns (c, 2), mm: translations, the zero
        vector first.
        """
        k = len(self.basis)
        if k == 0:
            return np.zeros((1, 2))
        # width of the cell across each basis vector
        width = 1.0 / np.linalg.norm(self.inverse_basis, axis=0)
        most = np.minimum(np.ceil(reach / width) + 1, 64).astype(int)
        ranges = [np.arange(-m, m + 1) for m in most]
        grid = np.stack(np.meshgrid(*ranges, indexing="ij"), axis=-1).reshape(-1, k)
        grid = grid[np.argsort(np.abs(grid).sum(axis=1), kind="stable")]
        return np.asarray(grid @ self.basis)


def quotient_of(symmetry: Symmetry) -> Quotient:
    """Return lattice and operations of a symmetry as arrays."""
    basis = np.zeros((0, 2)) if symmetry.lattice is None else symmetry.lattice.basis
    basis = np.asarray(basis, dtype=np.float64).reshape(-1, 2)
    inverse = np.zeros((2, 0))
    if len(basis):
        inverse = np.asarray(np.linalg.pinv(basis), dtype=np.float64)
    maps = [operation.map for operation in symmetry.operations] or [affine.IDENTITY]
    linear = np.stack([affine.linear(m) for m in maps])
    shift = np.array([[m[4], m[5]] for m in maps])
    count = len(maps)
    product, back = np.zeros((count, count), np.intp), np.zeros(count, np.intp)
    if count > 1:
        after = np.einsum("aij,bjk->abik", linear, linear).reshape(-1, 2, 2)
        inverses = linear.transpose(0, 2, 1)
        found = _match_linear(np.concatenate([after, inverses]), linear)
        product, back = found[: count**2].reshape(count, count), found[count**2 :]
    return Quotient(
        basis,
        inverse,
        linear,
        shift,
        np.linalg.det(linear) > 0,
        product.astype(np.int32),
        back.astype(np.int32),
    )


def _match_linear(wanted: Floats, known: Floats) -> Ints:
    """Return which of the known isometries has the same linear part."""
    found = np.zeros(wanted.shape[:-2], dtype=np.intp)
    sides = np.linalg.det(wanted) > 0
    for side in (True, False):
        rows = np.flatnonzero((np.linalg.det(known) > 0) == side)
        if len(rows) == 0:
            continue
        # of one handedness the image of the first axis tells them apart
        angle = np.arctan2(known[rows, 1, 0], known[rows, 0, 0])
        order = np.argsort(angle, kind="stable")
        mine = sides == side
        asked = np.arctan2(wanted[mine, 1, 0], wanted[mine, 0, 0])
        at = np.searchsorted(angle[order], asked)
        both = np.stack([order[at - 1], order[at % len(rows)]])
        gap = np.abs(np.angle(np.exp(1j * (angle[both] - asked))))
        nearest = np.where(gap[0] <= gap[1], both[0], both[1])
        found[mine] = rows[nearest]
    return found
