"""Regions of drawings whose number and area follow from geometry."""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations, pairwise

import numpy as np
import pytest

from fillwork.arrangement import build_arrangement, build_outlines
from fillwork.arrangement.faces import _first_to_the_right
from fillwork.errors import LineWorkError
from fillwork.geometry.polygons import bulge_areas
from tests.unit.helpers import (
    arc,
    circle,
    cubic,
    line,
    linework_from_curves,
    linework_from_segments,
    polyline,
)


def regions(rows, **options):
    if isinstance(rows, list) and rows and isinstance(rows[0], tuple):
        work = linework_from_curves(rows, has_page=False)
    else:
        work = linework_from_segments(rows, has_page=False)
    return build_arrangement(work, **options)


def outline_areas(arrangement):
    """Return areas of faces from their outlines alone, by Green's theorem."""
    outlines = build_outlines(arrangement)
    pieces = outlines.pieces
    index = np.arange(len(pieces))
    a, b = pieces.starts(), pieces.ends()
    term = 0.5 * (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
    term += bulge_areas(pieces, index, np.zeros(len(index)), np.ones(len(index)))
    ring = np.add.reduceat(term, outlines.ring_start[:-1])
    area = np.zeros(len(outlines.face_ring_start) - 1)
    face = np.repeat(np.arange(len(area)), np.diff(outlines.face_ring_start))
    np.add.at(area, face, ring)
    return area


def exact_region_count(segments):
    """Count faces of integer segments in exact fractions: F = E - V + C."""
    points = [{(s[0], s[1]), (s[2], s[3])} for s in segments]
    for (i, s), (j, t) in combinations(enumerate(segments), 2):
        dx, dy = s[2] - s[0], s[3] - s[1]
        ex, ey = t[2] - t[0], t[3] - t[1]
        det = dx * ey - dy * ex
        if det == 0:
            continue
        wx, wy = t[0] - s[0], t[1] - s[1]
        u = Fraction(wx * ey - wy * ex, det)
        v = Fraction(wx * dy - wy * dx, det)
        if 0 <= u <= 1 and 0 <= v <= 1:
            place = (s[0] + u * dx, s[1] + u * dy)
            points[i].add(place)
            points[j].add(place)
    edges, parent = set(), {}

    def find(p):
        while parent.setdefault(p, p) != p:
            p = parent[p]
        return p

    for own in points:
        ordered = sorted(own)
        for p, q in pairwise(ordered):
            edges.add((p, q))
            parent[find(p)] = find(q)
    vertices = set(parent)
    parts = len({find(p) for p in vertices})
    return len(edges) - len(vertices) + parts


@pytest.mark.parametrize("seed", range(30))
def test_random_segments_have_as_many_regions_as_exact_arithmetic_says(seed):
    rng = np.random.default_rng(seed)
    step = 1 if seed % 2 else 25
    segments = rng.integers(0, 1000 // step, (int(rng.integers(4, 60)), 4)) * step
    segments = segments[(segments[:, :2] != segments[:, 2:]).any(axis=1)]
    # parallel overlaps are another test's matter
    found = regions(segments.astype(float), close_gaps=1e-9, join_within=1e-7)
    exact = exact_region_count([tuple(map(int, s)) for s in segments])
    assert found.face_count - 1 == exact


@pytest.mark.parametrize("seed", range(12))
def test_circles_have_the_regions_that_their_meeting_points_make(seed):
    rng = np.random.default_rng(seed)
    n = int(rng.integers(3, 25))
    x, y, r = rng.random(n) * 100, rng.random(n) * 100, rng.random(n) * 30 + 2
    parent = list(range(n))

    def find(k):
        while parent[k] != k:
            k = parent[k]
        return k

    meetings = 0
    for i, j in combinations(range(n), 2):
        gap = np.hypot(x[i] - x[j], y[i] - y[j])
        if abs(r[i] - r[j]) < gap < r[i] + r[j]:
            meetings += 2
            parent[find(i)] = find(j)
    parts = len({find(k) for k in range(n)})
    # each meeting is a vertex of degree four, so E = 2 V on circles that meet;
    # a circle alone has one region more than its outside
    found = regions([circle(*c) for c in zip(x, y, r, strict=True)])
    assert found.face_count - 1 == meetings + parts
    assert found.components == parts
    # places are settled to 2^-36 of the drawing
    np.testing.assert_allclose(outline_areas(found)[1:], found.area[1:], atol=1e-7)


def test_grid():
    rows = [[0, 10 * k, 100, 10 * k] for k in range(11)]
    rows += [[10 * k, 0, 10 * k, 100] for k in range(11)]
    found = regions(rows)
    assert found.face_count - 1 == 100
    np.testing.assert_allclose(found.area[1:], 100.0, rtol=1e-12)
    np.testing.assert_allclose(found.inscribed[1:], 5.0, rtol=1e-12)
    assert found.defects == ()


def test_islands_and_islands_in_islands():
    rows = [circle(50, 50, r) for r in (40, 30, 20, 10)] + [circle(75, 50, 2)]
    found = regions(rows)
    assert found.components == 5
    expected = np.pi * np.array([4, 100, 300, 500 - 4, 700])
    np.testing.assert_allclose(np.sort(found.area[1:]), expected, rtol=1e-9)


def test_many_islands_in_one_face():
    rows = [polyline([[0, 0], [400, 0], [400, 400], [0, 400]], closed=True)]
    for i in range(20):
        for j in range(20):
            x, y = 20 * i + 5.0, 20 * j + 5.0
            square = [[x, y], [x + 8, y], [x + 8, y + 8], [x, y + 8]]
            rows.append(polyline(square, closed=True))
    found = regions(np.vstack(rows))
    assert found.face_count - 1 == 401
    assert np.isclose(found.area.max(), 400 * 400 - 400 * 64)
    assert len(found.face_half_edges(int(np.argmax(found.area)))) == 401


def test_a_hole_that_touches_its_face_at_a_point_is_a_ring_of_its_own():
    outer = polyline([[0, 0], [40, 0], [40, 40], [0, 40]], closed=True)
    inner = polyline([[20, 0], [30, 10], [20, 20], [10, 10]], closed=True)
    found = regions(np.vstack([outer, inner]))
    assert found.face_count - 1 == 2
    big = int(np.argmax(found.area))
    assert np.isclose(found.area[big], 1600 - 200)
    assert len(found.face_half_edges(big)) == 2
    assert found.polygons()[big - 1].is_valid


def test_two_squares_that_touch_at_a_corner():
    rows = [
        polyline([[0, 0], [10, 0], [10, 10], [0, 10]], closed=True),
        polyline([[10, 10], [20, 10], [20, 20], [10, 20]], closed=True),
    ]
    found = regions(np.vstack(rows))
    assert found.face_count - 1 == 2
    assert found.components == 1
    assert len(found.face_half_edges(0)) == 2


def test_circles_that_touch_share_one_vertex():
    found = regions([circle(30, 50, 20), circle(70, 50, 20), circle(50, 50, 40)])
    assert found.face_count - 1 == 4
    expected = np.pi * np.array([400, 400, 400, 400])
    np.testing.assert_allclose(np.sort(found.area[1:]), expected, rtol=1e-9)


def test_line_that_touches_a_circle():
    rows = [circle(50, 50, 20), line(0, 70, 100, 70), line(0, 30, 100, 30)]
    rows += [line(0, 30, 0, 70), line(100, 30, 100, 70)]
    found = regions(rows)
    side = (4000 - np.pi * 400) / 2
    # where all but touching lines are one point, their last 3e-4 mm are left out
    np.testing.assert_allclose(
        np.sort(found.area[1:]), [np.pi * 400, side, side], rtol=1e-7
    )
    touch = np.hypot(*(found.vertices - [50, 30]).T) < 1
    assert np.bincount(found.origin)[touch].tolist() == [4]


def test_two_arcs_and_a_chord_over_the_same_ends_are_three_edges():
    rows = [arc(50, 50, 20, 0, np.pi), arc(50, 50, 20, np.pi, 2 * np.pi)]
    found = regions([*rows, line(30, 50, 70, 50)])
    np.testing.assert_allclose(found.area[1:], np.pi * 200, rtol=1e-12)


def test_a_narrow_lens_stays():
    sagitta = 1.0
    radius = (50**2 + sagitta**2) / (2 * sagitta)
    half = np.arcsin(50 / radius)
    bow = arc(50, 50 - radius + sagitta, radius, np.pi / 2 - half, np.pi / 2 + half)
    found = regions([bow, line(0, 50, 100, 50)])
    # area of a circular segment
    segment = radius**2 / 2 * (2 * half - np.sin(2 * half))
    assert found.face_count - 1 == 1
    assert np.isclose(found.area[1], segment, rtol=1e-6)


@pytest.mark.parametrize(
    "copies",
    [
        [circle(50, 50, 40), circle(50, 50, 40)],
        [circle(50, 50, 40), circle(50, 50, 40, start=1.234)],
        [circle(50, 50, 40), arc(50, 50, 40, 3.0, 3.0 - 2 * np.pi)],
        [arc(50, 50, 40, 0, 4), arc(50, 50, 40, 2, 7)],
        [arc(50, 50, 40, 0, 4), arc(50, 50, 40, 7, 2), circle(50, 50, 40)],
    ],
)
def test_the_same_circle_drawn_twice_is_one(copies):
    found = regions(copies)
    assert found.face_count - 1 == 1
    assert np.isclose(found.area[1], np.pi * 1600, rtol=1e-12)
    assert {d.type for d in found.defects} <= {"doubled"} or found.notes


def test_the_same_bezier_drawn_twice_split_and_reversed_is_one():
    whole = cubic(0, 0, 20, 60, 80, 60, 100, 0)
    table = linework_from_curves([whole]).curves
    zero = np.zeros(2, int)
    halves = table.part(zero, np.array([0.4, 1.0]), np.array([0.0, 0.4]))
    parts = [(2, halves.data[k].tolist()) for k in (0, 1)]
    found = regions([whole, *parts, line(0, 0, 100, 0)])
    assert found.face_count - 1 == 1
    sources = np.diff(found.source_start)
    bent = found.edge_curve < 3
    assert (sources[bent] >= 2).all()


def test_overlapping_lines_keep_all_their_sources():
    rows = [
        [0, 0, 30, 0],
        [10, 0, 40, 0],
        [20, 0, 0, 0],
        [0, 0, 20, 30],
        [40, 0, 20, 30],
    ]
    found = regions(rows)
    assert found.face_count - 1 == 1
    at = found.vertices[found.origin.reshape(-1, 2)].mean(axis=1)
    edge = int(np.argmin(np.hypot(at[:, 0] - 15, at[:, 1])))
    own = found.source_curve[found.source_start[edge] : found.source_start[edge + 1]]
    assert set(own.tolist()) == {0, 1, 2}


def test_a_curve_that_crosses_itself():
    found = regions([cubic(0, 0, 150, 100, -50, 100, 100, 0), line(0, 0, 100, 0)])
    assert found.face_count - 1 == 2


def test_a_polyline_star_that_crosses_itself():
    angle = np.pi / 2 + np.arange(5) * 4 * np.pi / 5
    points = 50 + 40 * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    found = regions(polyline(points, closed=True))
    assert found.face_count - 1 == 6


def test_outlines_have_one_piece_for_each_side():
    rows = [[0, 10 * k, 40, 10 * k] for k in range(5)]
    rows += [[10 * k, 0, 10 * k, 40] for k in range(5)]
    found = regions(rows)
    outlines = build_outlines(found)
    assert (np.diff(outlines.ring_start)[1:] == 4).all()
    # T-joints on one side of a line do not cut its other side's outline
    found = regions(
        [
            *polyline([[0, 0], [40, 0], [40, 20], [0, 20]], closed=True),
            [10, 20, 10, 30],
            [30, 20, 30, 30],
            [10, 30, 30, 30],
        ]
    )
    size = np.diff(build_outlines(found).ring_start)
    assert sorted(size[found.face_ring_start[1:-1]].tolist()) == [4, 4]


def test_outline_of_a_whole_circle_is_one_arc():
    outlines = build_outlines(regions([circle(50, 50, 40)]))
    assert np.diff(outlines.ring_start).tolist() == [1, 1]


@pytest.mark.parametrize("shift", [0.0, 1e6, -3e7])
@pytest.mark.parametrize("scale", [1e-4, 1.0, 1e4])
def test_large_and_small_coordinates(shift, scale):
    if shift and scale < 1:
        pytest.skip("the coordinates themselves cannot hold the drawing")
    angle = np.arange(12) * np.pi / 6
    points = scale * np.stack([np.cos(angle), np.sin(angle)], axis=1) + shift
    found = regions(np.hstack([points, np.roll(points, -5, axis=0)]))
    assert found.face_count - 1 == 12 * 4 + 1


def test_open_lines_give_no_region_but_every_loose_end():
    found = regions([[0, 0, 50, 0], [20, 30, 70, 30], [80, 0, 90, 60]])
    assert found.face_count == 1
    assert [d.type for d in found.defects] == ["loose end"] * 6
    assert len(found.loose) == 3
    assert len(build_outlines(found).pieces) == 0


def test_a_bridge_is_reported_and_bounds_nothing():
    squares = [
        polyline([[0, 0], [10, 0], [10, 10], [0, 10]], closed=True),
        polyline([[30, 0], [40, 0], [40, 10], [30, 10]], closed=True),
    ]
    found = regions([*np.vstack(squares), [10, 5, 30, 5]])
    assert found.face_count - 1 == 2
    assert [d.type for d in found.defects] == ["bridge"]
    assert np.isclose(found.defects[0].size, 20.0)


def test_a_very_long_open_line_is_taken_off_in_linear_time():
    t = np.linspace(0, 60 * np.pi, 20_000)
    spiral = np.stack([t * np.cos(t), t * np.sin(t)], axis=1)
    found = regions(polyline(spiral), close_gaps=1e-6)
    assert found.face_count == 1


def test_no_lines_and_lines_without_length_are_refused():
    with pytest.raises(LineWorkError, match="no lines"):
        regions(np.empty((0, 4)))
    with pytest.raises(LineWorkError, match="points"):
        regions([[1, 1, 1, 1]])
    with pytest.raises(LineWorkError, match="not a number"):
        regions([[1, 1, np.nan, 1]])


@pytest.mark.parametrize("far", [1e13, 1e150, 1e300])
def test_a_coordinate_too_far_out_is_refused(far):
    with pytest.raises(LineWorkError, match="too far out") as told:
        regions([[0, 0, far, 0], [far, 0, far, far], [far, far, 0, 0]])
    assert told.value.mend


def test_a_flood_of_crossings_is_refused_by_name():
    rng = np.random.default_rng(1)
    y = rng.random((6000, 2)) * 100
    rows = np.stack([np.zeros(6000), y[:, 0], np.full(6000, 100.0), y[:, 1]], axis=1)
    rows2 = rows[:, [1, 0, 3, 2]]
    with pytest.raises(LineWorkError, match=r"crossings.*\n.*--allow-large"):
        regions(np.vstack([rows, rows2]))


def test_witnesses_lie_inside_by_the_distance_told():
    import shapely

    rng = np.random.default_rng(5)
    rows = [circle(*rng.random(2) * 100, 3 + 20 * rng.random()) for _ in range(25)]
    rows += [line(*rng.random(4) * 100) for _ in range(15)]
    found = regions(rows)
    polygons = found.polygons()
    points = shapely.points(found.witness[1:])
    assert shapely.contains_properly(polygons, points).all()
    away = shapely.distance(shapely.boundary(polygons), points)
    np.testing.assert_allclose(found.inscribed[1:], away, rtol=1e-9, atol=1e-12)
    best = shapely.length(shapely.maximum_inscribed_circle(polygons))
    share = found.inscribed[1:] / best
    assert share.min() > 0.4
    assert np.median(share) > 0.95


def test_arrays_cannot_be_changed():
    found = regions([[0, 0, 1, 0], [1, 0, 0, 1], [0, 1, 0, 0]])
    with pytest.raises(ValueError, match="read-only"):
        found.area[0] = 1.0


# from the left a ray just below a tip meets the left one of two edges that end there
@pytest.mark.parametrize(
    "tip", [-39.7232722968003, -11.9136722968003, 15.89592770319971]
)
def test_a_ray_just_below_a_tip_meets_its_left_edge(tip):
    top, level = -31.363500000000005, -31.36350000000001
    feet = tip + np.array([-0.5805277031997, 0.3538699811167])
    low = np.column_stack([feet, [-32.2177, -31.88419132309078]])
    high = np.array([[tip, top], [tip, top]])
    for rows in ([0, 1], [1, 0]):
        owner, x, y = np.zeros(2, int), np.array([tip, tip - 8.0]), np.full(2, level)
        hit = _first_to_the_right(low[rows], high[rows], owner, x, y)
        assert rows[hit[1]] == 0
