"""Strokes made into shapes, by shapely's buffers of known lines: the lines' regions."""

import math

import numpy as np
import pytest
import shapely

from fillwork.arrangement import build_arrangement
from fillwork.readers import read_linework


def _star_grid(points=8, across=3, pitch=50.0):
    """Stars in squares whose lines go on from square to square."""
    lines = []
    for i in range(across):
        for j in range(across):
            x, y = pitch * i, pitch * j
            lines.append(shapely.box(x, y, x + pitch, y + pitch).exterior)
            c = np.array([x + pitch / 2, y + pitch / 2])
            tips = [
                c + pitch / 2 * np.array([math.cos(a), math.sin(a)])
                for a in np.arange(points) * 2 * math.pi / points
            ]
            for k in range(points):
                ends = [tips[k], tips[(k + 3) % points]]
                lines.append(shapely.LineString(ends))
    return lines


def _mesh(seed):
    points = np.random.default_rng(seed).uniform(0, 150, (60, 2))
    edges = shapely.delaunay_triangles(shapely.multipoints(points), only_edges=True)
    return list(edges.geoms)


def _svg(shapes, decimals=4):
    """A page with each shape as a path of its own."""

    def data(polygon):
        rings = [polygon.exterior, *polygon.interiors]
        points = [
            "L".join(f"{x:.{decimals}f} {y:.{decimals}f}" for x, y in r.coords[:-1])
            for r in rings
        ]
        return "".join(f"M{one}z" for one in points)

    every = ["".join(map(data, shapely.get_parts(shape))) for shape in shapes]
    paths = "".join(f'<path fill="#222" d="{d}"/>' for d in every)
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="170mm" height="170mm" '
        f'viewBox="-10 -10 170 170">{paths}</svg>'
    ).encode()


def _areas(lines):
    faces = shapely.get_parts(shapely.polygonize([shapely.union_all(lines)]))
    return sorted(shapely.area(faces).tolist())


def _pen(lines, width=0.8, join="round"):
    wide = shapely.buffer(
        lines, width / 2, cap_style="square", join_style=join, quad_segs=4
    )
    return shapely.union_all(wide)


def _told(work):
    return next((n.text for n in work.notes if n.type == "expanded strokes"), "")


def _read_areas(work):
    return sorted(np.abs(build_arrangement(work).area[1:]).tolist())


@pytest.mark.parametrize("join", ["round", "mitre", "bevel"])
@pytest.mark.parametrize(
    ("lines", "decimals"), [(_star_grid(), 4), (_star_grid(10, 2, 70.0), 2)]
)
def test_regions_are_those_of_the_lines(lines, decimals, join):
    work = read_linework(_svg([_pen(lines, join=join)], decimals))
    assert "middle lines are taken" in _told(work)
    expected = _areas(lines)
    assert _read_areas(work) == pytest.approx(expected, rel=5e-3, abs=0.05)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_holes_of_a_mesh_grow_to_triangles(seed):
    # a triangle whose inner circle is no wider than the line has no hole, and leaves
    # scraps to those beside it
    lines = _mesh(seed)
    work = read_linework(_svg([_pen(lines, 0.5, "mitre")]))
    assert "middle lines are taken" in _told(work)
    faces = shapely.get_parts(shapely.polygonize([shapely.union_all(lines)]))
    wide = shapely.area(shapely.buffer(faces, -0.3)) > 0
    expected = np.array(sorted(shapely.area(faces[wide])))
    areas = np.array(_read_areas(work))
    near = np.abs(areas[:, None] - expected[None]).min(axis=0)
    assert (near > 5e-3 * expected + 0.05).mean() <= 0.03
    assert len(areas) <= len(expected) + 3


def test_each_stroke_may_be_a_shape_of_its_own():
    lines = _star_grid()
    work = read_linework(_svg([_pen([line]) for line in lines], 3))
    assert "middle lines are taken" in _told(work)
    expected = _areas(lines)
    assert _read_areas(work) == pytest.approx(expected, rel=5e-3, abs=0.05)


def test_strokes_of_two_widths_in_one_shape_are_read_by_their_middle():
    lines = _star_grid()
    thin = [line for k, line in enumerate(lines) if k % 9]
    pens = [_pen(lines[0::9], 1.2), _pen(thin, 0.6)]
    work = read_linework(_svg([shapely.union_all(pens)]))
    assert "middle lines are taken" in _told(work)
    assert _read_areas(work) == pytest.approx(_areas(lines), rel=0.01, abs=0.1)


def test_traced_ink_of_curves_is_read_by_its_middle():
    # circles of 15 mm round the points of a grid of 24 mm: sixteen cores, a lens for
    # each pair of neighbours, nine gaps; ink swells and shrinks by a third
    pitch, radius, n = 24.0, 15.0, 4
    turn = np.linspace(0, 2 * math.pi, 360, endpoint=False)
    rings = []
    for i, j in np.ndindex(n, n):
        half = 0.4 * (1 + 0.3 * np.sin(3 * turn + i + 2 * j))
        unit = np.stack([np.cos(turn), np.sin(turn)], axis=1)
        middle = np.array([20 + pitch * i, 20 + pitch * j])
        outer, inner = (
            middle + (radius + sign * half)[:, None] * unit for sign in (1, -1)
        )
        rings.append(shapely.Polygon(outer, [inner]))
    work = read_linework(_svg([shapely.union_all(rings)], 3))
    assert "middle lines are taken" in _told(work)
    angle = 2 * math.acos(pitch / 2 / radius)
    lens = radius**2 * (angle - math.sin(angle))
    neighbours = [2 * ((0 < i < 3) + (0 < j < 3) + 2) // 2 for i, j in np.ndindex(n, n)]
    cores = [math.pi * radius**2 - k * lens for k in neighbours]
    square = pitch**2 - math.pi * radius**2 + 2 * lens
    expected = sorted([lens] * 24 + cores + [square] * 9)
    # within a tenth of the ink along a lens of some 20 mm
    assert _read_areas(work) == pytest.approx(expected, rel=0.01, abs=1.6)


def test_plates_with_holes_are_no_ink():
    # bars between the holes half as wide as those, and a chequer of dark squares
    plate = shapely.box(0, 0, 150, 150) - shapely.union_all(
        [shapely.box(15 * i + 5, 15 * j + 5, 15 * i + 15, 15 * j + 15)
         for i, j in np.ndindex(9, 9)]
    )  # fmt: skip
    work = read_linework(_svg([plate]))
    assert len(_read_areas(work)) == 82
    dark = [
        shapely.box(15 * i, 15 * j, 15 * i + 15, 15 * j + 15)
        for i, j in np.ndindex(10, 10)
        if (i + j) % 2
    ]
    work = read_linework(_svg([shapely.union_all(dark)]))
    assert "middle lines" not in _told(work)


def test_both_edges_are_taken_when_asked_for():
    material = _pen(_star_grid())
    work = read_linework(_svg([material]), scope="outlines")
    assert "both edges" in _told(work)
    assert len(_read_areas(work)) == 1 + len(material.interiors)


def test_thin_shapes_that_are_regions_stay():
    # a frame of thin tiles with grout between: no holes, so no strokes
    tiles = [shapely.box(10 * i, 0, 10 * i + 0.6, 140) for i in range(14)]
    work = read_linework(_svg(tiles))
    assert _read_areas(work) == pytest.approx([84.0] * 14, rel=1e-6)


@pytest.mark.parametrize("cap", ["round", "flat", "square"])
@pytest.mark.parametrize("widths", [(0.8,), (0.5, 1.1)])
def test_each_bar_has_a_width_of_its_own(cap, widths):
    lines = _star_grid(across=2, pitch=70.0)
    bars = [
        shapely.buffer(
            line, widths[k % len(widths)] / 2, cap_style=cap, join_style="mitre",
            quad_segs=6,
        )
        for k, line in enumerate(lines)
    ]  # fmt: skip
    work = read_linework(_svg(bars))
    assert "middle lines are taken" in _told(work)
    assert _read_areas(work) == pytest.approx(_areas(lines), rel=2e-3, abs=0.05)


@pytest.mark.parametrize("cap", ["A", "C"])
def test_short_bars_with_round_caps_and_rings_are_single_lines(cap):
    # eight cells of 5 mm, each side a bar of 0.6 of its own, in a ring of 12 mm
    bend = 0.3 * 4 / 3 * (math.sqrt(2) - 1)

    def turn(z, u):  # half a turn about z, from u to its right
        a, b, c = z + u * 1j, z + u, z - u * 1j
        if cap == "A":
            return f"A.3 .3 0 0 0 {c.real} {c.imag}"
        way = [(a + u / 0.3 * bend, b + u / 0.3 * bend * 1j, b),
               (b - u / 0.3 * bend * 1j, c + u / 0.3 * bend, c)]  # fmt: skip
        return "".join("C" + " ".join(f"{p.real} {p.imag}" for p in w) for w in way)

    corners = [(i, j) for i in range(5) for j in range(3)]
    ends = [((i, j), (i + 1, j)) for i, j in corners if i < 4]
    ends += [((i, j), (i, j + 1)) for i, j in corners if j < 2]
    body = ""
    for one, other in ends:
        a, b = (complex(60 + 5 * x, 65 + 5 * y) for x, y in (one, other))
        u = 0.3 * (b - a) / abs(b - a)
        p = a + u * 1j
        start = f"M{p.real} {p.imag}L{(b + u * 1j).real} {(b + u * 1j).imag}"
        body += f'<path d="{start}{turn(b, u)}L{(a - u * 1j).real} '
        body += f'{(a - u * 1j).imag}{turn(a, -u)}Z"/>'
    ring = "".join(
        f"M{70 + r} 70A{r} {r} 0 1 1 {70 - r} 70A{r} {r} 0 1 1 {70 + r} 70Z"
        for r in (12.3, 11.7)
    )
    body += f'<path fill-rule="evenodd" d="{ring}"/>'
    page = 'width="140mm" height="140mm" viewBox="0 0 140 140"'
    drawing = f'<svg xmlns="http://www.w3.org/2000/svg" {page}>{body}</svg>'
    work = read_linework(drawing.encode())
    assert "middle lines are taken" in _told(work)
    outer = math.pi * 12**2 - 200
    assert _read_areas(work) == pytest.approx([25.0] * 8 + [outer], abs=0.02)


def test_slats_side_by_side_are_regions():
    slats = [shapely.box(2 * i, 0, 2 * i + 2, 60) for i in range(30)]
    work = read_linework(_svg(slats))
    assert _read_areas(work) == pytest.approx([120.0] * 30, rel=1e-6)


@pytest.mark.parametrize("count", [1, 2])
def test_a_ring_or_two_are_regions(count):
    # a ring by itself tells nothing of a pen: ring and disc, two regions each
    discs = [shapely.Point(30 * k, 0).buffer(10, 64) for k in range(count)]
    rings = [disc.difference(disc.buffer(-3)) for disc in discs]
    work = read_linework(_svg(rings))
    assert len(_read_areas(work)) == 2 * count
