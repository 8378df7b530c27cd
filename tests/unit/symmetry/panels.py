"""Framed panels whose zones are known, with motifs of our own.

A panel is a field of a plane group, a border of rhombi between two rectangles
with corner squares or mitres, and a medallion in a circle or an octagon.
"""

from __future__ import annotations

import numpy as np
import shapely

from tests.unit.helpers import Row, circle, line
from tests.unit.symmetry.cells import make_cells

Part = tuple[shapely.Geometry, str, str]


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


def _star(n: int, radius: float, centre: tuple[float, float]) -> np.ndarray:
    t = 2 * np.pi * np.arange(n) / n
    tip = np.column_stack([np.cos(t), np.sin(t)]) * radius + centre
    return np.hstack([tip, np.roll(tip, -(n // 2 - 1), axis=0)])


def make_panel(
    group: str,
    seed: int,
    *,
    medallion: str = "circle",
    corners: str = "square",
    points: int = 8,
    size: tuple[float, float] = (300.0, 220.0),
    border: float = 24.0,
) -> tuple[list[Row], list[Part]]:
    """Return rows of curves, and each zone's area, role and group."""
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
    if corners == "square":
        sides = [
            shapely.box(b, 0, wide - b, b),
            shapely.box(wide - b, b, wide, tall - b),
            shapely.box(b, tall - b, wide - b, tall),
            shapely.box(0, b, b, tall - b),
        ]
        for x in (0.0, wide - b):
            for y in (0.0, tall - b):
                truth.append((shapely.box(x, y, x + b, y + b), "corner", ""))
                drawn.append(np.array([[x, y, x + b, y + b], [x + b, y, x, y + b]]))
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
    edge = [(0, 0, wide, 0), (wide, 0, wide, tall), (wide, tall, 0, tall)]
    drawn.append(np.array([*edge, (0, tall, 0, 0), *ends], float))
    rows += [line(*row) for row in np.vstack(drawn)]
    return rows, truth
