"""Which part of a repeat a group needs drawn, and how a drawn outline is one.

For each plane group the parts are polygons in fractional coordinates of the
conventional cell, first the asymmetric unit of the International Tables for
Crystallography A, chapter 2.2 (from memory; that the copies fill the plane once is
tested), then others that makers draw. For strips x is along the strip.
"""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry import affine
from fillwork.laying.model import Way
from fillwork.laying.moves import as_point
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


def fit_affine(source: Floats, target: Floats) -> tuple[Affine, float]:
    """Return the affine map that fits points best to others, and the largest miss."""
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
    found: list[Way] = []
    for part in parts:
        shape = np.array(part, dtype=np.float64)
        if len(shape) != len(outline):
            continue
        ranked = []
        for mirrored, turn in itertools.product((False, True), range(len(shape))):
            source = np.roll(shape[::-1] if mirrored else shape, turn, axis=0)
            frame = _frame(family, positions, source, outline, slack)
            if frame is not None:
                way = _way(family, short, positions, frame, source, outline)
                miss = round(way.miss / max(slack, 1e-6), 1)
                # as the tables draw it: x to the right, y upwards
                tilt = round(abs(math.atan2(frame[1], frame[0])), 3)
                ranked.append((miss, mirrored, tilt, way))
        for *_, way in sorted(ranked, key=lambda row: row[:3]):
            if not any(_equal(way, other) for other in found):
                found.append(way)
    return tuple(found)


def _frame(
    family: str,
    positions: tuple[Position, ...],
    source: Floats,
    outline: Floats,
    slack: float,
) -> Affine | None:
    """Return the axes of a group, in mm, under which a part is the outline drawn."""
    drawn, miss = fit_affine(source, outline)
    if miss > slack or abs(affine.determinant(drawn)) < 1e-12:
        return None
    matrices = [np.array(p.matrix, dtype=np.float64).reshape(2, 2) for p in positions]
    if family == "frieze":  # the strip's own direction and the one across it
        matrices = [*matrices, np.diag([1.0, -1.0])]
    linear = ideal_linear(affine.linear(drawn), matrices)
    a, c, b, d = linear.ravel().tolist()
    frame = (a, b, c, d, *as_point(outline.mean(axis=0) - linear @ source.mean(axis=0)))
    off = float(np.hypot(*(affine.apply(frame, source) - outline).T).max())
    return frame if off <= slack else None


def _way(
    family: str,
    short: str,
    positions: tuple[Position, ...],
    frame: Affine,
    source: Floats,
    outline: Floats,
) -> Way:
    ideal = affine.apply(frame, source)
    mend, rest = fit_affine(outline, ideal)
    off = float(np.hypot(*(ideal - outline).T).max())
    if family == "frieze":
        lattice = np.array([[1.0, 0.0]])
    elif short in ("cm", "cmm"):
        lattice = np.array([[0.5, 0.5], [0.5, -0.5]])
    else:
        lattice = np.eye(2)
    basis = lattice @ affine.linear(frame).T
    operations = tuple(_operation(p, frame) for p in positions)
    name = f"{family}:{short}"
    return Way(name, basis, ideal, operations, mend, max(rest, off))


def _equal(one: Way, two: Way) -> bool:
    """Return whether two ways carry the cell to the same places."""
    size = float(np.abs(one.basis).max())
    inverse = np.linalg.pinv(one.basis)
    along = two.basis @ inverse
    if np.abs(along - np.round(along)).max() > 1e-4:
        return False
    ours, theirs = (np.linalg.det(w.basis @ w.basis.T) for w in (one, two))
    if abs(ours - theirs) > 1e-4 * abs(ours):
        return False
    low, span = one.outline.min(axis=0), np.ptp(one.outline, axis=0)
    probe = low + np.array([[0.37, 0.11], [0.05, 0.29]]) * span
    images = np.array([affine.apply(g, probe) for g in one.operations])
    for g in two.operations:
        step = affine.apply(g, probe) - images
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
        first = first + angle / 2 - wanted / 2
        centre = as_point(apex)
        operations: list[Affine] = []
        for j in range(n):
            turn = affine.rotation(2 * math.pi * j / n, centre)
            operations.append(turn)
            if mirrors:
                operations.append(affine.compose(turn, _mirror(first, centre)))
        # shear that carries the drawn rays onto the wanted ones
        drawn = np.stack([v / np.hypot(*v) for v in (right, left)])
        ends = np.array([first, first + wanted])
        rays = np.column_stack([np.cos(ends), np.sin(ends)])
        mend, _ = fit_affine(
            np.vstack([apex, apex + drawn]), np.vstack([apex, apex + rays])
        )
        ideal = affine.apply(mend, outline)
        found.append(
            Way(name, np.empty((0, 2)), ideal, tuple(operations), mend, float(off))
        )
    return tuple(sorted(found, key=lambda way: round(way.miss, 6)))


def _mirror(angle: float, centre: tuple[float, float]) -> Affine:
    c, s = math.cos(2 * angle), math.sin(2 * angle)
    x, y = centre
    return (c, s, s, -c, x - c * x - s * y, y - s * x + c * y)
