"""Numbers of regions that were published or follow from closed formulas."""

from __future__ import annotations

from itertools import combinations
from math import comb, gcd

import numpy as np
import pytest

from fillwork.arrangement import build_arrangement
from tests.unit.helpers import (
    circle,
    linework_from_curves,
    linework_from_segments,
    polyline,
)


def on_circle(n, radius=100.0, turn=0.3):
    angle = turn + 2 * np.pi * np.arange(n) / n
    return radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)


def chords(points):
    return np.array(
        [[*points[i], *points[j]] for i, j in combinations(range(len(points)), 2)]
    )


def count(segments=None, curves=None, **options):
    if curves is not None:
        work = linework_from_curves(curves, has_page=False)
    else:
        work = linework_from_segments(segments, has_page=False)
    return build_arrangement(work, **options).face_count - 1


POLYGON_WITH_DIAGONALS = [
    1, 4, 11, 24, 50, 80, 154, 220, 375, 444, 781, 952, 1456, 1696, 2500, 2466, 4029,
    4500, 6175, 6820, 9086, 9024, 12926, 13988, 17875, 19180, 24129, 21480,
]  # fmt: skip


@pytest.mark.reference(
    "B. Poonen, M. Rubinstein, The number of intersection points made by the diagonals "
    "of a regular polygon, SIAM J. Discrete Math. 11(1), 1998, 135-156; OEIS A007678"
)
@pytest.mark.parametrize("n", range(3, 31))
def test_regular_polygon_with_all_diagonals(n):
    """Up to thirteen lines meet in one point, near points that are not one."""
    assert count(chords(on_circle(n))) == POLYGON_WITH_DIAGONALS[n - 3]


@pytest.mark.reference(
    "B. Poonen, M. Rubinstein 1998, table and formula; with the circle, OEIS A006533"
)
@pytest.mark.parametrize("n", [5, 8, 12, 18])
def test_regular_polygon_with_all_diagonals_in_its_circle(n):
    lines = [(0, [*row, 0, 0, 0, 0]) for row in chords(on_circle(n))]
    found = count(curves=[*lines, circle(0, 0, 100.0)])
    assert found == POLYGON_WITH_DIAGONALS[n - 3] + n


@pytest.mark.reference(
    "L. Blomberg, S. R. Shannon, N. J. A. Sloane, Graphical Enumeration and Stained "
    "Glass Windows 1: Rectangular Grids, 2020, arXiv:2009.07918; OEIS A255011"
)
@pytest.mark.parametrize(
    ("n", "regions"),
    list(enumerate([4, 56, 340, 1120, 3264, 6264, 13968, 22904], start=1)),
)
def test_square_with_all_lines_between_points_on_its_rim(n, regions):
    k = np.arange(n)
    side = [(k, 0 * k), (n + 0 * k, k), (n - k, n + 0 * k), (0 * k, n - k)]
    points = np.vstack([np.stack(s, axis=1) for s in side]) * 30.0
    assert count(chords(points)) == regions


@pytest.mark.reference("Moser's circle problem, 1949; OEIS A000127")
@pytest.mark.parametrize(("n", "regions"), [(4, 8), (5, 16), (6, 31), (7, 57), (8, 99)])
def test_points_on_a_circle_joined_in_all_ways(n, regions):
    rng = np.random.default_rng(n)
    angle = np.sort(np.arange(n) + 0.6 * rng.random(n)) * 2 * np.pi / n
    points = 50 * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    lines = [(0, [*row, 0, 0, 0, 0]) for row in chords(points)]
    assert count(curves=[*lines, circle(0, 0, 50)]) == regions


@pytest.mark.reference(
    "S. R. Shannon, OEIS A371374: circles of one radius through each pair of n points "
    "spaced evenly on a circle"
)
@pytest.mark.parametrize(
    ("n", "regions"),
    [(3, 9), (4, 9), (5, 51), (6, 48), (7, 211), (8, 217), (9, 612), (10, 651)],
)
def test_equal_circles_through_pairs_of_points_on_a_circle(n, regions):
    """Circles that touch, and many through one point."""
    points = on_circle(n, 50.0)
    rows = [circle(0, 0, 50.0)]
    for i, j in combinations(range(n), 2):
        centre = points[i] + points[j]
        if np.hypot(*centre) > 1e-9:
            rows.append(circle(*centre, 50.0))
    assert count(curves=rows) == regions


@pytest.mark.reference("H. S. M. Coxeter, Regular Polytopes, 1948, 6.1: star polygons")
@pytest.mark.parametrize(
    ("n", "k"),
    [(5, 2), (7, 2), (7, 3), (8, 3), (9, 4), (12, 5), (16, 7), (31, 15), (97, 48)],
)
def test_star_polygon(n, k):
    """{n/k} has k - 1 rings of n crossings: V = n k, E = n (2 k - 1)."""
    assert gcd(n, k) == 1
    points = on_circle(n)
    segments = np.hstack([points, np.roll(points, -k, axis=0)])
    vertices, edges = n * k, n * (2 * k - 1)
    assert count(segments) == edges - vertices + 1 == n * (k - 1) + 1


@pytest.mark.reference("Euler's formula; lines in general position cut out C(n-1, 2)")
@pytest.mark.parametrize("n", [3, 6, 12, 25])
def test_lines_in_general_position(n):
    rng = np.random.default_rng(n)
    angle = np.pi * (np.arange(n) + 0.5 * rng.random(n)) / n
    way = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    off = rng.uniform(-30, 30, (n, 1)) * np.stack([-way[:, 1], way[:, 0]], axis=1)
    # long enough for every pair to meet
    segments = np.hstack([off - 2e3 * way, off + 2e3 * way])
    # chance makes triangles of less than a thousandth of a millimetre
    assert count(segments, join_within=1e-6) == comb(n - 1, 2)


@pytest.mark.reference("closed formula: a triangle of side n in n² unit triangles")
@pytest.mark.parametrize("n", [1, 4, 9])
@pytest.mark.parametrize("turn", [0.0, 0.2])
def test_triangular_grid(n, turn):
    a, b = np.array([10.0, 0.0]), np.array([5.0, 5.0 * np.sqrt(3)])
    rows = []
    for k in range(n):
        rows.append([*(k * b), *(k * b + (n - k) * a)])
        rows.append([*(k * a), *(k * a + (n - k) * b)])
        rows.append([*((k + 1) * a), *((k + 1) * b)])
    rows = np.array(rows)
    c, s = np.cos(turn), np.sin(turn)
    rows = (rows.reshape(-1, 2) @ np.array([[c, s], [-s, c]])).reshape(-1, 4)
    assert count(rows) == n * n


@pytest.mark.reference("closed formula: m by n rectangles, each drawn whole")
def test_rectangles_drawn_whole():
    cells = []
    for i in range(12):
        for j in range(7):
            x, y = 1.1 * i, 0.7 * j
            box = [[x, y], [x + 1.1, y], [x + 1.1, y + 0.7], [x, y + 0.7]]
            cells.append(polyline(box, closed=True))
    assert count(np.vstack(cells)) == 84


@pytest.mark.reference(
    "S. van der Walt et al., scikit-image, PeerJ 2:e453, 2014: measure.label"
)
@pytest.mark.parametrize("seed", range(4))
def test_regions_against_labels_of_a_picture(seed):
    """Flood areas of a fine picture of the lines, by another method altogether."""
    from skimage.draw import line as pixels
    from skimage.measure import label
    from skimage.morphology import erosion

    rng = np.random.default_rng(seed)
    rows = [circle(*(20 + 60 * rng.random(2)), 8 + 20 * rng.random()) for _ in range(6)]
    rows += [
        (0, [*(100 * rng.random(4)), 0.0, 0.0, 0.0, 0.0]) for _ in range(8)
    ]  # fmt: skip
    work = linework_from_curves(rows, has_page=False)
    found = build_arrangement(work, close_gaps=1e-6)
    scale, size = 30.0, 30 * 130
    picture = np.zeros((size, size), dtype=bool)
    ends, _, _ = work.curves.flatten(0.005)
    for x0, y0, x1, y1 in np.round((ends + 15) * scale).astype(int).tolist():
        row, column = pixels(y0, x0, y1, x1)
        picture[row, column] = True
    labels = label(~picture, connectivity=1)
    spot = np.round((found.witness[1:] + 15) * scale).astype(int)
    # what is less than five pixels wide the picture cannot show
    wide = found.inscribed[1:] * scale > 2.5
    at = labels[spot[wide, 1], spot[wide, 0]]
    assert (at > 0).all()
    assert len(np.unique(at)) == len(at)
    assert labels[0, 0] not in at
    # no wide area of the picture is missing among the regions
    core = erosion(labels > 0, np.ones((7, 7)))
    assert set(np.unique(labels[core]).tolist()) <= {int(labels[0, 0]), *at.tolist()}
    pixels_of = np.bincount(labels.reshape(-1))[at] / scale**2
    rim = picture.sum() / scale**2
    assert (pixels_of < found.area[1:][wide] + 1e-6).all()
    assert found.area.sum() - pixels_of.sum() < 1.5 * rim + found.area[1:][~wide].sum()
