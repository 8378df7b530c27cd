"""Circles that cross, touch and run side by side."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fillwork.geometry.circles import are_circular, circles_meet, distances_from
from fillwork.geometry.curves import ARC, CUBIC, LINE, Curves


def circles(*rows: tuple[float, float, float]) -> Curves:
    data = np.array([[x, y, r, 0, 0, r, 0, 2 * np.pi] for x, y, r in rows], float)
    return Curves(np.full(len(rows), ARC, np.uint8), data)


def meet(*rows: tuple[float, float, float]) -> list[tuple[list[float], float]]:
    """Return the places where two circles meet, and how far apart they are there."""
    table = circles(*rows)
    row, off, other, apart = circles_meet(table, np.array([0]), np.array([1]))
    assert row.tolist() == [0] * len(row)
    one, two = table.data[0, :2] + off, table.data[1, :2] + other
    assert np.hypot(*off.T) == pytest.approx(rows[0][2])
    assert np.hypot(*other.T) == pytest.approx(rows[1][2])
    # what is between the places is what is told
    assert np.hypot(*(one - two).T) == pytest.approx(apart, abs=1e-9)
    return sorted((p.round(9).tolist(), a) for p, a in zip(one, apart, strict=True))


def test_circles_round_the_ends_of_a_triangles_side_cross_at_its_corner() -> None:
    # 13, 14, 15: the corner over the side of 14 stands at (5, 12)
    found = meet((0, 0, 13), (14, 0, 15))
    crossings = [p for p, apart in found if apart == 0]
    assert crossings == [[5, -12], [5, 12]]
    # on the line of the centres: 13 and 15 overlap by 14; the far sides
    beside = sorted(round(a, 9) for _, a in found if a > 0)
    assert beside == [12, 14, 16]


@pytest.mark.parametrize("gap", [0.001, -0.0])
def test_circles_that_all_but_touch_do_so_between_their_centres(gap: float) -> None:
    # outside, and one within the other
    assert ([3, 0], pytest.approx(gap, abs=1e-12)) in meet((0, 0, 3), (5 + gap, 0, 2))
    assert ([3, 0], pytest.approx(gap, abs=1e-12)) in meet((0, 0, 3), (1 - gap, 0, 2))
    assert ([-3, 0], pytest.approx(gap, abs=1e-12)) in meet((0, 0, 3), (2, 0, 5 + gap))
    assert not any(a == 0 for _, a in meet((0, 0, 3), (5.001, 0, 2)))


def test_circles_of_one_centre_meet_nowhere() -> None:
    assert meet((1, 2, 3), (1, 2, 3)) == []
    assert meet((1, 2, 3), (1 + 2e-7, 2, 3.5)) == []
    # a millionth of the radius is a distance
    assert len(meet((0, 0, 3), (3e-6, 0, 3))) >= 3


def test_what_is_an_arc_of_a_circle() -> None:
    turn = 2 * np.pi
    c, s = 3 * math.cos(1), 3 * math.sin(1)
    rows = [
        (ARC, [0, 0, 3, 0, 0, 3, 0, 1], True),
        (ARC, [0, 0, c, s, -s, c, 0, -turn], True),  # turned, clockwise
        (ARC, [0, 0, c, s, s, -c, 2, 3], True),  # mirrored
        (ARC, [0, 0, 3, 0, 0, 3.001, 0, 1], False),  # an ellipse
        (ARC, [0, 0, 3, 0, c, s, 0, 1], False),  # one on slanted half-diameters
        (ARC, [0, 0, 0, 0, 0, 0, 0, 1], False),  # a point
        (ARC, [0, 0, 3, 0, 0, 3, 1, 1], False),  # no sweep
        (ARC, [0, 0, 3, 0, 0, 3, 0, turn + 0.1], False),  # more than a turn
        (LINE, [0, 0, 3, 0, 0, 3, 0, 1], False),
        (CUBIC, [0, 0, 3, 0, 0, 3, 0, 1], False),
    ]
    kind = np.array([k for k, _, _ in rows], np.uint8)
    table = Curves(kind, np.array([d for _, d, _ in rows], float))
    assert are_circular(table).tolist() == [r for _, _, r in rows]


def test_points_beside_an_arc() -> None:
    data = [[1.0, 2, 5, 0, 0, 5, 0, np.pi]]
    table = Curves(np.array([ARC], np.uint8), np.array(data))
    points = np.array([[1.0, 8], [1, 3], [5, 5], [1, -4]])
    away, t, off = distances_from(table, np.zeros(4, int), points)
    # 3, 4, 5: the third lies on the circle; the last below the middle of the chord
    assert away == pytest.approx([1, 4, 0, 1], abs=1e-12)
    assert t[:3] == pytest.approx([0.5, 0.5, math.atan2(3, 4) / math.pi])
    assert abs(t[3] - 0.5) == pytest.approx(1)
    assert off.tolist() == [[0, 6], [0, 1], [4, 3], [0, -6]]
