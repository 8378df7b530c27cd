"""Draw symmetry elements with the graphic symbols of the International Tables.

International Tables for Crystallography, Volume A (2016), table 2.1.2: a mirror line
is solid, a glide line dashed; centres of order 2, 3, 4 and 6 are a lens, a triangle,
a square and a hexagon, filled. Centres of other orders, which rosettes may have, are
filled regular polygons here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.renderers.scene import (
    BLACK,
    Fills,
    Item,
    join_shapes,
    segments,
    shapes_from_rings,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.symmetry.model import Symmetry

__all__ = ["Elements", "compose_elements", "find_elements"]


@dataclass(frozen=True, slots=True, eq=False)
class Elements:
    """Hold centres and axes inside a convex window.

    Parameters
    ----------
    centres : ndarray of shape (n, 2)
        Rotation centres, mm.
    orders : ndarray of int, shape (n,)
        Their orders.
    turns : ndarray of shape (n,)
        A direction for each symbol, rad: along a mirror or lattice vector.
    mirrors, glides : ndarray of shape (m, 4)
        x0 y0 x1 y1 of the parts of axes inside the window, mm.
    """

    centres: NDArray[np.float64]
    orders: NDArray[np.int64]
    turns: NDArray[np.float64]
    mirrors: NDArray[np.float64]
    glides: NDArray[np.float64]


def _clip_line(
    point: NDArray[np.float64], way: NDArray[np.float64], window: NDArray[np.float64]
) -> tuple[float, float] | None:
    """Return the parameters of a line inside a convex window, counter-clockwise."""
    low, high = -np.inf, np.inf
    size = float(np.ptp(window, axis=0).max())
    for a, b in zip(window, np.roll(window, -1, axis=0), strict=True):
        edge = b - a
        normal = np.array([edge[1], -edge[0]]) / np.hypot(*edge)
        gap, slope = float(normal @ (a - point)), float(normal @ way)
        if abs(slope) < 1e-9:
            if gap < -1e-6 * size:
                return None
        elif slope > 0:
            high = min(high, gap / slope)
        else:
            low = max(low, gap / slope)
    return (low, high) if high - low > 1e-6 * size else None


def _shifts(symmetry: Symmetry, window: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return lattice translations that can matter in a window."""
    if symmetry.lattice is None:
        return np.zeros((1, 2))
    basis = symmetry.lattice.basis
    size = float(np.ptp(window, axis=0).max())
    shortest = float(np.linalg.norm(basis, axis=1).min())
    if len(basis) == 1:
        n = int(np.ceil(2 * size / shortest)) + 2
        row: NDArray[np.float64] = np.arange(-n, n + 1)[:, None] * basis[0]
        return row
    # elements move by halves and thirds of translations
    height = abs(basis[0, 0] * basis[1, 1] - basis[0, 1] * basis[1, 0])
    longest = float(np.linalg.norm(basis, axis=1).max())
    n = min(int(np.ceil(2 * size * longest / height)) + 2, 12)
    i, j = np.meshgrid(np.arange(-n, n + 1), np.arange(-n, n + 1))
    grid: NDArray[np.float64] = (
        i.reshape(-1, 1) * basis[0] + j.reshape(-1, 1) * basis[1]
    )
    return grid


def find_elements(symmetry: Symmetry, window: NDArray[np.float64]) -> Elements:
    """Return the symmetry elements inside a window.

    Parameters
    ----------
    symmetry : Symmetry
        Its operations are one a coset of the translations.
    window : ndarray of shape (k, 2)
        Corners of a convex window, counter-clockwise, mm; about one repeat.

    Returns
    -------
    Elements
        An axis that is both mirror and glide counts as a mirror.
    """
    shifts = _shifts(symmetry, window)
    middle = window.mean(axis=0)
    size = float(np.ptp(window, axis=0).max())
    slack = 1e-4 * size
    points: dict[tuple[int, int], tuple[NDArray[np.float64], int]] = {}
    mirrors: dict[tuple[int, int], tuple[float, ...]] = {}
    glides: dict[tuple[int, int], tuple[float, ...]] = {}
    for operation in symmetry.operations:
        a, b, c, d, e, f = operation.map
        linear = np.array([[a, c], [b, d]])
        own = np.array([e, f])
        # operations are written about the drawing's origin: begin near the window
        moves = own + _base(symmetry, linear, own, middle) + shifts
        if a * d - b * c > 0:
            angle = float(np.arctan2(b, a))
            if abs(angle) < 1e-6:
                continue
            order = round(2 * np.pi / abs(angle))
            if abs(2 * np.pi / order - abs(angle)) > 1e-3:
                continue  # a power of a smaller rotation
            centres = np.linalg.solve(np.eye(2) - linear, moves.T).T
            for centre in centres[_within(centres, window, slack)]:
                key = _key(centre, slack)
                known = points.get(key)
                if known is None or known[1] < order:
                    points[key] = (centre, order)
            continue
        half = np.arctan2(b, a) / 2
        way = np.array([np.cos(half), np.sin(half)])
        normal = np.array([-way[1], way[0]])
        along, across = moves @ way, moves @ normal
        for t, h in zip(along.tolist(), across.tolist(), strict=True):
            point = normal * h / 2
            span = _clip_line(point, way, window)
            if span is None:
                continue
            key = (round(h / 2 / slack / 4), round(float(half) * 1e4))
            line = (*(point + span[0] * way), *(point + span[1] * way))
            if abs(t) < 10 * slack:
                mirrors[key] = line
            else:
                glides.setdefault(key, line)
    lines = [line for key, line in glides.items() if key not in mirrors]
    rows = list(points.values())
    turn = 0.0
    if mirrors:
        first = np.array(next(iter(mirrors.values())))
        turn = float(np.arctan2(first[3] - first[1], first[2] - first[0]))
    elif symmetry.lattice is not None:
        turn = float(np.arctan2(*symmetry.lattice.basis[0][::-1]))
    return Elements(
        np.array([p for p, _ in rows]).reshape(-1, 2),
        np.array([n for _, n in rows], np.int64),
        _turns(rows, np.array(list(mirrors.values())).reshape(-1, 4), turn, slack),
        np.array(list(mirrors.values())).reshape(-1, 4),
        np.array(lines).reshape(-1, 4),
    )


def _turns(
    rows: list[tuple[NDArray[np.float64], int]],
    mirrors: NDArray[np.float64],
    turn: float,
    slack: float,
) -> NDArray[np.float64]:
    """Return the direction of each symbol: along a mirror through its centre.

    Centres that the highest rotation carries onto each other are turned by it, so
    the mirror is one whose direction it carries the first mirror's to.
    """
    turns = np.full(len(rows), turn)
    if len(mirrors) == 0:
        return turns
    step = 2 * np.pi / max(order for _, order in rows) if rows else np.pi
    way = mirrors[:, 2:] - mirrors[:, :2]
    angle = np.arctan2(way[:, 1], way[:, 0])
    off = (angle - turn) / step
    same = np.abs(off - np.round(off)) < 1e-3
    normal = np.column_stack([-np.sin(angle), np.cos(angle)])
    for k, (centre, order) in enumerate(rows):
        if order == 2:
            gap = np.abs(((centre - mirrors[:, :2]) * normal).sum(axis=1))
            through = np.flatnonzero((gap < 10 * slack) & same)
            if len(through):
                turns[k] = angle[through[0]]
    return turns


def _base(
    symmetry: Symmetry,
    linear: NDArray[np.float64],
    shift: NDArray[np.float64],
    middle: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return the translation that brings an operation's element near a point.

    An operation x -> R x + t keeps the point c where (1 - R) c = t.
    """
    if symmetry.lattice is None:
        return np.zeros(2)
    basis = symmetry.lattice.basis
    gap = middle - linear @ middle - shift
    steps = np.round(np.linalg.lstsq(basis.T, gap, rcond=None)[0])
    near: NDArray[np.float64] = steps @ basis
    return near


def _within(
    points: NDArray[np.float64], window: NDArray[np.float64], slack: float
) -> NDArray[np.bool_]:
    inside = np.ones(len(points), bool)
    for a, b in zip(window, np.roll(window, -1, axis=0), strict=True):
        edge = (b - a) / np.hypot(*(b - a))
        inside &= edge[0] * (points[:, 1] - a[1]) - edge[1] * (points[:, 0] - a[0]) > (
            -slack
        )
    return inside


def _key(point: NDArray[np.float64], slack: float) -> tuple[int, int]:
    x, y = np.round(point / (10 * slack)).astype(int).tolist()
    return (x, y)


def _symbol(order: int, size: float, turn: float) -> NDArray[np.float64]:
    if order == 2:
        # a lens: two arcs of 100 degrees
        a = np.radians(50)
        s = np.linspace(-a, a, 13)
        x = np.sin(s) / np.sin(a)
        y = (np.cos(s) - np.cos(a)) / np.sin(a)
        upper = np.stack([x, y], axis=1)
        ring = np.vstack([upper, -upper[1:-1]]) * size
        turn += np.pi / 2
    else:
        n = order if order <= 12 else 48
        start = np.pi / 4 if order == 4 else np.pi / 2
        angle = start + np.arange(n) * 2 * np.pi / n
        radius = size * {3: 1.15, 4: 1.05}.get(order, 1.0)
        ring = np.stack([np.cos(angle), np.sin(angle)], axis=1) * radius
        turn = turn if order in (4, 6) else 0.0
    c, s_ = np.cos(turn), np.sin(turn)
    moved: NDArray[np.float64] = ring @ np.array([[c, s_], [-s_, c]])
    return moved


def compose_elements(elements: Elements, scale: float) -> list[Item]:
    """Return elements as items, in the drawing's coordinates.

    Parameters
    ----------
    elements : Elements
        Centres and axes.
    scale : float
        Paper mm for one mm of the drawing: symbols are 1.4 mm on paper.

    Returns
    -------
    list of items
        Axes below, centres on top.
    """
    items: list[Item] = []
    if len(elements.glides):
        dash = (2.0 / scale, 1.2 / scale)
        items.append(segments(elements.glides, 0.25 / scale, BLACK, dash=dash))
    if len(elements.mirrors):
        items.append(segments(elements.mirrors, 0.25 / scale, BLACK))
    rings = [
        [_symbol(int(order), 1.4 / scale, float(turn)) + centre]
        for centre, order, turn in zip(
            elements.centres, elements.orders, elements.turns, strict=True
        )
    ]
    if rings:
        shapes = join_shapes([shapes_from_rings([r]) for r in rings])
        items.append(Fills(shapes, np.arange(len(rings)), BLACK, layer=""))
    return items
