"""Constructions left in: circles, chords and sides that touch, in rounded numbers.

What is expected follows from the drawing's symmetry and from Euler's formula, never
from an earlier answer: n-fold drawings have as many regions as their n turns give.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely

from fillwork.arrangement import build
from fillwork.arrangement.build import build_arrangement
from fillwork.arrangement.edges import Edges
from fillwork.arrangement.flat import lay_flat
from fillwork.arrangement.hairs import find_hairs
from fillwork.arrangement.limits import LIMITS
from fillwork.arrangement.outlines import build_outlines
from fillwork.errors import LineWorkError
from fillwork.geometry.curves import Curves
from fillwork.readers import read_linework

if TYPE_CHECKING:
    from fillwork.linework import LineWork

Point = tuple[float, float]


def _ring(n: int, r: float, turn: float = 0.0) -> list[Point]:
    """Return n points on a circle about (100, 100)."""
    turns = [2 * math.pi * (k + turn) / n for k in range(n)]
    return [(100 + r * math.cos(a), 100 + r * math.sin(a)) for a in turns]


def _construction(n: int, digits: int) -> bytes:
    """Return n circles that touch, two that touch chords and sides, and a polygon.

    The sides of the polygon touch the circle through the points at the points, the
    outermost circle goes through its corners, the innermost touches n chords.
    """

    def number(v: float) -> str:
        return f"{v:.{digits}f}"

    def circle(x: float, y: float, r: float) -> str:
        return f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(r)}"/>'

    r, points = 40.0, _ring(n, 40.0)
    wide, close = r / math.cos(math.pi / n), r * math.cos(math.pi / n)
    shapes = [circle(100, 100, size) for size in (r, wide, close)]
    shapes += [circle(*p, r * math.sin(math.pi / n)) for p in points]
    for (a, b), (c, d) in itertools.combinations(points, 2):
        numbers = " ".join(
            f'{name}="{number(v)}"'
            for name, v in (("x1", a), ("y1", b), ("x2", c), ("y2", d))
        )
        shapes.append(f"<line {numbers}/>")
    corners = " ".join(f"{number(x)},{number(y)}" for x, y in _ring(n, wide, 0.5))
    shapes.append(f'<polygon points="{corners}"/>')
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" '
        'viewBox="0 0 200 200"><g fill="none" stroke="#000">'
        f"{''.join(shapes)}</g></svg>"
    ).encode()


def _nudged(linework: LineWork, seed: int) -> LineWork:
    """Return the line work with every number changed in its last digits."""
    rng = np.random.default_rng(seed)
    data = linework.curves.data
    size = 10.0 ** rng.uniform(-16, -12)
    data = data * (1 + size * rng.standard_normal(data.shape))
    return replace(linework, curves=Curves(linework.curves.kind, data))


def _check_regions(found, n: int) -> None:
    """Hold what is true of every n-fold drawing, whatever its number of regions."""
    assert found.euler == 0
    around = np.bincount(*_lengths(found), minlength=found.face_count - 1)
    assert (2 * found.area[1:] >= found.tolerance.join_within * around).all()
    # the regions turn into each other; the middle one, if any, into itself
    assert (found.face_count - 1) % n in (0, 1)


def _lengths(found) -> tuple[np.ndarray, np.ndarray]:
    owner, start, end = found.sides(np.arange(1, found.face_count))
    return owner, np.hypot(*(end - start).T)


@pytest.mark.parametrize("digits", [2, 3, 4, 5, 6])
@pytest.mark.parametrize("n", [6, 10])
def test_what_touches_in_a_construction_bounds_no_region_of_its_own(n, digits):
    found = build_arrangement(read_linework(_construction(n, digits), name="a"))
    _check_regions(found, n)
    exact = build_arrangement(read_linework(_construction(n, 12), name="a"))
    assert found.face_count == exact.face_count
    _check_areas(found, exact)


def _check_areas(found, wanted) -> None:
    """Hold that no side has moved by more than the slacks and the rounding."""
    slack = found.tolerance.join_within + wanted.tolerance.join_within + 0.01
    longest = np.bincount(*_lengths(wanted)).max()
    assert np.sort(found.area) == pytest.approx(
        np.sort(wanted.area), abs=slack * longest
    )


@pytest.mark.parametrize(("n", "digits"), [(6, 2), (8, 2), (10, 3), (10, 4), (12, 4)])
def test_a_change_in_the_last_digits_changes_no_region(n, digits):
    linework = read_linework(_construction(n, digits), name="a")
    found = build_arrangement(linework)
    for seed in range(2):
        again = build_arrangement(_nudged(linework, seed))
        assert again.face_count == found.face_count
        _check_areas(again, found)


def _segments(count: int, seed: int) -> tuple[np.ndarray, Edges]:
    """Return segments between few points of a coarse grid: they meet in every way."""
    rng = np.random.default_rng(seed)
    vertices = rng.integers(0, 40, (count, 2)) + rng.uniform(0, 1e-7, (count, 2))
    pair = rng.integers(0, count, (2 * count, 2)).astype(np.int32)
    pair = pair[(pair[:, 0] != pair[:, 1])]
    index = np.arange(len(pair), dtype=np.int32)
    span = np.tile([0.0, 1.0], (len(pair), 1))
    start = np.arange(len(pair) + 1, dtype=np.int32)
    return vertices, Edges(pair, index, span, start, index)


@pytest.mark.parametrize("seed", range(6))
def test_edges_laid_flat_meet_in_their_ends_only(seed):
    vertices, edges = _segments(8, seed)
    place, flat, order = lay_flat(vertices, edges, LIMITS)
    # whole numbers of Python again: nothing is rounded in this check
    low, unit = place.min(axis=0), np.ptp(vertices, axis=0).max() / ((1 << 26) - 1)
    whole = np.rint((place - low) / unit).astype(int).tolist()
    ends = [(whole[a], whole[b]) for a, b in flat.vertex.tolist()]

    def turn(p, q, r) -> int:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    for (a, b), (c, d) in itertools.combinations(ends, 2):
        sides = turn(a, b, c), turn(a, b, d), turn(c, d, a), turn(c, d, b)
        assert not (sides[0] * sides[1] < 0 and sides[2] * sides[3] < 0)
        for p, (q, r) in ((c, (a, b)), (d, (a, b)), (a, (c, d)), (b, (c, d))):
            if p not in (q, r) and turn(q, r, p) == 0:
                along = (p[0] - q[0]) * (p[0] - r[0]) + (p[1] - q[1]) * (p[1] - r[1])
                assert along > 0
    assert sorted(order.tolist()) == list(range(2 * len(flat)))


@pytest.mark.parametrize("seed", range(6))
def test_edges_laid_flat_bound_the_regions_that_shapely_finds(seed):
    vertices, edges = _segments(10, seed)
    place, flat, _ = lay_flat(vertices, edges, LIMITS)
    lines = shapely.linestrings(np.round(vertices)[edges.vertex])
    wanted = shapely.get_parts(shapely.polygonize([shapely.union_all(lines)]))
    pieces = shapely.linestrings(place[flat.vertex])
    found = shapely.get_parts(shapely.polygonize(pieces))
    # true regions have areas above 1e-4 here, slivers of the snapping below 1e-5
    areas = np.sort(shapely.area(found))
    areas = areas[areas > 1e-5]
    assert areas == pytest.approx(np.sort(shapely.area(wanted)), abs=1e-4)


def test_long_rays_about_fine_work_are_not_compared_each_with_all():
    # no two of them meet; boxes about whole rays lie on each other all over the sheet
    turn = 2 * np.pi * (np.arange(1200) + 0.3) / 1200
    ray = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    x, y = (v.reshape(-1, 1) for v in np.mgrid[-0.25:0.25:100j, -0.25:0.25:100j])
    dots = np.hstack([x, y])
    vertices = np.concatenate([0.4 * ray, 90 * ray, dots, dots + 1e-3])
    first = np.r_[np.arange(1200), 2400 + np.arange(len(dots))]
    last = np.r_[1200 + np.arange(1200), 2400 + len(dots) + np.arange(len(dots))]
    n = len(first)
    index = np.arange(n, dtype=np.int32)
    start = np.arange(n + 1, dtype=np.int32)
    pair = np.stack([first, last], axis=1).astype(np.int32)
    edges = Edges(pair, index, np.tile([0.0, 1.0], (n, 1)), start, index)
    # 1,200 rays in one place have 0.7 million pairs; each with all had 74
    limits = replace(LIMITS, near_pairs=5_000_000)
    assert len(lay_flat(vertices, edges, limits)[1]) == n
    with pytest.raises(LineWorkError, match="more than 11,199 crowded pieces"):
        lay_flat(vertices, edges, replace(LIMITS, crowded_pieces=n - 1))


def test_laying_flat_gives_the_same_regions_as_the_true_curves(monkeypatch):
    rng = np.random.default_rng(5)
    shapes = "".join(
        f'<circle cx="{x:.3f}" cy="{y:.3f}" r="{r:.3f}"/>'
        for x, y, r in zip(
            *rng.uniform(20, 80, (2, 12)), rng.uniform(5, 25, 12), strict=True
        )
    )
    data = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" '
        f'viewBox="0 0 100 100"><g fill="none" stroke="#000">{shapes}</g></svg>'
    ).encode()
    linework = read_linework(data, name="a")
    true = build_arrangement(linework)
    whole = build._build_once
    monkeypatch.setattr(
        build,
        "_build_once",
        lambda work, wishes, page, _: whole(work, wishes, page, 64.0),
    )
    flat = build_arrangement(linework)
    assert flat.face_count == true.face_count
    assert np.sort(flat.area) == pytest.approx(np.sort(true.area), abs=1e-3)


def test_hairs_never_join_two_regions():
    # three hairs in a row between regions 1 and 2, and one that only they touch:
    # faces 1 | 3 | 4 | 5 | 2, edge k between the k-th and the next
    face = np.array([1, 3, 3, 4, 4, 5, 5, 2, 0, 1, 0, 2], np.int32)
    length = np.array([5.0, 4.0, 3.0, 5.0, 9.0, 9.0])
    area = np.array([0.0, 50.0, 50.0, 1e-9, -1e-9, 1e-9])
    edges, turned = find_hairs(area, face, length, 0.01, np.zeros(len(length), bool))
    assert turned == 0.0
    assert len(edges) == 3
    # of the four edges from 1 to 2 one stays, so that the two are still parted
    assert len({0, 1, 2, 3} - set(edges.tolist())) == 1


@pytest.mark.parametrize("seed", range(12))
def test_random_constructions_are_built_whole(seed):
    rng = np.random.default_rng(seed)
    n, digits = int(rng.integers(3, 13)), int(rng.integers(1, 7))
    points = _ring(n, float(rng.uniform(20, 60)), float(rng.uniform(0, 1)))
    shapes = []
    for (x, y), (u, v) in itertools.combinations(points, 2):
        chance = rng.uniform()
        if chance < 0.4:  # a chord
            shapes.append(
                f"M{x:.{digits}f} {y:.{digits}f}L{u:.{digits}f} {v:.{digits}f}"
            )
        elif chance < 0.7:  # the circle over it, which touches the tangents in its ends
            r = f"{math.hypot(u - x, v - y) / 2:.{digits}f}"
            shapes.append(
                f"M{x:.{digits}f} {y:.{digits}f}A{r} {r} 0 0 1 {u:.{digits}f} "
                f"{v:.{digits}f}A{r} {r} 0 0 1 {x:.{digits}f} {y:.{digits}f}"
            )
        if chance < 0.2:  # the tangent of that circle in one end
            shapes.append(
                f"M{x - v + y:.{digits}f} {y + u - x:.{digits}f}"
                f"L{x + v - y:.{digits}f} {y - u + x:.{digits}f}"
            )
        if chance > 0.9:  # the chord again, in part, in numbers of its own
            s = rng.uniform(0.1, 0.9)
            shapes.append(
                f"M{x:.{digits}f} {y:.{digits}f}"
                f"L{x + s * (u - x):.{digits}f} {y + s * (v - y):.{digits}f}"
            )
    paths = "".join(f'<path d="{d}"/>' for d in shapes) or '<path d="M0 0H9V9Z"/>'
    data = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="300mm" '
        f'viewBox="-50 -50 300 300"><g fill="none" stroke="#000">{paths}</g></svg>'
    ).encode()
    found = build_arrangement(read_linework(data, name="a"))
    _check_regions(found, 1)
    assert (found.area[1:] > 0).all()


@pytest.mark.parametrize("digits", [2, 3, 4])
def test_petals_drawn_over_their_circles_are_one_line(digits: int) -> None:
    # seven circles of one radius, each through the centres of its neighbours, and the
    # petals of the middle one drawn again as arcs between rounded points
    r = 20.0
    centres = [(100.0, 100.0), *_ring(6, r)]
    shapes = [
        f'<circle cx="{x:.{digits}f}" cy="{y:.{digits}f}" r="{r}"/>' for x, y in centres
    ]
    for x, y in centres[1:]:
        tip = f"{x:.{digits}f} {y:.{digits}f}"
        arc = f"A{r} {r} 0 0 1"
        shapes.append(f'<path d="M100 100 {arc} {tip} {arc} 100 100"/>')
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 200 200" width="200mm" '
        'height="200mm"><g fill="none" stroke="#000">' + "".join(shapes) + "</g></svg>"
    )
    result = build_arrangement(read_linework(drawing.encode()))
    # vertices: the middle, where 6 circles meet; 6 tips, where the middle one and 4
    # neighbours' circles do; 6 points between, of 2 circles. Each circle passes so many
    # edges as it has vertices: 6 for the middle one, 5 for each of the others.
    # V - E + F = 2 with E = 6 + 6 * 5, V = 1 + 6 + 6
    assert result.face_count - 1 == 2 - 13 + 36 - 1
    # nothing is split so finely that it takes long: a chord here and there, no more
    assert result.edge_count < 2000


@pytest.mark.parametrize("digits", [2, 3, 4])
def test_circles_that_touch_where_others_cross_meet_there_in_one_point(
    digits: int,
) -> None:
    # 37 circles through the middles of their neighbours: at each point of the hexagon
    # with sides of 4 but its corners (61 - 6) two to six circles meet, of which up to
    # three pairs touch; rounded, these overlap by a hair and cross twice beside it
    r = 20.0
    shapes = [
        f'<circle cx="{110 + r * (i + j / 2):.{digits}f}" '
        f'cy="{110 + r * j * math.sqrt(3) / 2:.{digits}f}" r="{r}"/>'
        for i, j in itertools.product(range(-3, 4), range(-3, 4))
        if abs(i + j) <= 3
    ]
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 220 220" width="220mm" '
        'height="220mm"><g fill="none" stroke="#000">' + "".join(shapes) + "</g></svg>"
    )
    result = build_arrangement(read_linework(drawing.encode()))
    ways = np.bincount(result.origin, minlength=len(result.vertices))
    assert int((ways > 2).sum()) == 61 - 6
    # edges: 6 points on each circle, but the corners; by Euler
    assert result.face_count - 1 == (37 * 6 - 6) - (61 - 6) + 1


@pytest.mark.parametrize("turn", [0.7, 1.1, 1.2])
def test_circles_that_touch_each_other_and_lines_keep_their_areas(turn: float) -> None:
    # where three run on each other within what is one point, a crossing of two is
    # nothing to the third: the true curves give no order that adds up
    r, columns, rows = 13.0, 2, 5
    across, along = math.cos(turn), math.sin(turn)

    def pair(x: float, y: float) -> str:
        x, y = x * across - y * along, x * along + y * across
        return f"{100 + r * x:.2f} {100 + r * y:.2f}"

    shapes = [
        '<circle cx="{}" cy="{}" r="{}"/>'.format(*pair(x, y).split(), r)
        for x, y in itertools.product(range(1, 2 * columns, 2), range(1, 2 * rows, 2))
    ]
    ends = [((2 * i, 0), (2 * i, 2 * rows)) for i in range(columns + 1)]
    ends += [((0, 2 * j), (2 * columns, 2 * j)) for j in range(rows + 1)]
    shapes += [f'<path d="M{pair(*p)}L{pair(*q)}"/>' for p, q in ends]
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="-150 0 400 400" '
        'width="400mm" height="400mm"><g fill="none" stroke="#000">'
        f"{''.join(shapes)}</g></svg>"
    )
    found = build_arrangement(read_linework(drawing.encode()))
    assert found.face_count - 1 == 5 * columns * rows
    circles = np.sort(found.area[1:])[-columns * rows :]
    assert np.abs(circles - math.pi * r * r).max() < 0.05
    assert len(build_outlines(found).pieces) < 400
