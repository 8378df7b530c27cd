"""Types of coloured groups: subgroups that differ beyond a move of the pattern.

Two colourings are of one type where an affine map that carries the whole group
onto itself carries one onto the other. The maps are tried exactly. Linear parts with
entries up to 1 generate all that keep a point group. Shifts are tried in twelfths of
the lattice: (1 - M) b is whole for them, det(1 - M) is 1 to 4, and the shifts that
are free (along a mirror, or all for p1) commute with the group, so move nothing.
"""

from __future__ import annotations

import itertools
from fractions import Fraction

import numpy as np
import pytest

from fillwork.colouring.counterchange.subgroups import find_subgroups
from fillwork.symmetry.groups import general_positions
from tests.reference.test_counterchange_counts import PRESENTED, fp_group
from tests.reference.test_counterchange_tilings import holds, relabels
from tests.unit.colouring import pattern_groups as ideal

PARTS = 12  # of a lattice vector


class ExactGroup:
    """A plane or frieze group in whole numbers, read from its general positions.

    An operation is (matrix, shift in twelfths), both in a primitive basis.
    """

    def __init__(self, family, short):
        self.rank = 2 if family == "plane" else 1
        positions = general_positions(family, short)
        change = np.eye(2, dtype=object)
        if family == "plane" and short in ("cm", "cmm"):
            half = Fraction(1, 2)
            # rows (a + b) / 2 and (b - a) / 2, as in tests.unit.colouring
            change = np.array([[half, half], [-half, half]], object)
        back = self._inverse(change)
        self.linear, self.shift = [], []
        for position in positions:
            matrix = np.array(position.matrix, object).reshape(2, 2)
            shift = np.array([Fraction(v) for v in position.shift], object)
            # rows of `change` are the basis: x = change^T y
            self.linear.append(as_key(back.T @ matrix @ change.T))
            self.shift.append(back.T @ shift * PARTS)
        self.place = {m: k for k, m in enumerate(self.linear)}
        assert len(self.place) == len(positions)  # one operation a part

    @staticmethod
    def _inverse(m):
        determinant = Fraction(m[0, 0] * m[1, 1] - m[0, 1] * m[1, 0])
        turned = np.array([[m[1, 1], -m[0, 1]], [-m[1, 0], m[0, 0]]], object)
        return turned / determinant

    def normaliser(self):
        """Yield generators of the maps that carry the group onto itself."""
        entries = (-1, 0, 1)
        steps = range(PARTS)
        for a, b, c, d in itertools.product(entries, repeat=4):
            if abs(a * d - b * c) != 1:
                continue
            if self.rank == 1 and (b or c):
                continue
            turn = np.array([[a, b], [c, d]], object)
            undo = self._inverse(turn)
            moved = [as_key(turn @ np.array(m) @ undo) for m in self.linear]
            if any(m not in self.place for m in moved):
                continue
            for shift in itertools.product(steps, steps if self.rank == 2 else (0,)):
                by = np.array(shift, object)
                images = []
                for k, m in enumerate(moved):
                    whole = np.array(m, object)
                    over = by + turn @ self.shift[k] - whole @ by
                    over = over - self.shift[self.place[m]]
                    if any(v % PARTS for v in over[: self.rank]) or any(
                        over[self.rank :]
                    ):
                        break
                    images.append(
                        (
                            self.place[m],
                            tuple(int(v) // PARTS for v in over[: self.rank]),
                        )
                    )
                else:
                    yield turn, images


def as_key(m):
    assert all(Fraction(v).denominator == 1 for v in m.ravel())
    return tuple(tuple(int(v) for v in row) for row in m)


def key(lattice, parts):
    """Return the sublattice in Hermite form and the parts reduced by it."""
    if len(lattice) == 1:
        own = ((abs(lattice[0][0]),),)
    else:
        (p, q), (r, s) = lattice
        while r:
            times = p // r
            p, q, r, s = r, s, p - times * r, q - times * s
        if p < 0:
            p, q = -p, -q
        s = abs(s)
        own = ((p, q % s), (0, s))
    reduced = []
    for g, t in parts:
        left = list(t)
        for k, row in enumerate(own):
            times = left[k] // row[k]
            left = [v - times * w for v, w in zip(left, row, strict=True)]
        reduced.append((g, tuple(left)))
    return own, tuple(sorted(reduced))


def types(family, short, index):
    """Return the subgroups of an index, gathered by type."""
    exact = ExactGroup(family, short)
    group = (ideal.plane if family == "plane" else ideal.frieze)(short)
    # the two descriptions number the parts of the point group alike
    for g in range(group.order):
        block = np.array(exact.linear[g])[: exact.rank, : exact.rank]
        assert np.array_equal(block, group.matrix[g])
    found = find_subgroups(group, index)
    parent = {key(h.lattice, h.parts): None for h in found}
    assert len(parent) == len(found)
    names = list(parent)
    root = {k: k for k in names}

    def find(k):
        while root[k] != k:
            k = root[k]
        return k

    zero = (0,) * exact.rank
    # conjugation by the group's own operations, from its own table
    inner = [(g, zero) for g in range(group.order)] + [
        (0, tuple(int(i == k) for i in range(exact.rank))) for k in range(exact.rank)
    ]
    outer = list(exact.normaliser())
    assert any(len(images) == group.order for _, images in outer)
    for name in names:
        lattice, parts = name
        for by in inner:
            back = group.invert(by)
            image = key(
                [group.act(by[0], row) for row in lattice],
                [group.multiply(group.multiply(by, p), back) for p in parts],
            )
            root[find(name)] = find(image)
        for turn, images in outer:
            block = turn[: exact.rank, : exact.rank]

            def moved(t, block=block):
                return tuple(int(v) for v in block @ np.array(t, object))

            image = key(
                [moved(row) for row in lattice],
                [
                    (
                        images[g][0],
                        tuple(
                            a + b for a, b in zip(moved(t), images[g][1], strict=True)
                        ),
                    )
                    for g, t in parts
                ],
            )
            assert image in root  # carried onto a subgroup of the same index
            root[find(name)] = find(image)
    gathered = {}
    for name, sub in zip(names, found, strict=True):
        gathered.setdefault(find(name), []).append(sub)
    return list(gathered.values())


@pytest.mark.reference(
    "K-colour plane groups: Jarratt and Schwarzenberger, Acta Cryst. A36 (1980) "
    "884-888; Wieting, The Mathematical Theory of Chromatic Plane Ornaments, 1982 "
    "(numbers from memory)"
)
@pytest.mark.parametrize(
    ("colours", "published"), [(2, 46), (3, 23), (4, 96), (5, 14), (6, 90)]
)
def test_coloured_plane_groups(colours, published):
    counts = {s: len(types("plane", s, colours)) for s in ideal.PLANE}
    assert sum(counts.values()) == published, counts


@pytest.mark.reference(
    "K-colour frieze groups: Grünbaum and Shephard, Tilings and Patterns, 1987, "
    "section 8.3 (numbers from memory)"
)
@pytest.mark.parametrize(
    ("colours", "published"), [(2, 17), (3, 7), (4, 19), (5, 7), (6, 17)]
)
def test_coloured_frieze_groups(colours, published):
    counts = {s: len(types("frieze", s, colours)) for s in ideal.FRIEZE}
    assert sum(counts.values()) == published, counts


def counted_from_tables(short, most):
    """Count subgroups, not only classes, from the tables that sympy finds.

    A class holds K / a subgroups, where a is the number of relabellings that leave
    the table of cosets as it is.
    """
    from sympy.combinatorics.fp_groups import low_index_subgroups

    found = dict.fromkeys(range(1, most + 1), 0)
    group = fp_group(short)
    for coset_table in low_index_subgroups(group, most):
        if not holds(group, coset_table):
            continue
        table = coset_table.table
        same = sum(relabels(table, start) for start in range(len(table)))
        assert len(table) % same == 0
        found[len(table)] += len(table) // same
    return found


@pytest.mark.reference("sympy low_index_subgroups, its tables counted as subgroups")
@pytest.mark.parametrize("short", PRESENTED)
def test_numbers_of_subgroups_agree_with_coset_tables(short):
    group = ideal.plane(short)
    for index, wanted in counted_from_tables(short, 6).items():
        assert len(find_subgroups(group, index)) == wanted, index
