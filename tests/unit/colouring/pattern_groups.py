"""Ideal plane, frieze and rosette groups as maps in mm, from their positions."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.counterchange.subgroups import PatternGroup, read_pattern_group
from fillwork.symmetry.groups import general_positions

if TYPE_CHECKING:
    from fillwork.geometry.affine import Affine

PLANE = [
    "p1",
    "p2",
    "pm",
    "pg",
    "cm",
    "pmm",
    "pmg",
    "pgg",
    "cmm",
    "p4",
    "p4m",
    "p4g",
    "p3",
    "p3m1",
    "p31m",
    "p6",
    "p6m",
]
FRIEZE = ["p1", "p11g", "p1m1", "p2", "p11m", "p2mg", "p2mm"]

_OBLIQUE = [[7.0, 0.0], [2.3, 5.9]]
_RECTANGLE = [[7.0, 0.0], [0.0, 4.6]]
_SQUARE = [[6.0, 0.0], [0.0, 6.0]]
_HEXAGONAL = [[6.0, 0.0], [-3.0, 3.0 * math.sqrt(3.0)]]


def plane_maps(short: str) -> tuple[list[Affine], np.ndarray]:
    """Return operations modulo translations and a primitive basis, mm."""
    if short in ("p1", "p2"):
        cell = np.array(_OBLIQUE)
    elif short.startswith("p4"):
        cell = np.array(_SQUARE)
    elif short[:2] in ("p3", "p6"):
        cell = np.array(_HEXAGONAL)
    else:
        cell = np.array(_RECTANGLE)
    maps = []
    for position in general_positions("plane", short):
        m = np.array(position.matrix, float).reshape(2, 2)
        linear = cell.T @ m @ np.linalg.inv(cell.T)
        shift = np.array([float(v) for v in position.shift]) @ cell
        maps.append(
            (linear[0, 0], linear[1, 0], linear[0, 1], linear[1, 1], *shift.tolist())
        )
    basis = cell
    if short in ("cm", "cmm"):
        basis = np.array([(cell[0] + cell[1]) / 2, (cell[1] - cell[0]) / 2])
    return maps, basis


def frieze_maps(short: str) -> tuple[list[Affine], np.ndarray]:
    """Return operations modulo translations and the period, mm."""
    maps = []
    for position in general_positions("frieze", short):
        a, c, b, d = position.matrix
        x, y = (5.0 * float(v) for v in position.shift)
        maps.append((float(a), float(b), float(c), float(d), x, y))
    return maps, np.array([[5.0, 0.0]])


def rosette_maps(n: int, *, mirrors: bool) -> tuple[list[Affine], np.ndarray]:
    """Return all operations of Cn or Dn about the origin."""
    maps = []
    for k in range(n):
        c, s = math.cos(2 * math.pi * k / n), math.sin(2 * math.pi * k / n)
        maps.append((c, s, -s, c, 0.0, 0.0))
    if mirrors:
        maps += [(a, b, -c, -d, 0.0, 0.0) for a, b, c, d, _, _ in list(maps)]
    return maps, np.empty((0, 2))


def plane(short: str) -> PatternGroup:
    return read_pattern_group(*plane_maps(short))


def frieze(short: str) -> PatternGroup:
    return read_pattern_group(*frieze_maps(short))


def rosette(n: int, *, mirrors: bool) -> PatternGroup:
    return read_pattern_group(*rosette_maps(n, mirrors=mirrors))
