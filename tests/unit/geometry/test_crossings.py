"""Crossings, nearest points, areas and inner points against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.geometry.crossings import (
    nearest_parameter,
    refine_crossing,
    touch_parameters,
)
from fillwork.geometry.inside import deep_points
from fillwork.geometry.polygons import bulge_areas, signed_area
from fillwork.geometry.ranges import expand_ranges
from tests.unit.helpers import arc, circle, cubic, line, linework_from_curves


def table(*rows):
    return linework_from_curves(list(rows)).curves


def test_line_and_circle_cross_where_pythagoras_says():
    curves = table(circle(0, 0, 5), line(3, -10, 3, 10))
    s, t, miss = refine_crossing(
        curves, np.array([0]), np.array([1]), np.array([0.13]), np.array([0.68])
    )
    assert np.allclose(curves.point(np.array([0]), s), [[3, 4]], atol=1e-14)
    assert np.isclose(t[0], 0.7, atol=1e-15)
    assert miss[0] < 1e-14


def test_cubic_and_line_cross_at_a_root():
    # y = t^3 over x = t, as a Bézier curve, against y = 0.125
    curves = table(cubic(0, 0, 1 / 3, 0, 2 / 3, 0, 1, 1), line(-1, 0.125, 2, 0.125))
    s, _, _ = refine_crossing(
        curves, np.array([0]), np.array([1]), np.array([0.4]), np.array([0.5])
    )
    assert np.isclose(s[0], 0.5, atol=1e-14)


def test_nearest_point_of_a_circle():
    curves = table(circle(1, 2, 5))
    t, away = nearest_parameter(
        curves, np.array([0]), np.array([[1.0, 7.01]]), np.array([0.2])
    )
    assert np.isclose(t[0], 0.25, atol=1e-12)
    assert np.isclose(away[0], 0.01, atol=1e-12)


@pytest.mark.parametrize("gap", [0.0, 1e-3, -1e-3])
def test_circle_beside_a_line(gap):
    curves = table(circle(0, 0, 5), line(-10, 5 + gap, 10, 5 + gap))
    span = np.array([[0.2, 0.31]])
    s, t, away, sure = touch_parameters(
        curves, np.array([0]), np.array([1]), span, np.array([[0.3, 0.7]])
    )
    assert sure[0]
    assert np.isclose(s[0], 0.25, atol=1e-9)
    assert np.isclose(t[0], 0.5, atol=1e-9)
    assert np.isclose(away[0], abs(gap), atol=1e-10)


@pytest.mark.parametrize("length", [10.0, 130.0, 2000.0])
@pytest.mark.parametrize("share", [0.003, 0.2, 0.9])
def test_a_short_arc_beside_a_line_of_any_length(length, share):
    # whatever part of the line lies on either side, and where on its chord the arc
    # comes nearest
    curves = table(line(-0.4 * length, 5.001, 0.6 * length, 5.001), circle(0, 0, 5))
    arc_span = np.array([[0.25 - share * 0.02, 0.25 + (1 - share) * 0.02]])
    s, t, away, sure = touch_parameters(
        curves, np.array([0]), np.array([1]), np.array([[0.0, 1.0]]), arc_span
    )
    assert sure[0]
    assert np.isclose(s[0] * length, 0.4 * length, atol=1e-9)
    assert np.isclose(t[0], 0.25, atol=1e-9)
    assert np.isclose(away[0], 0.001, atol=1e-10)


def test_a_shallow_arc_beside_a_line():
    # its ends turn by 1.8 degrees away from the line, and no more
    curves = table(circle(0, -100, 100), line(-10, 0.5, 10, 0.5))
    s, t, away, sure = touch_parameters(
        curves,
        np.array([0]),
        np.array([1]),
        np.array([[0.245, 0.255]]),
        np.array([[0.0, 1.0]]),
    )
    assert sure[0]
    assert np.isclose(s[0], 0.25, atol=1e-9)
    assert np.isclose(t[0], 0.5, atol=1e-9)
    assert np.isclose(away[0], 0.5, atol=1e-10)


def test_crossing_curves_do_not_touch():
    curves = table(circle(0, 0, 5), line(0, 0, 10, 1))
    _, _, _, sure = touch_parameters(
        curves,
        np.array([0]),
        np.array([1]),
        np.array([[0.0, 0.05]]),
        np.array([[0.3, 0.7]]),
    )
    assert not sure[0]


def test_bulge_of_an_arc_is_a_circular_segment():
    curves = table(arc(3, 4, 5, 0.2, 0.2 + 2.0))
    zero = np.array([0])
    area = bulge_areas(curves, zero, np.array([0.0]), np.array([1.0]))
    assert np.isclose(area[0], 25 / 2 * (2.0 - np.sin(2.0)), rtol=1e-14)
    back = bulge_areas(curves, zero, np.array([1.0]), np.array([0.0]))
    assert np.isclose(back[0], -area[0], rtol=1e-14)


@pytest.mark.parametrize("seed", range(5))
def test_bulges_against_fine_polygons(seed):
    rng = np.random.default_rng(seed)
    curves = table(cubic(*rng.random(8) * 10), arc(1, 2, 3, 0.5, 4.5))
    t = np.linspace(0.2, 0.9, 20_001)
    for k in (0, 1):
        points = curves.point(np.full(len(t), k), t)
        index = np.array([k])
        area = bulge_areas(curves, index, np.array([0.2]), np.array([0.9]))
        assert np.isclose(area[0], signed_area(points), atol=1e-6)


def test_a_ring_needs_three_vertices():
    with pytest.raises(ValueError, match="three"):
        signed_area(np.zeros((2, 2)))


def polygons(*rings):
    start = [np.array(r, float) for r in rings]
    end = [np.roll(r, -1, axis=0) for r in start]
    first = np.r_[0, np.cumsum([len(r) for r in start])]
    return np.vstack(start), np.vstack(end), first


def test_largest_circles_of_known_figures():
    hexagon = [[np.cos(a), np.sin(a)] for a in np.arange(6) * np.pi / 3]
    points, radius = deep_points(
        *polygons(
            [[0, 0], [4, 0], [0, 3]],
            [[0, 0], [10, 0], [10, 4], [0, 4]],
            hexagon,
            [[0, 0], [10, 0], [10, 1], [0, 1]],
        )
    )
    assert np.allclose(radius, [1.0, 2.0, np.sqrt(3) / 2, 0.5], rtol=1e-12)
    assert np.allclose(points[0], [1, 1])
    assert np.allclose(points[2], [0, 0], atol=1e-12)


@pytest.mark.parametrize("first", range(3))
@pytest.mark.parametrize("mirrored", [False, True])
def test_circles_wherever_a_figure_begins(first, mirrored):
    # sides of 13, 14 and 15: area 84, half the boundary 21; a rhombus of 6 by 8: the
    # product of its diagonals over four sides of 5
    triangle = [[0, 0], [14, 0], [5, 12]]
    rhombus = [[4, 0], [0, 3], [-4, 0], [0, -3]]
    middles = np.array([[6.0, 4.0], [0.0, 0.0]])
    figures = [np.roll(np.array(f, float), first, axis=0) for f in (triangle, rhombus)]
    if mirrored:
        figures = [f[::-1, ::-1] for f in figures]
        middles = middles[:, ::-1]
    points, radius = deep_points(*polygons(*figures))
    assert np.allclose(radius, [84 / 21, 48 / 20], rtol=1e-12)
    assert np.allclose(points, middles, atol=1e-12)


def test_the_point_of_a_bracket_lies_in_its_thickest_part():
    bracket = [[0, 0], [20, 0], [20, 1], [6, 1], [6, 6], [0, 6]]
    points, radius = deep_points(*polygons(bracket))
    assert radius[0] > 2.8
    assert np.allclose(points[0], [3, 3], atol=0.3)


def test_copies_of_one_figure_have_points_in_the_same_place():
    bracket = np.array([[0, 0], [20, 0], [20, 1], [6, 1], [6, 6], [0, 6]], float)
    rng = np.random.default_rng(0)
    shift = rng.random((400, 2)) * 1000
    rings = [np.roll(bracket, k % 6, axis=0) + shift[k] for k in range(400)]
    points, radius = deep_points(*polygons(*rings))
    assert np.ptp(points - shift, axis=0).max() < 1e-6
    assert np.ptp(radius) < 1e-6


def test_ranges():
    owner, member = expand_ranges(np.array([5, 0, 2]), np.array([2, 0, 3]))
    assert owner.tolist() == [0, 0, 2, 2, 2]
    assert member.tolist() == [5, 6, 2, 3, 4]


def ring_of(*corners, hole=()):
    """Return sides of a figure, and of a hole that runs the other way."""
    parts = [np.array(c, float) for c in (corners, hole[::-1]) if len(c)]
    start = np.vstack(parts)
    end = np.vstack([np.roll(p, -1, axis=0) for p in parts])
    return start, end, np.array([0, len(start)])


def square(half, middle=(0.0, 0.0)):
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
    return (corners + middle).tolist()


# the largest circle by hand, and a lesser one that a figure's arms hold all along.
# A frame 3 wide, hole 4: in a corner, two sides and the hole's corner: (3 - r) √2 = r.
# A cross of arms 2 wide: through its four inner corners. A regular polygon of n sides:
# r = cos(π / n). A staircase of squares of 2: in the corner between (4, 2) and (2, 4):
# (4 - r)² + (2 - r)² = r². A fork 1 wide: as the frame, (1 - r) √2 = r
CROSS = [1, -1], [6, -1], [6, 1], [1, 1], [1, 6], [-1, 6]
CROSS += [-1, 1], [-6, 1], [-6, -1], [-1, -1], [-1, -6], [1, -6]
ROUND = [(np.cos(k * np.pi / 6), np.sin(k * np.pi / 6)) for k in range(12)]
STAIRS = [0, 0], [6, 0], [6, 2], [4, 2], [4, 4], [2, 4], [2, 6], [0, 6]
FORK = [0, 0], [9, 0], [9, 9], [8, 9], [8, 1], [1, 1], [1, 9], [0, 9]
CORNER = 2**0.5 / (1 + 2**0.5)
KNOWN = [
    (ring_of(*square(5), hole=square(2)), 1.5, 3 * CORNER),
    (ring_of(*CROSS), 0.97 * 2**0.5, 2**0.5),
    (ring_of(*ROUND), 0.97 * np.cos(np.pi / 12), np.cos(np.pi / 12)),
    (ring_of(*STAIRS), 0.97 * 2, 2),
    (ring_of(*FORK), 0.5, CORNER),
]


@pytest.mark.parametrize(("figure", "least", "largest"), KNOWN)
@pytest.mark.parametrize("turned", [0.0, 0.4])
def test_a_point_lies_nearly_as_deep_as_any(figure, least, largest, turned):
    c, s = np.cos(turned), np.sin(turned)
    turn = np.array([[c, s], [-s, c]])
    start, end, first = figure
    start, end = start @ turn + [300, -200], end @ turn + [300, -200]
    point, radius = deep_points(start, end, first)
    along = end - start
    share = ((point - start) * along).sum(axis=1) / (along**2).sum(axis=1)
    foot = start + np.clip(share, 0, 1)[:, None] * along
    assert radius[0] == pytest.approx(np.hypot(*(foot - point).T).min(), rel=1e-9)
    assert least - 1e-9 <= radius[0] <= largest + 1e-9
    shape = [tuple(p) for p in start]
    assert (
        sum(
            (a[1] > point[0, 1]) != (b[1] > point[0, 1])
            and a[0] + (point[0, 1] - a[1]) * (b[0] - a[0]) / (b[1] - a[1])
            > point[0, 0]
            for a, b in zip(shape, [tuple(p) for p in end], strict=True)
        )
        % 2
    )


@pytest.mark.parametrize("count", [1, 400])
def test_figures_of_many_kinds_have_each_its_own_point(count):
    # few are worked out one by one, many by their copies
    rng = np.random.default_rng(count)
    shift = rng.uniform(-500, 500, (count * len(KNOWN), 2))
    starts, ends, first = [], [], [0]
    for k in range(len(shift)):
        start, end, _ = KNOWN[k % len(KNOWN)][0]
        starts.append(start + shift[k])
        ends.append(end + shift[k])
        first.append(first[-1] + len(start))
    _, radius = deep_points(np.vstack(starts), np.vstack(ends), np.array(first))
    least, largest = (np.resize([k[i] for k in KNOWN], len(shift)) for i in (1, 2))
    assert (radius >= least - 1e-9).all()
    assert (radius <= largest + 1e-9).all()


@pytest.mark.parametrize("turn", [1e-5, 0.019, 0.021, -0.015, 1.0, 6.0])
def test_slender_bulges_lose_no_digits(turn):
    # a - sin a as its own series (Abramowitz and Stegun 4.3.65), to the last digit
    series, term = 0.0, turn**3 / 6
    for k in range(2, 24):
        series += term
        term *= -(turn**2) / ((2 * k) * (2 * k + 1))
    curves = table(arc(3, 4, 5, 0.2, 0.2 + turn))
    whole = curves.data[0, 7] - curves.data[0, 6]
    area = bulge_areas(curves, np.array([0]), np.zeros(1), np.ones(1))
    # what the angles of the row themselves lose
    slack = 3 * abs(whole - turn) / abs(turn) + 1e-11 * (abs(turn) > 0.02) + 1e-14
    assert area[0] == pytest.approx(25 / 2 * series, rel=slack)


def test_curves_of_every_kind_meet_at_the_point_they_were_drawn_through():
    # through (3, 4): lines, circles, and a cubic whose middle lies there
    # the middle of a cubic is (a + 3 b + 3 c + d) / 8
    curves = table(
        line(0, 0, 6, 8),
        arc(0, 0, 5, 0.0, 2 * np.arctan2(4, 3)),
        cubic(1, 1, 4, 2, 4, 5, -1, 10),
        arc(3, 0, 4, np.pi / 4, 3 * np.pi / 4),
    )
    i, j = np.triu_indices(4, 1)
    s, t, miss = refine_crossing(curves, i, j, np.full(6, 0.45), np.full(6, 0.56))
    assert miss.max() < 1e-13
    for index, at in ((i, s), (j, t)):
        assert np.allclose(curves.point(index, at), [3, 4], atol=1e-6)


def test_lines_side_by_side_keep_their_guesses():
    curves = table(line(0, 0, 10, 0), line(0, 1, 20, 1), line(5, -5, 5, 5))
    s, t, miss = refine_crossing(
        curves,
        np.array([0, 0]),
        np.array([1, 2]),
        np.array([0.3, 0.3]),
        np.array([0.2, 0.4]),
    )
    assert (s[0], t[0]) == (0.3, 0.2)
    assert miss[0] == np.hypot(1, 1)
    assert (s[1], t[1]) == pytest.approx((0.5, 0.5))


def test_the_area_of_a_small_ring_far_away_keeps_its_digits():
    ring = np.array([[0.0, 0], [0.5, 0], [0.5, 0.25], [0, 0.25]])
    far = ring + np.array([3e8, -7e8])
    assert signed_area(far) == 0.125
    assert signed_area(far[::-1]) == -0.125
