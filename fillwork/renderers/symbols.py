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

from fillwork.renderers.scene import BLACK, Fills, Item, segments, shapes_from_rings
from fillwork.symmetry.elements import elements

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.symmetry.model import Symmetry

SIZE = 1.4
"""Half the width of a centre of symmetry as it is printed, mm."""

_MOST_MIRRORS = 8
"""A rosette of a higher order is told by one of its wedges."""


@dataclass(frozen=True, slots=True, eq=False)
class Elements:
    """Hold centres and axes inside a convex window."""

    centres: Floats  # (n, 2): rotation centres, mm
    orders: Ints  # (n,): their orders
    # (n,): a direction for each symbol, rad: along a mirror or lattice vector
    turns: Floats
    # mirrors and glides, (m, 4): x0 y0 x1 y1 of the parts of axes inside the window, mm
    mirrors: Floats
    glides: Floats


def _clip_line(
    point: Floats, way: Floats, window: Floats
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


def _translations(cell: Floats, window: Floats) -> Floats:
    """Return the lattice translations that bring a cell into touch with a window."""
    basis = cell[1:][np.abs(cell[1:]).max(axis=1) > 0]
    if len(basis) == 0:
        return np.zeros((1, 2))
    # steps along each vector, with one more cell on every side
    steps = np.linalg.lstsq(basis.T, (window - cell[0]).T, rcond=None)[0]
    low = np.floor(steps.min(axis=1)).astype(int) - 1
    high = np.ceil(steps.max(axis=1)).astype(int) + 1
    # no window of ours is wider than some dozen cells
    low, high = np.maximum(low, high - 60), high
    grids = np.meshgrid(*(np.arange(a, b + 1) for a, b in zip(low, high, strict=True)))
    counts = np.stack([g.ravel() for g in grids], axis=1)
    found: Floats = counts @ basis
    return found


def _axes(axes: Floats, shifts: Floats, window: Floats, slack: float) -> Floats:
    """Return the parts inside a window of axes and of their translates."""
    found: list[tuple[float, ...]] = []
    for x, y, dx, dy in axes:
        way, normal = np.array([dx, dy]), np.array([-dy, dx])
        across = np.sort((shifts + np.array([x, y])) @ normal)
        apart = across[np.concatenate([[True], np.diff(across) > slack])]
        for h in apart.tolist():
            span = _clip_line(normal * h, way, window)
            if span is None:
                continue
            a, b = normal * h + span[0] * way, normal * h + span[1] * way
            found.append((*a.tolist(), *b.tolist()))
    return np.array(found).reshape(-1, 4)


def wedge_of(symmetry: Symmetry, reach: float) -> Floats | None:
    """Return the wedge that the turns and mirrors of a rosette of high order repeat.

    `symmetry`: the symmetry of a zone. `reach`: length of the wedge's sides, mm.
    Returns (3, 2): one end, the centre, the other end: between two neighbouring
    mirrors, or one turn apart where there are none. None for anything but a rosette of
    an order above eight.
    """
    cell = elements(symmetry)
    if symmetry.group.family != "rosette" or len(cell.orders) == 0:
        return None
    order = int(cell.orders.max())
    if order <= _MOST_MIRRORS:
        return None
    centre = cell.centres[int(cell.orders.argmax())]
    # the wedge that lies uppermost
    step = np.pi / order if len(cell.mirrors) else 2 * np.pi / order
    first = np.pi / 2
    if len(cell.mirrors):
        x, y = cell.mirrors[0, 2:4]
        first = float(np.arctan2(y, x))
        first += np.floor((np.pi / 2 - first) / step) * step
    ends = [
        centre + reach * np.array([np.cos(a), np.sin(a)]) for a in (first, first + step)
    ]
    return np.array([ends[0], centre, ends[1]])


def find_elements(symmetry: Symmetry, window: Floats) -> Elements:
    """Return the symmetry elements inside a window.

    Those of one unit cell (`fillwork.symmetry.elements`), moved by the lattice.

    `symmetry`: its operations are one a coset of the translations. `window` (k, 2):
    corners of a convex window, counter-clockwise, mm; about one repeat.
    """
    cell = elements(symmetry)
    shifts = _translations(cell.cell, window)
    size = float(np.ptp(window, axis=0).max())
    slack = 1e-4 * size
    points = (cell.centres[:, None] + shifts[None]).reshape(-1, 2)
    orders = np.repeat(cell.orders.astype(np.int64), len(shifts))
    inside = _within(points, window, slack)
    mirrors = _axes(cell.mirrors, shifts, window, slack)
    wedge = wedge_of(symmetry, size)
    if wedge is not None:
        mirrors = _clipped(wedge, window) if len(mirrors) else mirrors[:0]
    turn = 0.0
    if len(mirrors):
        x0, y0, x1, y1 = mirrors[0]
        turn = float(np.arctan2(y1 - y0, x1 - x0))
    elif symmetry.lattice is not None:
        turn = float(np.arctan2(*symmetry.lattice.basis[0][::-1]))
    return Elements(
        points[inside],
        orders[inside],
        _turns(points[inside], orders[inside], mirrors, turn, slack),
        mirrors,
        _axes(cell.glides, shifts, window, slack),
    )


def _clipped(wedge: Floats, window: Floats) -> Floats:
    """Return the two sides of a wedge inside a convex window."""
    found = []
    for end in (wedge[0], wedge[2]):
        way = (end - wedge[1]) / np.hypot(*(end - wedge[1]))
        span = _clip_line(wedge[1], way, window)
        if span is not None and span[1] > 0:
            far = wedge[1] + span[1] * way
            found.append((*(wedge[1] + max(span[0], 0.0) * way), *far))
    return np.array(found).reshape(-1, 4)


def _turns(
    points: Floats, orders: Ints, mirrors: Floats, turn: float, slack: float
) -> Floats:
    """Return the direction of each symbol: along a mirror through its centre.

    Centres that the highest rotation carries onto each other are turned by it, so
    the mirror is one whose direction it carries the first mirror's to.
    """
    turns = np.full(len(points), turn)
    if len(mirrors) == 0 or len(points) == 0:
        return turns
    step = 2 * np.pi / int(orders.max())
    way = mirrors[:, 2:] - mirrors[:, :2]
    angle = np.arctan2(way[:, 1], way[:, 0])
    off = (angle - turn) / step
    same = np.abs(off - np.round(off)) < 1e-3
    normal = np.column_stack([-np.sin(angle), np.cos(angle)])
    for k in np.flatnonzero(orders == 2).tolist():
        gap = np.abs(((points[k] - mirrors[:, :2]) * normal).sum(axis=1))
        through = np.flatnonzero((gap < 10 * slack) & same)
        if len(through):
            turns[k] = angle[through[0]]
    return turns


def _within(points: Floats, window: Floats, slack: float) -> Bools:
    inside = np.ones(len(points), bool)
    for a, b in zip(window, np.roll(window, -1, axis=0), strict=True):
        edge = (b - a) / np.hypot(*(b - a))
        inside &= edge[0] * (points[:, 1] - a[1]) - edge[1] * (points[:, 0] - a[0]) > (
            -slack
        )
    return inside


def _symbol(order: int, turn: float) -> Floats:
    if order == 2:
        # a lens: two arcs of 100 degrees
        a = np.radians(50)
        s = np.linspace(-a, a, 13)
        x = np.sin(s) / np.sin(a)
        y = (np.cos(s) - np.cos(a)) / np.sin(a)
        upper = np.stack([x, y], axis=1)
        ring = np.vstack([upper, -upper[1:-1]]) * SIZE
        turn += np.pi / 2
    else:
        n = order if order <= 12 else 48
        start = np.pi / 4 if order == 4 else np.pi / 2
        angle = start + np.arange(n) * 2 * np.pi / n
        radius = SIZE * {3: 1.15, 4: 1.05}.get(order, 1.0)
        ring = np.stack([np.cos(angle), np.sin(angle)], axis=1) * radius
        turn = turn if order in (4, 6) else 0.0
    c, s_ = np.cos(turn), np.sin(turn)
    moved: Floats = ring @ np.array([[c, s_], [-s_, c]])
    return moved


def compose_elements(elements: Elements) -> list[Item]:
    """Return elements as items."""
    items: list[Item] = []
    if len(elements.glides):
        items.append(segments(elements.glides, 0.25, BLACK, dash=(2.0, 1.2)))
    if len(elements.mirrors):
        items.append(segments(elements.mirrors, 0.25, BLACK))
    rings = [
        [_symbol(int(order), float(turn)) + centre]
        for centre, order, turn in zip(
            elements.centres, elements.orders, elements.turns, strict=True
        )
    ]
    if rings:
        shapes = shapes_from_rings(rings)
        items.append(Fills(shapes, np.arange(len(rings)), BLACK, layer=""))
    return items
