import math
from dataclasses import replace

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.colouring.adjacency import measure_adjacency, measure_edges
from fillwork.geometry.curves import ARC, LINE, Curves
from fillwork.readers import read_linework
from tests.unit.colouring.stand_ins import grid, kinds
from tests.unit.helpers import linework_from_curves


def chessboard_kinds(board):
    place = np.floor(board.witness[1:] / 10).astype(int).sum(axis=1) % 2
    return kinds(board, np.r_[-1, place])


def test_squares_share_their_sides():
    board = grid(3, 2)
    found = measure_adjacency(board, kinds(board, np.arange(-1, 6)))
    assert len(found.pairs) == 7  # 2 across in 2 rows, 3 upwards
    assert found.shared == pytest.approx(np.full(7, 10.0))
    assert not found.corner_only.any()
    assert len(found.self_adjacent) == 0
    assert found.area == pytest.approx(np.full(6, 100.0))


def test_corners_only_when_asked_for():
    board = grid(3, 2)
    orbits = kinds(board, np.arange(-1, 6))
    found = measure_adjacency(board, orbits, corners=True)
    assert len(found.face_corners) == 4  # two inner vertices, two diagonals each
    assert found.corner_only.sum() == 4
    assert (found.shared[found.corner_only] == 0.0).all()
    assert len(measure_adjacency(board, orbits).face_corners) == 0


def test_chessboard_has_one_pair_and_corners_of_its_own_kind():
    board = grid(4, 4)
    found = measure_adjacency(board, chessboard_kinds(board), corners=True)
    assert found.pairs.tolist() == [[0, 1]]
    assert found.shared[0] == pytest.approx(240.0)  # 24 inner sides
    assert not found.corner_only.any()
    assert len(found.self_adjacent) == 0


def test_a_kind_that_touches_itself():
    board = grid(2, 2)
    found = measure_adjacency(board, kinds(board, [-1, 0, 0, 0, 0]))
    assert found.pairs.shape == (0, 2)
    assert found.self_adjacent.tolist() == [0]


def test_lengths_are_those_of_the_true_curves():
    circle = [50, 50, 10, 0, 0, 10, 0, 2 * math.pi]
    across = [40, 50, 60, 50, 0, 0, 0, 0]
    lines = Curves(np.array([ARC, LINE], np.uint8), np.array([circle, across], float))
    disc = build_arrangement(linework_from_curves(lines), page_edge="open")
    assert disc.face_count == 3
    edges = measure_edges(disc, np.arange(disc.edge_count))
    assert edges.sum() == pytest.approx(20 + 20 * math.pi, rel=1e-9)
    found = measure_adjacency(disc, kinds(disc, [-1, 0, 1]))
    assert found.shared == pytest.approx([20.0])


def test_quarter_of_an_ellipse_by_quadrature():
    # perimeter of an ellipse with half-axes 2 and 1: 9.688448220547676
    # (4 a E(e²); Abramowitz and Stegun 17.3.3, worked by scipy.special.ellipe)
    from scipy.special import ellipe

    wanted = 4 * 20 * ellipe(0.75)
    ring = [50, 50, 20, 0, 0, 10, 0, 2 * math.pi]
    lines = Curves(np.array([ARC], np.uint8), np.array([ring], float))
    found = build_arrangement(linework_from_curves(lines), page_edge="open")
    edges = measure_edges(found, np.arange(found.edge_count))
    assert edges.sum() == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize("miss", [0.0, 0.3])
def test_points_that_a_hand_let_miss_are_no_sides(miss):
    # lozenges 16 by 20 in a row between rails; every second pair of points misses
    rows = [[(10, 10), (74, 10), (74, 30), (10, 30)]]
    for k in range(4):
        left, right, middle = 10 + 16 * k, 26 + 16 * k, 18 + 16 * k
        left += miss * (k == 2)
        right += miss / 2 * (k == 0)
        rows.append([(left, 20), (middle, 10), (right, 20), (middle, 30)])
    path = "".join("M" + "L".join(f"{x:.4f} {y:.4f}" for x, y in r) + "Z" for r in rows)
    text = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="40mm" '
        f'viewBox="0 0 90 40"><path d="{path}" fill="none" stroke="#000" '
        'stroke-width="0.4"/></svg>'
    )
    work = read_linework(text.encode(), name="a.svg")
    row = build_arrangement(work, join_within=1e-4)
    assert row.face_count - 1 == 4 + 2 * 3 + 4
    assert row.corner_gap == pytest.approx(miss)
    found = measure_adjacency(row, kinds(row, np.arange(-1, row.face_count - 1)))
    # by construction each of the four has four triangles beside it, and no other
    assert len(found.pairs) == 16
    assert found.shared == pytest.approx(np.full(16, math.hypot(8, 10)), rel=0.02)
    if miss:
        # without that gap the triangles above and below a point would touch
        other = replace(row, corner_gap=0.0)
        found = measure_adjacency(other, kinds(row, np.arange(-1, row.face_count - 1)))
        assert len(found.pairs) > 16
