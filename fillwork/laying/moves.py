"""Curves moved by their ends or by shifts, and points taken modulo the shifts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.curves import ARC, LINE, Curves

if TYPE_CHECKING:
    from fillwork.arrays import Floats, Ints


def as_point(point: Floats) -> tuple[float, float]:
    """Return a point as two plain numbers."""
    return float(point[0]), float(point[1])


def move_ends(curves: Curves, wanted: Floats) -> Curves:
    """Return curves drawn between other ends, by the similarity of the ends.

    `wanted` (2N, 2): where they shall start, then where they shall end, mm.
    """
    n = len(curves)
    start, end = curves.starts(), curves.ends()
    new_start, new_end = wanted[:n], wanted[n:]
    moved = np.hypot(*(start - new_start).T) + np.hypot(*(end - new_end).T) > 0
    rows = np.flatnonzero(moved)
    if len(rows) == 0:
        return curves
    old = (end - start)[rows] @ np.array([1, 1j])
    new = (new_end - new_start)[rows] @ np.array([1, 1j])
    safe = np.abs(old) > 1e-9
    factor = np.where(safe, new / np.where(safe, old, 1), 1.0)
    data = curves.data.copy()
    points = data[rows].reshape(-1, 4, 2) @ np.array([1, 1j])
    first = start[rows] @ np.array([1, 1j])
    onto = new_start[rows] @ np.array([1, 1j])
    kind = curves.kind[rows]
    arc = kind == ARC
    image = onto[:, None] + factor[:, None] * (points - first[:, None])
    image[arc, 1:3] = factor[arc, None] * points[arc, 1:3]
    image[arc, 3] = points[arc, 3]
    line = kind == LINE
    image[line, 1] = new_end[rows[line]] @ np.array([1, 1j])
    image[line, 2:] = 0
    data[rows] = np.stack([image.real, image.imag], axis=-1).reshape(-1, 8)
    return Curves(curves.kind.copy(), data)


def shift_curves(curves: Curves, shift: Floats) -> Curves:
    """Return curves, each shifted by its own vector. `shift` (N, 2): vectors, mm."""
    data = curves.data.copy()
    for k in (0, 1):
        data[:, k] += shift[:, k]
        bent = curves.kind != ARC
        data[bent, 2 + k] += shift[bent, k]
        cubic = bent & (curves.kind != LINE)
        if cubic.any():
            data[cubic, 4 + k] += shift[cubic, k]
            data[cubic, 6 + k] += shift[cubic, k]
    return Curves(curves.kind.copy(), data)


def lattice_cells(points: Floats, basis: Floats) -> Floats:
    """Return the lattice cell of each point, as whole numbers along the basis."""
    if len(basis) == 0:
        return np.zeros((len(points), 0))
    # off any simple fraction, so that corners and middles lie on no border
    return np.asarray(np.floor(points @ np.linalg.pinv(basis) + 0.3819660113))


def with_copies(wrapped: Floats, basis: Floats, slack: float) -> tuple[Floats, Ints]:
    """Return points with their nearest shifted copies, and whose each is."""
    every = np.arange(len(wrapped))
    if len(basis) == 0:
        return wrapped, every
    inverse = np.linalg.pinv(basis)
    place = wrapped @ inverse + 0.3819660113
    margin = slack * np.linalg.norm(inverse, axis=0) * 1.5 + 1e-9
    rank = len(basis)
    steps = np.stack(np.meshgrid(*[[-1, 0, 1]] * rank, indexing="ij"), axis=-1).reshape(
        -1, rank
    )
    points, back = [], []
    for step in steps:
        moved = place + step
        near = ((moved > -margin) & (moved < 1 + margin)).all(axis=1)
        points.append(wrapped[near] + step @ basis)
        back.append(every[near])
    return np.vstack(points), np.concatenate(back)
