"""Curves that all but touch: packings of circles whose numbers were rounded.

Expected numbers follow from Euler's formula. Let t be the number of tangencies of
circles that hang together, each tangency on two circles: V = t, E = 2 t, so that
there are E - V + 1 = t + 1 bounded regions.
"""

from __future__ import annotations

import cmath
import itertools
import math

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.readers import read_linework

Circle = tuple[float, float, float]


def _square(columns: int, rows: int, r: float) -> tuple[list[Circle], int]:
    """Circles in rows: as many tangencies as the grid of centres has edges."""
    found = [(2 * r * i, 2 * r * j, r) for i in range(columns) for j in range(rows)]
    return found, 2 * columns * rows - columns - rows


def _hexagonal(columns: int, rows: int, r: float) -> tuple[list[Circle], int]:
    """Rows shifted by half: two neighbours above each, one at one end of a row."""
    found = [
        (2 * r * i + r * (j % 2), math.sqrt(3) * r * j, r)
        for i in range(columns)
        for j in range(rows)
    ]
    return found, (columns - 1) * rows + (2 * columns - 1) * (rows - 1)


def _ring(n: int, radius: float, *, held: bool) -> tuple[list[Circle], int]:
    """A ring of n circles; held, with one inside and one round it that touch all."""
    r = radius * math.sin(math.pi / n)
    turns = [2 * math.pi * k / n + 0.1 for k in range(n)]
    found = [(radius * math.cos(a), radius * math.sin(a), r) for a in turns]
    if not held:
        return found, n
    return [*found, (0, 0, radius - r), (0, 0, radius + r)], 3 * n


def _gasket(radius: float, depth: int) -> tuple[list[Circle], int]:
    """Three circles in a fourth, and in every gap the circle that touches all three.

    By Descartes' circle theorem: of four that touch, the other fourth has the
    curvature 2 (a + b + c) - d; centres times curvatures follow the same rule.
    Six tangencies to begin with, three more for each circle.
    """
    r = radius / (1 + 2 / math.sqrt(3))
    outer = (0j, -1 / radius)
    turns = [math.pi / 2 + 2 * math.pi * k / 3 for k in range(3)]
    three = [((radius - r) * complex(math.cos(a), math.sin(a)), 1 / r) for a in turns]
    found = [outer, *three]
    gaps = [(*three, outer, 0)]
    gaps += [(outer, three[k], three[k - 1], three[k - 2], 0) for k in range(3)]
    while gaps:
        a, b, c, d, level = gaps.pop()
        k = 2 * (a[1] + b[1] + c[1]) - d[1]
        new = ((2 * sum(z * q for z, q in (a, b, c)) - d[0] * d[1]) / k, k)
        found.append(new)
        if level + 1 < depth:
            for three_of, other in (((a, b), c), ((a, c), b), ((b, c), a)):
                gaps.append((*three_of, new, other, level + 1))
    circles = [(z.real, z.imag, abs(1 / k)) for z, k in found]
    return circles, 6 + 3 * (len(found) - 4)


def _drawing(circles: list[Circle], digits: int, sort: str) -> bytes:
    """Return an SVG drawing whose numbers have so many digits after the point."""
    shapes = []
    for x, y, r in circles:
        if sort == "circle":
            shapes.append(
                f'<circle cx="{x:.{digits}f}" cy="{y:.{digits}f}" r="{r:.{digits}f}"/>'
            )
            continue
        k = r * 0.5522847498  # four Béziers, as drawing programs write a circle
        points = [
            (x - r, y - k), (x - k, y - r), (x, y - r),
            (x + k, y - r), (x + r, y - k), (x + r, y),
            (x + r, y + k), (x + k, y + r), (x, y + r),
            (x - k, y + r), (x - r, y + k), (x - r, y),
        ]  # fmt: skip
        numbers = " ".join(f"{a:.{digits}f} {b:.{digits}f}" for a, b in points)
        shapes.append(f'<path d="M{x - r:.{digits}f} {y:.{digits}f}C{numbers}Z"/>')
    body = "\n".join(shapes)
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="600mm" height="600mm" '
        'viewBox="-300 -300 600 600"><g fill="none" stroke="#000">'
        f"{body}</g></svg>"
    ).encode()


PACKINGS = {
    "square": _square(6, 5, 17.3),
    "hexagonal": _hexagonal(6, 5, 17.3),
    "small hexagonal": _hexagonal(6, 5, 3.3),
    "ring of 12": _ring(12, 60.0, held=False),
    "ring of 17": _ring(17, 60.0, held=True),
    "ring of 36": _ring(36, 60.0, held=True),
    "gasket": _gasket(100.0, 3),
}


@pytest.mark.parametrize("sort", ["circle", "béziers"])
@pytest.mark.parametrize("digits", [2, 3, 4])
@pytest.mark.parametrize("name", PACKINGS)
def test_circles_that_touch_bound_one_region_more_than_they_touch(name, digits, sort):
    circles, tangencies = PACKINGS[name]
    if name == "gasket" and sort == "béziers":
        pytest.skip(
            "a Bézier is off its circle by more than the smallest ones are wide"
        )
    found = build_arrangement(read_linework(_drawing(circles, digits, sort), name="a"))
    assert found.face_count - 1 == tangencies + 1


@pytest.mark.parametrize(
    "circles",
    [
        # both overlap, by 0.00007 and 0.00013 mm; both miss, by 0.00016 and 0.00003
        [
            (143.0432, 145.2736, 1.6135),
            (140.7620, 145.3421, 0.6688),
            (143.0603, 131.9411, 1.1844),
            (145.0087, 131.4093, 0.8354),
        ],
        [
            (188.5457, 125.0209, 0.7780),
            (190.3451, 124.8352, 1.0308),
            (193.1708, 125.4376, 0.9403),
            (196.0219, 125.5065, 1.9116),
        ],
    ],
)
def test_a_touch_beside_a_circle_s_beginning_leaves_true_curves(circles):
    # each circle begins as near to the other as they miss each other, and beside the
    # touch; laid flat, chords several times as many stand for all curves
    def edges(some):
        work = read_linework(_drawing(some, 4, "circle"), name="a")
        found = build_arrangement(work)
        assert found.face_count - 1 == len(some)
        return len(found.edge_curve)

    assert edges(circles) < 2 * (edges(circles[:2]) + edges(circles[2:]))


def test_a_double_of_a_curve_is_no_contact():
    # both overlap all along, so nothing parts them; a square with a round corner
    # drawn twice, the second by a hair larger, is one region
    paths = "".join(
        f'<path d="M0 0H{60 + d}V{40 + d}A20 20 0 0 1 {40 + d} {60 + d}H0Z"/>'
        for d in (0, 1e-4)
    )
    data = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="90mm" '
        f'viewBox="-10 -10 90 90"><g fill="none" stroke="#000">{paths}</g></svg>'
    ).encode()
    found = build_arrangement(read_linework(data, name="a"))
    assert found.face_count - 1 == 1
    # 60² less the corner that the arc leaves: 20² - π 20² / 4
    assert found.area[1] == pytest.approx(3600 - 400 * (1 - math.pi / 4), rel=1e-4)


@pytest.mark.parametrize("decimals", [3, 4, 5])
@pytest.mark.parametrize("turn", [0.0, 0.4228])
def test_a_dodecagon_between_its_circles(decimals, turn):
    # a disc, twelve pieces at the corners, twelve segments: its sides turn by 30° at
    # each corner, which lies off the circle by what the decimals leave
    ways = np.exp(1j * (np.arange(12) * np.pi / 6 + turn))
    corner = [
        f"{p.real:.{decimals}f} {p.imag:.{decimals}f}" for p in 100 + 100j + 65 * ways
    ]
    body = f'<path d="M{"L".join(corner)}Z"/>'
    for radius in (65.0, 65 * np.cos(np.pi / 12)):
        size = f"{radius:.{decimals}f}"
        at = [
            radius * w + complex(100, 100)
            for w in np.exp(1j * np.arange(4) * np.pi / 2)
        ]
        told = [f"{p.real:.{decimals}f} {p.imag:.{decimals}f}" for p in at]
        arcs = "".join(f"A{size} {size} 0 0 1 {p}" for p in [*told[1:], told[0]])
        body += f'<path d="M{told[0]}{arcs}Z"/>'
    head = '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" '
    data = f'{head}viewBox="0 0 200 200" fill="none" stroke="#000">{body}</svg>'
    assert build_arrangement(read_linework(data.encode())).face_count - 1 == 25


@pytest.mark.parametrize("form", ["circles", "arcs"])
@pytest.mark.parametrize("digits", [3, 4])
@pytest.mark.parametrize("turn", [0.3, 0.55])
def test_corners_beside_circles_in_squares_have_their_areas(
    form: str, digits: int, turn: float
) -> None:
    # of a square with the circle that touches its sides: a corner is (1 - π/4) r²
    n, r = 5, 10.83
    way = cmath.rect(1.0, turn)

    def at(x: float, y: float) -> str:
        z = 100 + 100j + complex(x - n, y - n) * r * way
        return f"{z.real:.{digits}f} {z.imag:.{digits}f}"

    shapes = [f"M{at(2 * k, 0)}L{at(2 * k, 2 * n)}" for k in range(n + 1)]
    shapes += [f"M{at(0, 2 * k)}L{at(2 * n, 2 * k)}" for k in range(n + 1)]
    body = "".join(f'<path d="{d}"/>' for d in shapes)
    for i, j in itertools.product(range(n), repeat=2):
        x, y = 2 * i + 1, 2 * j + 1
        if form == "circles":
            cx, cy = at(x, y).split()
            body += f'<circle cx="{cx}" cy="{cy}" r="{r:.{digits}f}"/>'
            continue
        start = 0.7 * (i + n * j)
        turns = [start + k * math.pi / 2 for k in range(5)]
        tips = [at(x + math.cos(a), y + math.sin(a)) for a in turns]
        size = f"{r:.{digits}f}"
        arcs = "".join(f"A{size} {size} 0 0 1 {tip}" for tip in tips[1:])
        body += f'<path d="M{tips[0]}{arcs}"/>'
    text = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" '
        f'viewBox="0 0 200 200"><g fill="none" stroke="#000">{body}</g></svg>'
    )
    found = build_arrangement(read_linework(text.encode()))
    corner, disc = (1 - math.pi / 4) * r**2, math.pi * r**2
    areas = np.sort(found.area[1:])
    assert len(areas) == 5 * n * n
    assert areas[: 4 * n * n] == pytest.approx(corner, rel=4e-3)
    assert areas[4 * n * n :] == pytest.approx(disc, rel=1e-3)
