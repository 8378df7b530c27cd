"""Regions narrower than the line that bounds them, against maps of known cells."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from scipy.spatial import Delaunay, Voronoi

from fillwork.arrangement import scraps
from fillwork.arrangement.build import build_arrangement
from fillwork.geometry.curves import Curves
from fillwork.geometry.near import pairs_within
from fillwork.linework import Frame, LineWork, TraceRecord
from fillwork.readers import read_linework
from tests.unit.helpers import linework_from_segments, polyline

SIZE = 200.0


def map_of_cells(seed: int, cells: int, off: float, width: float) -> LineWork:
    """Return a map in which each cell is drawn by itself, a little off its neighbours.

    Borders wind as coasts do; each of two neighbours draws the one between them with
    misses of its own of up to `off` mm.
    """
    rng = np.random.default_rng(seed)
    inner = rng.uniform(0, SIZE, (cells, 2))
    # mirror images in the four sides end all cells at the frame
    around = [inner]
    for axis in (0, 1):
        for side in (0.0, SIZE):
            image = inner.copy()
            image[:, axis] = 2 * side - image[:, axis]
            around.append(image)
    voronoi = Voronoi(np.vstack(around))
    strokes = []
    for site in range(cells):
        ring = voronoi.regions[voronoi.point_region[site]]
        corners = voronoi.vertices[ring]
        middle = corners.mean(axis=0)
        order = np.argsort(np.arctan2(*(corners - middle).T[::-1]))
        points = []
        ring = np.array(ring)[order]
        for a, b in zip(ring, np.roll(ring, -1), strict=True):
            points.append(_winding(voronoi.vertices, int(a), int(b), seed))
        path = np.vstack(points)
        path += rng.uniform(-off, off, path.shape)
        strokes.append(polyline(path, closed=True))
    return outlines_of(strokes, width)


def outlines_of(strokes: list[np.ndarray], width: float) -> LineWork:
    """Return closed strokes of straight lines, each an array of shape (n, 4)."""
    count = np.array([len(s) for s in strokes])
    n = len(strokes)
    return LineWork(
        curves=Curves.from_segments(np.vstack(strokes)),
        stroke_start=np.r_[0, np.cumsum(count)].astype(np.int32),
        closed=np.ones(n, bool),
        style=np.zeros(n, np.int32),
        styles=((None, "#000000", width, False),),
        source_line=np.zeros(n, np.int32),
        source_name=("path",) * n,
        frame=Frame(SIZE, SIZE, (1.0, 0.0, 0.0, 1.0, 0.0, 0.0), has_page=False),
    )


def _winding(vertices: np.ndarray, a: int, b: int, seed: int) -> np.ndarray:
    """Return the border from one corner to another, the same from either side."""
    low, high = min(a, b), max(a, b)
    rng = np.random.default_rng([seed, low, high])
    p, q = vertices[low], vertices[high]
    length = float(np.hypot(*(q - p)))
    steps = max(2, int(length / 2.5))
    t = np.linspace(0, 1, steps + 1)
    across = np.array([p[1] - q[1], q[0] - p[0]]) / max(length, 1e-12)
    sway = rng.uniform(-0.6, 0.6, steps + 1) * np.minimum(1, length / 8)
    sway[[0, -1]] = 0
    on_rim = any(
        abs(p[k] - v) < 1e-6 and abs(q[k] - v) < 1e-6 for k in (0, 1) for v in (0, SIZE)
    )
    if on_rim:
        sway[:] = 0
    line = p + t[:, None] * (q - p) + sway[:, None] * across
    return line[:-1] if a == low else line[::-1][:-1]


@pytest.mark.parametrize("off", [0.0, 0.02, 0.05, 0.1])
@pytest.mark.parametrize(("seed", "cells"), [(0, 27), (1, 60)])
def test_a_map_drawn_cell_by_cell_has_as_many_regions(
    seed: int, cells: int, off: float
) -> None:
    found = build_arrangement(map_of_cells(seed, cells, off, 0.4))
    assert found.face_count - 1 == cells


def test_no_wider_region_is_joined_opened_or_lost() -> None:
    drawn = map_of_cells(2, 40, 0.05, 0.4)
    true = build_arrangement(map_of_cells(2, 40, 0.0, 0.4))
    found = build_arrangement(drawn)
    assert found.face_count == true.face_count
    held = np.array([found.face_count])
    import shapely

    tree = shapely.STRtree(found.polygons())
    point, face = tree.query(shapely.points(true.witness[1:]), predicate="within")
    assert sorted(point.tolist()) == list(range(40))
    assert len(set(face.tolist())) == 40
    assert found.area.sum() == pytest.approx(true.area.sum(), rel=2e-3)
    assert held[0] == 41


def _corners(shape: str, i: int, j: int) -> np.ndarray:
    """Return the corners of one tile of a tiling of the plane; sides are 18 or 9 mm."""
    box = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])
    if shape == "square":
        corners, at = 18 * box, (18.0 * i, 18.0 * j)
    elif shape == "hexagon":
        turn = np.arange(6) * np.pi / 3
        corners = 9 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
        at = (13.5 * i, 9 * np.sqrt(3) * (j + 0.5 * (i % 2)))
    elif shape == "brick":
        # corners lie on the sides of the rows above and below
        corners, at = box * (18, 9), (18.0 * i + 9 * (j % 2), 9.0 * j)
    else:
        up, down = [(0, 0), (18, 0), (9, 18)], [(0, 18), (18, 18), (9, 0)]
        corners, at = np.array(down if i % 2 else up, float), (9.0 * i, 18.0 * j)
    return np.asarray(corners + np.array(at))


@pytest.mark.parametrize("off", [0.0, 0.03, 0.05, 0.08])
@pytest.mark.parametrize("shape", ["square", "hexagon", "brick", "triangle"])
def test_tiles_that_each_have_an_outline_are_as_many_regions(
    shape: str, off: float
) -> None:
    # each corner of each tile misses its place by so many mm, usually, both ways
    rng = np.random.default_rng(17)
    strokes = []
    for i in range(8):
        for j in range(6):
            corners = _corners(shape, i, j) + 20
            corners = corners + rng.normal(0, off, corners.shape)
            strokes.append(polyline(corners, closed=True))
    found = build_arrangement(outlines_of(strokes, 0.4))
    assert found.face_count - 1 == 48


@pytest.mark.parametrize("width", [0.2, 0.5, 1.0])
def test_a_mesh_keeps_its_thin_triangles(width: float) -> None:
    points = np.random.default_rng(5).uniform(0, SIZE, (400, 2))
    mesh = Delaunay(points)
    sides = np.sort(mesh.simplices[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    sides = np.unique(sides, axis=0)
    lines = linework_from_segments(
        np.hstack([points[sides[:, 0]], points[sides[:, 1]]]), line_width=width
    )
    found = build_arrangement(lines, page_edge="open")
    assert found.face_count - 1 == len(mesh.simplices)


@pytest.mark.parametrize(
    ("step", "off", "regions"),
    [
        # finer decimals than the triangle's height: it was drawn, so D and sides count
        (1e-3, 0.01, 4),
        (1e-6, 0.0023, 4),
        # decimals so coarse that the corner may lie on the side beside it
        (0.1, 0.05, 3),
        (0.01, 0.005, 3),
    ],
)
def test_a_triangle_thinner_than_the_pen_counts_where_decimals_are_finer(
    step: float, off: float, regions: int
) -> None:
    # A, B and C in line but for B, which lies off by so much; fans to D and to E
    a, c = np.array([20.0, 10.0]), np.array([50.0, 130.0])
    across = np.array([c[1] - a[1], a[0] - c[0]]) / np.hypot(*(c - a))
    b = a + 0.4 * (c - a) + off * across
    d, e = np.array([120.0, 60.0]), np.array([5.0, 90.0])
    pairs = [(a, b), (b, c), (a, c), (a, d), (b, d), (c, d), (a, e), (c, e)]
    lines = np.round(np.array(pairs).reshape(-1, 4) / step) * step
    found = build_arrangement(
        linework_from_segments(lines, line_width=0.2), page_edge="open"
    )
    assert found.face_count - 1 == regions


def test_a_thin_triangle_stays_where_a_line_is_in_line_with_a_side_by_chance() -> None:
    # A, B, C thinner than the pen; from C, where five lines end, one goes on from A
    a, b, c = (10.0, 100.0), (70.0, 100.3), (130.0, 100.0)
    d, e, f = (100.0, 40.0), (170.0, 100.0), (100.0, 160.0)
    pairs = [(a, b), (b, c), (a, c), (c, d), (c, e), (c, f)]
    pairs += [(a, d), (a, f), (b, f), (d, e), (e, f)]
    lines = linework_from_segments(np.array(pairs).reshape(-1, 4), line_width=0.5)
    # Euler: 11 lines between 6 points
    assert build_arrangement(lines, page_edge="open").face_count - 1 == 6


def test_a_corner_of_a_tile_that_is_turned_over_is_no_region() -> None:
    # a square beside another; misses turn its cut corner over, so it crosses itself
    turned = [(20.0, 0.0), (60.0, 0.0), (60.0, 40.0), (19.98, 39.9), (20.05, 40.03)]
    whole = [(-20.0, 0.0), (19.9, 0.0), (19.9, 40.0), (-20.0, 40.0)]
    strokes = [polyline(np.array(x), closed=True) for x in (turned, whole)]
    assert build_arrangement(outlines_of(strokes, 0.4)).face_count - 1 == 2


@pytest.mark.parametrize("seed", [1, 2])
def test_shapes_without_a_line_may_miss_each_other_by_their_decimals(seed: int) -> None:
    # sides of winding cells, each shape rounded to a tenth of a millimetre from its
    # own place: they are off by at most the diagonal of a step
    rng = np.random.default_rng(3)
    drawn = map_of_cells(seed, 30, 0.0, 0.4)
    curves, strokes = drawn.curves, []
    for first, last in zip(drawn.stroke_start, drawn.stroke_start[1:], strict=False):
        ring = curves.take(np.arange(first, last)).starts()
        ring = np.round(ring + rng.uniform(-0.05, 0.05, 2), 1)
        moved = (ring != np.roll(ring, 1, axis=0)).any(axis=1)
        strokes.append(polyline(ring[moved], closed=True))
    lines = outlines_of(strokes, 0.0)
    assert build_arrangement(lines).face_count - 1 == 30


@pytest.mark.parametrize("width", [0.2, 0.5, 1.0])
def test_a_diagram_of_cells_keeps_its_thin_cells(width: float) -> None:
    drawn = map_of_cells(7, 300, 0.0, width)
    assert build_arrangement(drawn).face_count - 1 == 300


@pytest.mark.parametrize("miss", [1e-6, 1e-5, 5e-5, 2e-4])
def test_three_lines_that_miss_one_point_leave_no_speck(miss: float) -> None:
    # spokes of a hexagon; one of them is off by the last decimal of the file
    turn = np.arange(6) * np.pi / 3
    rim = 40 * np.stack([np.cos(turn), np.sin(turn)], axis=1) + 60
    sides = np.hstack([rim, np.roll(rim, -1, axis=0)])
    spokes = np.hstack([rim[:3], rim[3:]])
    spokes[1, [0, 2]] += miss
    found = build_arrangement(
        linework_from_segments(np.vstack([sides, spokes]), line_width=0.3),
        page_edge="open",
    )
    assert found.face_count - 1 == 6


@pytest.mark.parametrize(("n", "k"), [(61, 30), (97, 48), (127, 63)])
def test_fine_stars_keep_their_smallest_regions(n: int, k: int) -> None:
    # n chords that each cross 2 (k - 1) others: by Euler n (k - 1) + 1 regions; the
    # smallest are some thousandths of a mm wide
    turn = 2 * np.pi * np.arange(n) / n
    rim = 90 * np.stack([np.cos(turn), np.sin(turn)], axis=1) + 100
    chords = np.hstack([rim, np.roll(rim, -k, axis=0)])
    lines = linework_from_segments(chords, line_width=0.3)
    found = build_arrangement(lines, page_edge="open")
    assert found.face_count - 1 == n * (k - 1) + 1


def test_slivers_are_told_once_for_each_pair_of_lines() -> None:
    found = build_arrangement(map_of_cells(0, 27, 0.1, 0.4))
    told = [d for d in found.defects if d.type == "sliver"]
    assert told
    assert len({d.strokes for d in told}) == len(told)
    assert all(d.done == "merged" and d.size <= 0.4 for d in told)


@pytest.mark.parametrize(("radius", "traced", "regions"), [
    (0.07, False, 7), (0.07, True, 6), (0.3, False, 7), (0.3, True, 7),
])  # fmt: skip
def test_what_lies_within_the_ink_of_a_picture_is_no_region(
    radius: float, traced: bool, regions: int
) -> None:
    # three lines across a square leave a regular triangle: beside its inscribed circle
    # a pen of 0.5 mm leaves paper to be seen from a radius of 0.25 mm on
    turn = np.pi / 6 + np.arange(3) * np.pi / 3
    along = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    away = np.stack([-along[:, 1], along[:, 0]], axis=1) * [[1], [-1], [1]]
    middle = 50 + radius * away
    reach = 43 / np.abs(along).max(axis=1)[:, None] * along
    rim = 50.0 + 40.0 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    sides = np.hstack([rim, np.roll(rim, -1, axis=0)])
    lines = np.vstack([sides, np.hstack([middle - reach, middle + reach])])
    record = TraceRecord(True, (), (100.0, 100.0), (), 0.5, 300.0) if traced else None
    work = replace(linework_from_segments(lines, line_width=0.5), trace=record)
    found = build_arrangement(work, page_edge="open", close_gaps=4.0)
    assert found.face_count - 1 == regions


@pytest.mark.parametrize("seed", [0, 4])
def test_what_lines_drawn_twice_leave_where_they_meet_is_no_region(seed: int) -> None:
    # a honeycomb of sides of 18 mm cut by a frame, each line again a hair beside itself
    turn = np.arange(4) * np.pi / 3
    rim = 18.0 * np.stack([np.sin(turn), np.cos(turn)], axis=1)
    places = [
        (9 * 3**0.5 * (2 * k + j % 2), 27 * j) for j in range(12) for k in range(8)
    ]
    middles = np.array(places)[:, None] + 10.0
    inside = np.stack([rim[:-1] + middles, rim[1:] + middles], axis=2).reshape(-1, 2, 2)
    frame = shapely.box(10, 10, 210, 290)
    cut = shapely.intersection(shapely.linestrings(inside), frame)
    sides = [shapely.get_coordinates(p).ravel() for p in cut if p.length > 0.1]
    corners = shapely.get_coordinates(frame.exterior)
    sides = np.vstack([*sides, np.hstack([corners[:-1], corners[1:]])]).round(3)
    shift = np.random.default_rng(seed).normal(0, 0.06, (len(sides), 2))
    again = sides + np.hstack([shift, shift])
    both = np.vstack([sides, again.round(3)])
    found = build_arrangement(
        linework_from_segments(both, 220, 300, line_width=0.4), page_edge="open"
    )
    # the smallest cell that the frame leaves is the tip of a hexagon, 1 mm high
    assert found.area[1:].min() > 0.5 * 3**0.5


@pytest.mark.parametrize("seed", range(10, 13))
@pytest.mark.parametrize("off", [0.02, 0.05])
def test_lines_drawn_twice_by_hand_bound_the_regions_of_one(
    seed: int, off: float
) -> None:
    # four by three squares, a diamond between the middles of the sides of each
    rng = np.random.default_rng(seed)
    lines = [(x, 0, x, 60) for x in range(0, 81, 20)]
    lines += [(0, y, 80, y) for y in range(0, 61, 20)]
    for x in range(0, 80, 20):
        for y in range(0, 60, 20):
            at = [(x + 10, y), (x + 20, y + 10), (x + 10, y + 20), (x, y + 10)]
            lines += [(*at[k - 1], *at[k]) for k in range(4)]
    once = 10 + np.array(lines, float)
    twice = (once + rng.normal(0, off, once.shape)).round(2)
    work = linework_from_segments(np.vstack([once, twice]), line_width=0.4)
    assert build_arrangement(work).face_count - 1 == 12 * 5


@pytest.mark.parametrize(
    ("width", "once", "twice"),
    [
        (
            0.6,
            "10 26.6667C40 34.914 80 31.4495 110 26.6667",
            "10.0326 26.6585C39.9658 34.951 79.9977 31.3718 110.0176 26.7666",
        ),
        (
            0.4,
            "10 47.5C40 40.4921 80 52.0906 110 47.5",
            "9.9738 47.504C39.9002 40.6109 79.9762 51.9657 110.064 47.5735",
        ),
    ],
)
def test_a_bent_line_drawn_twice_by_hand_bounds_the_regions_of_one(
    width: float, once: str, twice: str
) -> None:
    # they are one for a while, where nothing is left of either
    text = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="120mm" '
        f'viewBox="0 0 120 120"><g fill="none" stroke="#000" stroke-width="{width}">'
        f'<path d="M10 10H110V110H10ZM{once}"/><path d="M{twice}"/></g></svg>'
    )
    found = build_arrangement(read_linework(text.encode(), name="a.svg"))
    assert found.face_count - 1 == 2


def test_a_pair_of_lines_wider_apart_than_the_pen_bounds_a_region() -> None:
    # a frame of double lines: two regions, one within the other
    box = np.array([(0, 0, 1, 0), (1, 0, 1, 1), (1, 1, 0, 1), (0, 1, 0, 0)], float)
    both = np.vstack([10 + 80 * box, 10.6 + 78.8 * box])
    work = linework_from_segments(both, line_width=0.4)
    assert build_arrangement(work).face_count - 1 == 2


def test_points_of_fine_work_are_not_compared_all_with_all(monkeypatch) -> None:
    # 300 squares within each other: of the points that lie under one ink few count
    squares = "".join(
        f'<path d="M{a:.4f} {a:.4f}H{60 - a:.4f}V{60 - a:.4f}H{a:.4f}Z"/>'
        for a in 10 + 0.005 * np.arange(300)
    )
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="60mm" '
        'viewBox="0 0 60 60"><g fill="none" stroke="#000" stroke-width="0.4">'
        f"{squares}</g></svg>"
    )
    pairs = []

    def counted(points, others, within):
        found = pairs_within(points, others, within)
        pairs.append(len(found[0]) / max(len(points), 1))
        return found

    monkeypatch.setattr(scraps, "pairs_within", counted)
    build_arrangement(read_linework(svg.encode()))
    crowded = pairs[0]
    pairs.clear()
    monkeypatch.setattr(scraps, "_MOST", 1)
    build_arrangement(read_linework(svg.encode()))
    # in each of the nine squares round a point one counts at most
    assert pairs[0] <= 9 < crowded
