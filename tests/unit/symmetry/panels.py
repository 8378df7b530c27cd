"""Framed panels whose zones are known, with motifs of our own.

A panel is a field of a plane group, a border of rhombi between two rectangles
with corner squares or mitres, and a medallion in a circle or an octagon. Corner
squares hold two diagonals (D4), a leaf that points outwards (D1), a pinwheel (C4) or
a lozenge aslant (D2).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from fillwork.arrangement.build import build_arrangement
from tests.unit.helpers import Row, circle, line, linework_from_segments
from tests.unit.symmetry.cells import make_cells
from tests.unit.symmetry.patterns import jitter

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement

Part = tuple[shapely.Geometry, str, str]
CORNERS = ("square", "mitre", "leaf", "pinwheel", "lozenge")
CORNER_GROUPS = {"square": "D4", "leaf": "D1", "pinwheel": "C4", "lozenge": "D2"}


def _clip(segments: np.ndarray, area: shapely.Geometry) -> np.ndarray:
    lines = shapely.linestrings(np.asarray(segments).reshape(-1, 2, 2))
    parts = shapely.get_parts(shapely.intersection(lines, area))
    parts = parts[shapely.get_type_id(parts) == 1]
    parts = parts[shapely.length(parts) > 1e-6]
    return shapely.get_coordinates(parts).reshape(-1, 4)


def _rhombi(count: int, period: float, height: float) -> np.ndarray:
    """Return rhombi in a row, each with a smaller one inside."""
    out = []
    for k in range(count):
        x = (k + 0.5) * period
        for size in (1.0, 0.55):
            wide, tall = 0.38 * period * size, 0.5 * height * size
            corner = [(x - wide, height / 2), (x, height / 2 - tall)]
            corner += [(x + wide, height / 2), (x, height / 2 + tall)]
            out += [(*corner[i], *corner[(i + 1) % 4]) for i in range(4)]
    return np.array(out)


def _placed(segments: np.ndarray, turned: bool, x: float, y: float) -> np.ndarray:
    turn = np.array([[0.0, -1.0], [1.0, 0.0]]) if turned else np.eye(2)
    points = np.asarray(segments).reshape(-1, 2) @ turn.T + [x, y]
    return points.reshape(-1, 4)


def _kept_on(
    frames: shapely.Geometry, before: np.ndarray, after: np.ndarray
) -> np.ndarray:
    """Return moved segments with ends that were on frame lines put back on them."""
    ends, moved = before.reshape(-1, 2), after.reshape(-1, 2).copy()
    on = shapely.distance(frames, shapely.points(ends)) < 1e-4
    back = shapely.shortest_line(shapely.points(moved[on]), frames)
    moved[on] = shapely.get_coordinates(back).reshape(-1, 4)[:, 2:]
    return moved.reshape(-1, 4)


def _star(n: int, radius: float, centre: tuple[float, float]) -> np.ndarray:
    t = 2 * np.pi * np.arange(n) / n
    tip = np.column_stack([np.cos(t), np.sin(t)]) * radius + centre
    return np.hstack([tip, np.roll(tip, -(n // 2 - 1), axis=0)])


def _corner_piece(kind: str, side: float) -> np.ndarray:
    """Return what fills a corner square, the panel's corner at the origin."""
    if kind == "square":
        return side * np.array([[0, 0, 1, 1], [1, 0, 0, 1]], float)
    if kind == "leaf":
        # symmetric about the diagonal alone
        points = np.array([[0, 0], [0.75, 0.3], [0.85, 0.85], [0.3, 0.75]])
        vein = np.array([[0, 0, 0.85, 0.85], [0.45, 0.45, 0.75, 0.3]])
        vein = np.vstack([vein, [[0.45, 0.45, 0.3, 0.75]]])
        return side * np.vstack([np.hstack([points, np.roll(points, -1, 0)]), vein])
    if kind == "pinwheel":
        arm = np.array([[0.5, 0.5, 0.3, 0.0], [0.3, 0.0, 0.75, 0.0]]) - 0.5
        out = []
        for k in range(4):
            c, s = [(1, 0), (0, 1), (-1, 0), (0, -1)][k]
            turn = np.array([[c, -s], [s, c]])
            out.append((arm.reshape(-1, 2) @ turn.T + 0.5).reshape(-1, 4))
        return side * np.vstack(out)
    ring = np.array([[0.5, 0.1], [0.75, 0.5], [0.5, 0.9], [0.25, 0.5]]) - 0.5
    c = np.sqrt(0.5)
    ring = ring @ np.array([[c, -c], [c, c]]) + 0.5
    cross = np.vstack([np.hstack([ring[0], ring[2]]), np.hstack([ring[1], ring[3]])])
    return side * np.vstack([np.hstack([ring, np.roll(ring, -1, 0)]), cross])


def make_panel(
    group: str,
    seed: int,
    *,
    medallion: str = "circle",
    corners: str = "square",
    points: int = 8,
    size: tuple[float, float] = (300.0, 220.0),
    border: float = 24.0,
    noise: float = 0.0,
) -> tuple[list[Row], list[Part]]:
    """Return rows of curves, and each zone's area, role and group.

    ``noise`` moves the corners of all patterns, in shares of the border's width;
    frame lines stay, and ends of lines on them stay on them.
    """
    rng = np.random.default_rng(seed)
    wide, tall = size
    w, h, b = wide - 2 * border, tall - 2 * border, border
    pattern = make_cells(group, rng, repeats=40, framed=False)
    _, _, x1, y1 = pattern.window.bounds
    scale = max(w / x1, h / y1) * 1.001
    centre = (wide / 2, tall / 2)
    rows: list[Row] = []
    truth: list[Part] = []
    field = shapely.box(b, b, wide - b, tall - b)
    drawn: list[np.ndarray] = []
    if medallion == "circle":
        inner = shapely.Point(*centre).buffer(44.0, quad_segs=720)
        rows.append(circle(*centre, 44.0))
        truth.append((inner, "medallion", f"D{points}"))
        drawn.append(_star(points, 44.0, centre))
        field = field.difference(inner)
    elif medallion == "octagon":
        t = np.pi / 8 + np.arange(8) * np.pi / 4
        ring = 44.0 * np.column_stack([np.cos(t), np.sin(t)]) + centre
        inner = shapely.Polygon(ring)
        drawn.append(np.hstack([ring, np.roll(ring, -1, axis=0)]))
        truth.append((inner, "medallion", "D8"))
        drawn.append(_star(8, 44.0 * np.cos(np.pi / 8), centre))
        field = field.difference(inner)
    truth.append((field, "field", group))
    cells = pattern.segments.reshape(-1, 2) * scale + b
    drawn.append(_clip(cells.reshape(-1, 4), field))
    across, down = 10, 7
    p, q = w / across, h / down
    if corners != "mitre":
        sides = [
            shapely.box(b, 0, wide - b, b),
            shapely.box(wide - b, b, wide, tall - b),
            shapely.box(b, tall - b, wide - b, tall),
            shapely.box(0, b, b, tall - b),
        ]
        piece = _corner_piece(corners, b).reshape(-1, 2)
        for x in (0.0, wide - b):
            for y in (0.0, tall - b):
                area = shapely.box(x, y, x + b, y + b)
                truth.append((area, "corner", CORNER_GROUPS[corners]))
                # mirrored, so that each points outwards
                own = np.where([x > 0, y > 0], b - piece, piece)
                own = own + np.array([x, y])
                drawn.append(own.reshape(-1, 4))
        ends = [(0, b, wide, b), (0, tall - b, wide, tall - b)]
        ends += [(b, 0, b, tall), (wide - b, 0, wide - b, tall)]
    else:
        out = [(0, 0), (wide, 0), (wide, tall), (0, tall)]
        into = [(b, b), (wide - b, b), (wide - b, tall - b), (b, tall - b)]
        sides = [
            shapely.Polygon([out[k], out[(k + 1) % 4], into[(k + 1) % 4], into[k]])
            for k in range(4)
        ]
        ends = [(*a, *c) for a, c in zip(out, into, strict=True)]
        ends += [(*into[k], *into[(k + 1) % 4]) for k in range(4)]
    strips = [
        _placed(_rhombi(across + 4, p, b), False, b - 2 * p, 0),
        _placed(_rhombi(down + 4, q, b), True, wide, b - 2 * q),
        _placed(_rhombi(across + 4, p, b), False, b - 2 * p, tall - b),
        _placed(_rhombi(down + 4, q, b), True, b, b - 2 * q),
    ]
    for side, strip in zip(sides, strips, strict=True):
        truth.append((side, "border", "p2mm"))
        drawn.append(_clip(strip, side))
    if noise:
        count = [len(d) for d in drawn]
        every = jitter(np.vstack(drawn), noise * border, rng)
        whole = shapely.box(0, 0, wide, tall)
        frames = shapely.unary_union([area.boundary for area, _, _ in truth])
        every = _kept_on(frames, np.vstack(drawn), every)
        drawn = [_clip(d, whole) for d in np.split(every, np.cumsum(count)[:-1])]
    edge = [(0, 0, wide, 0), (wide, 0, wide, tall), (wide, tall, 0, tall)]
    drawn.append(np.array([*edge, (0, tall, 0, 0), *ends], float))
    rows += [line(*row) for row in np.vstack(drawn)]
    return rows, truth


def touching_panel(
    wide: int, tall: int, lozenges: int, *, round_hole: float = 0.0
) -> tuple[Arrangement, np.ndarray]:
    """Return stars of eight points in unit cells within a border of lozenges.

    The points of both lie on the frame line between them. The second value holds the
    faces within it; stars that a round hole in their middle touches are left out.
    """
    size = np.array([wide, tall])
    turn = np.pi / 8 * np.arange(16)
    reach = np.where(
        np.arange(16) % 2, 0.5 * np.cos(np.pi / 4) / np.cos(np.pi / 8), 0.5
    )
    star = reach[:, None] * np.column_stack([np.cos(turn), np.sin(turn)])
    cells = np.stack(np.meshgrid(np.arange(wide), np.arange(tall)), -1).reshape(-1, 2)
    middles = cells + 0.5
    away = np.hypot(*(middles - size / 2).T)
    rings = [star + m for m in middles[away > round_hole + 0.5 * (round_hole > 0)]]
    corners = np.array([[0, 0], [1, 0], [1, 1], [0, 1]])
    rings += [corners * size, corners * (size + 2) - 1]
    diamond = 0.5 * np.array([[1, 0], [0, 1], [-1, 0], [0, -1]])
    for x, y in np.ndindex(wide + 2, tall + 2):
        side, end = x in (0, wide + 1), y in (0, tall + 1)
        for k in range(lozenges if side or end else 0):
            shift = (k + 0.5) / lozenges - 0.5
            if side and end and shift:
                continue
            thin = np.array([1, 1 / lozenges] if side else [1 / lozenges, 1])
            along = [0, shift] if side else [shift, 0]
            rings.append(diamond * thin + [x - 0.5, y - 0.5] + np.array(along))
    if round_hole:
        turns = 2 * np.pi * np.arange(48) / 48
        round_it = np.column_stack([np.cos(turns), np.sin(turns)])
        rings.append(round_it * (round_hole - 0.2) + size / 2)
    rows = np.vstack([np.hstack([r, np.roll(r, -1, axis=0)]) for r in rings])
    rows = np.unique(np.round(rows, 9), axis=0)
    work = linework_from_segments(rows + 2.0, *(size + 4), has_page=False)
    arrangement = build_arrangement(work)
    middle = shapely.point_on_surface(
        arrangement.polygons(range(1, arrangement.face_count))
    )
    inner = shapely.box(2, 2, *(size + 2))
    held = np.flatnonzero(shapely.within(middle, inner)) + 1
    if round_hole:
        disc = shapely.Point(size / 2 + 2).buffer(round_hole - 0.3)
        held = held[~shapely.intersects(middle[held - 1], disc)]
    return arrangement, held.astype(np.int32)
