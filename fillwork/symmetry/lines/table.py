"""Which row of the table of plane groups some operations are.

A row is *set* on a lattice in each way in which its linear parts are the given ones;
it is the one whose translation parts the operations have, at some origin.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.symmetry.groups import PLANE_GROUPS, general_positions

if TYPE_CHECKING:
    from fillwork.arrays import Floats, Ints
    from fillwork.symmetry.lines.plane import CosetFit
    from fillwork.symmetry.model import Group


@dataclass(frozen=True, slots=True, eq=False)
class Setting:
    """Hold a table group laid on a lattice."""

    group: Group  # row of the table
    # (2, 2): fractional matrices for rows, in the order of the table
    matrices: tuple[Ints, ...]
    shifts: tuple[Floats, ...]  # (2,): their fractional shifts about the table's origin


def _mirror_axes(matrix: Ints) -> tuple[Ints, Ints]:
    """Return primitive lattice vectors across and along a reflection's axis."""
    vectors = []
    for sign in (-1, 1):
        # rows w with w M = sign w
        rest = matrix - sign * np.eye(2, dtype=np.intp)
        column = rest[:, 0] if rest[:, 0].any() else rest[:, 1]
        w = np.array([-column[1], column[0]])
        vectors.append(w // math.gcd(int(w[0]), int(w[1])))
    return vectors[0], vectors[1]


def settings_of(short: str, matrices: list[Ints]) -> list[Setting]:
    """Return the ways to lay a group of the table on linear parts of a lattice.

    Each uses some of the matrices only; empty when the lattice does not allow the
    group.

    `short`: IUC short name. `matrices`: linear parts that the lattice allows, the
    identity among them.
    """
    group = next(g for g in PLANE_GROUPS if g.short == short)
    frames: list[Ints] = []
    if group.lattice_kind in ("rectangular", "centred rectangular"):
        want = 2 if group.lattice_kind.startswith("centred") else 1
        for m in matrices:
            if m[0, 0] * m[1, 1] - m[0, 1] * m[1, 0] != -1:
                continue
            across, along = _mirror_axes(m)
            size = abs(int(across[0] * along[1] - across[1] * along[0]))
            if size == want:
                frames.append(np.array([across, along]))
    elif group.lattice_kind == "hexagonal":
        frames.append(np.array([[1, 0], [-1, 1]], dtype=np.intp))
    else:
        frames.append(np.eye(2, dtype=np.intp))
    allowed = {tuple(int(v) for v in m.ravel()) for m in matrices}
    found: list[Setting] = []
    seen: set[tuple[tuple[int, ...], ...]] = set()
    for frame in frames:
        inverse = np.linalg.inv(frame)
        rows: list[Ints] = []
        shifts: list[Floats] = []
        for position in general_positions("plane", short):
            a, b, c, d = position.matrix
            row = np.rint(inverse @ np.array([[a, c], [b, d]]) @ frame).astype(np.intp)
            rows.append(row)
            shifts.append(np.array([float(s) for s in position.shift]) @ frame)
        keys = tuple(tuple(int(v) for v in r.ravel()) for r in rows)
        if not set(keys) <= allowed or keys in seen:
            continue
        seen.add(keys)
        found.append(Setting(group, tuple(rows), tuple(shifts)))
    return found


def _wrap(u: Floats) -> Floats:
    return np.asarray(u - np.rint(u))


def best_origin(
    setting: Setting, shifts: list[Floats], basis: Floats
) -> tuple[Floats, float]:
    """Return the origin that makes a setting agree best with measured shifts.

    `shifts` (2,): measured fractional shifts, one a matrix of the setting. `basis` (2,
    2): basis, mm. Returns `origin` (2,): fractional coordinates of the table's origin;
    `misfit`: root mean square difference of shifts, mm.
    """
    eye = np.eye(2)
    rest = [t - s for t, s in zip(shifts, setting.shifts, strict=True)]
    factors = [eye - m for m in setting.matrices]
    starts: list[Floats] = [np.zeros(2)]
    order = range(1, len(factors))
    for first in order:
        for k in itertools.product((0, 1, 2), repeat=2):
            right = rest[first] + np.array(k)
            o, *_ = np.linalg.lstsq(factors[first].T, right, rcond=None)
            starts.append(o)
        if abs(np.linalg.det(factors[first])) > 0.5:
            break
    # two mirrors or glides that cross fix an origin together
    best, least = np.zeros(2), np.inf
    stacked = np.concatenate(factors, axis=1)
    metric = np.kron(np.eye(len(factors)), basis)
    for start in starts:
        o = start
        for _ in range(3):
            miss = [r - o @ f for r, f in zip(rest, factors, strict=True)]
            target = np.concatenate(
                [_wrap(m) + o @ f for m, f in zip(miss, factors, strict=True)]
            )
            o, *_ = np.linalg.lstsq((stacked @ metric).T, target @ metric, rcond=None)
        miss = [_wrap(r - o @ f) @ basis for r, f in zip(rest, factors, strict=True)]
        error = math.sqrt(float((np.concatenate(miss) ** 2).sum()) / len(miss))
        if error < least - 1e-12:
            best, least = o, error
    return best, least


def match_table(
    fits: list[CosetFit], basis: Floats
) -> tuple[Setting, Floats, float, float] | None:
    """Return the table group whose translation parts the operations have.

    `fits`: operations that hold, without the identity; closed modulo translations.
    `basis` (2, 2): reduced basis, mm. Returns the best setting, its origin
    (fractional), its misfit in mm and that of the next best group; None when the
    operations do not form a group.
    """
    eye = np.eye(2, dtype=np.intp)
    shift_of = {tuple(int(v) for v in eye.ravel()): np.zeros(2)}
    for f in fits:
        shift_of[tuple(int(v) for v in f.matrix.ravel())] = f.shift
    matrices = [np.array(k, dtype=np.intp).reshape(2, 2) for k in shift_of]
    found = []
    for group in PLANE_GROUPS:
        if len(general_positions("plane", group.short)) != len(matrices):
            continue
        for setting in settings_of(group.short, matrices):
            shifts = [
                shift_of[tuple(int(v) for v in m.ravel())] for m in setting.matrices
            ]
            origin, misfit = best_origin(setting, shifts, basis)
            found.append((misfit, group.short, setting, origin))
    if not found:
        return None
    found.sort(key=lambda f: f[0])
    misfit, name, setting, origin = found[0]
    second = next((f[0] for f in found if f[1] != name), math.inf)
    return setting, origin, misfit, second


def closed_subset(fits: list[CosetFit]) -> list[CosetFit]:
    """Return the largest part of operations that is closed modulo translations.

    Its linear parts form a group with the identity. `fits`: operations that hold,
    without the identity.
    """
    eye = np.eye(2, dtype=np.intp)
    known = {f.matrix.tobytes(): f for f in fits}
    best: set[bytes] = set()
    for pair in itertools.combinations_with_replacement(fits, 2):
        made = {f.matrix.tobytes(): f.matrix for f in pair}
        open_ = list(made.values())
        while open_ and made.keys() <= known.keys():
            a = open_.pop()
            for b in list(made.values()):
                for c in (np.ascontiguousarray(a @ b), np.ascontiguousarray(b @ a)):
                    if c.tobytes() not in made and not np.array_equal(c, eye):
                        made[c.tobytes()] = c
                        open_.append(c)
        if made.keys() <= known.keys() and len(made) > len(best):
            best = set(made)
    return [f for f in fits if f.matrix.tobytes() in best]


def ideal_basis(basis: Floats, matrices: tuple[Ints, ...]) -> Floats:
    """Return the nearest basis that linear parts keep exactly.

    `basis` (2, 2): measured basis, mm. `matrices`: a group of fractional matrices for
    rows. Returns (2, 2): the basis with its metric averaged over the group, turned to
    fit best.
    """
    gram = basis @ basis.T
    mean = np.mean([m @ gram @ m.T for m in matrices], axis=0)
    root = np.linalg.cholesky(mean)
    u, _, vt = np.linalg.svd(root.T @ basis)
    turn = u @ vt
    if np.linalg.det(turn) * np.linalg.det(root) * np.linalg.det(basis) < 0:
        u[:, -1] = -u[:, -1]
        turn = u @ vt
    return np.asarray(root @ turn)
