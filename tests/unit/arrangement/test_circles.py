"""Arcs of circles meet where their equations say, and boxes are paired once."""

import numpy as np
import pytest

from fillwork import build_arrangement, read_linework
from fillwork.arrangement.candidates import overlapping_pairs
from fillwork.arrangement.crowds import find_crowds
from fillwork.geometry.circles import circles_meet, parameters_at
from fillwork.geometry.curves import ARC, Curves
from fillwork.linework import LineWork


def arcs(rows: list[tuple[float, ...]]) -> Curves:
    """Return arcs of circles: centre, radius, first and last angle."""
    data = np.array([[x, y, r, 0, 0, r, s, e] for x, y, r, s, e in rows])
    return Curves(np.full(len(rows), ARC, np.uint8), data)


def circles_drawn(circles: list[tuple[float, float, float]], width: float) -> LineWork:
    """Return a drawing of circles on a page of 100 mm."""
    drawn = "".join(
        f'<circle cx="{x:.6f}" cy="{y:.6f}" r="{r:.6f}"/>' for x, y, r in circles
    )
    return read_linework(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm"'
        f' viewBox="0 0 100 100"><g fill="none" stroke="#000" stroke-width="{width}">'
        f"{drawn}</g></svg>".encode()
    )


def test_two_circles_cross_where_both_equations_hold() -> None:
    rng = np.random.default_rng(4)
    rows = [(*rng.uniform(-5, 5, 2), rng.uniform(0.1, 6), 0, 6.28) for _ in range(60)]
    table = arcs(rows)
    i, j = np.triu_indices(60, 1)
    row, off, other, apart = circles_meet(table, i, j)
    cut = apart == 0
    d = np.array(rows)
    gap = np.hypot(d[i, 0] - d[j, 0], d[i, 1] - d[j, 1])
    # Euclid, Elements III.10: circles cross in two points at most
    crosses = (gap < d[i, 2] + d[j, 2]) & (gap > np.abs(d[i, 2] - d[j, 2]))
    assert np.bincount(row[cut], minlength=len(i)).tolist() == (2 * crosses).tolist()
    for curve, way in ((i, off), (j, other)):
        assert np.allclose(np.hypot(*way[cut].T), d[curve[row[cut]], 2], rtol=1e-9)
    one = d[i[row[cut]], :2] + off[cut]
    assert np.allclose(one, d[j[row[cut]], :2] + other[cut], atol=1e-9)


@pytest.mark.parametrize("sweep", [1.0, -2.5, 6.0])
def test_parameters_of_points_on_an_arc_come_back(sweep: float) -> None:
    table = arcs([(1.0, 2.0, 3.0, 2.9, 2.9 + sweep)])
    t = np.linspace(0, 1, 9)
    index = np.zeros(9, np.int64)
    off = table.point(index, t) - [1.0, 2.0]
    assert np.allclose(parameters_at(table, index, off), t)


def test_boxes_apart_are_not_paired_with_each_other() -> None:
    rng = np.random.default_rng(1)
    low = rng.random((700, 2))
    high = low + 0.2 * rng.random((700, 2)) ** 3
    apart = rng.random(700) < 0.6
    found = sorted(
        tuple(sorted(pair))
        for a, b in overlapping_pairs(low, high, apart=apart)
        for pair in zip(a.tolist(), b.tolist(), strict=True)
    )
    i, j = np.triu_indices(700, 1)
    both = (np.maximum(low[i], low[j]) <= np.minimum(high[i], high[j])).all(axis=1)
    both &= ~(apart[i] & apart[j])
    assert found == list(zip(i[both].tolist(), j[both].tolist(), strict=True))


def test_circles_through_one_point_each_have_their_ring() -> None:
    # circles that touch in one point: a ring between each two, and the smallest
    for step, count in ((0.4, 100), (0.02, 300)):
        circles = [(5 + step * k, 50, step * k) for k in range(1, count + 1)]
        result = build_arrangement(circles_drawn(circles, 0.01))
        assert result.face_count - 1 == count


@pytest.mark.parametrize(
    ("petals", "decimals", "turned"),
    [(12, 3, 0.0), (10, 2, 1.1), (14, 3, 0.7), (16, 4, 0.3), (12, 2, 2.5), (9, 3, 0.2)],
)
def test_flowers_of_rounded_circles(petals: int, decimals: int, turned: float) -> None:
    # circles through one point: each two meet once more, opposite ones touch there;
    # Euler: faces = edges - points + 1
    way = turned + 2 * np.pi * np.arange(petals) / petals
    flower = "".join(
        f'<circle cx="{100 + 37.5 * np.cos(a):.{decimals}f}" '
        f'cy="{100 + 37.5 * np.sin(a):.{decimals}f}" r="37.5"/>'
        for a in way
    )
    work = read_linework(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" '
        f'viewBox="0 0 200 200"><g fill="none" stroke="#000" stroke-width=".25">'
        f"{flower}</g></svg>".encode()
    )
    met = petals - 1 - (petals % 2 == 0)
    points = 1 + petals * met // 2
    edges = petals * (met + 1)
    assert build_arrangement(work).face_count - 1 == edges - points + 1


@pytest.mark.parametrize("count", [40, 1000])
def test_a_crowd_of_circles_within_a_tenth_of_the_pen_is_one_line(count: int) -> None:
    # between lines nearer than a tenth of their width there is ink alone
    off = np.random.default_rng(count).uniform(-0.01, 0.01, (count, 3))
    crowd = [(50 + x, 50 + y, 40 + r) for x, y, r in off]
    result = build_arrangement(circles_drawn([*crowd, (50, 50, 20)], 0.2))
    assert np.allclose(sorted(result.area[1:] / np.pi), [400, 1200], atol=1)


def test_crowds_are_curves_near_each_other_all_along() -> None:
    rows = [(k * 1e-4, 0.0, 5.0, 0.0, 6.28) for k in range(20)]
    rows += [(0.0, 0.0, 5.0 + 0.5 * k, 0.0, 3.0) for k in range(20)]
    again, lead = find_crowds(arcs(rows), np.arange(40), 0.005)
    assert sorted(again.tolist()) == list(range(1, 20))
    assert lead.tolist() == [0] * 19
