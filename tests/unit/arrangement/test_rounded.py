"""Drawings whose numbers were rounded when they were written."""

from __future__ import annotations

import cmath
import itertools
import math
import random
from dataclasses import replace

import numpy as np
import pytest
import shapely

from fillwork.arrangement import choice
from fillwork.arrangement.build import build_arrangement
from fillwork.readers import read_linework


def _circles(digits: int) -> bytes:
    """Circles of 20 mm on a triangular grid, each through its neighbours' centres.

    Some touch the page's edge, two touch each other at a point, and six cross in
    one; rounding parts them all a little.
    """
    body = "".join(
        f'<circle cx="{20 * i + 10 * (j % 2):.{digits}f}" '
        f'cy="{20 * j * math.sqrt(3) / 2:.{digits}f}" r="20"/>'
        for i in range(-1, 12)
        for j in range(-1, 14)
    )
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" '
        f'viewBox="0 0 200 200"><g fill="none" stroke="#000">{body}</g></svg>'
    ).encode()


@pytest.mark.parametrize("digits", [1, 2, 3])
def test_rounding_changes_no_region_of_a_grid_of_circles(digits: int) -> None:
    rounded = build_arrangement(read_linework(_circles(digits), name="rounded"))
    exact = build_arrangement(read_linework(_circles(9), name="exact"))
    assert rounded.face_count == exact.face_count
    # the circles cover the page; where rounding parts lines, corners move a little
    assert rounded.area.sum() == pytest.approx(200 * 200, rel=1e-3)


@pytest.mark.parametrize("digits", [1, 2, 3])
@pytest.mark.parametrize("seed", range(6))
def test_a_flower_of_seven_circles_has_its_24_regions(digits: int, seed: int) -> None:
    # six circles through the middle of a seventh: opposite ones touch there, and
    # where rounding lets them overlap by a hair they cross twice, far apart.
    # By counting: in each of six sectors a petal, two parts beside it and one beyond
    rng = np.random.default_rng(seed)
    radius = rng.uniform(25.0, 45.0)
    x, y = rng.uniform(95.0, 105.0, 2)
    turns = np.arange(6) * math.pi / 3
    centres = [(x, y), *zip(x + radius * np.cos(turns), y + radius * np.sin(turns),
                            strict=True)]  # fmt: skip
    body = "".join(
        f'<circle cx="{a:.{digits}f}" cy="{b:.{digits}f}" r="{radius:.{digits}f}"/>'
        for a, b in centres
    )
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" '
        f'viewBox="0 0 200 200"><g fill="none" stroke="#000">{body}</g></svg>'
    ).encode()
    arrangement = build_arrangement(read_linework(drawing, name="flower"))
    assert arrangement.face_count - 1 == 24


def _circle(centre: complex, radius: float, turn: float, digits: int, way: str) -> str:
    """Return a circle as an element, or as a path of four arcs or Béziers."""

    def told(z: complex) -> str:
        return f"{z.real:.{digits}f} {z.imag:.{digits}f}"

    size = f"{radius:.{digits}f}"
    if way == "circle":
        x, y = told(centre).split()
        return f'<circle cx="{x}" cy="{y}" r="{size}"/>'
    spoke = [radius * 1j**k * complex(math.cos(turn), math.sin(turn)) for k in range(5)]
    path = f"M{told(centre + spoke[0])}"
    kappa = 4 / 3 * (math.sqrt(2) - 1)
    for u, v in itertools.pairwise(spoke):
        if way == "arcs":
            path += f"A{size} {size} 0 0 1 {told(centre + v)}"
        else:
            bent = centre + u + kappa * v, centre + v + kappa * u, centre + v
            path += "C" + " ".join(told(z) for z in bent)
    return f'<path d="{path}"/>'


def _drawn(body: str, width: float = 0.4) -> bytes:
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" '
        'viewBox="0 0 200 200"><g fill="none" stroke="#000" '
        f'stroke-width="{width}">{body}</g></svg>'
    ).encode()


@pytest.mark.parametrize("way", ["circle", "arcs", "curves"])
@pytest.mark.parametrize("digits", [2, 3])
@pytest.mark.parametrize("count", [17, 18])
def test_a_flower_of_many_circles_has_its_regions(
    count: int, digits: int, way: str
) -> None:
    # circles through one point; the petals there are slimmer than the pen.
    # Every two cross once more, but opposite ones of an even number touch: Euler
    opposite = count // 2 if count % 2 == 0 else 0
    vertices = 1 + count * (count - 1) // 2 - opposite
    edges = count * (count - (count % 2 == 0))
    turns = [complex(math.cos(a), math.sin(a))
             for a in 0.3 + np.arange(count) * 2 * math.pi / count]  # fmt: skip
    body = "".join(
        _circle(100 + 100j + 32.5 * turn, 32.5, 0.1 + 2 * k, digits, way)
        for k, turn in enumerate(turns)
    )
    found = build_arrangement(read_linework(_drawn(body), name="flower"))
    assert found.face_count - 1 == edges - vertices + 1


def test_what_the_decimals_explain_is_a_touch() -> None:
    # two rows of five circles in squares, turned, with two decimals: they touch the
    # squares' sides and each other by -0.01 to 0.01 mm, in all sizes between.
    # Each square has a disc and four corners
    drawn = (
        "43.97,64.58L92.52,83.21 66.41,114.96 53.28,40.31L101.83,58.93 75.72,90.69 "
        "57.10,139.24 111.14,34.66L64.58,156.03 32.83,129.93 60.76,57.10 94.35,42.14 "
        "34.66,88.86L83.21,107.48 42.14,105.65 16.03,137.41L64.58,156.03 "
        "62.59,16.03L16.03,137.41 86.86,25.34L40.31,146.72 62.59,16.03L111.14,34.66 "
        "25.34,113.14L73.90,131.76 51.45,81.38 85.04,66.41 70.07,32.83 "
    )
    body = ""
    for item in drawn.split():
        x, y = item.split("L")[0].split(",")
        is_side = "L" in item
        body += (
            f'<path d="M{item}"/>' if is_side else f'<circle cx="{x}" cy="{y}" r="13"/>'
        )
    found = build_arrangement(read_linework(_drawn(body, 0.25), name="grid"))
    assert found.face_count - 1 == 5 * 10


def test_regions_between_two_arcs_are_polygons_too() -> None:
    # two arcs between the same two points: no third vertex; the lens of two unit
    # circles one apart has 2 pi / 3 - sqrt(3) / 2 of area
    drawing = (
        b'<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="40mm" '
        b'viewBox="0 0 40 40"><g fill="none" stroke="#000">'
        b'<path d="M20 2.67949A20 20 0 0 1 20 37.32051"/>'
        b'<path d="M20 2.67949A20 20 0 0 0 20 37.32051"/></g></svg>'
    )
    arrangement = build_arrangement(read_linework(drawing, name="lens"))
    (polygon,) = arrangement.polygons()
    assert arrangement.area[1] == pytest.approx(
        400 * (2 * math.pi / 3 - math.sqrt(3) / 2), rel=1e-6
    )
    assert polygon.is_valid
    assert polygon.area == pytest.approx(arrangement.area[1], rel=0.1)


def test_regions_whose_chords_cross_are_laid_over_others() -> None:
    # a square of 10 mm with two corners exchanged, as lines that are joined bend a
    # hair: a bow of two triangles of 25 mm² each, half of it left of x = 15
    drawing = (
        b'<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="40mm" '
        b'viewBox="0 0 40 40"><path d="M10 10h10v10h-10z" fill="none" '
        b'stroke="#000"/></svg>'
    )
    square = build_arrangement(read_linework(drawing, name="square"))
    points = square.vertices.copy()
    top = np.flatnonzero(points[:, 1] == points[:, 1].max())
    points[top] = points[top[::-1]]
    bow = replace(square, vertices=points)
    assert not shapely.is_valid(bow.polygons()).any()
    left = shapely.box(0, 0, 15, 40)
    over = shapely.intersection(bow.polygons(valid=True), left)
    assert shapely.area(over).sum() == pytest.approx(25.0)


@pytest.mark.parametrize("unit", [304.8, 1000.0])
@pytest.mark.parametrize("part", [0.1, 1.0, 0.5])
def test_few_decimals_are_no_rounding_where_the_numbers_are_chosen(
    unit: float, part: float
) -> None:
    # circles side by side, in each a polygon of twelve corners on round numbers (3, 4
    # and 5 make a right angle), in feet or metres; by counting: a polygon and
    # twelve segments each, what lies between four circles, and halves and quarters of
    # that at the frame
    across, down, r = 5, 3, 5 * part
    quarter = [(5, 0), (4, 3), (3, 4)]
    turned = [quarter, [(-y, x) for x, y in quarter]]
    turned += [[(-x, -y) for x, y in some] for some in turned]
    corners = part * np.concatenate(turned)
    body = "".join(
        f'<circle cx="{x:g}" cy="{y:g}" r="{r:g}"/><polygon points="'
        + " ".join(f"{x + a:g},{y + b:g}" for a, b in corners)
        + '"/>'
        for x in r + 2 * r * np.arange(across)
        for y in r + 2 * r * np.arange(down)
    )
    width, height = 2 * r * across, 2 * r * down
    drawing = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width * unit}mm" '
        f'height="{height * unit}mm" viewBox="0 0 {width:g} {height:g}">'
        f'<g fill="none" stroke="#000" stroke-width="{0.25 / unit}">{body}'
        f'<rect width="{width:g}" height="{height:g}"/></g></svg>'
    )
    found = build_arrangement(read_linework(drawing.encode(), name="polygons"))
    between = (across - 1) * (down - 1) + 2 * (across - 1) + 2 * (down - 1) + 4
    assert found.face_count - 1 == 13 * across * down + between


def test_corners_beside_an_arc_are_no_flat_triangles() -> None:
    # a regular hexagon, the circles about and in it: they miss it by rounding
    z = [100 + 100j + 65 * np.exp(1j * k * math.pi / 3) for k in range(7)]
    path = "L".join(f"{p.real:.2f} {p.imag:.2f}" for p in z)
    rings = "".join(f"<circle cx='100' cy='100' r='{r}'/>" for r in (56.29, 65))
    found = build_arrangement(read_linework(_drawn(f"<path d='M{path}'/>{rings}", 0.1)))
    # between the circles six corners and six segments
    assert found.face_count - 1 == 13


@pytest.mark.parametrize("below", ["", "translate(13.7 9.1) scale(0.77)"])
def test_curves_tell_decimals_where_lines_lie_on_chosen_numbers(below: str) -> None:
    # circles in squares of 32.5 mm, which they touch: a disc and four corners each
    way, squares = random.Random(7), list(itertools.product(range(3), range(4)))
    body = "".join(
        _circle(complex(51.25 + 32.5 * i, 51.25 + 32.5 * j), 16.25,
                way.uniform(0.1, 1.4), 2, "curves")
        for i, j in squares
    )  # fmt: skip
    body += "".join(f'<path d="M{35 + 32.5 * i} 35v130"/>' for i in range(4))
    body += "".join(f'<path d="M35 {35 + 32.5 * j}h97.5"/>' for j in range(5))
    drawn = _drawn(f'<g transform="{below}">{body}</g>' if below else body, 0.1)
    linework = read_linework(drawn)
    scale = 0.77 if below else 1.0
    # half the diagonal of a step of 0.01
    assert linework.rounding == pytest.approx(scale * 0.005 * math.sqrt(2))
    assert build_arrangement(linework).face_count - 1 == 5 * len(squares)


@pytest.mark.parametrize("below", ["", "scale(1.5)"])
def test_flat_triangles_that_all_decimals_tell_are_kept(below: str) -> None:
    # a turned square, a corner a hair within each side, and lines from the middle to
    # all eight: on each side a flat triangle and two more
    turn = 50 * cmath.exp(0.3j)
    outer = [60 + 60j + turn * 1j**k for k in range(4)]
    body = ""
    for k, hair in enumerate((8e-5, 0.0017, 0.0049, 0.0053)):
        a, b = outer[k], outer[(k + 1) % 4]
        c = (a + b) / 2 + hair * 1j * (b - a) / abs(b - a)
        for p, q in ((a, b), (a, c), (c, b), (c, 60 + 60j), (a, 60 + 60j)):
            body += f'<path d="M{p.real!r} {p.imag!r}L{q.real!r} {q.imag!r}"/>'
    drawn = _drawn(f'<g transform="{below}">{body}</g>' if below else body, 0.1)
    assert build_arrangement(read_linework(drawn)).face_count - 1 == 12


def test_one_deep_overlap_is_no_noise_beside_touches_by_rounding() -> None:
    # two circles that touch, from the middle of one and from a point the lines that
    # touch the other. One of them cuts a sliver of 0.36 mm off the first; by Euler's
    # formula, from the exact places where they meet, nine regions
    o, r, p, q = 96 + 58j, 24.0, 115 + 120j, 49 + 104j
    size = abs(p - o) - r
    body = "".join(
        f'<circle cx="{c.real:.3f}" cy="{c.imag:.3f}" r="{s:.3f}"/>'
        for c, s in ((o, r), (p, size))
    )
    for z in (p, q):
        way, turn = (z - o) / abs(z - o), math.acos(r / abs(z - o))
        for side in (-1, 1):
            t = o + r * way * cmath.exp(side * turn * 1j)
            body += f'<path d="M{z.real:.3f} {z.imag:.3f}L{t.real:.3f} {t.imag:.3f}"/>'
    found = build_arrangement(read_linework(_drawn(body, 0.1)))
    assert found.tolerance.join_within < 0.02
    assert found.face_count - 1 == 9


@pytest.mark.parametrize(("rounding", "noise"), [(0.00707, 0.0055), (math.inf, 0.0)])
def test_few_touches_are_noise_where_decimals_explain_them(
    rounding: float, noise: float
) -> None:
    # seventeen touches by rounding among a thousand pieces of 3 mm and more, and
    # overlaps of 0.2 mm that were drawn
    rng = np.random.default_rng(1)
    touches = np.r_[rng.uniform(0.0003, 0.0055, 16), 0.0055, np.full(12, 0.22)]
    pieces = rng.uniform(3.0, 30.0, 1100)
    found, _ = choice._touch_noise(pieces, touches, 4.0, 0.19, rounding)
    assert found == noise


@pytest.mark.parametrize("seed", [1, 2, 4, 8])
def test_halves_of_circles_with_all_decimals_touch_exactly(seed: int) -> None:
    # sixteen circles about the crossings of a grid, each through the crossings beside
    # it, where it touches another; in a frame. By Euler's formula, from the exact
    # places where they meet, 137 regions
    way = random.Random(seed)
    grid = 20 * cmath.exp(way.uniform(0.0, 6.0) * 1j)

    def told(z: complex) -> str:
        z = 100 + 100j + grid * (z - 1.5 - 1.5j)
        return " ".join(repr(v * (1 + way.uniform(-1e-15, 1e-15)))
                        for v in (z.real, z.imag))  # fmt: skip

    ends = [(complex(i, -1), complex(i, 4)) for i in range(4)]
    ends += [(complex(-1, j), complex(4, j)) for j in range(4)]
    rim = [-1 - 1j, 4 - 1j, 4 + 4j, -1 + 4j, -1 - 1j]
    ends += list(itertools.pairwise(rim))
    body = [f'<path d="M{told(a)}L{told(b)}"/>' for a, b in ends]
    for i, j in itertools.product(range(4), range(4)):
        spoke = cmath.rect(1.0, way.uniform(0.0, 6.0))
        size = repr(20.0)
        a, b = complex(i, j) + spoke, complex(i, j) - spoke
        half = f"A{size} {size} 0 0 1 "
        body.append(f'<path d="M{told(a)}{half}{told(b)}{half}{told(a)}"/>')
    way.shuffle(body)
    found = build_arrangement(read_linework(_drawn("".join(body))))
    assert found.face_count - 1 == 137
