"""Which part of a repeat a group needs drawn, and how a drawn outline is one.

For each plane group the parts are polygons in fractional coordinates of the
conventional cell, first the asymmetric unit of the International Tables for
Crystallography A, chapter 2.2 (from memory; that the copies fill the plane once is
tested), then others that makers draw. For strips x is along the strip.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.laying.model import Way
from fillwork.symmetry.groups import general_positions

if TYPE_CHECKING:
    from fillwork.arrays import Floats
    from fillwork.geometry.affine import Affine
    from fillwork.symmetry.groups import Position


_Points = tuple[tuple[float, float], ...]


def _box(x: float, y: float, left: float = 0.0, bottom: float = 0.0) -> _Points:
    right, top = left + x, bottom + y
    return ((left, bottom), (right, bottom), (right, top), (left, top))


_T = 1 / 3
_HEX_TRIANGLE: _Points = ((0, 0), (1, 0), (2 / 3, _T))
_KITE: _Points = ((0, 0), (0.5, 0), (2 / 3, _T), (0.5, 0.5))

PARTS: dict[str, tuple[_Points, ...]] = {
    "p1": (_box(1, 1),),
    "p2": (
        _box(0.5, 1),
        ((0, 0), (1, 0), (0, 1)),
        ((0.25, -0.25), (-0.25, 0.25), (-0.75, -0.25), (-0.25, -0.75)),
    ),
    "pm": (_box(0.5, 1),),
    "pg": (_box(0.5, 1), _box(1, 0.5)),
    "cm": (_box(0.5, 0.5), ((0, 0), (0.5, 0.5), (0, 1))),
    "pmm": (_box(0.5, 0.5),),
    "pmg": (_box(0.25, 1), _box(0.5, 0.5, 0.25)),
    "pgg": (_box(0.5, 0.5),),
    "cmm": (_box(0.25, 0.5), _box(0.5, 0.25), ((0, 0), (0.5, 0), (0, 0.5))),
    "p4": (_box(0.5, 0.5), ((0, 0), (1, 0), (0.5, 0.5))),
    "p4m": (((0, 0), (0.5, 0), (0.5, 0.5)),),
    "p4g": (((0, 0), (0.5, 0), (0, 0.5)),),
    "p3": (
        ((0, 0), (0.5, 0), (2 / 3, _T), (_T, 2 / 3), (0, 0.5)),
        ((0, 0), (2 / 3, _T), (1, 1), (_T, 2 / 3)),
        ((0, 0), (_T, 0), (2 / 3, _T), (2 / 3, 2 / 3), (_T, 2 / 3), (0, _T)),
    ),
    "p3m1": (((0, 0), (2 / 3, _T), (_T, 2 / 3)),),
    "p31m": (_HEX_TRIANGLE, _KITE),
    "p6": (((0, 0), (2 / 3, _T), (_T, 2 / 3)), _KITE, _HEX_TRIANGLE),
    "p6m": (((0, 0), (0.5, 0), (2 / 3, _T)),),
}
"""Parts of a repeat, by the short name of the plane group."""

_STRIPS: dict[str, tuple[_Points, ...]] = {
    "p1": (_box(1, 2, 0, -1),),
    "p11g": (_box(0.5, 2, 0, -1), _box(1, 1)),
    "p11m": (_box(1, 1),),
    "p1m1": (_box(0.5, 2, 0, -1),),
    "p2": (_box(0.5, 2, 0, -1), _box(1, 1)),
    "p2mg": (_box(0.25, 2, 0, -1), _box(0.5, 1, -0.25)),
    "p2mm": (_box(0.5, 1),),
}


def _fit(source: Floats, target: Floats) -> tuple[Affine, float]:
    """Return the affine map that fits best, and the largest miss."""
    rows = np.column_stack([source, np.ones(len(source))])
    found = np.linalg.lstsq(rows, target, rcond=None)[0]
    miss = float(np.hypot(*(rows @ found - target).T).max())
    (a, b), (c, d), (e, f) = found.tolist()
    return (a, b, c, d, e, f), miss


def ideal_linear(linear: Floats, matrices: list[Floats]) -> Floats:
    """Return the nearest linear part under which all matrices are isometries.

    `linear` (2, 2): columns are the axes, mm. `matrices` (2, 2): linear parts of
    operations along those axes. Returns (2, 2): axes with that symmetry.
    """
    metric = linear.T @ linear
    metric = np.mean([m.T @ metric @ m for m in matrices], axis=0)
    values, vectors = np.linalg.eigh(metric)
    root = vectors @ np.diag(np.sqrt(values)) @ vectors.T
    u, _, vt = np.linalg.svd(linear @ np.linalg.inv(root))
    return np.asarray(u @ vt @ root)


def _operation(position: Position, frame: Affine) -> Affine:
    """Return a general position as a map in mm."""
    m00, m01, m10, m11 = position.matrix
    s, t = (float(v) for v in position.shift)
    inner: Affine = (m00, m10, m01, m11, s, t)
    return affine.compose(frame, affine.compose(inner, affine.invert(frame)))


def ways_of_group(
    family: str, short: str, outline: Floats, *, slack: float
) -> tuple[Way, ...]:
    """Return the ways in which an outline is a part of a group's repeat.

    Each different one once, the usual first; empty where the outline is none.

    `family` and `short`: ``plane`` or ``frieze``, and the group's short name. `outline`
    (k, 2): corners of the drawn cell, counter-clockwise, mm. `slack`: how far corners
    may be off, mm.
    """
    positions = general_positions(family, short)
    parts = PARTS[short] if family == "plane" else _STRIPS[short]
    name = f"{family}:{short}"
    found: list[Way] = []
    for part in parts:
        shape = np.array(part, dtype=np.float64)
        if len(shape) != len(outline):
            continue
        ranked = []
        for mirrored in (False, True):
            corners = shape[::-1] if mirrored else shape
            for turn in range(len(shape)):
                source = np.roll(corners, turn, axis=0)
                fitted = _way(name, family, short, positions, source, outline, slack)
                if fitted is not None:
                    # as the tables draw it: x to the right, y upwards
                    way, tilt = fitted
                    miss = round(way.miss / max(slack, 1e-6), 1)
                    ranked.append((miss, mirrored, round(tilt, 3), way))
        ranked.sort(key=lambda r: r[:3])
        for *_, way in ranked:
            if not any(_equal(way, other) for other in found):
                found.append(way)
    return tuple(found)


def _way(
    name: str,
    family: str,
    short: str,
    positions: tuple[Position, ...],
    source: Floats,
    outline: Floats,
    slack: float,
) -> tuple[Way, float] | None:
    """Return the way with the tilt of its first axis, where a part fits."""
    drawn, miss = _fit(source, outline)
    if miss > slack or abs(affine.determinant(drawn)) < 1e-12:
        return None
    matrices = [np.array(p.matrix, dtype=np.float64).reshape(2, 2) for p in positions]
    if family == "frieze":  # the strip's own direction and the one across it
        matrices = [*matrices, np.diag([1.0, -1.0])]
    linear = ideal_linear(affine.linear(drawn), matrices)
    middle = outline.mean(axis=0) - linear @ source.mean(axis=0)
    frame: Affine = (
        float(linear[0, 0]), float(linear[1, 0]), float(linear[0, 1]),
        float(linear[1, 1]), float(middle[0]), float(middle[1]),
    )  # fmt: skip
    ideal = affine.apply(frame, source)
    off = float(np.hypot(*(ideal - outline).T).max())
    if off > slack:
        return None
    mend, rest = _fit(outline, ideal)
    if family == "frieze":
        lattice = np.array([[1.0, 0.0]])
    elif short in ("cm", "cmm"):
        lattice = np.array([[0.5, 0.5], [0.5, -0.5]])
    else:
        lattice = np.eye(2)
    way = Way(
        name=name,
        basis=lattice @ linear.T,
        operations=tuple(_operation(p, frame) for p in positions),
        outline=ideal,
        mend=mend,
        miss=max(rest, off),
    )
    return way, abs(math.atan2(linear[1, 0], linear[0, 0]))


def _equal(one: Way, two: Way) -> bool:
    """Return whether two ways carry the cell to the same places."""
    size = float(np.abs(one.basis).max())
    inverse = np.linalg.pinv(one.basis)
    along = two.basis @ inverse
    if np.abs(along - np.round(along)).max() > 1e-4:
        return False
    volume = (
        np.linalg.det(one.basis @ one.basis.T),
        np.linalg.det(two.basis @ two.basis.T),
    )
    if abs(volume[0] - volume[1]) > 1e-4 * abs(volume[0]):
        return False
    low, span = one.outline.min(axis=0), np.ptp(one.outline, axis=0)
    probe = low + np.array([[0.37, 0.11], [0.05, 0.29]]) * span
    ours = np.array([affine.apply(g, probe) for g in one.operations])
    for g in two.operations:
        step = affine.apply(g, probe) - ours
        shift = np.round(step[:, 0] @ inverse) @ one.basis
        if np.abs(step - shift[:, None]).max(axis=(1, 2)).min() > 1e-4 * size:
            return False
    return True


def ways_of_rosette(
    n: int, mirrors: bool, outline: Floats, *, slack: float
) -> tuple[Way, ...]:
    """Return the ways in which an outline is one sector of a rosette.

    One for each corner that may be the middle; empty where none may. `n`: order of the
    rotation. `mirrors`: whether there are mirrors. `outline` (k, 2): corners of the
    drawn sector, counter-clockwise, mm. `slack`: how far the sides may be off, mm.
    """
    wanted = (math.pi if mirrors else 2 * math.pi) / n
    name = f"rosette:{'D' if mirrors else 'C'}{n}"
    found = []
    for k in range(len(outline)):
        apex = outline[k]
        right = outline[(k + 1) % len(outline)] - apex
        left = outline[k - 1] - apex
        first = math.atan2(right[1], right[0])
        angle = (math.atan2(left[1], left[0]) - first) % (2 * math.pi)
        reach = float(np.hypot(*(outline - apex).T).max())
        off = abs(angle - wanted) / 2 * reach
        if off > slack:
            continue
        bisector = first + angle / 2
        first = bisector - wanted / 2
        operations: list[Affine] = []
        centre = (float(apex[0]), float(apex[1]))
        for j in range(n):
            turn = affine.rotation(2 * math.pi * j / n, centre)
            operations.append(turn)
            if mirrors:
                operations.append(affine.compose(turn, _mirror(first, centre)))
        # shear that carries the drawn rays onto the wanted ones
        rays = np.zeros((3, 2))
        rays[1:, 0] = np.cos([first, first + wanted])
        rays[1:, 1] = np.sin([first, first + wanted])
        drawn = np.zeros((3, 2))
        drawn[1:] = right / np.hypot(*right), left / np.hypot(*left)
        drawn, rays = drawn + apex, rays + apex
        mend = _fit(drawn, rays)[0]
        ideal = affine.apply(mend, outline)
        found.append(
            Way(name, np.empty((0, 2)), tuple(operations), ideal, mend, float(off))
        )
    found.sort(key=lambda w: round(w.miss, 6))
    return tuple(found)


def _mirror(angle: float, centre: tuple[float, float]) -> Affine:
    c, s = math.cos(2 * angle), math.sin(2 * angle)
    x, y = centre
    return (c, s, s, -c, x - c * x - s * y, y - s * x + c * y)
