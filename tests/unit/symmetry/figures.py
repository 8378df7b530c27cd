"""Figures with known names, as outlines of straight sides and arcs.

Each is given by its defining property (angles, equal sides, centres), so the name
is true by definition.
"""

from __future__ import annotations

import numpy as np

from tests.unit.helpers import Row, arc, line


def _poly(points) -> list[Row]:
    p = np.asarray(points, float)
    q = np.roll(p, -1, axis=0)
    return [line(*a, *b) for a, b in zip(p, q, strict=True)]


def _ring(n: int, radius: float = 10.0, start: float = 0.0) -> np.ndarray:
    t = start + 2 * np.pi * np.arange(n) / n
    return radius * np.column_stack([np.cos(t), np.sin(t)])


def _star(n: int, inner: float, skew: float = 0.0) -> np.ndarray:
    out, tips, dents = [], _ring(n), _ring(n, inner, np.pi / n + skew)
    for tip, dent in zip(tips, dents, strict=True):
        out += [tip, dent]
    return np.array(out)


def _cross(arm: float, width: float, tip: float = 0.0) -> np.ndarray:
    quarter = [(width, width), (width, arm)]
    if tip:
        quarter.append((0.0, arm + tip))
    quarter.append((-width, arm))
    out = []
    for k in range(4):
        c, s = np.cos(k * np.pi / 2), np.sin(k * np.pi / 2)
        out += [(c * x - s * y, s * x + c * y) for x, y in quarter]
    return np.array(out)


def _through(a, b, sagitta: float) -> Row:
    """Return the arc from a to b that rises by the sagitta to the right."""
    a, b = np.asarray(a, float), np.asarray(b, float)
    half = np.hypot(*(b - a)) / 2
    h = abs(sagitta)
    radius = (half**2 + h**2) / (2 * h)
    sweep = 4 * np.arctan(h / half)
    along = (b - a) / (2 * half)
    left = np.array([-along[1], along[0]])
    side = 1.0 if sagitta > 0 else -1.0
    centre = (a + b) / 2 + side * (radius - h) * left
    start = np.arctan2(*(a - centre)[::-1])
    return arc(centre[0], centre[1], radius, start, start + side * sweep)


def _arcs(points, sagitta) -> list[Row]:
    """Join points by arcs; a positive sagitta bulges outwards, 0 is straight."""
    p = np.asarray(points, float)
    s = np.broadcast_to(sagitta, len(p))
    out = []
    for a, b, h in zip(p, np.roll(p, -1, axis=0), s, strict=True):
        out.append(line(*a, *b) if h == 0 else _through(a, b, float(h)))
    return out


def figures() -> dict[str, tuple[list[Row], str]]:
    """Return outlines with their names, by a label of their own."""
    s3 = np.sqrt(3)
    straight = {
        "equilateral": (_ring(3), "equilateral triangle"),
        "isosceles": ([(0, 0), (10, 0), (5, 13)], "isosceles triangle"),
        "half square": ([(0, 0), (10, 0), (0, 10)], "right isosceles triangle"),
        "3-4-5": ([(0, 0), (12, 0), (0, 9)], "right triangle"),
        "scalene": ([(0, 0), (13, 0), (4, 8)], "triangle"),
        "square": (_ring(4), "square"),
        "rectangle": ([(0, 0), (16, 0), (16, 10), (0, 10)], "rectangle"),
        "long rectangle": ([(0, 0), (60, 0), (60, 8), (0, 8)], "strip"),
        "rhombus": ([(8, 0), (0, 5), (-8, 0), (0, -5)], "rhombus"),
        "kite": ([(5, 0), (0, 5), (-5, 0), (0, -12)], "kite"),
        "arrowhead": ([(8, -6), (0, 12), (-8, -6), (0, 0)], "arrowhead"),
        "parallelogram": ([(0, 0), (12, 0), (16, 7), (4, 7)], "parallelogram"),
        "trapezium": ([(0, 0), (14, 0), (9, 7), (2, 7)], "trapezium"),
        "isosceles trapezium": (
            [(0, 0), (14, 0), (11, 7), (3, 7)],
            "isosceles trapezium",
        ),
        "right trapezium": ([(0, 0), (14, 0), (9, 7), (0, 7)], "right trapezium"),
        "quadrilateral": ([(0, 0), (14, 0), (12, 9), (2, 5)], "4-sided"),
        "pentagon": (_ring(5), "regular pentagon"),
        "hexagon": (_ring(6), "regular hexagon"),
        "octagon": (_ring(8), "regular octagon"),
        "decagon": (_ring(10), "regular decagon"),
        "dodecagon": (_ring(12), "regular dodecagon"),
        "long hexagon": (
            [(12, 0), (6, 5), (-6, 5), (-12, 0), (-6, -5), (6, -5)],
            "long hexagon",
        ),
        "house": (
            [(0, 0), (10, 0), (10, 8), (5, 14), (0, 8)],
            "5-sided with one mirror",
        ),
        "shield": (
            [(0, -9), (8, -2), (6, 7), (-6, 7), (-8, -2)],
            "5-sided with one mirror",
        ),
        "hexagon of one mirror": (
            [(0, 9), (8, 5), (6, -6), (0, -9), (-6, -6), (-8, 5)],
            "6-sided with one mirror",
        ),
        "cut triangle": (
            np.vstack([_ring(3), _ring(3, 7, np.pi / 3)])[[0, 3, 1, 4, 2, 5]],
            "6-sided with 3 mirrors",
        ),
        "star 3": (_star(3, 2.6), "3-point star"),
        "star 4": (_star(4, 4.0), "4-point star"),
        "star 5": (_star(5, 10 / (1 + s3 + 0.2)), "5-point star"),
        "star 6": (_star(6, 10 / s3), "6-point star"),
        "star 8": (_star(8, 7.65), "8-point star"),
        "star 12": (_star(12, 6.0), "12-point star"),
        "star 16": (_star(16, 7.0), "16-point star"),
        "pinwheel 8": (_star(8, 6.5, 0.14), "twisted 8-point star"),
        "cross": (_cross(10, 3), "cross"),
        "pointed cross": (_cross(8, 3, 3), "cross"),
        "L": ([(0, 0), (12, 0), (12, 4), (4, 4), (4, 15), (0, 15)], "L-shape"),
        "T": (
            [(2, 0), (5, 0), (5, 8), (9, 8), (9, 11), (-2, 11), (-2, 8), (2, 8)],
            "T-shape",
        ),
        "chevron": (
            [(0, 0), (8, 6), (8, 11), (0, 5), (-8, 11), (-8, 6)],
            "chevron",
        ),
    }
    curved: dict[str, tuple[list[Row], str]] = {
        "circle": ([arc(0, 0, 10, 0.3, 0.3 + 2 * np.pi)], "circle"),
        "circle in parts": (
            [arc(0, 0, 10, 0, 2), arc(0, 0, 10, 2, 5), arc(0, 0, 10, 5, 2 * np.pi)],
            "circle",
        ),
        "segment": (_arcs([(8, 0), (-8, 0)], (5, 0)), "circle segment"),
        "half circle": (_arcs([(8, 0), (-8, 0)], (8, 0)), "half circle"),
        "lens": (_arcs([(0, -9), (0, 9)], 4), "lens"),
        "petal": (_arcs([(0, -9), (0, 9)], (5, 2.5)), "petal"),
        "crescent": (_arcs([(0, -9), (0, 9)], (10, -5)), "crescent"),
        "sector": (
            [
                line(0, 0, 10, 0),
                arc(0, 0, 10, 0, 1.0),
                line(10 * np.cos(1), 10 * np.sin(1), 0, 0),
            ],
            "circle sector",
        ),
        "quarter": (
            [line(0, 0, 10, 0), arc(0, 0, 10, 0, np.pi / 2), line(0, 10, 0, 0)],
            "quarter circle",
        ),
        "ring piece": (
            [
                line(6, 0, 10, 0),
                arc(0, 0, 10, 0, 1.0),
                line(10 * np.cos(1), 10 * np.sin(1), 6 * np.cos(1), 6 * np.sin(1)),
                arc(0, 0, 6, 1.0, 0.0),
            ],
            "ring piece",
        ),
        "trefoil": (_arcs(_ring(3, 5), 5.5), "trefoil"),
        "quatrefoil": (_arcs(_ring(4, 7), 5), "quatrefoil"),
        "foil 6": (_arcs(_ring(6, 8), 3.6), "6-lobed foil"),
        "bulging triangle": (_arcs(_ring(3), 2.3), "bulging triangle"),
        "hollow triangle": (_arcs(_ring(3), -2.3), "hollow triangle"),
        "hollow square": (_arcs(_ring(4), -2.5), "hollow square"),
        "bulging square": (_arcs(_ring(4), 1.5), "bulging square"),
        "arch": (
            [
                line(0, 0, 10, 0),
                line(10, 0, 10, 8),
                arc(5, 8, 5, 0, np.pi),
                line(0, 8, 0, 0),
            ],
            "arch",
        ),
        "pointed arch": (
            [
                line(0, 0, 10, 0),
                line(10, 0, 10, 6),
                arc(0, 6, 10, 0, np.pi / 3),
                arc(10, 6, 10, 2 * np.pi / 3, np.pi),
                line(0, 6, 0, 0),
            ],
            "pointed arch",
        ),
        "rounded strip": (
            [
                line(0, 0, 12, 0),
                arc(12, 3, 3, -np.pi / 2, np.pi / 2),
                line(12, 6, 0, 6),
                arc(0, 3, 3, np.pi / 2, 1.5 * np.pi),
            ],
            "round-ended strip",
        ),
    }
    out = {k: (_poly(p), name) for k, (p, name) in straight.items()}
    out.update(curved)
    return out
