"""Fields, borders and corner pieces that makers use, each with its group.

The groups of the uniform tilings are those of B. Grünbaum and G. C. Shephard, Tilings
and Patterns, 1987, sections 2.1 to 2.3 and figure 2.1.5; those of the others, of the
borders and of the corner pieces follow from how they are constructed, which stands
beside each.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tests.bench.ink import arc, circle, corners, lines, moved, placed, ring

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.bench.ink import Ink

    Field = tuple[list[tuple[float, float]], Ink, str]

HIGH = float(np.sqrt(0.75))
_HEX = [(2 * HIGH, 0.0), (HIGH, 1.5)]  # steps of hexagons with side 1, a tip upwards


def _hexagon() -> np.ndarray:
    return corners(6, 1.0, start=np.pi / 6)


def brick() -> Field:
    """Bricks in bond: mirrors both ways, half turns off them in the joints."""
    return [(2, 0), (1, 1)], lines((0, 0), (2, 0)) + lines((0, 0), (0, 1)), "cmm"


def herringbone() -> Field:
    """Bricks two by one at right angles: half turns and glides, no mirror."""
    flat, tall = [(0, 0), (2, 0), (2, 1), (0, 1)], [(0, 1), (1, 1), (1, 3), (0, 3)]
    return [(1, 1), (2, -2)], ring(*flat) + ring(*tall), "pgg"


def basket() -> Field:
    """Pairs of bricks turned by a quarter in turn: mirrors off the centres of turns."""
    ink = ring((0, 0), (2, 0), (2, 2), (0, 2)) + lines((0, 1), (2, 1))
    return [(2, 2), (2, -2)], ink + lines((3, 0), (3, 2)), "p4g"


def two_squares() -> Field:
    """Squares of two sizes about each other: quarter turns alone."""
    return [(1, 0.45), (-0.45, 1)], ring((0, 0), (1, 0), (1, 1), (0, 1)), "p4"


def octagons() -> Field:
    """4.8.8."""
    ring_ = corners(8, 0.5 / np.cos(np.pi / 8), start=np.pi / 8)
    return [(1, 0), (0, 1)], ring(*ring_), "p4m"


def hexagons() -> Field:
    """6.6.6."""
    return _HEX, ring(*_hexagon()), "p6m"


def kagome() -> Field:
    """3.6.3.6."""
    return [(2, 0), (1, 2 * HIGH)], ring(*corners(6, 1.0)), "p6m"


def hexagons_in_squares() -> Field:
    """3.4.6.4: hexagons with squares on their sides."""
    wide = 1 + np.sqrt(3)
    tips = _hexagon()
    ink = ring(*tips)
    for a, b in zip(tips, np.roll(tips, -1, axis=0), strict=True):
        out = (a + b) / np.hypot(*(a + b))
        ink += lines(a, a + out) + lines(b, b + out)
    return [(wide, 0), (wide / 2, wide * HIGH)], ink, "p6m"


def snub_hexagons() -> Field:
    """3.3.3.3.6: the triangular grid without the corners amid the hexagons."""
    steps = np.array([(2.5, HIGH), (0.5, 3 * HIGH)])
    rows = np.stack(np.meshgrid(np.arange(-6, 9), np.arange(-6, 9)), -1).reshape(-1, 2)
    grid = rows @ np.array([[1.0, 0.0], [0.5, HIGH]])
    middles = np.stack(np.meshgrid(np.arange(-3, 4), np.arange(-3, 4)), -1)
    middles = middles.reshape(-1, 2) @ steps

    def left_out(point: np.ndarray) -> bool:
        return float(np.hypot(*(middles - point).T).min()) < 0.1

    ink = ring(*corners(6, 1.0))
    for point in grid[np.hypot(*grid.T) <= 3]:
        for angle in (0, np.pi / 3, 2 * np.pi / 3):
            to = point + np.array([np.cos(angle), np.sin(angle)])
            if not left_out(point) and not left_out(to):
                ink += lines(point, to)
    return [tuple(s) for s in steps], ink, "p6"


def snub_squares() -> Field:
    """3.3.4.3.4: squares turned by 15 degrees each way, corners a side apart joined."""
    step = float(np.sqrt(2 + np.sqrt(3)))
    half = float(np.sqrt(0.5))
    one = corners(4, half, start=np.pi / 4 + np.pi / 12)
    two = corners(4, half, (step / 2, step / 2), np.pi / 4 - np.pi / 12)
    ink = ring(*one) + ring(*two)
    both = np.vstack([one, two])
    shifts = step * np.stack(np.meshgrid([-1, 0, 1], [-1, 0, 1]), -1).reshape(-1, 2)
    every = (both[:, None] + shifts).reshape(-1, 2)
    for point in both:
        near = np.abs(np.hypot(*(every - point).T) - 1) < 1e-6
        ink += [item for to in every[near] for item in lines(point, to)]
    return [(step, 0), (0, step)], ink, "p4g"


def cubes() -> Field:
    """Hexagons of three rhombs each: sixfold turns where acute corners meet."""
    tips = _hexagon()
    return (
        _HEX,
        ring(*tips) + [i for k in (0, 2, 4) for i in lines((0, 0), tips[k])],
        ("p6m"),
    )


def scales() -> Field:
    """Half circles in bond, all open one way: mirrors one way, no half turns."""
    return [(2, 0), (1, 1)], arc((-1, 0), (0, 1), (1, 0)), "cm"


def petals() -> Field:
    """Circles on a square grid that cross where their neighbours' do."""
    return [(1, 0), (0, 1)], circle((0, 0), np.sqrt(0.5)), "p4m"


def flowers() -> Field:
    """Circles on a triangular grid through each other's middles."""
    return [(1, 0), (0.5, HIGH)], circle((0, 0), 1.0), "p6m"


def discs() -> Field:
    """Circles that touch, with smaller ones in them, on a square grid."""
    return [(1, 0), (0, 1)], circle((0, 0), 0.5) + circle((0, 0), 0.25), "p4m"


def slanted() -> Field:
    """Parallelograms halved by a diagonal: half turns alone."""
    ink = lines((0, 0), (1, 0)) + lines((0, 0), (0.35, 0.8))
    return [(1, 0), (0.35, 0.8)], ink + lines((0, 0), (1.35, 0.8)), "p2"


def blades() -> Field:
    """Hexagons in three bent blades, all bent one way: turns by thirds alone."""
    tips = _hexagon()
    ink = ring(*tips)
    for k in (0, 2, 4):
        bend = 0.35 * tips[k] + 0.25 * tips[k + 1]
        ink += lines((0, 0), bend, tips[k])
    return _HEX, ink, "p3"


def kites() -> Field:
    """Hexagons with three spokes and chords: mirrors through all centres of thirds."""
    tips = _hexagon()
    ink = ring(*tips)
    for k in (0, 2, 4):
        ink += lines((0, 0), tips[k])
        ink += lines(tips[(k + 1) % 6], 0.5 * tips[k], tips[(k + 5) % 6])
    return _HEX, ink, "p3m1"


def lozenges() -> Field:
    """Rhombs with unequal diagonals."""
    return (
        [(1, 0.7), (1, -0.7)],
        lines((0, 0), (1, 0.7)) + lines((0, 0), (1, -0.7)),
        ("cmm"),
    )


def panes() -> Field:
    """Rectangles in rectangles, side by side and over each other."""
    outer = [(0, 0), (1.4, 0), (1.4, 1), (0, 1)]
    inner = [(0.2, 0.2), (1.2, 0.2), (1.2, 0.8), (0.2, 0.8)]
    return [(1.4, 0), (0, 1)], ring(*outer) + ring(*inner), "pmm"


def waves() -> Field:
    """Waves one above another with bars at their tops and feet: half turns off them."""
    ink = arc((-0.5, 0), (0, 0.4), (0.5, 0)) + arc((0.5, 0), (1, -0.4), (1.5, 0))
    ink += lines((0, 0.4), (0, 1.2)) + lines((1, -0.4), (1, 0.4))
    return [(2, 0), (0, 0.8)], ink, "pmg"


def houses() -> Field:
    """Gables in upright panes, in rows: mirrors one way."""
    gable = lines((0.2, 0), (0.2, 0.7), (0.5, 1.1), (0.8, 0.7), (0.8, 0))
    return [(1, 0), (0, 1.6)], ring((0, 0), (1, 0), (1, 1.6), (0, 1.6)) + gable, "pm"


_FIELDS = (
    *(brick, herringbone, basket, two_squares, octagons, hexagons, kagome),
    *(hexagons_in_squares, snub_hexagons, snub_squares, cubes, scales, petals),
    *(flowers, discs, slanted, blades, kites, lozenges, panes, waves, houses),
)
FIELDS: dict[str, Callable[[], Field]] = {f.__name__: f for f in _FIELDS}
CROSSING_CIRCLES = ("petals", "flowers")
"""Fields whose circles meet in threes, which they do not when they are shaken."""


def _wave(p: float, w: float, rise: float) -> Ink:
    """A wave along the middle line, its first half nearer the outer edge."""
    one = arc((0, w / 2), (p / 4, w / 2 - rise), (p / 2, w / 2))
    return one + arc((p / 2, w / 2), (3 * p / 4, w / 2 + rise), (p, w / 2))


def _leaves(p: float, w: float) -> Ink:
    """A wave with a leaf at each crossing of the middle, slanted forwards."""
    ink = _wave(p, w, 0.15 * w)
    for x, s in ((0.0, -1), (p / 2, 1)):
        foot, tip = (x, w / 2), (x + 0.28 * p, w / 2 - s * 0.38 * w)
        ink += arc(foot, (x + 0.05 * p, w / 2 - s * 0.30 * w), tip)
        ink += arc(foot, (x + 0.22 * p, w / 2 - s * 0.13 * w), tip)
    return ink


def _steps(p: float, w: float) -> Ink:
    """Steps up and down, a joint under each middle."""
    u = p / 6
    up = [(0, 0.8), (1, 0.8), (1, 0.5), (2, 0.5), (2, 0.2)]
    up += [(6 - x, y) for x, y in up[::-1]]
    return lines(*[(x * u, y * w) for x, y in up]) + lines((p / 2, 0.2 * w), (p / 2, 0))


def _key(p: float, w: float) -> Ink:
    """A key between two bars: a closed hook that nothing mirrors."""
    hook = [(0.1, 0.2), (0.9, 0.2), (0.9, 0.75), (0.4, 0.75), (0.4, 0.5), (0.65, 0.5)]
    hook += [(0.65, 0.4), (0.25, 0.4), (0.25, 0.9), (0.1, 0.9)]
    return lines((0, 0), (0, w)) + ring(*[(x * p, y * w) for x, y in hook])


def _plait(p: float, w: float) -> Ink:
    """Two zigzag bands, the rising one always over: half turns, and no mirror.

    Rails are the zigzag moved up and down; those of the falling band stop at the other.
    """
    low, high, half = 0.28 * w, 0.72 * w, 0.11 * w
    slope = (high - low) / p
    ink: Ink = []
    for off in (-half, half):
        ink += lines((0, low + off), (p, high + off))
        a, b = ((high - low + off + s * half) / (2 * slope) for s in (-1, 1))
        for x, u in ((0.0, a), (b, p)):
            ink += lines((x, high + off - slope * x), (u, high + off - slope * u))
    return ink


def _lens(p: float, w: float) -> Ink:
    ink = arc((0.2 * p, w), (0.15 * p, 0.5 * w), (0.5 * p, 0.1 * w))
    ink += arc((0.8 * p, w), (0.85 * p, 0.5 * w), (0.5 * p, 0.1 * w))
    return ink + lines((0.5 * p, w), (0.5 * p, 0.45 * w))


def _hook(p: float, w: float, out: float) -> Ink:
    """An arc from the outer edge to the middle, and its image by a half turn."""
    one = arc((0, 0), (out * p, 0.2 * w), (0.5 * p, 0.5 * w))
    return one + moved(one, placed(np.pi, at=(p, w)))


def motif(name: str, p: float, w: float) -> tuple[Ink, str | tuple[str, ...]]:
    """Return one period of a border and its frieze group.

    Two rows that repeat across as well show a plane group too.

    The period is `p` long, from x = 0, and the border `w` wide, its outer edge y = 0.
    """
    mid, small = w / 2, min(p, w)
    middle = circle((p / 2, mid), 0.25 * small)
    rows = ((0.0, mid), (mid, w))
    # figures alike fore and aft, both ways, or under a half turn alone, by construction
    drawn: dict[str, Callable[[], tuple[Ink, str | tuple[str, ...]]]] = {
        "teeth": lambda: (lines((0, w), (p / 2, 0.15 * w), (p, w)), "p1m1"),
        "teeth out": lambda: (lines((0, 0), (p / 2, 0.7 * w), (p, 0)), "p1m1"),
        "saw": lambda: (lines((0, w), (p, 0.2 * w), (p, w)), "p1"),
        "rope": lambda: (_hook(p, w, 0.38), "p2"),
        "bars": lambda: (lines((0, 0), (0, w)) + _hook(p, w, 0.35), "p2"),
        "wave and circles": lambda: (
            _wave(p, w, 0.32 * w)
            + circle((p / 4, 0.62 * w), 0.14 * min(w, p / 2))
            + circle((3 * p / 4, 0.38 * w), 0.14 * min(w, p / 2)),
            "p2mg",
        ),
        "two waves": lambda: (
            _wave(p, w, 0.35 * w)
            + _wave(p, w, -0.35 * w)
            + circle((p / 4, mid), 0.15 * min(w, p / 2))
            + circle((3 * p / 4, mid), 0.15 * min(w, p / 2)),
            "p2mm",
        ),
        "leaves": lambda: (_leaves(p, w), "p11g"),
        "steps": lambda: (_steps(p, w), "p1m1"),
        "key": lambda: (_key(p, w), "p1"),
        "circles": lambda: (circle((p / 2, mid), small / 2), "p2mm"),
        "ring chain": lambda: (
            circle((p / 2, mid), min(0.62 * p, 0.48 * w)),
            "p2mm",
        ),
        "beads": lambda: (circle((p / 2, mid), 0.3 * small), "p2mm"),
        "arcade": lambda: (
            arc((0, w), (p / 2, w - min(p / 2, 0.85 * w)), (p, w)),
            "p1m1",
        ),
        "crossing arcade": lambda: (
            arc((0, w), (p, w - min(p, 0.85 * w)), (2 * p, w)),
            "p1m1",
        ),
        "chevrons": lambda: (lines((0, 0), (0.5 * p, mid), (0, w)), "p11m"),
        "checks": lambda: (
            lines((0, 0), (0, w)) + lines((0, mid), (p, mid)),
            ("p2mm", "pmm"),
        ),
        "lozenges": lambda: (
            ring((0, mid), (p / 2, 0), (p, mid), (p / 2, w)) + middle,
            "p2mm",
        ),
        "slant": lambda: (lines((0, 0), (0.5 * p, w)), "p2"),
        "tulips": lambda: (_lens(p, w), "p1m1"),
        "triangles": lambda: (lines((0, 0), (p / 2, w), (p, 0)), "p2mg"),
        "plait": lambda: (_plait(p, w), "p2"),
        # a half turn about a point of the middle line lays one row on the other
        "two rows of teeth": lambda: (
            lines((0, mid), (p, mid))
            + lines((0, 0), (p / 2, mid), (p, 0))
            + lines((0, mid), (p / 2, w), (p, mid)),
            ("p2mg", "pmg"),
        ),
        "two rows": lambda: (
            [
                item
                for a, b in rows
                for item in ring(
                    (0, (a + b) / 2), (p / 2, a), (p, (a + b) / 2), (p / 2, b)
                )
            ],
            ("p2mm", "cmm", "pmm"),
        ),
    }
    return drawn[name]()


MOTIFS = (
    *("teeth", "teeth out", "saw", "rope", "wave and circles", "two waves", "leaves"),
    *("steps", "key", "circles", "ring chain", "beads", "arcade", "crossing arcade"),
    *("chevrons", "checks", "lozenges", "slant", "tulips", "bars", "triangles"),
    *("plait", "two rows", "two rows of teeth"),
)
OVERLAPPING = ("crossing arcade", "ring chain")
"""Borders whose figures reach into the next period."""


def corner_piece(name: str, w: float) -> tuple[Ink, tuple[str, ...]]:
    """Return a piece in a square of side `w` at the origin, and the groups it shows.

    The square is part of what is seen: a star of eight in it has D4 as well.
    """
    mid = (w / 2, w / 2)
    if name == "two circles":
        return circle(mid, 0.42 * w) + circle(mid, 0.2 * w), ("D4",)
    if name == "circle":
        return circle(mid, 0.4 * w), ("D4",)
    if name == "star":
        tips = corners(8, 0.46 * w, mid)
        ink = circle(mid, 0.46 * w)
        for k in range(8):
            ink += lines(tips[k], tips[(k + 3) % 8])
        return ink, ("D8", "D4")
    if name == "six petals":
        tips = corners(6, 0.46 * w, mid)
        ink = circle(mid, 0.46 * w)
        for k in range(6):
            ink += arc(tips[k], mid, tips[(k + 2) % 6])
        return ink, ("D6", "D2")
    if name == "cross":
        return lines((0, 0), (w, w)) + lines((0, w), (w, 0)), ("D4",)
    if name == "quarter":
        to = 0.8 * w * np.sqrt(0.5)
        ink = arc((0, 0.8 * w), (to, to), (0.8 * w, 0)) + lines((0, 0), (to, to))
        return ink, ("D1",)
    return [], ()


CORNERS = ("two circles", "circle", "star", "six petals", "cross", "quarter", "plain")
