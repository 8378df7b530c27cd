"""Rotation centres, mirrors and glide axes of a symmetry, ready to draw."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine

if TYPE_CHECKING:
    from fillwork.arrays import Floats, Ints32
    from fillwork.symmetry.model import Symmetry


@dataclass(frozen=True, slots=True, eq=False)
class SymmetryElements:
    """Hold the elements of one unit cell."""

    # (3, 2): origin and the two edges of the cell, mm; a frieze has a second edge 0, a
    # rosette has edges 0
    cell: Floats
    # (n, 2): rotation centres, mm; those on the cell's edges are given once
    centres: Floats
    orders: Ints32  # (n,): order of the rotation about each, 2 or more
    # mirrors and glides, (m, 4): axes: x, y of a point (mm) and the unit direction.
    # Every axis is the image of one of these under a translation of the lattice.
    mirrors: Floats
    glides: Floats


def _direction(linear: Floats) -> Floats:
    axis = math.atan2(linear[1, 0], linear[0, 0]) / 2
    along = np.array([math.cos(axis), math.sin(axis)])
    return along if (along[0], along[1]) > (1e-9, 0) or along[1] > 0 else -along


def elements(symmetry: Symmetry) -> SymmetryElements:
    """Return the rotation centres and axes of one unit cell.

    `symmetry`: a plane, frieze or rosette group; ``none`` gives nothing. Returns
    centres and axes, each once modulo translations.
    """
    basis = np.zeros((2, 2))
    rank = 0
    if symmetry.lattice is not None:
        rank = len(symmetry.lattice.basis)
        basis[:rank] = symmetry.lattice.basis
    origin = np.array(symmetry.centre if symmetry.centre is not None else (0.0, 0.0))
    middle = origin + basis.sum(axis=0) / 2
    size = float(np.hypot(basis[:, 0], basis[:, 1]).max()) or 1.0
    span = range(-2, 3)
    combos = np.array([(i, j) for i in span for j in (span if rank == 2 else (0,))])
    if rank == 0:
        combos = np.zeros((1, 2), np.intp)
    steps = combos @ basis
    centres: dict[tuple[int, int], tuple[Floats, int]] = {}
    mirrors: list[tuple[Floats, Floats]] = []
    glides: list[tuple[Floats, Floats, float]] = []
    for operation in symmetry.operations:
        linear = affine.linear(operation.map)
        shift = np.array(operation.map[4:])
        if operation.kind == "rotation":
            solve = np.linalg.inv(np.eye(2) - linear)
            for step in steps:
                point = _fold(solve @ (shift + step), origin, basis, rank)
                key = (
                    round(float(point[0]) / size * 1e5),
                    round(float(point[1]) / size * 1e5),
                )
                known = _near_key(centres, key)
                if known is None or centres[known][1] < operation.order:
                    centres[known or key] = (point, operation.order)
        elif operation.kind in ("reflection", "glide"):
            along = _direction(linear)
            across = np.array([-along[1], along[0]])
            for step in steps:
                moved = shift + step
                slide = float(moved @ along)
                place = across * (float(moved @ across) / 2)
                point = place + along * float((middle - place) @ along)
                if abs(slide) < 1e-6 * size:
                    if not any(
                        _same_axis(point, along, p, d, basis, rank) for p, d in mirrors
                    ):
                        mirrors.append((point, along))
                else:
                    glides.append((point, along, abs(slide)))
    kept: list[tuple[Floats, Floats, float]] = []
    for point, along, glide in sorted(glides, key=lambda g: g[2]):
        if any(_same_axis(point, along, p, d, basis, rank) for p, d in mirrors):
            continue
        if any(_same_axis(point, along, p, d, basis, rank) for p, d, _ in kept):
            continue
        kept.append((point, along, glide))
    found = list(centres.values())
    return SymmetryElements(
        np.vstack([origin, basis]),
        np.array([p for p, _ in found]).reshape(-1, 2),
        np.array([n for _, n in found], np.int32),
        np.array([(*p, *d) for p, d in mirrors]).reshape(-1, 4),
        np.array([(*p, *d) for p, d, _ in kept]).reshape(-1, 4),
    )


def _near_key(
    known: dict[tuple[int, int], tuple[Floats, int]], key: tuple[int, int]
) -> tuple[int, int] | None:
    for dx in (0, -1, 1):
        for dy in (0, -1, 1):
            near = (key[0] + dx, key[1] + dy)
            if near in known:
                return near
    return None


def _fold(point: Floats, origin: Floats, basis: Floats, rank: int) -> Floats:
    """Return the point moved into the cell by translations."""
    if rank == 0:
        return point
    if rank == 1:
        vector = basis[0]
        u = float((point - origin) @ vector / (vector @ vector))
        return np.asarray(point - math.floor(u + 1e-6) * vector)
    fractional = (point - origin) @ np.linalg.inv(basis)
    return np.asarray(point - np.floor(fractional + 1e-6) @ basis)


def _same_axis(
    p: Floats, d: Floats, q: Floats, e: Floats, basis: Floats, rank: int
) -> bool:
    """Tell whether two axes are one modulo translations."""
    size = float(np.hypot(basis[:, 0], basis[:, 1]).max()) or 1.0
    if abs(d[0] * e[1] - d[1] * e[0]) > 1e-6:
        return False
    across = np.array([-d[1], d[0]])
    gap = float((p - q) @ across)
    span = range(-3, 4)
    for i in span if rank else (0,):
        for j in span if rank == 2 else (0,):
            if abs(gap + float((i * basis[0] + j * basis[1]) @ across)) < 1e-5 * size:
                return True
    return False


_TURNS = {2: "half turns", 3: "third turns", 4: "quarter turns", 6: "sixth turns"}


def _millimetres(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0") if value < 1000 else f"{value:.0f}"


def describe(symmetry: Symmetry) -> str:
    """Say a symmetry in one plain sentence.

    Such as ``repeats every 84 mm two ways at 90°; quarter turns; mirrors through their
    centres``.

    `symmetry`: what was found.
    """
    group = symmetry.group
    if group.family == "none":
        return "no symmetry" + (f": {symmetry.reason}" if symmetry.reason else "")
    kinds = [o.kind for o in symmetry.operations]
    order = max(
        (o.order for o in symmetry.operations if o.kind == "rotation"), default=1
    )
    parts: list[str] = []
    if group.family == "rosette":
        mirrors = kinds.count("reflection")
        if order > 1:
            parts.append(f"turns by 1/{order} about one centre")
        if mirrors:
            through = " through it" if order > 1 else ""
            parts.append(f"{mirrors} mirrors{through}" if mirrors > 1 else "one mirror")
        text = "; ".join(parts)
    else:
        text = _describe_repeats(symmetry, order)
    return text if symmetry.certain else f"{text} (not certain: {symmetry.reason})"


def _describe_repeats(symmetry: Symmetry, order: int) -> str:
    lattice = symmetry.lattice
    parts: list[str] = []
    if lattice is not None:
        lengths = np.hypot(lattice.basis[:, 0], lattice.basis[:, 1])
        if len(lengths) == 1:
            parts.append(f"repeats every {_millimetres(lengths[0])} mm along the strip")
        else:
            cosine = float(lattice.basis[0] @ lattice.basis[1]) / lengths.prod()
            angle = f"{math.degrees(math.acos(np.clip(cosine, -1, 1))):.0f}°"
            first, second = _millimetres(lengths[0]), _millimetres(lengths[1])
            if abs(lengths[0] - lengths[1]) < 1e-6 * lengths[0]:
                ways = "three ways" if lattice.kind == "hexagonal" else "two ways"
                parts.append(f"repeats every {first} mm {ways} at {angle}")
            else:
                parts.append(f"repeats every {first} mm one way and {second} mm the")
                parts[-1] += f" other, at {angle}"
    found = elements(symmetry)
    if order > 1:
        text = _TURNS.get(order, f"turns by 1/{order}")
        lower = sorted({int(n) for n in found.orders} - {order}, reverse=True)
        if lower:
            text += " and, elsewhere, " + " and ".join(_TURNS[n] for n in lower)
        parts.append(text)
    if len(found.mirrors):
        through = ""
        if order > 1:
            top = found.centres[found.orders == order]
            hit = [_touches(found.mirrors, c, symmetry) for c in top]
            through = " through their centres" if all(hit) else " beside their centres"
            if any(hit) and not all(hit):
                through = " through some of their centres"
        parts.append("mirrors" + through)
    if len(found.glides):
        parts.append("glides between them" if len(found.mirrors) else "glides")
    return "; ".join(parts)


def _touches(axes: Floats, centre: Floats, symmetry: Symmetry) -> bool:
    basis = np.zeros((2, 2))
    rank = 0
    if symmetry.lattice is not None:
        rank = len(symmetry.lattice.basis)
        basis[:rank] = symmetry.lattice.basis
    return any(_same_axis(centre, a[2:], a[:2], a[2:], basis, rank) for a in axes)
