"""Subgroups of low index of plane, frieze and rosette groups, in integers.

A *pattern group* is its point group P with, for each part g of it, one
operation as representative; every operation is then (g, t): that
representative followed by the translation t, whole numbers in the basis of the
lattice. (g, t)(h, u) = (gh, t + M_g u + c(g, h)), where M_g is the linear part
and c says how representatives multiply.

A subgroup H of index K has a point group Q of P, a sublattice L that Q keeps,
and for each part of Q one translation modulo L, with [P:Q]·[Z^d:L] = K. They
are enumerated by trying all translations modulo L for the generators of Q and
keeping what closes.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import SymmetryError
from fillwork.geometry import affine

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fillwork.arrays import Bools, Floats
    from fillwork.geometry.affine import Affine


Element = tuple[int, tuple[int, ...]]
"""Part of the point group and translation in the lattice's basis."""

_ROUGH = 0.2  # largest miss of a whole number, in lattice coordinates


@dataclass(frozen=True, slots=True, eq=False)
class PatternGroup:
    """Hold a plane, frieze or rosette group in integers."""

    basis: Floats  # (d, 2): lattice vectors as rows, mm; d is 2, 1 or 0
    # (P, 2, 2): linear parts of the representatives, the identity first
    linear: Floats
    shift: Floats  # (P, 2): their shifts, mm
    matrix: tuple[tuple[tuple[int, ...], ...], ...]  # linear parts in the basis
    product: tuple[tuple[int, ...], ...]  # table of the point group
    # c(g, h): what the product of two representatives has beyond that of gh
    carry: tuple[tuple[tuple[int, ...], ...], ...]

    @property
    def order(self) -> int:
        """Return the number of parts of the point group."""
        return len(self.product)

    @property
    def rank(self) -> int:
        """Return the number of lattice vectors."""
        return len(self.basis)

    @property
    def identity(self) -> Element:
        """Return the operation that moves nothing."""
        return 0, (0,) * self.rank

    @property
    def steps(self) -> list[Element]:
        """Return operations of which all others are made up."""
        parts = [(g, (0,) * self.rank) for g in range(1, self.order)]
        return [*parts, *((0, row) for row in _ones(self.rank))]

    @property
    def away(self) -> Floats:
        """Return what turns mm into coordinates of the lattice, (2, d)."""
        return np.asarray(np.linalg.pinv(self.basis), np.float64)

    @property
    def turning(self) -> Bools:
        """Say of each part whether it turns and reflects nothing, (P,)."""
        return np.asarray(np.linalg.det(self.linear) > 0)

    def shift_of(self, element: Element) -> Floats:
        """Return how far an operation shifts after its linear part, (2,), mm."""
        g, t = element
        return np.asarray(self.shift[g] + np.array(t, float) @ self.basis)

    def act(self, g: int, t: Sequence[int]) -> tuple[int, ...]:
        """Return M_g t."""
        return tuple(
            sum(m * v for m, v in zip(row, t, strict=True)) for row in self.matrix[g]
        )

    def multiply(self, a: Element, b: Element) -> Element:
        """Return the operation that does `b` first and `a` after it."""
        (g, t), (h, u) = a, b
        turned = self.act(g, u)
        carry = self.carry[g][h]
        return self.product[g][h], tuple(
            x + y + z for x, y, z in zip(t, turned, carry, strict=True)
        )

    def invert(self, a: Element) -> Element:
        """Return the operation that undoes another."""
        g, t = a
        back = self.product[g].index(0)
        # (back, u)(g, t) = (0, u + M_back t + c(back, g))
        turned = self.act(back, t)
        carry = self.carry[back][g]
        return back, tuple(-x - y for x, y in zip(turned, carry, strict=True))


@dataclass(frozen=True, slots=True)
class Subgroup:
    """Hold a subgroup of a pattern group."""

    index: int  # number of its cosets
    # basis of its translations in Hermite form: ((a, b), (0, c)), ((a,),) or nothing
    lattice: tuple[tuple[int, ...], ...]
    # one operation for each part of its point group, reduced; ascending
    parts: tuple[Element, ...]

    def reduce(self, t: Sequence[int]) -> tuple[int, ...]:
        """Return a translation modulo the subgroup's."""
        return _reduce(self.lattice, t)

    def contains(self, element: Element) -> bool:
        """Say whether an operation belongs to the subgroup."""
        g, t = element
        return (g, self.reduce(t)) in self.parts


def read_pattern_group(maps: Sequence[Affine], basis: Floats) -> PatternGroup:
    """Express operations in whole numbers.

    `maps`: one operation a coset of the translations, the identity first, mm. `basis`
    (d, 2): lattice vectors as rows, mm; d = 0 for a rosette. Raises `SymmetryError` if
    the operations do not form a group with the lattice.
    """
    basis = np.asarray(basis, np.float64).reshape(-1, 2)
    linear = np.array([affine.linear(m) for m in maps])
    shift = np.array([[m[4], m[5]] for m in maps], np.float64)
    away = np.linalg.pinv(basis)  # mm to coordinates, from the right
    exact = np.einsum("gij,dj->gid", linear, basis).swapaxes(1, 2) @ away
    # one operation at a time: all at once take gigabytes where turns are many
    nearest = []
    for both in linear[:, None] @ linear:
        off = np.abs(both[:, None] - linear).max(axis=(2, 3))
        nearest.append((off.argmin(axis=1), off.min(axis=1)))
    product, miss = (np.array(part) for part in zip(*nearest, strict=True))
    beyond = np.einsum("gij,hj->ghi", linear, shift) + shift[:, None] - shift[product]
    whole = beyond @ away
    matrix, carry = np.rint(exact).astype(int), np.rint(whole).astype(int)
    rough = max(
        float(np.max(np.abs(left), initial=0.0))
        for left in (exact - matrix, whole - carry, miss)
    )
    every = list(range(len(maps)))
    latin = bool((np.sort(product, axis=1) == every).all())
    if rough > _ROUGH or not latin or product[0].tolist() != every:
        what = "the operations of the symmetry do not close as a group"
        raise SymmetryError(what, mend="state the group with --symmetry")
    return PatternGroup(
        basis=basis,
        linear=linear,
        shift=shift,
        matrix=tuple(tuple(map(tuple, m)) for m in matrix.swapaxes(1, 2).tolist()),
        product=tuple(map(tuple, product.tolist())),
        carry=tuple(tuple(map(tuple, row)) for row in carry.tolist()),
    )


def _reduce(lattice: tuple[tuple[int, ...], ...], t: Sequence[int]) -> tuple[int, ...]:
    out = list(t)
    for k, row in enumerate(lattice):
        times = out[k] // row[k]
        out = [v - times * r for v, r in zip(out, row, strict=True)]
    return tuple(out)


def _lattices(rank: int, index: int) -> list[tuple[tuple[int, ...], ...]]:
    """Return all sublattices of an index in Hermite form."""
    if rank == 0:
        return [()] if index == 1 else []
    if rank == 1:
        return [((index,),)]
    return [
        ((index // c, b), (0, c))
        for c in range(1, index + 1)
        if index % c == 0
        for b in range(c)
    ]


def _hermite(rows: Sequence[Sequence[int]]) -> tuple[tuple[int, ...], ...]:
    """Return the Hermite form of a full basis of up to two vectors."""
    if not rows:
        return ()
    if len(rows) == 1:
        return ((abs(rows[0][0]),),)
    p, q = list(rows[0]), list(rows[1])
    while q[0]:
        times = p[0] // q[0]
        p, q = q, [a - times * b for a, b in zip(p, q, strict=True)]
    if p[0] < 0:
        p = [-v for v in p]
    c = abs(q[1])
    return ((p[0], p[1] % c), (0, c))


def _point_subgroups(group: PatternGroup) -> list[tuple[int, ...]]:
    """Return generators of every subgroup of the point group, Cn or Dn."""
    turns = np.flatnonzero(group.turning).tolist()
    mirrors = np.flatnonzero(~group.turning).tolist()

    def power(g: int, times: int) -> int:
        out = 0
        for _ in range(times):
            out = group.product[g][out]
        return out

    count = len(turns)
    first = next(g for g in turns if len({power(g, k) for k in range(count)}) == count)
    found: list[tuple[int, ...]] = []
    for d in range(1, count + 1):
        if count % d:
            continue
        turn = power(first, d)
        turned = (turn,) if turn else ()
        found.append(turned)
        for mirror in mirrors[:1]:
            found += [
                (*turned, group.product[power(first, j)][mirror]) for j in range(d)
            ]
    return found


def _close(
    group: PatternGroup,
    lattice: tuple[tuple[int, ...], ...],
    generators: Sequence[Element],
) -> dict[int, tuple[int, ...]] | None:
    """Return translations modulo the lattice for each part, or None if they clash."""
    found = dict([group.identity])
    waiting = [0]
    while waiting:
        g = waiting.pop()
        for step in generators:
            h, t = group.multiply(step, (g, found[g]))
            t = _reduce(lattice, t)
            if h not in found:
                found[h] = t
                waiting.append(h)
            elif found[h] != t:
                return None
    return found


def find_subgroups(group: PatternGroup, index: int) -> tuple[Subgroup, ...]:
    """Find all subgroups of an index, in a fixed order.

    `index`: number of cosets, 1 or more. Raises `ValueError` if the index is below 1.
    """
    if index < 1:
        what = f"no subgroup has index {index}"
        raise ValueError(what)
    found: set[Subgroup] = set()
    _, zero = group.identity
    for generators in _point_subgroups(group):
        parts = _close(group, tuple(_ones(group.rank)), [(g, zero) for g in generators])
        if parts is None:
            continue  # modulo all translations nothing clashes
        missing = group.order // len(parts)
        if index % missing:
            continue
        for lattice in _lattices(group.rank, index // missing):
            if any(
                any(_reduce(lattice, group.act(g, row)))
                for g in generators
                for row in lattice
            ):
                continue
            for shifts in _shifts(lattice, len(generators)):
                closed = _close(
                    group, lattice, list(zip(generators, shifts, strict=True))
                )
                if closed is not None:
                    found.add(Subgroup(index, lattice, tuple(sorted(closed.items()))))
    return tuple(sorted(found, key=lambda h: (-len(h.parts), h.lattice, h.parts)))


def _ones(rank: int) -> list[tuple[int, ...]]:
    return [tuple(int(i == j) for j in range(rank)) for i in range(rank)]


def _shifts(
    lattice: tuple[tuple[int, ...], ...], count: int
) -> list[tuple[tuple[int, ...], ...]]:
    """Return all ways to give `count` generators a translation modulo a lattice."""
    classes = itertools.product(*(range(row[k]) for k, row in enumerate(lattice)))
    return list(itertools.product(classes, repeat=count))


def conjugate(group: PatternGroup, subgroup: Subgroup, by: Element) -> Subgroup:
    """Return x H x⁻¹."""
    lattice = _hermite([group.act(by[0], row) for row in subgroup.lattice])
    back = group.invert(by)
    parts = []
    for part in subgroup.parts:
        g, t = group.multiply(group.multiply(by, part), back)
        parts.append((g, _reduce(lattice, t)))
    return Subgroup(subgroup.index, lattice, tuple(sorted(parts)))


def conjugacy_classes(
    group: PatternGroup, subgroups: Sequence[Subgroup]
) -> tuple[tuple[Subgroup, ...], ...]:
    """Sort subgroups into classes of conjugate ones."""
    steps = group.steps
    classes = []
    seen: set[Subgroup] = set()
    for first in subgroups:
        if first in seen:
            continue
        seen.add(first)
        members = [first]
        for one in members:  # grows while it is walked
            for step in steps:
                other = conjugate(group, one, step)
                if other not in seen:
                    seen.add(other)
                    members.append(other)
        classes.append(tuple(sorted(members, key=lambda h: (h.lattice, h.parts))))
    return tuple(classes)


def subgroup_name(group: PatternGroup, subgroup: Subgroup) -> str:
    """Name the type of a subgroup.

    IUC short name of a plane or frieze group, ``Cn`` or ``Dn``.

    By the highest rotation, then by what each direction of reflection holds:
    mirrors, glides, or both in turn (a centred lattice).
    """
    turning = group.turning
    mirrors = [part for part in subgroup.parts if not turning[part[0]]]
    n = len(subgroup.parts) - len(mirrors)
    if group.rank == 0:
        return f"D{n}" if mirrors else f"C{n}"
    basis = np.array(subgroup.lattice, float) @ group.basis
    if group.rank == 1:
        return _frieze_name(group, mirrors, basis[0], n)
    kinds = sorted(_reflection_kind(group, part, basis) for part in mirrors)
    if not kinds:
        return f"p{n}"
    if n == 1:
        return {"mirror": "pm", "glide": "pg", "both": "cm"}[kinds[0]]
    if n == 2:
        names = {
            ("mirror", "mirror"): "pmm",
            ("glide", "mirror"): "pmg",
            ("glide", "glide"): "pgg",
            ("both", "both"): "cmm",
        }
        return names[kinds[0], kinds[1]]
    if n == 4:
        return "p4g" if "glide" in kinds else "p4m"
    if n == 6:
        return "p6m"
    # p31m has its mirrors along shortest lattice vectors, p3m1 has not
    vectors = _vectors(basis, 8)
    size = np.hypot(*vectors.T)
    turned = vectors @ group.linear[mirrors[0][0]].T
    along = np.hypot(*(turned - vectors).T) < 0.1 * size
    shortest, least = (size[rows].min(initial=np.inf) for rows in (size > 0, along))
    return "p31m" if least < 1.2 * shortest else "p3m1"


def _vectors(basis: Floats, reach: int) -> Floats:
    """Return the lattice vectors within so many steps each way, (n, 2)."""
    steps = itertools.product(range(-reach, reach + 1), repeat=len(basis))
    return np.array(list(steps), float) @ basis


def _frieze_name(
    group: PatternGroup, mirrors: list[Element], period: Floats, turns: int
) -> str:
    lying = [
        part for part in mirrors if float(group.linear[part[0]] @ period @ period) > 0
    ]
    standing = len(mirrors) > len(lying)
    glide = ""
    if lying:
        part = float(group.shift_of(lying[0]) @ period / (period @ period))
        glide = "m" if abs(part - round(part)) < _ROUGH else "g"
    if turns == 2:
        return "p2" if not mirrors else f"p2m{glide}"
    if standing:
        return "p1m1"
    return f"p11{glide}" if lying else "p1"


def _reflection_kind(group: PatternGroup, part: Element, basis: Floats) -> str:
    """Say what a direction of reflection holds: ``mirror``, ``glide`` or ``both``."""
    moves = group.shift_of(part) + _vectors(basis, 4)
    slides = (moves @ group.linear[part[0]].T + moves) / 2.0  # the parts along the axis
    whole = slides @ np.linalg.inv(basis)
    # a translation of the group takes such a slide away
    taken = np.abs(whole - np.rint(whole)).max(axis=1) < _ROUGH
    mirror, glide = taken.any(), not taken.all()
    return "both" if mirror and glide else "mirror" if mirror else "glide"
